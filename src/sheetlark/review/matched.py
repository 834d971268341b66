"""The drives that suit a design, as a person reads them, as a stable document, and written into the design file."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator
from typing import Any

import click

from sheetlark.design import Where, edited, loads
from sheetlark.drive import Combination, Ranking
from sheetlark.errors import DesignError
from sheetlark.evaluation import NOTHING_NEAR, Evaluation, evaluate
from sheetlark.units import INCH_M, OUNCE_KG

Plain = dict[str, Any]
_WIDTH = 100


def match_printed(e: Evaluation, ranking: Ranking, *, most: int = 12, misses: int = 3) -> str:
    """The ranking as text: today's drive first, then those that will do, the nearest misses and the refusals."""
    out = [f"{e.design.model.name}: drives for {ranking.aim.name} flying", ""]
    out += _today(e, ranking)
    shown = ranking.fitting[:most]
    said = f"{ranking.will_do} of {ranking.tried} combinations will do"
    if ranking.tried < ranking.to_try:
        said += f" (stopped early: {ranking.to_try} were to be tried)"
    out += ["", f"{said}{'; the best:' if shown else '.'}"]
    if shown:
        out += [*_head(e), *(_row(e, i, c) for i, c in enumerate(shown, 1))]
    if ranking.refused and misses > 0:
        out += ["", "Nearest misses", *_head(e)]
        for c in ranking.refused[:misses]:
            out.append(_row(e, 0, c))
            for reason in c.refusals:
                out += textwrap.wrap(reason, _WIDTH - 6, initial_indent="    ✗ ", subsequent_indent="      ")
    if ranking.counts:
        out += ["", "Why the others were refused (one may have several reasons)"]
        out += [f"  {count.count:>7}  {count.reason}" for count in ranking.counts]
    out += ["", *_explained(e, ranking)]
    return "\n".join(out)


def _today(e: Evaluation, ranking: Ranking) -> Iterator[str]:
    now = ranking.today
    if now is None:
        return
    names = f"{now.motor.key}, {now.propeller.key}, {now.pack.key}, {now.controller.key}"
    if now.refusals:
        many = "1 reason" if len(now.refusals) == 1 else f"{len(now.refusals)} reasons"
        yield click.style(f"✗ The drive in the design is refused, for {many}: {names}", fg="red", bold=True)
        for reason in now.refusals:
            yield from textwrap.wrap(reason, _WIDTH - 6, initial_indent="    ✗ ", subsequent_indent="      ")
        if ranking.fitting:
            yield "    --apply 1 writes the best of the table below into the design file."
    else:
        ahead = ranking.ahead_of_today
        stands = "and nothing in stock ranks above it" if ahead == 0 else f"and {ahead} rank above it"
        yield f"✓ The drive in the design will do, {stands}: {names}"
    yield from _head(e)
    yield _row(e, 0, now)


def _head(e: Evaluation) -> tuple[str, str]:
    imperial = e.design.model.imperial
    length, mass = ("in", "oz") if imperial else ("mm", "g")
    place = f"at, {length}"
    return (
        _line(
            "",
            "motor",
            "propeller",
            "battery",
            "control",
            "all up",
            "battery",
            "thrust over",
            "minutes",
            "climb",
            "pitch/",
        )
        + "amps, share",
        _line("", "", "", "", "", mass, place, "weight", "mixed", "m/s", "stall") + "of the limit",
    )


def _line(*cells: str) -> str:
    """One row of the table, its last column left open."""
    widths = (">4", "<10", "<23", "<8", "<7", ">7", ">8", ">12", ">8", ">6", ">6")
    return " ".join(f"{cell:{width}}" for cell, width in zip(cells, widths, strict=True)) + "  "


def _row(e: Evaluation, number: int, c: Combination) -> str:
    imperial = e.design.model.imperial
    mass = f"{c.mass_kg / OUNCE_KG:.2f}" if imperial else f"{1e3 * c.mass_kg:.0f}"
    place = f"{c.battery_x_m / INCH_M:.2f}" if imperial else f"{1e3 * c.battery_x_m:.0f}"
    thrust = f"{c.thrust_to_weight:.2f} ± {_thrust_deviation(e, c):.2f}"
    minutes = f"{c.mixed_min:.0f}" if math.isfinite(c.mixed_min) else "none"
    name, share = c.tightest
    return (
        _line(
            f"{number}." if number else "",
            c.motor.key,
            c.propeller.key,
            c.pack.key,
            c.controller.key,
            mass,
            place,
            thrust,
            minutes,
            f"{c.climb_ms:.1f}",
            f"{c.pitch_speed_ms / c.stall_ms:.1f}",
        )
        + f"{c.static_current_a:.1f} A, {100 * share:.0f} % ({name})"
    )


def _thrust_deviation(e: Evaluation, c: Combination) -> float:
    """Standard deviation of thrust over weight: of the thrust, and of what the model weighs. [-]."""
    return c.thrust_to_weight * math.hypot(c.thrust_spread, float(e.weights.spread[0]) / c.mass_kg)


