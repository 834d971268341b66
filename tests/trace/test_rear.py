"""The rear of a body in the side view: rudders that hang behind it, fillets ahead of a fin, sections across it."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from sheetlark.trace.shapes.ends import Above
from sheetlark.trace.shapes.fin import find_fin, with_dorsal, without_tailplane
from sheetlark.trace.shapes.foot import behind_foot, below_fin
from sheetlark.trace.shapes.post import drawn_to_post, stern_post
from sheetlark.trace.shapes.side import find_body_side
from sheetlark.trace.shapes.silhouette import body_piece

sys.path.insert(0, str(Path(__file__).parent))
from made import fin_of, ink_of

LENGTH, PEN = 1000.0, 3.0


def test_a_stern_tapers_on_until_a_stroke_alone_could_be_as_thin() -> None:
    """40 mm to nothing over 700; a fin's line behind it is no taper that goes on."""
    x = np.linspace(0.0, 760.0, 760)
    on = np.ones(x.size, dtype=bool)
    half = np.maximum(40.0 * (1.0 - x / 700.0), 1.0)
    seen = Above(
        x=x,
        half=half,
        inked=on,
        shown=half,
        free=on,
        ink=ink_of([[(0, 0), (1, 0)]], PEN),
        pen_mm=2.0,
        end=None,
        reach=760.0,
    )
    near = replace(seen, x=x[x < 703.0], **{k: v[x < 703.0] for k, v in (("half", half), ("inked", on))})
    assert near.tapers_to == pytest.approx(700.0 * (1.0 - 1.5 / 40.0), abs=2.0)


def _post(*, upright: bool, tapers_to: float) -> float:
    """The post of a body 1000 mm long with its rudder, hinge at 950; its lower edge turns level there."""
    x = np.linspace(0.0, LENGTH, 400)
    low, high = np.minimum(-100.0 + 0.1 * x, -5.0), 40.0 - 0.03 * x
    hinge = [(950.0, -5.0 if upright else 14.0), (950.0, 140.0)]
    drawn = np.asarray(x < 870.0)
    fin = fin_of(np.array([12.0, 150.0]), np.array([850.0, 900.0]), LENGTH)
    return stern_post(
        x,
        low,
        high,
        low,
        drawn,
        fin,
        ink_of([hinge], PEN),
        LENGTH,
        pen_mm=PEN,
        wing_ends=500.0,
        tapers_to=tapers_to,
    ).end


def test_a_taper_seen_from_above_outweighs_two_signs_of_a_post_but_not_three() -> None:
    """A fin's strip behind the body may lie just where the body's taper, going on, comes by."""
    assert _post(upright=True, tapers_to=990.0) == pytest.approx(950.0, abs=3.0)
    assert _post(upright=False, tapers_to=0.0) == pytest.approx(950.0, abs=4.0)
    assert _post(upright=False, tapers_to=990.0) == LENGTH


@pytest.mark.parametrize("inked", [True, False])
def test_the_lower_edge_goes_on_to_the_post_as_drawn_and_not_down_to_the_rudders_foot(inked: bool) -> None:
    x = np.linspace(0.0, LENGTH, 1000)
    own = -100.0 + 0.08 * x
    followed = np.interp(x, [0.0, 880.0, 940.0, 1000.0], [-100.0, -29.6, -60.0, -60.0])
    ink = ink_of(
        [[(0.0, -100.0), (945.0 if inked else 885.0, -100.0 + 0.08 * (945.0 if inked else 885.0))]], PEN
    )
    got = drawn_to_post(x, followed, 945.0, ink, LENGTH, pen_mm=PEN)
    ahead = x < 944.0
    assert got[ahead] == pytest.approx((own if inked else followed)[ahead], abs=2.0)
    assert drawn_to_post(x, own, 945.0, ink, LENGTH, pen_mm=PEN) is own  # nothing to put right


def test_a_rudders_front_below_a_thin_stern_is_no_leading_edge() -> None:
    """A body that ends in a point at 900; its rudder hangs down behind that to 60 mm below."""
    view = np.array(
        [(0, 0), (200, 50), (760, 8), (820, 120), (960, 120), (990, 60), (970, -60), (901, -60), (900, -3), (200, -60)],
        dtype=np.float64,
    )  # fmt: skip
    fin = find_fin((view,), LENGTH, 8.0)
    assert fin is not None
    assert fin.lead.max() < 850.0
    assert fin.station.min() > -10.0


