"""Corrections in the units a builder turns, moves and bends in; and the logbook read out."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable

from sheetlark.design import Design
from sheetlark.logbook.asbuilt import AsBuilt, Rebalance
from sheetlark.logbook.diagnosis import CorrectionCheck, Ranked
from sheetlark.logbook.entries import CorrectionEntry, FlightEntry, Log, MotorReading, Weighing
from sheetlark.logbook.memory import RunningError
from sheetlark.logbook.symptoms import CAUSE_UNITS
from sheetlark.units import show_length, show_mass

THREAD_PITCH_M = 0.0004  # M2 coarse thread, ISO 261: one turn of a link

_NAMES = {
    "down-thrust": "down thrust",
    "side-thrust": "side thrust",
    "balance": "balance point",
    "tail-incidence": "tailplane incidence, or elevator neutral",
    "starboard-warp": "starboard wing warped",
    "port-warp": "port wing warped",
    "aileron-neutral": "aileron neutral",
    "rudder-neutral": "rudder neutral, or the fin out of line",
    "side-balance": "balance from side to side",
    "launch-speed": "speed of the throw",
    "rudder-mix": "rudder with aileron",
}


def _degrees(radians: float) -> str:
    return f"{abs(math.degrees(radians)):.1f}°"


def correction(
    ranked: Ranked, design: Design, *, all_up_kg: float, battery_kg: float, half_span_m: float
) -> str:
    """What to do about a cause, in one sentence with figures.

    Half of a degree of thrust line, a turn of the link or a millimetre of battery is what a builder can set; smaller
    steps are rounded to the nearest that can be.

    Parameters
    ----------
    all_up_kg, battery_kg : float
        As built, to turn a balance point into a battery's way. [kg]
    half_span_m : float
        Where a tip's side balance is corrected. [m]
    """
    change = -ranked.amount
    name = ranked.cause.name
    if name == "down-thrust":
        return f"{_degrees(change)} {'more' if change > 0 else 'less'} down thrust: shim the {'top' if change > 0 else 'bottom'} of the motor mount"
    if name == "side-thrust":
        side = "left" if change > 0 else "right"
        return f"{_degrees(change)} {'more right' if change > 0 else 'less right'} thrust: shim the {side} side of the motor mount"
    if name == "balance":
        way = "aft" if change > 0 else "forward"
        if battery_kg > 0:
            return f"battery {1e3 * abs(change) * all_up_kg / battery_kg:.0f} mm {way}: moves the balance point {1e3 * abs(change):.1f} mm"
        return f"move the balance point {1e3 * abs(change):.1f} mm {way} with ballast"
    if name == "tail-incidence":
        turns = _turns(design, {"elevator", "elevon", "flaperon"}, change / 0.65)
        way = "up" if change < 0 else "down"
        return f"elevator {_degrees(change / 0.65)} {way} at neutral{turns}; or {_degrees(change)} {'less' if change < 0 else 'more'} tailplane incidence"
    if name in ("starboard-warp", "port-warp"):
        half = name.removesuffix("-warp")
        wing = f"{half} half of the {ranked.cause.wing}" if ranked.cause.wing else f"{half} wing"
        way = "out of" if change < 0 else "into"
        return (
            f"twist {_degrees(change)} of incidence {way} the {wing}: hold it bent the other way with gentle heat, "
            "then sight along both; aileron trim only hides it"
        )
    if name == "aileron-neutral":
        turns = _turns(design, {"aileron", "elevon", "flaperon"}, change)
        way = "right" if change > 0 else "left"
        return f"ailerons {_degrees(change)} for roll to the {way} at neutral{turns}, half on each side"
    if name == "rudder-neutral":
        turns = _turns(design, {"rudder"}, change)
        return f"rudder {_degrees(change)} to the {'right' if change > 0 else 'left'} at neutral{turns}"
    if name == "side-balance":
        return f"{show_mass(all_up_kg * abs(change) / half_span_m)} in the {'starboard' if change > 0 else 'port'} wing tip"
    if name == "launch-speed":
        return (
            f"throw {abs(change):.1f} m/s {'faster' if change > 0 else 'more gently'}, level, into the wind"
        )
    return f"mix {100 * abs(change):.0f} % {'more' if change > 0 else 'less'} rudder with aileron"


def _turns(design: Design, moves: set[str], angle_rad: float) -> str:
    """How many turns of a threaded link make an angle at a surface: horn arm × angle over the thread's pitch."""
    servo = next((s for s in design.radio.servo if s.moves in moves), None) if design.radio else None
    if servo is None:
        return ""
    turns = round(2.0 * servo.horn * abs(math.sin(angle_rad)) / THREAD_PITCH_M) / 2.0
    if turns < 0.5:
        return " (less than half a turn of the link)"
    return f" (about {turns:g} {'turn' if turns == 1 else 'turns'} of the link, M2)"


