"""One edge of a body among all that is drawn about it.

A body's edge is a long smooth line that is inked or is the edge of the silhouette. What is drawn over or beside it
(a wing's section, a cover, gear, struts, propeller blades, the fin) turns away from it sharply. So of all paths from
nose to tail the one is taken that has the least missing ink and the fewest kinks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.inkgrid import Ink

_FINE = 6  # samples a column
_STEEPEST = 24  # rows a column
_ROWS = 20  # rows as high as a middle column is wide
_NO_INK = 1.0  # what a middle column's width of missing ink costs
_KINK = 3.0  # what a radian of turning costs
_BEND = 0.3  # what a radian of curvature costs: turning by less than `_FREE` a column [rad]
_FREE = 0.05
_WITHIN = 0.03  # what a middle column's width within the silhouette costs
_RIDE = 0.04  # what it costs to ride the silhouette for a middle column's width: an inked path is as good
_HIDDEN = 0.06  # weight of missing ink where something lies across the body
_OUT = 5.0  # what each column outside the silhouette or below the floor costs: much, but where no way is left, less is more
_LIKELY = 0.1  # what a middle column's width costs that lies `_UNLIKE` of the length or more from where it likely would
_UNLIKE = 0.02
_FAR = 1e6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnEdge:
    """An edge over stations, and where it is drawn.

    x, out : shape (n,), stations and the edge's outward coordinate. [mm]
    seen : shape (n,), bool, false where it was carried across without ink.
    """

    x: Floats
    out: Floats
    seen: Mask


def stations(length: float, columns: int = 110) -> Floats:
    """Stations from nose to tail, close together at both ends, where a body's edges are steep; shape (n,)."""
    theta = (np.arange(columns * _FINE) + 0.5) / (columns * _FINE) * np.pi
    return np.asarray(0.5 * length * (1.0 - np.cos(theta)))


