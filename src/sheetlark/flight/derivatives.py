"""What the air, the balance and the size of a model are to the equations of motion.

Flight axes: x forward, y to starboard, z down, origin at the balance point. Coefficients are made with the
reference area, chord (pitch) and span (roll, yaw); angular rates with ``q c/(2V)``, ``p b/(2V)``, ``r b/(2V)``.
A control deflection is positive when it is so in the mix that made it; the signs of the derivatives carry it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

from sheetlark.errors import SolveError


@dataclass(frozen=True, slots=True, kw_only=True)
class StabilityDerivatives:
    """Non-dimensional derivatives at one flight state, in stability axes (x along the flight path).

    CL, CD : lift and drag at the state. [-]
    *_alpha, *_beta : by incidence and sideslip. [1/rad]
    *_q, *_adot : by q c/(2V) and (d alpha/dt) c/(2V). [1/rad]
    *_p, *_r : by p b/(2V) and r b/(2V). [1/rad]
    *_de, *_da, *_dr : by elevator, aileron, rudder. [1/rad]
    thrust_by_speed : d(thrust)/d(speed) over (dynamic pressure × area / speed); 0 is a jet or a glide,
        -3 CD is a propeller of constant power in level flight. [-]
    """

    CL: float
    CD: float
    CL_alpha: float
    CD_alpha: float
    Cm_alpha: float
    CL_q: float = 0.0
    Cm_q: float = 0.0
    CL_adot: float = 0.0
    Cm_adot: float = 0.0
    CY_beta: float = 0.0
    Cl_beta: float = 0.0
    Cn_beta: float = 0.0
    CY_p: float = 0.0
    Cl_p: float = 0.0
    Cn_p: float = 0.0
    CY_r: float = 0.0
    Cl_r: float = 0.0
    Cn_r: float = 0.0
    CL_de: float = 0.0
    CD_de: float = 0.0
    Cm_de: float = 0.0
    CY_da: float = 0.0
    Cl_da: float = 0.0
    Cn_da: float = 0.0
    CY_dr: float = 0.0
    Cl_dr: float = 0.0
    Cn_dr: float = 0.0
    thrust_by_speed: float = 0.0

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if not math.isfinite(value):
                raise SolveError(
                    f"derivative {field.name} is {value}; every derivative must be finite. "
                    "Check the speed and the reference sizes it was made with."
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class MassProperties:
    """Mass and inertia about the balance point, flight axes.

    ixz_kg_m2 : the integral of x z dm; mass low in the nose or high at the tail makes it positive. [kg m²]
    """

    mass_kg: float
    ixx_kg_m2: float
    iyy_kg_m2: float
    izz_kg_m2: float
    ixz_kg_m2: float = 0.0

    def __post_init__(self) -> None:
        for name in ("mass_kg", "ixx_kg_m2", "iyy_kg_m2", "izz_kg_m2"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise SolveError(f"{name} must be positive and finite, got {value:g}")
        if not self.ixz_kg_m2**2 < self.ixx_kg_m2 * self.izz_kg_m2:
            raise SolveError(
                f"ixz {self.ixz_kg_m2:g} kg m² is too large for ixx {self.ixx_kg_m2:g} and izz {self.izz_kg_m2:g}: "
                "its square must be less than their product. Check the axes the inertias were made in."
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """The area, mean chord and span the coefficients are made with."""

    area_m2: float
    chord_m: float
    span_m: float

    def __post_init__(self) -> None:
        for name in ("area_m2", "chord_m", "span_m"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise SolveError(f"{name} must be positive and finite, got {value:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightState:
    """A steady, wings-level state the motion is looked at from.

    climb_rad : angle of the flight path above the horizon. [rad]
    """

    speed_ms: float
    density_kg_m3: float = 1.225
    climb_rad: float = 0.0
    gravity_ms2: float = 9.80665

    def __post_init__(self) -> None:
        if not (math.isfinite(self.speed_ms) and self.speed_ms > 0.0):
            raise SolveError(f"speed must be positive and finite, got {self.speed_ms:g} m/s")
        if not (math.isfinite(self.density_kg_m3) and self.density_kg_m3 > 0.0):
            raise SolveError(f"density must be positive and finite, got {self.density_kg_m3:g} kg/m³")
        if not abs(self.climb_rad) < math.pi / 2:
            raise SolveError(
                f"climb angle must be within ±90°, got {math.degrees(self.climb_rad):.0f}°; "
                "a vertical climb has no level-flight modes"
            )

    @property
    def dynamic_pressure_pa(self) -> float:
        return 0.5 * self.density_kg_m3 * self.speed_ms**2