def name_of(cause: str) -> str:
    """What a builder calls a cause."""
    return _NAMES[cause]


def amount_in_words(cause: str, amount: float) -> str:
    """An amount in its unit, with its sign."""
    unit = CAUSE_UNITS[cause]
    if unit == "rad":
        return f"{math.degrees(amount):+.1f}°"
    if unit == "m":
        return f"{1e3 * amount:+.1f} mm"
    return f"{amount:+.1f} m/s" if unit == "m/s" else f"{100 * amount:+.0f} %"


def told(
    ranked: tuple[Ranked, ...],
    design: Design,
    *,
    all_up_kg: float,
    battery_kg: float,
    half_span_m: float,
    checks: tuple[CorrectionCheck, ...] = (),
    beyond: tuple[str, ...] = (),
    most: int = 3,
) -> str:
    """A diagnosis as text: causes in order, each with its correction, and what became of the last ones.

    Parameters
    ----------
    beyond : tuple of str
        Symptoms this aeroplane's flight model has no figure of, from `unanswered`.
    """
    lines = [_check_words(check) for check in checks]
    if not ranked:
        return "\n".join([*lines, "No flight in the logbook yet."])
    # a cause that explains nothing of what was seen is no advice, however often it is to blame elsewhere
    worth = [r for r in ranked if r.explains and r.probability >= 0.03][:most]
    for place, one in enumerate(worth, start=1):
        do = correction(one, design, all_up_kg=all_up_kg, battery_kg=battery_kg, half_span_m=half_span_m)
        lines.append(
            f"{place}. {name_of(one.cause.name)}{f', {one.cause.wing}' if one.cause.wing else ''} ({100 * one.probability:.0f} %): off by "
            f"{amount_in_words(one.cause.name, one.amount)}, give or take {amount_in_words(one.cause.name, one.spread)[1:]}"
        )
        lines.append(f"   try: {do}.")
        if one.leaves:
            lines.append(f"   does not explain: {', '.join(one.leaves)}.")
    if beyond:
        lines.append(
            f"{listed_symptoms(beyond)}: the flight model of this aeroplane has no figure for that (no such control, or no "
            "such flight)."
        )
    rest = [word for r in ranked for word in r.leaves if word not in beyond]
    if not worth and rest:
        lines.append(
            f"{listed_symptoms(dict.fromkeys(rest))}: no single cause explains that, each tried up to what builders usually "
            f"miss by ({', '.join(dict.fromkeys(name_of(r.cause.name) for r in ranked))}). Look for what broke or came loose."
        )
    elif not worth and not beyond:
        lines.append("It flies as predicted: leave it alone.")
    elif worth and set(worth[0].leaves) - set(beyond):
        lines.append("More than one thing may be off: change one at a time, and fly between.")
    return "\n".join(lines)


def listed_symptoms(symptoms: Iterable[str]) -> str:
    """Symptoms as they were written down, in quotes."""
    return ", ".join(f"“{symptom}”" for symptom in symptoms)


