"""Figures a builder compares drives by, with how sure they are."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.drive.family import TERMS, Floats
from sheetlark.drive.motor import MAGNET_LIMIT_K, winding_temperature_k
from sheetlark.drive.operating import OperatingPoint, equilibrium
from sheetlark.drive.settling import Circuits, DriveLine, settle
from sheetlark.stock import Motor

KV_SPREAD, RESISTANCE_SPREAD, PACK_SPREAD = (
    0.04,
    0.25,
    0.30,
)  # of typical figures (common practice, no source)


MEASURED_MOTOR = (0.01, 0.10)  # of Kv and resistance after a bench fit with a bare-motor reading
LEAST_READ_RPM = 500.0


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


def motor_spread(motor: Motor) -> tuple[float, float]:
    """Relative standard deviations of a motor's Kv and resistance: typical, or as a bench fit leaves them."""
    return MEASURED_MOTOR if motor.source == "measured" else (KV_SPREAD, RESISTANCE_SPREAD)


def static_spreads(
    c: Circuits,
    *,
    thrust_off: Floats,
    power_off: Floats,
    kv_off: Floats,
    winding_off: Floats,
    density_kg_m3: float = 1.225,
) -> tuple[Floats, Floats, Floats]:
    """Relative spreads of static thrust, pack current and rpm of many drives, shape (n,) each.

    Every drive is settled again with each figure one deviation off, and the effects add as squares: the figures
    do not know of one another. Thrust and power of one propeller do, and rise together; taking them apart
    slightly overstates the spread. A drive that does not turn gets nan.

    Parameters
    ----------
    c : Circuits
        n drives.
    thrust_off, power_off, kv_off, winding_off : shape (n,)
        Relative standard deviations of the propellers' coefficients, of Kv and of the winding.
    """
    lifted = c.series.copy()
    lifted[:, TERMS:] *= 1.0 + power_off[:, None]
    varied = (
        c,
        replace(c, series=lifted),
        replace(c, kv_rpm_v=c.kv_rpm_v * (1 + kv_off)),
        replace(c, winding_ohm=c.winding_ohm * (1 + winding_off)),
        replace(c, cell_ohm=c.cell_ohm * (1 + PACK_SPREAD)),
    )
    every = Circuits.joined(*varied)
    states = settle(every, airspeed_ms=0.0, throttle=1.0, charge=1.0, density_kg_m3=density_kg_m3)
    turns = states.rpm[: c.cells.size] > 0.0

    def spread(name: str) -> Floats:
        first, *others = getattr(states, name).reshape(len(varied), -1)
        now = np.where(turns, first, np.nan)
        return np.asarray(np.sqrt(sum((other / now - 1.0) ** 2 for other in others)), dtype=np.float64)

    return np.hypot(spread("thrust_n"), thrust_off), spread("pack_current_a"), spread("rpm")


def static_figures(
    drive: DriveLine, *, density_kg_m3: float = 1.225, air_temperature_k: float = 293.15
) -> StaticFigures:
    """Solve the drive standing still, and again with each typical figure one deviation off.

    See `static_spreads`.
    """
    point = equilibrium(drive, density_kg_m3=density_kg_m3)
    known = motor_spread(drive.motor)
    thrust_off, power_off = drive.propeller.spread(0.0, max(point.rpm, LEAST_READ_RPM))
    thrust, current, rpm = static_spreads(
        Circuits.of(drive),
        thrust_off=np.array([thrust_off]),
        power_off=np.array([power_off]),
        kv_off=np.array([known[0]]),
        winding_off=np.array([known[1]]),
        density_kg_m3=density_kg_m3,
    )
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
        thrust_spread=float(thrust[0]),
        current_spread=float(current[0]),
        rpm_spread=float(rpm[0]),
        pitch_speed_ms=drive.propeller.pitch_m * point.rpm / 60.0,
        winding_k=warm,
        cautions=tuple(cautions),
    )
