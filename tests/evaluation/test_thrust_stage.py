"""The best shaft angles undo what full throttle does, in the model that flies."""

import math

import numpy as np
import pytest

import sheetlark
from sheetlark.design import edited, loads, starter
from sheetlark.flight import Flow, trim_with_throttle


def changed(name, changes):
    return sheetlark.evaluate(loads(edited(starter(name), changes), "mine.toml"))


def moment_left(e):
    """Root mean square of the pitching moment that full throttle adds at trimmed glides, air and pull together."""
    v, f = e.flight.vehicle, e.flight
    added = []
    for speed in np.linspace(1.15 * f.stall_ms, f.performance.top_ms, 4):
        at = trim_with_throttle(v, f.mixer, float(speed), 0.0)
        thrust, _ = v.propulsion(float(speed), 1.0)
        still = Flow(float(speed), at.alpha_rad, at.deflections_rad)
        air = v.air(still._replace(thrust_n=thrust))[4] - v.air(still)[4]
        added.append(air + thrust * v.thrust_line.per_newton()[4])
    return math.sqrt(np.mean(np.square(added)))


def test_the_best_down_thrust_leaves_less_to_trim():
    bad = changed("brambling", {("drive", "down"): -3})
    good = changed("brambling", {("drive", "down"): math.degrees(bad.thrust.best.down_rad)})
    assert moment_left(good) < 0.6 * moment_left(bad)
    assert good.thrust.off_rad < bad.thrust.off_rad
    # The quick trim agrees with trimming each glide in full.
    assert bad.thrust.best.pitch_before_nm == pytest.approx(moment_left(bad), rel=0.25)


def test_a_higher_motor_needs_less_down_thrust():
    low, high = changed("brambling", {}), changed("brambling", {("drive", "motor_at"): [1.5, 0, 25]})
    assert high.thrust.best.down_rad < low.thrust.best.down_rad - math.radians(2)


def test_a_glider_has_no_shaft():
    assert changed("dunnock", {("drive",): None}).thrust is None
