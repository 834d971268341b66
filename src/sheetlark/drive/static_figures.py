"""Figures a builder compares drives by, with how sure they are."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.drive.family import TERMS
from sheetlark.drive.motor import MAGNET_LIMIT_K, winding_temperature_k
from sheetlark.drive.settling import Circuits, DriveLine, OperatingPoint, equilibrium, settle

KV_SPREAD, RESISTANCE_SPREAD, PACK_SPREAD = (
    0.04,
    0.25,
    0.30,
)  # of typical figures (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class StaticFigures:
    """Full throttle, standing still, charged pack.

    thrust_spread, current_spread, rpm_spread : float
        Relative standard deviations: the propeller's own with those of Kv, winding and pack. [-]
    pitch_speed_ms : float
        Pitch times speed: roughly where thrust ends. [m/s]
    winding_k : float
        Steady winding temperature; inf if there is none. [K]
    cautions : tuple of str
    """

    point: OperatingPoint
    thrust_spread: float
    current_spread: float
    rpm_spread: float
    pitch_speed_ms: float
    winding_k: float
    cautions: tuple[str, ...]


def static_figures(
    drive: DriveLine, *, density_kg_m3: float = 1.225, air_temperature_k: float = 293.15
) -> StaticFigures:
    """Solve the drive standing still, and again with each typical figure one deviation off.

    The effects add as squares: the figures do not know of one another, except thrust and power of one propeller,
    which rise together (family of measured propellers); both are moved by one deviation apart, which slightly
    overstates the spread.
    """
    point = equilibrium(drive, density_kg_m3=density_kg_m3)
    thrust_off, power_off = (
        drive.propeller.spread(0.0, max(point.rpm, 500.0)) if point.turns else (math.nan, math.nan)
    )
    base = Circuits.of(drive)
    lifted = base.series.copy()
    lifted[:, TERMS:] *= 1.0 + (0.0 if math.isnan(power_off) else power_off)
    varied = (
        replace(base, series=lifted),
        replace(base, kv_rpm_v=base.kv_rpm_v * (1 + KV_SPREAD)),
        replace(base, winding_ohm=base.winding_ohm * (1 + RESISTANCE_SPREAD)),
        replace(base, cell_ohm=base.cell_ohm * (1 + PACK_SPREAD)),
    )
    off = []
    for c in varied:
        s = settle(c, airspeed_ms=0.0, throttle=1.0, charge=1.0, density_kg_m3=density_kg_m3)
        off.append(
            [
                drive.motors * float(s.thrust_n[0]) / point.thrust_n - 1 if point.turns else math.nan,
                float(s.pack_current_a[0]) / point.current_a - 1 if point.current_a else math.nan,
                float(s.rpm[0]) / point.rpm - 1 if point.turns else math.nan,
            ]
        )
    spread = np.sqrt(np.sum(np.square(off), axis=0))
    warm = winding_temperature_k(
        drive.motor,
        current_a=point.motor_current_a,
        iron_loss_w=point.iron_heat_w / drive.motors,
        air_temperature_k=air_temperature_k,
    )
    cautions = []
    if not point.turns:
        cautions.append("the motor cannot start this propeller")
    if warm > MAGNET_LIMIT_K:
        shown = "without limit" if math.isinf(warm) else f"about {warm - 273.15:.0f} °C"
        cautions.append(
            f"held at full throttle the windings reach {shown} (±30 %); above 80 °C magnets and glue suffer"
        )
    if point.motor_current_a > drive.motor.max_current_a:
        cautions.append(
            f"{point.motor_current_a:.1f} A is more than the motor's {drive.motor.max_current_a:.1f} A"
        )
    return StaticFigures(
        point=point,
        thrust_spread=float(math.hypot(spread[0], thrust_off)),
        current_spread=float(spread[1]),
        rpm_spread=float(spread[2]),
        pitch_speed_ms=drive.propeller.pitch_m * point.rpm / 60.0,
        winding_k=warm,
        cautions=tuple(cautions),
    )