def drawn_edge(
    x: Floats,
    outer: Floats,
    floor: Floats,
    ink: Ink,
    *,
    length: float,
    pen_mm: float,
    missing: Floats | float = 1.0,
    covers: tuple[tuple[Floats, Floats], ...] = (),
    least: Floats | None = None,
    likely: Floats | None = None,
) -> DrawnEdge:
    """Follow a body's edge from nose to tail.

    Parameters
    ----------
    x : ndarray, shape (n,)
        From :func:`stations`. [mm]
    outer : ndarray, shape (n,)
        The silhouette's outward coordinate, nan where it is not the body's. [mm]
    floor : ndarray, shape (n,)
        What the edge lies outside of. [mm]
    ink : callable (x, out) -> ink strength.
    pen_mm : stroke width to expect.
    missing : weight of missing ink, over stations or one for all; small where the edge is often left undrawn.
    covers : outer and inner line of whatever lies across the body, over stations, nan where it does not: neither is
        the body's edge, and between them that may be hidden.
    least : over stations, nan where unknown: lines of the body's own, such as a stripe, lie nearer the axis than that.
    likely : over stations, nan where unknown: where the edge would lie by what else is known; of two inked ways the
        nearer one is taken.

    Notes
    -----
    Shortest path (dynamic programming) over stations, heights and slopes; turning costs by the angle, in coordinates
    stretched at both ends. Riding the silhouette is a state of its own, so that steep cabins can be followed.
    """
    columns = x.size // _FINE
    mid = 0.5 * np.pi * length / columns  # width of a column half-way along
    step = mid / _ROWS
    known = outer[np.isfinite(outer)]
    z0 = float(floor.min()) - 2.0 * step
    rows = int((float(known.max()) + 0.02 * length - z0) / step) + 2
    z: Floats = z0 + step * np.arange(rows, dtype=np.float64)
    floor = floor if least is None else np.fmax(floor, least)
    has = np.isfinite(outer)
    limit = np.where(has, outer, 0.0)[:, None]
    i, j = np.nonzero(
        (z[None, :] >= floor[:, None]) & ~(has[:, None] & (z[None, :] > limit + 0.004 * length))
    )
    ridge = np.zeros((x.size, rows))  # elsewhere no ink is the edge's
    ridge[i, j] = _ridge(x[i], z[j], ink, pen_mm=pen_mm, step=step)
    weight = np.repeat(np.broadcast_to(missing, x.shape)[:, None], rows, 1)
    tol = 0.6 * pen_mm + 0.0025 * length
    free = outer.copy()
    for top, bottom in covers:
        across = np.flatnonzero(np.isfinite(top))
        upper, lower = top[across, None], bottom[across, None]
        on = np.minimum(np.abs(z - upper), np.abs(z - lower)) < tol
        ridge[across] *= np.where(on, 0.4, 1.0)  # the body's own line may run into the section's
        weight[across] *= np.where((z > lower - tol) & (z < upper + tol), _HIDDEN, 1.0)
        free[(outer > bottom - tol) & (outer < top + tol)] = np.nan
    wide = np.gradient(x).reshape(columns, _FINE).sum(1) / mid
    lost = _along(weight * (1.0 - ridge), columns)  # (columns, slopes, rows)
    at = slice(_FINE // 2, None, _FINE)  # a column's middle
    inside = has[at, None] & (z < limit[at] - 0.004 * length)
    far_out = has[at, None] & (z > limit[at] + 0.012 * length)
    toll = _WITHIN * wide[:, None] * inside + _OUT * (far_out | (z < floor[at, None]))
    if likely is not None:
        off = np.abs(z - likely[at, None]) / (_UNLIKE * length)
        toll += _LIKELY * wide[:, None] * np.where(np.isfinite(off), np.minimum(off, 1.0), 0.0)
    ride, rise = _ride(x, free, ink, columns, wide=wide, mid=mid, step=step, pen_mm=pen_mm)
    path, riding = _cheapest(lost, _NO_INK * wide[:, None, None], toll, ride, rise, _nodes(free, columns), z)
    has = np.isfinite(free)
    fine = (np.arange(columns * _FINE) + 0.5) / _FINE
    out = np.interp(fine, np.arange(columns + 1), path)
    col = np.minimum(fine.astype(int), columns - 1)
    on = riding[col] & has
    out, inked = _centred(x, out, ridge, z, pen_mm=pen_mm, step=step)
    near = has & (np.abs(out - np.where(has, outer, 0.0)) < 0.004 * length) & ~inked
    out = np.where(on | near, np.where(has, outer, 0.0), out)
    return DrawnEdge(x=x, out=out, seen=np.asarray(on | near | inked))


def _ridge(x: Floats, z: Floats, ink: Ink, *, pen_mm: float, step: float) -> Floats:
    """How much places look like a pen stroke, 0 to 1: darker than what lies beside them, one way or the other."""
    reach = 1.3 * pen_mm + 1.2 * step

    def at(dx: float, dz: float) -> Floats:
        return np.asarray(np.clip(ink(x + dx, z + dz), 0.0, 1.0), dtype=np.float64)

    here = at(0.0, 0.0)
    across = here - 0.5 * (at(0.0, reach) + at(0.0, -reach))
    along = here - 0.5 * (at(reach, 0.0) + at(-reach, 0.0))
    return np.asarray(np.clip(np.maximum(across, 0.8 * along) / 0.42, 0.0, 1.0))


def _along(values: Floats, columns: int) -> Floats:
    """Mean along every straight piece across a column; shape (columns, slopes, rows), from the row it starts at."""
    rows = values.shape[1]
    slopes = np.arange(-_STEEPEST, _STEEPEST + 1)
    wide = np.pad(values, ((0, 0), (_STEEPEST, _STEEPEST)), constant_values=1.0).reshape(columns, _FINE, -1)
    out = np.zeros((columns, slopes.size, rows), dtype=np.float32)
    for s in range(_FINE):
        for j, k in enumerate(slopes):
            shift = _STEEPEST + round(k * (s + 0.5) / _FINE)
            out[:, j] += wide[:, s, shift : shift + rows]
    return np.asarray(out / _FINE)


def _nodes(outer: Floats, columns: int) -> Floats:
    """The silhouette at the columns' ends; shape (columns + 1,), nan where it is not known on both sides."""
    o = outer.reshape(columns, _FINE)
    between = 0.5 * (o[:-1, -1] + o[1:, 0])
    return np.asarray(np.r_[o[0, 0], between, o[-1, -1]])


def _ride(
    x: Floats, outer: Floats, ink: Ink, columns: int, *, wide: Floats, mid: float, step: float, pen_mm: float
) -> tuple[Floats, Floats]:
    """Cost of each column along the silhouette's edge, without turning, and the angle it has there (nan: unknown)."""
    at = _nodes(outer, columns)
    rise = np.arctan(np.diff(at) / mid)
    has = np.isfinite(outer)
    o = np.where(has, outer, 0.0)
    strength = np.max([ink(x, o + d * (0.5 * pen_mm + step)) for d in (-1.0, 0.0, 1.0)], axis=0)
    lost = 1.0 - np.clip(strength / 0.42, 0.0, 1.0).reshape(columns, _FINE).mean(1)
    return np.asarray(np.where(np.isfinite(rise), wide * (_RIDE + 0.3 * _NO_INK * lost), _FAR)), rise


def _cheapest(
    lost: Floats, price: Floats, toll: Floats, ride: Floats, rise: Floats, edge: Floats, z: Floats
) -> tuple[Floats, Mask]:
    """The cheapest path: its heights at the columns' ends, and which columns ride on the silhouette.

    Parameters
    ----------
    lost : ndarray, shape (columns, slopes, rows)
        Missing ink along each way across a column.
    price, toll : ndarray, shape (columns, 1, 1) and (columns, rows)
        What that costs, and what a place costs besides.
    """
    columns, slopes, rows = lost.shape
    k = range(-_STEEPEST, _STEEPEST + 1)
    angle = np.arctan(np.array(k) / _ROWS)
    gap = _KINK * np.diff(angle)
    row_of = np.where(
        np.isfinite(edge), np.rint((np.where(np.isfinite(edge), edge, 0.0) - z[0]) / (z[1] - z[0])), -1
    )
    row_of = np.clip(row_of, -1, rows - 1).astype(int)
    arrive = np.full((columns + 1, slopes, rows), _FAR, dtype=np.float32)  # by which slope a node was reached
    leave = np.full((columns, slopes, rows), _FAR, dtype=np.float32)  # by which slope it is left
    rode = np.full(columns + 1, _FAR)
    arrive[0] = 0.0 if row_of[0] < 0 else 0.3
    if row_of[0] >= 0:
        rode[0] = 0.0
    known = np.where(np.isfinite(rise), rise, 0.0)
    for i in range(columns):
        turned = _spread(arrive[i], gap)
        j = row_of[i]
        if rode[i] < _FAR and j >= 0:
            before = known[max(i - 1, 0)]
            turned[:, j] = np.minimum(turned[:, j], rode[i] + _turn(angle - before))
        leave[i] = turned
        cost_i = turned + (price[i] * lost[i] + toll[i])
        for s, shift in enumerate(k):
            if shift >= 0:
                arrive[i + 1, s, shift:] = cost_i[s, : rows - shift]
            else:
                arrive[i + 1, s, :shift] = cost_i[s, -shift:]
        if np.isfinite(rise[i]):
            on = rode[i] + _turn(known[i] - known[max(i - 1, 0)]) if i else rode[0]
            if j >= 0:
                lo, hi = max(j - 2, 0), min(j + 3, rows)
                on = min(on, float((arrive[i, :, lo:hi] + _turn(angle - known[i])[:, None]).min()))
            rode[i + 1] = on + ride[i]
    return _backwards(ride, arrive, leave, rode, row_of, known, angle, edge, z)


def _turn(by: Floats) -> Floats:
    return np.asarray(_BEND * np.minimum(np.abs(by), _FREE) + _KINK * np.maximum(np.abs(by) - _FREE, 0.0))


def _spread(arrived: Floats, gap: Floats) -> Floats:
    """Least cost of leaving by each slope, whatever slope one came by: turning costs by the angle, little turns little.

    arrived : ndarray, shape (slopes, rows).
    """
    out = arrived.copy()
    bend = (_BEND / _KINK) * gap[:, None]
    out[1:] = np.minimum(out[1:], arrived[:-1] + bend)
    out[:-1] = np.minimum(out[:-1], arrived[1:] + bend)
    rows, turned = list(out), np.empty_like(out[0])
    for to, by, g in zip(rows[1:], rows, gap, strict=False):
        np.add(by, g, out=turned, casting="same_kind")
        np.minimum(to, turned, out=to)
    for to, by, g in zip(rows[-2::-1], rows[::-1], gap[::-1], strict=False):
        np.add(by, g, out=turned, casting="same_kind")
        np.minimum(to, turned, out=to)
    return out


def _backwards(
    ride: Floats,
    arrive: npt.NDArray[np.float32],
    leave: npt.NDArray[np.float32],
    rode: Floats,
    row_of: npt.NDArray[np.int64],
    known: Floats,
    angle: Floats,
    edge: Floats,
    z: Floats,
) -> tuple[Floats, Mask]:
    """Read the cheapest path off from its end."""
    columns, slopes, rows = leave.shape
    path = np.zeros(columns + 1)
    riding = np.zeros(columns, dtype=bool)
    on = bool(rode[columns] < arrive[columns].min())
    least = int(arrive[columns].T.argmin())
    row, s = divmod(least, slopes)
    path[columns] = edge[columns] if on else z[row]
    for i in range(columns - 1, -1, -1):
        if on:
            riding[i] = True
            path[i] = edge[i]
            target = rode[i + 1] - ride[i]
            stay = rode[i] + (float(_turn(known[i] - known[max(i - 1, 0)])) if i else 0.0)
            if i and stay > target + 1e-3 and row_of[i] >= 0:
                lo, hi = max(row_of[i] - 2, 0), min(row_of[i] + 3, rows)
                got = arrive[i, :, lo:hi].T + _turn(angle - known[i])
                least = int(got.argmin())
                row, s, on = lo + least // slopes, least % slopes, False
        else:
            row -= s - _STEEPEST
            path[i] = z[row]
            value = leave[i, s, row]
            back = arrive[i, :, row] + _turn(angle - angle[s])
            c = int(back.argmin())
            from_ride = np.inf
            if row == row_of[i] and rode[i] < _FAR:
                from_ride = rode[i] + float(_turn(angle[s] - known[max(i - 1, 0)]))
            if from_ride <= min(float(value), float(back[c])) + 1e-3:
                on = True
            else:
                s = c
    return path, riding


def _centred(
    x: Floats, out: Floats, ridge: Floats, z: Floats, *, pen_mm: float, step: float
) -> tuple[Floats, Mask]:
    """The path moved to the middle of the stroke it follows, and where it follows one."""
    from scipy import ndimage

    off = np.arange(-(0.5 * pen_mm + 1.5 * step), 0.5 * pen_mm + 1.6 * step, 0.5 * step)
    row = np.clip(np.rint((out[:, None] + off - z[0]) / step), 0, z.size - 1).astype(int)
    weight = ridge[np.arange(x.size)[:, None], row] ** 2
    inked = ndimage.uniform_filter1d((weight.max(1) > 0.2).astype(float), 2 * _FINE + 1, mode="nearest") > 0.5
    total = weight.sum(1)
    move = np.where(total > 0.3, (weight * off).sum(1) / np.maximum(total, 1e-9), 0.0)
    move = ndimage.gaussian_filter1d(ndimage.median_filter(move, 5, mode="nearest"), 1.5, mode="nearest")
    return np.asarray(out + np.where(inked, move, 0.0)), np.asarray(inked)


def strongest(e: Floats, moves: tuple[float, ...] = (0.15, 0.06, 0.0, 0.06, 0.15)) -> npt.NDArray[np.int64]:
    """Columns' path of most ink; `moves` are what moving by up to so many rows a column costs, either way."""
    total = e.copy()
    move = np.zeros(e.shape, dtype=np.int64)
    rows, most = e.shape[1], len(moves) // 2
    last = np.full(rows + 2 * most, -1e9)  # nothing comes from beyond the rows
    prev = np.empty((len(moves), rows))
    for i in range(1, len(e)):
        last[most : most + rows] = total[i - 1]
        for k, c in enumerate(moves):
            np.subtract(last[2 * most - k : 2 * most - k + rows], c, out=prev[k])
        move[i] = prev.argmax(0)
        total[i] += prev.max(0)
    came = np.clip(np.arange(rows) - (move - most), 0, rows - 1)
    path = np.empty(len(e), dtype=np.int64)
    path[-1] = int(total[-1].argmax())
    for i in range(len(e) - 1, 0, -1):
        path[i - 1] = came[i, path[i]]
    return path
