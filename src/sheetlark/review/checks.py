"""The checks: each measures one figure of an evaluation, holds it against a limit, and says what it means.

Limits without a named source are common practice in the hobby, no source.
"""

from __future__ import annotations

import math

from sheetlark.evaluation import Evaluation
from sheetlark.review.building_checks import BUILDING_CHECKS
from sheetlark.review.check import Check, imperial
from sheetlark.review.drive_checks import CUT_OFF, NOSE_BLOCKAGE, PITCH_SPEED, WINDINGS
from sheetlark.review.handling_checks import (
    DUTCH_ROLL,
    NO_TURN,
    ROLL_RATE,
    RUDDER_MIX,
    SIDESLIP,
    SPIRAL,
    TIP_STALL,
    YAW_STABILITY,
)
from sheetlark.review.power_checks import CLEARANCE, CLIMB, CURRENTS, MINUTES, THRUST
from sheetlark.review.sheet_checks import SHEETS
from sheetlark.review.stretching import tail_arm_m
from sheetlark.units import show_length, show_loading, show_mass, show_speed

# -- balance ---------------------------------------------------------------------------------------------------


def _margin(e: Evaluation) -> float:
    return 100.0 * e.air.static_margin


def _least_margin(e: Evaluation) -> float:
    """Least margin in percent: half of what a first flight should have."""
    return 50.0 * e.flight.wanted_margin


def margin_deviation(e: Evaluation) -> float:
    """Standard deviation of the margin, in percent of the mean chord."""
    chord = e.airframe.reference.chord_m
    return 100.0 * math.hypot(e.air.results.neutral_point_spread_m, float(e.weights.spread[1])) / chord


def _places(e: Evaluation, figure: float, limit: float) -> str:
    here = float(e.weights.balance_m[0])
    return (
        f"It balances {show_length(here, imperial(e))} behind the nose datum and its neutral point lies at "
        f"{show_length(e.air.neutral_point_m, imperial(e))}: a margin of {figure:.1f} % of the mean chord, "
        f"where {limit:.0f} % is the least and {100 * e.flight.wanted_margin:.0f} % is good for a first flight."
    )


MARGIN = Check(
    id="margin",
    unit="% of mean chord",
    measure=_margin,
    limit=_least_margin,
    least=True,
    severity=lambda figure, _: "fault" if figure < 0 else "caution",
    says=lambda _, figure, __: (
        "Tail-heavy: as drawn it is unstable in pitch, and nobody can fly it."
        if figure < 0
        else "Its balance point is close to the neutral point: twitchy in pitch."
    ),
    because=_places,
    deviation=margin_deviation,
)


def _ahead_of_limit(e: Evaluation) -> float:
    """How far the balance point lies behind the forward limit. [mm]."""
    return -1e3 * e.flight.balance.forward_limit_m


NOSE_HEAVY = Check(
    id="nose-heavy",
    unit="mm behind the forward limit",
    measure=_ahead_of_limit,
    limit=0.0,
    least=True,
    says=lambda *_: "Nose-heavy: full up elevator is not enough to stall it and to round out.",
    because=lambda e, figure, _: (
        f"It balances {show_length(float(e.weights.balance_m[0]), imperial(e))} behind the nose datum; the elevator "
        f"can hold the nose up from {show_length(float(e.weights.balance_m[0]) - 1e-3 * figure, imperial(e))} on."
    ),
    deviation=lambda e: 1e3 * float(e.weights.spread[1]),
)

# -- mass and power --------------------------------------------------------------------------------------------


def _target(e: Evaluation) -> float | None:
    target = e.design.model.target_mass
    return None if target is None else 1e3 * target


MASS = Check(
    id="mass",
    unit="g",
    measure=lambda e: 1e3 * e.weights.all_up_kg,
    limit=_target,
    least=False,
    says=lambda e, figure, limit: (
        f"It will come out heavier than you hope: {show_mass(1e-3 * figure, imperial(e))} against "
        f"{show_mass(1e-3 * limit, imperial(e))}."
    ),
    because=lambda e, *_: _heaviest(e),
    deviation=lambda e: 1e3 * float(e.weights.spread[0]),
)


def _heaviest(e: Evaluation) -> str:
    groups: dict[str, float] = {}
    for line in e.weights.lines:
        groups[line.group] = groups.get(line.group, 0.0) + line.mass_kg
    top = sorted(groups.items(), key=lambda item: -item[1])[:3]
    said = ", ".join(f"{name} {show_mass(mass, imperial(e))}" for name, mass in top)
    return f"The heaviest groups are {said}; one standard deviation is {show_mass(float(e.weights.spread[0]), imperial(e))}."


