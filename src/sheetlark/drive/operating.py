"""One drive at one airspeed, throttle and charge: what it gives, what it takes, where the power goes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sheetlark.drive.motor import torque_constant
from sheetlark.drive.settling import Circuits, DriveLine, settle, within


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingPoint:
    """Where a drive settles. Thrust, powers and heats are of the whole drive; rpm, torque and motor current of one motor.

    thrust_n : float
        Along the shaft, before losses to the nose behind the disc.
    battery_power_w : float
        What the cells give up inside, open-circuit voltage times current. Equals the heats plus shaft power.
    wake_power_w : float
        Shaft power that does not move the model: swirl, slipstream and blade drag.
    efficiency : float
        Thrust power over battery power; 0 standing still or braking.
    turns : bool
        False if the motor cannot start the propeller at this throttle.
    """

    airspeed_ms: float
    throttle: float
    charge: float
    thrust_n: float
    rpm: float
    torque_nm: float
    current_a: float
    motor_current_a: float
    voltage_v: float
    cell_voltage_v: float
    motor_voltage_v: float
    battery_power_w: float
    pack_heat_w: float
    controller_heat_w: float
    copper_heat_w: float
    iron_heat_w: float
    shaft_power_w: float
    thrust_power_w: float
    wake_power_w: float
    efficiency: float
    turns: bool

    @property
    def heat_w(self) -> float:
        return self.pack_heat_w + self.controller_heat_w + self.copper_heat_w + self.iron_heat_w


def equilibrium(
    drive: DriveLine,
    airspeed_ms: float = 0.0,
    throttle: float = 1.0,
    charge: float = 1.0,
    density_kg_m3: float = 1.225,
    *,
    pack_temperature_k: float = 298.15,
    winding_temperature_k: float = 293.15,
) -> OperatingPoint:
    """Settle one drive at an airspeed, throttle and state of charge.

    Raises
    ------
    SolveError
        If an input is out of its range; the message names it.
    """
    within("airspeed_ms", airspeed_ms, 0.0, 120.0, ())
    c = Circuits.of(drive)
    at_disc = airspeed_ms * (1.0 - (drive.wake_fraction if drive.pusher else 0.0))
    s = settle(
        c,
        airspeed_ms=at_disc,
        throttle=throttle,
        charge=charge,
        density_kg_m3=density_kg_m3,
        pack_temperature_k=pack_temperature_k,
        winding_temperature_k=winding_temperature_k,
    )
    k = drive.motors
    rpm, torque, amps = float(s.rpm[0]), float(s.torque_nm[0]), float(s.motor_current_a[0])
    pack_amps, volts = float(s.pack_current_a[0]), float(s.pack_voltage_v[0])
    turn_rate = rpm * 2.0 * math.pi / 60.0
    shaft = k * torque * turn_rate
    thrust = k * float(s.thrust_n[0])
    motor_volts = float(s.motor_voltage_v[0])
    battery = float(s.open_circuit_v[0]) * pack_amps
    copper = k * amps**2 * float(s.winding_ohm[0])
    return OperatingPoint(
        airspeed_ms=airspeed_ms,
        throttle=throttle,
        charge=charge,
        thrust_n=thrust,
        rpm=rpm,
        torque_nm=torque,
        current_a=pack_amps,
        motor_current_a=amps,
        voltage_v=volts,
        cell_voltage_v=volts / drive.pack.cells,
        motor_voltage_v=motor_volts,
        battery_power_w=battery,
        pack_heat_w=pack_amps**2 * float(s.pack_ohm[0]),
        controller_heat_w=volts * pack_amps - k * motor_volts * amps,
        copper_heat_w=copper,
        iron_heat_w=k * float(torque_constant(drive.motor.kv_rpm_v) * s.no_load_a[0]) * turn_rate,
        shaft_power_w=shaft,
        thrust_power_w=thrust * at_disc,
        wake_power_w=shaft - thrust * at_disc,
        efficiency=max(thrust, 0.0) * at_disc / battery if battery > 0.0 else 0.0,
        turns=rpm > 0.0,
    )
