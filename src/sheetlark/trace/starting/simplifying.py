"""Simplifications: what each changes, and what it is worth, by evaluating the design with and without it.

Both designs have the same equipment in the same places, so that only the simplification makes the difference.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache, partial
from typing import TYPE_CHECKING

from sheetlark.beside import Helpers
from sheetlark.trace.model import Proposal
from sheetlark.trace.starting.body_parts import flat_sides
from sheetlark.trace.starting.design_parts import TAIL_VOLUME
from sheetlark.trace.starting.draft import Choice, Draft, Look
from sheetlark.trace.starting.layout import Changes
from sheetlark.units import marked_quantities, marks_quantities, show_length, show_mass

if TYPE_CHECKING:
    from sheetlark.evaluation import Evaluation

SIMPLIFICATIONS = (
    "flat-sides",
    "straight-hinge",
    "filled-cut-out",
    "larger-tail",
    "larger-fin",
    "wide-controls",
    "pusher",
)

YAW_WANTED = 0.015  # half as much again as the review's least; common practice, no source

Words = Callable[[Draft, Choice, "Evaluation", "Evaluation"], tuple[str, str]]


def proposing(
    draft: Draft,
    choice: Choice,
    refuse: tuple[str, ...],
    proposed: Choice,
    changes: Changes,
    *,
    helpers: Helpers | None = None,
) -> Callable[[], tuple[Proposal, ...]]:
    """What gives every simplification that changes this design, with its worth by evaluation, its quantities marked for
    either units where they are marked now.

    Parameters
    ----------
    choice : Choice
        As the design is written.
    refuse : tuple of str
        Those not taken.
    proposed : Choice
        With the fin and the motor's place that are proposed, refused or not.
    changes : dict
        Where the finished design's equipment stands.
    helpers : Helpers, optional
        Processes that have the worths worked out meanwhile.
    """
    marked, given = marks_quantities(), (choice, refuse, proposed, changes)
    by_evaluation: Callable[[], tuple[Proposal, ...]] = partial(_by_evaluation, draft, *given)
    if helpers is not None:
        by_evaluation = helpers.meanwhile(by_evaluation, _there, marked, draft.parts, *given)

    def found() -> tuple[Proposal, ...]:
        with marked_quantities(marked):
            if not proposed.pusher:
                return by_evaluation()
            # by what was laid out on the way to the design, which a helper does not know
            return *by_evaluation(), _pusher(draft, choice, taken="pusher" not in refuse)

    return found


def begun(draft: Draft, choice: Choice, proposed: Choice, changes: Changes, helpers: Helpers | None) -> None:
    """Let helpers make ready for :func:`proposing`, by its versions with the equipment where most of it will stay."""
    if helpers is None:
        return
    for version in dict.fromkeys(v for _, *both, _ in _versions(draft, choice, proposed) for v in both):
        helpers.begin(_evaluated_there, draft.parts, version, changes)


@lru_cache(maxsize=1)
def _draft_there(parts: bytes) -> Draft:
    return Draft.of(parts)


def _evaluated_there(parts: bytes, version: Choice, changes: Changes) -> None:
    _draft_there(parts).with_changes(version, changes)


def _there(
    marked: bool, parts: bytes, choice: Choice, refuse: tuple[str, ...], proposed: Choice, changes: Changes
) -> tuple[Proposal, ...]:
    with marked_quantities(marked):
        return _by_evaluation(_draft_there(parts), choice, refuse, proposed, changes)


def _versions(draft: Draft, choice: Choice, proposed: Choice) -> list[tuple[str, Choice, Choice, Words]]:
    """Each simplification with the design that takes it, the one that leaves it, and what words its worth."""
    versions: list[tuple[str, Choice, Choice, Words]] = [
        ("flat-sides", replace(choice, flat=True), replace(choice, flat=False), _flat_sides),
        ("wide-controls", replace(choice, wide=True), replace(choice, wide=False), _wide_controls),
        ("straight-hinge", replace(choice, straight=True), replace(choice, straight=False), _straight_hinge),
    ]
    if draft.cut:
        versions.append(
            ("filled-cut-out", replace(choice, filled=True), replace(choice, filled=False), _filled_cutout)
        )
    if draft.tail is not None and draft.tail_stretch > 1.0:
        versions.append(
            ("larger-tail", replace(choice, tail=True), replace(choice, tail=False), _larger_tail)
        )
    if proposed.fin > 1.0:
        versions.append(
            ("larger-fin", replace(choice, fin=proposed.fin), replace(choice, fin=1.0), _larger_fin)
        )
    return versions


def _by_evaluation(
    draft: Draft, choice: Choice, refuse: tuple[str, ...], proposed: Choice, changes: Changes
) -> tuple[Proposal, ...]:
    """What is told by evaluating a finished design with and without it."""
    looks: dict[Choice, Look | None] = {}

    def look(version: Choice) -> Look | None:
        if version not in looks:
            looks[version] = draft.with_changes(version, changes)
        return looks[version]

    found = []
    for name, taken, left, words in _versions(draft, choice, proposed):
        if draft.text(taken) == draft.text(left):
            continue  # as where the drawing shows its hinge lines, and they stay as drawn
        one, other = look(taken), look(left)
        if one is not None and other is not None:
            says, worth = words(draft, taken, one.evaluation, other.evaluation)
        else:
            says, worth = (
                _SAYS[name],
                "With or without it the design cannot be evaluated yet: see the review.",
            )
        found.append(Proposal(id=name, says=says, worth=worth, taken=name not in refuse))
    return tuple(found)


_SAYS = {
    "flat-sides": "The body gets flat sides, bent at two stations only.",
    "wide-controls": "Moving surfaces get a wider chord than full-size aeroplanes have.",
    "straight-hinge": "Hinge lines run straight to the tip, also where a rounded edge would have them bend.",
    "filled-cut-out": "The cut-out in the wing's trailing edge is filled.",
    "larger-tail": "The tailplane is drawn larger.",
    "larger-fin": "The fin is drawn taller.",
}


def _flat_sides(draft: Draft, choice: Choice, taken: Evaluation, left: Evaluation) -> tuple[str, str]:
    bends, off = flat_sides(draft.tracing, draft.ring, pusher=choice.pusher)
    scored = [_bends(e) for e in (taken, left)]
    drag = [float(e.flight.polar.drag.min()) for e in (taken, left)]
    return f"The body gets flat sides, bent at {'two' if bends == 2 else 'three'} stations only.", (
        f"{scored[0]} bends to score in the body's parts instead of {scored[1]}, {_grams(taken, left)}, least drag "
        f"{100.0 * (drag[0] / drag[1] - 1.0):+z.1f} %; the width departs by {show_length(1e-3 * off)} at most."
    )


def _bends(e: Evaluation) -> int:
    """Lines to score or fold across all copies of the body's parts."""
    return sum(
        len(p.copies) * sum(m.kind in {"score", "fold"} for m in p.marks)
        for p in e.kit.parts
        if p.group == "body"
    )


