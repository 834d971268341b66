"""The logbook, for the page: what was weighed and flown, what to write next, and what it teaches."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sheetlark.errors import LogbookError, SheetlarkError
from sheetlark.evaluation import Evaluation
from sheetlark.logbook import (
    EVERYTHING,
    SYMPTOMS,
    FlightEntry,
    Log,
    Sighting,
    Weighing,
    add_flight,
    add_weighing,
    as_built,
    diagnosis,
    load_log,
    log_path,
    log_text,
    rebalance,
    weight_story,
)
from sheetlark.units import CHARGE, LENGTH, MASS

Plain = dict[str, Any]


def logbook_room(e: Evaluation, design: Path, *, imperial: bool) -> Plain:
    """The logbook beside a design.

    Raises
    ------
    LogbookError
        If it cannot be read.
    """
    log = load_log(log_path(design))
    return {
        "file": log_path(design).name,
        "story": log_text(log, imperial=imperial).splitlines() if log.story else [],
        "weights": _weights(e, log, imperial=imperial) if log.weighings else [],
        "flights": len(log.flights),
        "names": [EVERYTHING, *dict.fromkeys(line.group for line in e.weights.lines)],
        "lines": list(dict.fromkeys(line.name for line in e.weights.lines)),
        "symptoms": list(SYMPTOMS),
    }


def _weights(e: Evaluation, log: Log, *, imperial: bool) -> list[str]:
    built = as_built(e, log)
    try:
        move = rebalance(e, built)
    except SheetlarkError as error:
        return [*weight_story(built, None, imperial=imperial).splitlines(), str(error)]
    return weight_story(built, move, imperial=imperial).splitlines()


def write_weighing(e: Evaluation, design: Path, given: Plain) -> None:
    """Write a weighing into the logbook.

    Raises
    ------
    LogbookError, UnitError
        If something of it cannot be read, or names nothing of this model.
    """
    what = str(given.get("what") or EVERYTHING).strip()
    balance = str(given.get("balance") or "").strip()
    entry = Weighing(
        date=_day(given),
        what=(what,),
        mass_kg=MASS.read(str(given.get("mass") or "")),
        balance_x_m=LENGTH.read(balance) if balance else None,
        note=str(given.get("note") or "")[:400],
    )
    if not entry.mass_kg > 0:
        raise LogbookError(f"a mass is above 0, read {given.get('mass')!r}")
    as_built(e, Log(weighings=(entry,)))  # refuses what this model does not have
    add_weighing(log_path(design), entry, model=e.design.model.name)


def write_flight(e: Evaluation, design: Path, given: Plain) -> None:
    """Write a flight into the logbook.

    Raises
    ------
    LogbookError, UnitError
        If something of it cannot be read.
    """
    seen = [str(word) for word in given.get("seen") or []]
    unknown = [word for word in seen if word not in SYMPTOMS]
    if unknown:
        raise LogbookError(f"{unknown[0]!r} is not something the logbook knows how to read")
    minutes, charge = (str(given.get(key) or "").strip() for key in ("minutes", "charge"))
    try:
        lasted = float(minutes.replace(",", ".")) if minutes else 0.0
    except ValueError:
        raise LogbookError(f"minutes in the air are a number such as 6.5, read {minutes!r}") from None
    if not 0.0 <= lasted <= 1440.0:
        raise LogbookError(f"minutes in the air lie between 0 and a day, read {minutes!r}")
    entry = FlightEntry(
        date=_day(given),
        seen=tuple(Sighting(symptom=word) for word in seen),
        minutes=lasted,
        charge_c=CHARGE.read(charge) if charge else 0.0,
        note=str(given.get("note") or "")[:400],
    )
    add_flight(log_path(design), entry, model=e.design.model.name)


def _day(given: Plain) -> dt.date:
    text = str(given.get("date") or "").strip()
    try:
        return dt.date.fromisoformat(text) if text else dt.datetime.now(tz=dt.UTC).astimezone().date()
    except ValueError:
        raise LogbookError(f"a date is written 2026-05-17, read {text!r}") from None


def taught(e: Evaluation, design: Path, tell: Callable[[float, str], None]) -> Plain:
    """What the flights so far say is off on the model, and what to try.

    Raises
    ------
    LogbookError
        If there is no flight yet, or the model cannot be flown by the numbers.
    """
    log = load_log(log_path(design))
    if not log.flights:
        raise LogbookError("no flight in the logbook yet; write one down first")
    if e.flight.performance is None or e.flight.cruise is None:
        raise LogbookError("the diagnosis flies the model by the numbers, and these do not hold it up")
    tell(0.3, "flying it with each cause put in")
    return {"says": diagnosis(e, log).splitlines()}
