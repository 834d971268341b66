"""The controls of the shape room: one for each value a design may state, made from the design's own models.

What a control is called and what it is for stand here; what it may hold comes from the models, so that a new
field appears on the bench by itself.
"""

from __future__ import annotations

import math
import re
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any

from sheetlark.design import Where, schema
from sheetlark.errors import DesignError
from sheetlark.stock import Stock

_QUANTITIES = {
    "length in mm": "length",
    "mass in g": "mass",
    "angle in deg": "angle",
    "speed in m/s": "speed",
    "fraction in parts of one": "fraction",
}
_IMPERIAL = {"length": "in", "mass": "oz", "speed": "mph", "altitude": "ft", "temperature": "F"}

# Which list of the stock a key is looked up in.
_STOCK = {
    "stock": "sheets",
    "firewall": "sheets",
    "sheet": "sheets",
    "glue": "glues",
    "tape": "tapes",
    "rod": "rods",
    "wheel": "wheels",
    "wire": "rods",
    "motor": "motors",
    "propeller": "propellers",
    "pack": "packs",
    "controller": "controllers",
    "receiver": "receivers",
    "push_rod": "linkages",
}
_STOCK_IN = {("Servo", "stock"): "servos", ("Covering", "stock"): "coverings"}

_LABELS = {
    "SheetChoice.most": "sheets you have",
    "Design.model": "The model",
    "Design.sheet": "Sheet and glue",
    "Design.wing": "Wings",
    "Design.tailplane": "Tailplane",
    "Design.fin": "Fins",
    "Design.body": "Body",
    "Design.strut": "Struts",
    "Design.gear": "Undercarriage",
    "Design.covering": "Covering",
    "Design.drive": "Motor and battery",
    "Design.radio": "Radio",
    "Design.ballast": "Ballast",
    "Design.decal": "Decals",
    "Design.flying": "Where it flies",
    "Model.units": "units",
    "SheetChoice.stock": "sheet",
    "SheetChoice.firewall": "firewall sheet",
    "Body.former": "Formers",
    "Body.width": "widths",
    "Body.covered": "covered faces",
    "Radio.servo": "Servos",
    "Wing.spar": "Spars",
    "Tailplane.spar": "Spars",
    "Wing.section": "section",
    "Drive.pack": "battery",
    "Drive.pack_at": "battery place",
    "Drive.pack_travel": "battery travel",
    "Drive.controller": "speed controller",
    "Drive.controller_at": "speed controller place",
    "Drive.motor_at": "motor place",
    "Drive.twin": "two motors",
    "Drive.pusher": "pusher propeller",
    "Drive.down": "down thrust",
    "Drive.right": "right thrust",
    "Radio.receiver_at": "receiver place",
    "Servo.stock": "servo",
    "Servo.arm": "servo arm hole",
    "Servo.horn": "horn hole",
    "Servo.push_rod": "push rod",
    "Covering.stock": "covering",
    "Fin.y": "distance from the centre line",
    "Strut.y": "distance from the centre line",
    "Strut.place": "place on the chord",
    "Strut.crossed": "feet of crossed braces apart",
    "Gear.at": "axle place",
    "Gear.mount_z": "height of its mount",
    "Aileron.chord": "share of the chord",
    "Elevator.chord": "share of the chord",
    "Rudder.chord": "share of the chord",
    "Rudder.up": "throw to the left",
    "Rudder.down": "throw to the right",
    "Aileron.up": "throw up",
    "Aileron.down": "throw down",
    "Elevator.up": "throw up",
    "Elevator.down": "throw down",
    "Aileron.start": "begins at",
    "Aileron.end": "ends at",
    "Elevator.start": "begins at",
    "Elevator.end": "ends at",
    "Rudder.start": "begins at",
    "Rudder.end": "ends at",
    "Spar.at": "place on the chord",
    "Former.at": "station",
    "Decal.on": "goes on",
    "Decal.at": "place of its middle",
    "Deck.height": "height of the crown",
    "Deck.end_height": "height of the crown at its end",
    "Flying.style": "style of flying",
}
_HELP = {
    "Wing.incidence": "angle of the root chord to the thrust line; leading edge up is positive",
    "Wing.dihedral": "how much each half rises towards its tip",
    "Wing.held": "how it is fastened: bands give way in a hard landing",
    "Wing.edge": "how the leading edge is finished",
    "Wing.tip_chord": "before the tip is rounded; the root chord where left empty",
    "Planform.sweep": "of the leading edge",
    "Tailplane.dihedral": "20 deg and more makes it a V-tail",
    "Tailplane.incidence": "angle of its chord to the thrust line",
    "Aileron.start": "share of the half span from the centre line",
    "Aileron.end": "share of the half span from the centre line",
    "Drive.down": "tilt of the thrust line, nose down",
    "Drive.right": "tilt of the thrust line to starboard",
    "Former.opening": "0 for a solid one",
    "Gear.track": "between the wheels",
    "Ballast.mass": "what it weighs",
    "Flying.wind": "the usual wind where you fly",
    "Model.target_mass": "what you hope it weighs, ready to fly",
    "SheetChoice.paper": "which papers stay on the foam",
}
_POINTS = {
    ("Wing", "at"): ("x", "z"),
    ("Tailplane", "at"): ("x", "z"),
    ("Fin", "at"): ("x", "z"),
    ("Gear", "at"): ("x", "z"),
    ("Decal", "at"): ("x", "y or z"),
    ("Decal", "size"): ("length", "height"),
}
_LENGTHS_OF_LAND = {("Flying", "altitude")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """One control, or a group of them.

    kind : table, list, length, mass, angle, speed, fraction, altitude, temperature, choice, stock, text, flag,
        point, pairs, path, names
    key, label, help : in the file; on the page; what it is for
    limits : the range in words
    optional : whether it may be left out
    choices : of a choice; names of the axes for a point; the stock's list for a stock key
    inside : controls of a table, or of one row of a list
    default : what stands where nothing is stated, as in a file
    most : rows a list may have
    """

    kind: str
    key: str
    label: str
    help: str = ""
    limits: str = ""
    optional: bool = False
    choices: tuple[str, ...] = ()
    inside: tuple[Control, ...] = ()
    default: Any = None
    most: int = 0


@lru_cache(maxsize=1)
def controls() -> tuple[Control, ...]:
    """Every control of a design, table by table, in the order of the models."""
    whole = schema()
    return _table(whole, whole["$defs"], "Design")


def controls_plain() -> list[dict[str, Any]]:
    """The same as plain values for the page."""
    return [asdict(control) for control in controls()]


def _table(model: dict[str, Any], defs: dict[str, Any], title: str) -> tuple[Control, ...]:
    needed = model.get("required", [])
    return tuple(
        _control(title, key, field, defs, needed=key in needed) for key, field in model["properties"].items()
    )


def _control(title: str, key: str, field: dict[str, Any], defs: dict[str, Any], *, needed: bool) -> Control:
    name = f"{title}.{key}"
    options = field.get("anyOf", [])
    optional = not needed and (
        any(o.get("type") == "null" for o in options) or field.get("default", ...) in (None, "")
    )
    field = (
        {**next((o for o in options if o.get("anyOf") or o.get("$ref")), {}), **field} if options else field
    )
    if options and any(o.get("type") == "null" for o in options):
        inner = next(o for o in options if o.get("type") != "null")
        field = {**inner, **{k: v for k, v in field.items() if k != "anyOf"}, **_only(inner, "anyOf")}
    label = _LABELS.get(name, "place" if key == "at" else key.replace("_", " "))
    own = str(field.get("description", ""))
    say = _HELP.get(name) or _HELP.get(f"Planform.{key}") if name not in _LABELS or name in _HELP else ""
    inner_words = next((o["description"] for o in options if "from" in str(o.get("description"))), "")
    limits = own if re.match(r"an? \w+ (from|within|such)", own) else str(inner_words)
    base: dict[str, Any] = {
        "key": key,
        "label": label,
        "help": say or (own if own != limits else ""),
        "limits": limits,
        "optional": optional,
        "default": field.get("default"),
    }
    ref = field.get("$ref", "").rpartition("/")[2]
    if ref:
        return Control(kind="table", **{**base, "help": ""}, inside=_table(defs[ref], defs, ref))
    if field.get("type") == "array":
        return _array(title, key, field, defs, base)
    if (title, key) in _LENGTHS_OF_LAND:
        return Control(kind="altitude", **base)
    for option in field.get("anyOf", []):
        if option.get("description") in _QUANTITIES:
            return Control(kind=_QUANTITIES[option["description"]], **base)
    if key == "temperature":
        return Control(kind="temperature", **base)
    if key in {"outline", "profile"}:
        return Control(kind="path", **base)
    if "integer" in {field.get("type"), *(o.get("type") for o in options)}:
        return Control(kind="count", **base)
    if field.get("type") == "boolean":
        return Control(kind="flag", **base)
    if "enum" in field or "const" in field:
        return Control(kind="choice", **base, choices=tuple(field.get("enum", [field.get("const")])))
    shelf = _STOCK_IN.get((title, key)) or _STOCK.get(key)
    if shelf:
        return Control(kind="stock", **base, choices=(shelf,))
    return Control(kind="text", **base)


def _only(field: dict[str, Any], key: str) -> dict[str, Any]:
    return {key: field[key]} if key in field else {}


def _array(
    title: str, key: str, field: dict[str, Any], defs: dict[str, Any], base: dict[str, Any]
) -> Control:
    most = int(field.get("maxItems", 24))
    if "prefixItems" in field:
        count = len(field["prefixItems"])
        if title == "Strut" and key == "joins":
            return Control(kind="names", **base, choices=("lower end", "upper end"))
        axes = _POINTS.get((title, key), ("x", "y", "z")[:count])
        return Control(kind="point", **base, choices=axes)
    items = field.get("items", {})
    ref = items.get("$ref", "").rpartition("/")[2]
    if ref:
        return Control(kind="list", **{**base, "help": ""}, inside=_table(defs[ref], defs, ref), most=most)
    if "enum" in items:
        return Control(kind="several", **base, choices=tuple(items["enum"]))
    return Control(kind="pairs", **base, choices=("x", "width"), most=most)


def control_at(where: Where) -> Control | None:
    """The control for a value's place in the file, or None where there is none."""
    level = controls()
    found: Control | None = None
    for part in where:
        if isinstance(part, int):
            continue
        found = next((c for c in level if c.key == part), None)
        if found is None:
            return None
        level = found.inside
    return found


def typed(where: Where, value: object, *, imperial: bool) -> object:
    """What a person typed, as it belongs in the file; None for nothing.

    A bare number is in the units the page shows: millimetres and grams, or inches and ounces.

    Raises
    ------
    DesignError
        If there is no such value in a design.
    """
    control = control_at(where)
    if control is None:
        raise DesignError(f"there is no {'.'.join(str(p) for p in where)} in a design")
    return _typed(control.kind, value, imperial=imperial)


def _typed(kind: str, value: object, *, imperial: bool) -> object:
    if isinstance(value, list):
        inner = "length" if kind in {"point", "pairs"} else kind
        return [_typed(inner, v, imperial=imperial) for v in value]
    if not isinstance(value, str) or kind in {"text", "choice", "stock", "path", "several", "names"}:
        return _plain(value) if not isinstance(value, str) or value.strip() else None
    text = value.strip().replace("−", "-")
    if not text:
        return None
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        return text
    if not math.isfinite(number):
        return text
    if imperial and kind in _IMPERIAL:
        return f"{number:g} {_IMPERIAL[kind]}"
    if kind == "altitude":
        return f"{number:g} m"
    return _plain(number)


def _plain(value: object) -> object:
    """Whole numbers without a point, others to a ten-thousandth, as a person would write them."""
    if isinstance(value, float):
        rounded = round(value, 4)
        return int(rounded) if rounded == int(rounded) else rounded
    if isinstance(value, list):
        return [_plain(v) for v in value]
    return value


def shelves(stock: Stock) -> dict[str, list[dict[str, str]]]:
    """What can be chosen from each list of the stock: its key and its name."""
    names = sorted({*_STOCK.values(), *_STOCK_IN.values()})
    return {name: [{"key": i.key, "name": i.name} for i in getattr(stock, name)] for name in names}
