"""Finding the views: straighten, try several readings of the ink, keep the best supported one."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sheetlark.trace.paper.border import least_rectangle, without_border, without_scan_edge
from sheetlark.trace.paper.dimensions import dimension_lines
from sheetlark.trace.paper.frames import without_frames
from sheetlark.trace.paper.ink import Floats, Mask, darkness, grow, ink_mask, pen_width, pooled, shrink
from sheetlark.trace.paper.meant import Inks, inks_meant
from sheetlark.trace.paper.mirror import mirror_turn
from sheetlark.trace.paper.pieces import broken_front, fronts_in_two
from sheetlark.trace.paper.regions import Solid, solids
from sheetlark.trace.paper.settling import MEND, held, settled
from sheetlark.trace.paper.straight import rub_out, skew_rad, straight_strokes
from sheetlark.trace.paper.views import Candidate, Reading, candidates, length_amid, read_views

GAPS = (0, 1, 2, 4, 7, 11)  # half the widest break closed, coarse pixels
_MOST_TURN = np.radians(20.0)  # a sheet is put down no further askew
_FRAME = 0.96  # share of its least rectangle that a frame with what it holds fills
_FRAME_SLIM = 5.0  # its length in its width, at most
_LARGE = 0.15  # of the largest silhouette's area, a frame's
_HELD = 0.97  # share of a silhouette that the same view whole holds
_CUT = 0.95  # of that one's area, one's from which something is cut away
_AS_MIRRORED = 0.01  # how much less well mirrored a view may be that is as well mirrored, by its pixels
_SAME_LENGTH = 0.04  # how far top and side view differ in length, a fin's overhang and a pen among it
_DOUBTFUL = 3.6  # a reading scored lower may have two views joined
SURE = {
    0: 4.6,
    1: 4.6,
    2: 4.7,
    4: 4.5,
    7: 4.0,
    11: 0.0,
}  # by gap closed: a reading scored this high is good enough


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """The straightened picture.

    dark : shape (rows, columns), ink strength.
    turned_rad : the turn taken out.
    given_shape : rows, columns before straightening.
    pool : how much coarser the silhouettes are than `dark`.
    """

    dark: Floats
    ink: Mask
    pen_px: float
    turned_rad: float
    given_shape: tuple[int, int]
    pool: int

    def to_given(self, p: Floats) -> Floats:
        """Straightened pixels (column, row) -> pixels before straightening."""
        c, s = np.cos(self.turned_rad), np.sin(self.turned_rad)
        new = np.array([self.dark.shape[1], self.dark.shape[0]]) / 2.0 - 0.5
        old = np.array([self.given_shape[1], self.given_shape[0]]) / 2.0 - 0.5
        m = np.array([[c, s], [-s, c]])
        return np.asarray((np.asarray(p) - new) @ m + old)

    def from_given(self, p: Floats) -> Floats:
        c, s = np.cos(self.turned_rad), np.sin(self.turned_rad)
        new = np.array([self.dark.shape[1], self.dark.shape[0]]) / 2.0 - 0.5
        old = np.array([self.given_shape[1], self.given_shape[0]]) / 2.0 - 0.5
        m = np.array([[c, s], [-s, c]])
        return np.asarray((np.asarray(p) - old) @ m.T + new)


def _turned(grey: Floats, angle: float) -> Floats:
    """Turn a picture anticlockwise by `angle` radians, the canvas grown, new corners filled with paper."""
    from PIL import Image

    if abs(angle) < np.radians(0.02):
        return grey
    edge = np.concatenate([grey[0], grey[-1], grey[:, 0], grey[:, -1]])
    picture = Image.fromarray(np.clip(grey, 0, 255).astype(np.uint8))
    out = picture.rotate(
        np.degrees(angle), resample=Image.Resampling.BICUBIC, expand=True, fillcolor=int(np.median(edge))
    )
    return np.asarray(out, dtype=np.float64)


def straighten(grey: Floats, *, turned_rad: float | None = None) -> Sheet:
    """Ink of the picture, turned so that its drawing stands upright."""
    total = 0.0 if turned_rad is None else turned_rad
    dark = darkness(_turned(grey, total))
    drawn = ink_mask(dark)
    every = without_scan_edge(drawn)
    pen = pen_width(every, dark)
    ink, ruled = without_border(every, pen_px=pen)
    if turned_rad is None:
        angle = ruled if ruled is not None and abs(ruled) < _MOST_TURN else _turn_of(ink, pen)
        if abs(angle) > np.radians(0.12):
            total = angle
            if drawn.sum() > every.sum():  # turned, the scan's edge would be an edge no longer
                grey = np.where(grow(drawn & ~every, 3), float(np.median(grey)), grey)
            dark = darkness(_turned(grey, total))
            every = ink_mask(dark)
            ink, _ = without_border(every, pen_px=pen)
    ink = without_frames(ink, pen_px=pen)
    if (every & ~ink).any():  # borders and frames are long, and have a pen of their own
        pen = pen_width(ink, dark)
    return Sheet(
        dark=_cleared(dark, every & ~ink, ink),
        ink=ink,
        pen_px=pen,
        turned_rad=total,
        given_shape=(grey.shape[0], grey.shape[1]),
        pool=max(1, round(max(ink.shape) / 950)),
    )


def _turn_of(ink: Mask, pen: float) -> float:
    """How far the sheet is turned: mirrored silhouettes say so; failing them, dimension lines, or strokes. [rad]

    Silhouettes that stray lines join are mirrored no more: then they are looked at again without free-ended strokes.
    """
    best, sure = _mirrored_turn(ink, pen)
    if sure > 0.93:
        return best
    strokes = straight_strokes(ink, pen_px=pen, shortest_px=0.05 * max(ink.shape))
    again, surer = _mirrored_turn(rub_out(ink, strokes, pen_px=pen), pen)
    if surer > 0.93:
        return again
    marks = [d.stroke.askew_rad for d in dimension_lines(ink, strokes, pen_px=pen)]
    if marks and max(marks) - min(marks) < np.radians(1.5) and abs(marks[0]) < _MOST_TURN:
        return float(np.mean(marks))  # dimension lines lie level or upright
    ruled = skew_rad(strokes)
    if sure < 0.8 or abs(ruled - best) < np.radians(1.5) or _framed(ink, ruled, pen):
        return ruled
    return best


def _framed(ink: Mask, turned_rad: float, pen: float) -> bool:
    """Whether a sheet so turned has frames round its views."""
    level = np.asarray(_turned(np.where(ink, 0.0, 255.0), turned_rad) < 128.0)
    return bool((without_frames(level, pen_px=pen) != level).any())


def _mirrored_turn(ink: Mask, pen: float) -> tuple[float, float]:
    """The turn at which the sheet's silhouettes fall on themselves best, and how well they do. [rad], 0..1"""
    pool = max(1, round(max(ink.shape) / 700))
    coarse = pooled(ink, pool)
    best, sure = 0.0, 0.0
    for gap in (0, 3):
        found, _ = solids(coarse, gap_px=gap, pen_px=max(1.0, pen / pool))
        ruled = _ruled_turn(found)
        if ruled is not None:
            return ruled, 1.0
        angle, trust = mirror_turn(tuple(s.mask for s in found[:8]))
        if trust > sure:
            best, sure = angle, trust
        if sure > 0.985:
            break
    return best, sure


