"""The checks: each measures one figure of an evaluation, holds it against a limit, and says what it means.

Limits without a named source are common practice in the hobby, no source.
"""

from __future__ import annotations

import math

from sheetlark.evaluation import Evaluation
from sheetlark.flight import SIDESLIP_LIMIT_RAD
from sheetlark.review.building_checks import BUILDING_CHECKS
from sheetlark.review.check import Check, Measure, imperial
from sheetlark.review.drive_checks import CUT_OFF, NOSE_BLOCKAGE, PITCH_SPEED, WINDINGS
from sheetlark.review.sheet_checks import SHEETS
from sheetlark.review.stretching import tail_arm_m
from sheetlark.units import show_length, show_mass, show_speed

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


def _climb(e: Evaluation) -> float | None:
    if e.drive is None:
        return None
    return e.flight.performance.best_climb_ms if e.flight.performance is not None else -1.0


CLIMB = Check(
    id="climb",
    unit="m/s",
    measure=_climb,
    limit=1.0,
    least=True,
    severity=lambda figure, _: "fault" if figure <= 0 else "caution",
    says=lambda e, figure, __: (
        "The motor is not enough: full throttle cannot hold it up."
        if figure <= 0
        else f"It climbs at only {show_speed(figure, imperial(e))}: too little to get away safely."
    ),
    because=lambda e, *_: (
        f"{e.drive.net.net_n:.2f} N of static thrust, less what the nose costs, for "
        f"{9.80665 * e.weights.all_up_kg:.2f} N of weight; best lift to drag "
        f"{e.air.results.polar.best_lift_to_drag:.1f}."
        if e.drive is not None
        else ""
    ),
    deviation=lambda e: None if e.spread.climb_ms is None else e.spread.climb_ms.deviation,
)

THRUST = Check(
    id="power",
    unit="of weight",
    measure=lambda e: None if e.drive is None else e.drive.thrust_to_weight,
    limit=lambda e: {"floating": 0.5, "long": 0.5, "sport": 0.7, "vertical": 1.1}[e.design.flying.style],
    least=True,
    says=lambda e, figure, limit: (
        f"The drive is weak for {e.design.flying.style} flying: thrust {figure:.2f} of the weight, "
        f"where {limit:.1f} is wanted."
    ),
    because=lambda e, *_: (
        f"{e.drive.net.net_n:.2f} N net of the nose, which takes {100 * e.drive.net.fraction:.0f} %, "
        f"for {show_mass(e.weights.all_up_kg, imperial(e))}."
        if e.drive is not None
        else ""
    ),
    deviation=lambda e: (
        None
        if e.drive is None
        else e.drive.thrust_to_weight
        * math.hypot(e.drive.static.thrust_spread, float(e.weights.spread[0]) / e.weights.all_up_kg)
    ),
)


def _current_check(name: str, amps: Measure, most: Measure) -> Check:
    def deviation(e: Evaluation) -> float | None:
        figure = amps(e)
        return None if e.drive is None or figure is None else figure * e.drive.static.current_spread

    return Check(
        id=f"current-{name.replace(' ', '-')}",
        unit="A",
        measure=amps,
        limit=most,
        least=False,
        severity=lambda figure, limit: "fault" if figure > 1.15 * limit else "caution",
        says=lambda _, figure, limit: f"The {name} would carry {figure:.1f} A; it can carry {limit:.1f} A.",
        because=lambda e, *_: (
            f"Full throttle, standing still, full battery: {e.drive.line.motor.name} and a "
            f"{e.drive.line.propeller.diameter_m / 0.0254:.3g} x {e.drive.line.propeller.pitch_m / 0.0254:.3g} in "
            f"propeller on {e.drive.line.pack.cells} cells."
            if e.drive is not None
            else ""
        ),
        deviation=deviation,
    )


CURRENTS = (
    _current_check(
        "motor",
        lambda e: None if e.drive is None else e.drive.static.point.motor_current_a,
        lambda e: None if e.drive is None else e.drive.line.motor.max_current_a,
    ),
    _current_check(
        "speed controller",
        lambda e: None if e.drive is None else e.drive.static.point.motor_current_a,
        lambda e: None if e.drive is None else e.drive.line.controller.max_current_a,
    ),
    _current_check(
        "battery",
        lambda e: None if e.drive is None else e.drive.static.point.current_a,
        lambda e: None if e.drive is None else e.drive.line.pack.continuous_c * e.drive.line.pack.capacity_ah,
    ),
)

