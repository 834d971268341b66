"""How long the battery lasts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sheetlark.drive import Phase, duration, equilibrium
from sheetlark.errors import SolveError


def test_charge_is_current_times_time(sport_drive):
    d = duration(sport_drive, Phase(share=1, airspeed_ms=12.0, throttle=1.0))
    used = sport_drive.pack.capacity_ah * 3600 * (1 - d.charge_left)
    assert d.ends == "reserve"
    assert d.charge_left == pytest.approx(0.2)
    assert d.mean_current_a * d.time_s == pytest.approx(used, rel=1e-9)
    at_mean = equilibrium(sport_drive, 12.0, 1.0, 0.6).current_a + 0.25
    assert d.mean_current_a == pytest.approx(at_mean, rel=0.03)


def test_a_mix_lies_between(sport_drive):
    full = Phase(share=1, airspeed_ms=12.0, throttle=1.0)
    cruise = Phase(share=3, airspeed_ms=12.0, thrust_n=1.0)
    t_full, t_cruise, t_mix = (duration(sport_drive, *p).time_s for p in ((full,), (cruise,), (full, cruise)))
    assert t_full < t_mix < t_cruise
    # currents mix by share: 1/t is their mean, within how they change with the charge
    assert 1 / t_mix == pytest.approx(0.25 / t_full + 0.75 / t_cruise, rel=0.01)


def test_twice_the_pack_lasts_more_than_twice(sport_drive):
    twice = replace(
        sport_drive,
        pack=replace(
            sport_drive.pack,
            capacity_ah=2.6,
            resistance_per_cell_ohm=sport_drive.pack.resistance_per_cell_ohm / 2,
        ),
    )
    hold = Phase(share=1, airspeed_ms=12.0, thrust_n=1.5)
    assert duration(twice, hold).time_s > 2 * duration(sport_drive, hold).time_s


def test_a_weak_pack_hits_the_cut_off(sport_drive):
    weak = replace(sport_drive, pack=replace(sport_drive.pack, resistance_per_cell_ohm=0.11))
    d = duration(weak, Phase(share=1, airspeed_ms=0.0, throttle=1.0))
    assert d.ends == "cut-off"
    assert 0.5 < d.charge_left < 1.0
    assert d.least_cell_v < 3.0


def test_a_sagging_pack_stops_holding_a_thrust(sport_drive):
    top = equilibrium(sport_drive, 10.0, 1.0, 0.6).thrust_n
    d = duration(sport_drive, Phase(share=1, airspeed_ms=10.0, thrust_n=top))
    assert d.ends == "thrust"
    assert 0.55 < d.charge_left < 0.65


def test_gliding_lasts_until_the_radio_is_done(sport_drive):
    d = duration(sport_drive, Phase(share=1, airspeed_ms=10.0, throttle=0.0), reserve=0.0)
    assert d.time_s == pytest.approx(1.3 * 3600 / 0.25, rel=1e-6)
    with pytest.raises(SolveError, match="draws no current"):
        duration(sport_drive, Phase(share=1, airspeed_ms=0.0, throttle=0.0), radio_a=0.0)


def test_impossible_phases(sport_drive):
    with pytest.raises(SolveError, match="either a throttle or a thrust_n"):
        Phase(share=1, airspeed_ms=0.0)
    with pytest.raises(SolveError, match="share must be above 0, got 0"):
        Phase(share=0, airspeed_ms=0.0, throttle=1.0)
    with pytest.raises(SolveError, match="at least one phase"):
        duration(sport_drive)
    with pytest.raises(SolveError, match=r"reserve must be from 0 to 0.95 of the charge, got 1"):
        duration(sport_drive, Phase(share=1, airspeed_ms=0.0, throttle=1.0), reserve=1.0)
