"""Keep what a person measured in their own stock folder."""

from __future__ import annotations

from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Table

from sheetlark.errors import StockError
from sheetlark.stock.items import Motor, Reading, StockPropeller
from sheetlark.stock.reading import user_folder
from sheetlark.writing import write_whole

MEASURED = "measured.toml"


def keep_motor(motor: Motor, folder: Path | None = None) -> Path:
    """Write a motor's three constants over the stock's, and return the file written.

    Parameters
    ----------
    motor : Motor
        Its key says which entry they belong to. A new key gets every field.
    folder : Path, optional
        The person's stock folder; `user_folder()` if left out. Made if it does not exist.

    Raises
    ------
    StockError
        If the file that is there cannot be read.
    """
    return _write(
        folder,
        "motor",
        motor.key,
        {
            "name": motor.name,
            "source": "measured",
            "note": motor.note,
            "mass": f"{motor.mass_kg * 1e3:.6g} g",
            "kv": round(motor.kv_rpm_v, 2),
            "resistance": f"{motor.resistance_ohm * 1e3:.6g} mohm",
            "no-load current": f"{motor.no_load_current_a:.6g} A",
            "no-load voltage": f"{motor.no_load_voltage_v:.6g} V",
            "stator diameter": f"{motor.stator_diameter_m * 1e3:.6g} mm",
            "stator height": f"{motor.stator_height_m * 1e3:.6g} mm",
            "body diameter": f"{motor.body_diameter_m * 1e3:.6g} mm",
            "body length": f"{motor.body_length_m * 1e3:.6g} mm",
            "shaft": f"{motor.shaft_m * 1e3:.6g} mm",
            "max current": f"{motor.max_current_a:.6g} A",
            "max cells": motor.max_cells,
            "mount circle": f"{motor.mount_circle_m * 1e3:.6g} mm",
            "mount holes": motor.mount_holes,
        },
    )


def keep_readings(
    propeller: StockPropeller, readings: tuple[Reading, ...], folder: Path | None = None
) -> Path:
    """Write a propeller's readings over those kept before, and return the file written.

    Raises
    ------
    StockError
        If the file that is there cannot be read.
    """
    rows = tomlkit.array().multiline(multiline=True)
    for reading in readings:
        row = tomlkit.inline_table()
        for name, value in (
            ("rpm", reading.rpm),
            ("advance ratio", reading.advance_ratio),
            ("thrust coefficient", reading.thrust_coefficient),
            ("power coefficient", reading.power_coefficient),
            ("spread", reading.spread),
        ):
            if value is not None:
                row.append(name, float(f"{value:.6g}"))
        rows.append(row)
    return _write(
        folder,
        "propeller",
        propeller.key,
        {
            "name": propeller.name,
            "source": "measured",
            "diameter": f"{propeller.diameter_m * 1e3:.6g} mm",
            "pitch": f"{propeller.pitch_m * 1e3:.6g} mm",
            "style": propeller.style,
            "blades": propeller.blades,
            "mass": f"{propeller.mass_kg * 1e3:.6g} g",
            "readings": rows,
        },
    )


def _write(folder: Path | None, kind: str, key: str, values: dict[str, object]) -> Path:
    place = folder or user_folder()
    file = place / MEASURED
    try:
        place.mkdir(parents=True, exist_ok=True)
        document = tomlkit.parse(file.read_text(encoding="utf-8")) if file.exists() else tomlkit.document()
    except (TOMLKitError, UnicodeDecodeError) as error:
        raise StockError(f"{file}: not a stock file: {error}") from error
    except OSError as error:
        raise StockError(f"{file} cannot be read: {error.strerror or error}") from error
    if kind not in document:
        document.append(kind, tomlkit.table(is_super_table=True))
    tables = document[kind]
    if not isinstance(tables, Table):
        raise StockError(f"{file}: write each {kind} as a table, such as [{kind}.name]")
    if key not in tables:
        tables.append(key, tomlkit.table())
    entry = tables[key]
    if not isinstance(entry, Table):
        raise StockError(f"{file}: {kind}.{key} is not a table")
    for name, value in values.items():
        entry[name] = value
    try:
        write_whole(file, tomlkit.dumps(document).encode("utf-8"))
    except OSError as error:
        raise StockError(f"{file} cannot be written: {error.strerror or error}") from error
    return file