@pytest.mark.parametrize("length", [80.0, 150.0])
def test_a_fillet_that_curves_up_to_a_fin_is_the_fins(length: float) -> None:
    """A straight back that falls; from `length` ahead of the fin on a curve leaves it smoothly and rises to the fin's edge."""
    begins = 850.0 - length
    x = np.linspace(begins, 850.0, 60)
    rise = 0.5 * length * ((x - begins) / length) ** 2 * 0.6
    back = 60.0 - 0.04 * x
    curve = list(zip(x.tolist(), (back + rise).tolist(), strict=True))
    foot = curve[-1][1]
    view = np.array([(0, 0), (100, 56), *curve, (890, 150), (980, 150), (1000, 18), (1000, 0), (200, -60)])
    found_fin = find_fin((view,), LENGTH, 35.0)
    assert found_fin is not None
    found = with_dorsal(found_fin, (view,), LENGTH)
    assert found.lead[0] == pytest.approx(begins, abs=0.035 * LENGTH)
    assert found.lead_root == found_fin.lead_root
    z = found.station[found.station < foot]
    lead = found.lead[found.station < foot]
    assert np.interp(lead, x, back + rise) == pytest.approx(z, abs=2.5)
    # a back that bends down towards the tail has none
    plain = np.array(
        [(0, 0), (100, 56), (500, 50), (850, 26), (890, 150), (980, 150), (1000, 18), (200, -60)], float
    )
    ahead = find_fin((plain,), LENGTH, 35.0)
    assert ahead is not None
    assert with_dorsal(ahead, (plain,), LENGTH) is ahead


def test_a_trailing_edge_comes_down_as_it_runs_above_a_strip_and_below_a_section() -> None:
    """The fin's trailing edge leans aft going up, 960 at its foot; a tailplane's section juts out of it further up."""
    x = np.linspace(0.0, LENGTH, 1000)
    low, high = np.full(x.size, -20.0), np.where(x < 962.0, 25.0 + 4.0 * (962.0 - x), 25.0)
    z = np.linspace(40.0, 150.0, 100)
    trail = 960.0 - 0.25 * (z - 25.0)
    strip = np.linspace(25.0, 40.0, 24, endpoint=False)
    striped = fin_of(
        np.r_[strip, z],
        np.r_[np.linspace(700.0, 850.0, 24), 850.0 + 0.0 * z],
        np.r_[0.0 * strip + trail[0], trail],
        root=40.0,
    )
    jutting = fin_of(z, 850.0, np.where((z > 60.0) & (z < 70.0), 1010.0, trail))
    for fin in (striped, jutting):
        stern = behind_foot(x, low, high, fin, LENGTH, (), pen_mm=PEN)
        assert x[stern].min() == pytest.approx(963.0, abs=4.0)


def test_the_piece_below_a_fin_is_the_one_that_goes_on_at_the_lower_edge() -> None:
    """Where the trailing edge leans out over the back, a cut has a piece of the fin above the body."""
    view = np.array(
        [(0, -30), (1000, -4), (1000, 4), (926, 7), (926, 10), (960, 150), (760, 150), (700, 40), (0, 40)],
        dtype=np.float64,
    )
    x = np.linspace(1.0, 999.0, 1500)
    found = body_piece((view,), x, LENGTH, 690.0)
    assert found is not None
    assert np.abs(found[0] - np.interp(x, [0.0, 1000.0], [-30.0, -4.0]))[x > 300.0].max() < 0.5


def test_a_section_reaches_as_far_as_a_tail_that_is_cut_out_for_the_rudder() -> None:
    """A plank 12 deep from 860 to 1020 over a stern that ends in a point at 960, as does the tail's cut-out on the centre line."""
    lower, upper = (
        [(0.0, -40.0), (400.0, -60.0), (960.0, 2.0)],
        [(0.0, -40.0), (0.0, 40.0), (500.0, 44.0), (960.0, 2.0)],
    )
    plank = [(860.0, 10.0), (1020.0, 10.0), (1020.0, -2.0), (860.0, -2.0), (860.0, 10.0)]
    edge = [(760.0, 20.0), (830.0, 130.0), (900.0, 130.0), (910.0, 10.0)]
    figures = [[*upper, *lower[1:-1][::-1]], plank, [*edge, (910.0, 0.0), (760.0, 0.0)]]
    solid = shapely.union_all([shapely.Polygon(f).buffer(0.1) for f in figures])
    z = np.linspace(22.0, 130.0, 60)
    fin = fin_of(z, np.interp(z, [20.0, 130.0], [760.0, 830.0]), np.interp(z, [10.0, 130.0], [910.0, 900.0]))
    found = find_body_side(
        (np.array(shapely.segmentize(solid, 2.0).exterior.coords)[:-1],),
        1020.0,
        fin,
        ink_of([lower, upper, plank, edge], PEN),
        pen_mm=PEN,
        roots=((300.0, 480.0), (860.0, 960.0)),
        furthest=(480.0, 1020.0),
        span=LENGTH,
    )
    assert found is not None
    at = np.array([900.0, 935.0, 950.0])
    assert np.interp(at, found.x, found.high) == pytest.approx(np.interp(at, *np.array(upper[1:]).T), abs=1.5)


