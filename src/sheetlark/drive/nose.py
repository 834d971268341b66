"""Thrust lost to the body behind the disc, and what a larger propeller gives back.

The slipstream blows on the nose harder than the airspeed does, and slows where the nose stands in it.

References
----------
.. [1] H. Glauert, "Airplane Propellers", in W. F. Durand (ed.), Aerodynamic Theory, vol. IV, 1935: body drag
   rises with the slipstream's dynamic pressure; the velocity behind an actuator disc (from memory).
.. [2] B. W. McCormick, "Aerodynamics, Aeronautics, and Flight Mechanics", 2nd ed., 1995: on the axis of a
   disc the induced velocity grows as 1 + s/sqrt(R² + s²) (from memory).
.. [3] D. P. Raymer, "Aircraft Design: A Conceptual Approach": advance ratio lowered by a body behind
   the propeller, J (1 - 0.329 S/D²) (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sheetlark.drive.family import Floats
from sheetlark.drive.operating import OperatingPoint, equilibrium
from sheetlark.drive.propeller import Propeller
from sheetlark.drive.settling import DriveLine
from sheetlark.errors import GeometryError

# Drag coefficients of noses on their frontal area (S. F. Hoerner, "Fluid-Dynamic Drag", ch. 3; from memory).
FLAT_NOSE = 0.9
ROUNDED_NOSE = 0.35
STREAMLINED_NOSE = 0.15
HUB = 0.2  # inner part of the radius whose blades move next to no air (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Nose:
    """What stands behind the disc.

    frontal_area_m2 : float
        Largest cross-section of cowl or body.
    behind_m : float
        From the disc to the bluff part.
    drag_coefficient : float
        On the frontal area: 0.9 flat, 0.35 rounded, 0.15 streamlined.
    """

    frontal_area_m2: float
    behind_m: float
    drag_coefficient: float = FLAT_NOSE

    def __post_init__(self) -> None:
        for name, value in (("frontal_area_m2", self.frontal_area_m2), ("behind_m", self.behind_m)):
            if not (math.isfinite(value) and 0.0 <= value <= 1.0):
                raise GeometryError(f"{name} must be from 0 to 1, got {value:g}")
        if not 0.0 <= self.drag_coefficient <= 1.5:
            raise GeometryError(f"drag_coefficient must be from 0 to 1.5, got {self.drag_coefficient:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class NetThrust:
    """Thrust left after the slipstream has blown on the nose.

    lost_n : thrust lost. [N]
    fraction : of the free thrust. [-]
    advance_factor : what the body's blockage leaves of the advance ratio at the disc. [-]
    """

    free_n: float
    net_n: float
    lost_n: float
    fraction: float
    advance_factor: float


def induced_velocity_ms(
    thrust_n: float, airspeed_ms: float, diameter_m: float, density_kg_m3: float
) -> float:
    """Velocity a disc adds at itself, by momentum theory; 0 when it brakes. [m/s]."""
    area = 0.25 * math.pi * diameter_m**2
    half = 0.5 * airspeed_ms
    return math.sqrt(half**2 + max(thrust_n, 0.0) / (2.0 * density_kg_m3 * area)) - half


def slipstream_loss_n(
    thrust_n: Floats | float,
    *,
    airspeed_ms: Floats | float,
    diameter_m: Floats | float,
    nose: Nose,
    density_kg_m3: float = 1.225,
) -> Floats:
    """Extra drag that each propeller's slipstream makes on the nose, shape (...); see `net_thrust`. [N].

    Standing still it is a share of the thrust that depends on the diameter alone.
    """
    radius = 0.5 * np.asarray(diameter_m, dtype=np.float64)
    speed = np.asarray(airspeed_ms, dtype=np.float64)
    disc = math.pi * radius**2
    exposed = np.maximum(np.minimum(nose.frontal_area_m2, disc) - HUB**2 * disc, 0.0)
    w = np.sqrt(0.25 * speed**2 + np.maximum(thrust_n, 0.0) / (2.0 * density_kg_m3 * disc)) - 0.5 * speed
    local = speed + w * (1.0 + nose.behind_m / np.hypot(radius, nose.behind_m))
    extra = 0.5 * density_kg_m3 * (local**2 - speed**2)
    return np.asarray(nose.drag_coefficient * exposed * extra, dtype=np.float64)


def net_thrust(
    *,
    thrust_n: float,
    airspeed_ms: float,
    diameter_m: float,
    nose: Nose,
    density_kg_m3: float = 1.225,
) -> NetThrust:
    """Take from one propeller's thrust the extra drag its slipstream makes on the nose.

    Extra drag = C_D S (q_s - q): only the extra, because the body's own drag in the free stream is counted
    with the airframe. The hub's shadow, a fifth of the radius, is free. The part of a body wider than the disc
    is outside the slipstream.
    """
    lost = float(
        slipstream_loss_n(
            thrust_n,
            airspeed_ms=airspeed_ms,
            diameter_m=diameter_m,
            nose=nose,
            density_kg_m3=density_kg_m3,
        )
    )
    return NetThrust(
        free_n=thrust_n,
        net_n=thrust_n - lost,
        lost_n=lost,
        fraction=lost / thrust_n if thrust_n > 0.0 else 0.0,
        advance_factor=1.0 - 0.329 * min(nose.frontal_area_m2 / diameter_m**2, 0.25 * math.pi),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LargerPropeller:
    """One propeller size tried behind the same motor."""

    propeller: Propeller
    point: OperatingPoint
    net: NetThrust


def propeller_sizes(
    drive: DriveLine,
    nose: Nose,
    *,
    factors: tuple[float, ...] = (1.0, 1.1, 1.2, 1.3),
    airspeed_ms: float = 0.0,
    density_kg_m3: float = 1.225,
) -> tuple[LargerPropeller, ...]:
    """The same drive with its propeller grown by each factor, pitch lowered so that D⁴ x pitch stays.

    Power for a speed grows about as D⁴ x pitch (trade rule), so motor and cells stay as loaded as before and
    what differs is what the larger disc gives: more air, moved more gently, past the same nose. Held to
    pitches the model knows, a quarter of the diameter at least.
    """
    found = []
    for factor in factors:
        diameter = drive.propeller.diameter_m * factor
        pitch = max(drive.propeller.pitch_m / factor**4, 0.25 * diameter)
        propeller = Propeller(
            diameter_m=diameter, pitch_m=pitch, style=drive.propeller.style, blades=drive.propeller.blades
        )
        grown = DriveLine(
            motor=drive.motor,
            propeller=propeller if factor != 1.0 else drive.propeller,
            pack=drive.pack,
            controller=drive.controller,
            motors=drive.motors,
            lead_ohm=drive.lead_ohm,
            pusher=drive.pusher,
            wake_fraction=drive.wake_fraction,
        )
        point = equilibrium(grown, airspeed_ms, density_kg_m3=density_kg_m3)
        net = net_thrust(
            thrust_n=point.thrust_n / drive.motors,
            airspeed_ms=airspeed_ms,
            diameter_m=grown.propeller.diameter_m,
            nose=nose,
            density_kg_m3=density_kg_m3,
        )
        found.append(LargerPropeller(propeller=grown.propeller, point=point, net=net))
    return tuple(found)
