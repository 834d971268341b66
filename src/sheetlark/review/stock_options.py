"""Options from stock: another propeller, motor, controller or battery, and paper left on or peeled off."""

from __future__ import annotations

import math
from collections.abc import Callable

from sheetlark.evaluation import Evaluation
from sheetlark.review.check import imperial
from sheetlark.review.levers import Changes, Option
from sheetlark.units import show_mass


def _paper_choices(e: Evaluation) -> list[tuple[Changes, str]]:
    now = e.design.sheet.paper
    found: list[tuple[Changes, str]] = []
    if now == "both":
        found.append(({("sheet", "paper"): "one"}, "Peel the paper off one face of every part."))
    if now in {"both", "one"}:
        found.append(
            (
                {("sheet", "paper"): "none"},
                "Peel the paper off both faces; tape the leading edges and the spars.",
            )
        )
    return found


PAPER = Option(name="paper off", choices=_paper_choices)


def _propeller_choices(*, smaller: bool) -> Callable[[Evaluation], list[tuple[Changes, str]]]:
    def choices(e: Evaluation) -> list[tuple[Changes, str]]:
        if e.design.drive is None:
            return []
        now = e.stock.propeller(e.design.drive.propeller)
        load = now.diameter_m**4 * now.pitch_m
        others = [
            p
            for p in e.stock.propellers
            if p.blades == now.blades
            and p.key != now.key
            and (p.diameter_m**4 * p.pitch_m < load) == smaller
            and 0.5 < p.diameter_m / now.diameter_m < 1.4
        ]
        # Same style first, then the load nearest to today's.
        others.sort(key=lambda p: (p.style != now.style, abs(math.log(p.diameter_m**4 * p.pitch_m / load))))
        return [({("drive", "propeller"): p.key}, f"Fit a {p.name}.") for p in others[:8]]

    return choices


SMALLER_PROPELLER = Option(name="smaller propeller", choices=_propeller_choices(smaller=True))
LARGER_PROPELLER = Option(name="larger propeller", choices=_propeller_choices(smaller=False))


def _pitchier_choices(e: Evaluation) -> list[tuple[Changes, str]]:
    """Propellers no larger, of more pitch, the least change first."""
    if e.design.drive is None:
        return []
    now = e.stock.propeller(e.design.drive.propeller)
    others = [
        p
        for p in e.stock.propellers
        if p.blades == now.blades
        and p.pitch_m > now.pitch_m
        and 0.6 < p.diameter_m / now.diameter_m < 1.01
        and p.pitch_m < 1.1 * p.diameter_m
    ]
    others.sort(
        key=lambda p: (
            p.style != now.style,
            math.log(p.pitch_m / now.pitch_m) + abs(math.log(p.diameter_m / now.diameter_m)),
        )
    )
    return [({("drive", "propeller"): p.key}, f"Fit a {p.name}.") for p in others[:6]]


PITCHIER_PROPELLER = Option(name="more pitch", choices=_pitchier_choices)


def _motor_choices(e: Evaluation) -> list[tuple[Changes, str]]:
    """Heavier motors with about the same speed constant, lightest first."""
    if e.design.drive is None:
        return []
    now = e.stock.motor(e.design.drive.motor)
    others = [
        m
        for m in e.stock.motors
        if m.mass_kg > now.mass_kg and 0.7 < m.kv_rpm_v / now.kv_rpm_v < 1.5 and m.mass_kg < 2.5 * now.mass_kg
    ]
    others.sort(key=lambda m: m.mass_kg)
    return [
        ({("drive", "motor"): m.key}, f"Fit a larger motor, {m.name} ({show_mass(m.mass_kg, imperial(e))}).")
        for m in others[:7]
    ]


MOTOR = Option(name="larger motor", choices=_motor_choices)


def _controller_choices(e: Evaluation) -> list[tuple[Changes, str]]:
    if e.design.drive is None:
        return []
    now = e.stock.controller(e.design.drive.controller)
    others = sorted(
        (c for c in e.stock.controllers if c.max_current_a > now.max_current_a), key=lambda c: c.max_current_a
    )
    return [
        ({("drive", "controller"): c.key}, f"Fit a speed controller for {c.max_current_a:.0f} A.")
        for c in others[:5]
    ]


CONTROLLER = Option(name="larger controller", choices=_controller_choices)


def _pack_choices(e: Evaluation) -> list[tuple[Changes, str]]:
    if e.design.drive is None:
        return []
    now = e.stock.pack(e.design.drive.pack)
    others = sorted(
        (p for p in e.stock.packs if p.cells == now.cells and p.capacity_ah > now.capacity_ah),
        key=lambda p: p.capacity_ah,
    )
    return [
        (
            {("drive", "pack"): p.key},
            f"Fit a larger battery, {p.cells} cells of {1e3 * p.capacity_ah:.0f} mAh ({show_mass(p.mass_kg, imperial(e))}).",
        )
        for p in others[:6]
    ]


PACK = Option(name="larger battery", choices=_pack_choices)