def test_a_body_ends_where_only_a_fin_that_leans_out_over_the_stern_lies_behind() -> None:
    """A stern that is round from 920 to 960; the fin's trailing edge goes on up to 1000 behind it."""
    x = np.r_[np.linspace(0.0, 918.0, 60), 920.0 + 40.0 * np.sin(np.linspace(0.0, 0.5 * np.pi, 40))]
    round_ = np.sqrt(np.clip(1.0 - ((x - 920.0) / 40.0).clip(0.0) ** 2, 0.0, 1.0))
    upper, lower = (
        np.c_[x, -6.0 + k * (np.interp(x, [0.0, 960.0], [50.0, 18.0]) * round_)].tolist() for k in (1.0, -1.0)
    )
    edge = [(840.0, 15.0), (900.0, 160.0), (1000.0, 160.0), (948.0, 0.0)]
    solid = shapely.union(shapely.Polygon([*upper, *lower[::-1]]), shapely.Polygon([*edge, (900.0, 0.0)]))
    z = np.linspace(20.0, 160.0, 80)
    fin = fin_of(z, np.interp(z, [15.0, 160.0], [840.0, 900.0]), np.interp(z, [0.0, 160.0], [948.0, 1000.0]))
    found = find_body_side(
        (np.array(shapely.segmentize(solid, 2.0).exterior.coords)[:-1],),
        LENGTH,
        fin,
        ink_of([upper, lower, edge], PEN),
        pen_mm=PEN,
        roots=((300.0, 480.0), (820.0, 920.0)),
        span=LENGTH,
        goes_on=975.0,
    )
    assert found is not None
    assert found.x[-1] == pytest.approx(960.0, abs=6.0)
    assert found.high[found.x > 900.0].max() < 30.0


def test_a_fin_above_a_fillet_keeps_its_head() -> None:
    """Its leading edge grows steeper going up; a section's end would jut out ahead of it."""
    z = np.linspace(10.0, 150.0, 120)
    lead = np.where(z < 92.0, 760.0 + 1.6 * (z - 10.0), 760.0 + 1.6 * 82.0 + 0.3 * (z - 92.0))
    fin = fin_of(z, lead, 990.0)
    assert without_tailplane(fin, LENGTH) is fin


def test_below_a_section_across_it_a_trailing_edge_goes_on_as_it_came_down() -> None:
    """The trailing edge leans from 990 at the top, 150 up, to 955 at the body; a plank across it reaches out to 1060."""
    view = np.array(
        [(0, 0), (200, 50), (840, 20), (880, 150), (990, 150), (975, 84), (1060, 84), (1060, 70), (971, 70), (955, 15), (1000, 13), (1000, 0), (200, -60)],
        dtype=np.float64,
    )  # fmt: skip
    fin = find_fin((view,), LENGTH, 25.0)
    assert fin is not None
    low = fin.station < 50.0
    assert low.any()
    assert fin.trail[low] == pytest.approx(955.0 + 35.0 * (fin.station[low] - 15.0) / 135.0, abs=6.0)


def test_a_cockpit_ahead_of_a_fin_does_not_turn_the_back_below_it() -> None:
    """Its rear wall lies 60 mm ahead of the fin; the level back behind it says how the edge goes on, not the cockpit."""
    x = np.linspace(0.0, LENGTH, 1001)
    back = np.where((x > 600.0) & (x < 720.0), 25.0, 50.0)
    high, drawn = back.copy(), x < 780.0
    got, _ = below_fin(
        x,
        high,
        drawn,
        780.0,
        lambda a, _: 0.0 * a,
        LENGTH,
        floor=np.full(x.size, -40.0),
        pen_mm=PEN,
        tailless=False,
    )
    assert got[x > 780.0] == pytest.approx(50.0, abs=1.0)
