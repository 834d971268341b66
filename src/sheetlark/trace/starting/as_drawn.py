"""A starting design's controls, wheels and struts put where the picture shows them; what was not read stays as it is."""

from __future__ import annotations

import re
import tomllib
from typing import Any

import numpy as np

from sheetlark.trace.model import Outline, Tracing
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.starting.alighting import gear_place, strut_place
from sheetlark.trace.starting.body_parts import PLATE_HALF_MM, PLATE_WIDE_MM
from sheetlark.trace.starting.controls import Control, elevator_control, rudder_control, wing_control
from sheetlark.trace.starting.design_parts import edges_at, half_of, points_of

Changes = dict[tuple[str | int, ...], object]
FOREPLANE_DEG = (
    2.5  # a foreplane's incidence over the wing's, so that it stalls first; common practice, no source
)
CLEAR = 0.02  # share of the chord a strut keeps clear of the spars


def as_drawn(text: str, tracing: Tracing, ring: Floats) -> str:
    """The design file with everything that was read of controls, undercarriage and struts.

    Parameters
    ----------
    text : str
        A starting design whose controls and struts are proportions.
    ring : ndarray, shape (n, 2)
        The body's side outline. [mm]
    """
    from sheetlark.design import edited

    plan = tomllib.loads(text)
    wings = {o.name: o for o in tracing.wings}
    changes: Changes = {}
    changes |= _wing_controls(plan, tracing, wings)
    changes |= _tail(plan, tracing)
    changes |= _rudder(plan, tracing)
    changes |= _pushed(plan, tracing)
    changes |= _struts(plan, tracing, wings)
    gear = gear_place(tracing, ring)
    if gear is not None:
        changes |= {
            ("gear", "wheel"): gear.wheel,
            ("gear", "at"): [round(gear.at[0], 1), round(gear.at[1], 1)],
            ("gear", "track"): round(gear.track, 1),
            ("gear", "mount_z"): round(gear.mount_z, 1),
            ("gear", "skid"): gear.skid,
        }
    return edited(text, changes) if changes else text


def _set(where: tuple[str | int, ...], c: Control) -> Changes:
    return {
        (*where, "chord"): round(c.chord, 3),
        (*where, "start"): round(c.start, 3),
        (*where, "end"): round(c.end, 3),
    }


def _wing_controls(plan: dict[str, Any], tracing: Tracing, wings: dict[str, Outline]) -> Changes:
    """Ailerons or elevons where they are drawn; a wing drawn without them has none if another has."""
    found = {
        i: c
        for i, wing in enumerate(plan["wing"])
        if wing["name"] in wings
        and (c := wing_control(tracing, wings[wing["name"]], half_of(wings[wing["name"]]))) is not None
    }
    out: Changes = {}
    for i, wing in enumerate(plan["wing"]):
        where = ("wing", i, "aileron")
        if i in found:
            out |= _set(where, found[i])
            if "aileron" not in wing:
                out |= {(*where, "up"): 22, (*where, "down"): 14}
        elif found and "aileron" in wing:
            out[where] = None
    return out


def _tail(plan: dict[str, Any], tracing: Tracing) -> Changes:
    """The elevator as drawn, and a foreplane's incidence."""
    tail = tracing.outline("tail", "top")
    if tail is None or not tail.half_path or "tailplane" not in plan:
        return {}
    half = half_of(tail)
    out: Changes = {}
    if tail.name == "foreplane":
        out["tailplane", "incidence"] = FOREPLANE_DEG
        out |= {("wing", i, "incidence"): 0.0 for i in range(len(plan["wing"]))}
    body = tracing.outline("body", "top")
    wide = 0.0
    if body is not None:
        low, high = edges_at(points_of(body.path), float(half[:, 0].mean()))
        wide = 0.5 * (high - low)
    control = elevator_control(tracing, half, wide)
    return out | (_set(("tailplane", "elevator"), control) if control is not None else {})


def _rudder(plan: dict[str, Any], tracing: Tracing) -> Changes:
    fins = plan.get("fin", [])
    if len(fins) != 1 or "rudder" not in fins[0]:
        return {}
    control = rudder_control(tracing, float(fins[0]["at"][1]))
    return _set(("fin", 0, "rudder"), control) if control is not None else {}


def _pushed(plan: dict[str, Any], tracing: Tracing) -> Changes:
    """A canard's motor goes to the rear end of the body, which is made wide and deep enough for it."""
    tail = tracing.outline("tail", "top")
    if tail is None or tail.name != "foreplane" or "drive" not in plan or "body" not in plan:
        return {}
    points = [[float(v) for v in p.split()] for p in re.split(r"[MLZ]", plan["body"]["profile"]) if p.strip()]
    end = max(x for x, _ in points)
    last = [k for k, (x, _) in enumerate(points) if x > end - 0.5]
    z = [points[k][1] for k in last]
    middle = 0.5 * (max(z) + min(z))
    for k in last:
        out = 1.0 if points[k][1] > middle else -1.0
        points[k][1] = middle + out * max(abs(points[k][1] - middle), PLATE_HALF_MM)
    width = [[float(x), float(w)] for x, w in plan["body"]["width"]]
    width[-1][1] = max(width[-1][1], PLATE_WIDE_MM)
    last_former = len(plan["body"]["former"])
    return {
        ("body", "profile"): "M " + " L ".join(f"{a:.1f} {b:.1f}" for a, b in points) + " Z",
        ("body", "width"): width,
        ("body", "former", last_former, "at"): round(end - 6.0, 1),
        ("body", "former", last_former, "opening"): 0.3,
        ("drive", "pusher"): True,
        ("drive", "motor_at"): [round(end + 2.2, 1), 0.0, round(middle, 1)],
        ("drive", "down"): 0,
        ("drive", "right"): 0,
    }


def _struts(plan: dict[str, Any], tracing: Tracing, wings: dict[str, Outline]) -> Changes:
    """Interplane struts as far out as drawn, and as far aft as the spars allow."""
    out: Changes = {}
    upper = next((o for name, o in wings.items() if "upper" in name), None)
    if upper is None:
        return out
    half = half_of(upper)
    chord = float(half[-1, 0] - half[0, 0])
    reach = min(float(half_of(o)[:, 1].max()) for o in wings.values())
    for i, strut in enumerate(plan.get("strut", [])):
        if "body" in strut["joins"]:
            continue  # it stands inside the body's side, wherever it was drawn
        drawn = strut_place(tracing, "interplane strut", half)
        if drawn.y is not None:
            out["strut", i, "y"] = round(float(np.clip(drawn.y, 0.2 * reach, 0.93 * reach)), 1)
        if drawn.place is not None:
            wide = 0.5 * float(strut["chord"]) / chord
            spars = sorted(float(s["at"]) for w in plan["wing"] for s in w.get("spar", []))
            low = max((s for s in spars if s < 0.45), default=0.0) + CLEAR + wide
            high = min((s for s in spars if s > 0.45), default=1.0) - CLEAR - wide
            if low < high:
                out["strut", i, "place"] = round(float(np.clip(drawn.place, low, high)), 3)
    return out
