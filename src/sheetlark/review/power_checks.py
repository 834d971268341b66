"""Whether the drive is enough and not too much: climb, thrust, currents, minutes, room for the propeller.

Limits without a named source are common practice in the hobby, no source.
"""

from __future__ import annotations

import math

from sheetlark.evaluation import Evaluation
from sheetlark.review.check import Check, Measure, imperial
from sheetlark.units import INCH_M, STANDARD_GRAVITY_MS2, show_force, show_mass, show_speed


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
        f"{show_force(e.drive.net.net_n, imperial(e))} of static thrust, less what the nose costs, for "
        f"{show_force(STANDARD_GRAVITY_MS2 * e.weights.all_up_kg, imperial(e))} of weight; best lift to drag "
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
        f"{show_force(e.drive.net.net_n, imperial(e))} net of the nose, which takes {100 * e.drive.net.fraction:.0f} %, "
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
            f"{e.drive.line.propeller.diameter_m / INCH_M:.3g} x {e.drive.line.propeller.pitch_m / INCH_M:.3g} in "
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
