"""Flight, controls and strength as rows of the printed review."""

from __future__ import annotations

import math
from collections.abc import Iterator

from sheetlark.evaluation import Evaluation
from sheetlark.flight import SIDESLIP_TOLD_RAD, Spread, roll_rate_said, sideslip_said
from sheetlark.units import (
    show_cubic,
    show_distance,
    show_force,
    show_length,
    show_mass,
    show_moment,
    show_speed,
)

Row = tuple[str, str, str]  # what, figure, source


def _give_or_take(figure: str, spread: Spread | None, scale: float, places: int, unit: str) -> str:
    return figure if spread is None else f"{figure} ± {scale * spread.deviation:.{places}f} {unit}"


def _speed(value: float, imperial: bool, spread: Spread | None = None) -> str:
    scale, unit = (1.0 / 0.44704, "mph") if imperial else (1.0, "m/s")
    return _give_or_take(show_speed(value, imperial), spread, scale, 1, unit)


def flight_rows(e: Evaluation, imperial: bool) -> Iterator[Row]:
    """Speeds, climb, glide, field, modes, and where it must balance."""
    f, s = e.flight, e.spread
    yield "stall", _speed(f.stall_ms, imperial, s.stall_ms), "computed, trimmed"
    p = f.performance
    if p is not None:
        yield (
            "cruise",
            f"{_speed(f.cruise_ms, imperial)}, {100 * p.cruise_throttle:.0f} % throttle",
            "computed",
        )
        yield "top", _speed(p.top_ms, imperial, s.top_ms), "computed"
        yield (
            "climb",
            f"{_speed(p.best_climb_ms, imperial, s.climb_ms)}, at {show_speed(p.best_climb_speed_ms, imperial)}",
            "computed",
        )
        yield (
            "glide",
            (
                f"1 in {p.best_glide.lift_to_drag:.1f} at {show_speed(p.best_glide.airspeed_ms, imperial)}, sinks "
                f"{show_speed(p.least_sink.sink_ms, imperial)} at least"
            ),
            "computed, motor stopped",
        )
    if p is not None:
        yield (
            "turn at 30° of bank",
            f"radius {show_distance(p.turn_radius_m, imperial)}",
            "computed, at cruise",
        )
        yield (
            "field",
            f"{show_distance(p.field_length_m, imperial)} by {show_distance(p.field_width_m, imperial)}",
            "common practice from computed figures",
        )
        yield "most wind", show_speed(p.wind_limit_ms, imperial), "common practice"
        yield (
            "cubic loading",
            f"{show_cubic(p.cubic_loading_kg_m3, imperial)}, {p.cubic_band}",
            "common practice",
        )
    yield from _balance(e, imperial)
    for mode in f.modes:
        yield mode.name, mode.words, "computed, at cruise"


def _balance(e: Evaluation, imperial: bool) -> Iterator[Row]:
    here, b = float(e.weights.balance_m[0]), e.flight.balance
    front, back = here + b.forward_limit_m, here + b.aft_limit_m
    yield (
        "balance it between",
        f"{show_length(front, imperial)} and {show_length(back, imperial)}"
        if b.possible
        else "no place serves",
        (
            f"elevator enough; margin {100 * e.flight.wanted_margin:.0f} % of chord "
            f"(now {100 * e.air.static_margin:.0f} ± {100 * e.spread.margin.deviation:.0f})"
        ),
    )
    battery = e.flight.battery
    if battery is not None:
        words = f"{show_length(battery.x_m, imperial)} behind the nose datum"
        if battery.ballast_kg > 5e-4:
            words += f", and {show_mass(battery.ballast_kg, imperial)} of ballast"
        yield "battery for the hindmost balance", words, "computed"


def control_rows(e: Evaluation, imperial: bool) -> Iterator[Row]:
    """Throws, what they give, linkage and servo."""
    for c in e.controls.servos:
        up, down = math.degrees(c.up_rad), math.degrees(c.down_rad)
        ways = ("left", "right") if c.moves == "rudder" else ("up", "down")
        yield (
            f"{c.moves} throws",
            (
                f"{ways[0]} {up:.0f}° ({show_length(c.up_m, imperial)}), "
                f"{ways[1]} {down:.0f}° ({show_length(c.down_m, imperial)})"
            ),
            f"stated; {math.degrees(c.wanted_rad):.0f}° {c.wanted_for}" if c.wanted_rad > 0 else "stated",
        )
        parts = []
        if c.torque_share is not None and c.travel_used is not None:
            parts.append(
                f"takes {100 * c.travel_used:.0f} % of its travel, {100 * c.torque_share:.0f} % of its torque"
            )
        if c.best is not None:
            parts.append(f"best holes: arm {1e3 * c.best.arm_m:.1f} mm, horn {1e3 * c.best.horn_m:.0f} mm")
        if parts:
            yield f"{c.moves} servo", "; ".join(parts), "computed, at top speed"
        if c.expo >= 0.05:
            yield f"{c.moves} exponential", f"{100 * c.expo:.0f} % to start with", "common practice"
    turn = e.controls
    if turn.roll_rate_rad_s > 0:
        yield (
            "roll rate, full stick",
            f"{roll_rate_said(turn.helix_rad, e.flight.vehicle.reference, e.flight.cruise_ms)}° a second at cruise",
            "computed",
        )
    if turn.coordinated is not None:
        slip = turn.coordinated.peak_sideslip_rad
        spread = e.spread.peak_sideslip_rad if slip <= SIDESLIP_TOLD_RAD else None
        words = _give_or_take(sideslip_said(slip), spread, math.degrees(1.0), 1, "degrees")
        if spread is None:
            words += " degrees"
        if turn.rudder_mix:
            words += f", with {100 * turn.rudder_mix:.0f} % of rudder mixed in"
        yield "sideslip rolling into 30° of bank", words, "computed"


def strength_rows(e: Evaluation, imperial: bool) -> Iterator[Row]:
    """Limit load and how each wing bears it."""
    s = e.strength
    yield "judged at", f"{s.limit.factor:.1f} g", s.limit.because
    for w in s.wings:
        yield (
            w.name,
            f"bears {1.5 * w.margin:.1f} times that, tips rise {show_length(w.tip_deflection_m, imperial)}",
            f"computed; the {w.weakest} is the weakest",
        )
        if w.joint is not None:
            yield (
                f"{w.name}, joint",
                f"{show_moment(w.joint.moment_nm, imperial)}, {show_force(w.joint.couple_n, imperial)} at each end of the spar",
                "computed, at limit load",
            )
        if w.bands is not None:
            yield f"{w.name}, bands", f"{w.bands.count} of 90 x 6 mm", "computed, with a pair to spare"
        lightest = next(iter(e.serving_spars(w.name)), None)
        if lightest is not None:
            yield (
                f"{w.name}, lightest spar",
                f"{lightest.rod.name}, {show_mass(lightest.mass_kg, imperial)}",
                "computed, of the stock's rods",
            )
    for t in s.struts:
        carries = "pulled" if t.pull_n >= 0 else "pushed"
        yield (
            t.name,
            f"{carries} with {show_force(abs(t.pull_n), imperial)}; bows out at {show_force(t.buckles_n, imperial)}",
            "computed",
        )
    yield "body at the wing, landing on the nose", "double and tape both", "not computed: no published method"
