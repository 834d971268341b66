"""The silhouettes of a reading settled: what breaks have opened taken in, what stray lines close in left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sheetlark.trace.paper.ink import Mask, grow
from sheetlark.trace.paper.parted import with_parted
from sheetlark.trace.paper.pieces import with_section
from sheetlark.trace.paper.propellers import blade_bounds
from sheetlark.trace.paper.regions import Solid, on_sheet
from sheetlark.trace.paper.views import Candidate, Reading

_LACKS = 1.2  # times what is there, what a view may lack: a wing, a body's half beyond its centre line
MEND = 4  # half the widest break looked for in a view that has loose ink


def settled(reading: Reading, pool: list[Candidate], ink: Mask, strays: Mask, *, pen_px: float) -> Reading:
    """The views of a reading, each with the silhouette of it that shows all of it and nothing else.

    Parameters
    ----------
    pool : the silhouettes there are to choose from.
    ink, strays : ndarray, shape (rows, columns)
        Pen strokes of the sheet and those of them that are stray lines, as coarse as the silhouettes.
    pen_px : usual stroke width, as coarse.
    """
    leaned = _lean(_filled_up(_mended(reading, pool, ink), pool), pool, strays)
    return _joined(leaned, pool, ink, strays, pen_px=pen_px)


def _joined(reading: Reading, pool: list[Candidate], ink: Mask, strays: Mask, *, pen_px: float) -> Reading:
    """Top and side view with the parts that wide breaks have parted from them.

    Where a silhouette that needs less closing comes to the same with its parts joined to it, that one is taken: closing
    blunts corners and fills what lies beside lines that touch.
    """
    top, side, front = reading.top, reading.side, reading.front

    def whole(c: Candidate | None, axis: str) -> Candidate | None:
        if c is None:
            return None
        others = tuple(k for k in (top, side, front) if k is not None and k is not c)
        full = with_parted(c, others, ink, strays, axis, pen_px=pen_px)
        if c.solid.gap_px < MEND:
            return full
        lean = [
            k
            for k in pool
            if k.solid.gap_px < MEND
            and 0.5 * full.solid.area < k.solid.area < full.solid.area
            and held(k.solid, full.solid) > 0.98
        ]
        if not lean:
            return full
        less = with_parted(max(lean, key=lambda k: k.solid.area), others, ink, strays, axis, pen_px=pen_px)
        same = held(full.solid, less.solid) > 0.98
        return less if same and (not axis or getattr(less, axis) > getattr(full, axis)) else full

    return replace(reading, top=whole(top, reading.top_axis), side=whole(side, ""))


def _mended(reading: Reading, pool: list[Candidate], ink: Mask) -> Reading:
    """Top and side view with the parts that breaks in their outlines had let the paper into.

    The outline of such a part is still there: ink that hangs on to the silhouette from outside.
    """
    top, side = reading.top, reading.side
    return replace(
        reading,
        top=unbroken(top, pool, reading.top_axis, ink) if top is not None else None,
        side=unbroken(side, pool, "", ink) if side is not None else None,
    )


def unbroken(broken: Candidate, pool: list[Candidate], axis: str, ink: Mask) -> Candidate:
    """The same view with wider breaks closed, wherever that takes much of the loose ink in.

    A part encloses more paper along its outline than lettering that hangs on to a centre line, and no propeller bounds it.
    """
    best = broken
    for k in sorted(pool, key=lambda k: k.solid.gap_px):
        loose = best.solid.loose_px
        if (
            best.solid.gap_px < k.solid.gap_px <= 7
            and k.solid.loose_px < min(0.5 * loose, loose - 0.15 * max(best.width, best.height))
            and 3.0 * (loose - k.solid.loose_px) < k.solid.area - best.solid.area < _LACKS * best.solid.area
            and (not axis or getattr(k, axis) > getattr(best, axis) - 0.01)
            and held(best.solid, k.solid) > 0.97
            and (axis or not _with_blade(best.solid, k.solid, ink))
        ):
            best = k
    return best


def _with_blade(lean: Solid, full: Solid, ink: Mask) -> bool:
    """Whether the largest of what one silhouette has more than another is closed in by a propeller's blade."""
    from scipy import ndimage

    less = grow(_on_canvas(lean, full), 1)
    parts, n = ndimage.label(full.mask & ~less)
    if not n:
        return False
    face = parts == 1 + int(np.bincount(parts.ravel())[1:].argmax())
    (r, c), (rows, columns) = full.at, full.mask.shape
    pad = rows // 2  # the other blade may stand out beyond the silhouette
    drawn = np.pad(ink, pad)[r : r + rows + 2 * pad, c : c + columns + 2 * pad]
    return blade_bounds(np.pad(grow(face, 1), pad), np.pad(less & full.mask, pad), drawn)


