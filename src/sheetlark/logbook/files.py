"""The logbook's file: TOML beside the design, read with every fault named, added to without touching the rest.

``mine.toml`` has its logbook in ``mine.log.toml``. Each entry is a table of its own at the end of the file, so
that two people's entries merge in version control as lines of text do.
"""

from __future__ import annotations

import datetime as dt
import math
import os
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import replace
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from sheetlark.design import Source, Where, write_text
from sheetlark.errors import LogbookError, UnitError
from sheetlark.logbook.entries import (
    STRENGTHS,
    CorrectionEntry,
    FlightEntry,
    Log,
    MotorReading,
    Sighting,
    Strength,
    Weighing,
)
from sheetlark.logbook.symptoms import CAUSE_UNITS, SYMPTOMS, Unit
from sheetlark.units import ANGLE, CHARGE, CURRENT, FRACTION, LENGTH, MASS, RESISTANCE, SPEED, TIME, Kind

LARGEST_FILE_BYTES = 2_000_000
_HEADING = """# Logbook of {name}: what it weighed, how it flew, what was changed.
# Add entries at the end, by hand or with `sheetlark log`. Bare numbers are grams, millimetres, degrees, minutes.
"""


def log_path(design: str | os.PathLike[str]) -> Path:
    """The logbook that belongs to a design file: beside it, ``.log`` before the suffix."""
    file = Path(design)
    return file.with_name(f"{file.stem}.log.toml")


