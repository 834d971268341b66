"""The stable document that `review --json` prints, and outside programs may rely on."""

from __future__ import annotations

import math
from dataclasses import fields
from typing import Any

import numpy as np

from sheetlark.beside import Helpers
from sheetlark.evaluation import FULL_SHARE, Evaluation, mixed_duration
from sheetlark.review.finding import Finding
from sheetlark.review.further_values import (
    controls_values,
    spread_values,
    strength_values,
    thrust_values,
    turn_values,
)
from sheetlark.review.proving import proved
from sheetlark.review.remedies import Progress, remedied
from sheetlark.review.reviewing import findings


def document(
    e: Evaluation,
    *,
    remedies: bool = True,
    proof: bool = True,
    progress: Progress | None = None,
    helpers: Helpers | None = None,
) -> dict[str, Any]:
    """Every figure and finding as plain values; a key whose stage did not run is absent.

    Looking for remedies solves the model many times over; without them the findings' lists of remedies stay empty.
    The proof of the parts takes longer than a warm evaluation; without it the key `parts.proof` is absent.
    `progress`, `helpers`: as `remedied` takes them.
    """
    found = findings(e)
    if remedies:
        found = remedied(e, found, progress=progress, helpers=helpers)
    made: dict[str, Any] = {
        "model": {"name": e.design.model.name, "layout": e.airframe.layout},
        "weights": _weights(e),
        "air": _air(e),
        "balance": _balance(e),
    }
    if e.drive is not None:
        made["drive"] = _drive(e)
    made["flight"] = _flight(e)
    made["strength"] = strength_values(e)
    made["controls"] = controls_values(e)
    made["spread"] = spread_values(e)
    made["parts"] = {"count": sum(part.count for part in e.kit.parts), "patterns": len(e.kit.parts)}
    if proof:
        made["parts"]["proof"] = proof_values(e)
    made["findings"] = [_finding(f) for f in found]
    plain: dict[str, Any] = _plain(made)
    return plain


def proof_values(e: Evaluation) -> dict[str, Any]:
    """The proof of the parts as plain values."""
    found = proved(e)
    return {
        "clean": found.clean,
        "tried": {
            "pairs": found.pairs,
            "slots": found.slots,
            "positions": found.positions,
            "items": found.items,
        },
        "least_gap_mm": dict(found.least_gap_mm),
        "clashes": [
            {
                "kind": c.kind,
                "first": c.first,
                "second": c.second,
                "at_mm": list(c.at_mm),
                "amount": c.amount,
                "says": c.says,
                "cure": c.cure,
                "change": None if c.change is None else {"where": list(c.change[0]), "value": c.change[1]},
            }
            for c in found.findings
        ],
    }


def _weights(e: Evaluation) -> dict[str, Any]:
    w = e.weights
    inertia = w.inertia_kg_m2
    return {
        "all_up_g": 1e3 * w.all_up_kg,
        "spread_g": 1e3 * w.spread[0],
        "balance_mm": dict(zip("xyz", 1e3 * w.balance_m, strict=True)),
        "balance_spread_mm": dict(zip("xyz", 1e3 * w.spread[1:4], strict=True)),
        "inertia_kg_m2": {
            "xx": inertia[0, 0],
            "yy": inertia[1, 1],
            "zz": inertia[2, 2],
            "xz": -inertia[0, 2],
        },
        "inertia_spread_kg_m2": dict(zip(("xx", "yy", "zz"), w.spread[4:7], strict=True)),
        "lines": [
            {
                "name": line.name,
                "group": line.group,
                "mass_g": 1e3 * line.mass_kg,
                "x_mm": 1e3 * line.element.at_m[0],
                "y_mm": 1e3 * line.element.at_m[1],
                "z_mm": 1e3 * line.element.at_m[2],
                "spread_g": 1e3 * line.mass_kg * line.spread,
                "source": line.source,
                "note": line.note,
            }
            for line in w.lines
        ],
    }


def _air(e: Evaluation) -> dict[str, Any]:
    r = e.airframe.reference
    return {
        "reference": {
            "area_dm2": 100.0 * r.area_m2,
            "mean_chord_mm": 1e3 * r.chord_m,
            "mean_chord_leading_edge_mm": {"x": 1e3 * r.leading_edge_m[0], "z": 1e3 * r.leading_edge_m[1]},
            "span_mm": 1e3 * r.span_m,
        },
        "lift_slope_per_rad": e.air.lift_slope_per_rad,
        "zero_lift_deg": math.degrees(e.air.zero_lift_rad),
        "cl_max": e.air.results.curve.lift_max,
        "cl_max_trimmed": e.flight.polar.greatest_lift,
        "cd_min": e.air.results.polar.drag_min,
        "best_lift_to_drag": e.air.results.polar.best_lift_to_drag,
        "neutral_point_mm": 1e3 * e.air.neutral_point_m,
        "neutral_point_spread_mm": 1e3 * e.air.results.neutral_point_spread_m,
        "stall": {
            "first": e.air.results.first_stall.surface,
            "share_of_span": e.air.results.first_stall.share_of_span,
            "alpha_deg": math.degrees(e.air.results.first_stall.alpha_rad),
        },
        "downwash": {d.surface: d.slope for d in e.air.results.downwash},
        "derivatives": {f.name: getattr(e.flight.derivatives, f.name) for f in fields(e.flight.derivatives)},
    }


