"""Levers: single things a designer can change, each with its reach, the step a builder can hold, and its words."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from sheetlark.design import Design, Where
from sheetlark.evaluation import Evaluation
from sheetlark.review.check import imperial
from sheetlark.units import show_length, show_mass

Changes = Mapping[Where, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lever:
    """One value that can be moved.

    name : short
    start : where it stands now, in the unit of its step; None where the design has no such thing
    reach : how far it may go, (low, high)
    step : what a builder can hold: 1 mm, 1 g, half a degree
    changes : what a value writes into the design file
    says : a sentence for (evaluation, from, to)
    """

    name: str
    start: Callable[[Evaluation], float | None]
    reach: Callable[[Evaluation], tuple[float, float]]
    step: float
    changes: Callable[[Design, float], Changes]
    says: Callable[[Evaluation, float, float], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One thing out of a list: a motor, a propeller, paper on or off.

    choices : (what it writes, a sentence), nearest first
    follows : whether the first choice alone is meant, and where it does not clear the finding, the first of what came of it
    """

    name: str
    choices: Callable[[Evaluation], list[tuple[Changes, str]]]
    follows: bool = False


def _mm(value: float) -> float:
    return round(1e3 * value, 1)


def _point(point: tuple[float, ...]) -> list[float]:
    return [_mm(v) for v in point]


def _shown(e: Evaluation, millimetres: float) -> str:
    return show_length(1e-3 * abs(millimetres), imperial(e))


# -- mass moved or added ---------------------------------------------------------------------------------------


def _battery_reach(e: Evaluation) -> tuple[float, float]:
    drive = e.design.drive
    assert drive is not None
    half = e.stock.pack(drive.pack).length_m / 2
    if e.airframe.body is None:
        return _mm(drive.pack_at[0] - 0.15), _mm(drive.pack_at[0] + 0.15)
    return _mm(e.airframe.body.nose_m + half), _mm(e.airframe.body.tail_m - half)


def _battery(design: Design, value: float) -> Changes:
    assert design.drive is not None
    _, y, z = design.drive.pack_at
    return {("drive", "pack_at"): [round(value, 1), _mm(y), _mm(z)]}


BATTERY = Lever(
    name="battery",
    start=lambda e: None if e.design.drive is None else _mm(e.design.drive.pack_at[0]),
    reach=_battery_reach,
    step=1.0,
    changes=_battery,
    says=lambda e, a, b: (
        f"Move the battery {_shown(e, b - a)} {'aft' if b > a else 'forward'}, to {_shown(e, b)} behind the nose datum."
    ),
)


def _ballast(ahead: bool) -> Lever:
    def place(design: Design) -> list[float]:
        if design.drive is not None and ahead and not design.drive.pusher:
            return _point(design.drive.motor_at)
        x = 0.0
        if design.body is not None:
            stations = [station for station, _ in design.body.width]
            x = stations[0] + 0.012 if ahead else stations[-1] - 0.012
        return [_mm(x), 0.0, 0.0]

    def changes(design: Design, value: float) -> Changes:
        return {
            ("ballast", len(design.ballast), "name"): "nose lead" if ahead else "tail lead",
            ("ballast", len(design.ballast), "mass"): round(value, 1),
            ("ballast", len(design.ballast), "at"): place(design),
        }

    return Lever(
        name="ballast",
        start=lambda _: 0.0,
        reach=lambda e: (0.0, min(80.0, 250.0 * e.weights.all_up_kg)),
        step=1.0,
        changes=changes,
        says=lambda e, _, b: (
            f"Add {show_mass(1e-3 * b, imperial(e))} of lead {'in the nose' if ahead else 'at the tail'}."
        ),
    )


NOSE_LEAD, TAIL_LEAD = _ballast(ahead=True), _ballast(ahead=False)

# -- shapes ----------------------------------------------------------------------------------------------------


def _wings_moved(design: Design, value: float) -> Changes:
    return {
        ("wing", i, "at"): [round(_mm(w.at[0]) + value, 1), _mm(w.at[1])] for i, w in enumerate(design.wing)
    }


WINGS_ALONG = Lever(
    name="wing place",
    start=lambda _: 0.0,
    reach=lambda e: (-300.0 * e.airframe.reference.chord_m, 300.0 * e.airframe.reference.chord_m),
    step=1.0,
    changes=_wings_moved,
    says=lambda e, _, b: (
        f"Move the {'wings' if len(e.airframe.wings) > 1 else 'wing'} {_shown(e, b)} {'aft' if b > 0 else 'forward'}."
    ),
)

