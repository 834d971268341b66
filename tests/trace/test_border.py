"""The border round a sheet, and the dark edge of a scan, told from figures."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from sheetlark.trace.paper.border import least_rectangle, without_border, without_scan_edge
from sheetlark.trace.paper.search import straighten


def _sheet(*, border: bool, turned_deg: float = 0.0) -> np.ndarray:
    page = Image.new("L", (900, 640), 0)
    pen = ImageDraw.Draw(page)
    if border:
        pen.rectangle((120, 90, 780, 550), outline=255, width=3)
    pen.polygon([(200, 300), (400, 200), (400, 400)], outline=255, width=3)
    pen.ellipse((480, 250, 700, 330), outline=255, width=3)
    return np.asarray(page.rotate(turned_deg)) > 127


@pytest.mark.parametrize("turned_deg", [0.0, 3.0, -11.0])
def test_a_border_is_taken_away_and_says_how_the_sheet_is_turned(turned_deg: float) -> None:
    left, turned = without_border(_sheet(border=True, turned_deg=turned_deg), pen_px=3.0)
    figures = _sheet(border=False, turned_deg=turned_deg)
    assert turned is not None
    assert np.degrees(turned) == pytest.approx(-turned_deg, abs=0.05)  # PIL turns against the clock
    assert not (left & ~figures).any()
    assert (left & figures).sum() == figures.sum()


def test_figures_without_a_border_stay() -> None:
    page = _sheet(border=False)
    left, turned = without_border(page, pen_px=3.0)
    assert turned is None
    assert (left == page).all()


def test_a_rectangle_with_a_figure_beside_it_is_no_border() -> None:
    """A delta's trailing edge, its dimension line and two extension lines enclose the rest of the delta."""
    page = np.array(_sheet(border=True))
    picture = Image.fromarray(page.astype(np.uint8) * 255)
    ImageDraw.Draw(picture).polygon([(20, 100), (95, 180), (20, 500)], outline=255, width=3)
    page = np.asarray(picture) > 127
    left, turned = without_border(page, pen_px=3.0)
    assert turned is None
    assert (left == page).all()


def test_a_plank_wing_alone_is_no_border() -> None:
    page = np.zeros((300, 900), dtype=bool)
    page[40:260, 40:860] = True
    page[44:256, 44:856] = False
    left, turned = without_border(page, pen_px=4.0)
    assert turned is None
    assert (left == page).all()


def test_the_shadow_along_an_edge_of_the_scan_goes() -> None:
    page = _sheet(border=False)
    dark = page.copy()
    dark[:, :12] = True
    assert (without_scan_edge(dark) == page).all()


def test_a_tick_that_reaches_into_the_strip_along_the_border_stays() -> None:
    """What belongs to a figure is kept to within a few pixels of the border line."""
    page = _sheet(border=True)
    page = page.copy()
    tick = np.zeros_like(page)
    tick[325:542, 560:563] = True
    left, _ = without_border(page | tick, pen_px=3.0)
    assert left[325:542, 560:563].all()
    assert not left[548:553, 200:700].any()


def test_a_side_with_nothing_on_its_middle_line_tells_no_turn() -> None:
    """Two rows of points along one side, and none on the line fitted to both: reading a sheet stopped there."""
    at = np.linspace(0.0, 1000.0, 60)
    rows = [np.c_[at, np.full(60, y)] for y in (0.0, 16.0, 600.0, 616.0)]
    columns = [np.c_[np.full(40, x), np.linspace(0.0, 616.0, 40)] for x in (0.0, 18.0, 982.0, 1000.0)]
    long_, short, turned = least_rectangle(np.vstack([*rows, *columns]))
    assert (long_, short) == pytest.approx((1000.0, 616.0), abs=2.0)
    assert turned == pytest.approx(0.0, abs=1e-3)


def test_a_border_does_not_tell_the_pen() -> None:
    """It is the longest line of many a sheet, and drawn with a pen of its own: here of 2 px, the figures of 7."""
    page = Image.new("L", (1400, 1000), 255)
    pen = ImageDraw.Draw(page)
    pen.rectangle((30, 30, 1370, 970), outline=0, width=2)
    pen.rectangle((42, 42, 1358, 958), outline=0, width=2)
    pen.ellipse((300, 350, 800, 480), outline=0, width=7)
    pen.polygon([(900, 500), (1100, 400), (1100, 600)], outline=0, width=7)
    assert straighten(np.asarray(page, dtype=np.float64)).pen_px == pytest.approx(
        6.0, abs=1.5
    )  # slanting strokes come out thinner
