import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetlark.errors import SolveError
from sheetlark.flight import (
    ControlSurface,
    Linkage,
    Mixer,
    aileron_for_roll,
    ailerons,
    best_holes,
    elevator,
    elevator_for_lift,
    elevons,
    exponential,
    exponential_for,
    flap_theory,
    full_roll_helix,
    hinge_moment,
    roll_rate_said,
    rudder,
    steady_roll_rate,
    throw_for_travel,
    travel_at_trailing_edge,
    v_tail,
)


def test_throw_on_a_ruler():
    assert travel_at_trailing_edge(0.04, math.radians(30)) == pytest.approx(0.02)
    assert throw_for_travel(0.04, 0.02) == pytest.approx(math.radians(30))
    with pytest.raises(SolveError, match="cannot move 50 mm"):
        throw_for_travel(0.04, 0.05)


def test_full_stick_rolls_it_as_its_throw_does_and_past_small_motion_only_more_is_said(model):
    d, reference = model.derivatives(), model.reference
    mixer = Mixer(surfaces=ailerons(0.2))
    helix = full_roll_helix(d, mixer)
    rate = abs(steady_roll_rate(d, reference, 10.0, 0.2))
    assert helix * 2.0 * 10.0 / reference.span_m == pytest.approx(rate)
    assert roll_rate_said(helix, reference, 10.0) == f"{math.degrees(rate):.0f}"
    hardly_damped = replace(d, Cl_p=-0.001)
    assert full_roll_helix(hardly_damped, mixer) > 0.3
    said = roll_rate_said(full_roll_helix(hardly_damped, mixer), reference, 10.0)
    assert said == f"more than {math.degrees(0.3 * 20.0 / reference.span_m):.0f}"
    assert full_roll_helix(replace(d, Cl_p=0.01), mixer) == 0.0
    assert full_roll_helix(d, Mixer(surfaces=(rudder(0.4),))) == 0.0


def test_aileron_gives_the_roll_rate_asked_for(model):
    throw = aileron_for_roll(model.derivatives(), model.reference, 10.0, roll_rate_rad_s=3.0)
    assert abs(steady_roll_rate(model.derivatives(), model.reference, 10.0, throw)) == pytest.approx(3.0)
    # without a rate: pb/2V = 0.07
    throw = aileron_for_roll(model.derivatives(), model.reference, 10.0)
    rate = steady_roll_rate(model.derivatives(), model.reference, 10.0, throw)
    assert abs(rate) * 0.85 / 20.0 == pytest.approx(0.07)
    with pytest.raises(SolveError, match="no rolling moment"):
        aileron_for_roll(model.derivatives(Cl_da=0.0), model.reference, 10.0)


def test_elevator_holds_the_lift(model):
    d = model.derivatives()
    change = elevator_for_lift(d, 0.5)
    alpha = (0.5 - d.CL_de * change) / d.CL_alpha
    assert change < 0.0
    assert d.Cm_alpha * alpha + d.Cm_de * change == pytest.approx(0.0, abs=1e-12)
    turning = elevator_for_lift(d, 0.5, pitch_rate_rad_s=1.0, speed_ms=10.0, chord_m=0.18)
    assert turning < change
    with pytest.raises(SolveError, match="no change of trim"):
        elevator_for_lift(model.derivatives(CL_de=0.0, Cm_de=0.0), 0.5)


@given(st.floats(-1, 1), st.floats(0, 0.9))
def test_exponential_keeps_ends_sign_and_order(stick, expo):
    got = exponential(stick, expo)
    assert abs(got) <= abs(stick) + 1e-12
    assert got * stick >= 0.0
    assert exponential(1.0, expo) == pytest.approx(1.0)
    assert exponential(-stick, expo) == pytest.approx(-got)


def test_exponential_for_a_gentle_middle():
    assert exponential_for(4.0, 3.0) == pytest.approx(0.25)
    assert exponential_for(2.0, 3.0) == 0.0
    assert exponential_for(10.0, 1.0) == 0.6
    with pytest.raises(SolveError, match="must be positive"):
        exponential_for(0.0, 1.0)


