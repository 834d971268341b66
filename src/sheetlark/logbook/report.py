"""A model's logbook read out whole: what happened, what it weighs, what to correct, how well it was predicted."""

from __future__ import annotations

import math
from pathlib import Path

from sheetlark.errors import LogbookError, SolveError
from sheetlark.evaluation import Evaluation
from sheetlark.logbook.advice import log_text, told, weight_story
from sheetlark.logbook.asbuilt import as_built, rebalance
from sheetlark.logbook.diagnosis import check_corrections, diagnose, unanswered
from sheetlark.logbook.entries import FlightEntry, Log
from sheetlark.logbook.signature import signatures_of
from sheetlark.logbook.track_figures import Expected, against, figures
from sheetlark.logbook.tracks import read_track
from sheetlark.units import show_speed


def report(evaluation: Evaluation, log: Log, *, folder: Path | None = None) -> str:
    """Everything a logbook says of a model, as text.

    Parameters
    ----------
    folder : Path, optional
        Where the logbook lies: the tracks it names are looked for beside it. Left out, tracks are not read.

    Raises
    ------
    LogbookError
        If a weighing names something the model does not have.
    """
    imperial = evaluation.design.model.imperial
    parts = [log_text(log, imperial=imperial)]
    built = as_built(evaluation, log)
    if log.weighings:
        try:
            move = rebalance(evaluation, built)
            parts.append(weight_story(built, move, imperial=imperial))
        except SolveError as error:
            parts.append(f"{weight_story(built, None, imperial=imperial)}\n{error}")
    if folder is not None:
        for flight in log.flights:
            parts += [_track(evaluation, flight, folder / name, imperial=imperial) for name in flight.tracks]
    if log.flights:
        parts.append(diagnosis(evaluation, log))
    return "\n\n".join(parts)


def diagnosis(evaluation: Evaluation, log: Log) -> str:
    """What is most likely off on the model, and what to do, as text; takes a few seconds of simulated flight."""
    built = as_built(evaluation, log)
    # who speaks of the launch threw it, wheels or not
    thrown = any(s.symptom.endswith("on launch") for flight in log.flights for s in flight.seen)
    known = signatures_of(evaluation, by_hand=True if thrown else None)
    battery = next((line.mass_kg for line in built.weights.lines if line.name == "battery"), 0.0)
    return told(
        diagnose(known, log),
        evaluation.design,
        all_up_kg=built.weights.all_up_kg,
        battery_kg=battery,
        half_span_m=0.5 * evaluation.airframe.reference.span_m,
        checks=check_corrections(known, log),
        beyond=unanswered(known, log),
    )


def expected_of(evaluation: Evaluation) -> Expected:
    """What was predicted, to hold a track against."""
    flight = evaluation.flight
    found = flight.performance
    return Expected(
        stall_ms=flight.stall_ms,
        cruise_ms=flight.cruise_ms,
        top_ms=found.top_ms if found is not None else math.nan,
        climb_ms=found.best_climb_ms if found is not None else math.nan,
    )


def _track(evaluation: Evaluation, flight: FlightEntry, file: Path, *, imperial: bool) -> str:
    try:
        track = read_track(file)
    except LogbookError as error:
        return str(error)
    found = figures(track)
    lines = [f"{flight.date}, {file.name}: {found.minutes:.1f} min, up to {found.height_m:.0f} m."]
    lines += [
        f"  {row.quantity}: {show_speed(row.found, imperial)}, predicted {show_speed(row.predicted, imperial)}: {row.says}"
        for row in against(found, expected_of(evaluation), wind_ms=flight.wind_ms)
        if math.isfinite(row.predicted)
    ]
    if track.skipped:
        lines.append(f"  {track.skipped} unusable points left out.")
    return "\n".join(lines)
