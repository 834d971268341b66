"""Propeller blades drawn across a body's nose: where they lie, the nose between their edges, the body without them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.contour import widest_at
from sheetlark.trace.shapes.frame import Frame

_BESIDE = (0.0, -0.0015, 0.0015)  # where a nose is looked for beside a body's middle, in spans
_FILLED = 0.02  # of the span, how far behind a silhouette's front a closed gap's filling reaches
_FLARED = 1.15  # how many times as wide it is there as at its narrowest
_THROUGH = 3.0  # pens, how far a line of hatching goes on either way from the middle of a nose
_BESIDE_RULED = (-0.006, -0.005, 0.005, 0.006)  # clear of a centre line


def blades_of(mm: tuple[Floats, ...], span: float, at: float) -> tuple[float, float] | None:
    """Front and rear edge of propeller blades that make a silhouette wide ahead of `at`; None where none do."""
    body = widest_at(mm, at + np.array([0.004, 0.008, 0.012]) * span)
    over = np.linspace(0.0, at, 32)[1:-1]
    ahead = widest_at(mm, over)
    if body is None or ahead is None:
        return None
    wide = ahead[1] > 1.2 * float(body[1].mean())
    if not wide[4:-4].any():
        return None  # a spinner, or a plain step
    return max(float(over[wide.argmax()]) - 0.06 * at, 0.0), at  # a spinner may stand ahead of the front edge


def blades_beside(
    frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats, pen: float
) -> tuple[float, float] | None:
    """Front and rear edge of blades of which a silhouette kept no more than their front as its own; None without.

    Their lines run on beyond the body's width on both sides.
    """
    ends = _lines_beside(frame, mm, span, dark, pen)
    if min((e.size for e in ends), default=0) < 2:
        return None
    near = pen + frame.mm_per_px
    (front, rear), (other_front, other_rear) = ((float(e[0]), float(e[-1])) for e in ends)
    if max(abs(front - other_front), abs(rear - other_rear), abs(front)) > near or rear - front < 2.0 * near:
        return None
    return max(0.5 * (front + other_front), 0.0), 0.5 * (rear + other_rear)


def line_beside(frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats, pen: float) -> float | None:
    """Where the single line lies that a silhouette begins at and that runs on beyond the body's width. [mm]

    It is a propeller's, seen edge on; None where there is none.
    """
    ends = _lines_beside(frame, mm, span, dark, pen)
    near = pen + frame.mm_per_px
    if len(ends) != 2 or not all(e.size == 1 and abs(float(e[0])) < near for e in ends):
        return None
    return float(np.mean(ends))


def _lines_beside(
    frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats, pen: float
) -> tuple[Floats, ...]:
    """Where along x lines run across on either side of the nose, outside the body's width; () without a body."""
    body = widest_at(mm, np.array([0.03 * span]))
    if body is None:
        return ()
    step = 0.5 * frame.mm_per_px
    x = np.arange(-2.0 * pen - 4.0 * step, 0.03 * span, step)
    ends = []
    for sign in (-1.0, 1.0):
        y = float(body[0][0]) + sign * (0.5 * float(body[1][0]) + np.linspace(0.01, 0.03, 12) * span)
        drawn = frame.ink(dark, np.repeat(x[:, None], y.size, 1), np.repeat(y[None, :], x.size, 0)).mean(1)
        ends.append(x[_ridges(drawn, 0.2)])
    return tuple(ends)


def nose_behind_blades(
    frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats, pen: float, rear: float
) -> tuple[float, float] | None:
    """Front of a body that stands clear behind blades to which a closed gap has joined it, as `nose_behind_gap`.

    rear : the blades' rear edge. From there to the nose neither edge of the silhouette is inked. [mm]
    """
    px = frame.mm_per_px
    x = np.arange(rear + 0.5 * pen, rear + _FILLED * span, 0.25 * px)
    pieces = widest_at(mm, x)
    if pieces is None:
        return None
    middle, wide = pieces
    rows = [frame.ink(dark, x, middle + off * span) for off in _BESIDE]
    ridges = _ridges(np.r_[0.0, np.max(rows, axis=0), 0.0], 0.2)
    if not ridges.size:
        return None
    nose = float(x[ridges[0] - 1])
    sides = np.max([frame.ink(dark, x, middle + sign * 0.5 * wide) for sign in (-1.0, 1.0)], axis=0)
    bare = (x < nose) & (sides < 0.5)
    inked = np.flatnonzero((sides >= 0.5) & (x > nose))
    if not bare.any() or not inked.size:
        return None
    return nose, float(x[inked[0]]) + pen