def _balance(e: Evaluation) -> dict[str, Any]:
    here, b = float(e.weights.balance_m[0]), e.flight.balance
    made: dict[str, Any] = {
        "percent_mean_chord": e.air.percent_mean_chord,
        "static_margin_percent": 100.0 * e.air.static_margin,
        "forward_limit_mm": 1e3 * (here + b.forward_limit_m),
        "aft_limit_mm": 1e3 * (here + b.aft_limit_m),
        "wanted_margin_percent": 100.0 * e.flight.wanted_margin,
    }
    battery = e.flight.battery
    if battery is not None:
        made["battery"] = {
            "x_mm": 1e3 * battery.x_m,
            "inside_bay": battery.inside_bay,
            "ballast_g": 1e3 * battery.ballast_kg,
            "ballast_x_mm": 1e3 * battery.ballast_x_m,
        }
    return made


def _flight(e: Evaluation) -> dict[str, Any]:
    f, r = e.flight, e.airframe.reference
    made: dict[str, Any] = {
        "stall_ms": f.stall_ms,
        "cruise_ms": f.cruise_ms,
        "wing_loading_g_dm2": 10.0 * e.weights.all_up_kg / r.area_m2,
        "cubic_loading": e.weights.all_up_kg / r.area_m2**1.5,
        "modes": [
            {
                "name": m.name,
                "real": m.real,
                "imag": m.imag,
                "period_s": m.period_s,
                "time_to_half_s": m.time_to_half_s,
                "time_to_double_s": m.time_to_double_s,
                "damping_ratio": m.damping_ratio,
                "says": m.words,
            }
            for m in f.modes
        ],
    }
    if f.performance is not None:
        p = f.performance
        made |= {
            "top_ms": p.top_ms,
            "climb_ms": p.best_climb_ms,
            "climb_speed_ms": p.best_climb_speed_ms,
            "best_glide_ms": p.best_glide.airspeed_ms,
            "glide_ratio": p.best_glide.lift_to_drag,
            "least_sink_ms": p.least_sink.sink_ms,
            "turn_radius_m": p.turn_radius_m,
            "field_length_m": p.field_length_m,
            "field_width_m": p.field_width_m,
            "wind_limit_ms": p.wind_limit_ms,
            "cubic_band": p.cubic_band,
        }
    if f.cruise is not None:
        made["trim"] = {
            "alpha_deg": math.degrees(f.cruise.alpha_rad),
            "throttle": f.cruise.throttle,
            "deflections_deg": {
                s.name: math.degrees(d)
                for s, d in zip(f.mixer.surfaces, f.cruise.deflections_rad, strict=True)
            },
        }
    if f.entry is not None and f.turn is not None:
        made["turn"] = {
            "bank_deg": math.degrees(f.turn.bank_rad),
            "radius_m": f.turn.radius_m,
            "steady_sideslip_deg": math.degrees(f.turn.sideslip_rad),
            "aileron_deg": math.degrees(f.turn.aileron_rad),
            "rudder_deg": math.degrees(f.turn.rudder_rad),
            **turn_values(e),
        }
    return made


def _drive(e: Evaluation) -> dict[str, Any]:
    assert e.drive is not None
    s = e.drive.static.point
    made: dict[str, Any] = {
        "static_thrust_n": s.thrust_n,
        "static_current_a": s.current_a,
        "static_rpm": s.rpm,
        "static_power_w": s.battery_power_w,
        "thrust_to_weight": e.drive.thrust_to_weight,
        "full_throttle_min": e.drive.full_throttle_min,
        "nose_loss_percent": 100.0 * e.drive.net.fraction,
        "pitch_speed_ms": e.drive.static.pitch_speed_ms,
        "pitch_speed_over_stall": e.drive.static.pitch_speed_ms / e.flight.stall_ms,
        "full_throttle_ends": e.drive.full_throttle.ends,
        "least_cell_v": e.drive.full_throttle.least_cell_v,
        "winding_c": e.drive.static.winding_k - 273.15,
        "spread_percent": {
            "thrust": 100.0 * e.drive.static.thrust_spread,
            "current": 100.0 * e.drive.static.current_spread,
            "rpm": 100.0 * e.drive.static.rpm_spread,
        },
    }
    if e.thrust is not None:
        made["thrust_angles"] = thrust_values(e)
    if e.flight.cruise_s is not None:
        made["cruise_min"] = e.flight.cruise_s / 60.0
    mixed = mixed_duration(e)
    if mixed is not None:
        made["mixed_min"] = mixed.time_s / 60.0
        made["mixed_full_share"] = FULL_SHARE
    return made


def _finding(f: Finding) -> dict[str, Any]:
    return {
        "id": f.id,
        "severity": f.severity,
        "says": f.says,
        "because": f.because,
        "value": f.value,
        "limit": f.limit,
        "unit": f.unit,
        "probability": f.probability,
        "likelihood": f.likelihood,
        "remedies": [
            {
                "says": r.says,
                "moves": r.moves,
                "brings": list(r.brings),
                "changes": [{"where": list(c.where), "value": c.value} for c in r.changes],
            }
            for r in f.remedies
        ],
    }


def _plain(value: Any) -> Any:
    """Plain JSON values: numpy scalars become numbers, what is not finite becomes null."""
    if isinstance(value, dict):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value
