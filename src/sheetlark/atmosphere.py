"""The ICAO standard atmosphere, for the density and viscosity of the air over a flying field.

References
----------
ICAO Doc 7488/3, "Manual of the ICAO Standard Atmosphere", 1993: sea-level values, lapse rate, gas
constant, and Sutherland's law for viscosity.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sheetlark.errors import UnitError

SEA_LEVEL_TEMPERATURE_K = 288.15
SEA_LEVEL_PRESSURE_PA = 101_325.0
LAPSE_K_M = -0.0065
GAS_CONSTANT_J_KGK = 287.05287
GRAVITY_MS2 = 9.80665


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """The air a model flies in.

    temperature_k, pressure_pa, density_kg_m3, viscosity_pa_s : float
        State of the air. Viscosity is dynamic.
    """

    temperature_k: float
    pressure_pa: float
    density_kg_m3: float
    viscosity_pa_s: float

    @property
    def kinematic_viscosity_m2_s(self) -> float:
        return self.viscosity_pa_s / self.density_kg_m3


def viscosity(temperature_k: float) -> float:
    """Dynamic viscosity of air by Sutherland's law (ICAO Doc 7488/3). [Pa s]."""
    return 1.458e-6 * math.pow(temperature_k, 1.5) / (temperature_k + 110.4)


def air_at(altitude_m: float, temperature_k: float | None = None) -> Air:
    """The standard atmosphere's pressure at an altitude, with the day's own temperature if given.

    Parameters
    ----------
    altitude_m : float
        Geopotential altitude of the field, -500 to 11 000. [m]
    temperature_k : float, optional
        Temperature of the day, 223 to 333. Left out: the standard's. [K]

    Raises
    ------
    UnitError
        If the altitude is outside the troposphere or the temperature outside the range.
    """
    if not (math.isfinite(altitude_m) and -500.0 <= altitude_m <= 11_000.0):
        raise UnitError(f"field altitude must be between -500 m and 11000 m, got {altitude_m:g} m")
    standard = SEA_LEVEL_TEMPERATURE_K + LAPSE_K_M * altitude_m
    exponent = -GRAVITY_MS2 / (LAPSE_K_M * GAS_CONSTANT_J_KGK)
    pressure = SEA_LEVEL_PRESSURE_PA * (standard / SEA_LEVEL_TEMPERATURE_K) ** exponent
    actual = standard if temperature_k is None else temperature_k
    if temperature_k is not None and not (math.isfinite(actual) and 223.0 <= actual <= 333.0):
        raise UnitError(f"air temperature must be between -50 °C and 60 °C, got {actual - 273.15:g} °C")
    return Air(
        temperature_k=actual,
        pressure_pa=pressure,
        density_kg_m3=pressure / (GAS_CONSTANT_J_KGK * actual),
        viscosity_pa_s=viscosity(actual),
    )
