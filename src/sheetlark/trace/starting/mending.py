"""Mending: what proof and review find in a starting design, cleared where that leaves the drawing as it is.

Proof and review are those that the command line prints. A move is kept only where fewer things clash after it, a
remedy only where it brings no clash, and no other caution unless it clears a fault.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial
from itertools import islice
from typing import TYPE_CHECKING

from sheetlark.beside import Helpers
from sheetlark.errors import SheetlarkError
from sheetlark.trace.starting.balancing import balanced
from sheetlark.trace.starting.layout import Changes, Layout, Where

if TYPE_CHECKING:
    from sheetlark.parts import Clash
    from sheetlark.review import Finding, Remedy

TRIES = 10  # kits made and proved at most: each takes a quarter of a second
Left = tuple[int, int]  # how many things clash, and how many are boxes: no rod is worth a box without room


def mended(layout: Layout, helpers: Helpers | None = None) -> Layout:
    """The layout with as few clashes as a few moves leave."""
    left = TRIES
    while left:
        now = _left(layout.clashes)
        for other, after in _tried(layout, islice(_each_once(layout), left), helpers):
            left -= 1
            if after is not None and after[0] < now[0] and after[1] <= now[1]:
                layout = other
                break
        else:
            break
    return _in_tubes(layout, layout.clashes)


def _tried(
    layout: Layout, moves: Iterator[Changes], helpers: Helpers | None
) -> Iterator[tuple[Layout, Left | None]]:
    """What comes of each move, and how much clashes then; an idle helper tries every other one meanwhile."""
    for changes in moves:
        second = next(moves, None) if helpers is not None and helpers.idle else None
        one = layout.changed(changes)
        if helpers is None or second is None:
            yield one, _left_by(one)
            continue
        two = layout.changed(second)
        told = helpers.meanwhile(partial(_left_by, two), _left_there, two.text, two.changes)
        yield one, _left_by(one)
        yield two, told()


def _each_once(layout: Layout) -> Iterator[Changes]:
    """What may clear one of its clashes; what the other half's clash would have moved too is moved once."""
    known = []
    for clash in layout.clashes:
        for changes in _moves(layout, clash):
            if changes not in known:
                known.append(changes)
                yield changes


def _left(clashes: tuple[Clash, ...]) -> Left:
    return len(clashes), sum(c.kind == "equipment" for c in clashes)


def _left_by(layout: Layout) -> Left | None:
    """None where no kit can be made."""
    try:
        return _left(layout.clashes)
    except SheetlarkError:
        return None


def _left_there(text: str, changes: Changes) -> Left | None:
    from sheetlark.stock import load_stock

    return _left_by(Layout(text=text, stock=load_stock(), changes=changes))


def _in_tubes(layout: Layout, clashes: tuple[Clash, ...]) -> Layout:
    """Push-rods that still run into something led round it in tubes, which is the proof's own cure for them."""
    radio = layout.design.radio
    for clash in clashes:
        if clash.kind != "push-rod" or radio is None:
            continue
        k = next((k for k, s in enumerate(radio.servo) if clash.first.startswith(s.moves)), None)
        if k is None or radio.servo[k].pair:
            continue
        other = layout.changed({("radio", "servo", k, "push_rod"): "push-rod-tube"})
        if len(other.clashes) < len(layout.clashes):
            layout = other
    return layout


_MOTOR_OUT_MM = (2.0, 4.0, 8.0)  # how much further out a motor is tried whose propeller strikes something


def _moves(layout: Layout, clash: Clash) -> Iterator[Changes]:
    """What may clear a clash, the likeliest first."""
    if clash.change is not None:
        where, value = clash.change
        yield {where: list(value) if isinstance(value, tuple) else value}
    if clash.kind == "push-rod":
        yield from _servo_moves(layout, clash.first)
    if clash.kind == "overlap" and "strut" in clash.first + clash.second:
        yield from _struts_in(layout)
    if clash.kind == "motion" and clash.change is None and "strut" in clash.second:
        yield from _strut_ahead(layout, abs(clash.at_mm[1]))
    if clash.kind == "propeller":
        yield from (_motor_out(layout, off) for off in _MOTOR_OUT_MM)


def _motor_out(layout: Layout, off: float) -> Changes:
    """The motor further from the body by so much. [mm]"""
    drive = layout.design.drive
    if drive is None:
        return {}
    x, y, z = (1e3 * v for v in drive.motor_at)
    way = 1.0 if drive.pusher else -1.0
    return {("drive", "motor_at"): [round(x + way * off, 1), round(y, 1), round(z, 1)]}


def turns_free(layout: Layout) -> bool:
    """Whether the propeller strikes nothing, or nothing with its motor as far out as mending would have it."""

    def strikes(of: Layout) -> bool:
        return any(c.kind == "propeller" for c in of.clashes)

    return not strikes(layout) or not strikes(layout.changed(_motor_out(layout, _MOTOR_OUT_MM[-1])))


def _struts_in(layout: Layout) -> Iterator[Changes]:
    """The struts that stand in the body a little further in."""
    feet = [(k, 1e3 * s.y) for k, s in enumerate(layout.design.strut) if "body" in s.joins]
    for inward in (1.0, 2.0, 4.0):
        if feet:
            yield {("strut", k, "y"): round(y - inward, 1) for k, y in feet}


_STRUT_AHEAD = (0.02, 0.04)  # how much further ahead a strut is tried that a control swings past, in chords
_STRUT_NEAR_MM = 10.0  # of a strut from where something swings too near to it


