"""A tail cone that the silhouette leaves out."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.cone import Point, cone_behind, drawn_to_point, is_tailplanes

sys.path.insert(0, str(Path(__file__).parent))
from made import ink_of

_PEN = 6.0


def _carried(strokes: list[list[tuple[float, float]]]) -> tuple[Floats, Floats, Floats] | None:
    """What is behind a body 700 long, 10 deep there, its edges going on to a point at x = 740."""
    x = np.linspace(0.0, 700.0, 300)
    half = np.interp(x, [0.0, 400.0, 740.0], [30.0, 60.0, 0.0])
    half *= 5.0 / half[-1]
    return cone_behind(x, -half, half, ink_of(strokes, _PEN), span=600.0, pen_mm=_PEN)


def test_a_cone_that_a_wide_pen_fills_reaches_its_point() -> None:
    found = _carried([[(600, 17.5), (740, 0)], [(600, -17.5), (740, 0)]])
    assert found is not None
    x, low, high = found
    assert x[-1] == pytest.approx(740.0, abs=2.0)
    behind = x > 700.0
    true = (740.0 - x[behind]) / 8.0
    assert np.abs(high[behind] - true).max() < 1.0
    assert np.abs(low[behind] + true).max() < 1.0


def test_a_cone_is_closed_where_its_ink_stops() -> None:
    found = _carried([[(600, 17.5), (720, 2.5)], [(600, -17.5), (720, -2.5)], [(720, 2.5), (720, -2.5)]])
    assert found is not None
    assert found[0][-1] == pytest.approx(720.0, abs=2.0)
    assert found[2][-1] == pytest.approx(2.5, abs=1.0)


def test_a_centre_line_a_little_wider_than_the_pen_is_no_part_of_the_cone_behind_whose_point_it_runs_on() -> (
    None
):
    cone = [[(600, 17.5), (740, 0)], [(600, -17.5), (740, 0)]]
    found = _carried([*cone, *([(700, z), (752, z)] for z in (-0.2, 0.2))])
    assert found is not None
    assert found[0][-1] == pytest.approx(740.0, abs=4.0)


@pytest.mark.parametrize(
    "behind",
    [
        [[(700, 5), (700, -5)]],  # closed there
        [[(700, 5), (700, -5)], [(700, 0), (790, 0)]],  # and a centre line runs on
        [[(700, 5), (760, 25)], [(700, -5), (760, -25)]],  # something else opens behind it
        [[(700, 5), (740, 5)], [(700, -5), (740, -5)], [(740, 5), (740, -5)]],  # or a plank
    ],
)
def test_what_is_no_cone_is_not_followed(behind: list[list[tuple[float, float]]]) -> None:
    assert _carried([[(600, 17.5), (700, 5)], [(600, -17.5), (700, -5)], *behind]) is None


_EDGES = [[(0.0, 40.0), (400.0, 50.0), (740.0, 0.0)], [(0.0, -40.0), (400.0, -50.0), (740.0, 0.0)]]
_LEANS = [(690.0, 7.4), (760.0, 120.0)]  # a fin's trailing edge, over the stern


def _pointed(*strokes: list[tuple[float, float]], hidden: float = 1e3, pen: float = 2.0) -> Point | None:
    """Where a body's edges meet that taper straight to (740, 0), but seemed to end at 700.

    hidden : from where on the upper edge is not seen. [mm]
    """
    x = np.linspace(0.0, 720.0, 400)
    high = np.interp(x, [0.0, 400.0, 740.0], [40.0, 50.0, 0.0])
    sure = np.array([x < 1e3, x < hidden])
    return drawn_to_point(x, -high, high, sure, ink_of(strokes, pen), 700.0, 760.0, pen_mm=pen)


@pytest.mark.parametrize("over", [[], [_LEANS], [[(690.0, 80.0), (690.0, 7.4)]]])
def test_a_stern_drawn_to_a_point_goes_on_to_it(over: list[list[tuple[float, float]]]) -> None:
    """Below a fin that leans out, or behind a rudder's hinge."""
    found = _pointed(*_EDGES, *over)
    assert found is not None
    assert (found.x, found.z) == (pytest.approx(740.0, abs=1.5), pytest.approx(0.0, abs=0.5))


@pytest.mark.parametrize(
    ("strokes", "hidden"),
    [
        ([[(400, 50), (700, 5.9), (700, -5.9), (400, -50)]], 1e3),  # closed there
        ([[(400, 50), (700, 5.9), (745, 5.9), (745, -5.9), (700, -5.9), (400, -50)]], 1e3),  # a rudder's foot
        ([*_EDGES, [(690, 0), (800, 0)]], 1e3),  # another line runs on behind the point
        ([*_EDGES, [(0, -55), (400, -55), (745, -5)]], 1e3),  # and one beside the lower edge, a section's
        (_EDGES, 600.0),  # nobody knows where the upper edge points
    ],
)
def test_a_stern_that_is_not_drawn_to_a_point_has_none(
    strokes: list[list[tuple[float, float]]], hidden: float
) -> None:
    assert _pointed(*strokes, hidden=hidden) is None


@pytest.mark.parametrize(
    ("half_behind", "reach", "is_tip"),
    [(1.2, 720.0, True), (4.0, 720.0, False), (1.2, 800.0, False)],
    ids=["a section's tip", "going on as the body does", "the tail reaches further"],
)
def test_what_pokes_out_behind_a_thin_stern_to_the_tails_edge_is_the_tails(
    half_behind: float, reach: float, is_tip: bool
) -> None:
    """A body 10 deep at x = 700, its edges closing by one in eight; behind it something ends at x = 720."""
    x = np.r_[np.linspace(0.0, 700.0, 300), 704.0, 710.0, 716.0, 720.0]
    half = np.interp(x, [0.0, 400.0, 700.0, 704.0, 716.0, 720.0], [30.0, 60.0, 5.0, *(half_behind,) * 2, 0.0])
    assert is_tailplanes((x, -half, half), 700.0, reach, 740.0, pen_mm=4.0) is is_tip