def _wide_controls(draft: Draft, _: Choice, taken: Evaluation, left: Evaluation) -> tuple[str, str]:
    says = (
        "The elevons get a wider chord than full-size aeroplanes have."
        if draft.tailless
        else "Elevator, rudder and ailerons get a wider chord than full-size aeroplanes have."
    )
    gain = _control(taken, left) or "Control stays within 1 % of what it is"
    return says, f"{gain[:1].upper()}{gain[1:]}; {_grams(taken, left)}."


def _straight_hinge(_draft: Draft, _: Choice, taken: Evaluation, left: Evaluation) -> tuple[str, str]:
    gain = _control(taken, left)
    worth = (
        f"One straight cut and bevel each; refused, the lines end where they would bend. Taken, {gain}."
        if gain
        else "One straight cut and bevel each; the drawn edges let the lines run straight anyway: control stays within 1 %."
    )
    return _SAYS["straight-hinge"], worth


def _filled_cutout(_draft: Draft, _: Choice, taken: Evaluation, left: Evaluation) -> tuple[str, str]:
    areas = [e.airframe.reference.area_m2 for e in (taken, left)]
    return _SAYS["filled-cut-out"], (
        f"Straight spars and {100.0 * (areas[0] / areas[1] - 1.0):.1f} % more wing for {_grams(taken, left)}; refused, the "
        "panels are cut as drawn."
    )


def _larger_tail(draft: Draft, _: Choice, taken: Evaluation, left: Evaluation) -> tuple[str, str]:
    k = draft.tail_stretch
    aft_m = _neutral_m(taken) - _neutral_m(left)
    damping = [float(e.flight.derivatives.Cm_q) for e in (left, taken)]
    return f"The tailplane is drawn {100 * (k - 1):.0f} % larger each way.", (
        f"Margin {100 * left.air.static_margin:.0f} % becomes {100 * taken.air.static_margin:.0f} % with nothing moved "
        f"(neutral point {show_length(abs(aft_m))} {'aft' if aft_m >= 0 else 'forward'}), "
        f"pitch damping {damping[0]:.1f} becomes {damping[1]:.1f}; tail volume "
        f"{draft.tail_volume:.2f} becomes {draft.tail_volume * k**2:.2f}, {TAIL_VOLUME:.2f} is usual for a calm model; "
        f"{_grams(taken, left)}."
    )


