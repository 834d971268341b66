"""The command line's pages for what happens after the plans: handbook, pack, and the logbook."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sheetlark.cli_page import DESIGN

if TYPE_CHECKING:
    from sheetlark.evaluation import Evaluation


def _today() -> dt.date:
    """The date on the builder's own calendar."""
    return dt.datetime.now().astimezone().date()


def _evaluated(design: Path) -> Evaluation:
    from sheetlark.design import load
    from sheetlark.evaluation import evaluate

    return evaluate(load(design))


def _for_the_log(design: Path) -> Evaluation:
    """Evaluated with the stock as it was before this model taught it anything: a log must not judge itself."""
    from sheetlark.design import load
    from sheetlark.evaluation import evaluate
    from sheetlark.logbook import stock_for

    read = load(design)
    return evaluate(read, stock_for(read.model.name))


@click.command()
@click.argument("design", type=DESIGN)
@click.option("-o", "--out", type=click.Path(path_type=Path), required=True, help="Folder for the handbook.")
@click.option(
    "--paper", "papers", multiple=True, default=("a4", "letter"), show_default=True, help="Paper to print on."
)
def handbook(design: Path, out: Path, papers: tuple[str, ...]) -> None:
    """Build steps with pictures, shopping list, gauges and field card, as PDF and as a page for a browser."""
    from sheetlark.handbook import write_handbook

    files = write_handbook(_evaluated(design), out, papers=papers)
    click.echo(f"The handbook is in {out}/")
    for file in (*files.pdf, files.page, *files.gauges):
        click.echo(f"  {file.name}")


@click.command()
@click.argument("design", type=DESIGN)
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False), required=True, help="The zip to write."
)
@click.option("--seed", default=0, show_default=True, help="Another seed lays the parts out differently.")
@click.option(
    "--with-log", is_flag=True, help="Tell your own model's weights and flights too (never your notes)."
)
def pack(design: Path, out: Path, seed: int, with_log: bool) -> None:
    """Everything a builder needs in one zip: to keep or to give away. The same design gives the same bytes."""
    from sheetlark.handbook import write_pack
    from sheetlark.logbook import load_log, log_path

    evaluation = _evaluated(design)
    kept = load_log(log_path(design)) if with_log else None
    write_pack(evaluation, out, log=kept, seed=seed)
    click.echo(f"wrote {out}. `sheetlark unpack {out}` starts a design from it.")


@click.command()
@click.argument("file", type=DESIGN)
@click.option("-o", "--out", type=click.Path(path_type=Path, file_okay=False), default=Path(), help="Folder.")
@click.option("--name", default="", help="Name of the design file; left out, the pack's own.")
@click.option("--force", is_flag=True, help="Write over a design that is there already.")
def unpack(file: Path, out: Path, name: str, force: bool) -> None:
    """Take the design out of a pack, to go on from there."""
    from sheetlark.handbook import open_pack

    opened = open_pack(file, out, name=name, force=force)
    click.echo(f"wrote {opened.design}. Next: sheetlark review {opened.design}")


@click.group()
def log() -> None:
    """Weighings and flights as they happened: what they say of this model, and teach the next.

    The log is a plain text beside the design, good in git. Each command adds one entry.
    """


@log.command()
@click.argument("design", type=DESIGN)
@click.argument("what", nargs=-1, required=True)
@click.argument("mass")
@click.option("--balances", default=None, metavar="118mm", help="Where it balances, behind the nose datum.")
@click.option(
    "--battery", default=None, metavar="52mm", help="Where the battery's middle lay, if not as designed."
)
@click.option("--scale", default="1 g", show_default=True, help="Smallest step of the scales.")
@click.option("--note", default="")
def weigh(
    design: Path,
    what: tuple[str, ...],
    mass: str,
    balances: str | None,
    battery: str | None,
    scale: str,
    note: str,
) -> None:
    """WHAT was on the scales and its MASS: names of parts or groups, or everything.

    For example:  sheetlark log weigh mine.toml "upper wing" 29.5g
    """
    from sheetlark.logbook import Weighing, add_weighing, log_path
    from sheetlark.units import LENGTH, MASS

    evaluation = _for_the_log(design)
    entry = Weighing(
        date=_today(),
        what=what,
        mass_kg=MASS.read(mass),
        scale_kg=MASS.read(scale),
        balance_x_m=None if balances is None else LENGTH.read(balances),
        battery_x_m=None if battery is None else LENGTH.read(battery),
        note=note,
    )
    _checked(evaluation, design, weighing=entry)
    add_weighing(log_path(design), entry, model=evaluation.design.model.name)
    _shown_weights(evaluation, design)


def _checked(evaluation: Evaluation, design: Path, *, weighing: Any) -> None:
    """Refuse a weighing of something the model does not have before it is written down."""
    from dataclasses import replace

    from sheetlark.logbook import as_built, load_log, log_path

    log_now = load_log(log_path(design))
    as_built(evaluation, replace(log_now, weighings=(*log_now.weighings, weighing)))


