"""What each room on the page shows, drawn from one evaluation."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np

from sheetlark.airframe import airframe
from sheetlark.bench.figures import Doc, evaluated, figures
from sheetlark.bench.scene import scene
from sheetlark.design import loads
from sheetlark.errors import DesignError
from sheetlark.evaluation import SOFT, Evaluation
from sheetlark.outline import Floats
from sheetlark.stock import Stock
from sheetlark.strength.loads import FACTOR_OF_SAFETY

Plain = dict[str, Any]

# In the order of the work.
ROOMS = [
    {"id": "picture", "title": "Picture", "says": "Trace a three-view picture into a design."},
    {"id": "shape", "title": "Shape", "says": "Draw it, place everything, see what it becomes."},
    {"id": "weights", "title": "Weights", "says": "What everything weighs, and where it balances."},
    {"id": "drive", "title": "Drive", "says": "Motor, propeller and battery, and what would suit better."},
    {"id": "air", "title": "Air", "says": "Lift, drag, and where the load lies along the span."},
    {
        "id": "strength",
        "title": "Strength",
        "says": "What the wings bear, how far they bend, what gives first.",
    },
    {"id": "flight", "title": "Flight", "says": "How it moves, and a first flight to watch."},
    {"id": "parts", "title": "Parts", "says": "Every part that is cut."},
    {"id": "plans", "title": "Plans", "says": "The sheets as they print."},
    {"id": "build", "title": "Build", "says": "Step by step, with pictures; what to buy, what to set."},
    {"id": "log", "title": "Log", "says": "What it weighed and how it flew, and what that teaches."},
    {"id": "compare", "title": "Compare", "says": "Two designs, or two versions, side by side."},
]


def room_data(room: str, e: Evaluation, doc: Doc, file: Path, *, imperial: bool) -> Plain:
    """Everything a room shows; what is written in words, in inches and ounces where `imperial`.

    Raises
    ------
    DesignError
        If there is no such room.
    """
    if room == "log":
        from sheetlark.bench.logged import logbook_room

        return logbook_room(e, file, imperial=imperial)
    makers = {
        "weights": _weights,
        "drive": _drive,
        "air": _air,
        "strength": _strength,
        "flight": _flight,
        "parts": _parts,
    }
    if room not in makers:
        raise DesignError(f"there is no room {room!r}")
    return makers[room](e, doc)


def _weights(_e: Evaluation, doc: Doc) -> Plain:
    return {"weights": doc["weights"], "balance": doc.get("balance", {})}


def _ring(points: Floats) -> list[list[float]]:
    made: list[list[float]] = points.round(2).tolist()
    return made


def _parts(e: Evaluation, _doc: Doc) -> Plain:
    return {
        "parts": [
            {
                "number": p.number,
                "name": p.name,
                "group": p.group,
                "sheet": e.stock.sheet(p.sheet).name,
                "paper": p.paper,
                "count": p.count,
                "area": p.area_mm2,
                "size": list(p.size_mm),
                "thickness": p.thickness_mm,
                "outline": _ring(p.outline),
                "holes": [_ring(h) for h in p.holes],
                "marks": [
                    {"kind": m.kind, "points": [list(q) for q in m.points], "note": m.note} for m in p.marks
                ],
            }
            for p in e.kit.parts
        ],
        "rods": [
            {"name": r.name, "length": r.length_mm, "stock": e.stock.rod(r.key).name} for r in e.kit.rods
        ],
        "notes": list(e.kit.notes),
    }


def _drive(e: Evaluation, doc: Doc) -> Plain:
    if e.drive is None or e.design.drive is None:
        return {"none": True}
    table, line, performance = e.drive.table, e.drive.line, e.flight.performance
    drag = None
    if performance is not None:
        area, density = e.airframe.reference.area_m2, e.flight.vehicle.density_kg_m3
        weight = e.flight.vehicle.weight_n
        speeds = [v for v in np.linspace(e.flight.stall_ms, 1.25 * performance.top_ms, 60).tolist() if v > 0]
        q = 0.5 * density * np.array(speeds) ** 2 * area
        lift = weight / q
        needed = q * np.asarray(e.flight.polar.drag_at(lift))
        drag = {"x": _plain(np.array(speeds)), "y": _plain(needed)}
    return {
        "drive": doc.get("drive", {}),
        "motor": line.motor.name,
        "propeller": e.stock.propeller(e.design.drive.propeller).name,
        "pack": line.pack.name,
        "controller": line.controller.name,
        "limits": {
            "motor": line.motor.max_current_a,
            "speed controller": line.controller.max_current_a,
            "battery": line.pack.continuous_c * line.pack.capacity_ah,
        },
        "currents": {
            "motor": e.drive.static.point.motor_current_a,
            "speed controller": e.drive.static.point.motor_current_a,
            "battery": e.drive.static.point.current_a,
        },
        "speeds": _plain(table.speeds_ms),
        "throttles": _plain(table.throttles),
        "net": [_plain(row) for row in table.net_n],
        "current": [_plain(row) for row in table.current_a],
        "drag": drag,
        "cruise": e.flight.cruise_ms,
        "stall": e.flight.stall_ms,
        "top": None if performance is None else performance.top_ms,
    }


def _plain(values: Floats) -> list[float | None]:
    return [round(v, 5) if math.isfinite(v) else None for v in values.tolist()]


def _air(e: Evaluation, doc: Doc) -> Plain:
    r = e.air.results
    curve = r.whole_curve
    keep = curve.alpha_rad <= math.radians(26.0)
    polar = e.flight.polar
    return {
        "air": doc.get("air", {}),
        "alpha": _plain(np.degrees(curve.alpha_rad[keep])),
        "lift": _plain(curve.lift[keep]),
        "drag": _plain(curve.drag[keep]),
        "pitch": _plain(curve.pitch[keep]),
        "stall": {"alpha": math.degrees(curve.stall_rad), "lift": curve.lift_max},
        "lift_spread": curve.lift_spread,
        "drag_spread": r.polar.drag_spread,
        "trimmed": {"lift": _plain(polar.lift), "drag": _plain(polar.drag)},
        "speed": r.condition.speed_ms,
        "loading": [
            {
                "surface": s.surface,
                "eta": _plain(s.eta),
                "load": _plain(s.load_n_m),
                "lift": _plain(s.lift_coefficient),
            }
            for s in r.loading
        ],
        "shares": [{"surface": s.surface, "lift_n": s.lift_n, "share": s.share} for s in r.shares],
        "build_up": [
            {"name": d.name, "area_cm2": 1e4 * d.area_m2, "spread": d.spread, "source": d.source}
            for d in r.drag
        ],
        "warnings": [*r.warnings],
        "thin": list(r.thin_data),
    }


def _strength(e: Evaluation, _doc: Doc) -> Plain:
    s = e.strength
    return {
        "factor": s.limit.factor,
        "because": s.limit.because,
        "top": s.top_ms,
        "wings": [
            {
                "name": w.name,
                "lift": w.lift_n,
                "moment": w.root_moment_nm,
                "tip": 1e3 * w.tip_deflection_m,
                "soft": w.soft,
                "margin": _finite(w.margin),
                "weakest": w.weakest,
                "weakest_y": 1e3 * w.weakest_y_m,
                "braced": w.braced,
                "y": _plain(1e3 * w.along.y_m),
                "moments": _plain(w.along.moment_nm),
                "rises": _plain(1e3 * w.along.deflection_m),
                "margins": _plain(w.along.margin),
                "stresses": [
                    {
                        "name": x.name,
                        "stress": 1e-6 * x.stress_pa,
                        "allowed": 1e-6 * x.allowed_pa,
                        "margin": _finite(x.margin / FACTOR_OF_SAFETY),
                    }
                    for x in w.stresses
                ],
                "couple": None if w.joint is None else w.joint.couple_n,
                "bands": None if w.bands is None else [w.bands.count, w.bands.lift_off_n, w.bands.pull_n],
                "reserve": _finite(w.twist.reserve),
            }
            for w in s.wings
        ],
        "struts": [
            {"name": x.name, "pull": x.pull_n, "buckles": x.buckles_n, "margin": _finite(x.margin)}
            for x in s.struts
        ],
        "safety": FACTOR_OF_SAFETY,
        "soft": SOFT,
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _flight(e: Evaluation, doc: Doc) -> Plain:
    f = e.flight
    made: Plain = {"flight": doc.get("flight", {}), "says": list(f.says), "wind": e.design.flying.wind}
    if f.performance is not None:
        table = f.performance.climb
        made["climb"] = {
            "speeds": _plain(table.airspeed_ms),
            "full": _plain(table.climb_ms[-1]),
            "half": _plain(table.climb_ms[len(table.throttle) // 2]),
            "off": _plain(table.climb_ms[0]),
            "half_throttle": float(table.throttle[len(table.throttle) // 2]),
        }
    return made


def compared(e: Evaluation, doc: Doc, text: str, title: str, stock: Stock) -> Plain:
    """Two designs side by side: figures of both, and the outlines of both.

    Raises
    ------
    SheetlarkError
        If the other is not a design that can be.
    """
    other = loads(text, name=title)
    _, other_doc = evaluated(other)
    mine = {f.id: f for f in figures(doc)}
    theirs = {f.id: f for f in figures(other_doc)}
    rows = [
        {
            "label": f.label,
            "kind": f.kind,
            "mine": mine[f.id].value if f.id in mine else None,
            "theirs": theirs[f.id].value if f.id in theirs else None,
        }
        for f in {**theirs, **mine}.values()
    ]
    return {
        "title": title,
        "rows": rows,
        "mine": scene(e.design, e.airframe, stock),
        "theirs": scene(other, airframe(other, stock), stock),
        "values": other.model_dump(mode="json"),
        "here": doc.get("findings", []),
        "findings": other_doc.get("findings", []),
    }
