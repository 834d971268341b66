"""The propeller: what it says, how sure it is, and what a reading teaches it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.drive import Propeller, ideal_power_coefficient, measured_family, propeller_of
from sheetlark.drive.family import reynolds_measure
from sheetlark.errors import GeometryError, StockError

STYLES = (
    "direct-drive",
    "folding-cam",
    "free-flight",
    "racing",
    "slow-flight",
    "sport",
    "thin-electric",
    "wood-like",
)
SIZES = st.tuples(st.floats(0.06, 0.50), st.floats(0.25, 1.6), st.sampled_from(STYLES), st.integers(2, 4))


def make(size) -> Propeller:
    diameter, ratio, style, blades = size
    return Propeller(diameter, ratio * diameter, style, blades)


def test_styles_are_those_measured():
    assert measured_family().styles == STYLES


def test_floats_for_floats_and_arrays_for_arrays():
    p = Propeller(0.2286, 0.1143)
    ct, cp = p.coefficients(0.2, 7000.0)
    assert isinstance(ct, float)
    assert isinstance(cp, float)
    many = p.coefficients(np.array([0.0, 0.2]), 7000.0)
    assert many[0].shape == (2,)
    assert many[0][1] == pytest.approx(ct)
    assert p.spread(np.array([0.0, 0.2]), 7000.0)[1].shape == (2,)


@settings(max_examples=150, deadline=None)
@given(SIZES, st.floats(0.0, 5.0), st.floats(1.0, 60_000.0))
def test_always_finite_and_within_momentum_theory(size, advance, rpm):
    who = make(size)
    ct, cp = who.coefficients(advance, rpm)
    spread = who.spread(advance, rpm)
    assert all(math.isfinite(v) for v in (ct, cp, *spread))
    assert all(v > 0 for v in spread)
    if ct > 0:
        assert cp >= float(ideal_power_coefficient(np.array(ct), np.array(advance))) * (1 - 1e-12)
    else:
        assert cp >= ct * advance * 2 / 3 - 1e-12  # a windmill gives at most Betz's share of its drag power


@settings(max_examples=80, deadline=None)
@given(SIZES, st.floats(1000.0, 30_000.0))
def test_pulls_standing_still_and_brakes_in_the_end(size, rpm):
    who = make(size)
    assert who.coefficients(0.0, rpm)[0] > 0
    assert who.coefficients(0.0, rpm)[1] > 0
    assert who.coefficients(3.0 * (who.pitch_ratio + 0.13), rpm)[0] < 0
    assert who.coefficients(6.0 * (who.pitch_ratio + 0.13), rpm)[1] < 0


@settings(max_examples=60, deadline=None)
@given(SIZES, st.floats(1000.0, 30_000.0))
def test_no_jump_where_the_windmilling_form_takes_over(size, rpm):
    who = make(size)
    at = who.pitch_ratio + 0.13
    below, above = (who.coefficients(at * k, rpm) for k in (1 - 1e-7, 1 + 1e-7))
    assert below == pytest.approx(above, abs=1e-5)


def test_more_pitch_more_power_more_blades_more_thrust():
    base = Propeller(0.2286, 0.1143)
    assert Propeller(0.2286, 0.1524).coefficients(0.0, 7000.0)[1] > 1.2 * base.coefficients(0.0, 7000.0)[1]
    three = Propeller(0.2286, 0.1143, blades=3)
    assert 1.15 < three.coefficients(0.0, 7000.0)[0] / base.coefficients(0.0, 7000.0)[0] < 1.4
    assert three.spread(0.0, 7000.0)[0] > base.spread(0.0, 7000.0)[0]


def test_spread_is_that_of_the_family_and_grows_away_from_it():
    near = Propeller(0.2286, 0.1143, "sport").spread(0.0, 7000.0)
    assert 0.06 < near[0] < 0.14
    assert 0.08 < near[1] < 0.20
    assert Propeller(0.05, 0.025, "sport").spread(0.0, 20_000.0)[0] > 1.5 * near[0]


@settings(max_examples=60, deadline=None)
@given(SIZES, st.floats(0.85, 1.15), st.floats(0.85, 1.15))
def test_a_reading_is_believed_and_shrinks_the_spread(size, thrust_off, power_off):
    who = make(size)
    rpm, n, d = 7000.0, 7000.0 / 60, who.diameter_m
    ct, cp = who.coefficients(0.0, rpm)
    thrust, power = (ct * thrust_off * 1.225 * n**2 * d**4, cp * power_off * 1.225 * n**3 * d**5)
    floor = float(ideal_power_coefficient(np.array(ct * thrust_off), np.array(0.0))) / 0.75
    told = who.calibrated(rpm=rpm, thrust_n=thrust, power_w=power)
    got = told.coefficients(0.0, rpm)
    assert got[0] == pytest.approx(ct * thrust_off, rel=0.02)
    assert got[1] == pytest.approx(max(cp * power_off, floor), rel=0.03)
    before, after = who.spread(0.1, rpm), told.spread(0.1, rpm)
    assert after[0] < before[0]
    assert after[1] < before[1]


def test_a_thrust_reading_moves_power_too():
    who = Propeller(0.2286, 0.1143, "sport")
    ct, cp = who.coefficients(0.0, 7000.0)
    n, d = 7000.0 / 60, 0.2286
    told = who.calibrated(rpm=7000.0, thrust_n=1.15 * ct * 1.225 * n**2 * d**4)
    assert told.coefficients(0.0, 7000.0)[1] > 1.03 * cp
    assert who.coefficients(0.0, 7000.0) == (ct, cp)  # the first is left as it was


def test_density_is_taken_out_of_a_reading():
    who = Propeller(0.2286, 0.1143)
    thin = who.calibrated(rpm=7000.0, thrust_n=4.0, density_kg_m3=1.0)
    thick = who.calibrated(rpm=7000.0, thrust_n=4.9, density_kg_m3=1.225)
    assert thin.coefficients(0.1, 7000.0) == pytest.approx(thick.coefficients(0.1, 7000.0))


def test_reynolds_measure_is_smooth_and_bounded():
    rpm = np.geomspace(1.0, 1e6, 4000)
    measure = reynolds_measure(0.2286, rpm)
    assert (np.diff(measure) >= 0).all()
    assert measure[0] > -1.61
    assert measure[-1] < 1.11
    assert np.diff(measure).max() < 0.004


@pytest.mark.parametrize(
    ("arguments", "error", "words"),
    [
        ((0.0, 0.1), GeometryError, "diameter_m must be between 0.01 and 2 m, got 0"),
        ((math.nan, 0.1), GeometryError, "diameter_m must be between"),
        ((0.2, 0.01), GeometryError, "pitch over diameter must be between 0.1 and 2.5, got 0.05"),
        (
            (0.2, 0.1, "sports"),
            StockError,
            "no blade style 'sports'; known are direct-drive, .*did you mean 'sport'",
        ),
        ((0.2, 0.1, "sport", 1), GeometryError, "2 to 6 blades here, got 1"),
    ],
)
def test_impossible_propellers(arguments, error, words):
    with pytest.raises(error, match=words):
        Propeller(*arguments)


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        ({"rpm": 7000.0}, "needs thrust_n or power_w"),
        ({"rpm": 0.0, "thrust_n": 3.0}, "rpm must be above 0, got 0"),
        (
            {"rpm": 7000.0, "thrust_n": 300.0},
            r"a thrust of 300 N at 7000 rpm is .* times what this size gives .*Check the units",
        ),
        ({"rpm": 7000.0, "power_w": -1.0}, "power_w must be above 0"),
    ],
)
def test_impossible_readings(reading, words):
    with pytest.raises(GeometryError, match=words):
        Propeller(0.2286, 0.1143).calibrated(**reading)


def test_impossible_questions():
    who = Propeller(0.2286, 0.1143)
    with pytest.raises(GeometryError, match=r"advance_ratio must be 0 or above, got -0.1"):
        who.coefficients(-0.1, 7000.0)
    with pytest.raises(GeometryError, match="rpm must be above 0, got 0"):
        who.spread(0.1, 0.0)


@settings(max_examples=100, deadline=None)
@given(SIZES, st.floats(0.5, 35.0))
def test_torque_at_an_airspeed_rises_with_speed(size, airspeed):
    """Windmilling too: so a motor has one speed to settle at."""
    who = make(size)
    rpm = np.geomspace(20.0, 40_000.0, 400)
    cp = who.coefficients(airspeed / (rpm / 60 * who.diameter_m), rpm)[1]
    torque = cp * rpm**2
    assert (np.diff(torque) > -1e-9 * np.abs(torque[:-1])).all()


def test_a_stock_entry_that_cannot_be_is_named(stock):
    entry = stock.propeller("8x4.5-thin-electric")
    with pytest.raises(StockError, match=r"propeller '8x4.5-thin-electric' in stock: no blade style 'thin'"):
        propeller_of(replace(entry, style="thin"))
    with pytest.raises(StockError, match="in stock: a propeller has 2 to 6 blades here, got 1"):
        propeller_of(replace(entry, blades=1))
