"""Straight strokes that are no part of a figure: pieces of one put together, and those that join two figures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask, at_points, pooled
from sheetlark.trace.paper.straight import Stroke, rub_out

_TURN = np.radians(1.5)  # between two pieces of one stroke, at most
_JOIN = 0.06  # of the picture's longer side, the shortest stroke that joins two figures
_PIECES = 4  # of a stroke, between whatever crosses it, that are tried
_FIGURE = 0.15  # of it, the least extent of a figure
_LARGE = 0.06  # of it, the least of a piece of one
_MORE_THAN_A_LINE = 1.5  # times as much ink as a line across it has
_ASTRAY = 0.12  # of its length, how far aside a break may lead


def in_whole(ink: Mask, strokes: tuple[Stroke, ...], *, pen_px: float) -> tuple[Stroke, ...]:
    """The strokes, two pieces of one that ends free put together: found in pieces, it seems to end in the figure.

    ink : ndarray, shape (rows, columns).
    """
    left = sorted(strokes, key=lambda k: -k.length_px)
    out: list[Stroke] = []
    while left:
        k = left.pop(0)
        for other in left:
            whole = _together(ink, k, other, pen_px)
            if whole is not None:
                left.remove(other)
                left.insert(0, whole)
                break
        else:
            out.append(k)
    return tuple(out)


def _together(ink: Mask, k: Stroke, other: Stroke, pen: float) -> Stroke | None:
    """Two strokes as one from end to end, if they are pieces of one of which an end runs free."""
    turn = (k.angle_rad - other.angle_rad + np.pi / 2) % np.pi - np.pi / 2
    if not (k.free_a or k.free_b or other.free_a or other.free_b) or abs(turn) > _TURN:
        return None
    ends = np.array([k.a, k.b, other.a, other.b])
    free = (k.free_a, k.free_b, other.free_a, other.free_b)
    v = (ends[1] - ends[0]) / max(k.length_px, 1e-9)
    s = (ends - ends[0]) @ v
    if max(s[2:].min() - s[:2].max(), s[:2].min() - s[2:].max()) > 9.0 + pen:
        return None
    first, last = int(s.argmin()), int(s.argmax())
    if {first, last} in ({0, 1}, {2, 3}) or not (free[first] or free[last]):
        return None
    a, b = ends[first], ends[last]
    v = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    m = np.array([-v[1], v[0]])
    if np.abs((ends - a) @ m).max() > 0.5 * pen + 1.2:
        return None
    line = a + np.linspace(0.0, 1.0, 400)[:, None] * (b - a)
    drawn = at_points(ink, line[None] + np.arange(-1.0, 1.1, 0.5)[:, None, None] * m).any(0)
    if drawn.mean() < 0.95:
        return None
    return replace(
        k,
        a=(float(a[0]), float(a[1])),
        b=(float(b[0]), float(b[1])),
        width_px=min(k.width_px, other.width_px),
        free_a=free[first],
        free_b=free[last],
    )


def with_breaks(
    ink: Mask, strokes: tuple[Stroke, ...], *, pen_px: float, reach_px: float
) -> tuple[Stroke, ...]:
    """The strokes, an end that runs free no longer called so where a figure's line goes on beyond a break.

    A piece of an outline between two breaks ends free like a scratch; but ahead of its ends other ink goes on as it
    came, and that is no loose line or dash itself.

    Parameters
    ----------
    ink : ndarray, shape (rows, columns)
    reach_px : the widest break.
    """
    from scipy import ndimage

    if not any(k.free_a or k.free_b for k in strokes):
        return strokes
    label, n = ndimage.label(ink, np.ones((3, 3)))
    place = ndimage.find_objects(label)
    extent = np.array([0.0, *(float(np.hypot(*(s.stop - s.start for s in p))) for p in place)])
    area = np.bincount(label.ravel(), minlength=n + 1)
    figure = (extent > _LARGE * max(ink.shape)) & (area > _MORE_THAN_A_LINE * extent * pen_px)

    def goes_on(end: tuple[float, float], other: tuple[float, float]) -> bool:
        e = np.array(end)
        out = (e - other) / max(float(np.hypot(*(e - other))), 1e-9)
        aside = np.array([-out[1], out[0]])
        for t in np.arange(pen_px, reach_px, 1.0):
            off = np.arange(-1.5 - _ASTRAY * t, 1.6 + _ASTRAY * t, 1.0)
            p = e + t * out + off[:, None] * aside
            p = p[
                (p > -0.5).all(1) & (p < np.array(ink.shape[::-1]) - 0.5).all(1)
            ]  # none goes on off the sheet
            column, row = np.rint(p).astype(np.intp).T
            on = figure[label[row, column]]
            if on.any():
                return _straight_on(ink, p[on].mean(0), out, 4.0 * pen_px + 12.0)
        return False

    return tuple(
        replace(
            k,
            free_a=k.free_a and not goes_on(k.a, k.b),
            free_b=k.free_b and not goes_on(k.b, k.a),
        )
        for k in strokes
    )


def _straight_on(ink: Mask, start: Floats, out: Floats, length: float) -> bool:
    """Whether from a point ink goes on in about a direction for a while."""
    turn = np.radians(np.arange(-20.0, 20.1, 4.0))
    along = np.arange(0.0, length, 1.0)
    way = np.stack(
        [np.cos(turn) * out[0] - np.sin(turn) * out[1], np.sin(turn) * out[0] + np.cos(turn) * out[1]], 1
    )
    p = start + along[None, :, None] * way[:, None, :]
    near = np.array([(0.0, 0.0), (1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)])
    return bool((at_points(ink, p[:, :, None, :] + near).any(-1).mean(1) > 0.95).any())


def joining(ink: Mask, strokes: tuple[Stroke, ...], *, pen_px: float, pool: int) -> tuple[Stroke, ...]:
    """The stretches of strokes that alone join two figures: without them these are two.

    Such a line may end inside both of them, so that neither of its ends runs free, or run together with an edge of one:
    only what lies between them is taken.

    Parameters
    ----------
    ink : ndarray, shape (rows, columns)
    pool : how much coarser the ink is looked at.
    """
    before = _figures(pooled(ink, pool))
    least = _JOIN * max(ink.shape)
    found = []
    for k in strokes:
        if k.length_px > least and k.width_px < 1.5 * pen_px + 1.0:
            for piece in _by_itself(ink, k, pen_px):
                if _figures(pooled(rub_out(ink, (piece,), pen_px=pen_px), pool)) > before:
                    found.append(piece)
                    break
    return tuple(found)


def _by_itself(ink: Mask, k: Stroke, pen: float) -> list[Stroke]:
    """The stretches of a stroke along which no other ink lies beside it, longest first, a few at most."""
    a, b = np.array(k.a), np.array(k.b)
    v = (b - a) / max(k.length_px, 1e-9)
    m = np.array([-v[1], v[0]])
    s = np.arange(0.0, k.length_px, 0.5)
    line = a + s[:, None] * v
    off = 0.5 * min(k.width_px, 1.6 * pen) + 2.0
    alone = np.nonzero(~(at_points(ink, line + off * m) | at_points(ink, line - off * m)))[0]
    runs = [r for r in np.split(alone, np.nonzero(np.diff(alone) > 1)[0] + 1) if r.size > 4.0 * pen]
    out = []
    for run in sorted(runs, key=len, reverse=True)[:_PIECES]:
        (x0, y0), (x1, y1) = line[run[0]], line[run[-1]]
        out.append(replace(k, a=(float(x0), float(y0)), b=(float(x1), float(y1)), free_a=True, free_b=True))
    return out


def _figures(coarse: Mask) -> int:
    """How many pieces of ink there are large enough for a view."""
    from scipy import ndimage

    label, _n = ndimage.label(coarse, np.ones((3, 3)))
    least = _FIGURE * max(coarse.shape)
    return sum(max(s.stop - s.start for s in place) > least for place in ndimage.find_objects(label))
