"""Dimension lines told from edges by the ticks beyond their ends."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from sheetlark.trace.paper.dimensions import dimension_lines, without_dimensions
from sheetlark.trace.paper.meant import inks_meant
from sheetlark.trace.paper.straight import Stroke, _width, straight_strokes

WING = [(150, 150), (650, 150), (650, 230), (150, 230)]


def _page(*, dimension: bool, start: int = 230, turned_deg: float = 0.0) -> np.ndarray:
    """A plank wing, and a dimension line under it from tip to tip; extension lines from `start` to a tick below it."""
    page = Image.new("L", (800, 500), 0)
    pen = ImageDraw.Draw(page)
    pen.line([*WING, WING[0]], fill=255, width=3, joint="curve")
    if dimension:
        for x, inward in ((150, 1), (650, -1)):
            pen.line([(x, start), (x, 306)], fill=255, width=2)
            pen.polygon([(x, 300), (x + inward * 12, 296), (x + inward * 12, 304)], fill=255)
        pen.line([(150, 300), (650, 300)], fill=255, width=2)
    return np.asarray(page.rotate(turned_deg)) > 127


def test_a_dimension_line_with_its_figure_in_the_middle_goes_as_one() -> None:
    ink = _page(dimension=True)
    ink = ink.copy()
    ink[290:310, 360:440] = False
    ink[294:306, 390:394] = True  # the figure
    count, left = _rid(ink)
    assert count == 1
    assert not left[290:312, 140:385].any()


def _rid(ink: np.ndarray) -> tuple[int, np.ndarray]:
    strokes = straight_strokes(ink, pen_px=3.0, shortest_px=32.0)
    found = dimension_lines(ink, strokes, pen_px=3.0)
    return len(found), without_dimensions(ink, found, pen_px=3.0)


@pytest.mark.parametrize(
    "start", [230, 245]
)  # extension lines that touch the wing, and such that stop short of it
@pytest.mark.parametrize("turned_deg", [0.0, 4.0])
def test_a_dimension_line_goes_and_the_wing_stays(start: int, turned_deg: float) -> None:
    ink = _page(dimension=True, start=start, turned_deg=turned_deg)
    wing = _page(dimension=False, turned_deg=turned_deg)
    count, left = _rid(ink)
    assert count == 1
    assert (left & wing).sum() > 0.985 * wing.sum()
    assert (left & ~wing).sum() < 0.12 * (ink & ~wing).sum()


def test_a_dimension_line_close_by_whose_extension_lines_leave_a_gap_goes() -> None:
    """Five pixels behind the wing an extension line begins, six on comes the dimension line, then a tick of ten."""
    page = Image.new("L", (800, 500), 0)
    pen = ImageDraw.Draw(page)
    pen.line([*WING, WING[0]], fill=255, width=3, joint="curve")
    for x in (150, 650):
        pen.line([(x, 237), (x, 253)], fill=255, width=2)
    pen.line([(150, 243), (650, 243)], fill=255, width=2)
    ink = np.asarray(page) > 127
    count, left = _rid(ink)
    assert count == 1
    assert not left[238:].any()


def test_two_wings_one_above_the_other_are_no_dimension_line() -> None:
    """Tip over tip and one a little ahead, the hind edges of both end in what looks like a tick."""
    page = Image.new("L", (800, 500), 0)
    pen = ImageDraw.Draw(page)
    pen.line([*WING, WING[0]], fill=255, width=3)
    pen.line([(150, 230), (150, 240), (650, 240), (650, 230)], fill=255, width=3)
    ink = np.asarray(page) > 127
    count, left = _rid(ink)
    assert count == 0
    assert (left == ink).all()


def _arrowed(*, worn: bool) -> np.ndarray:
    """A plank wing and a dimension line with arrow heads below it; `worn`: only stubs are left of its extension lines."""
    page = Image.new("L", (800, 500), 0)
    pen = ImageDraw.Draw(page)
    pen.line([*WING, WING[0]], fill=255, width=3, joint="curve")
    for x, inward in ((150, 1), (650, -1)):
        for ends in ((230, 240), (292, 300)) if worn else ((230, 300),):
            pen.line([(x, ends[0]), (x, ends[1])], fill=255, width=2)
        pen.polygon([(x, 300), (x + inward * 14, 295), (x + inward * 14, 305)], fill=255)
    pen.line([(150, 300), (650, 300)], fill=255, width=2)
    return np.asarray(page) > 127


@pytest.mark.parametrize("worn", [False, True])
def test_arrow_heads_tell_a_dimension_line_without_ticks(worn: bool) -> None:
    """Stubs of worn extension lines look like ticks at the wing's own edge, which stays."""
    ink, wing = _arrowed(worn=worn), _page(dimension=False)
    count, left = _rid(ink)
    assert count == 1
    assert (left & wing).sum() > 0.985 * wing.sum()
    assert not left[285:315, 145:655].any()


def test_a_line_that_ends_in_lettering_or_crosses_a_nose_has_no_arrow_heads() -> None:
    page = Image.new("L", (800, 500), 0)
    pen = ImageDraw.Draw(page)
    pen.line([(100, 250), (700, 250)], fill=255, width=2)
    pen.ellipse((690, 242, 704, 258), outline=255, width=3)
    pen.line([(150, 220), (130, 235), (130, 265), (150, 280)], fill=255, width=3)
    ink = np.asarray(page) > 127
    count, left = _rid(ink)
    assert count == 0
    assert (left == ink).all()


