"""A stern post with a rudder behind it, what is none, and the rudder's foot."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import shapely

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.body import Body
from sheetlark.trace.shapes.fin import fin_ring, find_fin, rudder_foot
from sheetlark.trace.shapes.post import Post, below_leaning_fin, closed_by, stern_post

sys.path.insert(0, str(Path(__file__).parent))
from made import fin_of, ink_of

_X = np.linspace(0.0, 1000.0, 400)
_LOW, _HIGH = -100.0 + 0.1 * _X, 40.0 - 0.03 * _X


def _post(
    *strokes: list[tuple[float, float]],
    low: Floats = _LOW,
    lowest: Floats | None = None,
    shows: float = 870.0,
    section: tuple[float, float, float, float] | None = None,
    wing_ends: float = 500.0,
    fin_ends: float = 1000.0,
    fin_foot: float = 850.0,
    pen: float = 3.0,
) -> Post:
    """The stern post of a body tapering from 100 to 40 at x = 1000, with a fin from 850 to 1000.

    shows : as far as the upper line is seen. [mm]
    section : where a tailplane's begins and ends, and its upper and its lower line. [mm]
    """
    covers: tuple[tuple[Floats, Floats], ...] = ()
    if section is not None:
        there = (section[0] < _X) & (section[1] > _X)
        covers = ((np.where(there, section[2], np.nan), np.where(there, section[3], np.nan)),)
    fin = fin_of(np.array([12.0, 150.0]), np.array([fin_foot, 900.0]), fin_ends)
    return stern_post(
        _X,
        low,
        _HIGH,
        low if lowest is None else lowest,
        np.asarray(shows > _X),
        fin,
        ink_of(strokes, pen),
        1000.0,
        pen_mm=pen,
        wing_ends=wing_ends,
        covers=covers,
    )


_ALL = [(950.0, -40.0), (950.0, 140.0)]
_HINGE = [(950.0, 20.0), (950.0, 140.0)]
_FAR = [(300.0, -10.0), (300.0, 10.0)]
_EARLY = [(880.0, -12.0), (880.0, 14.0)]
_FORMER = [(900.0, -10.0), (900.0, 13.0)]


def test_the_body_ends_at_the_stern_post() -> None:
    assert _post(_ALL, _FORMER).end == pytest.approx(950.0, abs=1.0)
    assert _post(_HINGE, _EARLY).end == 1000.0  # a hinge above the body, and a former in it, are no post
    assert (
        _post(_ALL, fin_ends=952.0).end == 1000.0
    )  # nor is the fin's own trailing edge, ahead of a tail cone
    assert _post(_ALL, wing_ends=948.0).end == 1000.0  # nor the end of a wing's section


def test_the_body_ends_at_a_rudders_foot_without_a_post() -> None:
    foot = np.minimum(_LOW, -5.0)
    assert _post(_HINGE, low=foot).end == pytest.approx(950.0, abs=4.0)
    on = [(800.0, 16.0), (1000.0, 10.0)]
    assert _post(_HINGE, on, low=foot, shows=1000.0).end == 1000.0  # the body's own line goes on


def test_a_rudders_edge_that_the_silhouette_rides_on_is_no_upper_line_drawn_on() -> None:
    """What is followed behind a post is seen all the way, but not where the upper line would go on."""
    behind = [(958.0, 140.0), (1000.0, 60.0), (985.0, -5.0)]
    assert _post(_ALL, behind, shows=1000.0).end == pytest.approx(950.0, abs=1.0)


@pytest.mark.parametrize("lean", [-0.25, 0.3])
def test_a_post_may_lean_with_the_hinge_above_it(lean: float) -> None:
    """One straight line from keel to fin; lean : aft for each unit up."""
    at = [(940.0 + lean * (z - 12.0), z) for z in (-46.0, 140.0)]
    deep = _LOW - 40.0
    found = _post(at, low=deep)
    assert found.drawn
    assert found.head == pytest.approx(940.0, abs=2.0)
    assert found.foot == pytest.approx(940.0 - 58.0 * lean, abs=2.5)
    assert (
        _post([at[0], (940.0, 12.0)], low=deep).end == 1000.0
    )  # a leaning line in the body alone is a strut's or a skid's


def test_the_middle_of_a_wide_stroke_is_the_post() -> None:
    deep = _LOW - 30.0
    assert _post([(950.0, -60.0), (950.0, 140.0)], low=deep, pen=8.0).end == pytest.approx(950.0, abs=1.0)


def test_the_last_line_right_across_is_a_post_where_no_upper_line_goes_on_from_it() -> None:
    """The rudder's foot behind it is as deep; a stern behind a former narrows to its end, or a line closes it."""
    line = [(960.0, -40.0), (960.0, 11.0)]
    foot = np.where(_X < 960.0, _LOW, np.where(_X < 990.0, -4.0, 90.0))
    cone = np.where(_X < 960.0, _LOW, np.interp(_X, [960.0, 1000.0], [-4.0, 10.0]))
    assert _post(line, low=foot, shows=1000.0).end == pytest.approx(960.0, abs=1.0)
    assert _post(line, low=cone, shows=1000.0).end == 1000.0
    # an edge as smooth as a body's cuts across the corners of a foot that the silhouette shows
    assert _post(line, low=cone, lowest=foot, shows=1000.0).end == pytest.approx(960.0, abs=1.0)
    assert _post(line, [(800.0, 16.0), (1000.0, 10.0)], low=foot, shows=1000.0).end == 1000.0
    assert _post(line, [(990.0, -40.0), (990.0, 11.0)], low=foot, shows=1000.0).end == 1000.0
    assert _post(line, low=foot, shows=1000.0, fin_ends=962.0).end == 1000.0  # no rudder is behind it


