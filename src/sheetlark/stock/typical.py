"""Figures a maker leaves out, estimated from those given.

A stock file may leave any of these out. The forms are physical; their constants are set to what such parts
commonly weigh and draw (typical, from memory and common practice; no source was opened for them unless a
line says so). A measured figure in the file always wins.
"""

from __future__ import annotations

import math

TORQUE_CONSTANT_RPM = 60.0 / (2.0 * math.pi)  # Kt [N m/A] = this / Kv [rpm/V]
REFERENCE_RPM = 10_000.0
REFERENCE_VOLTAGE_V = 8.0


def winding_resistance_ohm(stator_diameter_m: float, stator_height_m: float, kv_rpm_v: float) -> float:
    """Winding resistance of an outrunner from its stator and speed constant. [ohm].

    With N turns, Kt grows as N d h, and R as N²(turn length)/(slot area), the slot area as d². So Kt²/R,
    which no rewinding changes, grows as d⁴h²/(h + 0.35 d); leads and joints add 5 mohm. The factor is set by
    a 22 x 12 mm stator at 1000 rpm/V that acts under load like 0.110 ohm, its meter reading of
    0.090 raised for what commutation adds (typical, from memory).
    """
    torque_constant = TORQUE_CONSTANT_RPM / kv_rpm_v
    motor_constant = (
        5.08e5 * stator_diameter_m**4 * stator_height_m**2 / (stator_height_m + 0.35 * stator_diameter_m)
    )
    return torque_constant**2 / motor_constant + 0.005


def no_load_current_a(
    stator_diameter_m: float, stator_height_m: float, kv_rpm_v: float, voltage_v: float
) -> float:
    """No-load current of an outrunner at a voltage. [A].

    The drag torque of iron and bearings grows with the iron, d²h, and with speed: half of it at
    10 000 rpm is steady (hysteresis, bearings), half grows as the speed (eddy currents). The factor is set by
    a 22 x 12 mm stator at 1000 rpm/V drawing 0.5 A at 10 V (typical, from memory).
    """
    rpm = kv_rpm_v * voltage_v
    drag_torque = 822.0 * stator_diameter_m**2 * stator_height_m * (0.5 + 0.5 * rpm / REFERENCE_RPM)
    return drag_torque * kv_rpm_v / TORQUE_CONSTANT_RPM


def motor_current_limit_a(mass_kg: float, resistance_ohm: float) -> float:
    """Continuous current at which the windings shed their heat in the propeller's wind. [A].

    The copper heat an outrunner can shed grows with its surface, mass^(2/3): 1.3 W for (1 g)^(2/3), which
    gives a 50 g motor about 18 W (typical, common practice).
    """
    return math.sqrt(1.3 * (mass_kg * 1e3) ** (2.0 / 3.0) / resistance_ohm)


PROPELLER_GRAMS = {  # a two-blade 10 in propeller of each style; typical, from memory
    "thin-electric": 17.0,
    "sport": 20.0,
    "slow-flight": 10.0,
    "direct-drive": 11.0,
    "folding-cam": 15.0,
    "free-flight": 14.0,
    "racing": 19.0,
    "wood-like": 14.0,
}


def propeller_mass_kg(diameter_m: float, style: str, blades: int) -> float:
    """Mass of a propeller by style, growing as diameter^2.4 and with the blades less a common hub. [kg].

    A moulding scales between area (2) and volume (3): thin parts cannot shrink for ever.
    """
    ten_inch = PROPELLER_GRAMS.get(style, 17.0) * 1e-3
    return float(ten_inch * (diameter_m / 0.254) ** 2.4 * (0.2 + 0.4 * blades))


def pack_mass_kg(cells: int, capacity_ah: float) -> float:
    """Mass of a lithium-polymer pack with leads and plug. [kg].

    27 g per cell and ampere-hour with 1.5 g for each cell's tabs and 3 g of leads: through weighed packs of
    450 to 2200 mAh (typical, from memory) and 23.6-30.2 g per cell-Ah for 3S 1500 mAh (read).
    """
    leads = 3.0 if cells > 1 else 0.0
    return (leads + cells * (1.5 + 27.0 * capacity_ah)) * 1e-3


def cell_resistance_ohm(capacity_ah: float) -> float:
    """Internal resistance of one cell with its tab, new and warm: 12 mohm Ah over capacity. [ohm].

    Small packs show 8-15 mohm Ah over capacity (from memory); cold or aged ones 1.5-2 times as much.
    """
    return 0.012 / capacity_ah


def pack_size_m(mass_kg: float) -> tuple[float, float, float]:
    """Length, width, height of a pack of 2000 kg/m³ in the proportions 3 : 1.45 : 1 (typical). [m]."""
    height = (mass_kg / 2000.0 / (3.0 * 1.45)) ** (1.0 / 3.0)
    return 3.0 * height, 1.45 * height, height


def controller_resistance_ohm(max_current_a: float) -> float:
    """On-resistance of a controller's two conducting switches and its leads, 0.1 V at full current. [ohm]."""
    return 0.1 / max_current_a


def controller_mass_kg(max_current_a: float) -> float:
    """Mass of a controller with leads, 3 g and 0.85 g for each ampere (typical, from memory). [kg]."""
    return (3.0 + 0.85 * max_current_a) * 1e-3
