"""What lies round the figures of a sheet: its ruled border, and the dark edge a scan may have."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sheetlark.trace.paper.ink import Floats, Mask, grow, pooled, shrink, unpooled

_COARSE = 700  # pixels along the longer side that the rectangle is looked for on
_BREAK = 3  # half the widest break in the border that is closed, coarse pixels


def without_border(ink: Mask, *, pen_px: float) -> tuple[Mask, float | None]:
    """Ink without the border line round the sheet, and the border's turn.

    A border shuts paper in with dimension lines and title blocks, and that paper would be taken for parts of the
    views. It may be turned with the sheet, and have small breaks.

    Parameters
    ----------
    ink : ndarray, shape (rows, columns)
        Pen strokes.
    pen_px : float
        Usual stroke width.

    Returns
    -------
    ink : ndarray, shape (rows, columns)
    turned_rad : float or None
        How far the border is turned, column toward row, within 45 degrees; None where there is none.
    """
    turned: float | None = None
    for _ in range(2):  # a double line is a border in a border
        found = _border_band(ink, pen_px)
        if found is None:
            break
        ink, turned = less_band(ink, found[0]), found[1]
    return ink, turned


def less_band(ink: Mask, band: Mask) -> Mask:
    """The ink without the border line in its strip, but with what only reaches into the strip from a figure."""
    from scipy import ndimage

    left = ink & ~band
    label, n = ndimage.label(ink & band, np.ones((3, 3)))
    longest = 0.04 * max(ink.shape)
    short = np.zeros(n + 1, dtype=bool)
    for k, s in enumerate(ndimage.find_objects(label), start=1):
        short[k] = max(s[0].stop - s[0].start, s[1].stop - s[1].start) < longest
    reached = np.zeros(n + 1, dtype=bool)
    reached[np.unique(label[grow(left, 1)])] = True
    return np.asarray(left | (short & reached)[label])


def without_scan_edge(ink: Mask) -> Mask:
    """Ink without what lies along a large part of an edge of the picture: the shadow of a fold or of a scanner's lid."""
    from scipy import ndimage

    if not (ink[0].any() or ink[-1].any() or ink[:, 0].any() or ink[:, -1].any()):
        return ink
    label, n = ndimage.label(ink, np.ones((3, 3)))
    gone = np.zeros(n + 1, dtype=bool)
    for edge in (label[0], label[-1], label[:, 0], label[:, -1]):
        along = np.bincount(edge, minlength=n + 1)
        gone |= along > 0.25 * edge.size
    gone[0] = False
    return ink & ~gone[label] if gone.any() else ink


def _border_band(ink: Mask, pen_px: float) -> tuple[Mask, float] | None:
    """The strip of sheet the border line lies in, of the same shape as `ink`, and its turn; None without a border."""
    from scipy import ndimage

    q = max(1, round(max(ink.shape) / _COARSE))
    coarse = pooled(ink, q)
    room = _BREAK + 2
    shut = grow(np.pad(coarse, room), _BREAK)
    whole = shrink(ndimage.binary_fill_holes(shut), _BREAK)[room:-room, room:-room]
    # opened, to be rid of a scratch or a centre line that runs out across the border
    label, n = ndimage.label(grow(shrink(whole, 4), 4))
    if n == 0:
        return None
    size = np.bincount(label.ravel())[1:]
    sheet = label == int(size.argmax()) + 1
    if size.max() < 0.25 * sheet.size:
        return None
    long_, short, turned = least_rectangle(np.argwhere(sheet & ~shrink(sheet, 1)).astype(np.float64))
    if size.max() < 0.96 * long_ * short or long_ > 6.0 * short:
        return None
    wide = int(np.ceil(pen_px / q)) + 4
    inner = shrink(sheet, wide)
    figures, m = ndimage.label(coarse & inner, np.ones((3, 3)))
    reach = [max(s[0].stop - s[0].start, s[1].stop - s[1].start) for s in ndimage.find_objects(figures) if s]
    if m == 0 or sum(r > 0.12 * long_ for r in reach) < 2:
        return None  # a plank wing drawn alone is a rectangle too
    # a border stands round all figures; a wing's edge and the lines of its dimension do not
    beside, _ = ndimage.label(coarse & ~grow(sheet, 3), np.ones((3, 3)))
    least = 0.06 * long_
    for s in ndimage.find_objects(beside):
        if min(s[0].stop - s[0].start, s[1].stop - s[1].start) > least:
            return None
    band = whole & grow(sheet, 3) & ~inner
    return unpooled(band, q, ink.shape), turned


def least_rectangle(points: npt.NDArray[np.float64]) -> tuple[float, float, float]:
    """Longer and shorter side of the smallest rectangle, turned any way, that holds all (row, column); its turn."""
    import shapely

    hull: Floats = shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(points)))[:-1]
    edge = np.roll(hull, -1, 0) - hull
    edge = edge / np.maximum(np.hypot(edge[:, :1], edge[:, 1:]), 1e-9)
    along, across = hull @ edge.T, hull @ np.c_[-edge[:, 1], edge[:, 0]].T
    sides = np.c_[np.ptp(along, axis=0), np.ptp(across, axis=0)] + 1.0
    k = int(sides.prod(1).argmin())
    angle = float(np.arctan2(edge[k, 0], edge[k, 1]))
    angle += _slope_of_sides(points @ edge[k], points @ np.array([-edge[k, 1], edge[k, 0]]))
    return float(sides[k].max()), float(sides[k].min()), (angle + np.pi / 4) % (np.pi / 2) - np.pi / 4


def _slope_of_sides(u: Floats, v: Floats) -> float:
    """How far the sides of a nearly upright rectangle of points (u, v) are turned on average, from v toward u. [rad]"""
    slopes, lengths = [], []
    for a, b, sense in ((u, v, -1.0), (v, u, 1.0)):
        for sign in (1.0, -1.0):
            middle = np.abs(a - 0.5 * (a.max() + a.min())) < 0.42 * np.ptp(a)
            side = middle & (sign * b > (sign * b).max() - 0.02 * np.ptp(b))
            if side.sum() > 20:
                line = np.polyfit(a[side], b[side], 1)
                near = np.abs(np.polyval(line, a[side]) - b[side]) < 1.5
                if near.sum() < 3:
                    continue  # no side: points scattered about it
                slopes.append(sense * float(np.polyfit(a[side][near], b[side][near], 1)[0]))
                lengths.append(float(np.ptp(a)))
    return float(np.average(slopes, weights=lengths)) if slopes else 0.0
