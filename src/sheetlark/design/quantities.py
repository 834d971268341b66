"""Field types of the design file: quantities read into SI, with the JSON schema an editor needs."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema

from sheetlark import units
from sheetlark.units import Kind


def _reader(kind: Kind, low: float, high: float, shown: str) -> Callable[[object], float]:
    def read(value: object) -> float:
        number = kind.read(value)
        if not low <= number <= high:
            raise ValueError(f"expected {shown}, read {value!r}")
        return number

    return read


def _quantity(kind: Kind, low: float, high: float, shown: str) -> tuple[BeforeValidator, WithJsonSchema]:
    schema: dict[str, Any] = {
        "anyOf": [
            {"type": "number", "description": f"{kind.name} in {kind.default or 'parts of one'}"},
            {"type": "string", "description": kind.example},
        ],
        "description": shown,
    }
    return BeforeValidator(_reader(kind, low, high, shown)), WithJsonSchema(schema)


def written(default: str, *, description: str | None = None) -> Any:
    """A default as a user would write it, unit and all; it is read like any other value."""
    return Field(default, description=description)


# Ranges are those of anything a person could build from sheet and throw: they catch a slipped decimal point.
Place = Annotated[float, *_quantity(units.LENGTH, -5.0, 5.0, "a place within 5 m of the nose datum")]
Span = Annotated[float, *_quantity(units.LENGTH, 0.03, 4.0, "a length from 30 mm to 4 m")]
Size = Annotated[float, *_quantity(units.LENGTH, 0.001, 2.0, "a length from 1 mm to 2 m")]
Extent = Annotated[float, *_quantity(units.LENGTH, 0.0, 2.0, "a length from 0 mm to 2 m")]
Travel = Annotated[float, *_quantity(units.LENGTH, 0.0, 0.5, "a travel from 0 mm to 500 mm")]
Arm = Annotated[float, *_quantity(units.LENGTH, 0.003, 0.06, "an arm from 3 mm to 60 mm")]
Mass = Annotated[float, *_quantity(units.MASS, 0.0, 20.0, "a mass from 0 g to 20 kg")]
Angle = Annotated[float, *_quantity(units.ANGLE, -math.pi / 2, math.pi / 2, "an angle from -90 to 90 deg")]
Tilt = Annotated[float, *_quantity(units.ANGLE, -math.pi / 9, math.pi / 9, "an angle from -20 to 20 deg")]
Throw = Annotated[float, *_quantity(units.ANGLE, 0.0, math.pi / 3, "a throw from 0 to 60 deg")]
Fraction = Annotated[float, *_quantity(units.FRACTION, 0.0, 1.0, "a fraction from 0 to 1, or 0 % to 100 %")]
HingeChord = Annotated[
    float, *_quantity(units.FRACTION, 0.05, 1.0, "a share of the chord from 0.05 to 1, or 5 % to 100 %")
]
Altitude = Annotated[
    float, *_quantity(units.ALTITUDE, -500.0, 5000.0, 'an altitude such as "300 m" or "900 ft"')
]
Speed = Annotated[float, *_quantity(units.SPEED, 0.0, 40.0, "a speed from 0 to 40 m/s")]
Temperature = Annotated[
    float,
    BeforeValidator(units.read_temperature),
    WithJsonSchema(
        {
            "anyOf": [{"type": "number"}, {"type": "string"}],
            "description": 'a temperature such as 20, "20 C" or "68 F"',
        }
    ),
]