def _ruled_turn(found: tuple[Solid, ...]) -> float | None:
    """How far the frames round views are turned, which are rectangles as silhouettes; None where there are none. [rad]"""
    turns, sizes = [], []
    for s in found:
        if s.area < _LARGE * found[0].area or min(s.mask.shape) < 8:
            continue
        rim = s.mask & ~shrink(s.mask, 1)
        long_, short, turned = least_rectangle(np.argwhere(rim).astype(np.float64))
        if s.area > _FRAME * long_ * short and long_ < _FRAME_SLIM * short:
            turns.append(turned)
            sizes.append(s.area)
    if not turns or max(turns) - min(turns) > np.radians(1.5) or max(map(abs, turns)) > _MOST_TURN:
        return None
    return float(np.average(turns, weights=sizes))


def _cleared(dark: Floats, gone: Mask, kept: Mask) -> Floats:
    """Ink strengths without the ink in `gone` and its blurred rims, as far as no ink of `kept` is near."""
    if not gone.any():
        return dark
    near = grow(gone, 3) & (~grow(kept, 2) | gone)
    return np.where(near, np.minimum(dark, 0.0), dark)


def _solids_at(sheet: Sheet, ink: Mask, gap: int) -> list[Solid]:
    pen = max(1.0, sheet.pen_px / sheet.pool)
    found, peeled = solids(ink, gap_px=gap, pen_px=pen)
    return [*found, *(solids(ink, gap_px=gap, pen_px=pen, ends=(1, 0))[0] if peeled else ())]


