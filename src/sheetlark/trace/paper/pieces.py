"""Views drawn in pieces that touch nowhere: a biplane's upper wing without struts, thin wings that breaks have opened."""

from __future__ import annotations

import itertools

import numpy as np

from sheetlark.trace.paper.ink import Mask, grow
from sheetlark.trace.paper.mirror import mirror_agreement
from sheetlark.trace.paper.regions import Solid, enclosed, on_sheet
from sheetlark.trace.paper.views import Candidate, Reading

_ASIDE = 0.015  # of the wider piece's width, how far the other's middle lies from its own, at most
_NARROWEST = 0.4  # of it, the other's width
_APART = 0.35  # of it, the paper between them
_HIGHEST = 0.6  # of it, both together
_FLAT = 3.0  # a section's length in its height, at least
_AS_WIDE = 0.015  # of the span, within which a front view is as wide
_MIRRORED = 0.8  # how well it is mirrored, at least


def fronts_in_two(pool: list[Candidate]) -> list[Candidate]:
    """Front views of two wings one above the other, each with what hangs on to it, as one silhouette each."""
    wide = [c for c in pool if c.height < _APART * c.width and c.upright > 0.85]
    out = []
    for a, b in itertools.combinations(wide, 2):
        (x0, y0, x1, y1), (u0, v0, u1, v1) = a.solid.box, b.solid.box
        most = max(a.width, b.width)
        level = abs(0.5 * (x0 + x1) - 0.5 * (u0 + u1)) < _ASIDE * most + 1.0
        alike = min(a.width, b.width) > _NARROWEST * most
        between = max(v0 - y1, y0 - v1)
        if level and alike and 0 < between < _APART * most and max(y1, v1) - min(y0, v0) < _HIGHEST * most:
            out.append(in_one(a, b))
    return out


def broken_front(reading: Reading, ink: Mask, *, gap_px: int) -> Candidate | None:
    """The front view of a reading without one where breaks have opened both its wings, too thin to hold what closes them.

    It is what hangs together over such breaks, is as wide as the top view's span, mirrored, and clear of the other views;
    None where nothing is.

    Parameters
    ----------
    ink : ndarray, shape (rows, columns)
        Pen strokes of the sheet, as coarse as the silhouettes.
    gap_px : half the widest break.
    """
    from scipy import ndimage

    top, side = reading.top, reading.side
    if top is None or side is None or reading.front is not None:
        return None
    span = top.width if reading.top_axis == "upright" else top.height
    pad = gap_px + 2
    wide = np.pad(ink, pad)
    joined, _n = ndimage.label(grow(wide, gap_px))
    for k, (rows, columns) in enumerate(ndimage.find_objects(joined), start=1):
        y0, y1, x0, x1 = (
            rows.start + gap_px,
            rows.stop - gap_px,
            columns.start + gap_px,
            columns.stop - gap_px,
        )
        if abs((x1 - x0) / span - 1.0) > _AS_WIDE or y1 - y0 > _HIGHEST * (x1 - x0):
            continue
        box = (x0 - pad, y0 - pad, x1 - pad, y1 - pad)
        if any(_meet(box, c.solid.box) for c in (top, side)):
            continue
        own = wide[rows, columns] & (joined[rows, columns] == k)
        mask = enclosed(np.pad(own, 2), gap_px)[pad:-pad, pad:-pad]
        upright, level = mirror_agreement(mask)
        if upright > _MIRRORED:
            solid = Solid(mask=mask, at=(box[1], box[0]), box=box, reach=box, gap_px=gap_px)
            return Candidate(solid=solid, upright=upright, level=level)
    return None


def _meet(a: tuple[int, int, int, int], b: tuple[int, int, int, int]) -> bool:
    return min(a[2], b[2]) > max(a[0], b[0]) and min(a[3], b[3]) > max(a[1], b[1])


def with_section(side: Candidate, pool: list[Candidate], height: int) -> Candidate:
    """A level side view with the section of a wing that stands clear of its body, where both are as high as that."""
    x0, y0, x1, y1 = side.solid.box
    for c in pool:
        u0, v0, u1, v1 = c.solid.box
        clear = v1 <= y0 or v0 >= y1
        if clear and x0 <= u0 and u1 <= x1 and c.width > _FLAT * c.height and c.level > 0.8:
            high = max(y1, v1) - min(y0, v0)
            if abs(high / height - 1.0) < 0.05:
                return in_one(side, c)
    return side


def in_one(a: Candidate, b: Candidate) -> Candidate:
    """Two silhouettes as one."""
    s, t = a.solid, b.solid

    def around(p: tuple[int, int, int, int], q: tuple[int, int, int, int]) -> tuple[int, int, int, int]:
        return min(p[0], q[0]), min(p[1], q[1]), max(p[2], q[2]), max(p[3], q[3])

    at = (min(s.at[0], t.at[0]), min(s.at[1], t.at[1]))
    far = np.max([np.add(k.at, k.mask.shape) for k in (s, t)], axis=0)
    shape = (int(far[0]) - at[0], int(far[1]) - at[1])
    mask = on_sheet(s, shape, at) | on_sheet(t, shape, at)
    upright, level = mirror_agreement(mask)
    whole = Solid(
        mask=mask,
        at=at,
        box=around(s.box, t.box),
        reach=around(s.reach, t.reach),
        gap_px=max(s.gap_px, t.gap_px),
        loose_px=s.loose_px + t.loose_px,
        peeled=s.peeled,
    )
    return Candidate(solid=whole, upright=upright, level=level)
