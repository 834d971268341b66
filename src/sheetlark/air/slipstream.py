"""What a propeller does to the air around it: faster, turning, and a sideways force of its own.

Axial momentum theory throughout: H. Glauert, *The Elements of Aerofoil and Airscrew Theory*, 1926.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sheetlark.air.layout import Disc
from sheetlark.air.surface import Floats

# Normal force of a disc at zero thrust per radian, on q and disc area, for the narrow two-bladed propellers
# of small models: 0.12, give or take 0.05 (from memory, after H. S. Ribner, NACA TR-820, 1945, solidity 0.08).
NORMAL_FORCE_SLOPE = 0.12
# Share of the swirl that passes wing and body unstraightened (from memory; a half, between none and all).
SWIRL_KEPT = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """A slipstream far behind its disc.

    extra_ms : float
        Speed gained. [m/s]
    radius_m : float
        Radius once contracted. [m]
    swirl_rad_s : float
        Turning rate of the air, in the propeller's sense. [rad/s]
    through_ms : float
        Speed through the disc. [m/s]
    """

    extra_ms: float
    radius_m: float
    swirl_rad_s: float
    through_ms: float


def slipstream(
    disc: Disc, speed_ms: float, thrust_n: float, torque_nm: float, density_kg_m3: float
) -> Stream:
    """Slipstream far behind a disc from its thrust and torque.

    Thrust T = 2 ρ A (V + v) v gives the induced speed v at the disc and 2 v far behind, where the tube has
    shrunk to keep its flow. Torque goes into solid-body swirl: Q = ½ π ρ u ω R⁴ at the contracted radius.
    """
    if thrust_n <= 0.0:
        return Stream(extra_ms=0.0, radius_m=disc.radius_m, swirl_rad_s=0.0, through_ms=speed_ms)
    load = thrust_n / (0.5 * density_kg_m3 * disc.area_m2)
    extra = math.sqrt(speed_ms**2 + load) - speed_ms
    through, far = speed_ms + 0.5 * extra, speed_ms + extra
    radius = disc.radius_m * math.sqrt(through / far)
    swirl = 2.0 * torque_nm / (math.pi * density_kg_m3 * far * radius**4)
    return Stream(extra_ms=extra, radius_m=radius, swirl_rad_s=swirl, through_ms=through)


def grown(disc: Disc, x_m: Floats) -> Floats:
    """Share of the final speed gain reached at x: ½ (1 + s/√(s² + R²)), s behind the disc. [-].

    The vortex tube's own axial velocity; ahead of the disc it dies away.
    """
    s = x_m - disc.at_m[0]
    return np.asarray(0.5 * (1.0 + s / np.hypot(s, disc.radius_m)), dtype=np.float64)


def normal_force_slope(disc: Disc, stream: Stream, speed_ms: float, density_kg_m3: float) -> float:
    """Force across the disc per radian of inflow angle, destabilising when ahead of the balance. [N/rad].

    Grows with thrust by Ribner's inflow factor f(a) = (1 + a)[(1 + a) + (1 + 2a)²]/[1 + (1 + 2a)²], with a
    the induced speed at the disc over flight speed (from memory).
    """
    if speed_ms <= 0.0:
        return 0.0
    a = min(0.5 * stream.extra_ms / speed_ms, 3.0)
    jet = (1.0 + 2.0 * a) ** 2
    factor = (1.0 + a) * ((1.0 + a) + jet) / (1.0 + jet)
    return NORMAL_FORCE_SLOPE * factor * 0.5 * density_kg_m3 * speed_ms**2 * disc.area_m2