def _neutral_m(e: Evaluation) -> float:
    return float(e.weights.balance_m[0]) + float(e.air.static_margin) * e.airframe.reference.chord_m


def _larger_fin(_draft: Draft, choice: Choice, taken: Evaluation, left: Evaluation) -> tuple[str, str]:
    yaw = [float(e.flight.derivatives.Cn_beta) for e in (left, taken)]
    return f"The fin is drawn {100 * (choice.fin - 1):.0f} % taller.", (
        f"Yawing moment from sideslip {yaw[0]:+.3f} per radian becomes {yaw[1]:+.3f} for {_grams(taken, left)}; above 0 it "
        f"holds its nose into the wind, {YAW_WANTED:.3f} is wanted.{_less_skid(taken, left)}"
    )


def _less_skid(taken: Evaluation, left: Evaluation) -> str:
    """The slip of a turn's beginning, where the larger fin lessens it by a degree or more."""
    from sheetlark.flight import SIDESLIP_LIMIT_RAD, sideslip_said

    slips = [e.controls.peak_sideslip_rad for e in (left, taken)]
    if slips[0] is None or slips[1] is None or slips[0] - slips[1] < math.radians(1.0):
        return ""
    before, after = (sideslip_said(slip) for slip in slips if slip is not None)
    return (
        f" Rolling into a turn it slips {after}° instead of {before}°; "
        f"more than {math.degrees(SIDESLIP_LIMIT_RAD):.0f}° is called a skid."
    )


def _pusher(draft: Draft, choice: Choice, *, taken: bool) -> Proposal:
    nose, tail = (draft.look(replace(choice, pusher=p)) for p in (False, True))
    return Proposal(
        id="pusher",
        says="The motor pushes from the tail, whose end is widened to hold it.",
        worth=f"With the battery where it helps the balance most, a motor in the nose takes {_ballast(nose)}; one at the tail "
        f"{_ballast(tail)}.",
        taken=taken,
    )


def _ballast(look: Look | None) -> str:
    """What a design with its battery as near as its bay lets it still needs to balance."""
    place = None if look is None else look.evaluation.flight.battery
    if look is None or place is None:
        return "more than can be computed"
    if place.ballast_kg < 5e-5:
        return "no ballast"
    behind = place.ballast_x_m > look.evaluation.weights.balance_m[0]
    return f"{show_mass(place.ballast_kg)} of ballast {'at the tail' if behind else 'in the nose'}"


# -- figures ---------------------------------------------------------------------------------------------------


def _grams(taken: Evaluation, left: Evaluation) -> str:
    more_kg = taken.weights.all_up_kg - left.weights.all_up_kg
    return (
        "the same mass"
        if abs(more_kg) < 5e-5
        else f"{show_mass(abs(more_kg))} {'more' if more_kg > 0 else 'less'}"
    )


def _control(taken: Evaluation, left: Evaluation) -> str:
    """What full stick gives, with and without, where that differs by 1 % or more; else nothing."""
    from sheetlark.flight import full_roll_helix, roll_rate_said

    said = []
    helix, before = (full_roll_helix(e.flight.derivatives, e.flight.mixer) for e in (taken, left))
    if abs(helix - before) > 0.01 * max(helix, before):
        rates = (
            roll_rate_said(h, e.flight.vehicle.reference, e.flight.cruise_ms)
            for h, e in ((helix, taken), (before, left))
        )
        said.append(f"full stick rolls it at {' instead of '.join(rates)} °/s at cruise")
    for figure, words in (
        (_full_pitch, "full elevator's pitching moment coefficient is {:.3f} instead of {:.3f}"),
        (_full_yaw, "full rudder's yawing moment coefficient {:.3f} instead of {:.3f}"),
    ):
        one, two = figure(taken), figure(left)
        if max(one, two) > 0.0 and abs(one - two) > 0.01 * max(one, two):
            said.append(words.format(one, two))
    return ", ".join(said)


def _full_pitch(e: Evaluation) -> float:
    throw = max((abs(s.pitch_rad) for s in e.flight.mixer.surfaces), default=0.0)
    return abs(float(e.flight.derivatives.Cm_de)) * throw


def _full_yaw(e: Evaluation) -> float:
    throw = max((abs(s.yaw_rad) for s in e.flight.mixer.surfaces), default=0.0)
    return abs(float(e.flight.derivatives.Cn_dr)) * throw
