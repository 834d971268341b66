"""Where a person's own experience is kept: what was weighed, what was predicted, and the stock it corrects.

Two files in the folder above the person's stock: ``weighed.toml`` with what each model said of each batch, and
``record.toml`` with predicted against actual for every model. The beliefs that follow are written into the stock
folder as ``learned.toml``, which the next design's figures are computed from; each says what it rests on.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from sheetlark.design import write_text
from sheetlark.errors import LogbookError
from sheetlark.evaluation import Evaluation
from sheetlark.logbook.asbuilt import as_built
from sheetlark.logbook.entries import Log
from sheetlark.logbook.learning import Datum, Learned, data_of, learned, normal_after
from sheetlark.stock import Motor, Stock, keep_motor, load_stock, user_folder
from sheetlark.stock.reading import SUPPLIED

WEIGHED, RECORD, LEARNED = "weighed.toml", "record.toml", "learned.toml"

# Fields of the stock that a mass ratio moves, by kind of entry, with the unit they are written in.
_FIELDS: dict[str, tuple[tuple[str, str, float, str], ...]] = {
    "sheet": (
        ("areal_density_kg_m2", "mass per area", 1e3, "g/m2"),
        ("one_paper_kg_m2", "one paper", 1e3, "g/m2"),
        ("no_paper_kg_m2", "no paper", 1e3, "g/m2"),
    ),
    "tape": (("areal_density_kg_m2", "mass per area", 1e3, "g/m2"),),
    "covering": (("areal_density_kg_m2", "mass per area", 1e3, "g/m2"),),
    "glue": (("linear_density_kg_m", "mass per length", 1e3, "g/m"),),
    "rod": (("linear_density_kg_m", "mass per length", 1e3, "g/m"),),
    "linkage": (("linear_density_kg_m", "mass per length", 1e3, "g/m"),),
    **dict.fromkeys(
        ("motor", "propeller", "pack", "controller", "servo", "receiver", "wheel", "hardware"),
        (("mass_kg", "mass", 1000.0, "g"),),
    ),
}
_LISTS = {
    "sheet": "sheets",
    "tape": "tapes",
    "covering": "coverings",
    "glue": "glues",
    "rod": "rods",
    "linkage": "linkages",
    "motor": "motors",
    "propeller": "propellers",
    "pack": "packs",
    "controller": "controllers",
    "servo": "servos",
    "receiver": "receivers",
    "wheel": "wheels",
    "hardware": "hardware_items",
}


def _supplied(kind: str, key: str) -> Any:
    stock: Stock = load_stock(SUPPLIED)
    return next((item for item in getattr(stock, _LISTS[kind]) if item.key == key), None)


def learn(evaluation: Evaluation, log: Log, *, folder: Path | None = None) -> tuple[Learned, ...]:
    """Take a model's weighings into the person's own stock, and say what is believed now.

    Calling it again for the same model replaces what that model said before. Entries a person added themselves
    are theirs: only figures of the supplied stock are corrected.

    Parameters
    ----------
    folder : Path, optional
        The person's stock folder; `user_folder()` if left out.

    Raises
    ------
    LogbookError
        If a weighing names something the model does not have, or the kept files cannot be read.
    """
    place = folder or user_folder()
    # a ratio is told against the supplied figure, whatever the figure in use is by now
    used = evaluation.stock
    fresh = []
    for datum in data_of(evaluation, log):
        if datum.kind not in _LISTS or _supplied(datum.kind, datum.key) is None:
            continue
        now = next((i for i in getattr(used, _LISTS[datum.kind]) if i.key == datum.key), None)
        field = _FIELDS[datum.kind][0][0]
        base = float(getattr(_supplied(datum.kind, datum.key), field))
        shift = float(getattr(now, field)) / base if now is not None and base > 0 else 1.0
        fresh.append(
            Datum(
                kind=datum.kind,
                key=datum.key,
                model=datum.model,
                ratio=datum.ratio * shift,
                spread=datum.spread * shift,
            )
        )
    kept = [d for d in read_weighed(place.parent / WEIGHED) if d.model != evaluation.design.model.name]
    every = (*kept, *fresh)
    place.mkdir(parents=True, exist_ok=True)
    _write_rows(
        place.parent / WEIGHED,
        "weighed",
        "What each model built so far says of the stock.",
        [
            {
                "kind": d.kind,
                "key": d.key,
                "model": d.model,
                "ratio": round(d.ratio, 6),
                "spread": round(d.spread, 6),
            }
            for d in every
        ],
    )
    beliefs = []
    for kind, key in dict.fromkeys((d.kind, d.key) for d in every):
        item = _supplied(kind, key)
        if item is None:
            continue
        belief = learned(
            tuple(d for d in every if (d.kind, d.key) == (kind, key)), prior_spread=float(item.mass_spread)
        )
        if belief is not None:
            beliefs.append(belief)
    write_text(place / LEARNED, _learned_text(tuple(beliefs)))
    return tuple(beliefs)


def stock_for(model: str, *, folder: Path | None = None) -> Stock:
    """The stock in use, with what one model itself taught left out.

    A model's own weighings must not come back to it as a prediction: its as-built weights and its record are
    reckoned with this.

    Raises
    ------
    LogbookError
        If the kept files cannot be read.
    """
    place = folder or user_folder()
    stock = load_stock(place) if place.is_dir() else load_stock(SUPPLIED)
    data = read_weighed(place.parent / WEIGHED)
    mine = {(d.kind, d.key) for d in data if d.model == model}
    changes: dict[str, dict[str, Any]] = {}
    for kind, key in mine:
        supplied = _supplied(kind, key)
        others = tuple(d for d in data if (d.kind, d.key) == (kind, key) and d.model != model)
        if supplied is None:
            continue
        belief = learned(others, prior_spread=float(supplied.mass_spread))
        ratio = belief.ratio if belief is not None else 1.0
        figures = {field: float(getattr(supplied, field)) * ratio for field, _, _, _ in _FIELDS[kind]}
        spread = belief.spread if belief is not None else supplied.mass_spread
        now = next(item for item in getattr(stock, _LISTS[kind]) if item.key == key)
        made = replace(
            now,
            **figures,
            mass_spread=spread,
            source="measured" if belief is not None else supplied.source,
            note=belief.says if belief is not None else supplied.note,
        )
        changes.setdefault(_LISTS[kind], {})[key] = made
    kinds = {
        name: tuple(fresh.get(item.key, item) for item in getattr(stock, name))
        for name, fresh in changes.items()
    }
    return replace(stock, **kinds) if kinds else stock


def _learned_text(beliefs: tuple[Learned, ...]) -> str:
    lines = [
        "# Learned from your own weighings. Written anew each time; your own figures go into a file beside it."
    ]
    for belief in beliefs:
        item = _supplied(belief.kind, belief.key)
        lines += ["", f'[{belief.kind}."{belief.key}"]', 'source = "measured"', f'note = "{belief.says}"']
        for field, written, scale, unit in _FIELDS[belief.kind]:
            value = float(getattr(item, field)) * belief.ratio * scale
            lines.append(f'"{written}" = "{value:.5g} {unit}"')
        lines.append(f'"mass spread" = "{100 * belief.spread:.2f} %"')
    return "\n".join(lines) + "\n"


def read_weighed(file: Path) -> tuple[Datum, ...]:
    """What earlier models said.

    Raises
    ------
    LogbookError
        If the file cannot be read; the message names it.
    """
    return tuple(
        Datum(
            kind=_want(row, "kind", str, file),
            key=_want(row, "key", str, file),
            model=_want(row, "model", str, file),
            ratio=_want(row, "ratio", float, file),
            spread=_want(row, "spread", float, file),
        )
        for row in _rows(file, "weighed")
        if row.get("kind") in _LISTS
    )


def _rows(file: Path, kind: str) -> list[dict[str, Any]]:
    try:
        data = tomllib.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return []
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise LogbookError(
            f"{file} cannot be read: {error}. Mend it, or move it away to begin anew."
        ) from None
    rows = data.get(kind, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise LogbookError(f"{file}: write each entry as a table headed [[{kind}]]")
    return rows


def _want(row: dict[str, Any], key: str, kind: type, file: Path) -> Any:
    value = row.get(key)
    if kind is float and isinstance(value, int) and not isinstance(value, bool):
        value = float(value)
    if not isinstance(value, kind) or (isinstance(value, float) and not math.isfinite(value)):
        raise LogbookError(
            f"{file}: expected {key} to be a {'number' if kind is float else 'text'}, read {value!r}"
        )
    return value


def _write_rows(file: Path, kind: str, says: str, rows: list[dict[str, object]]) -> None:
    import tomlkit

    document = tomlkit.document()
    document.add(tomlkit.comment(says))
    tables = tomlkit.aot()
    for row in rows:
        table = tomlkit.table()
        for key, value in row.items():
            table.add(key, value)
        tables.append(table)
    if rows:
        document.add(kind, tables)
    write_text(file, tomlkit.dumps(document))


# Spreads of a catalogue's motor constants against the motor in hand; common practice, no source.
_MOTOR_SPREADS = {"kv_rpm_v": 0.04, "resistance_ohm": 0.2, "no_load_current_a": 0.25}


def learn_motor(stock: Stock, log: Log, key: str, *, folder: Path | None = None) -> Motor | None:
    """A motor's constants, corrected by readings in the logbook and kept in the person's stock; None without any.

    Each constant is normal with known variances: the catalogue's spread and the reading's own.
    """
    readings = [reading for reading in log.motors if reading.motor == key]
    if not readings:
        return None
    motor = _supplied("motor", key) or stock.motor(key)
    changes: dict[str, float] = {}
    for field, spread in _MOTOR_SPREADS.items():
        base = float(getattr(motor, field))
        got = [(float(getattr(r, field)), r.spread) for r in readings if getattr(r, field) is not None]
        if got and base > 0:
            values = np.array([value for value, _ in got])
            mean, _ = normal_after(base, spread * base, values, np.array([s * v for v, s in got]))
            changes[field] = mean
    made = replace(motor, **changes, source="measured", note=f"from {len(readings)} readings in a logbook")
    keep_motor(made, folder)
    return made


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One figure of one model, as predicted and as found. SI.

    spread : what the prediction said of itself, one standard deviation
    """

    model: str
    quantity: str
    predicted: float
    spread: float
    actual: float

    @property
    def error(self) -> float:
        """Found less predicted, over predicted. [-]."""
        return (self.actual - self.predicted) / self.predicted if self.predicted else math.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningError:
    """How well predictions of one quantity have done so far.

    bias, rms : mean and root mean square of the relative errors [-]
    inside : share of models whose error was within two of the predicted standard deviations [-]
    """

    quantity: str
    models: int
    bias: float
    rms: float
    inside: float


