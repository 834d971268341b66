"""The stable document that `review --json` prints, and outside programs may rely on."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sheetlark.evaluation import Evaluation
from sheetlark.review.findings import Finding, findings


def document(e: Evaluation) -> dict[str, Any]:
    """Every figure and finding as plain values; a key whose stage did not run is absent."""
    made: dict[str, Any] = {
        "model": {"name": e.design.model.name, "layout": e.airframe.layout},
        "weights": _weights(e),
        "air": _air(e),
        "balance": {
            "percent_mean_chord": e.air.percent_mean_chord,
            "static_margin_percent": 100.0 * e.air.static_margin,
        },
    }
    if e.drive is not None:
        made["drive"] = _drive(e)
    made["flight"] = {
        "wing_loading_g_dm2": 10.0 * e.weights.all_up_kg / e.airframe.reference.area_m2,
        "cubic_loading": e.weights.all_up_kg / e.airframe.reference.area_m2**1.5,
    }
    made["findings"] = [_finding(f) for f in findings(e)]
    plain: dict[str, Any] = _plain(made)
    return plain


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
        "neutral_point_mm": 1e3 * e.air.neutral_point_m,
    }


def _drive(e: Evaluation) -> dict[str, Any]:
    assert e.drive is not None
    s = e.drive.static
    return {
        "static_thrust_n": s.thrust_n,
        "static_current_a": s.current_a,
        "static_rpm": s.rpm,
        "static_power_w": s.battery_power_w,
        "thrust_to_weight": e.drive.thrust_to_weight,
        "full_throttle_min": e.drive.full_throttle_min,
    }


def _finding(f: Finding) -> dict[str, Any]:
    return {
        "id": f.id,
        "severity": f.severity,
        "says": f.says,
        "because": f.because,
        "value": f.value,
        "limit": f.limit,
        "unit": f.unit,
        "remedies": [
            {
                "says": r.says,
                "moves": r.moves,
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
