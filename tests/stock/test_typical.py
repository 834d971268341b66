"""The relations that fill in what a maker leaves out."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetlark.stock import typical

STATORS = st.tuples(st.floats(0.010, 0.030), st.floats(0.003, 0.020))


def test_winding_anchor():
    assert typical.winding_resistance_ohm(0.022, 0.012, 1000.0) == pytest.approx(0.110, rel=0.02)
    assert typical.no_load_current_a(0.022, 0.012, 1000.0, 10.0) == pytest.approx(0.5, rel=0.02)


@given(STATORS, st.floats(600.0, 3000.0))
def test_rewinding_keeps_the_motor_constant(stator, kv):
    """Half the turns: Kv doubles, resistance falls to a quarter (less the leads)."""
    one = typical.winding_resistance_ohm(*stator, kv) - 0.005
    two = typical.winding_resistance_ohm(*stator, 2 * kv) - 0.005
    assert two == pytest.approx(one / 4, rel=1e-9)


@given(STATORS, st.floats(600.0, 3000.0))
def test_a_larger_stator_resists_less(stator, kv):
    d, h = stator
    assert typical.winding_resistance_ohm(1.1 * d, h, kv) < typical.winding_resistance_ohm(d, h, kv)
    assert typical.winding_resistance_ohm(d, 1.1 * h, kv) < typical.winding_resistance_ohm(d, h, kv)


def test_masses_grow():
    assert typical.propeller_mass_kg(0.254, "thin-electric", 2) == pytest.approx(0.017)
    assert typical.propeller_mass_kg(0.254, "thin-electric", 3) == pytest.approx(0.0238)
    assert typical.pack_mass_kg(3, 1.5) == pytest.approx(0.129, rel=1e-3)


def test_pack_size_holds_its_mass():
    size = typical.pack_size_m(0.100)
    assert math.prod(size) == pytest.approx(0.100 / 2000.0)
