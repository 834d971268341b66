"""What the nose costs and a larger propeller gives back."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetlark.drive import FLAT_NOSE, STREAMLINED_NOSE, Nose, net_thrust, propeller_sizes
from sheetlark.errors import GeometryError


def test_static_loss_by_hand():
    """Standing still the slipstream just behind the disc has q = T/(4A); far behind T/A."""
    d, thrust, area = 0.2, 5.0, math.pi * 0.01
    exposed = 0.004 - math.pi * 0.02**2
    near = net_thrust(
        thrust_n=thrust, airspeed_ms=0.0, diameter_m=d, nose=Nose(frontal_area_m2=0.004, behind_m=0.0)
    )
    assert near.lost_n == pytest.approx(FLAT_NOSE * exposed * thrust / (4 * area))
    far = net_thrust(
        thrust_n=thrust, airspeed_ms=0.0, diameter_m=d, nose=Nose(frontal_area_m2=0.004, behind_m=1.0)
    )
    assert far.lost_n == pytest.approx(FLAT_NOSE * exposed * thrust / area, rel=0.01)


@given(st.floats(0.0, 30.0), st.floats(0.0, 20.0), st.floats(0.0, 0.02), st.floats(0.0, 0.2))
def test_a_blunter_nose_costs_more(thrust, airspeed, area, behind):
    kinds = [
        net_thrust(
            thrust_n=thrust,
            airspeed_ms=airspeed,
            diameter_m=0.2,
            nose=Nose(frontal_area_m2=area, behind_m=behind, drag_coefficient=c),
        )
        for c in (STREAMLINED_NOSE, FLAT_NOSE)
    ]
    assert 0 <= kinds[0].lost_n <= kinds[1].lost_n
    assert kinds[0].net_n + kinds[0].lost_n == pytest.approx(thrust)


def test_a_spinner_sized_nose_and_a_braking_propeller_cost_nothing():
    small = Nose(frontal_area_m2=0.001, behind_m=0.02)
    assert net_thrust(thrust_n=5.0, airspeed_ms=0.0, diameter_m=0.2, nose=small).lost_n == 0.0
    wide = Nose(frontal_area_m2=0.01, behind_m=0.02)
    assert net_thrust(thrust_n=-1.0, airspeed_ms=10.0, diameter_m=0.2, nose=wide).lost_n == 0.0


def test_a_larger_propeller_gives_back(sport_drive):
    found = propeller_sizes(sport_drive, Nose(frontal_area_m2=0.0144, behind_m=0.05), factors=(1.0, 1.1))
    assert found[1].net.fraction < found[0].net.fraction
    assert found[1].net.net_n > found[0].net.net_n
    assert found[1].point.current_a == pytest.approx(found[0].point.current_a, rel=0.10)


def test_impossible_noses():
    with pytest.raises(GeometryError, match="frontal_area_m2 must be from 0 to 1, got -1"):
        Nose(frontal_area_m2=-1.0, behind_m=0.0)
    with pytest.raises(GeometryError, match=r"drag_coefficient must be from 0 to 1.5, got 9"):
        Nose(frontal_area_m2=0.01, behind_m=0.0, drag_coefficient=9.0)
