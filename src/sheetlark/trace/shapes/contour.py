"""Sub-pixel outlines: from a silhouette's edge to the middle of the pen stroke that drew it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sheetlark.trace.paper.ink import Floats, Mask

_FEW_LINES = 5  # fewer are cut sooner one by one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rings:
    """Closed outlines of one view in full-size picture pixels (column, row), largest first.

    pen_px : stroke width met along them; 0 where the drawing is filled.
    """

    rings: tuple[Floats, ...]
    pen_px: float


def trace_rings(mask: Mask, at: tuple[int, int], *, pool: int, dark: Floats, pen_px: float) -> Rings:
    """Outer outlines of a silhouette, moved to the middle of the stroke.

    Parameters
    ----------
    mask, at : the silhouette and its corner (row, column), in pixels `pool` times coarser than `dark`.
    dark : ndarray, shape (rows, columns)
        Ink strength of the full picture.
    pen_px : float
        Stroke width to expect, full-size pixels.
    """
    import contourpy
    from scipy import ndimage

    soft = ndimage.gaussian_filter(np.pad(mask, 3).astype(np.float64), 0.7)
    lines = contourpy.contour_generator(z=soft).lines(0.5)
    closed: list[tuple[float, Floats]] = []
    for line in lines:
        p = (np.asarray(line, dtype=np.float64) - 3.0 + np.array([at[1], at[0]])) * pool + (pool - 1) / 2.0
        if len(p) < 12:
            continue
        area = 0.5 * float(np.sum(p[:-1, 0] * p[1:, 1] - p[1:, 0] * p[:-1, 1]))
        closed.append((area, p))
    if not closed:
        return Rings(rings=(), pen_px=0.0)
    sense = np.sign(max(closed, key=lambda t: abs(t[0]))[0])
    outer = sorted((t for t in closed if np.sign(t[0]) == sense), key=lambda t: -abs(t[0]))
    rings, pens = [], []
    low, high = outer[0][1].min(0), outer[0][1].max(0)
    for area, p in outer:
        # lettering caught up with the view stands clear of it; a wing on struts or a wheel does not
        clear = np.maximum(np.maximum(low - p.max(0), p.min(0) - high), 0.0)
        above = p[:, 1].max() < low[1]
        allowed = (0.25 if above else 0.04) * float((high - low).max())
        if clear.max() > allowed and abs(area) < 0.3 * abs(outer[0][0]):
            continue
        if abs(area) < 0.002 * abs(outer[0][0]):
            break
        ring, pen = _to_middle(p, dark, pool=pool, pen_px=pen_px, inward=float(sense))
        rings.append(ring)
        pens.append(pen)
    return Rings(rings=tuple(rings), pen_px=pens[0])


def run_to(points: Floats) -> Floats:
    """Length along a line, shape (n, 2), from its first point to each; shape (n,)."""
    return np.asarray(np.r_[0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def _resample(p: Floats, step: float) -> Floats:
    d = run_to(p)
    n = max(16, int(d[-1] / step))
    s = np.linspace(0.0, d[-1], n, endpoint=False)
    return np.asarray(np.c_[np.interp(s, d, p[:, 0]), np.interp(s, d, p[:, 1])])


def _to_middle(p: Floats, dark: Floats, *, pool: int, pen_px: float, inward: float) -> tuple[Floats, float]:
    from scipy import ndimage

    q = _resample(p, 1.5)
    smooth = ndimage.gaussian_filter1d(q, 1.2 * pool, axis=0, mode="wrap")
    tangent = np.roll(smooth, -1, 0) - np.roll(smooth, 1, 0)
    tangent /= np.maximum(np.hypot(tangent[:, :1], tangent[:, 1:]), 1e-9)
    normal = inward * np.c_[-tangent[:, 1], tangent[:, 0]]
    t = np.arange(-(1.5 * pool + 2.5), 2.5 * pool + 2.2 * pen_px + 5.0, 0.5)
    where = smooth[:, None, :] + t[None, :, None] * normal[:, None, :]
    prof = ndimage.map_coordinates(dark, [where[..., 1], where[..., 0]], order=1, mode="constant", cval=0.0)
    prof = ndimage.gaussian_filter1d(prof, 0.8, axis=0, mode="wrap")
    on = _own(prof > 0.42, t, pool=pool, pen_px=pen_px)
    has = on.any(1)
    first = on.argmax(1)
    later = np.arange(t.size)[None, :] > first[:, None]
    off = ~on & later
    ended = off.any(1)
    last = np.where(ended, off.argmax(1), t.size)
    thick = (last - first) * 0.5
    good = has & (first > 0) & ended
    if has.sum() < 8:
        return smooth, 0.0
    filled = float((has & ~ended).sum()) > 0.6 * float(has.sum())
    edge = t[first] - 0.25  # half a sample before the first inked one
    if filled:
        pen = _pen_on_fill(prof[has], first[has])
    else:
        pen = float(np.median(thick[good])) if good.any() else 0.0
    inked = (np.arange(t.size)[None, :] >= first[:, None] - 1) & (np.arange(t.size)[None, :] <= last[:, None])
    weight = np.clip(prof, 0.0, 1.2) * inked
    centroid = (weight * t).sum(1) / np.maximum(weight.sum(1), 1e-9)
    single = good & (thick < 1.5 * pen + 1.0)
    move = np.where(single, centroid, edge + pen / 2.0)
    sound = has & (first > 0)
    if sound.sum() < 8:
        return smooth, pen
    idx = np.arange(len(q), dtype=np.float64)
    move = np.interp(idx, idx[sound], move[sound], period=float(len(q)))
    calm = ndimage.median_filter(move, 15, mode="wrap")
    move = np.where(np.abs(move - calm) > 1.2, calm, move)
    move = ndimage.gaussian_filter1d(move, 1.0, mode="wrap")
    return np.asarray(smooth + move[:, None] * normal), pen


def _own(on: Mask, t: Floats, *, pool: int, pen_px: float) -> Mask:
    """Ink along profiles, t from outside inward, without what ends ahead of the silhouette's own stroke: a line close by."""
    ahead, near = t < -0.75 * pool, (t >= -0.75 * pool) & (t < 2.0 * pool + pen_px)
    begins = int(np.count_nonzero(ahead))
    other = ~on[:, begins] & on[:, near].any(1)
    return np.asarray(on & ~(other[:, None] & ahead[None, :]))


