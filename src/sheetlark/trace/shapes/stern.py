"""A stern drawn round below a fin: its upper half is looked for where the lower half, mirrored, would have it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.contour import run_to
from sheetlark.trace.shapes.edges import strongest
from sheetlark.trace.shapes.inkgrid import Ink

_INKED = 0.85  # share of the upper half that must be inked
_ROUND = 0.006  # of the length, by how much it falls short of the edge going straight on, at the least
_HIDDEN = 0.3  # weight of an edge carried across where it is hidden
_BARE = 0.3  # share of the edge below a fin that is inked where it is left undrawn
_RAY = 25  # places tried across the mirrored line


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stern:
    """The upper edge with a round stern, where it is drawn, shape (n,) each, and the stern's hindmost point. [mm]"""

    high: Floats
    drawn: Mask
    end: tuple[float, float]


def round_stern(
    x: Floats,
    low: Floats,
    high: Floats,
    drawn: Mask,
    ink: Ink,
    length: float,
    *,
    start: float,
    free: float,
    pen_mm: float,
    closes: Callable[[Floats], bool] | None = None,
    tailless: bool = False,
    through: tuple[float, float] | None = None,
) -> Stern | None:
    """The upper edge with a round stern that is drawn below a fin or behind it; None where none is.

    Where nothing is drawn there it is round if it is so from above as well. A tailless aeroplane's wing section lies over the
    stern, its end as round: there the top view must have it round in any case.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Stations. [mm]
    low, high : ndarray, shape (n,)
        Both edges, the upper one going straight on below the fin. [mm]
    drawn : ndarray, shape (n,)
        Where the upper edge is drawn.
    start, free : float
        Where the fin's leading edge comes down, and where its trailing edge does. [mm]
    closes : callable (depth), optional
        Whether the top view has the body come to a round or pointed end below the fin, if it is as deep as that over
        stations, shape (n, 2). [mm]
    through : where the fin's trailing edge comes down on the upper edge, if that is seen: an undrawn one runs through it. [mm]
    """
    before = (x > start - 0.2 * length) & (x < start)
    if before.sum() < 12 or (drawn[before].sum() < 12 and not tailless):
        return None
    # where a wing's section hides the edge close ahead, what is left of it alone would not tell the direction
    known = np.where(drawn[before], 1.0, _HIDDEN)
    middle = np.polyfit(x[before], 0.5 * (low + high)[before], 1, w=known)

    @cache
    def round_above() -> bool:
        deep = high - low
        mirrored = np.maximum(2.0 * (np.polyval(middle, x) - low), 0.0)
        return closes is not None and closes(np.c_[x, np.where(x > start, np.minimum(mirrored, deep), deep)])

    if tailless and not round_above():
        return None
    past = x[(x > start) & (low >= np.polyval(middle, x))]
    ends = float(past[0]) if past.size else length  # a fin's foot may overhang the stern
    along = x[(x > start) & (x < ends)]
    if along.size < 12:
        return None
    foot = np.interp(along, x, low)
    depth = np.interp(along, x, high) - foot
    curve = np.c_[along, 2.0 * np.polyval(middle, along) - foot]
    tip = np.array([[ends, float(np.polyval(middle, ends))]])
    if np.max(np.interp(along, x, high) - curve[:, 1]) < _ROUND * length:
        return None
    curve = _even(np.vstack([curve, tip]), 0.0015 * length)
    across = np.gradient(curve, axis=0)[:, ::-1] * (-1.0, 1.0)
    across /= np.maximum(np.linalg.norm(across, axis=1), 1e-9)[:, None]
    reach = min(0.015 * length, 0.2 * float(depth.max()))
    off = np.linspace(-reach, reach, _RAY)
    places = curve[:, None, :] + across[:, None, :] * off[None, :, None]
    dark = np.clip(ink(places[..., 0], places[..., 1]), 0.0, 1.0)
    beside = 1.2 * pen_mm + 0.003 * length
    clear = [
        np.clip(ink(*np.moveaxis(places + k * beside * across[:, None, :], 2, 0)), 0.0, 1.0)
        for k in (-1.0, 1.0)
    ]
    ridge = dark - 0.5 * (clear[0] + clear[1])
    path = strongest(ridge - 0.2 * np.linspace(-1.0, 1.0, _RAY) ** 2)
    k = np.arange(len(curve))
    on = ridge[k, path] > 0.25
    line = places[k, path]
    lower = np.c_[x, low][(x > start - 0.1 * length) & (x < ends)]
    nearest = np.linalg.norm(line[:, None] - lower[None], axis=2).min(1)
    from_tip = np.linalg.norm(line - tip, axis=1)
    on &= (nearest > 1.5 * pen_mm) | (from_tip < 4.0 * pen_mm)  # the lower edge's own ink is not the upper's
    # where it is one line with the edge that goes straight on, it does not tell round from straight
    parts = np.interp(line[:, 0], x, high) - line[:, 1] > 1.5 * pen_mm
    told = on[parts] if parts.sum() > 7 else on
    if parts.sum() < 8 and float(np.interp(ends, along, depth)) > 3.0 * pen_mm:
        return None  # a short upright line closes it
    seen_from = 0
    if min(on.mean(), told.mean()) < _INKED:
        # below the fin nothing may be drawn: behind it the silhouette itself shows it
        below = (x > start) & (x < ends)
        met = through is None or (
            abs(float(np.interp(through[0], *curve.T)) - through[1]) < pen_mm + _ROUND * length
        )
        if met and drawn[below].mean() < _BARE and round_above():
            new = np.where(below, np.maximum(np.interp(x, curve[:, 0], curve[:, 1]), low), high)
            return Stern(high=new, drawn=drawn, end=(ends, float(tip[0, 1])))
        seen_from = int(np.searchsorted(line[:, 0], free + pen_mm))
        if len(line) - seen_from < 8 or on[seen_from:].mean() < _INKED or depth.max() <= 0.0:
            return None
        if np.ptp(line[seen_from:, 1]) < 2.0 * pen_mm + 0.01 * length:
            return None
    rest = line[seen_from:]
    order = np.argsort(rest[:, 0], kind="stable")
    rest = rest[order]
    aft = x >= rest[0, 0]
    new = np.where(aft, np.interp(x, rest[:, 0], rest[:, 1]), high)
    if seen_from:
        hidden = (x > start) & ~aft & ~drawn
        new[hidden] = np.interp(x[hidden], curve[:, 0], curve[:, 1])
    return Stern(high=np.maximum(new, low), drawn=drawn | aft, end=(ends, float(tip[0, 1])))


def _even(points: Floats, step: float) -> Floats:
    """A line's points, evenly spaced along it."""
    far = run_to(points)
    at = np.linspace(0.0, far[-1], max(24, round(far[-1] / step)))
    return np.column_stack([np.interp(at, far, points[:, 0]), np.interp(at, far, points[:, 1])])
