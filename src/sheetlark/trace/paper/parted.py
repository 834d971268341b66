"""Parts of a view that a wide break in their outlines has parted from it, taken in by closing that break for them alone.

Closing breaks as wide for the whole view would blunt its corners and join it to what lies beside it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sheetlark.trace.paper.ink import Mask, grow, shrink
from sheetlark.trace.paper.mirror import mirror_agreement, symmetry_axis
from sheetlark.trace.paper.propellers import blade_bounds
from sheetlark.trace.paper.regions import Solid, enclosed, on_sheet
from sheetlark.trace.paper.views import Candidate

WIDTHS = (4, 7, 11)  # half the widest break closed, one after the other, pixels
_LOOSE = 0.15  # of the view's longer side, that its loose ink is longer than where a part may be missing
_SMALLEST = 0.012  # of the view's area
_LARGEST = 0.3  # a fin's area in that of its view, at most
_LOWEST = 0.6  # its height in its length, at least
_INKED = 0.65  # of a part's rim


def with_parted(
    c: Candidate, others: tuple[Candidate, ...], ink: Mask, strays: Mask, axis: str, *, pen_px: float
) -> Candidate:
    """A view with the parts whose outlines hang on to it as loose ink.

    Parameters
    ----------
    others : the other views, which are no parts of it.
    ink : ndarray, shape (rows, columns)
        Pen strokes of the sheet, as coarse as the silhouettes.
    strays : ndarray, shape (rows, columns)
        The ink of stray lines, which bound no part.
    axis : "upright" or "level" where the view is mirrored about a line that runs so, and the part with it; "" where not.
    pen_px : usual stroke width.
    """
    s = c.solid
    pad = WIDTHS[-1] + 2
    more = 3 * WIDTHS[-1]  # ink beyond what is joined to it may hang on over a break
    x0, y0 = (max(min(s.box[i], s.reach[i]) - more, 0) for i in (0, 1))
    x1, y1 = (min(max(s.box[i], s.reach[i]) + more, ink.shape[3 - i]) for i in (2, 3))

    def around(sheet: Mask) -> Mask:
        return np.pad(sheet[y0:y1, x0:x1], pad)

    drawn, stray = around(ink), around(strays)
    corner = (y0 - pad, x0 - pad)
    lean = on_sheet(s, drawn.shape, corner)
    for other in others:
        drawn &= ~grow(on_sheet(other.solid, drawn.shape, corner), round(pen_px) + 1) | lean
    near = _hanging_on(drawn & ~stray, lean, 2)
    loose = np.count_nonzero(near & ~grow(lean, round(pen_px) + 1)) / pen_px
    if max(loose, s.loose_px) < _LOOSE * max(c.width, c.height):
        return c
    left_out = np.zeros_like(lean) if s.peeled is None else around(s.peeled)
    full = lean
    for gap in WIDTHS:
        if gap >= s.gap_px:
            near = _hanging_on(drawn & ~stray, full, gap) | (drawn & stray)
            full = _fuller(full, near, stray, left_out, axis, gap=gap, pen_px=pen_px)
    if full is lean:
        return c
    near = _hanging_on(drawn & ~stray, full, s.gap_px + 1)
    return _candidate(c, full, near, corner, pen_px=pen_px)


def _hanging_on(ink: Mask, lean: Mask, gap: int) -> Mask:
    """The ink joined to a silhouette over breaks up to twice `gap` wide."""
    from scipy import ndimage

    joined, n = ndimage.label(grow(ink | lean, gap))
    mine = np.zeros(n + 1, dtype=bool)
    mine[np.unique(joined[lean])] = True
    mine[0] = False
    return np.asarray(ink & mine[joined])


def _fuller(
    lean: Mask, ink: Mask, strays: Mask, left_out: Mask, axis: str, *, gap: int, pen_px: float
) -> Mask:
    """The silhouette with what breaks up to twice `gap` wide had opened; itself where that is nothing."""
    from scipy import ndimage

    inside = enclosed(ink | lean, gap)
    pen = round(pen_px)
    beyond = inside & ~grow(lean, pen + 1)
    r = round(0.5 * pen_px + 2.0)
    parts, _n = ndimage.label(grow(shrink(beyond, r), r))
    least = _SMALLEST * np.count_nonzero(lean)
    near_ink, near_lean = grow(ink, 1), grow(lean, pen + 3)
    found = []
    for k, place in enumerate(ndimage.find_objects(parts), start=1):
        part = parts == k
        if np.count_nonzero(part[place]) < least:
            continue
        if left_out[part].mean() > 0.5:
            continue
        part = grow(part, r) & inside & ~lean
        edge = part & ~shrink(part, 1)
        rim = edge & ~near_lean
        borders = np.count_nonzero(rim) < 0.9 * np.count_nonzero(edge)
        fits = axis or (_fin_like(place, part, lean) and not blade_bounds(part, lean, ink))
        if not (rim.any() and borders and fits) or near_ink[rim].mean() < _INKED or strays[rim].mean() > 0.25:
            continue
        found.append(part)
    if found and axis:
        found = _mirrored(found, lean, axis)
    if not found:
        return lean
    return np.asarray(
        lean | np.any(found, axis=0) | (grow(np.any(found, axis=0), pen + 2) & inside & grow(lean, pen + 2))
    )


def _fin_like(place: tuple[slice, ...], part: Mask, lean: Mask) -> bool:
    """Whether a part may be a side view's fin, not the paper between a body and a dimension line along it."""
    high, long_ = (s.stop - s.start for s in place)
    if np.ptp(np.nonzero(lean.any(1))[0]) > np.ptp(np.nonzero(lean.any(0))[0]):  # the view stands on its tail
        high, long_ = long_, high
    return bool(high > _LOWEST * long_ and np.count_nonzero(part) < _LARGEST * np.count_nonzero(lean))