def _pen_on_fill(prof: Floats, first: npt.NDArray[np.int64]) -> float:
    """Width of a stroke drawn round a filled figure, from profiles across it every half pixel; 0 where it has none.

    Grey filling lies well below the stroke's own darkness, so the stroke ends half-way between both.
    """
    fill = float(np.median(prof[:, -5:]))
    peak = float(np.median(prof.max(1)))
    if peak - fill < 0.2 * peak:
        return 0.0
    above = prof > 0.5 * (peak + fill)
    begun = above & (np.arange(prof.shape[1])[None, :] >= first[:, None])
    start = begun.argmax(1)
    ended = ~above & (np.arange(prof.shape[1])[None, :] > start[:, None])
    whole = begun.any(1) & ended.any(1)
    return float(np.median((ended.argmax(1) - first)[whole]) * 0.5) if whole.sum() > 8 else 0.0


def crossings(rings: tuple[Floats, ...], level: float, axis: int) -> npt.NDArray[np.float64]:
    """Intervals the silhouette covers on the line coordinate[axis] = level.

    Returns
    -------
    ndarray, shape (n, 2)
        Start and end of each interval along the other coordinate, ascending.
    """
    hits = []
    for r in rings:
        below = r[:, axis] <= level
        i = np.flatnonzero(below != np.concatenate((below[1:], below[:1])))
        if i.size:
            hits.append(_where_cut(r, i, level, axis))
    if not hits:
        return np.zeros((0, 2))
    h = np.sort(np.concatenate(hits))
    return np.asarray(h[: h.size // 2 * 2].reshape(-1, 2))


def crossings_each(rings: tuple[Floats, ...], levels: Floats, axis: int) -> list[Floats]:
    """:func:`crossings` of many lines at once, shape (n,), in their order: each piece of an outline is looked at but once."""
    if levels.size < _FEW_LINES:
        return [crossings(rings, float(level), axis) for level in levels]
    order = np.argsort(levels)
    rising = levels[order]
    hits, line_of = [np.zeros(0)], [np.zeros(0, dtype=np.int64)]
    for r in rings:
        a = r[:, axis]
        b = np.concatenate((a[1:], a[:1]))
        # the lines between both ends of a piece follow one another; it ends short of its upper end
        first, last = (np.searchsorted(rising, end(a, b)) for end in (np.minimum, np.maximum))
        i = np.flatnonzero(last > first)
        often = (last - first)[i]
        k = np.arange(often.sum()) - np.repeat(np.cumsum(often) - often, often) + np.repeat(first[i], often)
        hits.append(_where_cut(r, np.repeat(i, often), rising[k], axis))
        line_of.append(order[k])
    h, line = np.concatenate(hits), np.concatenate(line_of)
    h = h[np.lexsort((h, line))]
    ends = np.cumsum(np.bincount(line, minlength=levels.size))
    return [v[: v.size // 2 * 2].reshape(-1, 2) for v in np.split(h, ends[:-1])]


def _where_cut(r: Floats, i: npt.NDArray[np.int64], level: Floats | float, axis: int) -> Floats:
    """Where the pieces of a closed outline from points i to the next cross coordinate[axis] = level; shape as i."""
    p, q = r[i], r[(i + 1) % len(r)]
    f = (level - p[:, axis]) / (q[:, axis] - p[:, axis])
    o = p[:, 1 - axis]
    return np.asarray(o + f * (q[:, 1 - axis] - o))


def widest(cuts: Floats) -> Floats:
    """The widest of some intervals, shape (2,); there must be one."""
    return np.asarray(cuts[np.argmax(cuts[:, 1] - cuts[:, 0])])


def widest_each(rings: tuple[Floats, ...], levels: Floats) -> tuple[Floats, Floats]:
    """Middle and width of the widest piece cut at each first coordinate; nan where that cuts nothing."""
    none = np.full(2, np.nan)
    pieces = [widest(cuts) if len(cuts) else none for cuts in crossings_each(rings, levels, 0)]
    low, high = np.array(pieces).reshape(-1, 2).T
    return 0.5 * (low + high), high - low


def widest_at(rings: tuple[Floats, ...], levels: Floats) -> tuple[Floats, Floats] | None:
    """Middle and width of the widest piece cut at each first coordinate; None where one of them cuts nothing."""
    pieces = []
    for cuts in crossings_each(rings, levels, 0):
        if not len(cuts):
            return None
        pieces.append(widest(cuts))
    low, high = np.array(pieces).T
    return 0.5 * (low + high), high - low