def nose_behind_gap(
    frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats, pen: float
) -> tuple[float, float] | None:
    """Front of a body between which and a propeller a gap has been closed, and where the gap's filling ends behind it.

    The silhouette then begins wider than a little further aft, at the propeller's line or where nothing is drawn; or at
    that line alone, its edges not inked from there to the nose. None where it does neither.
    """
    x = np.linspace(0.0005, _FILLED, 60) * span
    pieces = widest_at(mm, x)
    if pieces is None:
        return None
    middle, wide = pieces
    waist = int(wide.argmin())
    flared = bool(2 < waist < x.size - 1 and wide[0] >= _FLARED * wide[waist])
    propeller = line_beside(frame, mm, span, dark, pen) is not None
    if not flared and not propeller:
        return None
    across = float(middle[0]) + np.linspace(-0.4, 0.4, 31) * float(wide[0])
    px = frame.mm_per_px
    front = np.max([frame.ink(dark, np.full(31, k * px), across) for k in (-1.0, 0.0, 1.0)], axis=0)
    if (front > 0.45).mean() > 0.5 and not propeller:
        return None
    sides = np.array([frame.ink(dark, x, middle + sign * 0.5 * wide) for sign in (-1.0, 1.0)])
    filled = float(x[waist]) if flared else _inked_from(x, sides.min(0), pen)
    at = np.arange(pen + px if propeller else -pen, filled + pen, 0.5 * px)
    for places in (_BESIDE, _BESIDE_RULED):
        rows = [frame.ink(dark, at, np.full(at.size, float(middle[waist]) + off * span)) for off in places]
        ridges = _ridges(np.r_[0.0, np.max(rows, axis=0), 0.0], 0.2)
        if not ridges.size:
            continue
        nose = float(at[ridges[0] - 1])
        between = (x > 0.3 * nose) & (x < 0.7 * nose)
        bare = flared or (between.any() and sides.max(0)[between].min() < 0.5)
        return (nose, filled + 2.0 * pen) if nose > 0.0 and bare else None
    return None


def bare_behind(
    frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats, pen: float, rear: float
) -> float:
    """How far behind blades' rear edge a silhouette has no inked edge on either side: there a gap was closed. [mm]"""
    px = frame.mm_per_px
    x = rear + np.arange(1.5 * pen + px, _FILLED * span, 0.5 * px)  # clear of the blades' own stroke
    pieces = widest_at(mm, x)
    if pieces is None or not x.size:
        return rear
    middle, wide = pieces
    near = np.array([-0.5, 0.0, 0.5]) * pen
    sides = [
        np.max([frame.ink(dark, x, middle + sign * 0.5 * wide + off) for off in near], axis=0)
        for sign in (-1.0, 1.0)
    ]
    inked = np.max(sides, axis=0) > 0.5
    return (float(x[int(inked.argmax())]) if inked.any() else float(x[-1])) + pen + px  # and past the face's


def _inked_from(x: Floats, strength: Floats, pen: float) -> float:
    """Where behind a propeller's own line a silhouette's edges are inked again."""
    bare = np.flatnonzero((strength < 0.5) & (x > 0.5 * pen))
    inked = np.flatnonzero((strength >= 0.5) & (np.arange(x.size) > (bare[0] if bare.size else x.size)))
    return float(x[inked[0]]) if inked.size else 0.0


def nose_between(
    frame: Frame,
    mm: tuple[Floats, ...],
    span: float,
    dark: Floats,
    pen: float,
    blades: tuple[float, float],
) -> float | None:
    """Front of a body across which propeller blades are drawn: its line between their front edge and their rear.

    Half-way between both where all is one dark mass; None where there is no such line.
    """
    front, rear = blades
    body = widest_at(mm, rear + np.array([0.004, 0.008, 0.012]) * span)
    if body is None:
        return None
    middle, step = float(body[0].mean()), 0.5 * frame.mm_per_px
    x = np.arange(front, rear + 0.003 * span, step)
    lead = np.linspace(-0.03, -0.005, 60) * span
    ruled = frame.ink(dark, lead, np.full(60, middle)).mean() > 0.35
    mass = False
    for places in (_BESIDE_RULED,) if ruled else (_BESIDE, _BESIDE_RULED):
        rows = [frame.ink(dark, x, np.full(x.size, middle + off * span)) for off in places]
        share, mass = _first_line(np.max(rows, axis=0), pen / step, (rear - front) / step)
        at = None if share is None else front + share * (rear - front)
        if at is not None and (ruled or not _slants(frame, dark, at, middle + np.array(places) * span, pen)):
            return at
        if not mass:  # else it may be a centre line's dash
            return None
    return 0.5 * (front + rear) if mass else None