STALL = Check(
    id="stall-speed",
    unit="m/s",
    measure=lambda e: e.flight.stall_ms if e.design.gear is None else None,
    limit=7.0,
    least=False,
    says=lambda e, figure, __: (
        f"It stalls at {show_speed(figure, imperial(e))}: faster than most people can throw, with no wheels to help."
    ),
    because=lambda e, *_: (
        f"Greatest trimmed lift coefficient {e.flight.polar.greatest_lift:.2f}, wing loading "
        f"{show_loading(e.weights.all_up_kg / e.airframe.reference.area_m2, imperial(e))}. A hand throw gives 5 to 7 m/s "
        "(common practice, no source)."
    ),
    deviation=lambda e: e.spread.stall_ms.deviation,
)

WIND = Check(
    id="wind",
    unit="m/s",
    measure=lambda e: None if e.flight.performance is None else e.flight.performance.wind_limit_ms,
    limit=lambda e: e.design.flying.wind,
    least=True,
    severity="note",
    says=lambda e, figure, limit: (
        f"The wind you state, {show_speed(limit, imperial(e))}, is more than it should fly in: "
        f"{show_speed(figure, imperial(e))}."
    ),
    because=lambda e, *_: (
        f"Two thirds of cruise, or a tenth of the wind in gusts three deep stalling it, whichever comes first; "
        f"cruise is {show_speed(e.flight.cruise_ms, imperial(e))} (common practice, no source)."
    ),
)

# EU 2019/947 article 14 (250 g), USA 14 CFR 48 (0.55 lb), UK flyer ID from 1 January 2026 (100 g). Rules change.
_THRESHOLDS_G = (100.0, 250.0)


def _threshold_passed(e: Evaluation) -> float | None:
    mass = 1e3 * e.weights.all_up_kg
    passed = [t for t in _THRESHOLDS_G if mass >= t]
    return passed[-1] if passed else None


REGISTRATION = Check(
    id="registration",
    unit="g",
    measure=lambda e: 1e3 * e.weights.all_up_kg if _threshold_passed(e) is not None else None,
    limit=_threshold_passed,
    least=False,
    severity="note",
    says=lambda _, __, limit: (
        f"At {limit:.0f} g and over, many places ask the flyer to register or to pass a test. Check your local rules."
    ),
    because=lambda *_: (
        "250 g is in EU 2019/947 article 14 and, as 0.55 lb, in the USA; 100 g in the UK since 2026. Rules differ and "
        "change: yours come first."
    ),
    deviation=lambda e: 1e3 * float(e.weights.spread[0]),
)


def tail_volume(e: Evaluation) -> float | None:
    """Horizontal tail volume S_t l_t / (S c), from quarter chord to quarter chord."""
    tail, arm = e.airframe.tail, tail_arm_m(e)
    if tail is None or arm is None or tail.role != "tailplane":
        return None
    r = e.airframe.reference
    return tail.area_m2 * math.cos(tail.dihedral_rad) * arm / (r.area_m2 * r.chord_m)


TAIL_VOLUME = Check(
    id="tail-volume",
    unit="",
    measure=tail_volume,
    limit=0.30,
    least=True,
    severity="note",
    says=lambda _, figure, __: f"The tailplane is small or close: its volume is {figure:.2f}.",
    because=lambda *_: "0.30 to 0.65 is usual for models (common practice, no source).",
)

CHECKS: tuple[Check, ...] = (
    MARGIN,
    NOSE_HEAVY,
    CLIMB,
    THRUST,
    *CURRENTS,
    WINDINGS,
    CUT_OFF,
    PITCH_SPEED,
    NOSE_BLOCKAGE,
    CLEARANCE,
    NO_TURN,
    YAW_STABILITY,
    SIDESLIP,
    RUDDER_MIX,
    DUTCH_ROLL,
    SPIRAL,
    ROLL_RATE,
    TIP_STALL,
    STALL,
    MASS,
    MINUTES,
    WIND,
    TAIL_VOLUME,
    *BUILDING_CHECKS,
    SHEETS,
    REGISTRATION,
)

ON_THE_GROUND = (CLEARANCE, *CURRENTS, WINDINGS, CUT_OFF)  # those that ask for no flight, the quickest first
AT_ONCE = frozenset(c.id for c in (*ON_THE_GROUND, THRUST))  # told before those all are
