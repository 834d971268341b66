import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetlark.errors import SolveError
from sheetlark.flight import Polar, climb_rates, cubic_band, glides, performance, stall_speed, turn_radius

LIFT = np.linspace(-0.3, 1.0, 131)
POLAR = Polar(lift=LIFT, drag=0.05 + 0.09 * LIFT**2)


def thrust(speed, throttle):
    return max(0.0, 3.0 * throttle * (1.0 - speed / 22.0))


def made(**changes):
    return performance(
        POLAR, thrust, **{"mass_kg": 0.38, "area_m2": 0.15, "lift_slope_per_rad": 4.3, **changes}
    )


def test_figures_stand_in_order():
    got = made()
    # in a glide the drag carries part of the weight, so the slowest glide is a little below the stall
    assert 0.98 * got.stall_ms < got.least_sink.airspeed_ms <= got.best_glide.airspeed_ms
    assert got.stall_ms < got.cruise_ms < got.top_ms
    assert 0.0 < got.cruise_throttle < 1.0
    assert got.best_climb_ms > 0.0
    assert got.climb.climb_ms.shape == (6, 81)
    assert got.gust_limit_ms > 0.0


def test_cruise_throttle_holds_level_flight():
    got = made(cruise_ms=11.0)
    rate = climb_rates(POLAR, 0.38, 0.15, np.array([11.0]), np.array([thrust(11.0, got.cruise_throttle)]))
    assert rate[0] == pytest.approx(0.0, abs=2e-3)


def test_more_throttle_climbs_more_and_zero_sinks():
    table = made().climb.climb_ms
    assert (np.diff(table, axis=0) >= -1e-9).all()
    assert np.nanmax(table[0]) < 0.0


@given(st.floats(0.2, 1.0), st.floats(0.08, 0.4))
def test_glide_angle_does_not_depend_on_mass(mass, area):
    best, _ = glides(POLAR, mass, area)
    assert best.lift_to_drag == pytest.approx(1 / (2 * math.sqrt(0.05 * 0.09)), rel=1e-3)
    assert best.sink_ms == pytest.approx(best.airspeed_ms * math.sin(best.path_rad), rel=1e-6)


def test_stall_and_turn_scale():
    assert stall_speed(0.4, 0.15, 1.0, load_factor=4.0) == pytest.approx(2 * stall_speed(0.4, 0.15, 1.0))
    assert turn_radius(20.0, 0.5) == pytest.approx(4 * turn_radius(10.0, 0.5))


def test_climb_steeper_than_straight_up_is_straight_up():
    rate = climb_rates(POLAR, 0.1, 0.15, np.array([10.0]), np.array([9.0]))
    assert rate[0] == pytest.approx(10.0, rel=1e-6)


@pytest.mark.parametrize(
    ("loading", "band"), [(2.0, "indoor"), (6.0, "park and trainer"), (9.9, "sport"), (40.0, "expert")]
)
def test_bands(loading, band):
    assert cubic_band(loading) == band


def test_cubic_loading_of_a_worked_model():
    """22 lb on 1780 in² has a cubic loading of 8.10 oz/ft³, which is kg/m³ within 0.2 % (trade practice)."""
    got = performance(
        POLAR,
        lambda _v, t: 60.0 * t,
        mass_kg=22 * 0.45359237,
        area_m2=1780 * 0.0254**2,
        lift_slope_per_rad=4.3,
    )
    assert got.cubic_loading_kg_m3 == pytest.approx(8.10, rel=2e-3)
    assert got.cubic_band == "sport"


def test_refusals():
    with pytest.raises(SolveError, match="cannot hold level flight: the best it does is sink"):
        performance(POLAR, lambda _v, _t: 0.1, mass_kg=0.38, area_m2=0.15, lift_slope_per_rad=4.3)
    with pytest.raises(SolveError, match="must be positive, got -1 kg"):
        made(mass_kg=-1.0)
    with pytest.raises(SolveError, match="must rise throughout"):
        Polar(lift=np.array([0.0, 0.5, 0.4]), drag=np.ones(3))
    with pytest.raises(SolveError, match="drag must be positive"):
        Polar(lift=np.array([0.0, 0.5, 0.6]), drag=np.array([0.1, 0.0, 0.1]))
    with pytest.raises(SolveError, match="three or more"):
        Polar(lift=np.array([0.0, 0.5]), drag=np.ones(2))
