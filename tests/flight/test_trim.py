import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetlark.errors import SolveError
from sheetlark.flight import (
    Motion,
    Start,
    balance_range,
    place_battery,
    trim_level,
    trim_with_throttle,
)
from sheetlark.flight.trim import lengthwise_forces


@pytest.mark.parametrize("speed", [8.0, 9.5, 12.0, 13.0])
def test_trimmed_state_does_not_accelerate(model, speed):
    vehicle, mixer = model.vehicle(), model.mixer()
    trim = trim_level(vehicle, mixer, speed)
    motion = Motion(vehicle)
    motion.deflections = trim.deflections_rad
    motion.set_power(speed, trim.throttle)
    motion.torque_nm = 0.0
    rates = motion.rates(Start(height_m=50.0, speed_ms=speed, pitch_rad=trim.alpha_rad).state())
    assert rates[7:10:2] == pytest.approx((0.0, 0.0), abs=1e-5)
    assert rates[11] == pytest.approx(0.0, abs=1e-4)
    assert 0.0 < trim.throttle < 1.0


def test_slower_flight_needs_more_stick_back(model):
    vehicle, mixer = model.vehicle(), model.mixer()
    sticks = [trim_level(vehicle, mixer, v).pitch_stick for v in (8.0, 10.0, 12.0, 13.0)]
    assert sticks == sorted(sticks, reverse=True)


def test_glide_path_is_drag_over_lift(model):
    vehicle, mixer = model.vehicle(), model.mixer()
    glide = trim_with_throttle(vehicle, mixer, 9.0, 0.0)
    X, Z, M = lengthwise_forces(vehicle, mixer, 9.0, glide.alpha_rad, glide.pitch_stick, 0.0)
    sine, cosine = math.sin(glide.alpha_rad), math.cos(glide.alpha_rad)
    lift, drag = X * sine - Z * cosine, -X * cosine - Z * sine
    assert glide.climb_rad < 0.0
    assert math.tan(-glide.climb_rad) == pytest.approx(drag / lift, rel=1e-6)
    assert pytest.approx(0.0, abs=1e-6) == M


def test_throttle_and_level_agree(model):
    vehicle, mixer = model.vehicle(), model.mixer()
    level = trim_level(vehicle, mixer, 11.0)
    again = trim_with_throttle(vehicle, mixer, 11.0, level.throttle)
    assert again.climb_rad == pytest.approx(0.0, abs=1e-6)


def test_refusals_say_why(model):
    vehicle, mixer = model.vehicle(), model.mixer()
    with pytest.raises(SolveError, match=r"no steady flight at 2.5 m/s"):
        trim_level(vehicle, mixer, 2.5)
    with pytest.raises(SolveError, match="the motor has 100 %"):
        trim_level(vehicle, mixer, 18.0)
    with pytest.raises(SolveError, match="of the pitch stick, which has 100 %"):
        trim_level(vehicle, model.mixer(pitch=1.0), 8.5)
    with pytest.raises(SolveError, match="flatter path"):
        trim_level(vehicle, mixer, 11.0, climb_rad=-0.4)


def limits(model, **changes):
    return balance_range(
        model.vehicle(stall_deg=None, **changes),
        model.mixer(),
        stall_ms=6.9,
        stall_alpha_rad=math.radians(6.0),
        cruise_ms=10.0,
        cruise_alpha_rad=0.0,
    )


def test_neutral_point_is_where_the_derivatives_put_it(model):
    found = limits(model)
    # normal force slope is CL_alpha + CD at zero incidence
    assert found.static_margin == pytest.approx(0.55 / (4.2 + 0.06), rel=0.01)
    assert found.aft_limit_m == pytest.approx(found.neutral_aft_m - 0.1 * 0.18)
    assert found.possible


def test_moving_the_balance_point_moves_every_limit_with_it(model):
    """Cm_alpha of the same air about a point 5 % of chord further aft: the margins shrink by that much."""
    here = limits(model)
    there = limits(model, Cm_alpha=-0.55 + 0.05 * (4.2 + 0.06))
    assert there.neutral_aft_m == pytest.approx(here.neutral_aft_m - 0.05 * 0.18, abs=2e-4)


def test_at_the_forward_limit_full_elevator_just_stalls_it(model):
    vehicle, mixer = model.vehicle(stall_deg=None), model.mixer()
    found = limits(model)
    _, Z, M = lengthwise_forces(vehicle, mixer, 6.9, math.radians(6.0), 1.0, 0.0)
    assert M - found.stall_forward_m * Z == pytest.approx(0.0, abs=1e-9)
    weak = balance_range(
        vehicle,
        model.mixer(pitch=5.0),
        stall_ms=6.9,
        stall_alpha_rad=math.radians(6.0),
        cruise_ms=10.0,
        cruise_alpha_rad=0.0,
    )
    assert weak.forward_limit_m > found.forward_limit_m


BATTERY = {
    "all_up_kg": 0.4,
    "balance_x_m": 0.20,
    "battery_kg": 0.07,
    "battery_x_m": 0.10,
    "bay_x_m": (0.06, 0.16),
    "ballast_ahead_x_m": 0.02,
    "ballast_astern_x_m": 0.60,
}


@given(target=st.floats(0.10, 0.40))
def test_battery_and_ballast_reach_the_target(target):
    got = place_battery(**BATTERY, target_x_m=target)
    mass = BATTERY["all_up_kg"]
    moment = mass * BATTERY["balance_x_m"] + BATTERY["battery_kg"] * (got.x_m - BATTERY["battery_x_m"])
    balance = (moment + got.ballast_kg * got.ballast_x_m) / (mass + got.ballast_kg)
    assert balance == pytest.approx(target, abs=1e-9)
    assert got.ballast_kg >= 0.0
    assert got.inside_bay == (got.ballast_kg == 0.0)


def test_battery_refusals():
    with pytest.raises(SolveError, match="beyond the target"):
        place_battery(**{**BATTERY, "ballast_ahead_x_m": 0.3}, target_x_m=0.10)
    with pytest.raises(SolveError, match="must weigh something"):
        place_battery(**{**BATTERY, "battery_kg": 0.0}, target_x_m=0.2)
    with pytest.raises(SolveError, match="from front to back"):
        place_battery(**{**BATTERY, "bay_x_m": (0.2, 0.1)}, target_x_m=0.2)


def test_stalled_wing_has_no_neutral_point(model):
    with pytest.raises(SolveError, match="no neutral point"):
        balance_range(
            model.vehicle(stall_deg=10.0),
            model.mixer(),
            stall_ms=7.0,
            stall_alpha_rad=0.1,
            cruise_ms=6.0,
            cruise_alpha_rad=0.1,
        )


def test_heavier_model_needs_more_incidence(model):
    vehicle = model.vehicle()
    heavy = replace(vehicle, mass=replace(vehicle.mass, mass_kg=0.45))
    assert (
        trim_level(heavy, model.mixer(), 11.0).alpha_rad > trim_level(vehicle, model.mixer(), 11.0).alpha_rad
    )