def all_solids(sheet: Sheet) -> tuple[Solid, ...]:
    """Every silhouette any reading of the ink gives."""
    coarse = inks_meant(sheet.ink, pen_px=sheet.pen_px, pool=sheet.pool).coarse
    return tuple(s for gap in GAPS[:-1] for ink in coarse for s in _solids_at(sheet, ink, gap))


def find_views(sheet: Sheet) -> tuple[Sheet, Reading]:
    """Try stray lines kept or rubbed out and small to large gaps closed, until the reading is sure.

    Where a view is missing at the end, lines that join two figures are rubbed out, and what was taken for a dimension line
    is put back.

    Returns the sheet without dimension lines and lettering, which the parts are not to be read from, and the reading.
    """
    meant = inks_meant(sheet.ink, pen_px=sheet.pen_px, pool=sheet.pool)
    best, pool = _best_reading(sheet, meant)
    if not best.complete or best.score < _DOUBTFUL:
        found = [(other, *_best_reading(sheet, other)) for other in meant.otherwise()]
        other, again, larger = max(found, key=lambda f: f[1].score, default=(meant, best, pool))
        if again.complete >= best.complete and again.score > best.score + 0.3:
            meant, best, pool = other, again, larger
    sheet = replace(sheet, dark=_cleared(sheet.dark, meant.besides, sheet.ink & ~meant.besides))
    pen = max(1.0, sheet.pen_px / sheet.pool)
    return sheet, settled(best, pool, meant.coarse[2], meant.strays, pen_px=pen)


def _best_reading(sheet: Sheet, meant: Inks) -> tuple[Reading, list[Candidate]]:
    """The best reading of the ink as it may be meant, and the silhouettes it was chosen from."""
    loose, rubbed, drawn = meant.coarse
    differing = [drawn]
    for ink in (loose, rubbed):
        if not any(np.array_equal(ink, other) for other in differing):
            differing.append(ink)
    found = _solids_at(sheet, drawn, 0)
    known: dict[Solid, Candidate] = {}
    pool = candidates(tuple(found), known)
    plain = _views_of(pool)
    if plain.score > 4.8 and _whole(
        plain
    ):  # a clean sheet: nothing to rub out, but perhaps a stray line over it
        less = [s for ink in differing[1:] for s in _solids_at(sheet, ink, 0)]
        return plain, [*pool, *candidates(tuple(less))]
    best = read_views([])
    for gap in GAPS:
        for ink in differing if gap > 0 else differing[1:]:
            found += _solids_at(sheet, ink, gap)
        pool = candidates(tuple(found), known)
        now = _views_of(pool)
        if now.score > best.score + 0.03:  # what needs less closing has the right of way
            best = now
        if best.score > SURE[gap] and (_whole(best) if gap <= 4 else best.complete):
            break
        if gap == 7 and best.score > 0.55 * SURE[2]:
            break
    if shows_more(plain, best):
        return plain, pool
    if best.top is not None and _loose(best) and all(k.solid.gap_px < MEND for k in pool):
        found += [s for ink in differing for s in _solids_at(sheet, ink, MEND)]
        pool = candidates(tuple(found), known)
    front = broken_front(best, drawn, gap_px=GAPS[-2])
    return (best if front is None else _views_of([*pool, front])), pool


