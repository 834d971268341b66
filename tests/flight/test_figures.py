"""All figures together, on the air room's model of ordinary layouts of flat sheets."""

import math

import pytest

from sheetlark.air import AirModel, Condition, Control, Layout, Section, Surface
from sheetlark.errors import SolveError
from sheetlark.flight import (
    ControlSurface,
    MassProperties,
    Mixer,
    ThrustTable,
    elevator,
    elevons,
    first_flight,
    flight_figures,
    rudder,
)

SHEET = Section(thickness_ratio=0.03)
MASS = MassProperties(mass_kg=0.34, ixx_kg_m2=0.005, iyy_kg_m2=0.0095, izz_kg_m2=0.0135, ixz_kg_m2=0.0003)
MESH = {"spanwise": 8, "chordwise": 3, "section": SHEET}


def motor(airspeed_ms, throttle):
    thrust = max(0.0, 3.2 * throttle * (1.0 - airspeed_ms / 20.0))
    return thrust, 0.02 * thrust


def table():
    return ThrustTable.of(motor, [0.0, 5.0, 10.0, 15.0, 20.0], [0.0, 0.5, 1.0])


def conventional(*, balance=0.065, tail_x=0.52, dihedral=4.0, aileron=True):
    wing = Surface.trapezoid(
        0.85, 0.19, 0.16, 3.0, dihedral, 1.5, name="wing", **MESH,
        controls=(Control(name="aileron", kind="aileron", hinge_fraction=0.75, from_eta=0.45),) if aileron else (),
    )  # fmt: skip
    tail = Surface.trapezoid(
        0.34, 0.12, 0.10, 5.0, at_m=(tail_x, 0.0, 0.0), name="tail", role="tail",
        controls=(Control(name="elevator", kind="elevator", hinge_fraction=0.6),), **MESH,
    )  # fmt: skip
    fin = Surface.trapezoid(
        0.13, 0.14, 0.09, 30.0, 90.0, at_m=(tail_x - 0.02, 0.0, 0.0), mirrored=False, name="fin", role="fin",
        controls=(Control(name="rudder", kind="rudder", hinge_fraction=0.5),), **MESH,
    )  # fmt: skip
    return AirModel(Layout(surfaces=(wing, tail, fin), about_m=(balance, 0.0, 0.0)), Condition(speed_ms=10.0))


def mixer(*, aileron=True):
    roll = (ControlSurface(name="aileron", roll_rad=math.radians(18)),) if aileron else ()
    return Mixer(surfaces=(*roll, elevator(math.radians(18)), rudder(math.radians(25))))


@pytest.fixture(scope="module")
def ordinary():
    return flight_figures(conventional(), MASS, mixer(), table())


def test_figures_hang_together(ordinary):
    got = ordinary
    assert got.performance.stall_ms < got.performance.cruise_ms < got.performance.top_ms
    assert got.cruise.throttle == pytest.approx(got.performance.cruise_throttle, abs=0.06)
    assert got.derivatives.thrust_by_speed < 0.0
    assert got.balance.static_margin == pytest.approx(
        -got.derivatives.Cm_alpha / (got.derivatives.CL_alpha + got.derivatives.CD), abs=0.02
    )
    assert got.balance.possible
    assert {"short period", "short period, fast part"} & {m.name for m in got.modes}
    assert got.steady_turn is not None
    assert got.steady_turn.sideslip_rad == 0.0
    assert got.turn_entry is not None
    assert 0.0 < got.turn_entry.peak_sideslip_rad < math.radians(15)
    assert got.response.banks_by_roll


def test_the_simulation_agrees_with_the_figures(ordinary):
    story = first_flight(
        ordinary.vehicle, ordinary.mixer, ordinary.plan, cruise_alpha_rad=ordinary.cruise.alpha_rad
    )
    assert story.turns_both_ways
    assert story.landed_as_planned
    assert story.stall is not None
    assert story.stall.speed_ms == pytest.approx(ordinary.performance.stall_ms, rel=0.25)
    assert story.pitch_trim == pytest.approx(ordinary.cruise.pitch_stick, abs=0.05)


def test_moving_the_balance_point_aft_eats_the_margin(ordinary):
    aft = flight_figures(conventional(balance=0.075), MASS, mixer(), table())
    chord = ordinary.balance.chord_m
    assert aft.balance.static_margin == pytest.approx(
        ordinary.balance.static_margin - 0.010 / chord, abs=0.01
    )
    assert aft.balance.neutral_aft_m + 0.075 == pytest.approx(
        ordinary.balance.neutral_aft_m + 0.065, abs=2e-3
    )


def test_a_short_tail_arm_slips_more(ordinary):
    short = flight_figures(conventional(tail_x=0.36, balance=0.045), MASS, mixer(), table())
    assert short.derivatives.Cn_beta < 0.75 * ordinary.derivatives.Cn_beta
    assert short.turn_entry.peak_sideslip_rad > 1.1 * ordinary.turn_entry.peak_sideslip_rad


def test_rudder_and_elevator_alone():
    got = flight_figures(conventional(aileron=False, dihedral=8.0), MASS, mixer(aileron=False), table())
    assert not got.response.banks_by_roll
    assert got.response.can_turn
    assert got.derivatives.Cl_da == 0.0
    assert got.steady_turn.aileron_rad == 0.0
    story = first_flight(got.vehicle, got.mixer, got.plan, cruise_alpha_rad=got.cruise.alpha_rad)
    assert story.turns_both_ways


def test_a_glider(ordinary):
    got = flight_figures(conventional(), MASS, mixer(), None)
    assert got.cruise.climb_rad < 0.0
    assert got.performance.best_climb_ms == pytest.approx(-got.performance.least_sink.sink_ms, abs=0.02)
    assert got.performance.stall_ms == pytest.approx(ordinary.performance.stall_ms, rel=1e-6)


def test_flying_wing_with_elevons():
    wing = Surface.trapezoid(
        0.8, 0.26, 0.16, 28.0, 0.0, 0.0, name="wing", **MESH,
        controls=(Control(name="elevon", kind="elevon", hinge_fraction=0.78, from_eta=0.3),),
    )  # fmt: skip
    fin = Surface.trapezoid(
        0.14, 0.14, 0.09, 30.0, 90.0, at_m=(0.22, 0.0, 0.0), mirrored=False, name="fin", role="fin", **MESH
    )
    model = AirModel(Layout(surfaces=(wing, fin), about_m=(0.135, 0.0, 0.0)), Condition(speed_ms=10.0))
    got = flight_figures(model, MASS, Mixer(surfaces=elevons(0.35, 0.3)), table())
    assert [s.name for s in got.mixer.surfaces] == ["elevon_port", "elevon_starboard"]
    assert got.cruise.pitch_stick > 0.0  # elevons up: the wing's own sections do not trim it
    assert got.derivatives.Cl_da != 0.0
    assert got.derivatives.Cn_dr == 0.0
    assert got.steady_turn.sideslip_rad != 0.0


def test_too_weak_a_motor_is_named():
    with pytest.raises(SolveError, match="cannot hold level flight"):
        flight_figures(conventional(), MASS, mixer(), lambda _v, t: (0.1 * t, 0.0))
