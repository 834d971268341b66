"""Checks of what is built: spars, struts, bands, stiffness, linkages and the thrust line.

Limits without a named source are common practice in the hobby, no source.
"""

from __future__ import annotations

import math

from sheetlark.evaluation import SOFT, ControlFigures, Evaluation, StrutLoad
from sheetlark.flight import SERVO_MARGIN
from sheetlark.parts import ONE_SHEET_OFF_MM, PLANK_OFF_MM, DeckFit, deck_fits
from sheetlark.review.check import Check, imperial
from sheetlark.strength.flutter import RESERVE
from sheetlark.units import show_force, show_length, show_moment, show_speed

# Papers, glue lines and rods vary: relative spread of a strength (judgement).
_STRENGTH_SPREAD = 0.25
MOST_BANDS = 8  # more hardly find room on two dowels


def _load(e: Evaluation) -> str:
    limit = e.strength.limit
    return f"It is judged at {limit.factor:.1f} g, as {limit.because}"


SPAR = Check(
    id="spar",
    unit="of what is asked",
    measure=lambda e: e.strength.weakest.margin,
    limit=1.0,
    least=True,
    severity=lambda figure, _: "fault" if figure < 1.0 / 1.5 else "caution",
    says=lambda e, figure, _: (
        f"The {e.strength.weakest.name} may fold: at the hardest pull it bears {1.5 * figure:.1f} times its load, "
        "where 1.5 is asked."
    ),
    because=lambda e, *_: (
        f"{_load(e)}; the moment at its root is then {show_moment(e.strength.weakest.root_moment_nm, imperial(e))}, and the "
        f"{e.strength.weakest.weakest} gives way first, "
        f"{show_length(e.strength.weakest.weakest_y_m, imperial(e))} from the centre line."
    ),
    deviation=lambda e: _STRENGTH_SPREAD * e.strength.weakest.margin,
)

SOFT_WING = Check(
    id="soft-wing",
    unit="% of the half span",
    measure=lambda e: 100.0 * e.strength.softest.soft,
    limit=100.0 * SOFT,
    least=False,
    says=lambda e, figure, _: (
        f"The {e.strength.softest.name} is soft: its tips rise by {figure:.0f} % of the half span at the hardest pull."
    ),
    because=lambda e, _, limit: (
        f"{_load(e)}; the tips rise {show_length(e.strength.softest.tip_deflection_m, imperial(e))}. "
        f"{limit:.0f} % is the most that still flies as drawn (common practice, no source)."
    ),
)


def _worst_strut(e: Evaluation) -> StrutLoad | None:
    return min(e.strength.struts, key=lambda s: s.margin, default=None)


def _strut_margin(e: Evaluation) -> float | None:
    strut = _worst_strut(e)
    return None if strut is None or math.isinf(strut.margin) else strut.margin


def _strut_says(e: Evaluation, *_: float) -> str:
    strut = _worst_strut(e)
    return "" if strut is None else f"The {strut.name} would bow out at the hardest pull."


def _strut_because(e: Evaluation, *_: float) -> str:
    strut = _worst_strut(e)
    if strut is None:
        return ""
    return (
        f"{_load(e)}; it is pushed with {show_force(-strut.pull_n, imperial(e))} and buckles at "
        f"{show_force(strut.buckles_n, imperial(e))} (Euler)."
    )


STRUT = Check(
    id="strut",
    unit="of what is asked",
    measure=_strut_margin,
    limit=1.0,
    least=True,
    says=_strut_says,
    because=_strut_because,
    deviation=lambda e: _STRENGTH_SPREAD * (_strut_margin(e) or 0.0),
)


def _most_bands(e: Evaluation) -> float | None:
    return max((float(w.bands.count) for w in e.strength.wings if w.bands is not None), default=None)