def _shown_weights(evaluation: Evaluation, design: Path) -> None:
    from sheetlark.errors import SolveError
    from sheetlark.logbook import (
        as_built,
        keep_record,
        learn,
        load_log,
        log_path,
        predicted_and_actual,
        rebalance,
        record_text,
        running_errors,
        weight_story,
    )

    written = load_log(log_path(design))
    built = as_built(evaluation, written)
    try:
        move = rebalance(evaluation, built)
    except SolveError as error:
        click.echo(str(error), err=True)
        move = None
    click.echo(weight_story(built, move, imperial=evaluation.design.model.imperial))
    for learned in learn(evaluation, written):
        click.echo(f"learned: {learned.says}")
    compared = predicted_and_actual(evaluation, written)
    if compared:
        click.echo(record_text(running_errors(keep_record(compared))))


@log.command()
@click.argument("design", type=DESIGN)
@click.argument("seen", nargs=-1)
@click.option("--minutes", default=0.0, help="Time in the air.")
@click.option("--charge", default="0", metavar="620mAh", help="What the charger put back.")
@click.option("--wind", default="0", metavar="3m/s", help="Wind, as guessed.")
@click.option(
    "--track", "tracks", multiple=True, help="A log file of the flight beside the design: CSV, NMEA or GPX."
)
@click.option("--note", default="")
def flight(
    design: Path,
    seen: tuple[str, ...],
    minutes: float,
    charge: str,
    wind: str,
    tracks: tuple[str, ...],
    note: str,
) -> None:
    """One flight and what was SEEN, in plain words: "needs right aileron" "slightly dips on launch".

    `sheetlark log words` lists them. Nothing seen means that it flew as it should.
    """
    from sheetlark.errors import LogbookError
    from sheetlark.logbook import FlightEntry, add_flight, diagnosis, load_log, log_path, read_sighting
    from sheetlark.units import CHARGE, SPEED

    evaluation = _for_the_log(design)
    try:
        sightings = tuple(read_sighting(words) for words in seen)
    except ValueError as error:
        raise LogbookError(f"{error} `sheetlark log words` lists what can be said.") from None
    if not (math.isfinite(minutes) and 0.0 <= minutes < 600.0):
        raise LogbookError(f"minutes in the air must be from 0 to 600, got {minutes:g}")
    entry = FlightEntry(
        date=_today(),
        seen=sightings,
        minutes=minutes,
        charge_c=CHARGE.read(charge),
        wind_ms=SPEED.read(wind),
        tracks=tracks,
        note=note,
    )
    add_flight(log_path(design), entry, model=evaluation.design.model.name)
    click.echo(diagnosis(evaluation, load_log(log_path(design))))


@log.command()
@click.argument("design", type=DESIGN)
@click.argument("cause")
@click.argument("amount")
@click.option("--note", default="")
def changed(design: Path, cause: str, amount: str, note: str) -> None:
    """What was changed on the model between flights: the CAUSE it is for, and by how much.

    For example:  sheetlark log changed mine.toml down-thrust 1deg
    """
    from difflib import get_close_matches

    from sheetlark.errors import LogbookError
    from sheetlark.logbook import CAUSE_UNITS, CorrectionEntry, add_correction, log_path
    from sheetlark.units import ANGLE, FRACTION, LENGTH, SPEED

    evaluation = _for_the_log(design)
    if cause not in CAUSE_UNITS:
        near = get_close_matches(cause, CAUSE_UNITS, n=1, cutoff=0.4)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise LogbookError(f"{cause!r} is no cause; there are {', '.join(CAUSE_UNITS)}{hint}")
    kind = {"rad": ANGLE, "m": LENGTH, "m/s": SPEED, "1": FRACTION}[CAUSE_UNITS[cause]]
    entry = CorrectionEntry(date=_today(), cause=cause, amount=kind.read(amount), note=note)
    add_correction(log_path(design), entry, model=evaluation.design.model.name)
    click.echo("written down; the next flight shows whether it helped")


@log.command()
@click.argument("design", type=DESIGN)
def show(design: Path) -> None:
    """Everything the log says: weights as built, where the battery goes now, flights, and what is likely off."""
    from sheetlark.logbook import load_log, log_path, report

    file = log_path(design)
    click.echo(report(_for_the_log(design), load_log(file), folder=file.parent))


@log.command()
def words() -> None:
    """What can be said of a flight, and what can be changed."""
    from sheetlark.logbook import CAUSE_UNITS, SYMPTOMS

    click.echo("Seen (with slightly, clearly or strongly before it):")
    for symptom in SYMPTOMS:
        click.echo(f"  {symptom}")
    click.echo("Changed:")
    for cause, unit in CAUSE_UNITS.items():
        spoken = {
            "rad": "degrees",
            "m": "millimetres",
            "m/s": "metres a second",
            "1": "a share of full throw",
        }
        click.echo(f"  {cause}, in {spoken[unit]}")
