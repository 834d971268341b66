"""Glide and climb against closed forms for a quadratic polar, CD = CD0 + k CL².

B. W. McCormick, "Aerodynamics, Aeronautics and Flight Mechanics", 2nd ed., 1995, ch. 7 (from memory); the forms
follow at once from the polar.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from sheetlark.flight import Polar, climb_rates, glides, performance, stall_speed, turn_radius

pytestmark = pytest.mark.published
SOURCE = "closed forms of a quadratic polar, McCormick 1995, ch. 7"
CD0, K, CL_MAX = 0.04, 0.08, 1.1
MASS, AREA, RHO, G = 0.4, 0.16, 1.225, 9.80665


@pytest.fixture(scope="module")
def polar():
    lift = np.linspace(-0.4, CL_MAX, 601)
    return Polar(lift=lift, drag=CD0 + K * lift**2)


def test_best_glide_and_least_sink(record_error, polar):
    best, least = glides(polar, MASS, AREA, RHO)
    record_error(
        case="best lift over drag",
        got=best.lift_to_drag,
        published=1 / (2 * math.sqrt(CD0 * K)),
        tolerance=1e-4,
        source=SOURCE,
    )
    lift = math.sqrt(CD0 / K)
    path = math.atan(2 * math.sqrt(CD0 * K))
    record_error(
        case="best-glide airspeed",
        got=best.airspeed_ms,
        published=math.sqrt(2 * MASS * G * math.cos(path) / (RHO * AREA * lift)),
        tolerance=2e-3,
        source=SOURCE,
    )
    # least sink at three times the parasite drag is past this wing's stall? sqrt(3*CD0/K) = 1.22 > 1.1: at the stall
    assert least.airspeed_ms == pytest.approx(
        stall_speed(MASS, AREA, math.hypot(CL_MAX, CD0 + K * CL_MAX**2), RHO), rel=1e-3
    )


def test_least_sink_inside_the_polar(record_error):
    lift = np.linspace(-0.2, 1.4, 801)
    cd0, k = 0.02, 0.05
    _, least = glides(Polar(lift=lift, drag=cd0 + k * lift**2), MASS, AREA, RHO)
    # exact, path's slope included: sink = sqrt(2W/(rho S)) CD/(CL²+CD²)^(3/4), least by a search of our own in CL
    trial = np.linspace(0.5, 1.4, 200001)
    drag = cd0 + k * trial**2
    sink = np.sqrt(2 * MASS * G / (RHO * AREA)) * drag / (trial**2 + drag**2) ** 0.75
    record_error(case="least sink", got=least.sink_ms, published=sink.min(), tolerance=1e-4, source=SOURCE)
    record_error(
        case="least sink, shallow closed form CL = √(3 CD0/k)",
        got=least.sink_ms,
        published=math.sqrt(2 * MASS * G / (RHO * AREA)) * 4 * cd0 / math.sqrt(3 * cd0 / k) ** 1.5,
        tolerance=0.01,
        source=SOURCE,
    )


def test_top_speed_and_climb(record_error, polar):
    thrust = 2.0
    found = performance(polar, lambda _v, t: thrust * t, mass_kg=MASS, area_m2=AREA, lift_slope_per_rad=4.5)
    # constant thrust: (V²)² (CD0 rho S/2) - T V² + k W² 2/(rho S) = 0
    a, c = CD0 * RHO * AREA / 2, K * (MASS * G) ** 2 * 2 / (RHO * AREA)
    top = math.sqrt((thrust + math.sqrt(thrust**2 - 4 * a * c)) / (2 * a))
    record_error(
        case="top speed at constant thrust", got=found.top_ms, published=top, tolerance=1e-3, source=SOURCE
    )
    # steepest climb: sin γ = T/W - D/W with L = W cos γ; by a separate bracketing solution
    speed = 12.0
    q = 0.5 * RHO * speed**2 * AREA
    sine = 0.0
    for _ in range(200):
        sine += 0.3 * ((thrust - q * CD0 - K * (MASS * G) ** 2 * (1 - sine**2) / q) / (MASS * G) - sine)
    got = float(climb_rates(polar, MASS, AREA, np.array([speed]), np.array([thrust]), RHO)[0])
    record_error(case="climb at 12 m/s", got=got, published=speed * sine, tolerance=1e-3, source=SOURCE)


def test_turn_and_stall(record_error):
    """(V²/g)/tan φ, and a worked stall: 0.35 kg on 0.14 m² at CLmax 0.8 stalls at 7.07 m/s."""
    record_error(
        case="turn radius at 45°",
        got=turn_radius(10.0, math.pi / 4),
        published=100 / 9.80665,
        tolerance=1e-9,
        source=SOURCE,
    )
    record_error(
        case="stall speed",
        got=stall_speed(0.35, 0.14, 0.8),
        published=7.07,
        tolerance=1e-3,
        source="definition of CL",
    )