MINUTES = Check(
    id="minutes",
    unit="min",
    measure=lambda e: None if e.flight.cruise_s is None else e.flight.cruise_s / 60.0,
    limit=4.0,
    least=True,
    says=lambda _, figure, __: f"The battery lasts only {figure:.1f} minutes at cruise.",
    because=lambda e, *_: (
        f"Level flight at {show_speed(e.flight.cruise_ms, imperial(e))} takes "
        f"{100 * e.flight.cruise.throttle:.0f} % throttle; a fifth of the charge is kept back."
        if e.flight.cruise is not None
        else ""
    ),
    deviation=lambda e: None if e.spread.cruise_min is None else e.spread.cruise_min.deviation,
)


def _clearance(e: Evaluation) -> float | None:
    """Propeller tip above the ground, standing on its wheels with the body level. [mm]."""
    drive, gear = e.design.drive, e.design.gear
    if drive is None or gear is None or e.drive is None:
        return None
    ground = gear.at[1] - e.stock.wheel(gear.wheel).diameter_m / 2
    return 1e3 * (drive.motor_at[2] - e.drive.line.propeller.diameter_m / 2 - ground)


CLEARANCE = Check(
    id="propeller-clearance",
    unit="mm",
    measure=_clearance,
    limit=15.0,
    least=True,
    severity=lambda figure, _: "fault" if figure <= 0 else "caution",
    says=lambda _, figure, __: (
        f"The propeller tip passes {figure:.0f} mm above the ground, standing level; it will strike when the tail lifts."
        if figure > 0
        else f"The propeller is {-figure:.0f} mm too large for the undercarriage: it strikes the ground."
    ),
    because=lambda *_: (
        "15 mm is the least that leaves room for grass and a lifted tail (common practice, no source)."
    ),
)

# -- turning and wobbling --------------------------------------------------------------------------------------

SIDESLIP = Check(
    id="adverse-yaw",
    unit="deg",
    measure=lambda e: (
        None if e.controls.peak_sideslip_rad is None else math.degrees(e.controls.peak_sideslip_rad)
    ),
    limit=math.degrees(SIDESLIP_LIMIT_RAD),
    least=False,
    says=lambda e, figure, __: (
        f"It skids rather than turns: rolling into a 30 degree bank it slips {figure:.1f} degrees"
        + (f", even with {100 * e.controls.rudder_mix:.0f} % of rudder." if e.controls.rudder_mix else ".")
    ),
    because=lambda e, *_: (
        f"Yaw from sideslip {e.flight.derivatives.Cn_beta:.3f}, yaw from roll rate "
        f"{e.flight.derivatives.Cn_p:.3f}, yaw from ailerons {e.flight.derivatives.Cn_da:.4f} for "
        f"{e.flight.derivatives.Cl_da:.3f} of roll, per radian."
    ),
    deviation=lambda e: (
        None if e.spread.peak_sideslip_rad is None else math.degrees(e.spread.peak_sideslip_rad.deviation)
    ),
)

RUDDER_MIX = Check(
    id="rudder-mix",
    unit="% of roll stick",
    measure=lambda e: 100.0 * e.controls.rudder_mix if e.controls.rudder_mix else None,
    limit=0.0,
    least=False,
    severity="note",
    says=lambda _, figure, __: (
        f"Mix at least {math.ceil(figure):.0f} % of rudder with the ailerons, or lead the turns with your thumb."
    ),
    because=lambda e, *_: (
        f"With ailerons alone it slips {math.degrees(e.controls.entry.peak_sideslip_rad):.1f} degrees rolling into a "
        f"30 degree bank; with the mix {math.degrees(e.controls.coordinated.peak_sideslip_rad):.1f}."
        if e.controls.entry is not None and e.controls.coordinated is not None
        else ""
    ),
)

