r"""Quantities as people write them, read into SI; and SI shown as people read it.

Every reader takes a bare number in a documented default unit, or a text such as ``"30 in"``, ``"12 oz"``,
``"2.5 deg"``. Feet and inches may stand together: ``"2 ft 6 in"``, ``"2'6\""``. A fraction of an inch may
be written ``"1/4 in"`` or ``"3 1/2 in"``.

Exact definitions: the international yard and pound agreement of 1959 (inch 25.4 mm, pound 0.45359237 kg);
BIPM, "The International System of Units", 9th edition, 2019.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from difflib import get_close_matches
from fractions import Fraction

from sheetlark.errors import UnitError

INCH_M = 0.0254
FOOT_M = 12 * INCH_M
POUND_KG = 0.45359237
OUNCE_KG = POUND_KG / 16.0
STANDARD_GRAVITY_MS2 = 9.80665
OUNCE_FORCE_N = OUNCE_KG * STANDARD_GRAVITY_MS2

_LENGTH = {
    "mm": 1e-3,
    "cm": 1e-2,
    "dm": 0.1,
    "m": 1.0,
    "km": 1e3,
    "in": INCH_M,
    "inch": INCH_M,
    "inches": INCH_M,
    '"': INCH_M,
    "″": INCH_M,
    "ft": FOOT_M,
    "foot": FOOT_M,
    "feet": FOOT_M,
    "'": FOOT_M,
    "′": FOOT_M,
    "yd": 36 * INCH_M,
    "mi": 63360 * INCH_M,
}
_MASS = {
    "g": 1e-3,
    "gram": 1e-3,
    "grams": 1e-3,
    "kg": 1.0,
    "mg": 1e-6,
    "oz": OUNCE_KG,
    "ounce": OUNCE_KG,
    "ounces": OUNCE_KG,
    "lb": POUND_KG,
    "lbs": POUND_KG,
}
_ANGLE = {
    "deg": math.pi / 180,
    "degree": math.pi / 180,
    "degrees": math.pi / 180,
    "°": math.pi / 180,
    "rad": 1.0,
}
_SPEED = {
    "m/s": 1.0,
    "km/h": 1 / 3.6,
    "kmh": 1 / 3.6,
    "kph": 1 / 3.6,
    "mph": 63360 * INCH_M / 3600,
    "kn": 1852 / 3600,
    "kt": 1852 / 3600,
    "ft/s": FOOT_M,
}
_AREAL = {
    "g/m2": 1e-3,
    "g/m²": 1e-3,
    "kg/m2": 1.0,
    "kg/m²": 1.0,
    "oz/ft2": OUNCE_KG / FOOT_M**2,
    "oz/ft²": OUNCE_KG / FOOT_M**2,
}
_LINEAR = {"g/m": 1e-3, "kg/m": 1.0, "g/cm": 0.1}
_CHARGE = {"mAh": 3.6, "Ah": 3600.0, "C": 1.0}
_RESISTANCE = {"mohm": 1e-3, "ohm": 1.0, "mΩ": 1e-3, "Ω": 1.0}
_CURRENT = {"A": 1.0, "mA": 1e-3}
_VOLTAGE = {"V": 1.0, "mV": 1e-3}
_TORQUE = {
    "N m": 1.0,
    "Nm": 1.0,
    "kg cm": STANDARD_GRAVITY_MS2 / 100,
    "kgcm": STANDARD_GRAVITY_MS2 / 100,
    "oz in": OUNCE_FORCE_N * INCH_M,
}
_RATIO = {"%": 0.01}
_TIME = {"s": 1.0, "min": 60.0, "h": 3600.0}


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of quantity: its name, the unit a bare number has, and every unit it may be written in."""

    name: str
    default: str
    factors: dict[str, float]
    example: str

    def read(self, value: object) -> float:
        """Read a quantity into SI.

        Raises
        ------
        UnitError
            If it is not a finite number with a unit of this kind. The message says what was read and gives
            an example of what would do.
        """
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            raise UnitError(f"expected {self.example}, read {value!r}")
        if isinstance(value, str):
            return self._read_text(value)
        number = float(value)
        if not math.isfinite(number):
            raise UnitError(f"expected {self.example}, read {value!r}, which is not a finite number")
        return number * self.factors.get(self.default, 1.0)

    def bare(self, text: str) -> bool:
        """Whether a text that can be read is a number without a unit."""
        return not any(unit.strip() for *_, unit in _TERM.findall(text))

    def _read_text(self, text: str) -> float:
        terms = _TERM.findall(text)
        if not terms or _TERM.sub("", text).strip():
            raise UnitError(f"expected {self.example}, read {text!r}")
        if len(terms) > 1 and self.name != "length":
            raise UnitError(f"expected {self.example}, read {text!r}")
        total = 0.0
        for sign, whole, numerator, denominator, decimal, unit in terms:
            factor = self._factor(unit.strip(), text)
            if numerator:
                if int(denominator) == 0:
                    raise UnitError(f"expected {self.example}, read {text!r}: nothing can be divided by 0")
                number = float(Fraction(int(whole or 0)) + Fraction(int(numerator), int(denominator)))
            else:
                number = float(decimal.replace(",", "."))
            total += (-number if sign == "-" else number) * factor
        if not math.isfinite(total):
            raise UnitError(f"expected {self.example}, read {text!r}, which is not a finite number")
        return total

    def _factor(self, unit: str, text: str) -> float:
        if not unit:
            return self.factors.get(self.default, 1.0)
        if unit in self.factors:
            return self.factors[unit]
        folded = {name.casefold(): factor for name, factor in self.factors.items()}
        if unit.casefold() in folded:
            return folded[unit.casefold()]
        near = get_close_matches(unit.casefold(), folded, n=1, cutoff=0.5)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        known = ", ".join(dict.fromkeys(self.factors))
        raise UnitError(f"{text!r} has the unit {unit!r}, but a {self.name} is written in {known}{hint}")