def _check_words(check: CorrectionCheck) -> str:
    made = check.correction
    did = f"{made.date}: {name_of(made.cause)} changed by {amount_in_words(made.cause, made.amount)}"
    if check.verdict == "not flown yet":
        return f"{did}; not flown since."
    assert check.before is not None
    assert check.after is not None
    return (
        f"{did}: {check.verdict} (looked like {amount_in_words(made.cause, check.before)} before, "
        f"{amount_in_words(made.cause, check.after)} after)."
    )


def weight_story(built: AsBuilt, move: Rebalance | None, *, imperial: bool = False) -> str:
    """The as-built weights and where the battery goes, as text."""
    w = built.weights
    lines = [
        (
            f"As built: {show_mass(w.all_up_kg, imperial)} ± {show_mass(built.all_up_spread_kg, imperial)} "
            f"(predicted {show_mass(built.predicted_kg, imperial)}); "
            f"{show_mass(built.left_to_build_kg, imperial)} of it not yet on the scales."
        ),
        (
            f"Balances {show_length(float(w.balance_m[0]), imperial)} ± {show_length(built.balance_spread_m, imperial)} "
            f"behind the nose datum (predicted {show_length(built.predicted_balance_m, imperial)})."
        ),
    ]
    if built.contradicted:
        shown = ", ".join(built.contradicted[:4]) + (", ..." if len(built.contradicted) > 4 else "")
        lines.append(
            f"These weighings do not go together: {shown} would weigh next to nothing. Was something else on the scales?"
        )
    if move is not None:
        place = move.place
        lines.append(
            f"For the balance point of the design, {show_length(move.target_x_m, imperial)}, the battery's centre goes "
            f"to {show_length(place.x_m, imperial)} ± {show_length(move.spread_m, imperial)}."
        )
        if place.ballast_kg > 0:
            lines.append(
                f"Its bay ends there (it would need {show_length(place.wanted_x_m, imperial)}): add "
                f"{show_mass(place.ballast_kg, imperial)} at {show_length(place.ballast_x_m, imperial)}."
            )
    return "\n".join(lines)


def log_text(log: Log, *, imperial: bool = False) -> str:
    """The whole logbook, one line an entry."""
    if not log.story:
        return "The logbook is empty."
    lines = [_entry_words(entry, imperial) for entry in log.story]
    if log.flights:
        many = "1 flight" if len(log.flights) == 1 else f"{len(log.flights)} flights"
        lines.append(f"{many}, {log.minutes:.0f} minutes in the air.")
    return "\n".join(lines)


def _entry_words(entry: Weighing | FlightEntry | CorrectionEntry | MotorReading, imperial: bool) -> str:
    day: dt.date = entry.date
    note = f" ({entry.note})" if entry.note else ""
    if isinstance(entry, Weighing):
        what = "ready to fly" if entry.is_finished_model else " + ".join(entry.what)
        at = (
            f", balances at {show_length(entry.balance_x_m, imperial)}"
            if entry.balance_x_m is not None
            else ""
        )
        return f"{day}  weighed {what}: {show_mass(entry.mass_kg, imperial)}{at}{note}"
    if isinstance(entry, FlightEntry):
        seen = ", ".join(
            s.symptom if s.strength == "clearly" else f"{s.strength} {s.symptom}" for s in entry.seen
        )
        flown = f", {entry.minutes:g} min" if entry.minutes else ""
        charge = f", {entry.charge_c / 3.6:.0f} mAh" if entry.charge_c else ""
        return f"{day}  flew{flown}{charge}: {seen or 'as it should'}{note}"
    if isinstance(entry, CorrectionEntry):
        return f"{day}  changed {name_of(entry.cause)} by {amount_in_words(entry.cause, entry.amount)}{note}"
    return f"{day}  measured motor {entry.motor}{note}"


def record_text(errors: tuple[RunningError, ...]) -> str:
    """How well predictions have done so far."""
    if not errors:
        return "No finished model has been weighed yet."
    return "\n".join(
        f"{e.quantity}: {e.models} {'model' if e.models == 1 else 'models'}, predictions off by {100 * e.bias:+.1f} % on average, "
        f"{100 * e.rms:.1f} % rms; {100 * e.inside:.0f} % inside two standard deviations"
        for e in errors
    )
