"""The textbook direct-current motor and a lithium-polymer pack's sag, worked figures."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sheetlark.drive import settle
from sheetlark.drive.motor import torque_constant
from sheetlark.drive.settling import Circuits

TEXTBOOK = "rpm = Kv(V - IR), Q = Kt(I - I0), Kt = 60/(2 pi Kv): the textbook permanent-magnet motor"


@pytest.mark.published
@pytest.mark.parametrize(
    ("amps", "rpm", "torque", "power_in", "power_out", "efficiency"),
    [
        (5.0, 12_870.0, 0.03232, 52.5, 43.56, 0.830),
        (10.0, 12_090.0, 0.06905, 105.0, 87.42, 0.833),
        (15.0, 11_310.0, 0.10578, 157.5, 125.28, 0.795),
    ],
)
def test_three_constant_motor(record_error, monkeypatch, amps, rpm, torque, power_in, power_out, efficiency):
    """Kv 1300, R 0.12 ohm, I0 0.6 A (held constant) on a stiff 10.5 V, loaded with the table's torque.

    The load is put in as a torque that does not depend on speed, and the whole solver is asked.
    """
    from sheetlark.drive import settling as room

    monkeypatch.setattr(
        room, "disc_load", lambda c, rpm, v, rho: (np.zeros_like(rpm), np.full_like(rpm, torque))
    )
    monkeypatch.setattr(room, "no_load_current", lambda rpm, current_a, reference_rpm: np.full_like(rpm, 0.6))
    one = np.ones(1)
    circuit = Circuits(
        cells=10.5 / 4.2 * one,
        cell_ohm=0.0 * one,
        controller_ohm=0.0 * one,
        motors=one,
        kv_rpm_v=1300.0 * one,
        winding_ohm=0.12 * one,
        no_load_a=0.6 * one,
        no_load_rpm=1e4 * one,
        series=np.ones((1, 12)),
        diameter_m=0.2 * one,
        pitch_ratio=0.5 * one,
        blades=2 * one,
    )
    s = settle(circuit, airspeed_ms=0.0, throttle=1.0, charge=1.0)
    shaft = float(s.torque_nm[0] * s.rpm[0] * 2 * math.pi / 60)
    drawn = float(s.pack_current_a[0] * s.pack_voltage_v[0])
    record_error(
        case=f"motor at {amps:g} A: current, rpm, power in and out, efficiency",
        got=[s.motor_current_a[0], s.rpm[0], drawn, shaft, shaft / drawn],
        published=[amps, rpm, power_in, power_out, efficiency],
        tolerance=0.001,
        source=TEXTBOOK,
    )


@pytest.mark.published
def test_torque_constant(record_error):
    record_error(
        case="torque constant of 1300 rpm/V",
        got=torque_constant(1300.0),
        published=0.0073456,
        tolerance=1e-4,
        source=TEXTBOOK,
    )


@pytest.mark.published
def test_pack_sag(record_error, monkeypatch):
    """3S, 8 mohm a cell and 5 mohm of leads, 15 A: 0.435 V of sag from 11.10 V, 6.5 W lost.

    A motor held fast: its resistance is chosen so that exactly 15 A flow, and nothing turns.
    """
    from sheetlark.drive import settling as room

    monkeypatch.setattr(
        room, "disc_load", lambda c, rpm, v, rho: (np.zeros_like(rpm), np.full_like(rpm, 1e3))
    )
    monkeypatch.setattr(room, "open_circuit_v", lambda charge: np.full_like(charge, 3.7))
    one = np.ones(1)
    circuit = Circuits(
        cells=3 * one,
        cell_ohm=0.008 * one,
        controller_ohm=0.005 * one,
        motors=one,
        kv_rpm_v=1000.0 * one,
        winding_ohm=(11.1 / 15.0 - 0.029) * one,
        no_load_a=0.5 * one,
        no_load_rpm=1e4 * one,
        series=np.ones((1, 12)),
        diameter_m=0.2 * one,
        pitch_ratio=0.5 * one,
        blades=2 * one,
    )
    s = settle(circuit, airspeed_ms=0.0, throttle=1.0, charge=1.0)
    assert s.rpm[0] == 0.0
    at_motor = float(s.motor_voltage_v[0])
    record_error(
        case="3S pack at 15 A: sag and loss",
        got=[11.1 - at_motor, (11.1 - at_motor) * float(s.pack_current_a[0])],
        published=[0.435, 6.525],
        tolerance=0.001,
        source="Ohm's law, worked figures for a typical small pack",
    )
