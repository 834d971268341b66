"""The air room's model flown: a whole layout of flat sheets, from lattice to landing."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetlark.air import (
    AirModel,
    Condition,
    Control,
    Layout,
    Section,
    Surface,
    coefficients_at,
    derivatives_at,
)
from sheetlark.errors import SolveError
from sheetlark.flight import (
    AirModelForces,
    ControlSurface,
    DownwashLag,
    FlightPlan,
    FlightState,
    Flow,
    MassProperties,
    Mixer,
    Reference,
    Start,
    ThrustTable,
    Vehicle,
    ailerons,
    elevator,
    first_flight,
    in_stability_axes,
    linear_model,
    linearised,
    named_modes,
    rudder,
    stability_derivatives,
    trim_level,
    with_servo_directions,
)

SHEET = Section(thickness_ratio=0.03)


def layout(aileron_kind="aileron"):
    mesh = {"spanwise": 8, "chordwise": 3, "section": SHEET}
    wing = Surface.trapezoid(
        0.85, 0.19, 0.16, 3.0, 4.0, 1.5, name="wing",
        controls=(Control(name="aileron", kind=aileron_kind, hinge_fraction=0.75, from_eta=0.45),), **mesh,
    )  # fmt: skip
    tail = Surface.trapezoid(
        0.34, 0.12, 0.10, 5.0, at_m=(0.52, 0.0, 0.0), name="tail", role="tail",
        controls=(Control(name="elevator", kind="elevator", hinge_fraction=0.6),), **mesh,
    )  # fmt: skip
    fin = Surface.trapezoid(
        0.13, 0.14, 0.09, 30.0, 90.0, at_m=(0.5, 0.0, 0.0), mirrored=False, name="fin", role="fin",
        controls=(Control(name="rudder", kind="rudder", hinge_fraction=0.5),), **mesh,
    )  # fmt: skip
    return Layout(surfaces=(wing, tail, fin), about_m=(0.065, 0.0, 0.0))


MASS = MassProperties(mass_kg=0.34, ixx_kg_m2=0.005, iyy_kg_m2=0.0095, izz_kg_m2=0.0135, ixz_kg_m2=0.0003)


def motor(airspeed_ms, throttle):
    thrust = max(0.0, 3.2 * throttle * (1.0 - airspeed_ms / 20.0))
    return thrust, 0.02 * thrust


@pytest.fixture(scope="module")
def flown():
    model = AirModel(layout(), Condition(speed_ms=10.0))
    size = model.reference
    vehicle = Vehicle(
        mass=MASS,
        reference=Reference(area_m2=size.area_m2, chord_m=size.chord_m, span_m=size.span_m),
        air=AirModelForces(model),
        propulsion=ThrustTable.of(motor, [0.0, 5.0, 10.0, 15.0, 20.0], [0.0, 0.5, 1.0]),
    )
    mixer = Mixer(
        surfaces=(
            ControlSurface(name="aileron", roll_rad=math.radians(18)),
            elevator(math.radians(18)),
            rudder(math.radians(25)),
        )
    )
    return model, vehicle, with_servo_directions(vehicle, mixer, 10.0, 0.05)


def test_each_half_is_its_own_surface():
    forces = AirModelForces(AirModel(layout("flaperon"), Condition(speed_ms=10.0)))
    assert forces.surfaces == ("aileron_port", "aileron_starboard", "elevator", "rudder")
    model = AirModel(layout(), Condition(speed_ms=10.0))
    plain = AirModelForces(model)
    assert plain.surfaces == ("aileron", "elevator", "rudder")
    # both halves apart is the aileron; both together rolls nothing
    apart = forces(Flow(10.0, 0.05, (0.1, -0.1, 0.0, 0.0)))
    assert apart == pytest.approx(plain(Flow(10.0, 0.05, (0.1, 0.0, 0.0))), abs=1e-6)
    together = forces(Flow(10.0, 0.05, (0.1, 0.1, 0.0, 0.0)))
    assert together[3] == pytest.approx(0.0, abs=1e-6)
    assert together[2] < forces(Flow(10.0, 0.05, (0.0,) * 4))[2]


def test_forces_are_the_models(flown):
    model, vehicle, _ = flown
    condition = Condition(
        speed_ms=9.0,
        alpha_rad=0.08,
        beta_rad=0.05,
        rates_rad_s=(0.2, -0.1, 0.3),
        deflections_rad={"elevator": -0.1},
    )
    assert vehicle.air(Flow(9.0, 0.08, (0.0, -0.1, 0.0), 0.05, 0.2, -0.1, 0.3)) == pytest.approx(
        tuple(model.at(condition)), rel=1e-9, abs=1e-12
    )


def test_servo_directions_answer_the_sticks(flown):
    _, vehicle, mixer = flown
    for stick, which in (((0.3, 0.0, 0.0), 4), ((0.0, 0.3, 0.0), 3), ((0.0, 0.0, 0.3), 5)):
        other = tuple(-s for s in stick)
        up = vehicle.air(Flow(10.0, 0.05, mixer.deflections(*stick)))[which]
        assert up > vehicle.air(Flow(10.0, 0.05, mixer.deflections(*other)))[which]
    reversed_again = Mixer(
        surfaces=tuple(
            ControlSurface(name=s.name, pitch_rad=-s.pitch_rad, roll_rad=-s.roll_rad, yaw_rad=-s.yaw_rad)
            for s in mixer.surfaces
        )
    )
    assert with_servo_directions(vehicle, reversed_again, 10.0, 0.05) == mixer


def test_linear_model_from_derivatives_is_the_simulations(flown):
    """Two ways to the same roots: derivatives turned into stability axes, and differences of the flown equations."""
    model, vehicle, mixer = flown
    trim = trim_level(vehicle, mixer, 10.0)
    deflections = dict(zip(vehicle.air.surfaces, trim.deflections_rad, strict=True))
    condition = Condition(speed_ms=10.0, alpha_rad=trim.alpha_rad, deflections_rad=deflections)
    found = stability_derivatives(
        derivatives_at(model, condition),
        coefficients_at(model, condition),
        trim.alpha_rad,
        elevator="elevator",
        aileron="aileron",
        rudder="rudder",
    )
    quick = stability_derivatives(
        derivatives_at(model, condition), coefficients_at(model, condition), trim.alpha_rad
    )
    assert found.Cm_alpha == quick.Cm_alpha < 0.0
    assert found.Cm_de < 0.0 < abs(found.Cl_da)
    # gravity and lift: the state is level, so CL must carry the weight less what thrust carries (here none is added)
    linear = linear_model(
        found, in_stability_axes(MASS, trim.alpha_rad), vehicle.reference, FlightState(speed_ms=10.0)
    )
    start = Start(height_m=50.0, speed_ms=10.0, pitch_rad=trim.alpha_rad).state()
    late = replace(vehicle, lag=DownwashLag(lift=found.CL_adot, pitch=found.Cm_adot))
    flown_matrix = linearised(late, trim.deflections_rad, 0.0, 0.0, start)
    roots = np.linalg.eigvals(flown_matrix)
    for mode in named_modes(linear):
        root = complex(mode.real, mode.imag)
        tolerance = 0.05 * abs(root) + 0.03
        assert np.abs(roots - root).min() < tolerance, mode.name


@given(st.floats(-0.4, 0.4))
def test_turning_axes_keeps_the_body(alpha):
    turned = in_stability_axes(MASS, alpha)
    assert turned.ixx_kg_m2 + turned.izz_kg_m2 == pytest.approx(MASS.ixx_kg_m2 + MASS.izz_kg_m2)
    before = MASS.ixx_kg_m2 * MASS.izz_kg_m2 - MASS.ixz_kg_m2**2
    assert turned.ixx_kg_m2 * turned.izz_kg_m2 - turned.ixz_kg_m2**2 == pytest.approx(before)
    back = in_stability_axes(turned, -alpha)
    assert back.ixz_kg_m2 == pytest.approx(MASS.ixz_kg_m2, abs=1e-12)


def test_a_sheet_model_flies_from_the_hand_to_the_ground(flown):
    _, vehicle, mixer = flown
    trim = trim_level(vehicle, mixer, 10.0)
    plan = FlightPlan(stall_ms=6.5, cruise_ms=10.0, glide_ms=8.8)
    story = first_flight(vehicle, mixer, plan, cruise_alpha_rad=trim.alpha_rad)
    assert story.turns_both_ways
    assert story.landed_as_planned
    assert story.pitch_trim == pytest.approx(trim.pitch_stick, abs=0.05)
    assert story.peak_sideslip_rad < math.radians(10)


def test_ailerons_as_halves_fly_too():
    model = AirModel(layout("flaperon"), Condition(speed_ms=10.0))
    size = model.reference
    vehicle = Vehicle(
        mass=MASS,
        reference=Reference(area_m2=size.area_m2, chord_m=size.chord_m, span_m=size.span_m),
        air=AirModelForces(model),
        propulsion=motor,
    )
    mixer = Mixer(surfaces=(*ailerons(0.3), elevator(0.3), rudder(0.4)))
    mixer = with_servo_directions(vehicle, mixer, 10.0, 0.05).with_differential(0.5)
    trim = trim_level(vehicle, mixer, 10.0)
    assert abs(trim.pitch_stick) < 0.5
    port, starboard, _, _ = mixer.deflections(0.0, 1.0, 0.0)
    assert (port, starboard) == pytest.approx((0.15, -0.3))


def test_thrust_table():
    table = ThrustTable.of(lambda v, t: (2.0 * v + 3.0 * t, v * t), [0.0, 5.0, 20.0], [0.0, 0.4, 1.0])
    assert table(7.0, 0.3) == pytest.approx((14.9, 2.1))
    assert table.thrust(2.0, 1.0) == pytest.approx(7.0)
    assert table(50.0, 2.0) == table(20.0, 1.0)
    assert table(-3.0, -1.0) == table(0.0, 0.0)
    with pytest.raises(SolveError, match="airspeed must rise"):
        ThrustTable([5.0, 1.0], [0.0, 1.0], [[0, 0], [0, 0]], [[0, 0], [0, 0]])
    with pytest.raises(SolveError, match="2 rows of 2 values"):
        ThrustTable([0.0, 1.0], [0.0, 1.0], [[0, 0]], [[0, 0], [0, 0]])
