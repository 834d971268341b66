"""A brushless motor by its three constants, and how warm its windings get.

The motor is the textbook's: rpm = Kv (V - I R), torque = Kt (I - I0), Kt = 60/(2 pi Kv). The no-load current
grows with speed, because half of the iron's drag is eddy currents that grow with it.

References
----------
.. [1] A. E. Fitzgerald, C. Kingsley, S. D. Umans, "Electric Machinery", McGraw-Hill: the permanent-magnet
   direct-current machine (from memory).
"""

from __future__ import annotations

import math

import numpy as np

from sheetlark.drive.family import Floats
from sheetlark.errors import SolveError
from sheetlark.stock import Motor

COPPER_PER_KELVIN = 0.0039  # temperature coefficient of copper's resistance at 20 °C (textbook)
REFERENCE_K = 293.15
DRAG_DOUBLES_AT_RPM = 10_000.0  # speed at which eddy currents equal the steady drag (typical, from memory)
# An open outrunner of 50 g shows the propeller's wind about 75 cm² of bell, stator and wire at 60 W/m²K (estimate):
# 2.2 K/W, so 30 K g^(2/3)/W when the surface grows as mass^(2/3).
KELVIN_PER_WATT_GRAM = 30.0
MAGNET_LIMIT_K = 353.15  # 80 °C: usual neodymium loses strength, glue softens (common practice)


def torque_constant(kv_rpm_v: Floats | float) -> Floats:
    """Torque per ampere, Kt = 60/(2 pi Kv). [N m/A]."""
    return np.asarray(60.0 / (2.0 * math.pi * np.asarray(kv_rpm_v)), dtype=np.float64)


def no_load_current(
    rpm: Floats | float, *, current_a: Floats | float, reference_rpm: Floats | float
) -> Floats:
    """No-load current at a speed, from that at a reference speed. [A]."""
    growth = (1.0 + np.asarray(rpm) / DRAG_DOUBLES_AT_RPM) / (
        1.0 + np.asarray(reference_rpm) / DRAG_DOUBLES_AT_RPM
    )
    return np.asarray(current_a * growth, dtype=np.float64)


def no_load_rpm(motor: Motor) -> float:
    """Speed at which the motor's no-load current was taken. [rev/min]."""
    return motor.kv_rpm_v * (motor.no_load_voltage_v - motor.no_load_current_a * motor.resistance_ohm)


def warm_resistance(resistance_ohm: Floats | float, temperature_k: Floats | float) -> Floats:
    """Winding resistance at a temperature; the stated one is at 20 °C. [ohm]."""
    return np.asarray(
        resistance_ohm * (1.0 + COPPER_PER_KELVIN * (np.asarray(temperature_k) - REFERENCE_K)),
        dtype=np.float64,
    )


def winding_temperature_k(
    motor: Motor, *, current_a: float, iron_loss_w: float, air_temperature_k: float = 293.15
) -> float:
    """Steady temperature of the windings in the propeller's wind. [K].

    Copper heat grows with the warmth it makes, so the balance is solved, not stepped: with Rt the resistance
    at the air's temperature, rise = (Rt I² + iron) k / (1 - 0.0039 R I² k).

    Returns inf where no steady temperature exists: the windings burn. An estimate to ±30 %: cowls, gaps and
    dust matter. Above 80 °C magnets and glue suffer; a motor too hot to hold for three seconds is too hot.

    Raises
    ------
    SolveError
        If the current or the loss is not finite and at least 0.
    """
    if not (math.isfinite(current_a) and math.isfinite(iron_loss_w) and current_a >= 0 and iron_loss_w >= 0):
        raise SolveError(
            f"current and iron loss must be 0 or above, got {current_a:g} A and {iron_loss_w:g} W"
        )
    kelvin_per_watt = KELVIN_PER_WATT_GRAM / math.pow(motor.mass_kg * 1e3, 2.0 / 3.0)
    cold = float(warm_resistance(motor.resistance_ohm, air_temperature_k)) * current_a**2
    feedback = COPPER_PER_KELVIN * motor.resistance_ohm * current_a**2 * kelvin_per_watt
    if feedback >= 1.0:
        return math.inf
    return air_temperature_k + (cold + iron_loss_w) * kelvin_per_watt / (1.0 - feedback)