def _strut_ahead(layout: Layout, y: float) -> Iterator[Changes]:
    """The struts that stand at a distance from the middle, a little further ahead. [mm]"""
    there = [k for k, s in enumerate(layout.design.strut) if abs(1e3 * s.y - y) < _STRUT_NEAR_MM]
    for ahead in _STRUT_AHEAD if there else ():
        yield {("strut", k, "place"): round(layout.design.strut[k].place - ahead, 3) for k in there}


_SERVO_MOVES = (
    (0.0, -6.0),
    (0.0, 6.0),
    (20.0, 0.0),
    (-20.0, 0.0),
    (40.0, 0.0),
    (-40.0, 0.0),
)  # along and up [mm]


def _servo_moves(layout: Layout, rod: str) -> Iterator[Changes]:
    """The servo of a push-rod a little further fore or aft, up or down, or in the other one's place."""
    radio = layout.design.radio
    if radio is None:
        return
    at = {s.moves: (k, [round(1e3 * v, 1) for v in s.at]) for k, s in enumerate(radio.servo) if not s.pair}
    moves = next((m for m in at if rod.startswith(m)), None)
    if moves is None:
        return
    if len(at) == 2:
        (a, one), (b, two) = at.values()
        yield {("radio", "servo", a, "at"): two, ("radio", "servo", b, "at"): one}
    for along, up in _SERVO_MOVES:
        yield {
            ("radio", "servo", k, "at"): [round(x + along, 1), y, round(z + up, 1)]
            for k, (x, y, z) in at.values()
        }


# What a remedy may write without departing from the drawing: what is bought, and what lies inside. The battery has its
# place already.
_INSIDE = {"drive", "radio", "ballast"}
_OF_A_WING = {"spar", "paper", "held", "aileron"}
LEAD_ROUNDS = 3
REMEDIES = 3  # findings a remedy is looked for at most


def remedied_once(layout: Layout) -> Layout:
    """The layout with every finding cured that one remedy clears without touching a drawn shape."""
    from sheetlark.design import loads
    from sheetlark.evaluation import evaluate
    from sheetlark.review import Versions, each_remedy, findings

    def seen(layout: Layout) -> tuple[Versions, tuple[Finding, ...]]:
        e = evaluate(loads(layout.written()), layout.stock)
        return Versions(e), findings(e)

    passed: set[str] = set()
    versions, raised = seen(layout)
    for _ in range(REMEDIES):
        found = _foremost([f for f in raised if f.severity != "note" and f.id not in passed])
        if found is None:
            break
        passed.add(found.id)
        cured = _first_without_clash(
            layout, each_remedy(versions, found, within=_leaves_drawing), fault=found.severity == "fault"
        )
        if cured is not layout:
            layout = _balanced_again(cured)
            versions, raised = seen(layout)
    return _with_lead_enough(layout)


def _foremost(raised: list[Finding]) -> Finding | None:
    """The finding to cure next: weak thrust before a poor climb, of which it mostly is the cause; and it is told sooner."""
    first = raised[0] if raised else None
    if first is None or first.id != "climb":
        return first
    return next((f for f in raised if f.id == "power"), first)


def _balanced_again(layout: Layout) -> Layout:
    """The battery where it balances the model again, with another motor or propeller; as it is where more clashes then."""
    other = balanced(layout, again=True)
    try:
        return other if len(other.clashes) <= len(layout.clashes) else layout
    except SheetlarkError:
        return layout


def _with_lead_enough(layout: Layout) -> Layout:
    """Lead in the nose, put in for the least margin, brought up to the margin wanted: it is cast or bought once.

    Lead at the tail is there for the elevator's sake, and more margin than wanted does no harm. What more lead does to
    the elevator's reach moves the place wanted, so it is asked for again.
    """
    last = len(layout.design.ballast) - 1
    if last < 0:
        return layout
    for _ in range(LEAD_ROUNDS):
        lead = layout.design.ballast[last]
        e = layout.evaluation
        place, balance = e.flight.battery, e.weights.balance_m[0]
        if place is None or place.ballast_kg <= 0.0 or balance < max(place.ballast_x_m, lead.at[0]):
            break
        grams = math.ceil(1e3 * (lead.mass + place.ballast_kg))
        layout = layout.changed({("ballast", last, "mass"): float(grams)})
    return layout


def _first_without_clash(layout: Layout, remedies: Iterator[Remedy], *, fault: bool) -> Layout:
    """The layout with the first remedy that brings neither clash nor caution; of a fault, one with a caution if need be."""
    held: list[Remedy] = []
    for remedy in remedies:
        if remedy.brings:
            held.append(remedy)
        elif (other := _with(layout, remedy)) is not None:
            return other
    for remedy in sorted(held, key=lambda r: len(r.brings)) if fault else ():
        if (other := _with(layout, remedy)) is not None:
            return other
    return layout


def _with(layout: Layout, remedy: Remedy) -> Layout | None:
    """The layout with a remedy in it; None where more clashes then."""
    other = layout.changed({c.where: c.value for c in remedy.changes})
    return other if len(other.clashes) <= len(layout.clashes) else None


def _leaves_drawing(where: Where) -> bool:
    if where[0] == "wing":
        return len(where) > 2 and where[2] in _OF_A_WING and where[-1] != "chord"
    if where[0] == "tailplane":
        return where[-1] in {"up", "down"}
    return where[0] in _INSIDE and where[-1] != "pack_at"