def predicted_and_actual(evaluation: Evaluation, log: Log) -> tuple[Compared, ...]:
    """What a finished model weighs and where it balances, against the prediction; empty until it is weighed."""
    finished = [w for w in log.weighings if w.is_finished_model]
    if not finished:
        return ()
    last = finished[-1]
    name, weights = evaluation.design.model.name, evaluation.weights
    found = [
        Compared(
            model=name,
            quantity="all-up mass",
            predicted=weights.all_up_kg,
            spread=float(weights.spread[0]),
            actual=last.mass_kg,
        )
    ]
    if last.balance_x_m is not None:
        built = as_built(evaluation, log)
        found.append(
            Compared(
                model=name,
                quantity="balance point",
                predicted=float(weights.balance_m[0]),
                spread=float(weights.spread[1]),
                actual=float(built.weights.balance_m[0]),
            )
        )
    return tuple(found)


def keep_record(compared: tuple[Compared, ...], *, folder: Path | None = None) -> tuple[Compared, ...]:
    """Keep predicted against actual; of the same model and quantity the newest stays. Returns all that is kept."""
    place = (folder or user_folder()).parent
    place.mkdir(parents=True, exist_ok=True)
    fresh = {(c.model, c.quantity) for c in compared}
    every = (*(c for c in read_record(folder=folder) if (c.model, c.quantity) not in fresh), *compared)
    _write_rows(
        place / RECORD,
        "compared",
        "Predicted against actual, in kilograms, metres and seconds.",
        [
            {
                "model": c.model,
                "quantity": c.quantity,
                "predicted": float(f"{c.predicted:.6g}"),
                "spread": float(f"{c.spread:.4g}"),
                "actual": float(f"{c.actual:.6g}"),
            }
            for c in every
        ],
    )
    return every


def read_record(*, folder: Path | None = None) -> tuple[Compared, ...]:
    """Everything kept so far; errors as for :func:`read_weighed`."""
    file = (folder or user_folder()).parent / RECORD
    return tuple(
        Compared(
            model=_want(row, "model", str, file),
            quantity=_want(row, "quantity", str, file),
            predicted=_want(row, "predicted", float, file),
            spread=_want(row, "spread", float, file),
            actual=_want(row, "actual", float, file),
        )
        for row in _rows(file, "compared")
    )


def running_errors(compared: tuple[Compared, ...]) -> tuple[RunningError, ...]:
    """Bias, scatter and honesty of the predictions, quantity by quantity."""
    found = []
    for quantity in dict.fromkeys(c.quantity for c in compared):
        mine = [c for c in compared if c.quantity == quantity and math.isfinite(c.error)]
        if not mine:
            continue
        errors = np.array([c.error for c in mine])
        inside = np.mean([abs(c.actual - c.predicted) <= 2.0 * c.spread for c in mine])
        found.append(
            RunningError(
                quantity=quantity,
                models=len(mine),
                bias=float(errors.mean()),
                rms=float(np.sqrt((errors**2).mean())),
                inside=float(inside),
            )
        )
    return tuple(found)