def test_flap_limits():
    """A flap of the whole chord is the aerofoil: worth all of its incidence."""
    whole = flap_theory(0.98)
    assert whole.effectiveness == pytest.approx(1.0, abs=0.01)
    assert flap_theory(0.3).hinge_by_flap == pytest.approx(flap_theory(0.3001).hinge_by_flap, rel=1e-3)
    with pytest.raises(SolveError, match="between 2 % and 98 %"):
        flap_theory(1.2)
    full = hinge_moment(flap_span_m=0.3, flap_chord_m=0.04, chord_ratio=0.25, airspeed_ms=15.0, throw_rad=0.3)
    assert hinge_moment(
        flap_span_m=0.3, flap_chord_m=0.04, chord_ratio=0.25, airspeed_ms=30.0, throw_rad=0.3, real=True
    ) == pytest.approx(4 * 0.7 * full)


class TestMixes:
    def test_elevon(self):
        mixer = Mixer(surfaces=elevons(0.2, 0.3))
        assert mixer.deflections(1.0, 0.0, 0.0) == pytest.approx((-0.2, -0.2))
        assert mixer.deflections(0.0, 1.0, 0.0) == pytest.approx((0.3, -0.3))
        assert mixer.deflections(1.0, 1.0, 0.0) == pytest.approx((0.1, -0.5))

    def test_flaperon(self):
        mixer = Mixer(surfaces=ailerons(0.3, flap_rad=0.2))
        assert mixer.deflections(0.0, 1.0, 0.0, 1.0) == pytest.approx((0.5, -0.1))

    def test_differential_takes_from_the_falling_aileron(self):
        mixer = Mixer(surfaces=ailerons(0.3)).with_differential(0.5)
        assert mixer.deflections(0.0, 1.0, 0.0) == pytest.approx((0.15, -0.3))
        assert mixer.deflections(0.0, -1.0, 0.0) == pytest.approx((-0.3, 0.15))
        with pytest.raises(SolveError, match=r"between 0 .* and 1"):
            mixer.with_differential(1.5)

    def test_v_tail_yaws_and_pitches(self):
        """Forces of both halves added up: pitch stick pushes the tail down, yaw stick to port."""
        lean = math.radians(35)
        for sticks, wanted in (((1.0, 0.0, 0.0), "down"), ((0.0, 0.0, 1.0), "port")):
            port, starboard = Mixer(surfaces=v_tail(0.3, 0.3)).deflections(*sticks)
            # a half's lift (for trailing edge down) points up and leans towards the middle
            up = (port + starboard) * math.cos(lean)
            to_starboard = (port - starboard) * math.sin(lean)
            if wanted == "down":
                assert up < 0.0
                assert to_starboard == pytest.approx(0.0)
            else:
                assert to_starboard < 0.0
                assert up == pytest.approx(0.0)

    def test_rudder_mix_and_stops(self):
        mixer = Mixer(surfaces=(elevator(0.3), rudder(0.4)), rudder_mix=0.5, expo_pitch=0.4)
        assert mixer.deflections(0.5, 1.0, 0.0) == pytest.approx((-0.3 * (0.6 * 0.5 + 0.4 * 0.125), -0.2))
        assert mixer.deflections(5.0, 0.0, -9.0) == pytest.approx((-0.3, 0.4))
        tight = Mixer(
            surfaces=(ControlSurface(name="x", pitch_rad=-0.5, up_limit_rad=0.3, down_limit_rad=0.2),)
        )
        assert tight.deflections(1.0, 0.0, 0.0) == (-0.3,)
        assert tight.deflections(-1.0, 0.0, 0.0) == (0.2,)


def rod_is_rigid(linkage, servo):
    """Distance between the holes for any servo turn, from the two angles alone."""
    angle = math.pi / 2 - linkage.arm_offset_rad - servo
    arm = np.array([linkage.arm_m * math.cos(angle), linkage.arm_m * math.sin(angle)])
    side = -1 if linkage.opposite else 1
    turn = side * (math.pi / 2 - linkage.horn_offset_rad) - linkage.surface_angle(servo)
    horn = np.array(
        [
            linkage.distance_m + linkage.horn_m * math.cos(turn),
            linkage.height_m + linkage.horn_m * math.sin(turn),
        ]
    )
    return float(np.linalg.norm(horn - arm))


