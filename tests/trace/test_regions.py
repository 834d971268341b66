"""Which faces behind a line drawn right across a figure are paper."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw

from sheetlark.trace.paper.ink import Mask
from sheetlark.trace.paper.regions import _even, solids


def test_a_rudder_is_as_deep_everywhere_and_a_figure_behind_a_dimension_line_is_not() -> None:
    rudder = np.zeros((40, 120), dtype=bool)
    rudder[4:34, 3:117] = True
    assert _even(rudder, 4)
    behind = rudder.copy()
    behind[20:, 52:68] = False  # a body reaches into it
    assert not _even(behind, 4)
    swept = np.arange(40)[:, None] < 12 + 0.2 * np.arange(120)[None, :]
    assert not _even(swept, 4)


def _behind(*, ahead: int, centre: bool) -> Mask:
    """A wing with a body aft of it, and a dimension line without ticks `ahead` of its swept leading edge."""
    page = Image.new("L", (420, 380), 0)
    pen = ImageDraw.Draw(page)
    pen.line([(60, 160), (210, 140), (360, 160), (360, 200), (60, 200), (60, 160)], fill=255, width=3)
    pen.line([(195, 200), (200, 320), (220, 320), (225, 200)], fill=255, width=3)
    level = 140 - ahead
    pen.line([(60, 160), (60, level), (360, level), (360, 160)], fill=255, width=3)
    if centre:
        pen.line([(210, level), (210, 140)], fill=255, width=3)
    return np.asarray(page) > 0


def _top_of_figure(ink: Mask, gap: int) -> int:
    found, _ = solids(ink, gap_px=gap, pen_px=3.0)
    return found[0].box[1]


def test_faces_a_centre_line_parts_behind_a_dimension_line_are_paper() -> None:
    assert _top_of_figure(_behind(ahead=60, centre=False), 0) > 130
    assert _top_of_figure(_behind(ahead=60, centre=True), 0) > 130


def test_a_narrow_face_behind_a_dimension_line_is_paper_while_breaks_are_closed() -> None:
    assert _top_of_figure(_behind(ahead=14, centre=False), 2) > 130


def test_a_tail_that_a_thin_tail_cone_joins_to_the_figure_is_no_ruled_box() -> None:
    page = Image.new("L", (420, 420), 0)
    pen = ImageDraw.Draw(page)
    pen.line([(60, 60), (360, 70), (360, 130), (60, 140), (60, 60)], fill=255, width=3)
    pen.line([(190, 136), (203, 300)], fill=255, width=3)
    pen.line([(230, 134), (217, 300)], fill=255, width=3)
    pen.rectangle((130, 300, 290, 360), outline=255, width=3)
    for gap in (0, 7):
        found, _ = solids(np.asarray(page) > 0, gap_px=gap, pen_px=3.0)
        assert max(s.box[3] for s in found) > 355


def test_two_wings_joined_by_struts_and_a_body_are_no_dimension_line_and_a_figure() -> None:
    page = Image.new("L", (420, 200), 0)
    pen = ImageDraw.Draw(page)
    for y in (60, 120):
        pen.rectangle((40, y, 380, y + 4), fill=255)
    for x in (90, 190, 230, 330):
        pen.line([(x, 60), (x, 120)], fill=255, width=3)
    pen.ellipse((190, 85, 230, 135), outline=255, width=3)
    found, _ = solids(np.asarray(page) > 0, gap_px=0, pen_px=3.0)
    assert found[0].area > 200 * 50


def test_a_fins_trailing_edge_below_a_wing_as_high_as_its_head_is_no_dimension_line() -> None:
    """It runs along most of the side view's height, but not down to the lower wing."""
    page = Image.new("L", (520, 200), 0)
    pen = ImageDraw.Draw(page)
    pen.rectangle((120, 40, 240, 52), outline=255, width=3)  # upper wing
    pen.rectangle((60, 150, 180, 162), outline=255, width=3)
    pen.line([(150, 52), (100, 150)], fill=255, width=3)
    pen.line([(210, 52), (160, 150)], fill=255, width=3)
    pen.line(
        [(30, 120), (140, 108), (470, 130), (470, 142), (250, 160), (30, 140), (30, 120)], fill=255, width=3
    )
    pen.line([(400, 126), (430, 42), (465, 42), (470, 142)], fill=255, width=3)
    found, _ = solids(np.asarray(page) > 0, gap_px=0, pen_px=3.0)
    left, top = found[0].at[1], found[0].at[0]
    assert found[0].mask[70 - top, 440 - left]


def test_a_straight_leading_edge_between_round_tips_is_no_dimension_line() -> None:
    """Ahead of it nothing is closed where a nose lies open; a lower wing shows behind, from tip to tip as well."""
    page = Image.new("L", (520, 420), 0)
    pen = ImageDraw.Draw(page)
    turn = np.linspace(0.0, np.pi, 40)
    half = np.r_[
        [(0.0, -36.0)], np.c_[198.0 + 32.0 * np.sin(turn), -4.0 - 30.0 * np.cos(turn)], [(0.0, 36.0)]
    ]
    ring = np.r_[half, half[::-1] * (-1.0, 1.0)]
    for down, inside in ((210.0, None), (185.0, 0)):  # the lower wing, and the upper one over it
        pen.polygon([(260.0 + x, down + y) for x, y in ring.tolist()], fill=inside, outline=255, width=3)
    pen.line([(238, 148), (244, 60)], fill=255, width=3)  # body, its nose open
    pen.line([(282, 148), (276, 60)], fill=255, width=3)
    pen.line([(240, 246), (250, 380), (270, 380), (280, 246)], fill=255, width=3)
    assert _top_of_figure(np.asarray(page) > 0, 0) < 160
