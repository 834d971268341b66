"""The ruled border round a sheet: found as the one large rectangle that holds all figures, and taken away."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sheetlark.trace.ink import Floats, Mask, grow, shrink

_COARSE = 700  # pixels along the longer side that the rectangle is looked for on
_BREAK = 3  # half the widest break in the border that is closed, coarse pixels


def without_border(ink: Mask, *, pen_px: float) -> Mask:
    """Ink without the border line round the sheet; the same ink where there is none.

    A border shuts paper in with dimension lines and title blocks, and that paper would be taken for parts of the
    views. It may be turned with the sheet, and have small breaks.

    Parameters
    ----------
    ink : ndarray, shape (rows, columns)
        Pen strokes.
    pen_px : float
        Usual stroke width.
    """
    for _ in range(2):  # a double line is a border in a border
        band = _border_band(ink, pen_px)
        if band is None:
            return ink
        ink = ink & ~band
    return ink


def _border_band(ink: Mask, pen_px: float) -> Mask | None:
    """The strip of sheet the border line lies in; None without a border. Same shape as `ink`."""
    from scipy import ndimage

    q = max(1, round(max(ink.shape) / _COARSE))
    pad = np.pad(ink, ((0, -ink.shape[0] % q), (0, -ink.shape[1] % q)))
    coarse = pad.reshape(pad.shape[0] // q, q, pad.shape[1] // q, q).any((1, 3))
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
    long_, short = _least_rectangle(np.argwhere(sheet & ~shrink(sheet, 1)).astype(np.float64))
    if size.max() < 0.96 * long_ * short or long_ > 6.0 * short:
        return None
    wide = int(np.ceil(pen_px / q)) + 4
    inner = shrink(sheet, wide)
    figures, m = ndimage.label(coarse & inner, np.ones((3, 3)))
    reach = [max(s[0].stop - s[0].start, s[1].stop - s[1].start) for s in ndimage.find_objects(figures) if s]
    if m == 0 or sum(r > 0.12 * long_ for r in reach) < 2:
        return None  # a plank wing drawn alone is a rectangle too
    band = whole & grow(sheet, 3) & ~inner
    fine = np.repeat(np.repeat(band, q, 0), q, 1)
    return np.asarray(fine[: ink.shape[0], : ink.shape[1]])


def _least_rectangle(points: npt.NDArray[np.float64]) -> tuple[float, float]:
    """Longer and shorter side of the smallest rectangle, turned any way, that holds all points."""
    from scipy.spatial import ConvexHull

    hull: Floats = points[ConvexHull(points).vertices]
    edge = np.roll(hull, -1, 0) - hull
    edge = edge / np.maximum(np.hypot(edge[:, :1], edge[:, 1:]), 1e-9)
    along, across = hull @ edge.T, hull @ np.c_[-edge[:, 1], edge[:, 0]].T
    sides = np.c_[np.ptp(along, axis=0), np.ptp(across, axis=0)] + 1.0
    best = sides[int(sides.prod(1).argmin())]
    return float(best.max()), float(best.min())
