from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sheetlark.air import (
    AirModel,
    Bit,
    Body,
    Condition,
    Control,
    Disc,
    Layout,
    Section,
    Surface,
    analyse,
    behaviour,
    derivatives,
    downwash,
    front_coefficient,
    hinge_moments,
    lift_curve,
    neutral_point,
    polar,
)
from sheetlark.air.body import drag_lines, nose_areas
from sheetlark.air.sections import flap_effectiveness
from sheetlark.errors import GeometryError, SolveError

from .layouts import LAYOUTS, biplane, canard, delta


@pytest.fixture(scope="module")
def whole():
    return analyse(biplane(), Condition(alpha_rad=0.06, thrust_n=1.0, torque_nm=0.02))


def test_everything_is_there_and_sane(whole):
    d = whole.derivatives
    assert 2.5 < d.lift_alpha < 4.5
    assert d.pitch_q < -3.0
    assert d.roll_p < -0.2
    assert d.yaw_beta > 0.0 > d.side_beta
    assert d.roll_beta < 0.0
    assert d.yaw_r < 0.0
    assert d.pitch_alpha_rate < 0.0 < d.lift_alpha_rate
    assert d.control("aileron").roll > 0.05
    assert d.control("elevator").pitch < -0.5
    assert d.control("rudder").yaw > 0.02
    assert 0.6 < whole.curve.lift_max < 1.1
    assert 2.0 < whole.polar.best_lift_to_drag < 12.0
    assert sum(s.share for s in whole.shares) == pytest.approx(1.0)
    assert {h.half for h in whole.hinges} == {"starboard", "port", "single"}
    with pytest.raises(KeyError):
        d.control("slat")


def test_upper_wing_ahead_carries_more(whole):
    by_name = {s.surface: s for s in whole.shares}
    assert by_name["upper"].lift_n > by_name["lower"].lift_n


def test_first_stall_is_on_a_wing_near_the_middle(whole):
    """Untapered wings leave first at the root; the forward wing of a pair goes first."""
    assert whole.first_stall.surface == "upper"
    assert whole.first_stall.share_of_span < 0.3
    assert whole.first_stall.alpha_rad < whole.curve.stall_rad


def test_tapered_tips_go_first():
    wing = Surface.trapezoid(1.0, 0.24, 0.05, name="wing", spanwise=16, chordwise=4)
    result = analyse(Layout(surfaces=(wing,), about_m=(0.05, 0.0, 0.0)))
    assert result.first_stall.share_of_span > 0.5
    washed = Surface.trapezoid(1.0, 0.24, 0.05, washout_deg=8.0, name="wing", spanwise=16, chordwise=4)
    assert (
        analyse(Layout(surfaces=(washed,), about_m=(0.05, 0.0, 0.0))).first_stall.share_of_span
        < result.first_stall.share_of_span
    )


@pytest.mark.parametrize("name", LAYOUTS)
def test_balanced_at_the_neutral_point_the_moment_does_not_change(name):
    layout = LAYOUTS[name]()
    point = neutral_point(layout)
    there = layout.balanced_at((point, 0.0, layout.about_m[2]))
    assert derivatives(there).pitch_alpha == pytest.approx(0.0, abs=2e-3)
    ahead = layout.balanced_at((point - 0.02, 0.0, layout.about_m[2]))
    assert derivatives(ahead).pitch_alpha < -0.02


def test_a_canard_moves_it_forward():
    layout = canard()
    assert neutral_point(layout) < neutral_point(Layout(surfaces=layout.surfaces[1:])) - 0.02


def test_downwash_takes_from_the_tail_and_upwash_gives_to_the_nose():
    tail = {d.surface: d.slope for d in downwash(biplane())}
    assert 0.3 < tail["tail"] < 0.75
    nose = {d.surface: d.slope for d in downwash(canard())}
    assert nose["nose"] < 0.0 < nose["wing"]


