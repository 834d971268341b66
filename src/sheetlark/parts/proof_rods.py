"""Push-rods at work: straight from arm to horn, clear of every part through the whole throw."""

from __future__ import annotations

import math

import numpy as np

from sheetlark.airframe import Airframe
from sheetlark.outline import Floats
from sheetlark.parts.bays import bays
from sheetlark.parts.clash import Body, Clash, meeting, place, point3, shared
from sheetlark.parts.part import Kit, PushRod
from sheetlark.parts.push_rods import positions, rod_cylinder
from sheetlark.parts.solids import rod_solid, sweep
from sheetlark.stock import Stock

ROD_MM = 2.0  # the thickest push-rod in stock
FREE_MM = 0.25  # kept free all round it; common practice, no source
_POSITIONS = 9


def push_rods(kit: Kit, airframe: Airframe, stock: Stock, solids: list[Body], findings: list[Clash]) -> int:
    """Every push-rod through the travel of what it moves; how many positions were tried."""
    tried = 0
    boxes = [Body(b.item.name, 0, b.solid()) for b in bays(airframe, stock)]
    let_in = [Body(r.name, 0, rod_solid(r)) for r in kit.rods]
    for rod in kit.push_rods:
        if rod.bends:
            continue
        found = positions(rod, _POSITIONS)
        tried += len(found)
        if len(found) < _POSITIONS:
            findings.append(_short(rod, found))
        others = [
            *(b for b in solids if b.name != rod.moves),
            *(b for b in boxes if b.name != rod.servo),
            *let_in,
        ]
        worst: dict[str, tuple[float, float, Body, Floats, float]] = {}
        at_each = [rod_cylinder(arm, horn, ROD_MM + 2 * FREE_MM) for _, arm, horn in found]
        swept = sweep(at_each)  # most parts are done with at once
        near = [other for other in others if shared(swept, other.solid) is not None]
        for (angle, _, _), solid in zip(found, at_each, strict=True):
            for other in near:
                common = shared(solid, other.solid)
                if common is None:
                    continue
                volume = float(common.volume())
                if volume > worst.get(other.label, (0.0,))[0]:
                    at, depth = meeting(common)
                    worst[other.label] = (volume, angle, other, np.asarray(at), depth)
        findings += [_clash(rod, *each[1:]) for each in worst.values()]
    return tried


def _clash(rod: PushRod, angle: float, other: Body, at: Floats, depth: float) -> Clash:
    where = point3(at)
    along = np.asarray(rod.horn_mm) - np.asarray(rod.arm_mm)
    share = float((at - rod.arm_mm) @ along) / float(along @ along)
    end = "servo" if share < 0.5 else "horn"
    return Clash(
        kind="push-rod",
        first=rod.name,
        second=other.label,
        at_mm=where,
        amount=depth,
        says=f"the {rod.name}, straight from its arm to its horn, runs into {other.label} with its surface at "
        f"{math.degrees(angle):+.0f}°, {depth:.1f} mm deep, {place(where)}",
        cure=f"open {other.label} {depth + 0.5:.1f} mm wider there, move the {end} {depth + 0.5:.1f} mm away from it, or run "
        "the wire in a tube",
    )


def _short(rod: PushRod, found: list[tuple[float, Floats, Floats]]) -> Clash:
    reached = max((abs(a) for a, _, _ in found), default=0.0)
    where = point3(np.asarray(rod.horn_mm))
    return Clash(
        kind="push-rod",
        first=rod.name,
        second=rod.moves,
        at_mm=where,
        amount=math.degrees(reached),
        says=f"the {rod.name} goes over its dead point before {rod.moves} has its whole throw: it follows to "
        f"{math.degrees(reached):.0f}° {place(where)}",
        cure="use a hole further out on the servo's arm or further in on the horn, or keep the throw to what it follows",
    )