def _slants(frame: Frame, dark: Floats, x: float, y: Floats, pen: float) -> bool:
    """Whether a line met at x, on one of some heights y, goes on straight and slanting both ahead and aft: hatching's.

    A nose's own line falls back to both sides, also where its tip lies a little off the middle.
    """
    turn = np.radians(np.r_[30:65:5, -30:-65:-5])[:, None, None]
    along = np.linspace(-_THROUGH, _THROUGH, 25) * pen
    strength = frame.ink(dark, x + along * np.cos(turn), y[:, None] + along * np.sin(turn))
    return bool(((strength > 0.35).mean(-1) > 0.95).any())


def _first_line(strength: Floats, pen: float, whole: float) -> tuple[float | None, bool]:
    """Where between blades' edges, as a share, a line runs across a row of samples, and whether all is dark there.

    strength : from the front edge on; pen : stroke width, whole : from edge to edge, in samples.
    """
    strength = np.r_[0.0, strength, 0.0]
    edges = np.flatnonzero(np.diff(strength > 0.5)) + 1
    ridges = _ridges(strength, 0.12)
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        across = last - first < max(12, 1.8 * pen)  # a stroke, no point's long tip
        strokes = [0.5 * (first + last - 1) if across else first + 0.5 * pen]
        if first <= 2:  # the blades' front edge, and what blurs into it
            strokes = [float(k) for k in ridges if 0.5 * pen + 2.0 < k < last]
        shares = (np.array([first, last, *strokes]) - 1.0) / whole
        told = shares[2:][(shares[2:] > 0.2) & (shares[2:] < 0.85)]
        if told.size:
            return float(told[0]), False
        if shares[0] < 0.2 and shares[1] > 0.85:
            return None, True
    return None, False


def _ridges(strength: Floats, prominence: float) -> npt.NDArray[np.int64]:
    """Samples at the middle of strokes: highs of 0.5 or more that stand out that much from the lows on either side.

    `scipy.signal` finds them too, but importing it takes a tenth of the time a whole picture does.
    """
    last = np.r_[np.flatnonzero(np.diff(strength)), strength.size - 1]  # of each run of like samples
    level, middle = strength[last], (np.r_[0, last[:-1] + 1] + last) // 2
    found = []
    for k in range(1, level.size - 1):
        if level[k] < 0.5 or level[k] < max(level[k - 1], level[k + 1]):
            continue
        lows = []
        for side in (level[:k][::-1], level[k + 1 :]):
            higher = np.flatnonzero(side > level[k])
            lows.append(float(side[: higher[0] if higher.size else side.size].min()))
        if level[k] - max(lows) >= prominence:
            found.append(int(middle[k]))
    return np.array(found, dtype=np.int64)


def without_blades(
    frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats, pen: float, at: float, rear: float
) -> tuple[Floats, ...]:
    """Rings cut in between a nose at `at` and the blades' rear edge to the body's own strokes.

    Those are the first met from outside: between the edges of the blades there is paper. Where there is none, the
    rings stay as they are.
    """
    body = widest_at(mm, np.array([rear + 0.004 * span]))
    xs = np.linspace(at + 0.3 * pen, rear - 0.8 * pen, 7)
    if body is None or xs[0] >= xs[-1]:
        return mm
    middle, half = float(body[0][0]), 0.5 * float(body[1][0])
    step = 0.5 * frame.mm_per_px
    out = np.arange(half + 0.03 * span, 0.0, -step)
    limits = []
    for sign in (-1.0, 1.0):
        strength = [frame.ink(dark, np.full(out.size, x), middle + sign * out) for x in xs]
        first = np.array([int((s > 0.5).argmax()) for s in strength])
        free = (first > 0.5 * pen / step) & (out[first] < half + pen)
        if free.sum() < 2:
            return mm
        edge = np.maximum(out[first[free]] - 0.5 * pen, 0.0)
        limits.append(np.interp(np.r_[xs, rear + 0.004 * span], np.r_[xs[free], rear], np.r_[edge, half]))
    known = np.r_[xs, rear + 0.004 * span]
    cut = []
    for m in mm:
        low, high = (
            middle + sign * np.interp(m[:, 0], known, v) for sign, v in zip((-1.0, 1.0), limits, strict=True)
        )
        cut.append(np.c_[m[:, 0], np.where(m[:, 0] < known[-1], np.clip(m[:, 1], low, high), m[:, 1])])
    return tuple(cut)
