"""What can be bought: one frozen record for each kind of thing.

Each field says how it is written in a stock file: ``quantity(LENGTH, "thickness")`` is read from the key
``thickness``, in the units builders write. All values inside are SI.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from sheetlark.units import (
    ANGLE,
    AREAL_DENSITY,
    CHARGE,
    CURRENT,
    FRACTION,
    LENGTH,
    LINEAR_DENSITY,
    MASS,
    RESISTANCE,
    TIME,
    TORQUE,
    VOLTAGE,
    Kind,
)

STRESS = Kind(
    "stress",
    "MPa",
    {"Pa": 1.0, "kPa": 1e3, "MPa": 1e6, "GPa": 1e9, "N/mm2": 1e6},
    'a stress such as 30, "30 MPa" or "3 GPa"',
)
SPEED_CONSTANT = Kind(
    "speed constant", "rpm/V", {"rpm/V": 1.0}, 'a speed constant such as 1000 or "1000 rpm/V"'
)
NUMBER = Kind("number", "", {"": 1.0}, "a number such as 4")

Paper = Literal["both", "one", "none"]


def quantity(kind: Kind, key: str, *, default: Any = ..., scale: float = 1.0, many: bool = False) -> Any:
    """A field read from ``key`` in a stock file; ``scale`` multiplies the SI value; ``many`` reads a list."""
    metadata = {"kind": kind, "key": key, "scale": scale, "many": many}
    return field(metadata=metadata) if default is ... else field(default=default, metadata=metadata)


def count(key: str, *, default: Any = ...) -> Any:
    """A whole number read from ``key``."""
    metadata = {"count": True, "key": key}
    return field(metadata=metadata) if default is ... else field(default=default, metadata=metadata)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """Anything in stock.

    key, name : str
        How a design names it, and how a person does.
    source : str
        Where its figures come from: ``typical`` for the stock that is supplied, the file for a person's own.
    note : str
        What the source rests on.
    mass_spread : float
        Relative standard deviation of its mass from one to the next. [-]
    price : float, optional
        Of one (a sheet, a length as sold, a roll, a piece), in the person's own money; None where not known.
    """

    key: str
    name: str
    source: str = "typical"
    note: str = ""
    mass_spread: float = quantity(FRACTION, "mass spread", default=0.05)
    price: float | None = quantity(NUMBER, "price", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet(Item):
    """A flat sheet, with or without paper on its two faces. Foils and lengths in SI.

    grain : 1 where it splits along its width and parts must lie along that; 0 where it does not matter
    """

    thickness_m: float = quantity(LENGTH, "thickness")
    areal_density_kg_m2: float = quantity(AREAL_DENSITY, "mass per area")
    one_paper_kg_m2: float = quantity(AREAL_DENSITY, "one paper")
    no_paper_kg_m2: float = quantity(AREAL_DENSITY, "no paper")
    width_m: float = quantity(LENGTH, "width")
    height_m: float = quantity(LENGTH, "height")
    core_modulus_pa: float = quantity(STRESS, "core modulus")
    core_shear_pa: float = quantity(STRESS, "core shear")
    paper_modulus_pa: float = quantity(STRESS, "paper modulus", default=0.0)
    paper_strength_pa: float = quantity(STRESS, "paper strength", default=0.0)
    paper_thickness_m: float = quantity(LENGTH, "paper thickness", default=0.0)
    grain: int = count("grain", default=0)

    def areal_kg_m2(self, paper: Paper) -> float:
        """Mass per area with both papers, one, or none. [kg/m²]."""
        return {
            "both": self.areal_density_kg_m2,
            "one": self.one_paper_kg_m2,
            "none": self.no_paper_kg_m2,
        }[paper]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rod(Item):
    """A rod, tube, strip or wire. Round ones have diameters, strips width and thickness; the rest are 0."""

    outer_diameter_m: float = quantity(LENGTH, "outer diameter", default=0.0)
    inner_diameter_m: float = quantity(LENGTH, "inner diameter", default=0.0)
    width_m: float = quantity(LENGTH, "width", default=0.0)
    thickness_m: float = quantity(LENGTH, "thickness", default=0.0)
    linear_density_kg_m: float = quantity(LINEAR_DENSITY, "mass per length")
    modulus_pa: float = quantity(STRESS, "modulus")
    strength_pa: float = quantity(STRESS, "strength")
    shape: str = "round"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tape(Item):
    """Adhesive tape."""

    width_m: float = quantity(LENGTH, "width")
    areal_density_kg_m2: float = quantity(AREAL_DENSITY, "mass per area")


@dataclass(frozen=True, slots=True, kw_only=True)
class Film(Item):
    """A covering: film, tape all over, paint, or none."""

    areal_density_kg_m2: float = quantity(AREAL_DENSITY, "mass per area")


@dataclass(frozen=True, slots=True, kw_only=True)
class Glue(Item):
    """Glue as a bead along a joint."""

    linear_density_kg_m: float = quantity(LINEAR_DENSITY, "mass per length")


@dataclass(frozen=True, slots=True, kw_only=True)
class Motor(Item):
    """A brushless outrunner.

    kv_rpm_v, resistance_ohm, no_load_current_a : float
        Its three constants; the current is at ``no_load_voltage_v`` without a propeller.
    max_current_a : float
        Continuous, in the propeller's wind.
    """

    mass_kg: float = quantity(MASS, "mass")
    kv_rpm_v: float = quantity(SPEED_CONSTANT, "kv")
    resistance_ohm: float = quantity(RESISTANCE, "resistance")
    no_load_current_a: float = quantity(CURRENT, "no-load current")
    no_load_voltage_v: float = quantity(VOLTAGE, "no-load voltage")
    stator_diameter_m: float = quantity(LENGTH, "stator diameter")
    stator_height_m: float = quantity(LENGTH, "stator height")
    body_diameter_m: float = quantity(LENGTH, "body diameter")
    body_length_m: float = quantity(LENGTH, "body length")
    shaft_m: float = quantity(LENGTH, "shaft")
    max_current_a: float = quantity(CURRENT, "max current")
    max_cells: int = count("max cells")
    mount_circle_m: float = quantity(LENGTH, "mount circle")
    mount_holes: int = count("mount holes", default=4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading(Item):
    """A propeller's own measurement: coefficients at one advance ratio and speed; one may be missing.

    Thrust over ρn²D⁴ and power over ρn³D⁵, n in rev/s.
    """

    rpm: float = quantity(NUMBER, "rpm")
    advance_ratio: float = quantity(NUMBER, "advance ratio", default=0.0)
    thrust_coefficient: float | None = quantity(NUMBER, "thrust coefficient", default=None)
    power_coefficient: float | None = quantity(NUMBER, "power coefficient", default=None)
    spread: float = quantity(FRACTION, "spread", default=0.01)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockPropeller(Item):
    """A propeller as it is sold: size, blade style, number of blades; and a person's own readings of it."""

    diameter_m: float = quantity(LENGTH, "diameter")
    pitch_m: float = quantity(LENGTH, "pitch")
    style: str = "thin-electric"
    blades: int = count("blades", default=2)
    mass_kg: float = quantity(MASS, "mass")
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Pack(Item):
    """A lithium-polymer pack of cells in series."""

    cells: int = count("cells")
    capacity_ah: float = quantity(CHARGE, "capacity", scale=1 / 3600.0)
    mass_kg: float = quantity(MASS, "mass")
    length_m: float = quantity(LENGTH, "length")
    width_m: float = quantity(LENGTH, "width")
    height_m: float = quantity(LENGTH, "height")
    resistance_per_cell_ohm: float = quantity(RESISTANCE, "resistance per cell")
    continuous_c: float = quantity(NUMBER, "continuous c", default=25.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Controller(Item):
    """A speed controller, with the supply for receiver and servos it carries."""

    max_current_a: float = quantity(CURRENT, "max current")
    resistance_ohm: float = quantity(RESISTANCE, "resistance")
    mass_kg: float = quantity(MASS, "mass")
    bec_v: float = quantity(VOLTAGE, "bec voltage", default=5.0)
    bec_a: float = quantity(CURRENT, "bec current")
    max_cells: int = count("max cells", default=3)
    length_m: float = quantity(LENGTH, "length")
    width_m: float = quantity(LENGTH, "width")
    height_m: float = quantity(LENGTH, "height")


@dataclass(frozen=True, slots=True, kw_only=True)
class Servo(Item):
    """A servo: torque at 5 V, time for 60°, whole travel, case without lugs, arm holes from the shaft."""

    mass_kg: float = quantity(MASS, "mass")
    torque_nm: float = quantity(TORQUE, "torque")
    speed_s_60deg: float = quantity(TIME, "time for 60 deg")
    travel_rad: float = quantity(ANGLE, "travel")
    length_m: float = quantity(LENGTH, "length")
    width_m: float = quantity(LENGTH, "width")
    height_m: float = quantity(LENGTH, "height")
    arm_holes_m: tuple[float, ...] = quantity(LENGTH, "arm holes", many=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Receiver(Item):
    """A radio receiver."""

    channels: int = count("channels")
    mass_kg: float = quantity(MASS, "mass")
    length_m: float = quantity(LENGTH, "length")
    width_m: float = quantity(LENGTH, "width")
    height_m: float = quantity(LENGTH, "height")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wheel(Item):
    """A wheel."""

    diameter_m: float = quantity(LENGTH, "diameter")
    width_m: float = quantity(LENGTH, "width")
    mass_kg: float = quantity(MASS, "mass")


@dataclass(frozen=True, slots=True, kw_only=True)
class Linkage(Item):
    """What runs from servo to horn, by length."""

    linear_density_kg_m: float = quantity(LINEAR_DENSITY, "mass per length")


@dataclass(frozen=True, slots=True, kw_only=True)
class Hardware(Item):
    """A small thing of which only the mass matters."""

    mass_kg: float = quantity(MASS, "mass")
