"""Throws, linkages and turns of whole designs, against other ways to the same figures."""

import math

import numpy as np
import pytest

import sheetlark
from sheetlark.design import edited, loads, starter
from sheetlark.flight import (
    SIDESLIP_LIMIT_RAD,
    FlightState,
    Linkage,
    hinge_moment,
    linearised,
    response,
    stick_effect,
    turn_entry,
)
from sheetlark.flight.simulate import Start


def changed(name, changes):
    return sheetlark.evaluate(loads(edited(starter(name), changes), "mine.toml"))


@pytest.fixture(scope="module")
def biplane():
    return changed("brambling", {})


SHORT = {
    ("body", "profile"): "M 0 44 C 40 50, 90 48, 150 44 L 220 42 C 295 34, 386 24, 466 20 L 466 6 "
    "C 371 -2, 280 -36, 200 -46 L 60 -50 C 30 -50, 12 -48, 0 -44 Z",
    ("body", "width"): [[0, 92], [60, 92], [220, 74], [466, 14]],
    ("body", "former", 3, "at"): 303,
    ("body", "aft_deck", "end"): 356,
    ("tailplane", "at"): [352, 18],
    ("fin", 0, "at"): [344, 20],
    ("wing", 1, "aileron", "down"): 22,
}


def test_the_stated_throws_give_the_roll_the_air_gives(biplane):
    """Damping and aileron derivatives against moving the stick in the air's own model."""
    f = biplane.flight
    felt = response(f.vehicle, f.mixer, f.cruise_ms, f.cruise.alpha_rad)
    assert biplane.controls.roll_rate_rad_s == pytest.approx(abs(felt.roll_rate), rel=0.15)


def test_hinge_moments_are_of_the_size_of_thin_aerofoil_theory(biplane):
    rudder = next(c for c in biplane.controls.servos if c.moves == "rudder")
    fin = biplane.airframe.fins[0]
    area = biplane.air.results.hinges[-1].area_m2
    chord = biplane.air.results.hinges[-1].chord_m
    theory = hinge_moment(
        flap_span_m=area / chord,
        flap_chord_m=chord,
        chord_ratio=0.45,
        airspeed_ms=biplane.flight.performance.top_ms,
        throw_rad=rudder.up_rad,
        density_kg_m3=biplane.flight.vehicle.density_kg_m3,
        real=True,
    )
    # A fin of little span carries much less than the two-dimensional flap, but not a tenth of it.
    assert 0.3 * abs(theory) < rudder.hinge_moment_nm < 1.2 * abs(theory)
    assert fin.control.up_rad == rudder.up_rad


def test_servo_torque_is_the_hinge_moment_through_the_linkage(biplane):
    for c in biplane.controls.servos:
        stated = biplane.design.radio.servo[c.where]
        linkage = Linkage(arm_m=stated.arm, horn_m=stated.horn, distance_m=stated.push_rod_length)
        gear = max(abs(linkage.gearing(t)) for t in (c.servo_up_rad, -c.servo_down_rad))
        assert c.servo_torque_nm <= c.hinge_moment_nm * gear * (1 + 1e-9)
        assert c.servo_torque_nm > 0.5 * c.hinge_moment_nm * gear
        assert c.best.servo_torque_nm <= c.servo_torque_nm * (1 + 1e-9)
        assert c.best.travel_used <= 1.0
        assert linkage.surface_angle(c.servo_up_rad) == pytest.approx(c.up_rad, abs=1e-5)


def test_travel_at_the_trailing_edge_is_chord_times_sine(biplane):
    aileron = next(c for c in biplane.controls.servos if c.moves == "aileron")
    wing = biplane.airframe.wings[1]
    _, chord = wing.chord_at(wing.control.start)
    assert aileron.up_m == pytest.approx(0.28 * chord * math.sin(aileron.up_rad), rel=1e-6)


def test_the_mix_is_the_least_that_keeps_the_turn_tidy():
    e = changed("brambling", SHORT)
    c, f = e.controls, e.flight
    assert c.entry.peak_sideslip_rad > SIDESLIP_LIMIT_RAD
    assert 0.0 < c.rudder_mix < 1.0
    assert c.coordinated.peak_sideslip_rad <= SIDESLIP_LIMIT_RAD
    less = stick_effect(
        f.vehicle, f.mixer.with_rudder_mix(0.95 * c.rudder_mix), f.cruise_ms, c.cruise_alpha_rad
    )
    assert turn_entry(f.linear, less).peak_sideslip_rad > SIDESLIP_LIMIT_RAD
    assert 0.0 < c.differential <= 1.0
    assert c.slow.peak_sideslip_rad > c.coordinated.peak_sideslip_rad


def test_a_tidy_model_needs_no_mix(biplane):
    assert biplane.controls.rudder_mix == 0.0
    assert biplane.controls.coordinated is biplane.controls.entry


@pytest.mark.parametrize("name", ["dunnock", "brambling"])
def test_the_flown_motion_has_the_linear_modes(name):
    """The non-linear equations with a starter's whole air, linearised at its glide, against the modes by derivatives."""
    e = changed(name, {("drive", "motor_at"): [0, 0, 0]})
    f, v = e.flight, e.flight.vehicle
    from sheetlark.air import Condition, coefficients_at, derivatives_at
    from sheetlark.evaluation.vehicle import controls_of
    from sheetlark.flight import in_stability_axes, linear_model, named_modes, stability_derivatives

    glide = f.glide
    at = Condition(
        speed_ms=glide.airspeed_ms,
        density_kg_m3=v.density_kg_m3,
        viscosity_m2_s=e.air.results.condition.viscosity_m2_s,
        alpha_rad=glide.alpha_rad,
        deflections_rad=e.flight.vehicle.air.drive_angles(e.air.model, glide.deflections_rad),
    )
    elevator, aileron, rudder = controls_of(e.air.model.drives)
    d = stability_derivatives(
        derivatives_at(e.air.model, at),
        coefficients_at(e.air.model, at),
        glide.alpha_rad,
        elevator=elevator,
        aileron=aileron,
        rudder=rudder,
    )
    state = FlightState(speed_ms=glide.airspeed_ms, density_kg_m3=v.density_kg_m3, climb_rad=glide.climb_rad)
    linear = linear_model(d, in_stability_axes(v.mass, glide.alpha_rad), v.reference, state)
    start = Start(
        height_m=100.0,
        speed_ms=glide.airspeed_ms,
        pitch_rad=glide.alpha_rad + glide.climb_rad,
        path_rad=glide.climb_rad,
    ).state()
    roots = np.linalg.eigvals(linearised(v, glide.deflections_rad, 0.0, 0.0, start))
    for mode in named_modes(linear):
        root = complex(mode.real, mode.imag)
        # 5 %; the slow roots, which are small differences of large numbers, to 0.1 a second.
        assert np.abs(roots - root).min() < 0.05 * abs(root) + 0.10, (mode.name, root, roots)
