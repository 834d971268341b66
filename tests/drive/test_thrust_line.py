"""What power does to trim, and the angles against it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sheetlark.drive import PowerLayout, best_thrust_angles, full_throttle, power_moments
from sheetlark.errors import GeometryError

SPEEDS = np.linspace(7.0, 18.0, 8)
PLAIN = PowerLayout(balance_m=(0.30, 0.0, 0.0), disc_m=(0.0, 0.0, 0.0))


def moments(layout, thrust=5.0, torque=0.0):
    ones = np.ones_like(SPEEDS)
    return power_moments(
        layout, airspeed_ms=SPEEDS, thrust_n=thrust * ones, torque_nm=torque * ones, diameter_m=0.2286
    )


def test_thrust_above_the_balance_point_noses_down():
    high = moments(replace(PLAIN, disc_m=(0.0, 0.0, 0.03)))
    assert high.pitch_nm == pytest.approx(-0.15 * np.ones_like(SPEEDS))
    low = moments(replace(PLAIN, disc_m=(0.0, 0.0, -0.03)))
    assert low.pitch_nm == pytest.approx(0.15 * np.ones_like(SPEEDS))


def test_down_thrust_noses_down_and_right_thrust_noses_right():
    tilt = math.radians(2.0)
    assert moments(replace(PLAIN, down_rad=tilt)).pitch_nm == pytest.approx(
        -5 * 0.3 * math.sin(tilt) * np.ones(8)
    )
    assert moments(replace(PLAIN, right_rad=tilt)).yaw_nm == pytest.approx(
        5 * 0.3 * math.sin(tilt) * np.ones(8)
    )


def test_a_pusher_turns_the_angles_round():
    behind = replace(PLAIN, disc_m=(0.6, 0.0, 0.0), down_rad=math.radians(2.0))
    assert (moments(behind).pitch_nm > 0).all()


def test_a_starboard_engine_noses_to_port():
    assert (moments(replace(PLAIN, disc_m=(0.0, 0.2, 0.0))).yaw_nm < 0).all()


def test_torque_rolls_against_the_propeller():
    assert moments(PLAIN, torque=0.1).roll_torque_nm == pytest.approx(-0.1 * np.ones(8))
    assert moments(replace(PLAIN, right_hand=False), torque=0.1).roll_torque_nm == pytest.approx(
        0.1 * np.ones(8)
    )


def test_swirl_on_a_high_fin_noses_to_port_and_a_mirror_image_mirrors():
    fin = replace(PLAIN, fin_area_m2=0.006, fin_x_m=0.8)
    right, left = moments(fin, torque=0.1), moments(replace(fin, right_hand=False), torque=0.1)
    assert (right.yaw_nm < 0).all()
    assert left.yaw_nm == pytest.approx(-right.yaw_nm)
    level = moments(replace(fin, fin_below_m2=0.006), torque=0.1)
    assert level.yaw_nm == pytest.approx(np.zeros(8))


def test_swirl_carries_no_more_than_the_torque():
    """The side force on the fin cannot exceed the swirl's own momentum: full stop of it would."""
    fin = replace(PLAIN, fin_area_m2=0.006, fin_x_m=0.8)
    thrust, torque = 5.0, 0.1
    yaw = moments(fin, thrust, torque).yaw_nm
    assert (np.abs(yaw) < 0.5 * torque / (2 / 3 * 0.08) * 0.5).all()


def test_a_lifting_tail_in_the_slipstream_noses_down():
    tail = replace(PLAIN, tail_area_m2=0.015, tail_x_m=0.8, tail_lift_coefficient=0.1)
    assert (moments(tail).pitch_nm < 0).all()
    assert (moments(replace(tail, tail_lift_coefficient=-0.1)).pitch_nm > 0).all()


def test_best_angles_cancel_what_tilting_can(sport_drive):
    thrust, torque = full_throttle(sport_drive, SPEEDS)
    layout = replace(
        PLAIN,
        disc_m=(0.0, 0.0, -0.01),
        tail_area_m2=0.01,
        tail_x_m=0.8,
        tail_lift_coefficient=-0.05,
        fin_area_m2=0.005,
        fin_x_m=0.8,
    )
    with_drive = {"airspeed_ms": SPEEDS, "thrust_n": thrust, "torque_nm": torque, "diameter_m": 0.2286}
    best = best_thrust_angles(layout, **with_drive)
    assert best.pitch_after_nm < 0.2 * best.pitch_before_nm
    assert best.yaw_after_nm < 0.2 * best.yaw_before_nm
    assert 0.5 < math.degrees(best.down_rad) < 6.0
    assert 0.5 < math.degrees(best.right_rad) < 6.0

    def left(down: float, right: float) -> float:
        m = power_moments(replace(layout, down_rad=down, right_rad=right), **with_drive)
        return float(np.mean(m.pitch_nm**2)), float(np.mean(m.yaw_nm**2))

    pitch, yaw = left(best.down_rad, best.right_rad)
    step = math.radians(0.5)
    for sign in (-1, 1):  # it is a minimum
        assert left(best.down_rad + sign * step, best.right_rad)[0] > pitch
        assert left(best.down_rad, best.right_rad + sign * step)[1] > yaw


def test_angles_are_held():
    high = replace(PLAIN, disc_m=(0.0, 0.0, -0.2))
    ones = np.ones_like(SPEEDS)
    best = best_thrust_angles(
        high, airspeed_ms=SPEEDS, thrust_n=5 * ones, torque_nm=0 * ones, diameter_m=0.2286
    )
    assert math.degrees(best.down_rad) == pytest.approx(8.0)
    assert best.right_rad == pytest.approx(0.0)


def test_impossible_layouts():
    with pytest.raises(GeometryError, match="down_rad must be within 30 deg, got 40 deg"):
        replace(PLAIN, down_rad=math.radians(40.0))
    with pytest.raises(GeometryError, match="finite number"):
        replace(PLAIN, disc_m=(0.0, math.nan, 0.0))
    beside = replace(PLAIN, disc_m=(0.30, 0.0, 0.05))
    ones = np.ones_like(SPEEDS)
    with pytest.raises(GeometryError, match="beside the balance point"):
        best_thrust_angles(beside, airspeed_ms=SPEEDS, thrust_n=ones, torque_nm=ones, diameter_m=0.2)
