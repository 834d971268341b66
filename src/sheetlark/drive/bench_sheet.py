"""Bench readings as a person writes them: a table in a text file, read line by line."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from difflib import get_close_matches
from pathlib import Path

from sheetlark.drive.bench_fit import GOOD_FIT, BenchFit, BenchReading
from sheetlark.errors import StockError, UnitError
from sheetlark.stock import Motor
from sheetlark.units import CURRENT, FRACTION, MASS, STANDARD_GRAVITY_MS2, VOLTAGE

FULL = 0.995  # throttle from which the controller no longer chops
MOST_LINES = 1000
COLUMNS = ("volts", "amps", "rpm", "thrust", "throttle", "propeller")
_NEEDED = ("volts", "amps", "rpm")

TEMPLATE = """\
# Readings of a motor on a bench: one line each, then
#
#   sheetlark measure readings.csv --motor KEY --propeller KEY --controller KEY
#
# Tie the stand down. Stay out of the plane of the propeller, wear eye protection, keep people and loose things away,
# and pull the battery's plug before you touch anything. Let the motor cool between runs.
#
# volts      at the controller's battery side, under load
# amps       from the battery
# rpm        of the motor: an optical tachometer, set to the number of blades
# thrust     what the scale shows, in g; write "4.2 N" or "15 oz" for other units; empty without a scale
# throttle   in per cent; empty counts as full throttle. Below full throttle it need not be exact.
# propeller  no for a run of the bare motor; one or two of these make Kv and the no-load current certain
#
# Two lines are the least, one of them at full throttle. The lines below are made up (for 2212-1000,
# 9x4.5-thin-electric and esc-20): write yours over them.
volts,amps,rpm,thrust,throttle,propeller
12.22,13.8,9800,955,100,yes
12.45,5.5,7340,520,70,yes
12.55,1.72,4960,220,45,yes
12.58,0.50,12120,,100,no
"""


def read_bench(path: Path) -> tuple[BenchReading, ...]:
    """Read a table of bench readings.

    The first line that is no comment names the columns: volts, amps, rpm, and, if they were taken, thrust, throttle
    and propeller. Columns part by commas, or by semicolons or tabs; with these a comma may be the decimal point.

    Raises
    ------
    StockError
        If the file cannot be read, or any line cannot: the message has one line for each fault, with the number of
        the line, what was read and what would do.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise StockError(f"{path}: cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError:
        raise StockError(f"{path}: not a text file; save the table as comma-separated text") from None
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise StockError(f"{path}: no readings in it. Begin from:  sheetlark measure --template")
    if len(lines) > MOST_LINES:
        raise StockError(f"{path}: {len(lines)} lines; a bench table has at most {MOST_LINES}")
    parts = next((c for c in (";", "\t") if c in lines[0][1]), ",")
    rows = [
        (number, [cell.strip() for cell in next(csv.reader([line], delimiter=parts), [])])
        for number, line in lines
    ]
    names = _columns(path, *rows[0])
    faults: list[str] = []
    found: list[BenchReading] = []
    for number, cells in rows[1:]:
        row = dict(zip(names, [*cells, *[""] * (len(names) - len(cells))], strict=False))
        if len(cells) > len(names):
            faults.append(f"{path}, line {number}: {len(cells)} values for {len(names)} columns")
            continue
        wrong = list(_faults(row))
        faults += [f"{path}, line {number}: {words}" for words in wrong]
        if not wrong:
            found.append(_reading(row))
    if faults:
        raise StockError("\n".join(faults))
    if not found:
        raise StockError(f"{path}: the columns are named but no reading follows")
    return tuple(found)


def _columns(path: Path, number: int, cells: list[str]) -> list[str]:
    names = [cell.casefold() for cell in cells]
    for name in names:
        if name not in COLUMNS:
            near = get_close_matches(name, COLUMNS, n=1)
            hint = f"; did you mean {near[0]!r}?" if near else ""
            raise StockError(
                f"{path}, line {number}: {name!r} is no column; known are {', '.join(COLUMNS)}{hint}"
            )
    twice = [name for name in names if names.count(name) > 1]
    if twice:
        raise StockError(f"{path}, line {number}: the column {twice[0]!r} is there twice")
    missing = [name for name in _NEEDED if name not in names]
    if missing:
        raise StockError(f"{path}, line {number}: the column {missing[0]!r} is missing")
    return names


def _thrust(text: str) -> float:
    """A pull in newtons, written as such or as the mass a scale shows. [N]."""
    if text.endswith("N"):
        try:
            return float(text[:-1].replace(",", "."))
        except ValueError:
            raise UnitError(f'expected a thrust such as 420, "420 g" or "4.1 N", read {text!r}') from None
    return MASS.read(text) * STANDARD_GRAVITY_MS2


def _rpm(text: str) -> float:
    try:
        return float(text.removesuffix("rpm").replace(",", "."))
    except ValueError:
        raise UnitError(f"expected revolutions a minute such as 7530, read {text!r}") from None


def _throttle(text: str) -> float:
    """From 0 to 1; a bare number is in per cent."""
    return FRACTION.read(text if text.endswith("%") else f"{text} %")


_READERS = {
    "volts": VOLTAGE.read,
    "amps": CURRENT.read,
    "rpm": _rpm,
    "thrust": _thrust,
    "throttle": _throttle,
}
_YES, _NO = {"", "yes", "y", "true", "1", "on"}, {"no", "n", "false", "0", "off", "none"}


def _faults(row: dict[str, str]) -> Iterator[str]:
    for name, read in _READERS.items():
        text = row.get(name, "")
        if not text:
            if name in _NEEDED:
                yield f"{name} is empty; every reading needs volts, amps and rpm"
            continue
        try:
            value = read(text)
        except UnitError as error:
            yield f"{name}: {error}"
            continue
        if not (math.isfinite(value) and value > 0.0):
            yield f"{name} must be above 0, read {text!r}"
        elif name == "throttle" and value > 1.0:
            yield f"throttle must be at most 100 per cent, read {text!r}"
    if row.get("propeller", "").casefold() not in _YES | _NO:
        yield f"propeller is yes or no, read {row['propeller']!r}"


def _reading(row: dict[str, str]) -> BenchReading:
    thrust, throttle = row.get("thrust", ""), row.get("throttle", "")
    return BenchReading(
        volts_v=VOLTAGE.read(row["volts"]),
        amps_a=CURRENT.read(row["amps"]),
        rpm=_rpm(row["rpm"]),
        thrust_n=_thrust(thrust) if thrust else None,
        full_throttle=not throttle or _throttle(throttle) >= FULL,
        propeller=row.get("propeller", "").casefold() in _YES,
    )


def bench_table(fit: BenchFit, readings: tuple[BenchReading, ...], before: Motor) -> str:
    """What the bench taught: constants with spreads beside the stock's, and what each reading is off by."""
    motor = fit.motor
    lines = [
        f"{motor.name}, from {len(readings)} readings",
        f"  {'':<20} {'was':>12} {'is':>12} {'± one deviation':>16}",
    ]
    for name, was, now, spread, shown in (
        ("Kv, rpm a volt", before.kv_rpm_v, motor.kv_rpm_v, fit.kv_spread, "{:.0f}"),
        (
            "resistance, mohm",
            1e3 * before.resistance_ohm,
            1e3 * motor.resistance_ohm,
            fit.resistance_spread,
            "{:.0f}",
        ),
        (
            "no-load current, A",
            before.no_load_current_a,
            motor.no_load_current_a,
            fit.no_load_spread,
            "{:.2f}",
        ),
    ):
        lines.append(f"  {name:<20} {shown.format(was):>12} {shown.format(now):>12} {100 * spread:>13.0f} %")
    speeds = sorted(r.rpm for r in readings if r.propeller)
    if speeds:
        rpm = speeds[len(speeds) // 2]
        stock = type(fit.propeller)(
            diameter_m=fit.propeller.diameter_m,
            pitch_m=fit.propeller.pitch_m,
            style=fit.propeller.style,
            blades=fit.propeller.blades,
        )
        pairs = zip(
            ("thrust", "power"),
            stock.coefficients(0.0, rpm),
            fit.propeller.coefficients(0.0, rpm),
            fit.propeller.spread(0.0, rpm),
            strict=True,
        )
        lines.append(f"propeller, standing still at {rpm:.0f} rpm")
        lines += [
            f"  {name + ' coefficient':<20} {was:>12.4f} {now:>12.4f} {100 * spread:>13.0f} %"
            for name, was, now, spread in pairs
        ]
    lines += ["measured over fitted", f"  {'reading':<20} {'amps':>12} {'rpm':>12} {'thrust':>16}"]
    for i, (reading, off) in enumerate(zip(readings, fit.residuals, strict=True), 1):
        shown_off = [
            f"{100 * v:+.1f} %" if math.isfinite(v) else "-" for v in (off.amps, off.rpm, off.thrust)
        ]
        kind = ("full" if reading.full_throttle else "part") + (
            " throttle" if reading.propeller else ", bare motor"
        )
        lines.append(f"  {f'{i}, {kind}':<20} {shown_off[0]:>12} {shown_off[1]:>12} {shown_off[2]:>16}")
    if fit.worst > GOOD_FIT:
        lines.append(
            f"! One reading is {100 * fit.worst:.0f} % off: more than meters are. Was it at part throttle (then write its "
            "throttle), with another propeller, or on a battery nearly empty?"
        )
    return "\n".join(lines)