TAIL_SPAN = Lever(
    name="tailplane span",
    start=lambda e: (
        None
        if e.design.tailplane is None or e.design.tailplane.span is None
        else _mm(e.design.tailplane.span)
    ),
    reach=lambda e: (_tail_span(e), 1.6 * _tail_span(e)),
    step=2.0,
    changes=lambda _, value: {("tailplane", "span"): round(value, 1)},
    says=lambda e, a, b: f"Widen the tailplane by {_shown(e, b - a)}, to a span of {_shown(e, b)}.",
)


def _tail_span(e: Evaluation) -> float:
    tail = e.design.tailplane
    return _mm(tail.span) if tail is not None and tail.span is not None else 0.0


FIN_HEIGHT = Lever(
    name="fin height",
    start=lambda e: (
        None if not e.design.fin or e.design.fin[0].height is None else _mm(e.design.fin[0].height)
    ),
    reach=lambda e: (_fin_height(e), 2.0 * _fin_height(e)),
    step=2.0,
    changes=lambda _, value: {("fin", 0, "height"): round(value, 1)},
    says=lambda e, a, b: f"Raise the fin by {_shown(e, b - a)}, to {_shown(e, b)}.",
)


def _fin_height(e: Evaluation) -> float:
    return _mm(e.design.fin[0].height) if e.design.fin and e.design.fin[0].height is not None else 0.0


def _dihedral(design: Design, value: float) -> Changes:
    return {
        ("wing", i, "dihedral"): round(math.degrees(w.dihedral) + value, 2) for i, w in enumerate(design.wing)
    }


DIHEDRAL = Lever(
    name="dihedral",
    start=lambda _: 0.0,
    reach=lambda _: (0.0, 10.0),
    step=0.5,
    changes=_dihedral,
    says=lambda e, _, b: (
        f"Raise the dihedral of {'each wing' if len(e.airframe.wings) > 1 else 'the wing'} by {b:g}°."
    ),
)

LESS_DIHEDRAL = Lever(
    name="less dihedral",
    start=lambda _: 0.0,
    reach=lambda e: (-max(math.degrees(w.dihedral) for w in e.design.wing), 0.0),
    step=0.5,
    changes=_dihedral,
    says=lambda e, _, b: (
        f"Lower the dihedral of {'each wing' if len(e.airframe.wings) > 1 else 'the wing'} by {-b:g}°."
    ),
)


def _tips(design: Design, value: float) -> Changes:
    return {
        ("wing", i, "tip_chord"): round(
            _mm(w.tip_chord if w.tip_chord is not None else w.root_chord or 0.0) + value, 1
        )
        for i, w in enumerate(design.wing)
        if w.outline is None
    }


TIP_CHORD = Lever(
    name="tip chord",
    start=lambda e: 0.0 if all(w.outline is None for w in e.design.wing) else None,
    reach=lambda e: (
        0.0,
        max(_mm((w.root_chord or 0.0) - (w.tip_chord or w.root_chord or 0.0)) for w in e.design.wing),
    ),
    step=2.0,
    changes=_tips,
    says=lambda e, _, b: f"Make the tips {_shown(e, b)} deeper.",
)


def _spans(design: Design, value: float) -> Changes:
    return {
        ("wing", i, "span"): round(_mm(w.span) + value, 1)
        for i, w in enumerate(design.wing)
        if w.span is not None
    }


WING_SPAN = Lever(
    name="wing span",
    start=lambda e: 0.0 if all(w.span is not None for w in e.design.wing) else None,
    reach=lambda e: (0.0, 0.3e3 * e.airframe.reference.span_m),
    step=5.0,
    changes=_spans,
    says=lambda e, _, b: (
        f"Widen the {'wings' if len(e.airframe.wings) > 1 else 'wing'} by {_shown(e, b)}, to a span of "
        f"{_shown(e, 1e3 * e.airframe.reference.span_m + b)}."
    ),
)


def _shorter(design: Design, value: float) -> Changes:
    """Spans and the spars in them, shorter together."""
    made = dict(_spans(design, value))
    for i, wing in enumerate(design.wing):
        for j, spar in enumerate(wing.spar):
            made["wing", i, "spar", j, "span"] = round(max(_mm(spar.span) + value, 30.0), 1)
    return made


