"""Findings: what a builder should know before cutting, in plain words with figures."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from sheetlark.design import Where
from sheetlark.evaluation import Evaluation
from sheetlark.units import show_length, show_mass

Severity = Literal["fault", "caution", "note"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One value of the design file to set; None removes it."""

    where: Where
    value: object


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """The smallest change found that clears a finding.

    says : what to do, in one sentence
    changes : what it writes into the design file
    moves : what else it moves, in words, with figures
    """

    says: str
    changes: tuple[Change, ...]
    moves: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing a builder should know.

    id : stable name
    severity : a fault will not fly or cannot be built; a caution is risky; a note is worth knowing
    says : one sentence
    because : the reason with its figures
    value, limit : the figure found and the figure it is held against, in `unit`
    """

    id: str
    severity: Severity
    says: str
    because: str
    value: float
    limit: float
    unit: str
    remedies: tuple[Remedy, ...] = ()


Check = Callable[[Evaluation], Iterator[Finding]]

# Stability in mean chords. Common practice, no source: 5 to 15 % flies well, first flights nearer the upper end.
LEAST_MARGIN, BEST_MARGIN = 0.05, 0.10


def mass_against_target(e: Evaluation) -> Iterator[Finding]:
    """All-up mass against what the designer hoped for."""
    target = e.design.model.target_mass
    if target is None:
        return
    mass, spread = e.weights.all_up_kg, float(e.weights.spread[0])
    if mass - spread > target:
        imperial = e.design.model.units == "imperial"
        yield Finding(
            id="mass-over-target",
            severity="caution",
            says=f"It will come out heavier than you hope: {show_mass(mass, imperial)} against "
            f"{show_mass(target, imperial)}.",
            because=f"Even one standard deviation ({show_mass(spread, imperial)}) on the light side it is over.",
            value=mass * 1e3,
            limit=target * 1e3,
            unit="g",
        )


def static_margin(e: Evaluation) -> Iterator[Finding]:
    """Neutral point against balance point."""
    margin = e.air.static_margin
    imperial = e.design.model.units == "imperial"
    balance, neutral = float(e.weights.balance_m[0]), e.air.neutral_point_m
    places = (
        f"It balances {show_length(balance, imperial)} behind the nose datum; the neutral point lies at "
        f"{show_length(neutral, imperial)}, so the margin is {100 * margin:.0f} % of the mean chord."
    )
    if margin < 0:
        yield Finding(
            id="unstable",
            severity="fault",
            says="Tail-heavy: as drawn it is unstable in pitch and cannot be flown by hand.",
            because=places,
            value=100 * margin,
            limit=100 * LEAST_MARGIN,
            unit="% of mean chord",
        )
    elif margin < LEAST_MARGIN:
        yield Finding(
            id="margin-small",
            severity="caution",
            says="The balance point is close to the neutral point: twitchy in pitch.",
            because=places,
            value=100 * margin,
            limit=100 * LEAST_MARGIN,
            unit="% of mean chord",
        )


def thrust_to_weight(e: Evaluation) -> Iterator[Finding]:
    """Static thrust against weight, by common practice."""
    if e.drive is None or e.drive.thrust_to_weight >= 0.5:
        return
    yield Finding(
        id="power-low",
        severity="caution",
        says="The motor is small for the mass: it may not climb.",
        because=f"{e.drive.net.net_n:.2f} N of static thrust lifts {e.drive.thrust_to_weight:.2f} of its "
        "weight; 0.5 is the least that climbs with ease (common practice, no source).",
        value=e.drive.thrust_to_weight,
        limit=0.5,
        unit="of weight",
    )


def currents(e: Evaluation) -> Iterator[Finding]:
    """Current against what motor, controller and cells can carry."""
    if e.drive is None:
        return
    line, point = e.drive.line, e.drive.static.point
    limits = {
        "motor": (point.motor_current_a, line.motor.max_current_a),
        "speed controller": (point.motor_current_a, line.controller.max_current_a),
        "battery": (point.current_a, line.pack.continuous_c * line.pack.capacity_ah),
    }
    for name, (amps, most) in limits.items():
        if amps > most:
            yield Finding(
                id=f"current-{name.replace(' ', '-')}",
                severity="fault" if amps > 1.15 * most else "caution",
                says=f"The {name} would carry more current than it can: {amps:.1f} A against {most:.1f} A.",
                because=f"Full throttle standing still, from a full battery; typical figures of {line.motor.name} "
                f"and {line.propeller.diameter_m / 0.0254:.3g} in propeller.",
                value=amps,
                limit=most,
                unit="A",
            )


CHECKS: tuple[Check, ...] = (static_margin, mass_against_target, thrust_to_weight, currents)

_ORDER = {"fault": 0, "caution": 1, "note": 2}


def findings(evaluation: Evaluation) -> tuple[Finding, ...]:
    """Everything worth telling, worst first."""
    found = [finding for check in CHECKS for finding in check(evaluation)]
    return tuple(sorted(found, key=lambda f: _ORDER[f.severity]))