def shows_more(plain: Reading, rubbed: Reading) -> bool:
    """Whether the ink with nothing rubbed out shows the same views whole that rubbing out loose lines cuts down.

    A line that ends free may be an edge drawn straight on to a pointed stern. What a stray line closes in is not mirrored, and
    makes a side view no longer or shorter by as much as the top view.
    """
    if plain.top is None or plain.side is None or plain.front is None or plain.top_axis != rubbed.top_axis:
        return False
    pairs = (plain.top, rubbed.top), (plain.side, rubbed.side)
    if any(
        k is None or k.solid.area > full.solid.area or held(k.solid, full.solid) < _HELD for full, k in pairs
    ):
        return False
    if not any(k is not None and k.solid.area < _CUT * full.solid.area for full, k in pairs):
        return False
    lengths = plain.top_length, length_amid(plain.top, plain.top_axis)
    return plain.mirrored > rubbed.mirrored - _AS_MIRRORED and any(
        abs(plain.side_length / n - 1.0) < _SAME_LENGTH for n in lengths if n
    )


def _views_of(pool: list[Candidate]) -> Reading:
    """The best reading of silhouettes, of which two may be one front view."""
    return read_views([*pool, *fronts_in_two(pool)])


def _loose(reading: Reading) -> bool:
    """Whether much ink hangs on to the top or the side view from outside, as where a break has opened an outline."""
    views = (v for v in (reading.top, reading.side) if v is not None)
    return any(v.solid.loose_px > 0.2 * max(v.width, v.height) for v in views)


def _whole(reading: Reading) -> bool:
    """Whether no view seems to lack a part that a break in its outline has let the paper into.

    The top view would be better mirrored with it, or have less ink joined to it from outside on one side alone (a
    propeller's line is mirrored, what a break leaves is not), or the side view would be as high as the front view, with
    or without what is drawn in single lines there: a fin from ahead, legs.
    """
    top, side, front = reading.top, reading.side, reading.front
    if top is None or side is None or front is None:
        return False
    odd = top.solid.odd_px
    loose = top.solid.loose_px if odd is None else odd[0 if reading.top_axis == "upright" else 1]
    joined = loose < 0.3 * max(top.width, top.height)
    as_high = any(abs(reading.side_height / h - 1.0) < 0.15 for h in (front.height, front.reach_height))
    return reading.mirrored > 0.985 and joined and as_high


def read_sheet(grey: Floats, *, turned_rad: float | None = None) -> tuple[Sheet, Reading]:
    """Straighten and find the views; straighten again by the top view's mirror line if that says otherwise.

    Where a view is missing, the sheet is tried as it is: half a figure that breaks have opened is mirrored, but askew.
    """
    sheet, reading = find_views(straighten(grey, turned_rad=turned_rad))
    if turned_rad is None and sheet.turned_rad and not reading.complete:
        level, other = find_views(straighten(grey, turned_rad=0.0))
        if other.score > reading.score + 0.3:
            sheet, reading = level, other
    if turned_rad is None and reading.top is not None:
        angle, _ = reading.top.mirror_line(reading.top_axis)
        if abs(angle) > np.radians(0.45):
            again, other = find_views(straighten(grey, turned_rad=sheet.turned_rad + angle))
            if other.score > reading.score - 0.1:
                return again, other
    return sheet, reading
