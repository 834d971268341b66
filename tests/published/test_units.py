"""Conversions against exact definitions, and the standard atmosphere against its table."""

import pytest

from sheetlark import units
from sheetlark.atmosphere import air_at

YARD_POUND = "International yard and pound agreement, 1959: exact definitions"
ICAO = "ICAO Doc 7488/3, Manual of the ICAO Standard Atmosphere, 1993, tables (geopotential altitude)"


@pytest.mark.published
@pytest.mark.parametrize(
    ("case", "kind", "written", "exact"),
    [
        ("1 inch", units.LENGTH, "1 in", 0.0254),
        ("1 foot", units.LENGTH, "1 ft", 0.3048),
        ("1 yard", units.LENGTH, "1 yd", 0.9144),
        ("1 mile", units.LENGTH, "1 mi", 1609.344),
        ("1 pound", units.MASS, "1 lb", 0.45359237),
        ("1 ounce", units.MASS, "1 oz", 0.028349523125),
        ("1 knot", units.SPEED, "1 kn", 1852 / 3600),
        ("1 mph", units.SPEED, "1 mph", 0.44704),
    ],
)
def test_exact_definitions(record_error, case, kind, written, exact):
    record_error(case=case, got=kind.read(written), published=exact, tolerance=1e-14, source=YARD_POUND)


@pytest.mark.published
@pytest.mark.parametrize(
    ("altitude", "temperature", "pressure", "density", "viscosity"),
    [
        (0.0, 288.150, 101_325.0, 1.22500, 1.7894e-5),
        (1000.0, 281.650, 89_874.6, 1.11164, 1.7578e-5),
        (2000.0, 275.150, 79_495.2, 1.00649, 1.7260e-5),
    ],
)
def test_standard_atmosphere(record_error, altitude, temperature, pressure, density, viscosity):
    air = air_at(altitude)
    got = (air.temperature_k, air.pressure_pa, air.density_kg_m3, air.viscosity_pa_s)
    record_error(
        case=f"standard atmosphere at {altitude:.0f} m",
        got=got,
        published=(temperature, pressure, density, viscosity),
        tolerance=5e-5,
        source=ICAO,
    )


def test_a_field_on_the_moon_is_refused():
    from sheetlark.errors import UnitError

    with pytest.raises(UnitError, match="field altitude must be between"):
        air_at(4e8)