@given(
    arm=st.floats(0.006, 0.014),
    ratio=st.floats(1.7, 2.5),
    distance=st.floats(0.06, 0.4),
    height=st.floats(-0.01, 0.01),
    servo=st.floats(-0.7, 0.7),
    opposite=st.booleans(),
)
def test_rod_keeps_its_length_and_gearing_is_the_slope(arm, ratio, distance, height, servo, opposite):
    linkage = Linkage(arm_m=arm, horn_m=ratio * arm, distance_m=distance, height_m=height, opposite=opposite)
    assert rod_is_rigid(linkage, servo) == pytest.approx(linkage.rod_m, rel=1e-9)
    slope = (linkage.surface_angle(servo + 1e-5) - linkage.surface_angle(servo - 1e-5)) / 2e-5
    assert linkage.gearing(servo) == pytest.approx(slope, rel=1e-5, abs=1e-7)
    assert linkage.surface_angle(0.0) == pytest.approx(0.0, abs=1e-9)


def test_parallel_linkage_turns_one_to_one():
    linkage = Linkage(arm_m=0.012, horn_m=0.012, distance_m=0.1)
    for servo in (-0.7, -0.2, 0.3, 0.7):
        assert linkage.surface_angle(servo) == pytest.approx(servo, abs=1e-9)


def test_over_the_dead_point_is_refused():
    linkage = Linkage(arm_m=0.02, horn_m=0.008, distance_m=0.1)
    with pytest.raises(SolveError, match="over their dead point"):
        linkage.surface_angle(math.radians(60))


def test_best_holes_use_the_servo_and_spare_its_torque():
    asked = {
        "distance_m": 0.08,
        "up_rad": math.radians(20),
        "down_rad": math.radians(15),
        "hinge_moment_nm": 0.027,
    }
    arms, horns = (0.006, 0.008, 0.010, 0.012), (0.009, 0.012, 0.015)
    got = best_holes(arm_holes_m=arms, horn_holes_m=horns, **asked)
    linkage = Linkage(arm_m=got.arm_m, horn_m=got.horn_m, distance_m=0.08)
    assert linkage.surface_angle(got.servo_up_rad) == pytest.approx(math.radians(20), abs=1e-6)
    assert linkage.surface_angle(got.servo_down_rad) == pytest.approx(-math.radians(15), abs=1e-6)
    for arm in arms:
        for horn in horns:
            try:
                other = best_holes(arm_holes_m=(arm,), horn_holes_m=(horn,), **asked)
            except SolveError:
                continue
            assert other.servo_torque_nm >= got.servo_torque_nm
    # torque by virtual work: hinge moment times surface turn per servo turn
    assert got.servo_torque_nm < 0.027 * 0.8
    with pytest.raises(SolveError, match="widest pair gives"):
        best_holes(arm_holes_m=(0.004,), horn_holes_m=(0.02,), **asked)


def test_throws_to_set(model):
    from sheetlark.flight import throws_for

    d = model.derivatives()
    got = throws_for(d, model.reference, cruise_ms=10.0, greatest_lift=0.9)
    assert abs(steady_roll_rate(d, model.reference, 10.0, got.aileron_rad)) * 0.85 / 20.0 == pytest.approx(
        0.07
    )
    assert got.elevator_rad == pytest.approx(1.2 * abs(elevator_for_lift(d, 0.45)))
    assert got.short == ()
    # centre of the roll stick: 90°/s
    rate = abs(steady_roll_rate(d, model.reference, 10.0, got.aileron_rad))
    assert (1.0 - got.expo_roll) * rate >= math.radians(90) - 1e-9 or got.expo_roll == 0.6
    weak = throws_for(
        model.derivatives(Cl_da=-0.02, Cm_de=-0.1), model.reference, cruise_ms=10.0, greatest_lift=0.9
    )
    assert weak.short == ("aileron", "elevator")
    assert weak.aileron_rad == weak.elevator_rad == math.radians(30)
    none = throws_for(
        model.derivatives(Cl_da=0.0, Cm_de=0.0, CL_de=0.0, Cn_dr=0.0),
        model.reference,
        cruise_ms=10.0,
        greatest_lift=0.9,
    )
    assert (none.aileron_rad, none.elevator_rad, none.rudder_rad, none.short) == (0.0, 0.0, 0.0, ())
