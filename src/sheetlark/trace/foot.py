"""A body's upper line drawn right through below a fin, where a wing's section hides what leads to it."""

from __future__ import annotations

import numpy as np

from sheetlark.trace.ink import Floats
from sheetlark.trace.inkgrid import Ink

_INKED = 0.85  # share of a line that must be inked
_APART = 0.012  # of the length: nearer to the edge going straight on, that edge finds the line by itself


def foot_line(
    x: Floats, high: Floats, start: float, ink: Ink, length: float, *, floor: Floats, pen_mm: float
) -> Floats | None:
    """The upper edge with the straight line in it that is inked from a fin's foot to the stern; None where none is.

    On a tailless aeroplane nothing else is drawn there: with a tail, its section is.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Stations. [mm]
    high, floor : ndarray, shape (n,)
        The upper edge as far as it is known, going straight on below the fin; and what the line stays above. [mm]
    start : float
        Where the fin's leading edge comes down. [mm]
    """
    xs = np.arange(start, 0.985 * length, 0.002 * length)
    if xs.size < 12:
        return None
    before = float(np.interp(start - 0.005 * length, x, high))
    step = max(0.4 * pen_mm, 0.0015 * length)
    clear = 1.5 * pen_mm + 2.0 * step  # the lower edge is no line above it
    lowest = float(np.interp(start, x, floor)) + clear, float(np.interp(xs[-1], x, floor)) + clear
    if before < max(lowest):
        return None
    first = np.arange(lowest[0], before + 0.5 * step, step)
    last = np.arange(lowest[1], before + 0.02 * length, step)
    a, b = (m.ravel()[:, None] for m in np.meshgrid(first, last, indexing="ij"))
    share = ((xs - xs[0]) / (xs[-1] - xs[0]))[None, :]
    z = a + share * (b - a)
    on = np.max([ink(xs + 0.0 * z, z + k * step) for k in (-0.5, 0.0, 0.5)], axis=0) > 0.4
    inked = on.mean(1)
    k = int(inked.argmax())
    if inked[k] < _INKED:
        return None
    (left,), (right,) = a[k], b[k]
    slope = (right - left) / (xs[-1] - xs[0])
    line = left + slope * (x - xs[0])
    away = np.interp(xs, x, high) - z[k]
    beside = 2.0 * pen_mm + 2.0 * step
    if np.abs(away).max() < _APART * length:
        return None
    blots = np.max([ink(xs, z[k] + s * beside) for s in (-1.0, 1.0)], axis=0) > 0.4
    if blots.mean() > 0.5:
        return None  # filling, or a hatched band
    # forward along the line as far as it is drawn below the edge
    ahead = np.arange(start, 0.3 * length, -0.002 * length)
    drawn = np.max(
        [ink(ahead, np.interp(ahead, x, line) + d * step) for d in (-1.0, -0.5, 0.0, 0.5, 1.0)], axis=0
    )
    lost = np.nonzero(
        (np.convolve(drawn > 0.4, np.ones(5), "same") < 2.5) | (np.interp(ahead, x, line - high) > 0.0)
    )[0]
    begins = float(ahead[lost[0]]) if lost.size else float(ahead[-1])
    blend = np.clip((x - begins) / (0.03 * length) + 1.0, 0.0, 1.0)
    return np.asarray((1.0 - blend) * high + blend * line)
