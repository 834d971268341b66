"""Parts that a wide break in their outlines has parted from a view."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from PIL import Image, ImageDraw

from sheetlark.trace.paper.ink import Mask
from sheetlark.trace.paper.parted import with_parted
from sheetlark.trace.paper.regions import solids
from sheetlark.trace.paper.views import Candidate, candidates

WING = (60, 60, 340, 120)
BODY = (190, 30, 210, 300)
TAIL = (130, 240, 270, 290)


def _drawn(*boxes: tuple[int, int, int, int], gaps: tuple[tuple[int, int, int, int], ...] = ()) -> Mask:
    page = Image.new("L", (400, 340), 0)
    pen = ImageDraw.Draw(page)
    for box in boxes:
        pen.rectangle(box, outline=255, width=3)
    for gap in gaps:
        pen.rectangle(gap, fill=0)
    return np.asarray(page) > 0


def _largest(ink: Mask) -> Candidate:
    found, _ = solids(ink, gap_px=0, pen_px=3.0)
    return max(candidates(found), key=lambda c: c.solid.area)


def _opened(x: int) -> tuple[int, int, int, int]:
    """A break of 16 pixels in the tail's leading edge."""
    return x, 238, x + 15, 244


NOTHING = np.zeros((340, 400), dtype=bool)


def test_a_tail_open_on_both_sides_is_joined_to_the_view_which_stays_as_it_is() -> None:
    ink = _drawn(WING, BODY, TAIL, gaps=(_opened(150), _opened(235)))
    lean = _largest(ink)
    assert lean.solid.box[3] - lean.solid.box[1] < 280
    assert lean.width < 290
    full = with_parted(lean, (), ink, NOTHING, "upright", pen_px=3.0)
    whole = _largest(_drawn(WING, BODY, TAIL))
    assert abs(full.solid.area - whole.solid.area) < 0.01 * whole.solid.area
    assert full.solid.box == whole.solid.box
    assert full.solid.loose_px < 0.1 * lean.solid.loose_px


def test_a_fin_too_small_for_the_gap_closed_is_joined_though_it_is_closed() -> None:
    """Breaks up to 14 pixels closed, no face narrower than 20 is seen; a dimension line's face stays paper."""
    page = Image.new("L", (400, 340), 0)
    pen = ImageDraw.Draw(page)
    pen.line([(60, 220), (120, 200), (340, 200), (330, 230), (120, 240), (60, 220)], fill=255, width=3)
    pen.rectangle((300, 178, 318, 200), outline=255, width=3)
    pen.rectangle((150, 196, 162, 206), fill=0)
    ink = np.asarray(page) > 0
    found, _ = solids(ink, gap_px=7, pen_px=3.0)
    lean = max(candidates(found), key=lambda c: c.solid.area)
    assert lean.solid.box[1] > 190
    short = replace(lean, solid=replace(lean.solid, box=(60, 198, 200, 242)))  # its loose ink counts for more
    full = with_parted(short, (), ink, NOTHING, "", pen_px=3.0)
    assert full.solid.box[1] < 182
    peeled = np.zeros_like(NOTHING)
    peeled[176:200, 298:320] = True
    ruled = replace(short, solid=replace(short.solid, peeled=peeled))
    assert with_parted(ruled, (), ink, NOTHING, "", pen_px=3.0) is ruled


def test_what_has_no_counterpart_is_no_part_of_a_mirrored_view() -> None:
    half = (TAIL[0], TAIL[1], BODY[0], TAIL[3])
    ink = _drawn(WING, BODY, half, gaps=(_opened(150),))
    lean = _largest(ink)
    assert with_parted(lean, (), ink, NOTHING, "upright", pen_px=3.0) is lean
    assert with_parted(lean, (), ink, NOTHING, "", pen_px=3.0).solid.area > 1.1 * lean.solid.area


def test_another_view_and_what_stray_lines_bound_are_no_parts() -> None:
    ink = _drawn(WING, BODY, TAIL, gaps=(_opened(150), _opened(235)))
    lean = _largest(ink)
    box = (TAIL[0], TAIL[1], TAIL[2] + 1, TAIL[3] + 1)
    filled = np.ones((box[3] - box[1], box[2] - box[0]), dtype=bool)
    tail = replace(lean, solid=replace(lean.solid, mask=filled, at=(box[1], box[0]), box=box))
    assert with_parted(lean, (tail,), ink, NOTHING, "", pen_px=3.0).solid.area < 1.05 * lean.solid.area
    assert with_parted(lean, (), ink, ink & _drawn(TAIL), "", pen_px=3.0).solid.area < 1.05 * lean.solid.area


def test_a_closed_face_that_was_left_out_stays_out() -> None:
    """Nothing parts it from the view: only a dimension line bounds it."""
    ink = _drawn(WING, BODY)
    lean = _largest(ink)
    face = _drawn((60, 120, 190, 200))
    lean = replace(lean, solid=replace(lean.solid, loose_px=330.0))
    assert with_parted(lean, (), ink | face, NOTHING, "", pen_px=3.0).solid.area < 1.05 * lean.solid.area


def test_a_fin_is_joined_to_a_side_view_and_the_paper_above_a_dimension_line_is_not() -> None:
    fin, below = (300, 80, 345, 150), (60, 200, 220, 230)
    ink = _drawn(fin, below, gaps=((310, 78, 325, 84), (100, 226, 115, 232)))
    page = Image.new("L", (400, 340), 0)
    body = [(40, 175), (90, 150), (360, 150), (360, 165), (220, 200), (60, 200), (40, 175)]
    ImageDraw.Draw(page).line(body, fill=255, width=3)
    ink |= np.asarray(page) > 0
    lean = _largest(ink)
    assert lean.height < 60
    full = with_parted(lean, (), ink, NOTHING, "", pen_px=3.0)
    assert full.solid.box[1] <= 80
    assert full.solid.box[3] == lean.solid.box[3]
