"""Motor and cells on their own."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetlark.drive import open_circuit_v, winding_temperature_k
from sheetlark.drive.battery import resistance_factor
from sheetlark.drive.motor import no_load_current, torque_constant, warm_resistance
from sheetlark.errors import SolveError


def test_torque_constant_and_speed_constant_are_one():
    """A watt is a watt: Kt in N m/A equals the back voltage per rad/s."""
    kv_rad = 1000.0 * 2 * math.pi / 60
    assert torque_constant(1000.0) == pytest.approx(1 / kv_rad)


def test_no_load_current_doubles_by_ten_thousand():
    assert no_load_current(10_000.0, current_a=0.4, reference_rpm=0.0) == pytest.approx(0.8)
    assert no_load_current(7000.0, current_a=0.4, reference_rpm=7000.0) == pytest.approx(0.4)


def test_copper_warms():
    assert warm_resistance(0.1, 293.15 + 100) == pytest.approx(0.139)


def test_winding_temperature_is_a_fixed_point(stock):
    """Put the found temperature's resistance back into the heat: the same rise comes out."""
    motor = stock.motor("2212-1000")
    warm = winding_temperature_k(motor, current_a=12.0, iron_loss_w=4.0)
    heat = float(warm_resistance(motor.resistance_ohm, warm)) * 144.0 + 4.0
    assert warm - 293.15 == pytest.approx(heat * 30.0 / (motor.mass_kg * 1e3) ** (2 / 3))
    assert 320 < warm < 420


def test_windings_run_away(stock):
    assert math.isinf(winding_temperature_k(stock.motor("2212-1000"), current_a=80.0, iron_loss_w=0.0))


@given(st.floats(0.0, 10.0), st.floats(0.0, 5.0))
def test_more_heat_is_warmer(amps, iron):
    from sheetlark.stock import load_stock

    motor = load_stock().motor("2212-1000")
    at = winding_temperature_k(motor, current_a=amps, iron_loss_w=iron)
    assert winding_temperature_k(motor, current_a=amps + 0.5, iron_loss_w=iron) > at
    assert (
        winding_temperature_k(replace(motor, mass_kg=2 * motor.mass_kg), current_a=amps, iron_loss_w=iron)
        <= at
    )


def test_heat_needs_a_figure(stock):
    with pytest.raises(SolveError, match="current and iron loss must be 0 or above, got -1 A and 0 W"):
        winding_temperature_k(stock.motor("2212-1000"), current_a=-1.0, iron_loss_w=0.0)


def test_cells_at_rest():
    assert open_circuit_v(1.0) == 4.20
    assert open_circuit_v(0.5) == pytest.approx(3.84)
    assert (np.diff(open_circuit_v(np.linspace(0, 1, 200))) > 0).all()


def test_cells_cold_and_empty():
    assert resistance_factor(0.5, 298.15) == pytest.approx(1.0)
    assert resistance_factor(0.5, 278.15) == pytest.approx(1.6, rel=0.01)
    assert resistance_factor(0.0, 298.15) == pytest.approx(1.5)
    assert resistance_factor(0.5, 200.0) == 3.0
