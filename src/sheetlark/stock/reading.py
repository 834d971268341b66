"""Stock files: TOML, in the units builders write, read into frozen records.

A file holds tables named by kind and key: ``[motor.2212-1000]``. Files are read in order of name, the
supplied ones first, then each folder's own. An entry of the same kind and key changes only what it states
and keeps the rest, so a weighed mass is one line.
"""

from __future__ import annotations

import dataclasses
import functools
import os
import tomllib
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any, TypeVar, cast

from sheetlark.errors import StockError, UnitError
from sheetlark.stock import typical
from sheetlark.stock.catalogue import Stock
from sheetlark.stock.items import (
    Controller,
    Film,
    Glue,
    Hardware,
    Item,
    Linkage,
    Motor,
    Pack,
    Reading,
    Receiver,
    Rod,
    Servo,
    Sheet,
    StockPropeller,
    Tape,
    Wheel,
)

SUPPLIED = Path(__file__).parent / "data"

KINDS: dict[str, type[Item]] = {
    "sheet": Sheet,
    "rod": Rod,
    "tape": Tape,
    "covering": Film,
    "glue": Glue,
    "motor": Motor,
    "propeller": StockPropeller,
    "pack": Pack,
    "controller": Controller,
    "servo": Servo,
    "receiver": Receiver,
    "wheel": Wheel,
    "linkage": Linkage,
    "hardware": Hardware,
}
MAY_BE_NEGATIVE = frozenset[str]({"thrust coefficient", "power coefficient", "advance ratio"})
MAY_BE_ZERO = frozenset(
    {
        "mass spread",
        "mass per area",
        "core modulus",
        "core shear",
        "paper modulus",
        "paper strength",
        "paper thickness",
        "inner diameter",
        "outer diameter",
        "width",
        "thickness",
        "price",
        "bec voltage",
        "bec current",
        "mount circle",
        "mount holes",
    }
)

I = TypeVar("I", bound=Item)  # noqa: E741


@dataclasses.dataclass(frozen=True, slots=True)
class _Entry:
    """One raw table with the place it was last written."""

    kind: str
    key: str
    file: Path
    values: Mapping[str, object]
    supplied: bool

    @property
    def place(self) -> str:
        return f"{self.file}: {self.kind}.{self.key}"


def user_folder() -> Path:
    """The person's own stock folder: $SHEETLARK_STOCK, else ~/.config/sheetlark/stock. It need not exist."""
    named = os.environ.get("SHEETLARK_STOCK")
    return Path(named) if named else Path.home() / ".config" / "sheetlark" / "stock"


def load_stock(*folders: Path) -> Stock:
    """The supplied stock, with a person's own added to it or put over it.

    Parameters
    ----------
    *folders : Path
        Folders of stock files, later ones over earlier ones. None given: `user_folder()`, if it exists.

    Returns
    -------
    Stock
        The same object again for as long as no file has changed.

    Raises
    ------
    StockError
        For a folder that does not exist, a file that is not TOML, or an entry that cannot be read; the
        message names file, entry and field, and what would do.
    """
    own = [Path(folder) for folder in folders]
    for folder in own:
        if not folder.is_dir():
            raise StockError(f"no stock folder {str(folder)!r}. Make it, or leave it out.")
    if not folders and user_folder().is_dir():
        own = [user_folder()]
    files = tuple(
        (file, stat.st_mtime_ns, stat.st_size)
        for folder in (SUPPLIED, *own)
        for file in sorted(folder.glob("*.toml"))
        for stat in (file.stat(),)
    )
    return _load(files)


@functools.lru_cache(maxsize=8)
def _load(files: tuple[tuple[Path, int, int], ...]) -> Stock:
    entries: dict[tuple[str, str], _Entry] = {}
    for file, _, _ in files:
        for entry in _entries(file):
            earlier = entries.get((entry.kind, entry.key))
            if earlier is not None:
                kept = dict(earlier.values) if not earlier.supplied or not entry.supplied else {}
                entry = dataclasses.replace(entry, values={**kept, **entry.values})  # noqa: PLW2901
            entries[entry.kind, entry.key] = entry
    read: dict[str, list[Item]] = {kind: [] for kind in KINDS}
    for entry in entries.values():
        read[entry.kind].append(_item(entry))

    def all_of(kind: type[I]) -> tuple[I, ...]:
        name = next(name for name, known in KINDS.items() if known is kind)
        return cast("tuple[I, ...]", tuple(read[name]))

    return Stock(
        sheets=all_of(Sheet),
        rods=all_of(Rod),
        tapes=all_of(Tape),
        coverings=all_of(Film),
        glues=all_of(Glue),
        motors=all_of(Motor),
        propellers=all_of(StockPropeller),
        packs=all_of(Pack),
        controllers=all_of(Controller),
        servos=all_of(Servo),
        receivers=all_of(Receiver),
        wheels=all_of(Wheel),
        linkages=all_of(Linkage),
        hardware_items=all_of(Hardware),
    )