_TERM = re.compile(
    r"\s*([+-]?)\s*(?:(?:(\d+)\s+)?(\d+)\s*/\s*(\d+)|(\d+(?:[.,]\d*)?(?:[eE][+-]?\d+)?|[.,]\d+(?:[eE][+-]?\d+)?))"
    r"\s*((?:[^\d\s+\-.,][^\d\s+\-,.]*[²2]?(?:\s+(?:m|cm|in)\b)?)?)"
)

LENGTH = Kind("length", "mm", _LENGTH, 'a length such as 120, "120 mm" or "4.7 in"')
ALTITUDE = Kind("altitude", "m", _LENGTH, 'an altitude such as 120, "120 m" or "400 ft"')
MASS = Kind("mass", "g", _MASS, 'a mass such as 340, "340 g" or "12 oz"')
ANGLE = Kind("angle", "deg", _ANGLE, 'an angle such as 2.5 or "2.5 deg"')
SPEED = Kind("speed", "m/s", _SPEED, 'a speed such as 9, "9 m/s" or "20 mph"')
AREAL_DENSITY = Kind("mass per area", "g/m2", _AREAL, 'a mass per area such as 320 or "320 g/m2"')
LINEAR_DENSITY = Kind("mass per length", "g/m", _LINEAR, 'a mass per length such as 11 or "11 g/m"')
CHARGE = Kind("charge", "mAh", _CHARGE, 'a charge such as 850 or "850 mAh"')
RESISTANCE = Kind("resistance", "ohm", _RESISTANCE, 'a resistance such as 0.12, "0.12 ohm" or "120 mohm"')
CURRENT = Kind("current", "A", _CURRENT, 'a current such as 12 or "12 A"')
VOLTAGE = Kind("voltage", "V", _VOLTAGE, 'a voltage such as 7.4 or "7.4 V"')
TORQUE = Kind("torque", "kg cm", _TORQUE, 'a torque such as "1.6 kg cm" or "0.16 N m"')
FRACTION = Kind("fraction", "", {**_RATIO, "": 1.0}, 'a fraction such as 0.25 or "25 %"')
TIME = Kind("time", "s", _TIME, 'a time such as 90, "90 s" or "1.5 min"')


SPANS_M = 0.05, 20.0  # of models there are


def read_span(text: str) -> float:
    """The span of a model, as it is written. [m].

    Raises
    ------
    UnitError
        If it is no length, or no model is as small or as large as that.
    """
    span_m = LENGTH.read(text)
    if not SPANS_M[0] <= span_m <= SPANS_M[1]:
        bare = " A number alone is in mm; write a unit, such as in, ft or cm." if LENGTH.bare(text) else ""
        raise UnitError(
            f"a span lies between {1e3 * SPANS_M[0]:.0f} mm and {SPANS_M[1]:.0f} m; {text.strip()!r} is "
            f"{1e3 * span_m:.6g} mm.{bare}"
        )
    return span_m


