"""How long flight takes: 60 s simulated within 2 s, everything else within 150 ms, 1,000 draws within 5 s."""

from __future__ import annotations

import math

import numpy as np
import pytest

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
from sheetlark.flight import (
    AirModelForces,
    ControlSurface,
    FlightState,
    MassProperties,
    Mixer,
    Polar,
    Reference,
    Start,
    ThrustTable,
    Vehicle,
    balance_range,
    drawn,
    elevator,
    fly,
    in_stability_axes,
    linear_model,
    named_modes,
    performance,
    rudder,
    stability_derivatives,
    stick_effect,
    trim_level,
    turn_entry,
    with_servo_directions,
)

SHEET = Section(thickness_ratio=0.03)
MASS = MassProperties(mass_kg=0.34, ixx_kg_m2=0.005, iyy_kg_m2=0.0095, izz_kg_m2=0.0135, ixz_kg_m2=0.0003)


def motor(airspeed_ms, throttle):
    thrust = max(0.0, 3.2 * throttle * (1.0 - airspeed_ms / 20.0))
    return thrust, 0.02 * thrust


def layout():
    mesh = {"spanwise": 10, "chordwise": 4, "section": SHEET}
    wing = Surface.trapezoid(
        0.85, 0.19, 0.16, 3.0, 4.0, 1.5, name="wing",
        controls=(Control(name="aileron", kind="aileron", hinge_fraction=0.75, from_eta=0.45),), **mesh,
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


class Level:
    """Holds wings level and a trimmed stick, so that every one of the sixty seconds is flown."""

    finished = False

    def __init__(self, stick, throttle):
        self.stick, self.throttle = stick, throttle

    def __call__(self, view):
        return self.stick, -0.4 * view.bank_rad, 0.0, self.throttle


def test_sixty_seconds(benchmark, flown):
    _, vehicle, mixer = flown
    trim = trim_level(vehicle, mixer, 10.0)
    start = Start(height_m=100.0, speed_ms=10.0, pitch_rad=trim.alpha_rad)
    history = benchmark.pedantic(
        lambda: fly(vehicle, mixer, start, Level(trim.pitch_stick, trim.throttle), seconds=60.0), rounds=3
    )
    assert history.time_s[-1] == pytest.approx(60.0)
    if benchmark.enabled:
        assert benchmark.stats["min"] < 2.0


def figures(model, vehicle, mixer):
    """Trim, derivatives, modes, balance range, turn entry and performance, as one evaluation asks for them."""
    lift = np.linspace(0.0, 0.9, 40)
    polar = Polar(lift=lift, drag=0.05 + 0.09 * lift**2)
    found = performance(
        polar,
        lambda v, t: motor(v, t)[0],
        mass_kg=0.34,
        area_m2=vehicle.reference.area_m2,
        lift_slope_per_rad=4.0,
    )
    trim = trim_level(vehicle, mixer, 10.0)
    condition = Condition(
        speed_ms=10.0,
        alpha_rad=trim.alpha_rad,
        thrust_n=trim.thrust_n,
        deflections_rad=dict(zip(vehicle.air.surfaces, trim.deflections_rad, strict=True)),
    )
    slopes = stability_derivatives(
        derivatives_at(model, condition),
        coefficients_at(model, condition),
        trim.alpha_rad,
        elevator="elevator",
        aileron="aileron",
        rudder="rudder",
    )
    linear = linear_model(
        slopes, in_stability_axes(MASS, trim.alpha_rad), vehicle.reference, FlightState(speed_ms=10.0)
    )
    modes = named_modes(linear)
    reach = balance_range(
        vehicle, mixer, stall_ms=6.5, stall_alpha_rad=0.2, cruise_ms=10.0, cruise_alpha_rad=trim.alpha_rad
    )
    entry = turn_entry(linear, stick_effect(vehicle, mixer, 10.0, trim.alpha_rad))
    return found, modes, reach, entry


def test_all_but_the_simulation(benchmark, flown):
    _, modes, reach, _ = benchmark(lambda: figures(*flown))
    assert len(modes) >= 5
    assert reach.chord_m > 0.0
    if benchmark.enabled:
        assert benchmark.stats["median"] < 0.150


def test_thousand_draws_of_performance(benchmark):
    lift = np.linspace(0.0, 0.9, 40)

    def made(x):
        polar = Polar(lift=lift, drag=x[2] * (0.05 + 0.09 * lift**2))
        got = performance(
            polar, lambda v, t: x[1] * motor(v, t)[0], mass_kg=x[0], area_m2=0.15, lift_slope_per_rad=4.0
        )
        return np.array([got.stall_ms, got.top_ms, got.best_climb_ms, got.cruise_throttle])

    mean, spread = np.array([0.34, 1.0, 1.0]), np.array([0.02, 0.08, 0.15])
    draws = benchmark.pedantic(lambda: drawn(made, mean, spread, draws=1000, seed=1), rounds=1)
    assert draws.answered > 0.95
    if benchmark.enabled:
        assert benchmark.stats["min"] < 5.0