def _explained(e: Evaluation, ranking: Ranking) -> Iterator[str]:
    r = ranking.requirements
    imperial = e.design.model.imperial
    largest = (
        f"{r.largest_propeller_m / INCH_M:.1f} in" if imperial else f"{1e3 * r.largest_propeller_m:.0f} mm"
    )
    clears = (
        "Nothing stands in the propeller's way."
        if r.clears == NOTHING_NEAR
        else f"A propeller of {largest} clears {r.clears}."
    )
    nose = (
        f" Thrust stands less what the nose costs, {100.0 * e.drive.net.fraction:.0f} % with today's propeller."
        if e.drive is not None and e.drive.nose is not None
        else ""
    )
    words = (
        f"Each is weighed in the model with its own parts, the battery slid to the wanted balance point. {clears}{nose} "
        f"Minutes are of {100 * r.full_share:.0f} % full throttle, the rest cruise, with {100 * r.reserve:.0f} % of "
        "the charge kept back; climb is at 1.2 times the stall. ± is one standard deviation: propellers of one size "
        "differ, and stock figures are typical. Measure your own: sheetlark measure --template."
    )
    yield from textwrap.wrap(words, _WIDTH)


def match_document(e: Evaluation, ranking: Ranking, *, most: int, seconds: float) -> Plain:
    """The ranking as plain values: what `match --json` prints."""
    r = ranking.requirements
    made: Plain = {
        "model": {"name": e.design.model.name},
        "aim": {
            "name": ranking.aim.name,
            "least_thrust_to_weight": ranking.aim.least_thrust_to_weight,
            "wanted_thrust_to_weight": ranking.aim.wanted_thrust_to_weight,
            "least_pitch_over_stall": ranking.aim.least_pitch_over_stall,
        },
        "to_try": ranking.to_try,
        "tried": ranking.tried,
        "will_do": ranking.will_do,
        "seconds": round(seconds, 3),
        "largest_propeller_mm": 1e3 * r.largest_propeller_m,
        "clears": r.clears,
        "wanted_balance_mm": 1e3 * r.balance_x_m,
        "bare_mass_g": 1e3 * r.bare_mass_kg,
        "fitting": [_plain(e, c) for c in ranking.fitting[:most]],
        "nearest_misses": [_plain(e, c) for c in ranking.refused[:most]],
        "refused": [{"reason": c.reason, "count": c.count} for c in ranking.counts],
    }
    if ranking.today is not None:
        made["today"] = {**_plain(e, ranking.today), "ahead": ranking.ahead_of_today}
    return made


def _plain(e: Evaluation, c: Combination) -> Plain:
    def number(value: float) -> float | None:
        return value if math.isfinite(value) else None

    name, share = c.tightest
    return {
        "motor": c.motor.key,
        "propeller": c.propeller.key,
        "pack": c.pack.key,
        "controller": c.controller.key,
        "mass_g": 1e3 * c.mass_kg,
        "battery_mm": 1e3 * c.battery_x_m,
        "balance_mm": 1e3 * c.balance_x_m,
        "static_thrust_n": c.static_thrust_n,
        "thrust_spread_percent": number(100.0 * c.thrust_spread),
        "thrust_to_weight": c.thrust_to_weight,
        "thrust_to_weight_deviation": number(_thrust_deviation(e, c)),
        "static_current_a": c.static_current_a,
        "current_spread_percent": number(100.0 * c.current_spread),
        "current_limit": {"of": name, "share": share},
        "static_rpm": c.static_rpm,
        "static_power_w": c.static_power_w,
        "pitch_speed_ms": c.pitch_speed_ms,
        "stall_ms": c.stall_ms,
        "cruise_ms": c.cruise_ms,
        "climb_ms": number(c.climb_ms),
        "full_throttle_min": number(c.full_throttle_min),
        "cruise_min": number(c.cruise_min),
        "mixed_min": number(c.mixed_min),
        "score": number(c.score),
        "refusals": list(c.refusals),
    }


def drive_changes(e: Evaluation, ranking: Ranking, number: int) -> dict[Where, object]:
    """What the combination of a number in the table, from 1, writes into the design file.

    The battery's travel shrinks where its room leaves less.

    Raises
    ------
    DesignError
        If there is no combination of that number.
    """
    if not 1 <= number <= len(ranking.fitting):
        have = f"1 to {len(ranking.fitting)}" if ranking.fitting else "none: no combination will do"
        raise DesignError(f"there is no combination {number} to apply; there are {have}")
    drive, r = e.design.drive, ranking.requirements
    assert drive is not None
    c = ranking.fitting[number - 1]
    changes: dict[Where, object] = {
        ("drive", "motor"): c.motor.key,
        ("drive", "propeller"): c.propeller.key,
        ("drive", "pack"): c.pack.key,
        ("drive", "controller"): c.controller.key,
        ("drive", "pack_at", 0): round(1e3 * c.battery_x_m, 1),
    }
    front, back = r.battery_ends_x_m
    half = 0.5 * c.pack.length_m
    left = max(0.0, min(c.battery_x_m - half - front, back - half - c.battery_x_m))
    if left < drive.pack_travel:
        changes["drive", "pack_travel"] = math.floor(1e4 * left) / 10.0
    return changes


def drive_applied(e: Evaluation, ranking: Ranking, number: int) -> tuple[str, Evaluation]:
    """The design file's text with a combination written into it, comments kept, and the model evaluated anew.

    Raises
    ------
    DesignError
        If there is no such combination, or the design it makes cannot be evaluated.
    """
    source = e.design.source
    text = edited(source.text, drive_changes(e, ranking, number))
    return text, evaluate(loads(text, source.name), e.stock)


def applied_says(before: Evaluation, after: Evaluation) -> str:
    """One line: what the change of drive moved."""
    said = []
    for e in (before, after):
        assert e.drive is not None
        said.append(
            f"{1e3 * e.weights.all_up_kg:.0f} g, margin {100 * e.air.static_margin:.0f} %, "
            f"thrust {e.drive.thrust_to_weight:.2f} of weight, {e.drive.static.point.current_a:.1f} A"
        )
    return f"before: {said[0]}\nafter:  {said[1]}"
