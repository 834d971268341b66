"""The command line's pages for the drive: combinations ranked for a design, readings from a thrust stand."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import click

from sheetlark.cli_page import DESIGN, progress


@click.command()
@click.argument("design", type=DESIGN)
@click.option(
    "--for",
    "aim",
    type=click.Choice(["sport", "vertical", "floating", "long"]),
    default=None,
    help="What it is flown for; the design's own style if left out.",
)
@click.option("--most", default=12, show_default=True, type=click.IntRange(1, 500), help="How many to show.")
@click.option("--json", "as_json", is_flag=True, help="Print a stable document instead.")
@click.option("--chart", type=DESIGN, default=None, metavar="FILE.svg", help="Draw thrust over minutes.")
@click.option(
    "--apply",
    "number",
    default=None,
    type=int,
    metavar="N",
    help="Write number N of the table into DESIGN, its comments kept.",
)
def match(
    design: Path, aim: str | None, most: int, as_json: bool, chart: Path | None, number: int | None
) -> None:
    """Motor, propeller and battery combinations ranked for DESIGN, and how its own drive stands."""
    from time import perf_counter
    from typing import cast

    from sheetlark.design import load, write_text
    from sheetlark.drive import ranking_chart
    from sheetlark.evaluation import AimName, evaluate, match_design
    from sheetlark.review import applied_says, drive_applied, match_document, match_printed

    evaluation = evaluate(load(design))
    began = perf_counter()
    ranking = match_design(evaluation, cast("AimName | None", aim), progress=progress)
    seconds = perf_counter() - began
    # The chart first: whoever reads only the head of the table still gets it.
    if chart is not None:
        write_text(
            chart,
            ranking_chart(
                ranking,
                numbered=min(most, 6),
                title=f"{evaluation.design.model.name}, {ranking.aim.name} flying: {ranking.will_do} of {ranking.tried} drives will do",
            ),
        )
    if as_json:
        found = match_document(evaluation, ranking, most=most, seconds=seconds)
        click.echo(json.dumps(found, indent=1, ensure_ascii=False))
    else:
        click.echo(match_printed(evaluation, ranking, most=most))
        click.echo(f"{ranking.tried} combinations tried in {seconds:.1f} s.")
    if chart is not None:
        click.echo(f"wrote {chart}", err=as_json)
    if number is not None:
        text, after = drive_applied(evaluation, ranking, number)
        write_text(design, text)
        click.echo(f"wrote number {number} into {design}", err=as_json)
        click.echo(applied_says(evaluation, after), err=as_json)


@click.command()
@click.argument("readings", type=DESIGN, required=False)
@click.option("--motor", default=None, help="Key of the motor in stock.")
@click.option("--propeller", default=None, help="Key of the propeller that was on it.")
@click.option("--controller", default=None, help="Key of the speed controller.")
@click.option("--altitude", default="0 m", show_default=True, help="Where it was measured: thins the air.")
@click.option("--temperature", default="15 C", show_default=True, help="Of the air.")
@click.option("--keep", is_flag=True, help="Write what was found into your own stock folder.")
@click.option("--template", is_flag=True, help="Print a table to write your readings into.")
def measure(
    readings: Path | None,
    motor: str | None,
    propeller: str | None,
    controller: str | None,
    altitude: str,
    temperature: str,
    keep: bool,
    template: bool,
) -> None:
    """A motor's constants and a propeller's correction from bench READINGS.

    Start with:  sheetlark measure --template > readings.csv
    """
    from sheetlark.atmosphere import air_at
    from sheetlark.drive import BENCH_TEMPLATE, GOOD_FIT, bench_table, fit_bench, propeller_of, read_bench
    from sheetlark.errors import SolveError
    from sheetlark.stock import keep_motor, keep_readings, load_stock
    from sheetlark.units import LENGTH, read_temperature

    if template:
        click.echo(BENCH_TEMPLATE, nl=False)
        return
    if readings is None or motor is None or propeller is None or controller is None:
        raise click.UsageError(
            "needs READINGS and the keys of --motor, --propeller and --controller; see --template"
        )
    stock = load_stock()
    entry, before = stock.propeller(propeller), stock.motor(motor)
    taken = read_bench(readings)
    fit = fit_bench(
        taken,
        motor=before,
        # Readings kept before are told anew or replaced, never counted twice.
        propeller=propeller_of(replace(entry, readings=())),
        controller=stock.controller(controller),
        density_kg_m3=air_at(LENGTH.read(altitude), read_temperature(temperature)).density_kg_m3,
    )
    click.echo(bench_table(fit, taken, before))
    if keep and fit.worst > GOOD_FIT:
        raise SolveError(f"not kept: {readings} fits too badly. Mend or leave out the reading that is off.")
    if keep:
        file = keep_motor(fit.motor)
        if fit.readings:
            keep_readings(entry, fit.readings)
        click.echo(f"kept in {file}; from now on {motor} and {propeller} are counted as measured")
    else:
        click.echo("Add --keep to write this into your own stock folder.")