def read_temperature(value: object) -> float:
    """Read a temperature: a bare number or "20 C" in degrees Celsius, "68 F", "293 K". [K].

    Raises
    ------
    UnitError
        If it cannot be read or lies below absolute zero.
    """
    example = 'a temperature such as 20, "20 C" or "68 F"'
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise UnitError(f"expected {example}, read {value!r}")
    match = re.fullmatch(r"\s*([+-]?\d+(?:\.\d*)?)\s*°?\s*([CFKcfk]?)\s*", str(value))
    if match is None:
        raise UnitError(f"expected {example}, read {value!r}")
    number, unit = float(match[1]), (match[2] or "C").upper()
    kelvin = {"C": number + 273.15, "F": (number - 32.0) / 1.8 + 273.15, "K": number}[unit]
    if kelvin <= 0:
        raise UnitError(f"expected {example}, read {value!r}, which is below absolute zero")
    return kelvin


_MARKED: ContextVar[bool] = ContextVar("quantities marked", default=False)
_MARK = re.compile(r"\{(length|mass|speed|area|loading|force|moment):(-?[\d.]+)\}")


@contextmanager
def marked_quantities(marked: bool = True) -> Iterator[None]:
    """While it lasts, what is shown is left open to either units: ``{length:12.30}`` instead of 12.3 mm.

    For words that are read by somebody who may switch the units afterwards; :func:`in_units` closes them. Inside
    the braces stand mm, g, m/s, dm², g/dm², N and N m.
    """
    before = _MARKED.set(marked)
    try:
        yield
    finally:
        _MARKED.reset(before)


def marks_quantities() -> bool:
    """Whether what is shown is left open to either units just now."""
    return _MARKED.get()


_CUSTOMARY = frozenset(_LENGTH) - {"mm", "cm", "dm", "m", "km"} | {
    "oz",
    "ounce",
    "ounces",
    "lb",
    "lbs",
    "mph",
}


def is_imperial(text: str) -> bool:
    """Whether a quantity is written in inches, feet, ounces or the like; a bare number is not."""
    return any(unit in _CUSTOMARY for unit in re.findall(r"[^\W\d_]+|[\"″'′]", text))


def in_units(words: str, imperial: bool) -> str:
    """Words with marked quantities, in one kind of units."""
    show = {
        "length": lambda v: show_length(1e-3 * v, imperial),
        "mass": lambda v: show_mass(1e-3 * v, imperial),
        "speed": lambda v: show_speed(v, imperial),
        "area": lambda v: show_area(1e-2 * v, imperial),
        "loading": lambda v: show_loading(0.1 * v, imperial),
        "force": lambda v: show_force(v, imperial),
        "moment": lambda v: show_moment(v, imperial),
    }
    return _MARK.sub(lambda m: show[m[1]](float(m[2])), words)


_WRITTEN = re.compile(
    r"([−-]?\d+(?:\.\d+)?(?:(?: to | x | × |, [yz] | and )[−-]?\d+(?:\.\d+)?)*)[ \u00a0](mm[²³]?)(?![\w²³/])"
)


def in_inches(words: str) -> str:
    """Words with lengths, areas and volumes written in millimetres, with these in inches: "120 x 45.5 mm" is "4.72 x 1.79 in".

    Only what stands before a unit changes. Lengths come to a hundredth, those written finer than a tenth of a
    millimetre and all areas and volumes to a thousandth.
    """

    def turned(match: re.Match[str]) -> str:
        numbers, unit = match[1], match[2]
        power = {"mm": 1, "mm²": 2, "mm³": 3}[unit]

        def one(number: re.Match[str]) -> str:
            places = 3 if power > 1 or len(number[0].partition(".")[2]) > 1 else 2
            value = float(number[0].replace("−", "-")) / (1e3 * INCH_M) ** power
            return f"{value:.{places}f}".replace("-", number[0][0])

        return f"{re.sub(r'[−-]?[0-9]+(?:[.][0-9]+)?', one, numbers)} {unit.replace('mm', 'in')}"

    return _WRITTEN.sub(turned, words)