def _filled_up(reading: Reading, pool: list[Candidate]) -> Reading:
    """Side and front view with the part one of them lacks, told by the other's height."""
    side, front = reading.side, reading.front
    if side is None or front is None:
        return reading

    def high(c: Candidate) -> int:
        return c.height if reading.side_axis == "level" else c.width

    if high(side) < 0.85 * front.height:
        low = side
        side = _fuller(side, [k for k in pool if abs(high(k) / front.height - 1.0) < 0.12])
        if side is low and reading.side_axis == "level":
            side = with_section(side, pool, front.height)
    elif front.height < 0.85 * high(side):
        front = _fuller(front, [k for k in pool if abs(k.height / high(side) - 1.0) < 0.12])
    return replace(reading, side=side, front=front)


def _fuller(lacking: Candidate, among: list[Candidate]) -> Candidate:
    """The one that needs least closing of those that hold all of a silhouette and little more; it itself if none."""
    lot = [
        k
        for k in among
        if k.solid.gap_px <= 7
        and lacking.solid.area < k.solid.area < 1.6 * lacking.solid.area
        and held(lacking.solid, k.solid) > 0.97
    ]
    return min(lot, key=lambda k: k.solid.gap_px, default=lacking)


def _lean(reading: Reading, pool: list[Candidate], strays: Mask) -> Reading:
    """Top and side without what only a stray line closed in, where another reading of the ink shows them so."""
    top, side = reading.top, reading.side
    return replace(
        reading,
        top=_leanest(top, pool, strays, reading.top_axis) if top is not None else None,
        side=_leanest(side, pool, strays, "") if side is not None else None,
    )


def _leanest(full: Candidate, pool: list[Candidate], strays: Mask, axis: str) -> Candidate:
    """The same view with the least area, if what it leaves out was bounded by stray strokes.

    A twin that is less well mirrored about the view's own axis has lost something.
    """
    near = max(3.0, 0.03 * max(full.width, full.height))
    best = full
    for k in pool:
        if (
            k.solid.gap_px > full.solid.gap_px
            or not 0.7 * full.solid.area < k.solid.area < best.solid.area
            or float(np.abs(np.subtract(k.solid.box, full.solid.box)).max()) > near
            or (axis and getattr(k, axis) < getattr(full, axis) - 0.001)
        ):
            continue
        if _stray_share(full.solid, k.solid, strays) > 0.8:
            best = k
    return best


def _stray_share(full: Solid, lean: Solid, strays: Mask) -> float:
    """How much of the outer edge of what `full` has more than `lean` runs along stray strokes."""
    from scipy import ndimage

    more = full.mask & ~ndimage.binary_dilation(_on_canvas(lean, full), iterations=2)
    edge = more & ~ndimage.binary_erosion(full.mask, iterations=2)
    if not edge.any():
        return 0.0
    line = ndimage.maximum_filter(strays.view(np.uint8), size=5) > 0
    rows, columns = np.nonzero(edge)
    height, width = strays.shape
    r, c = np.clip(rows + full.at[0], 0, height - 1), np.clip(columns + full.at[1], 0, width - 1)
    return float(line[r, c].mean())


def held(s: Solid, by: Solid) -> float:
    """Share of a silhouette that another one holds."""
    return float((_on_canvas(s, by) & by.mask).sum()) / s.area


def _on_canvas(s: Solid, on: Solid) -> Mask:
    """The mask of one solid in the place of another's."""
    return on_sheet(s, (on.mask.shape[0], on.mask.shape[1]), on.at)
