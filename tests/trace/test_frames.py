"""Frames ruled round single views, told from what an aeroplane's own outline shuts in."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from sheetlark.trace.paper.frames import without_frames
from sheetlark.trace.paper.search import straighten


def _page() -> tuple[Image.Image, ImageDraw.ImageDraw]:
    page = Image.new("L", (900, 700), 0)
    return page, ImageDraw.Draw(page)


def _plan(pen: ImageDraw.ImageDraw, x: int, y: int) -> None:
    """A swept wing 320 px wide with its body over it."""
    pen.polygon([(x, y - 20), (x + 160, y + 20), (x + 160, y + 60), (x, y + 20)], outline=255, width=3)
    pen.polygon([(x, y - 20), (x - 160, y + 20), (x - 160, y + 60), (x, y + 20)], outline=255, width=3)
    pen.ellipse((x - 15, y - 80, x + 15, y + 140), outline=255, fill=0, width=3)


def _front(pen: ImageDraw.ImageDraw, x: int, y: int) -> None:
    pen.polygon([(x - 160, y - 15), (x, y), (x + 160, y - 15), (x, y + 8)], outline=255, width=3)
    pen.ellipse((x - 30, y - 50, x + 30, y + 40), outline=255, fill=0, width=3)


def _ink(page: Image.Image) -> np.ndarray:
    return np.asarray(page) > 127


@pytest.mark.parametrize("apart", [0, 12])
def test_frames_round_two_views_go_and_the_views_stay(apart: int) -> None:
    """Also where both share a rule, as the cells of a table do."""
    page, pen = _page()
    _plan(pen, 230, 250)
    _front(pen, 630 + apart, 250)
    figures = _ink(page)
    pen.rectangle((40, 120, 430, 420), outline=255, width=3)
    pen.rectangle((428 + apart, 120, 830 + apart, 420), outline=255, width=3)
    left = without_frames(_ink(page), pen_px=3.0)
    assert (left == figures).all()


def test_a_frame_a_quarter_of_a_degree_askew_goes() -> None:
    """A sheet set upright is upright to within a few tenths of a degree."""
    page, pen = _page()
    _plan(pen, 230, 250)
    figures = _ink(page.rotate(0.25))
    pen.rectangle((40, 120, 430, 420), outline=255, width=3)
    assert (without_frames(_ink(page.rotate(0.25)), pen_px=3.0) == figures).all()


def test_a_frame_that_figures_of_a_dimension_cross_goes() -> None:
    """The dimension's figures may touch both the rule they stand across and the centre line under them."""
    page, pen = _page()
    _plan(pen, 230, 250)
    pen.line((230, 128, 230, 180), fill=255, width=2)
    pen.text((222, 106), "762", fill=255, font=ImageFont.load_default(20))
    before = _ink(page)
    pen.rectangle((40, 115, 430, 420), outline=255, width=3)
    left = without_frames(_ink(page), pen_px=3.0)
    assert not (left & ~before).any()
    assert (left & before)[140:].sum() == before[140:].sum()


def test_a_plank_wing_with_ribs_and_letters_stays() -> None:
    page, pen = _page()
    pen.rectangle((100, 200, 800, 380), outline=255, width=3)
    for x in range(160, 760, 60):
        pen.line((x, 200, x, 380), fill=255, width=2)
    pen.rectangle((420, 80, 480, 600), outline=255, width=3)
    pen.rectangle((100, 620, 400, 690), outline=255, width=3)
    pen.text((130, 630), "A B C", fill=255, font=ImageFont.load_default(50))
    page_ink = _ink(page)
    assert (without_frames(page_ink, pen_px=3.0) == page_ink).all()


def test_what_a_straight_trailing_edge_and_its_dimension_shut_in_stays() -> None:
    """A delta ahead of its trailing edge, between two extension lines and the dimension line, touches at both tips."""
    page, pen = _page()
    pen.polygon([(100, 500), (450, 150), (800, 500)], outline=255, width=3)
    for line in ((100, 80, 100, 500), (800, 80, 800, 500), (100, 100, 800, 100)):
        pen.line(line, fill=255, width=3)
    page_ink = _ink(page)
    assert (without_frames(page_ink, pen_px=3.0) == page_ink).all()