BANDS = Check(
    id="bands",
    unit="bands",
    measure=_most_bands,
    limit=float(MOST_BANDS),
    least=False,
    says=lambda _, figure, __: f"Rubber bands hardly hold the wing: it would take {figure:.0f} of them.",
    because=lambda e, *_: (
        "; ".join(
            [_load(e)]
            + [
                f"the {w.name} pulls with {show_force(w.bands.lift_off_n, imperial(e))} and one band with "
                f"{show_force(w.bands.pull_n, imperial(e))} at each hook"
                for w in e.strength.wings
                if w.bands is not None
            ]
        )
        + "."
    ),
)

TWIST = Check(
    id="twist",
    unit="of top speed",
    measure=lambda e: e.strength.most_twisted.twist.reserve,
    limit=RESERVE,
    least=True,
    says=lambda e, *_: (
        f"The {e.strength.most_twisted.name} is soft in twist: it may flutter at speed. Stiffen it."
    ),
    because=lambda e, *_: (
        f"A first estimate puts flutter at {_speed(e, e.strength.most_twisted.twist.flutter_ms)} and twisting off at "
        f"{_speed(e, e.strength.most_twisted.twist.divergence_ms)}, top speed at {_speed(e, e.strength.top_ms)}; it says "
        "'stiffen it', not how fast is safe."
    ),
)


def _speed(e: Evaluation, metres_per_second: float) -> str:
    return show_speed(metres_per_second, imperial(e)) if math.isfinite(metres_per_second) else "no speed"


def worst_servo(e: Evaluation) -> ControlFigures | None:
    """The servo with the largest share of its torque asked of it."""
    return max(
        (c for c in e.controls.servos if c.torque_share is not None),
        key=lambda c: c.torque_share or 0.0,
        default=None,
    )


def _torque_share(e: Evaluation) -> float | None:
    control = worst_servo(e)
    return None if control is None else control.torque_share


SERVO = Check(
    id="servo-torque",
    unit="of the servo's torque",
    measure=_torque_share,
    limit=1.0 / SERVO_MARGIN,
    least=False,
    severity=lambda figure, _: "fault" if figure > 1.0 else "caution",
    says=lambda e, figure, limit: (
        f"The {_moves(worst_servo(e))} servo is weak: at top speed full throw asks for {100 * figure:.0f} % of its "
        f"torque, where {100 * limit:.0f} % is the most for lasting use."
    ),
    because=lambda e, *_: _torque_words(worst_servo(e)),
    # The air's hinge moments are good to about 30 %.
    deviation=lambda e: 0.3 * (_torque_share(e) or 0.0),
)


def _moves(control: ControlFigures | None) -> str:
    return "" if control is None else control.moves


def _torque_words(control: ControlFigures | None) -> str:
    if control is None or control.servo_torque_nm is None:
        return ""
    return (
        f"The air pushes with {1e3 * control.hinge_moment_nm:.1f} mN m at the hinge; through the linkage the servo feels "
        f"{1e3 * control.servo_torque_nm:.1f} mN m of its {1e3 * control.torque_nm:.1f}."
    )


def tightest_linkage(e: Evaluation) -> ControlFigures | None:
    """The linkage that takes most of its servo's travel; one that does not reach at all comes first."""
    return max(
        e.controls.servos,
        key=lambda c: math.inf if c.travel_used is None else c.travel_used,
        default=None,
    )


def _travel(e: Evaluation) -> float | None:
    control = tightest_linkage(e)
    if control is None:
        return None
    return 2.0 if control.travel_used is None else control.travel_used


def _linkage_because(e: Evaluation, *_: float) -> str:
    control = tightest_linkage(e)
    if control is None:
        return ""
    if control.says:
        return f"{control.says[0].upper()}{control.says[1:]}."
    turn = max(control.servo_up_rad or 0.0, control.servo_down_rad or 0.0)
    return (
        f"Throws of {math.degrees(control.up_rad):.0f} and {math.degrees(control.down_rad):.0f} degrees turn the servo "
        f"{math.degrees(turn):.0f} degrees from the middle."
    )


