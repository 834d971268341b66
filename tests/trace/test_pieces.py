"""Views of two pieces that touch nowhere."""

from __future__ import annotations

import numpy as np
import pytest

from sheetlark.trace.paper.pieces import fronts_in_two, in_one, with_section
from sheetlark.trace.paper.regions import Solid
from sheetlark.trace.paper.views import Candidate, mirror_agreement


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