def load_log(path: str | os.PathLike[str]) -> Log:
    """Read a logbook; one that is not there yet is an empty one.

    Raises
    ------
    LogbookError
        If it cannot be read. The message has a line for each fault: file, line, what was read, what would do.
    """
    file = Path(path)
    try:
        with file.open("rb") as handle:
            raw = handle.read(LARGEST_FILE_BYTES + 1)
    except FileNotFoundError:
        return Log()
    except OSError as error:
        raise LogbookError(f"{file} cannot be read: {error.strerror or error}") from None
    if len(raw) > LARGEST_FILE_BYTES:
        raise LogbookError(
            f"{file} is larger than {LARGEST_FILE_BYTES // 1000} kB; a logbook is a short text"
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise LogbookError(f"{file} is not a UTF-8 text (byte {error.start} cannot be read)") from None
    return read_log(text, name=str(file))


def read_log(text: str, name: str = "") -> Log:
    """Read the text of a logbook; errors as for :func:`load_log`."""
    prefix = f"{name}: " if name else ""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise LogbookError(f"{prefix}this is not a TOML text: {error}") from None
    reader = _Reader(Source(name, text))
    made = reader.log(data)
    if reader.faults:
        raise LogbookError("\n".join(reader.faults))
    return made


class _Reader:
    """Reads tables one by one and gathers what is wrong, so that one run names every fault."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.faults: list[str] = []

    def log(self, data: Mapping[str, Any]) -> Log:
        found: dict[str, list[Any]] = {kind: [] for kind in _KINDS}
        model = ""
        for kind, tables in data.items():
            if kind == "model" and isinstance(tables, str):
                model = tables
            elif kind not in _KINDS:
                self._unknown((kind,), kind, ("model", *_KINDS))
            elif not isinstance(tables, list) or not all(isinstance(t, dict) for t in tables):
                self._fault((kind,), f"write each one as a table of its own, headed [[{kind}]]")
            else:
                for i, table in enumerate(tables):
                    entry = self._entry(kind, i, table)
                    if entry is not None:
                        found[kind].append(entry)
        return Log(
            model=model,
            weighings=tuple(found["weighing"]),
            flights=tuple(found["flight"]),
            corrections=tuple(found["correction"]),
            motors=tuple(found["motor"]),
        )

    def _entry(self, kind: str, index: int, table: Mapping[str, Any]) -> Any:
        make, needed, keys = _KINDS[kind]
        where: Where = (kind, index)
        before = len(self.faults)
        values: dict[str, Any] = {}
        for key, value in table.items():
            if key not in keys:
                self._unknown((*where, key), key, tuple(keys))
                continue
            field, read = keys[key]
            try:
                values[field] = read(value)
            except (UnitError, ValueError) as error:
                self._fault((*where, key), str(error))
        for key in needed:
            if key not in table:
                self._fault(where, f"{key!r} is missing and must be given")
        if len(self.faults) > before:
            return None
        try:
            return make(**values, line=self.source.line(where) or 0)
        except ValueError as error:
            self._fault(where, str(error))
            return None

    def _unknown(self, where: Where, key: str, known: tuple[str, ...]) -> None:
        near = get_close_matches(key, known, n=1, cutoff=0.4)
        hint = f"; did you mean {near[0]!r}?" if near else f"; known here: {', '.join(known)}"
        self._fault(where, f"{key!r} is not a known key{hint}")

    def _fault(self, where: Where, says: str) -> None:
        self.faults.append(self.source.at(where) + says)


def _date(value: object) -> dt.date:
    if isinstance(value, dt.datetime):
        return value.date()
    if isinstance(value, dt.date):
        return value
    if isinstance(value, str):
        try:
            return dt.date.fromisoformat(value.strip())
        except ValueError:
            pass
    raise ValueError(f"expected a date such as 2026-05-17, read {value!r}")


def _text(value: object) -> str:
    if not isinstance(value, str) or len(value) > 4000:
        raise ValueError(f"expected a text of at most 4000 letters in quotes, read {str(value)[:40]!r}")
    return value


def _texts(value: object) -> tuple[str, ...]:
    many = [value] if isinstance(value, str) else value
    if not isinstance(many, list) or not many or not all(isinstance(v, str) and v.strip() for v in many):
        raise ValueError(f"expected a name in quotes, or a list of them, read {value!r}")
    return tuple(v.strip() for v in many)


def _positive(kind: Kind, *, zero: bool = False, scale: float = 1.0) -> Callable[[object], float]:
    def read(value: object) -> float:
        number = kind.read(value) * scale
        if number < 0 or (number == 0 and not zero):
            raise ValueError(f"must be above 0, read {value!r}")
        return number

    return read


def _minutes(value: object) -> float:
    if isinstance(value, int | float) and not isinstance(value, bool):
        seconds = 60.0 * float(value)
    else:
        seconds = TIME.read(value)
    if not 0.0 <= seconds <= 24 * 3600:
        raise ValueError(f"expected minutes in the air, from 0 to a day, read {value!r}")
    return seconds / 60.0


def read_sighting(words: str) -> Sighting:
    """A symptom in the log's words: ``"needs right aileron"``, ``"slightly dips on launch"``.

    Raises
    ------
    ValueError
        If it is no symptom the diagnosis knows; the message names the nearest.
    """
    parts = words.lower().replace(",", " ").split()
    strength: Strength = "clearly"
    for word in STRENGTHS:
        if word in parts:
            parts.remove(word)
            strength = word
    said = " ".join(parts).replace("starboard", "right").replace("to port", "left").replace(" port", " left")
    if said in SYMPTOMS:
        return Sighting(symptom=said, strength=strength)
    near = get_close_matches(said, SYMPTOMS, n=1, cutoff=0.5)
    hint = f"did you mean {near[0]!r}?" if near else f"known are: {', '.join(SYMPTOMS)}"
    raise ValueError(
        f"{words!r} is not a symptom the diagnosis knows; {hint} Anything else goes into 'note'."
    )


def _seen(value: object) -> tuple[Sighting, ...]:
    if isinstance(value, list) and not value:
        return ()
    return tuple(read_sighting(words) for words in _texts(value))


def _correction(*, cause: str, amount: object, **rest: Any) -> CorrectionEntry:
    unit = CAUSE_UNITS.get(cause)
    if unit is None:
        near = get_close_matches(cause, CAUSE_UNITS, n=1, cutoff=0.4)
        hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(CAUSE_UNITS)}"
        raise ValueError(f"{cause!r} is not something the diagnosis can correct; {hint}")
    kind, _, _ = _UNITS[unit]
    return CorrectionEntry(cause=cause, amount=kind.read(amount), **rest)


_UNITS: dict[Unit, tuple[Kind, float, str]] = {
    "m": (LENGTH, 1e3, "mm"),
    "rad": (ANGLE, 180.0 / math.pi, "deg"),
    "m/s": (SPEED, 1.0, "m/s"),
    "1": (FRACTION, 100.0, "%"),
}


def _as_is(value: object) -> object:
    return value


_DATE = {"date": ("date", _date), "note": ("note", _text)}
_Keys = dict[str, tuple[str, Callable[[Any], Any]]]
_KINDS: dict[str, tuple[Callable[..., Any], tuple[str, ...], _Keys]] = {
    "weighing": (
        Weighing,
        ("date", "what", "mass"),
        {
            **_DATE,
            "what": ("what", _texts),
            "mass": ("mass_kg", _positive(MASS)),
            "scale": ("scale_kg", _positive(MASS)),
            "balance": ("balance_x_m", LENGTH.read),
            "balance-spread": ("balance_spread_m", _positive(LENGTH)),
            "battery-at": ("battery_x_m", LENGTH.read),
        },
    ),
    "flight": (
        FlightEntry,
        ("date",),
        {
            **_DATE,
            "seen": ("seen", _seen),
            "minutes": ("minutes", _minutes),
            "charge": ("charge_c", _positive(CHARGE, zero=True)),
            "wind": ("wind_ms", _positive(SPEED, zero=True)),
            "track": ("tracks", _texts),
        },
    ),
    "correction": (
        _correction,
        ("date", "cause", "amount"),
        {**_DATE, "cause": ("cause", _text), "amount": ("amount", _as_is)},
    ),
    "motor": (
        MotorReading,
        ("date", "motor"),
        {
            **_DATE,
            "motor": ("motor", _text),
            "kv": (
                "kv_rpm_v",
                _positive(Kind("speed constant", "rpm/V", {"rpm/V": 1.0}, "1000 or '1000 rpm/V'")),
            ),
            "resistance": ("resistance_ohm", _positive(RESISTANCE)),
            "no-load-current": ("no_load_current_a", _positive(CURRENT)),
            "spread": ("spread", _positive(FRACTION)),
        },
    ),
}


def add_weighing(path: str | os.PathLike[str], weighing: Weighing, *, model: str = "") -> Weighing:
    """Write a weighing at the end of a logbook, making the file if there is none; return it with its line.

    Raises
    ------
    LogbookError
        If the logbook that is there cannot be read: it is then left as it is.
    """
    what = list(weighing.what)
    values: dict[str, object] = {
        "date": weighing.date,
        "what": what[0] if len(what) == 1 else what,
        "mass": f"{weighing.mass_kg * 1e3:.6g} g",
        "scale": f"{weighing.scale_kg * 1e3:.6g} g",
    }
    if weighing.balance_x_m is not None:
        values["balance"] = f"{weighing.balance_x_m * 1e3:.6g} mm"
        values["balance-spread"] = f"{weighing.balance_spread_m * 1e3:.6g} mm"
    if weighing.battery_x_m is not None:
        values["battery-at"] = f"{weighing.battery_x_m * 1e3:.6g} mm"
    return replace(weighing, line=_add(path, "weighing", values, weighing.note, model))


def add_flight(path: str | os.PathLike[str], flight: FlightEntry, *, model: str = "") -> FlightEntry:
    """Write a flight at the end of a logbook; as :func:`add_weighing`."""
    values: dict[str, object] = {
        "date": flight.date,
        "seen": [s.symptom if s.strength == "clearly" else f"{s.strength} {s.symptom}" for s in flight.seen],
    }
    if flight.minutes:
        values["minutes"] = round(flight.minutes, 3)
    if flight.charge_c:
        values["charge"] = f"{flight.charge_c / 3.6:.6g} mAh"
    if flight.wind_ms:
        values["wind"] = f"{flight.wind_ms:.6g} m/s"
    if flight.tracks:
        values["track"] = list(flight.tracks)
    return replace(flight, line=_add(path, "flight", values, flight.note, model))


def add_correction(
    path: str | os.PathLike[str], correction: CorrectionEntry, *, model: str = ""
) -> CorrectionEntry:
    """Write a correction at the end of a logbook; as :func:`add_weighing`."""
    _, scale, unit = _UNITS[CAUSE_UNITS[correction.cause]]
    amount = f"{correction.amount * scale:.6g} {unit}"
    values: dict[str, object] = {"date": correction.date, "cause": correction.cause, "amount": amount}
    return replace(correction, line=_add(path, "correction", values, correction.note, model))


def add_motor_reading(
    path: str | os.PathLike[str], reading: MotorReading, *, model: str = ""
) -> MotorReading:
    """Write a motor's measured constants at the end of a logbook; as :func:`add_weighing`."""
    values: dict[str, object] = {"date": reading.date, "motor": reading.motor}
    if reading.kv_rpm_v is not None:
        values["kv"] = f"{reading.kv_rpm_v:.6g} rpm/V"
    if reading.resistance_ohm is not None:
        values["resistance"] = f"{reading.resistance_ohm * 1e3:.6g} mohm"
    if reading.no_load_current_a is not None:
        values["no-load-current"] = f"{reading.no_load_current_a:.6g} A"
    values["spread"] = f"{100 * reading.spread:.6g} %"
    return replace(reading, line=_add(path, "motor", values, reading.note, model))


def _add(path: str | os.PathLike[str], kind: str, values: Mapping[str, object], note: str, model: str) -> int:
    """Append one table to the text and write the file whole; return the line it begins on."""
    import tomlkit

    file = Path(path)
    load_log(file)  # a logbook with a fault is not added to: the fault is named instead
    try:
        text = file.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        text = _HEADING.format(name=(model or file.name.removesuffix(".log.toml")).replace("\n", " "))
        if model:
            text += f"\nmodel = {tomlkit.string(model).as_string()}\n"
    table = tomlkit.table()
    for key, value in values.items():
        table.add(key, value)
    if note:
        table.add("note", note)
    body = tomlkit.dumps({kind: [table]}).strip("\n")
    text = text.rstrip("\n") + "\n\n"
    line = text.count("\n") + 1
    text += body + "\n"
    read_log(text, name=str(file))  # what is written can be read again
    write_text(file, text)
    return line
