"""Levers on what is built: spars, papers, struts, hold-downs, linkages, servos and the thrust line."""

from __future__ import annotations

import math

from sheetlark.design import MOST_PLANKS, Where
from sheetlark.evaluation import ControlFigures, Evaluation
from sheetlark.review.building_checks import tightest_linkage, worst_deck, worst_servo
from sheetlark.review.check import imperial
from sheetlark.review.levers import Changes, Option
from sheetlark.units import show_length, show_mass

Choice = tuple[Changes, str]


def _place(e: Evaluation, name: str) -> int:
    return next(i for i, wing in enumerate(e.design.wing) if wing.name == name)


def _spars(e: Evaluation, name: str) -> list[Choice]:
    """The lightest rods that serve, in place of the wing's first spar."""
    found: list[Choice] = []
    i = _place(e, name)
    for serving in e.serving_spars(name, 3):
        changes: dict[Where, object] = {
            ("wing", i, "spar", 0, "rod"): serving.rod.key,
            ("wing", i, "spar", 0, "at"): round(serving.at, 3),
            ("wing", i, "spar", 0, "span"): round(1e3 * serving.span_m, 1),
        }
        found.append(
            (
                changes,
                (
                    f"Lay a {serving.rod.name} into the {name}, {100 * serving.at:.0f} % of the chord back and "
                    f"{show_length(serving.span_m, imperial(e))} long ({show_mass(serving.mass_kg, imperial(e))})."
                ),
            )
        )
    return found


STRONGER_SPAR = Option(name="spar", choices=lambda e: _spars(e, e.strength.weakest.name))
STIFFER_SPAR = Option(name="spar", choices=lambda e: _spars(e, e.strength.softest.name))


def _papers(e: Evaluation) -> list[Choice]:
    """Paper back on every wing that has lost some."""
    bare = [
        i
        for i, (wing, surface) in enumerate(zip(e.design.wing, e.airframe.wings, strict=True))
        if surface.paper != "both" and e.stock.sheet(surface.sheet).paper_modulus_pa > 0 and wing is not None
    ]
    if not bare:
        return []
    return [({("wing", i, "paper"): "both" for i in bare}, "Leave both papers on the wings.")]


PAPER_ON = Option(name="papers on the wings", choices=_papers)


def _coverings(e: Evaluation) -> list[Choice]:
    """Film or tape over both faces, lightest first."""
    if e.design.covering.stock != "none" and e.design.covering.wings == "both":
        return []
    films = sorted(
        (c for c in e.stock.coverings if c.key in {"tape", "film", "film-light"}),
        key=lambda c: c.areal_density_kg_m2,
    )
    return [
        (
            {("covering", "stock"): film.key, ("covering", "wings"): "both"},
            f"Cover both faces of the wings with {film.name}.",
        )
        for film in films
    ]


COVER_WINGS = Option(name="covering", choices=_coverings)


def _worst_strut(e: Evaluation) -> int | None:
    if not e.strength.struts:
        return None
    name = min(e.strength.struts, key=lambda s: s.margin).name
    return next(int(strut.where[1]) for strut in e.airframe.struts if strut.name == name)


def _strut_chord(e: Evaluation) -> float | None:
    i = _worst_strut(e)
    return None if i is None else round(1e3 * e.design.strut[i].chord, 1)


def _deeper(e: Evaluation) -> list[Choice]:
    """Deeper struts, 2 mm at a time."""
    i, chord = _worst_strut(e), _strut_chord(e)
    if i is None or chord is None:
        return []
    made: list[Choice] = []
    for share in (1.15, 1.3, 1.5, 1.75, 2.0, 2.5, 3.0):
        wide = 2.0 * math.ceil(0.5 * share * chord)
        made.append(
            (
                {("strut", i, "chord"): wide},
                f"Make that strut {show_length(1e-3 * wide, imperial(e))} deep.",
            )
        )
    made.append(({("strut", i, "paper"): "both"}, "Leave both papers on that strut."))
    return made


DEEPER_STRUT = Option(name="strut", choices=_deeper)


def _held(e: Evaluation) -> list[Choice]:
    banded = [i for i, wing in enumerate(e.design.wing) if wing.held == "bands"]
    return [
        ({("wing", i, "held"): how for i in banded}, f"Hold the wing with {words}.")
        for how, words in (("bolts", "nylon bolts"), ("glued", "glue"))
        if banded
    ]