def test_downwash_at_zero_follows_incidence():
    wing = Surface.trapezoid(1.0, 0.2, 0.2, incidence_deg=3.0, name="wing", spanwise=10, chordwise=4)
    tail = Surface.trapezoid(
        0.4, 0.1, 0.1, at_m=(0.6, 0, 0.0), name="tail", role="tail", spanwise=6, chordwise=3
    )
    item = next(d for d in downwash(Layout(surfaces=(wing, tail))) if d.surface == "tail")
    assert item.at_zero_rad == pytest.approx(item.slope * math.radians(3.0), rel=0.02)


def test_a_delta_has_elevons_that_pitch_and_roll():
    d = derivatives(delta())
    assert d.control("elevon").pitch < -0.1
    assert d.control("elevon:roll").roll > 0.02


def test_hinge_moment_opposes_and_grows_with_speed():
    slow, fast = (
        next(
            h
            for h in hinge_moments(biplane(), Condition(speed_ms=v, deflections_rad={"elevator": 0.2}))
            if h.control == "elevator"
        )
        for v in (8.0, 16.0)
    )
    assert slow.moment_nm < 0.0
    assert fast.moment_nm == pytest.approx(4.0 * slow.moment_nm, rel=1e-6)
    assert slow.per_deflection < slow.per_alpha < 0.0


def test_polar_and_curve_agree():
    curve, short = lift_curve(biplane()), polar(biplane())
    assert short.drag_min <= curve.drag.min() + 1e-4
    assert short.lift_at_best < curve.lift_max
    assert 0.0 < short.drag_spread < 0.5


def test_drag_of_bits_adds_up():
    body = biplane().bodies
    plain = drag_lines(body, (), (), 7e5)
    bits = (Bit(name="legs", kind="wire", at_m=(0, 0, -0.1), area_m2=0.002 * 0.15, count=2),)
    more = drag_lines(body, bits, (), 7e5)
    legs = next(x for x in more if x.name == "legs")
    assert legs.area_m2 == pytest.approx(1.10 * 2 * 0.0003)
    assert sum(x.area_m2 for x in more) == pytest.approx(sum(x.area_m2 for x in plain) + legs.area_m2)
    layout = biplane(disc=False)
    added = replace(layout, bits=bits)
    one, two = (AirModel(x).at(Condition())[0] for x in (layout, added))
    assert two < one
    expected = sum(x.area_m2 for x in drag_lines(added.bodies, bits, added.surfaces, 10 / 1.4607e-5)) - sum(
        x.area_m2 for x in drag_lines(layout.bodies, (), layout.surfaces, 10 / 1.4607e-5)
    )
    assert one - two == pytest.approx(expected * 0.5 * 1.225 * 100.0, rel=1e-6)


@pytest.mark.parametrize(("nose", "more"), [("rounded", "blunt"), ("blunt", "flat"), ("pointed", "rounded")])
def test_blunter_noses_drag_more(nose, more):
    body = biplane().bodies[0]
    area = [sum(x.area_m2 for x in drag_lines((replace(body, nose=n),), (), (), 7e5)) for n in (nose, more)]
    assert area[0] < area[1]


def _front(face_m, widest_m, over_m):
    """A square body with a flat front that widens evenly over a length."""
    x = np.array([0.0, over_m, over_m + 0.3, over_m + 0.5])
    side = np.array([face_m, widest_m, widest_m, 0.02])
    return Body(name="body", x_m=x, width_m=side, height_m=side, middle_z_m=0 * x, nose="flat")