LESS_SPAN = Lever(
    name="less wing span",
    start=lambda e: 0.0 if all(w.span is not None for w in e.design.wing) else None,
    reach=lambda e: (-0.3e3 * e.airframe.reference.span_m, 0.0),
    step=5.0,
    changes=_shorter,
    says=lambda e, _, b: (
        f"Shorten the {'wings' if len(e.airframe.wings) > 1 else 'wing'} by {_shown(e, b)}, to a span of "
        f"{_shown(e, 1e3 * e.airframe.reference.span_m + b)}."
    ),
)

GEAR_LENGTH = Lever(
    name="undercarriage",
    start=lambda e: None if e.design.gear is None else 0.0,
    reach=lambda _: (0.0, 80.0),
    step=1.0,
    changes=lambda design, value: (
        {("gear", "at"): [_mm(design.gear.at[0]), round(_mm(design.gear.at[1]) - value, 1)]}
        if design.gear
        else {}
    ),
    says=lambda e, _, b: f"Make the undercarriage {_shown(e, b)} longer.",
)

# -- controls --------------------------------------------------------------------------------------------------


def _aileron_wing(design: Design) -> int | None:
    return next((i for i, w in enumerate(design.wing) if w.aileron is not None), None)


def _aileron_throw(design: Design, key: str, value: float) -> Changes:
    i = _aileron_wing(design)
    return {} if i is None else {("wing", i, "aileron", key): round(value, 1)}


def _aileron_value(e: Evaluation, key: str) -> float | None:
    i = _aileron_wing(e.design)
    if i is None:
        return None
    aileron = e.design.wing[i].aileron
    return (
        None if aileron is None or aileron.role == "elevon" else round(math.degrees(getattr(aileron, key)), 2)
    )


DIFFERENTIAL = Lever(
    name="differential",
    start=lambda e: _aileron_value(e, "down"),
    reach=lambda e: (0.0, _aileron_value(e, "down") or 0.0),
    step=1.0,
    changes=lambda design, value: _aileron_throw(design, "down", value),
    says=lambda e, _, b: (
        f"Give the ailerons less throw down: {b:g}°, for {_aileron_value(e, 'up') or 0:g}° up."
    ),
)

AILERON_THROW = Lever(
    name="aileron throw",
    start=lambda e: _aileron_value(e, "up"),
    reach=lambda e: (_aileron_value(e, "up") or 0.0, 40.0),
    step=1.0,
    changes=lambda design, value: _aileron_throw(design, "up", value),
    says=lambda _, __, b: f"Give the ailerons {b:g}° up.",
)

ELEVATOR_THROW = Lever(
    name="elevator throw",
    start=lambda e: (
        None
        if e.design.tailplane is None or e.design.tailplane.elevator is None
        else round(math.degrees(e.design.tailplane.elevator.up), 2)
    ),
    reach=lambda e: (
        (round(math.degrees(e.design.tailplane.elevator.up), 2), 35.0)
        if e.design.tailplane is not None and e.design.tailplane.elevator is not None
        else (0.0, 0.0)
    ),
    step=1.0,
    changes=lambda _, value: {("tailplane", "elevator", "up"): round(value, 1)},
    says=lambda _, __, b: f"Give the elevator {b:g}° up.",
)


def _rudder_choices(e: Evaluation) -> list[tuple[Changes, str]]:
    """A rudder where there is none, with its servo beside the elevator's."""
    design = e.design
    if not design.fin or any(f.rudder is not None for f in design.fin) or design.radio is None:
        return []
    servos = design.radio.servo
    beside = next((s for s in servos if s.moves == "elevator"), servos[0] if servos else None)
    stock = beside.stock if beside is not None else "servo-5g"
    x, y, z = beside.at if beside is not None else design.radio.receiver_at
    rod = beside.push_rod_length if beside is not None else 0.25
    n = len(servos)
    made: dict[Where, object] = {("fin", 0, "rudder", "chord"): 0.45}
    made |= {
        ("fin", 0, "rudder", "up"): 28,
        ("fin", 0, "rudder", "down"): 28,
        ("radio", "servo", n, "stock"): stock,
        ("radio", "servo", n, "moves"): "rudder",
        ("radio", "servo", n, "at"): _point((x, -y, z)),
        ("radio", "servo", n, "push_rod_length"): _mm(rod),
    }
    return [
        (
            made,
            "Add a rudder, 45 % of the fin's chord, with a servo beside the elevator's, and use it in turns.",
        )
    ]


ADD_RUDDER = Option(name="add a rudder", choices=_rudder_choices)