def _entries(file: Path) -> list[_Entry]:
    try:
        content = tomllib.loads(file.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise StockError(f"{file}: not a stock file: {error}") from error
    found = []
    for kind, tables in content.items():
        if kind not in KINDS:
            near = get_close_matches(kind, KINDS, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"kinds are {', '.join(KINDS)}"
            raise StockError(f"{file}: {kind!r} is no kind of stock; {hint}")
        if not isinstance(tables, dict) or not all(isinstance(table, dict) for table in tables.values()):
            raise StockError(f"{file}: write each {kind} as a table, such as [{kind}.name]")
        found += [_Entry(kind, key, file, values, file.parent == SUPPLIED) for key, values in tables.items()]
    return found


def _item(entry: _Entry) -> Item:
    own = "typical" if entry.supplied else f"your stock, {entry.file.name}"
    return _record(KINDS[entry.kind], entry, {"source": own, **entry.values})


def _record(kind: type[I], entry: _Entry, values: Mapping[str, object]) -> I:
    """Build one record from its table, estimating what the file leaves out."""
    fields = {f.metadata.get("key", f.name): f for f in dataclasses.fields(kind) if f.name != "key"}
    for name in values:
        if name not in fields:
            if isinstance(values[name], dict):
                raise StockError(
                    f'{entry.place}: a key with a dot needs quotes, such as [{entry.kind}."a-1.5"]'
                )
            near = get_close_matches(name, fields, n=1, cutoff=0.4)
            hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(fields)}"
            raise StockError(f"{entry.place}: unknown field {name!r}; {hint}")
    got: dict[str, Any] = {"key": entry.key}
    for name, described in fields.items():
        if name in values:
            got[described.name] = _value(described, entry, name, values[name])
    got.setdefault("name", entry.key)
    estimate = _ESTIMATES.get(kind)
    if estimate is not None:
        estimate(got)
    for name, described in fields.items():
        if described.name not in got and described.default is dataclasses.MISSING:
            raise StockError(f"{entry.place}: the field {name!r} is missing")
    return kind(**got)


def _value(described: dataclasses.Field[Any], entry: _Entry, name: str, value: object) -> object:
    place = f"{entry.place}: {name}"
    if name == "readings":
        if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
            raise StockError(f"{place}: write each reading as a table with rpm and a coefficient")
        return tuple(_record(Reading, entry, row) for row in value)
    if "count" in described.metadata:
        if isinstance(value, bool) or not isinstance(value, int) or value < 0 or value > 64:
            raise StockError(f"{place}: expected a whole number from 0 to 64, read {value!r}")
        return value
    if "kind" not in described.metadata:
        if not isinstance(value, str):
            raise StockError(f"{place}: expected a text, read {value!r}")
        return value
    rows = value if described.metadata["many"] and isinstance(value, list) else [value]
    try:
        numbers = [described.metadata["kind"].read(row) * described.metadata["scale"] for row in rows]
    except UnitError as error:
        raise StockError(f"{place}: {error}") from error
    for number in numbers:
        if name in MAY_BE_NEGATIVE:
            continue
        if number < 0 or (number == 0 and name not in MAY_BE_ZERO):
            raise StockError(f"{place}: must be above 0, read {value!r}")
    return tuple(numbers) if described.metadata["many"] else numbers[0]


def _estimate_motor(got: dict[str, Any]) -> None:
    try:
        kv, d, h = got["kv_rpm_v"], got["stator_diameter_m"], got["stator_height_m"]
    except KeyError:
        return  # the missing field is reported by name
    volts = got.setdefault("no_load_voltage_v", typical.REFERENCE_VOLTAGE_V)
    got.setdefault("resistance_ohm", typical.winding_resistance_ohm(d, h, kv))
    got.setdefault("no_load_current_a", typical.no_load_current_a(d, h, kv, volts))
    if "mass_kg" in got:
        got.setdefault("max_current_a", typical.motor_current_limit_a(got["mass_kg"], got["resistance_ohm"]))
    # The bell stands 3 mm outside the stator's radius in all; mount and shaft ends add 13 mm (typical).
    got.setdefault("body_diameter_m", d + 0.006)
    got.setdefault("body_length_m", h + 0.013)
    got.setdefault("mount_circle_m", 0.72 * d)


def _estimate_propeller(got: dict[str, Any]) -> None:
    if "diameter_m" in got:
        style, blades = got.get("style", "thin-electric"), got.get("blades", 2)
        got.setdefault("mass_kg", typical.propeller_mass_kg(got["diameter_m"], style, blades))


def _estimate_pack(got: dict[str, Any]) -> None:
    if "cells" in got and "capacity_ah" in got:
        mass = got.setdefault("mass_kg", typical.pack_mass_kg(got["cells"], got["capacity_ah"]))
        got.setdefault("resistance_per_cell_ohm", typical.cell_resistance_ohm(got["capacity_ah"]))
        for name, size in zip(("length_m", "width_m", "height_m"), typical.pack_size_m(mass), strict=True):
            got.setdefault(name, size)


def _estimate_controller(got: dict[str, Any]) -> None:
    if "max_current_a" in got:
        amps = got["max_current_a"]
        got.setdefault("resistance_ohm", typical.controller_resistance_ohm(amps))
        got.setdefault("mass_kg", typical.controller_mass_kg(amps))


_ESTIMATES: dict[type[Item], Callable[[dict[str, Any]], None]] = {
    Motor: _estimate_motor,
    StockPropeller: _estimate_propeller,
    Pack: _estimate_pack,
    Controller: _estimate_controller,
}