HELD = Option(name="hold-down", choices=_held)

# -- linkages --------------------------------------------------------------------------------------------------


def _holes(control: ControlFigures | None) -> list[Choice]:
    if control is None or control.best is None:
        return []
    arm, horn = round(1e3 * control.best.arm_m, 1), round(1e3 * control.best.horn_m, 1)
    return [
        (
            {("radio", "servo", control.where, "arm"): arm, ("radio", "servo", control.where, "horn"): horn},
            (
                f"Hook the {control.moves} push-rod into the hole {arm:g} mm out on the servo arm and {horn:g} mm out "
                "on the horn."
            ),
        )
    ]


def _servos(e: Evaluation, control: ControlFigures | None) -> list[Choice]:
    """Stronger servos, weakest first, each as it is and with its own best holes."""
    if control is None or e.design.radio is None:
        return []
    now = e.stock.servo(e.design.radio.servo[control.where].stock)
    stronger = sorted((s for s in e.stock.servos if s.torque_nm > now.torque_nm), key=lambda s: s.torque_nm)
    return [
        (
            {("radio", "servo", control.where, "stock"): s.key},
            f"Fit a {s.name} ({show_mass(s.mass_kg, imperial(e))}) to the {control.moves}.",
        )
        for s in stronger[:7]
    ]


HOLES_FOR_TORQUE = Option(name="holes", choices=lambda e: _holes(worst_servo(e)))
STRONGER_SERVO = Option(name="servo", choices=lambda e: _servos(e, worst_servo(e)))
HOLES_FOR_TRAVEL = Option(name="holes", choices=lambda e: _holes(tightest_linkage(e)))


def _less_throw(e: Evaluation) -> list[Choice]:
    """Throws cut to what the linkage gives, in steps."""
    control = tightest_linkage(e)
    if control is None:
        return []
    where = next(s.where for s in e.airframe.surfaces if s.name == control.surface)
    table = {"elevator": "elevator", "rudder": "rudder"}.get(control.moves, "aileron")
    made: list[Choice] = []
    for share in (0.9, 0.8, 0.7, 0.6, 0.5):
        up = math.floor(share * math.degrees(control.up_rad))
        down = math.floor(share * math.degrees(control.down_rad))
        made.append(
            (
                {(*where, table, "up"): up, (*where, table, "down"): down},
                f"Ask less throw of the {control.moves}: {up:g}° and {down:g}°.",
            )
        )
    return made


LESS_THROW = Option(name="throw", choices=_less_throw)

# -- thrust line -----------------------------------------------------------------------------------------------


def _shaft(e: Evaluation) -> list[Choice]:
    """The best angles to half a degree; a tilt also moves the slipstream off the tail, and with it what is best."""
    drive = e.design.drive
    if e.thrust is None or drive is None:
        return []
    down, right = (_half_degrees(v) for v in (e.thrust.best.down_rad, e.thrust.best.right_rad))
    if drive.twin:
        return [({("drive", "down"): down}, f"Set the motors {_tilt(down, 'down', 'up')}.")]
    return [
        (
            {("drive", "down"): down, ("drive", "right"): right},
            f"Set the motor {_tilt(down, 'down', 'up')} and {_tilt(right, 'to the right', 'to the left')}.",
        )
    ]


def _half_degrees(angle_rad: float) -> float:
    return round(2.0 * math.degrees(angle_rad)) / 2.0


def _tilt(degrees: float, one: str, other: str) -> str:
    return f"{abs(degrees):g}° {one if degrees >= 0 else other}"


SHAFT = Option(name="thrust line", choices=_shaft, follows=True)


def _planks(e: Evaluation) -> list[Choice]:
    """The fewest planks that follow the deck, and one more."""
    deck = worst_deck(e)
    if deck is None or deck.planks is None:
        return []
    return [
        (
            {("body", deck.key, "planks"): n},
            f"Lay the {deck.key.replace('_', ' ')} in {n} planks.",
        )
        for n in (deck.planks, deck.planks + 1)
        if n <= MOST_PLANKS
    ]


PLANKED = Option(name="planks", choices=_planks)