def show_length(metres: float, imperial: bool = False) -> str:
    """A length for a builder: whole tenths of a millimetre, or hundredths of an inch."""
    if _MARKED.get():
        return f"{{length:{metres * 1e3:.2f}}}"
    return f"{metres / INCH_M:z.2f} in" if imperial else f"{metres * 1e3:z.1f} mm"


def show_ruled(metres: float, imperial: bool = False) -> str:
    """A length as a ruler tells it: whole millimetres, or tenths of an inch; a small one with one place more."""
    size = abs(metres)
    if imperial:
        return f"{metres / INCH_M:z.{2 if size < INCH_M else 1}f} in"
    return f"{1e3 * metres:z.{1 if size < 5e-3 else 0}f} mm"


def show_distance(metres: float, imperial: bool = False) -> str:
    """A distance on the field in whole metres, or feet; metres below ten with one place."""
    if imperial:
        return f"{metres / FOOT_M:z.0f} ft"
    return f"{metres:z.{1 if abs(metres) < 10 else 0}f} m"


def show_mass(kilograms: float, imperial: bool = False) -> str:
    """A mass for a builder: grams, or ounces."""
    if _MARKED.get():
        return f"{{mass:{kilograms * 1e3:.2f}}}"
    return f"{kilograms / OUNCE_KG:z.2f} oz" if imperial else f"{kilograms * 1e3:z.1f} g"


def show_angle(radians: float) -> str:
    """An angle in degrees."""
    return f"{math.degrees(radians):z.1f}°"


def show_speed(metres_per_second: float, imperial: bool = False) -> str:
    """A speed in metres per second, or miles per hour."""
    if _MARKED.get():
        return f"{{speed:{metres_per_second:.2f}}}"
    return f"{metres_per_second / _SPEED['mph']:z.1f} mph" if imperial else f"{metres_per_second:z.1f} m/s"


def show_area(square_metres: float, imperial: bool = False) -> str:
    """A wing area in square decimetres, or square inches."""
    if _MARKED.get():
        return f"{{area:{square_metres * 100:.4f}}}"  # an in² is 0.06 dm²
    return f"{square_metres / INCH_M**2:z.0f} in²" if imperial else f"{square_metres * 100:z.2f} dm²"


def show_loading(kg_per_m2: float, imperial: bool = False) -> str:
    """A wing loading in grams per square decimetre, or ounces per square foot."""
    if _MARKED.get():
        return f"{{loading:{kg_per_m2 * 10:.2f}}}"
    return f"{kg_per_m2 / _AREAL['oz/ft2']:z.1f} oz/ft²" if imperial else f"{kg_per_m2 * 10:z.1f} g/dm²"


def show_force(newtons: float, imperial: bool = False) -> str:
    """A force in newtons to three figures, no finer than a hundredth; or in ounces."""
    if _MARKED.get():
        return f"{{force:{newtons:.3f}}}"
    if imperial:
        ounces = newtons / OUNCE_FORCE_N
        return f"{ounces:z.{1 if abs(ounces) < 100.0 else 0}f} oz"
    size = abs(newtons)
    return f"{newtons:z.{2 if size < 10.0 else 1 if size < 100.0 else 0}f} N"


def show_moment(newton_metres: float, imperial: bool = False) -> str:
    """A bending or twisting moment in newton metres, or ounce inches."""
    if _MARKED.get():
        return f"{{moment:{newton_metres:.4f}}}"
    ounce_inches = newton_metres / (OUNCE_FORCE_N * INCH_M)
    return f"{ounce_inches:z.1f} oz in" if imperial else f"{newton_metres:z.2f} N m"


def show_inertias(kg_m2: tuple[float, ...], imperial: bool = False) -> str:
    """Moments of inertia in g m², or oz in², the unit said once."""
    scale, unit, places = (OUNCE_KG * INCH_M**2, "oz in²", 1) if imperial else (1e-3, "g m²", 2)
    return f"{', '.join(f'{i / scale:.{places}f}' for i in kg_m2)} {unit}"


def show_cubic(kg_per_m3: float, imperial: bool = False) -> str:
    """A cubic wing loading in kilograms per cubic metre, or ounces per cubic foot."""
    return f"{kg_per_m3 * FOOT_M**3 / OUNCE_KG:z.1f} oz/ft³" if imperial else f"{kg_per_m3:z.1f} kg/m³"