def test_a_centre_line_through_a_pointed_nose_and_stern_is_no_dimension_line() -> None:
    """Where a wide pen's edges run together at a point, they look like an arrow head on the line."""
    page = Image.new("L", (300, 900), 0)
    pen = ImageDraw.Draw(page)
    body = [(150, 60), (141, 84), (116, 180), (112, 500), (141, 796), (150, 820)]
    pen.line([*body, *((300 - x, y) for x, y in body[::-1])], fill=255, width=7, joint="curve")
    pen.line([(150, 42), (150, 838)], fill=255, width=2)
    ink = np.asarray(page) > 127
    strokes = straight_strokes(ink, pen_px=5.0, shortest_px=40.0)
    assert any(k.length_px > 780.0 for k in strokes)
    assert dimension_lines(ink, strokes, pen_px=5.0) == ()


def test_an_extension_line_is_not_rubbed_out_along_a_tip_past_a_break_beside_it() -> None:
    """The upper tip has a break where the line begins; the lower one says how far extension lines go."""
    page = Image.new("L", (800, 500), 0)
    pen = ImageDraw.Draw(page)
    pen.rounded_rectangle((150, 100, 250, 400), radius=48, outline=255, width=3)
    for y in (101, 399):
        pen.line([(205, y), (606, y)], fill=255, width=3)
    pen.line([(600, 101), (600, 399)], fill=255, width=3)
    pen.rectangle((212, 104, 236, 122), fill=0)
    ink = np.asarray(page) > 127
    count, left = _rid(ink)
    assert count == 1
    assert left[99:104, 190:204].any(0).all()
    assert not left[250, 590:610].any()


def test_a_rib_between_thin_slanted_edges_is_no_dimension_line() -> None:
    """A slanted line a pixel wide steps to one side every few pixels; what is left of the step is no tick."""
    ink = np.zeros((500, 800), dtype=bool)
    y = np.arange(80, 420)
    for x, lean in ((200, -1), (500, 1)):
        at = x + lean * ((y - 231) // 20)
        ink[y, at] = ink[y, at - lean * ((y - 231) % 20 < 16)] = True
    ink[250:252, 200:501] = True
    strokes = straight_strokes(ink, pen_px=1.0, shortest_px=32.0)
    assert not dimension_lines(ink, strokes, pen_px=1.0)


@pytest.mark.parametrize("radius", [0, 6, 12])
def test_a_hinge_line_between_round_tips_is_no_dimension_line(radius: int) -> None:
    """In two halves, as the body parts it; beyond its ends the tips go on a little to the corner, and far the other way."""
    page = Image.new("L", (800, 500), 0)
    pen = ImageDraw.Draw(page)
    pen.rounded_rectangle((200, 100, 290, 400), radius=radius, outline=255, width=2)
    for ends in ((101, 225), (275, 399)):
        pen.line([(220, ends[0]), (220, ends[1])], fill=255, width=2)
    ink = np.asarray(page) > 127
    assert _rid(ink)[0] == 0


def test_a_stroke_within_solid_ink_is_as_wide_as_is_looked_for_and_no_dimension_line() -> None:
    ink = np.zeros((200, 400), dtype=bool)
    ink[60:140, 20:380] = True
    middle, along = np.array([200.0, 100.0]), np.array([1.0, 0.0])
    assert _width(ink, middle, along, -170.0, 170.0) == pytest.approx(24.0, abs=1.0)
    none = np.zeros_like(ink)  # rubbed out meanwhile: no head where there is no ink
    stroke = Stroke(a=(30.0, 100.0), b=(370.0, 100.0), width_px=0.0, free_a=True, free_b=True)
    assert dimension_lines(none, (stroke,), pen_px=5.0) == ()


def test_a_round_bodys_side_between_tailplane_and_wing_is_no_dimension_line() -> None:
    """The lines that meet it outside look like extension lines, but the body curves on at both ends."""
    page = Image.new("L", (800, 500), 0)
    pen = ImageDraw.Draw(page)
    pen.ellipse((362, 180, 438, 284), outline=255, width=3)
    for y in (206, 258):
        pen.line([(150, y), (363, y)], fill=255, width=3)
        pen.line([(437, y), (650, y)], fill=255, width=3)
    assert _rid(np.asarray(page) > 127)[0] == 0


def test_struts_that_poke_into_both_wings_sections_are_no_dimension_lines() -> None:
    page = Image.new("L", (800, 500), 0)
    pen = ImageDraw.Draw(page)
    for y in (150, 300):
        pen.ellipse((300, y - 5, 383, y + 5), outline=255, width=3)
    for x in (320, 365):
        pen.line([(x, 150), (x, 300)], fill=255, width=3)
    assert _rid(np.asarray(page) > 127)[0] == 0


@pytest.mark.parametrize(("slant", "goes"), [(0, True), (22, False)])
def test_a_line_between_two_others_is_a_dimension_line_only_upright(slant: int, goes: bool) -> None:
    """A strut slants from one wing's section to the other's, whose ends look like ticks."""
    page = Image.new("L", (800, 500), 0)
    pen = ImageDraw.Draw(page)
    for y, x in ((120, 400), (380, 400 + slant)):
        pen.line([(x - 9, y), (x + 180, y)], fill=255, width=3)
    pen.line([(400, 120), (400 + slant, 380)], fill=255, width=3)
    ink = np.asarray(page) > 127
    assert dimension_lines(ink, straight_strokes(ink, pen_px=3.0, shortest_px=32.0), pen_px=3.0)
    besides = inks_meant(ink, pen_px=3.0, pool=1).besides
    assert bool(besides[200:300].any()) == goes
