"""The review as a person reads it in a terminal: figures with units and sources, then the findings."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator

import click

from sheetlark.beside import Helpers
from sheetlark.evaluation import FULL_SHARE, Evaluation, mixed_duration
from sheetlark.review.finding import Finding
from sheetlark.review.further_rows import control_rows, flight_rows, strength_rows
from sheetlark.review.proving import proof_lines, proved
from sheetlark.review.remedies import Progress, begun, remedied
from sheetlark.review.reviewing import findings
from sheetlark.units import (
    show_angle,
    show_area,
    show_force,
    show_inertias,
    show_length,
    show_loading,
    show_mass,
    show_speed,
)

_WIDTH = 96
_MARK = {"fault": "✗", "caution": "!", "note": "·"}
_INK = {"fault": "red", "caution": "yellow", "note": None}

Row = tuple[str, str, str]  # what, figure, source


def printed(
    e: Evaluation, *, table: bool = False, progress: Progress | None = None, helpers: Helpers | None = None
) -> str:
    """The review as text; with `table`, the whole weight table too. `progress`, `helpers`: as `remedied` takes them."""
    found = findings(e)
    begun(e, found, helpers)
    imperial = e.design.model.imperial
    out = [
        f"{e.design.model.name}, a {e.airframe.layout} of {show_length(e.airframe.reference.span_m, imperial)} span",
        "",
    ]
    for title, rows in (
        ("Weight and balance", list(_weight(e, imperial))),
        ("Air", list(_air(e, imperial))),
        ("Drive", list(_drive(e, imperial))),
        ("Flight", list(flight_rows(e, imperial))),
        ("Controls", list(control_rows(e, imperial))),
        ("Strength", list(strength_rows(e, imperial))),
    ):
        if rows:
            out.append(title)
            out.extend(f"  {what:<34} {figure:<30} {source}" for what, figure, source in rows)
            out.append("")
    if table:
        out.extend([*_table(e, imperial), ""])
    out.append("Parts")
    for line in proof_lines(proved(e), imperial):
        out.extend(textwrap.wrap(line, _WIDTH - 2, initial_indent="  ", subsequent_indent="    "))
    out.append("")
    out.append("Findings")
    found = remedied(e, found, progress=progress, helpers=helpers)
    if not found:
        out.append("  Nothing to warn of.")
    for finding in found:
        out.extend(_spoken(finding))
    out.extend(
        ["", "Computed figures rest on the stock's typical ones until you weigh and measure your own."]
    )
    return "\n".join(out)


def _weight(e: Evaluation, imperial: bool) -> Iterator[Row]:
    w = e.weights
    yield (
        "ready to fly",
        f"{show_mass(w.all_up_kg, imperial)} ± {show_mass(float(w.spread[0]), imperial)}",
        f"computed, {len(w.lines)} lines",
    )
    x, y, z = (float(v) for v in w.balance_m)
    yield (
        "balances behind the nose datum",
        f"{show_length(x, imperial)} ± {show_length(float(w.spread[1]), imperial)}",
        "computed",
    )
    yield "balances above the thrust line", show_length(z, imperial), "computed"
    if abs(y) > 5e-4:
        yield "balances to starboard", show_length(y, imperial), "computed"
    i = w.inertia_kg_m2
    yield (
        "inertia in roll, pitch, yaw",
        show_inertias(tuple(float(i[k, k]) for k in range(3)), imperial),
        "computed",
    )


def _air(e: Evaluation, imperial: bool) -> Iterator[Row]:
    r, w = e.airframe.reference, e.weights
    yield "wing area", show_area(r.area_m2, imperial), "computed"
    yield (
        "mean chord",
        f"{show_length(r.chord_m, imperial)}, from {show_length(r.leading_edge_m[0], imperial)}",
        "computed",
    )
    yield "wing loading", show_loading(w.all_up_kg / r.area_m2, imperial), "computed"
    yield "lift slope", f"{e.air.lift_slope_per_rad:.2f} per radian", "computed, thin surfaces"
    yield "angle of no lift", show_angle(e.air.zero_lift_rad), "computed"
    yield "neutral point", show_length(e.air.neutral_point_m, imperial), "computed, power off"
    yield (
        "balance on the mean chord",
        f"{e.air.percent_mean_chord:.0f} %, margin {100 * e.air.static_margin:.0f} %",
        "computed",
    )


def _drive(e: Evaluation, imperial: bool) -> Iterator[Row]:
    if e.drive is None:
        return
    s, line = e.drive.static.point, e.drive.line
    yield (
        "static thrust",
        f"{show_force(s.thrust_n, imperial)}, {e.drive.thrust_to_weight:.2f} of weight",
        "computed, full battery",
    )
    yield (
        "static current and power",
        f"{s.current_a:.1f} A, {s.battery_power_w:.0f} W",
        "computed, typical stock",
    )
    yield "static speed", f"{s.rpm:.0f} rpm", "computed"
    if e.drive.nose is not None:
        yield (
            "the nose behind the disc takes",
            f"{100 * e.drive.net.fraction:.0f} % of static thrust",
            "computed, extra drag in the slipstream",
        )
    yield (
        "pitch speed",
        f"{show_speed(e.drive.static.pitch_speed_ms, imperial)}, {e.drive.static.pitch_speed_ms / e.flight.stall_ms:.1f} of stall",
        "computed; 2 to 3 is usual",
    )
    if e.thrust is not None:
        best = e.thrust.best
        yield (
            "best down and right thrust",
            f"{show_angle(best.down_rad)} and {show_angle(best.right_rad)}",
            f"estimate; stated {show_angle(e.thrust.stated_down_rad)} and {show_angle(e.thrust.stated_right_rad)}",
        )
    warm = e.drive.static.winding_k - 273.15
    yield (
        "windings, full throttle held",
        f"about {warm:.0f} °C" if math.isfinite(warm) else "they burn",
        "estimate, ±30 %",
    )
    full = e.drive.full_throttle
    ends = (
        f"{full.least_cell_v:.2f} V a cell at the end"
        if full.ends == "reserve"
        else "ended by the cells' cut-off"
    )
    yield (
        "full throttle lasts",
        f"{full.time_s / 60:.1f} min, {ends}",
        f"computed, 80 % of {1e3 * line.pack.capacity_ah:.0f} mAh",
    )
    if e.flight.cruise_s is not None:
        yield "cruise lasts", f"{e.flight.cruise_s / 60:.1f} min", "computed"
    mixed = mixed_duration(e)
    if mixed is not None:
        yield (
            "a mixed flight lasts",
            f"{mixed.time_s / 60:.1f} min",
            f"computed, {100 * FULL_SHARE:.0f} % full throttle, the rest cruise",
        )


def _table(e: Evaluation, imperial: bool) -> Iterator[str]:
    yield "Weight table"
    yield f"  {'what':<40} {'mass':>10}  {'x':>9} {'z':>9}  source"
    group = ""
    for line in sorted(e.weights.lines, key=lambda each: each.group):
        if line.group != group:
            group = line.group
            yield f"  {group}"
        x, _, z = (float(v) for v in line.element.at_m)
        yield (
            f"    {line.name:<38} {show_mass(line.mass_kg, imperial):>10}  "
            f"{show_length(x, imperial):>9} {show_length(z, imperial):>9}  {line.source}"
        )


def _spoken(finding: Finding) -> Iterator[str]:
    mark = click.style(_MARK[finding.severity], fg=_INK[finding.severity], bold=True)
    says = textwrap.wrap(finding.says, _WIDTH - 4)
    yield f"  {mark} {says[0]}"
    yield from (f"    {rest}" for rest in says[1:])
    because = (
        f"{finding.because} {finding.likelihood.capitalize()}." if finding.likelihood else finding.because
    )
    yield from (f"    {row}" for row in textwrap.wrap(because, _WIDTH - 4))
    for remedy in finding.remedies:
        words = f"{remedy.says} {remedy.moves}".strip()
        yield from textwrap.wrap(words, _WIDTH - 6, initial_indent="    → ", subsequent_indent="      ")