def test_a_tailplanes_section_that_leaves_the_lower_edge_is_no_rudders_foot() -> None:
    low = np.where(_X > 900.0, np.minimum(_LOW, -10.0), _LOW)
    assert _post(_FAR, low=low, shows=902.0).end == pytest.approx(
        902.0, abs=8.0
    )  # it turns out, and the upper line stops
    assert _post(_FAR, low=low, shows=902.0, section=(890.0, 1000.0, 3.0, -10.0)).end == 1000.0


@pytest.mark.parametrize(
    ("post", "corner"), [(Post(950.0, 950.0), 0), (Post(940.0, 960.0), 1), (Post(960.0, 940.0), 2)]
)
def test_both_edges_go_straight_on_to_a_post(post: Post, corner: int) -> None:
    swerved = np.where(_X > 942.0, _HIGH + 20.0, _HIGH)
    cut = closed_by(post, _X, _LOW, swerved, 1000.0)
    assert cut is not None
    x, low, high = cut
    assert x[-1] == post.end
    foot, head = (float(np.interp(a, _X, v)) for a, v in ((post.foot, _LOW), (post.head, _HIGH)))
    assert float(np.interp(post.foot, x, low)) == pytest.approx(foot, abs=0.1)
    assert float(np.interp(post.head, x, high)) == pytest.approx(head, abs=0.1)
    assert (high[-1] - low[-1] > 1.0) == (corner == 0)  # one that leans comes to a corner
    if corner:
        assert low[-1] == pytest.approx(head if corner == 1 else foot, abs=0.1)


def _stern(foot: float) -> Floats:
    """A body 1000 long to its post at 940, 30 deep there; the rudder's foot reaches so far down behind it."""
    back = [(985.0, 150.0), (1000.0, 60.0), (970.0, foot), (940.0, foot)]
    ring = [(0.0, -40.0), (0.0, 40.0), (400.0, 50.0), (860.0, 14.0), (900.0, 150.0), *back]
    ring += [(940.0, -16.0), (400.0, -50.0)]
    return np.array(ring)


def test_a_fin_is_not_followed_across_a_thin_stern_into_the_rudders_foot() -> None:
    fin = find_fin((_stern(-60.0),), 1000.0, 20.0)
    assert fin is not None
    assert fin.lead[0] == pytest.approx(860.0, abs=6.0)
    assert fin.station[0] > 8.0


@pytest.mark.parametrize("foot", [-40.0, -16.0, 0.0])
def test_a_rudders_foot_is_drawn_as_it_is(foot: float) -> None:
    """Below the keel, down to it, and above it."""
    ring = _stern(foot)
    fin = find_fin((ring,), 1000.0, 20.0)
    assert fin is not None
    x = np.linspace(0.0, 940.0, 200)
    low, high = (
        np.interp(x, [0, 400, 940], [-40, -50, -16]),
        np.interp(x, [0, 400, 860, 940], [40, 50, 14, 10]),
    )
    body = Body(x=x, low=low, high=high, seen=np.ones(200))
    found = rudder_foot((ring,), fin, body, span=1300.0)
    assert found is not None
    outline = shapely.Polygon(fin_ring(fin, body, 1300.0, foot=found))
    true = shapely.Polygon(ring).buffer(0).difference(shapely.Polygon(body.ring()).buffer(0.5))
    true = max(shapely.get_parts(true), key=lambda part: part.area)
    assert outline.is_valid
    assert shapely.hausdorff_distance(outline.exterior.segmentize(2.0), true.exterior.segmentize(2.0)) < 5.0
    assert (
        rudder_foot((ring,), fin, Body(x=x + 50.0, low=low, high=high, seen=np.ones(200)), span=1300.0)
        is None
    )


_LEANING = fin_of(np.linspace(20.0, 180.0, 40), np.linspace(800.0, 880.0, 40), np.linspace(930.0, 1010.0, 40))


def _lower(stern: float, *, keel: float = -20.0) -> Floats:
    """A silhouette's lower edge: the keel to the stern, then the trailing edge that leans out from (930, 20), one for two up."""
    return np.where(stern > _X, keel, 20.0 + 2.0 * (_X - 930.0))


def test_a_stern_ends_where_the_silhouette_leaps_to_a_fin_that_leans_out_over_it() -> None:
    assert below_leaning_fin(_X, _lower(945.0), _LEANING, 1000.0, pen_mm=2.0) == pytest.approx(945.0, abs=3.0)
    # a rudder down to the keel, whose trailing edge begins there, leaps nowhere
    assert below_leaning_fin(_X, _lower(910.0), _LEANING, 1000.0, pen_mm=2.0) == 1000.0
    # what goes on level behind the stern is a tailplane
    tail = np.where(_X < 945.0, -20.0, 35.0)
    assert below_leaning_fin(_X, tail, _LEANING, 1000.0, pen_mm=2.0) == 1000.0
    upright = fin_of(np.linspace(20.0, 180.0, 40), 850.0, 1000.0)
    assert below_leaning_fin(_X, _lower(945.0), upright, 1000.0, pen_mm=2.0) == 1000.0
    assert below_leaning_fin(_X, _lower(945.0), None, 1000.0, pen_mm=2.0) == 1000.0