def _mirrored(parts: list[Mask], lean: Mask, axis: str) -> list[Mask]:
    """Those of the parts that lie over one of them, or over the silhouette, once mirrored about its own line."""
    angle, point = symmetry_axis(lean, axis)
    along = (
        np.array([-np.sin(angle), np.cos(angle)])
        if axis == "upright"
        else np.array([np.cos(angle), np.sin(angle)])
    )
    across = np.array([-along[1], along[0]])
    whole = lean | np.any(parts, axis=0)
    kept = []
    for part in parts:
        r, c = np.nonzero(part)
        p = np.c_[c, r] - point
        q = np.rint(p - 2.0 * (p @ across)[:, None] * across + point).astype(int)
        ok = (q >= 0).all(1) & (q[:, 0] < lean.shape[1]) & (q[:, 1] < lean.shape[0])
        if whole[q[ok, 1], q[ok, 0]].sum() > 0.6 * len(q):
            kept.append(part)
    return kept


def _candidate(c: Candidate, mask: Mask, ink: Mask, corner: tuple[int, int], *, pen_px: float) -> Candidate:
    """The view with a fuller silhouette; corner: (row, column) of the mask's corner on the sheet."""
    rows, columns = np.nonzero(mask.any(1))[0], np.nonzero(mask.any(0))[0]
    r0, r1, c0, c1 = int(rows[0]), int(rows[-1]) + 1, int(columns[0]), int(columns[-1]) + 1
    cut = mask[r0:r1, c0:c1]
    y, x = corner[0] + r0, corner[1] + c0
    loose = float(np.count_nonzero(ink & ~grow(mask, round(pen_px) + 1))) / pen_px
    box = (x, y, x + c1 - c0, y + r1 - r0)
    solid: Solid = replace(c.solid, mask=cut, at=(y, x), box=box, loose_px=loose, odd_px=None)
    upright, level = mirror_agreement(cut)
    return replace(c, solid=solid, upright=upright, level=level)