LINKAGE = Check(
    id="linkage",
    unit="of the servo's travel",
    measure=_travel,
    limit=1.0,
    least=False,
    says=lambda e, *_: f"The {_moves(tightest_linkage(e))} linkage does not give the stated throws.",
    because=_linkage_because,
)


def _off_thrust_line(e: Evaluation) -> float | None:
    """How far the shaft is from its best; None where the balance must be put right before it means anything. [deg]."""
    if e.thrust is None or e.air.static_margin < 0.5 * e.flight.wanted_margin:
        return None
    return math.degrees(e.thrust.off_rad)


THRUST_LINE = Check(
    id="thrust-line",
    unit="deg",
    measure=_off_thrust_line,
    limit=2.0,
    least=False,
    severity="note",
    says=lambda e, *_: (
        f"{_angles(e.thrust.best.down_rad, e.thrust.best.right_rad)} would upset the trim least when the throttle opens."
        if e.thrust is not None
        else ""
    ),
    because=lambda e, *_: (
        f"As stated, with {_angles(e.thrust.stated_down_rad, e.thrust.stated_right_rad).lower()}, full throttle adds "
        f"{1e3 * e.thrust.best.pitch_before_nm:.0f} mN m in pitch and {1e3 * e.thrust.best.yaw_before_nm:.0f} in yaw "
        f"(root mean square, stall to top speed); with the best {1e3 * e.thrust.best.pitch_after_nm:.0f} and "
        f"{1e3 * e.thrust.best.yaw_after_nm:.0f}."
        if e.thrust is not None
        else ""
    ),
)


def _angles(down_rad: float, right_rad: float) -> str:
    down, right = math.degrees(down_rad), math.degrees(right_rad)
    return (
        f"{abs(down):.1f}° of {'down' if down >= 0 else 'up'} thrust and "
        f"{abs(right):.1f}° to the {'right' if right >= 0 else 'left'}"
    )


def worst_deck(e: Evaluation) -> DeckFit | None:
    """Of the decks bent from one sheet, the one that stands furthest off its stated shape."""
    body = e.airframe.body
    return None if body is None else max(deck_fits(body), key=lambda d: d.off_mm, default=None)


def _deck_off(e: Evaluation) -> float | None:
    deck = worst_deck(e)
    return None if deck is None else deck.off_mm


def _deck_says(e: Evaluation, figure: float, limit: float) -> str:
    deck = worst_deck(e)
    if deck is None:
        return ""
    return (
        f"The {deck.key.replace('_', ' ')} cannot be bent from one sheet: it would stand "
        f"{show_length(1e-3 * figure, imperial(e))} off its shape, where {show_length(1e-3 * limit, imperial(e))} can be "
        "glued up."
    )


def _deck_because(e: Evaluation, *_: float) -> str:
    deck = worst_deck(e)
    if deck is None:
        return ""
    cure = (
        f"In {deck.planks} planks side by side it keeps within {show_length(1e-3 * PLANK_OFF_MM, imperial(e))}."
        if deck.planks is not None
        else "No number of planks follows it either: draw it with less curve."
    )
    return (
        f"A sheet bends one way only, so a deck of one piece runs straight from end to end; the body's width, its top edge "
        f"or the crown does not, most at {show_length(1e-3 * deck.at_mm, imperial(e))}. {cure}"
    )


PLANKS = Check(
    id="planks",
    unit="mm",
    measure=_deck_off,
    limit=ONE_SHEET_OFF_MM,
    least=False,
    says=_deck_says,
    because=_deck_because,
)

BUILDING_CHECKS: tuple[Check, ...] = (
    SPAR,
    SOFT_WING,
    STRUT,
    BANDS,
    TWIST,
    SERVO,
    LINKAGE,
    THRUST_LINE,
    PLANKS,
)