def test_a_flat_front_costs_by_its_face():
    """The coefficient of a flat front is its face's; what widens behind it costs little, unless it flares."""
    face, behind = nose_areas(_front(0.08, 0.08, 0.1))
    assert behind == 0.0
    assert front_coefficient(_front(0.08, 0.08, 0.1)) == pytest.approx(face / 0.08**2)
    small, flank = nose_areas(_front(0.05, 0.08, 0.1))
    assert small == pytest.approx(face * (0.05 / 0.08) ** 2)
    assert 0.1 * (0.08**2 - 0.05**2) < flank < 0.2 * (0.08**2 - 0.05**2)
    # Flaring outwards within a hair, it is a face of the full size again.
    assert sum(nose_areas(_front(0.05, 0.08, 1e-5))) == pytest.approx(face, rel=1e-3)
    steeper = [sum(nose_areas(_front(0.05, 0.08, over))) for over in (0.2, 0.1, 0.03, 0.01, 0.001)]
    assert steeper == sorted(steeper)


def test_gaps_and_open_bottoms_cost():
    layout = biplane()
    body = layout.bodies[0]
    closed, opened = (
        {x.name: x.area_m2 for x in drag_lines((replace(body, open_underside=o),), (), (), 7e5)}
        for o in (False, True)
    )
    assert "body: open underside" in opened
    assert opened["body: skin"] < closed["body: skin"]
    gap = replace(
        layout.surfaces[0],
        controls=(Control(name="aileron", kind="aileron", hinge_fraction=0.75, gap_m=0.002),),
    )
    assert any(x.name == "aileron: gap" for x in drag_lines((), (), (gap,), 7e5))
    assert flap_effectiveness(0.1, 0.01) < flap_effectiveness(0.1)


def test_flap_effect_fades():
    sizes = [flap_effectiveness(math.radians(d)) for d in (0, 10, 20, 30, 50, 80)]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] == 0.9
    assert sizes[3] == pytest.approx(0.7)


def test_thin_data_says_so():
    known = behaviour(Section(kind="stepped", edge="square"), 1e5)
    plate = behaviour(Section(), 1e5)
    assert known.thin
    assert not plate.thin
    assert known.lift_spread > 2 * plate.lift_spread
    outside = behaviour(Section(), 5e3)
    assert outside.thin
    assert outside.lift_spread == 2 * plate.lift_spread
    wing = Surface.trapezoid(0.3, 0.02, 0.02, name="wing", section=Section(kind="folded", camber_ratio=0.04))
    result = analyse(Layout(surfaces=(wing,)))
    assert result.thin_data == ("wing",)
    assert "lies outside 20000 to 300000" in result.warnings[0]


@pytest.mark.parametrize("kind", ["flat", "arc", "folded", "hollow", "stepped"])
@pytest.mark.parametrize("edge", ["square", "rounded", "bevelled"])
def test_every_section_has_a_line(kind, edge):
    camber = 0.0 if kind == "flat" else 0.03
    known = behaviour(Section(kind=kind, edge=edge, camber_ratio=camber), 8e4)
    assert 0.8 < known.slope <= 1.0
    assert known.leave_rad < known.gone_rad
    assert known.source
    wing = Surface.trapezoid(
        1.0,
        0.15,
        0.15,
        name="w",
        spanwise=8,
        chordwise=4,
        section=Section(kind=kind, edge=edge, camber_ratio=camber),
    )
    curve = lift_curve(Layout(surfaces=(wing,)))
    assert 0.6 < curve.lift_max < 1.6
    assert curve.zero_lift_rad <= 1e-9


def test_thicker_sheet_drags_more():
    drag = [
        behaviour(Section(thickness_ratio=t, edge="square"), 1e5).drag_at_zero_lift
        for t in (0.015, 0.03, 0.05)
    ]
    assert drag == sorted(drag)
    assert 0.02 < drag[2] < 0.035