NO_TURN = Check(
    id="no-turn",
    unit="controls",
    measure=lambda e: 0.0 if e.flight.entry is None else 1.0,
    limit=1.0,
    least=True,
    severity="fault",
    says=lambda *_: "It has no control that turns it.",
    because=lambda e, *_: "; ".join(e.flight.says) or "Neither ailerons, elevons nor a rudder are stated.",
)

YAW_STABILITY = Check(
    id="yaw-stability",
    unit="per rad",
    measure=lambda e: e.flight.derivatives.Cn_beta,
    limit=0.01,
    least=True,
    severity=lambda figure, _: "fault" if figure <= 0 else "caution",
    says=lambda _, figure, __: (
        "The fin is too small: it would swap ends."
        if figure <= 0
        else "The fin is small: it weathercocks weakly."
    ),
    because=lambda _, figure, limit: (
        f"Yawing moment from sideslip is {figure:.3f} per radian; {limit:.2f} is the least worth flying "
        "(common practice, no source)."
    ),
)


def _spiral_doubling(e: Evaluation) -> float | None:
    growing = [m.time_to_double_s for m in e.flight.modes if m.name == "spiral" and not m.stable]
    return growing[0] if growing else None


SPIRAL = Check(
    id="spiral",
    unit="s",
    measure=_spiral_doubling,
    limit=4.0,
    least=True,
    says=lambda _, figure, __: f"Left alone in a bank it winds up: the bank doubles in {figure:.1f} s.",
    because=lambda e, *_: (
        f"Roll from sideslip {e.flight.derivatives.Cl_beta:.3f} is small beside yaw from sideslip "
        f"{e.flight.derivatives.Cn_beta:.3f}. MIL-F-8785C asks 12 to 20 s of a light aeroplane (from memory); a "
        "model needs at least 4 s to be flown by eye (common practice)."
    ),
)


def _dutch_damping(e: Evaluation) -> float | None:
    found = [m.damping_ratio for m in e.flight.modes if m.name == "Dutch roll"]
    return found[0] if found else None


DUTCH_ROLL = Check(
    id="dutch-roll",
    unit="of critical",
    measure=_dutch_damping,
    limit=0.08,
    least=True,
    severity=lambda figure, _: "fault" if figure < 0 else "caution",
    says=lambda *_: "Its tail wags: the Dutch roll is poorly damped.",
    because=lambda _, figure, limit: (
        f"Damping is {figure:.2f} of critical; {limit:.2f} is MIL-F-8785C's level 1 for the landing approach (from memory)."
    ),
)


def _roll_helix(e: Evaluation) -> float | None:
    """Helix angle pb/2V of full aileron; None without ailerons. [rad]."""
    return e.controls.helix_rad or None


ROLL_RATE = Check(
    id="roll-rate",
    unit="rad",
    measure=_roll_helix,
    limit=0.05,
    least=True,
    says=lambda *_: "The ailerons are weak: it rolls slowly.",
    because=lambda e, figure, limit: (
        f"Full stick gives a helix angle pb/2V of {figure:.3f}, {math.degrees(figure * 2 * e.flight.cruise_ms / e.airframe.reference.span_m):.0f} "
        f"degrees a second at cruise; {limit:.2f} is the least that a light aeroplane is asked for (NACA TR-715, from memory)."
    ),
)


def _tip_stall(e: Evaluation) -> float | None:
    stall = e.air.results.first_stall
    wings = {w.name for w in e.airframe.wings}
    return stall.share_of_span if stall.surface in wings else None


TIP_STALL = Check(
    id="tip-stall",
    unit="of the half span",
    measure=_tip_stall,
    limit=0.65,
    least=False,
    says=lambda e, *_: (
        f"The {e.air.results.first_stall.surface} stalls near its tip first: it will drop a wing."
    ),
    because=lambda e, figure, _: (
        f"The first strip to stall lies {100 * figure:.0f} % of the way out, at "
        f"{math.degrees(e.air.results.first_stall.alpha_rad):.1f} degrees."
    ),
)

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
        f"{10 * e.weights.all_up_kg / e.airframe.reference.area_m2:.1f} g/dm². A hand throw gives 5 to 7 m/s "
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