def test_a_bay_between_a_biplanes_wings_and_struts_stays() -> None:
    """Seen from ahead it holds the body and the tailplane, and the wings go on beyond it."""
    page, pen = _page()
    for y in (200, 400):
        pen.rectangle((100, y, 800, y + 14), outline=255, width=3)
    for x in (250, 650):
        pen.line((x, 200, x, 414), fill=255, width=3)
    pen.ellipse((410, 290, 490, 402), outline=255, width=3)
    pen.line((300, 345, 600, 345), fill=255, width=3)
    pen.line((450, 230, 450, 345), fill=255, width=3)
    page_ink = _ink(page)
    assert (without_frames(page_ink, pen_px=3.0) == page_ink).all()


def test_frames_say_how_a_sheet_is_turned() -> None:
    """Swept wings joined to nothing mirrored may fall on themselves better at another angle than the sheet's."""
    page, pen = _page()
    pen.rectangle((60, 60, 860, 660), outline=255, width=3)
    pen.polygon(
        [(140, 150), (460, 300), (780, 340), (760, 420), (460, 380), (150, 230)], outline=255, width=3
    )
    pen.line((460, 180, 460, 600), fill=255, width=3)
    pen.line((400, 560, 530, 590), fill=255, width=3)
    turned = page.rotate(2.0, resample=Image.Resampling.BICUBIC, expand=True)
    sheet = straighten(255.0 - np.asarray(turned, dtype=np.float64))
    assert np.degrees(sheet.turned_rad) == pytest.approx(-2.0, abs=0.2)


@pytest.mark.parametrize("askew", [-2.7, 2.7])
def test_framed_views_askew_are_set_upright(askew: float) -> None:
    """Two frames that touch are one silhouette, mirrored nowhere; the third tells the turn."""
    page, pen = _page()
    _plan(pen, 235, 190)
    _front(pen, 230, 520)
    pen.ellipse((570, 220, 850, 260), outline=255, width=3)
    for box in ((45, 60, 425, 380), (20, 382, 500, 640), (540, 150, 880, 330)):
        pen.rectangle(box, outline=255, width=2)
    turned = page.rotate(askew, resample=Image.Resampling.BICUBIC, expand=True)
    sheet = straighten(255.0 - np.asarray(turned, dtype=np.float64))
    assert np.degrees(sheet.turned_rad) == pytest.approx(-askew, abs=0.03)


@pytest.mark.parametrize("bent", [0, 8])
def test_a_straight_wing_under_its_dimension_line_is_no_frame(bent: int) -> None:
    """Trailing edge, tips, extension lines and dimension line make a rectangle; the leading edge runs across it."""
    page, pen = _page()
    pen.line((150, 150, 750, 150), fill=255, width=1)
    for x in (150, 750):
        pen.line((x, 145, x, 330), fill=255, width=1)
    edge = [(150, 330), (150, 400), (450, 400 + bent), (750, 400), (750, 330), (450, 322)]
    pen.polygon(edge, outline=255, width=3)
    pen.line((420, 322, 425, 230, 450, 190, 475, 230, 480, 322), fill=255, width=3)
    pen.line((425, 405, 450, 650, 475, 405), fill=255, width=3)
    ink = _ink(page)
    assert (without_frames(ink, pen_px=3.0) == ink).all()


@pytest.mark.parametrize("taper", [0, 4])
def test_a_straight_tailplane_with_its_hinge_and_fin_in_it_stays(taper: int) -> None:
    """The body's two sides run up to it, the fin's line and the centre line go through it."""
    page, pen = _page()
    tail = [(500 - taper, 250), (500, 80), (560, 80), (560 + taper, 250), (560, 420), (500, 420)]
    pen.polygon(tail, outline=255, width=3)
    pen.line((540, 110, 540, 390), fill=255, width=3)
    pen.line((480, 250, 600, 250), fill=255, width=3)
    pen.line((150, 225, 500, 240), fill=255, width=3)
    pen.line((150, 275, 500, 260), fill=255, width=3)
    drawn = _ink(page)
    assert (without_frames(drawn, pen_px=3.0) == drawn).all()
