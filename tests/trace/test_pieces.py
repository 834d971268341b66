"""Views of pieces that touch nowhere."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from sheetlark.trace.paper.ink import Mask
from sheetlark.trace.paper.mirror import mirror_agreement
from sheetlark.trace.paper.pieces import broken_front, fronts_in_two, in_one, with_section
from sheetlark.trace.paper.regions import Solid
from sheetlark.trace.paper.views import Candidate, Reading


def _piece(box: tuple[int, int, int, int]) -> Candidate:
    """A silhouette that fills its box, as a plank wing's from ahead does."""
    mask = np.ones((box[3] - box[1], box[2] - box[0]), dtype=bool)
    solid = Solid(mask=mask, at=(box[1], box[0]), box=box, reach=box)
    upright, level = mirror_agreement(mask)
    return Candidate(solid=solid, upright=upright, level=level)


def test_an_upper_wing_that_hangs_free_belongs_to_the_front_view_below_it() -> None:
    upper, lower = _piece((100, 50, 500, 70)), _piece((130, 150, 470, 210))
    (both,) = fronts_in_two([upper, lower])
    assert both.solid.box == (100, 50, 500, 210)
    assert both.solid.area == upper.solid.area + lower.solid.area
    assert both.upright > 0.98


@pytest.mark.parametrize(
    "other",
    [
        (180, 150, 520, 210),  # its middle lies elsewhere
        (250, 150, 350, 210),  # lettering under the view
        (130, 260, 470, 320),  # too far below
        (130, 60, 470, 120),  # beside, not above
        (130, 90, 470, 400),  # a top view
    ],
)
def test_what_lies_otherwise_does_not(other: tuple[int, int, int, int]) -> None:
    assert not fronts_in_two([_piece((100, 50, 500, 70)), _piece(other)])


def test_a_section_above_the_body_is_taken_in_where_the_front_view_is_as_high() -> None:
    side, section, words = (
        _piece((50, 300, 350, 360)),
        _piece((90, 250, 190, 264)),
        _piece((60, 380, 160, 394)),
    )
    assert with_section(side, [section, words], 110).solid.box == (50, 250, 350, 360)
    assert with_section(side, [section, words], 80) is side
    assert with_section(side, [_piece((20, 250, 120, 264))], 110) is side


def test_two_silhouettes_in_one_keep_their_places() -> None:
    a, b = _piece((10, 10, 20, 14)), _piece((12, 30, 18, 40))
    both = in_one(b, a).solid
    assert both.at == (10, 10)
    assert both.mask.shape == (30, 10)
    assert both.mask[:4].all()
    assert not both.mask[4:20].any()
    assert both.mask[20:, 2:8].all()


def _ahead(span: int, *, front: bool = False) -> tuple[Reading, Mask]:
    """A reading of top and side view, and ink of a front view with thin wings, a break in each half's lines."""
    page = Image.new("L", (700, 500), 0)
    pen = ImageDraw.Draw(page)
    pen.rectangle((60, 20, 460, 200), outline=255)
    pen.rectangle((500, 20, 680, 80), outline=255)
    pen.ellipse((235, 350, 285, 400), outline=255)
    for side in (-1, 1):
        tip = 260 + side * span // 2
        pen.line([(260 + side * 24, 370), (tip, 362), (tip, 368), (260 + side * 24, 378)], fill=255)
    for x, y in ((180, 366), (330, 374), (390, 364)):
        pen.rectangle((x, y - 3, x + 7, y + 3), fill=0)
    top, side_view = _piece((60, 20, 461, 201)), _piece((500, 20, 681, 81))
    reading = Reading(
        top=top,
        side=side_view,
        front=top if front else None,
        top_axis="upright",
        side_axis="level",
        score=3.0,
        confidence=0.5,
    )
    return reading, np.asarray(page) > 127


def test_a_front_view_whose_thin_wings_breaks_have_opened_is_what_hangs_together_over_them() -> None:
    reading, ink = _ahead(400)
    found = broken_front(reading, ink, gap_px=7)
    assert found is not None
    assert found.solid.box == (60, 350, 461, 401)
    assert found.upright > 0.9
    assert found.solid.mask[15:25, 20:380].mean() > 0.5
    assert broken_front(reading, ink, gap_px=1) is None


@pytest.mark.parametrize(("span", "front"), [(360, False), (400, True)])
def test_what_is_not_as_wide_as_the_span_or_not_missing_is_no_such_view(span: int, front: bool) -> None:
    assert broken_front(*_ahead(span, front=front), gap_px=7) is None
