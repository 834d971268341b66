"""Where motor, propeller and battery settle: the energy closes, and more never gives less."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.drive import Circuits, DriveLine, equilibrium, open_circuit_v, propeller_of, settle, throttled
from sheetlark.errors import SolveError
from sheetlark.stock import load_stock

STOCK = load_stock()
DRIVES = st.builds(
    lambda m, p, b, e, k: DriveLine(
        motor=STOCK.motors[m],
        propeller=propeller_of(STOCK.propellers[p]),
        pack=STOCK.packs[b],
        controller=STOCK.controllers[e],
        motors=k,
    ),
    st.integers(0, len(STOCK.motors) - 1),
    st.integers(0, len(STOCK.propellers) - 1),
    st.integers(0, len(STOCK.packs) - 1),
    st.integers(0, len(STOCK.controllers) - 1),
    st.integers(1, 2),
)


@settings(max_examples=150, deadline=None)
@given(DRIVES, st.floats(0.0, 45.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_energy_closes(drive, airspeed, throttle, charge):
    """Battery = heats + shaft, shaft = thrust power + wake, to 0.1 %; and nothing is NaN."""
    q = equilibrium(drive, airspeed, throttle, charge)
    values = [getattr(q, name) for name in q.__dataclass_fields__]
    assert all(math.isfinite(v) for v in values)
    scale = max(q.battery_power_w, abs(q.shaft_power_w), 1e-6)
    assert q.battery_power_w == pytest.approx(q.heat_w + q.shaft_power_w, abs=1e-3 * scale)
    assert q.shaft_power_w == pytest.approx(q.thrust_power_w + q.wake_power_w, abs=1e-9 * scale + 1e-9)
    for heat in (q.pack_heat_w, q.controller_heat_w, q.copper_heat_w, q.iron_heat_w):
        assert heat >= -1e-9
    if q.turns:
        assert q.wake_power_w > 0  # the air never gives back what it got
    assert 0.0 <= q.efficiency < 0.9


@settings(max_examples=80, deadline=None)
@given(DRIVES, st.floats(0.0, 25.0), st.floats(0.05, 0.95), st.floats(0.0, 0.95), st.floats(0.005, 0.05))
def test_more_throttle_or_charge_never_lowers_rpm(drive, airspeed, throttle, charge, more):
    q = equilibrium(drive, airspeed, throttle, charge)
    # A pack sagging by half gives all it can: past that, opening the throttle only heats it. That is no fault.
    if equilibrium(
        drive, airspeed, throttle + more, charge
    ).voltage_v > 0.55 * drive.pack.cells * open_circuit_v(charge):
        assert equilibrium(drive, airspeed, throttle + more, charge).rpm >= q.rpm - 1e-6
    assert equilibrium(drive, airspeed, throttle, charge + more).rpm >= q.rpm - 1e-6


@settings(max_examples=60, deadline=None)
@given(DRIVES, st.floats(0.0, 20.0))
def test_a_better_motor_or_pack_never_lowers_rpm(drive, airspeed):
    q = equilibrium(drive, airspeed)
    cooler = replace(drive, motor=replace(drive.motor, resistance_ohm=0.7 * drive.motor.resistance_ohm))
    stiffer = replace(
        drive, pack=replace(drive.pack, resistance_per_cell_ohm=0.5 * drive.pack.resistance_per_cell_ohm)
    )
    assert equilibrium(stiffer, airspeed).rpm >= q.rpm - 1e-6
    # The no-load figure was taken through the same winding, so its reference speed moves a little with it.
    assert equilibrium(cooler, airspeed).rpm >= q.rpm * (1 - 1e-3)


@settings(max_examples=60, deadline=None)
@given(DRIVES, st.floats(0.0, 20.0), st.floats(0.2, 1.0))
def test_the_root_is_the_only_one(drive, airspeed, throttle):
    """Torque surplus changes sign once from standstill to the fastest it could turn."""
    from sheetlark.drive.motor import no_load_current, torque_constant
    from sheetlark.drive.settling import disc_load

    q = equilibrium(drive, airspeed, throttle)
    c = Circuits.of(drive)
    volts = throttle * float(q.voltage_v + q.current_a * q.pack_heat_w / max(q.current_a**2, 1e-12))
    rpm = np.linspace(5.0, max(c.kv_rpm_v[0] * volts, 2.5 * q.rpm), 400)
    share = throttle * (1 + 0.08 * (1 - throttle))
    ohm = c.winding_ohm + c.controller_ohm + throttle * share * c.motors * c.cells * c.cell_ohm
    amps = np.maximum((volts - rpm / c.kv_rpm_v) / ohm, 0.0)
    each = c.repeated(rpm.size)
    surplus = (
        torque_constant(c.kv_rpm_v)
        * (amps - no_load_current(rpm, current_a=c.no_load_a, reference_rpm=c.no_load_rpm))
        - disc_load(each, rpm, np.full(rpm.shape, airspeed), 1.225)[1]
    )
    sign = np.sign(surplus[np.abs(surplus) > 1e-9])
    assert np.count_nonzero(np.diff(sign)) <= 1


def test_slow_winds_have_one_speed_too(stock):
    """A large motor, a small coarse propeller, a small pack: the wind turns it faster than half throttle asks."""
    drive = DriveLine(
        motor=stock.motor("2216-800"),
        propeller=propeller_of(stock.propeller("4.1x4.1-thin-electric")),
        pack=stock.pack("1s-150"),
        controller=stock.controller("esc-5"),
    )
    rpm = [equilibrium(drive, v, 0.5).rpm for v in np.linspace(0.0, 40.0, 81)]
    assert (np.diff(rpm) > -1e-6).all()
    assert np.diff(rpm).max() < 600.0  # no jump from one root to another


def test_side_by_side_is_one_by_one(sport_drive, stock):
    other = replace(sport_drive, motor=stock.motor("2205-1500"), pack=stock.pack("2s-850"))
    s = settle(Circuits.of(sport_drive, other), airspeed_ms=8.0, throttle=0.7, charge=0.6)
    for i, drive in enumerate((sport_drive, other)):
        q = equilibrium(drive, 8.0, 0.7, 0.6)
        assert s.rpm[i] == pytest.approx(q.rpm)
        assert s.pack_current_a[i] == pytest.approx(q.current_a)


def test_two_motors_share_a_pack(sport_drive):
    one, two = equilibrium(sport_drive), equilibrium(replace(sport_drive, motors=2))
    assert one.thrust_n * 1.6 < two.thrust_n < 2 * one.thrust_n  # sag eats some
    assert two.motor_current_a < one.motor_current_a
    assert two.current_a == pytest.approx(2 * two.motor_current_a)


def test_a_pusher_flies_in_the_wake(sport_drive):
    tractor, pusher = (
        equilibrium(sport_drive, 12.0),
        equilibrium(replace(sport_drive, pusher=True, wake_fraction=0.2), 12.0),
    )
    assert pusher.thrust_n == pytest.approx(equilibrium(sport_drive, 9.6).thrust_n)
    assert pusher.thrust_n > tractor.thrust_n


def test_closed_throttle_windmills_and_draws_nothing(sport_drive):
    q = equilibrium(sport_drive, 15.0, 0.0)
    assert q.current_a == 0.0
    assert q.rpm > 500
    assert q.thrust_n < 0
    assert q.shaft_power_w < 0  # the wind turns it, and the iron takes the power
    still = equilibrium(sport_drive, 0.0, 0.0)
    assert still.rpm == 0.0
    assert not still.turns


def test_cold_pack_sags_more(sport_drive):
    warm, cold = (equilibrium(sport_drive, pack_temperature_k=273.15 + t) for t in (25.0, 5.0))
    assert cold.voltage_v < warm.voltage_v - 0.1
    assert cold.thrust_n < warm.thrust_n


@settings(max_examples=80, deadline=None)
@given(DRIVES, st.floats(0.0, 15.0), st.floats(0.1, 0.98), st.floats(0.1, 1.0))
def test_the_throttle_for_a_thrust_gives_it(drive, airspeed, throttle, charge):
    q = equilibrium(drive, airspeed, throttle, charge)
    if q.thrust_n <= 0.02:
        return
    # Past the pack's own power limit less throttle gives the same thrust: there the lesser throttle is the answer.
    if q.voltage_v < 0.6 * q.battery_power_w / q.current_a:
        return
    duty, amps = throttled(Circuits.of(drive), thrust_n=q.thrust_n, airspeed_ms=airspeed, charge=charge)
    assert amps[0] == pytest.approx(q.current_a, rel=1e-4, abs=1e-3)
    assert duty[0] == pytest.approx(throttle, rel=1e-4, abs=1e-4)


def test_too_much_thrust_is_nan_not_a_wrong_root(sport_drive):
    duty, amps = throttled(Circuits.of(sport_drive), thrust_n=50.0, airspeed_ms=10.0, charge=0.5)
    assert np.isnan(duty[0])
    assert np.isnan(amps[0])


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"airspeed_ms": -1.0}, "airspeed_ms must be from 0 to 120, got -1"),
        ({"airspeed_ms": math.nan}, "airspeed_ms must be from 0 to 120, got nan"),
        ({"throttle": 1.2}, "throttle must be from 0 to 1, got 1.2"),
        ({"charge": -0.1}, "charge must be from 0 to 1, got -0.1"),
        ({"density_kg_m3": 0.0}, "density_kg_m3 must be from 0.1 to 3, got 0"),
    ],
)
def test_out_of_range(sport_drive, arguments, words):
    with pytest.raises(SolveError, match=words):
        equilibrium(sport_drive, **arguments)


def test_no_drive_of_zero_motors(sport_drive):
    with pytest.raises(SolveError, match="1 to 8 motors, got 0"):
        replace(sport_drive, motors=0)
    with pytest.raises(SolveError, match=r"wake fraction must be from 0 to below 0.8, got 0.9"):
        replace(sport_drive, wake_fraction=0.9)