def test_neutral_point_spread_grows_with_the_body():
    bare = replace(biplane(), bodies=())
    assert analyse(biplane()).neutral_point_spread_m > analyse(bare).neutral_point_spread_m


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: Layout(surfaces=()), "at least one surface"),
        (
            lambda: Layout(surfaces=(Surface.trapezoid(1, 1, 1), Surface.trapezoid(1, 1, 1))),
            "names of their own",
        ),
        (
            lambda: Body(name="b", x_m=[0, 0], width_m=[1, 1], height_m=[1, 1], middle_z_m=[0, 0]),
            "nose to tail",
        ),
        (
            lambda: Body(name="b", x_m=[0, 1], width_m=[1, -1], height_m=[1, 1], middle_z_m=[0, 0]),
            "not be negative",
        ),
        (lambda: Body(name="b", x_m=[0], width_m=[1], height_m=[1], middle_z_m=[0]), "at least two stations"),
        (lambda: Bit(name="x", kind="wire", at_m=(0, 0, 0), area_m2=-1.0), "areas must not be negative"),
        (lambda: Disc(at_m=(0, 0, 0), radius_m=0.0), "radius must be positive"),
        (lambda: Condition(speed_ms=0.0), "speed_ms must be positive"),
        (lambda: Condition(thrust_n=-1.0), "thrust must not be negative"),
    ],
)
def test_impossible_layouts_are_refused(call, words):
    with pytest.raises(GeometryError, match=words):
        call()


def test_a_fin_alone_has_no_lift_curve():
    fin = Surface.trapezoid(0.3, 0.2, 0.2, dihedral_deg=90.0, mirrored=False)
    with pytest.raises(SolveError, match="no zero-lift angle"):
        lift_curve(Layout(surfaces=(fin,)))


@pytest.mark.parametrize("name", sorted(LAYOUTS))
def test_a_curve_that_ends_past_its_peak_has_the_figures_of_the_whole(name):
    model = AirModel(LAYOUTS[name](), Condition())
    short, long = lift_curve(model, whole=False), lift_curve(model)
    n = short.lift.size
    assert n < long.lift.size
    assert short.lift[-1] < short.lift[-2]
    assert short.alpha_rad[-1] > short.stall_rad
    for part in ("alpha_rad", "lift", "drag", "pitch"):
        assert np.array_equal(getattr(short, part), getattr(long, part)[:n])
    for figure in ("slope_per_rad", "zero_lift_rad", "stall_rad", "lift_max", "lift_spread"):
        assert getattr(short, figure) == getattr(long, figure)


def test_curve_arrays_are_frozen(whole):
    with pytest.raises(ValueError, match="read-only"):
        whole.curve.lift[0] = 1.0
    assert np.all(np.diff(whole.curve.alpha_rad) > 0)


def test_much_camber_and_incidence_has_its_zero_lift_below_ten_degrees():
    wing = Surface.trapezoid(
        1.0, 0.2, 0.2, incidence_deg=7.0, name="wing", section=Section(kind="arc", camber_ratio=0.07)
    )
    curve = lift_curve(Layout(surfaces=(wing,)))
    assert -18.0 < math.degrees(curve.zero_lift_rad) < -11.0
    assert curve.slope_per_rad == pytest.approx(
        lift_curve(Layout(surfaces=(replace(wing, twist_rad=np.zeros(2)),))).slope_per_rad, rel=0.03
    )
    assert not curve.unsettled_rad


def test_overlapping_sheets_that_do_not_settle_are_told():
    """Two wings, one pointed, in one plane through each other: not a layout, and the answer says its figures are rough."""
    front = Surface.from_stations(
        "front",
        "wing",
        [[-0.42, 0.0, 0.1], [-0.056, 0.228, 0.1]],
        [0.5, 0.0],
        [-0.046, -0.046],
        section=Section(kind="arc", edge="square", camber_ratio=0.03),
        spanwise=7,
        chordwise=5,
    )
    rear = Surface.from_stations(
        "rear",
        "wing",
        [[-0.0135, 0.0, 0.1], [0.237, 0.2566, 0.1225]],
        [0.18, 0.02],
        [0.099, 0.099],
        section=Section(kind="hollow", edge="bevelled"),
        spanwise=5,
        chordwise=5,
    )
    layout = Layout(surfaces=(front, rear))
    curve = lift_curve(layout, Condition(beta_rad=0.1))
    assert curve.unsettled_rad
    assert np.isfinite(curve.lift).all()
