"""What goes in and what turns: boxes in their bays, wheels, motors, propellers."""

from __future__ import annotations

import itertools

import numpy as np

from sheetlark.airframe import Airframe
from sheetlark.parts.bays import Bay, bays, motor_cases, propeller_discs, wheels
from sheetlark.parts.clash import FLOOR_MM3, Body, Clash, meeting, place, point3, shared
from sheetlark.parts.part import Kit
from sheetlark.parts.solids import Solid, apart, rod_solid
from sheetlark.stock import Stock

_PROPELLER_FREE_MM = 2.0


def equipment(kit: Kit, airframe: Airframe, stock: Stock, solids: list[Body], findings: list[Clash]) -> int:
    """Boxes, wheels, motors and propellers; how many boxes were tried."""
    found = bays(airframe, stock)
    rods = [Body(r.name, 0, rod_solid(r)) for r in kit.rods]
    for bay in found:
        solid = bay.solid()
        others = [*solids, *rods, *(Body(b.item.name, 0, b.solid()) for b in found if b is not bay)]
        for body in (*solids, *rods):
            common = shared(solid, body.solid)
            if common is None:
                continue
            at, depth = meeting(common)
            moved = " through its travel" if bay.item.kind == "pack" else ""
            size = bay.high_mm - bay.low_mm
            findings.append(
                Clash(
                    kind="equipment",
                    first=bay.item.name,
                    second=body.label,
                    at_mm=at,
                    amount=depth,
                    says=f"{bay.item.name}{moved} needs {size[0]:.0f} x {size[1]:.0f} x {size[2]:.0f} mm and runs into "
                    f"{body.label} by {depth:.1f} mm {place(at)}",
                    cure=f"move it {depth + 0.5:.1f} mm away from {body.label}, or open {body.label}"
                    + (", or shorten the battery's travel (pack_travel)" if moved else ""),
                    change=_elsewhere(airframe, bay, common, others),
                )
            )
    for a, b in itertools.combinations(found, 2):
        low, high = np.maximum(a.low_mm, b.low_mm), np.minimum(a.high_mm, b.high_mm)
        if np.all(high - low > 0.05):
            at = point3(0.5 * (low + high))
            depth = float((high - low).min())
            findings.append(
                Clash(
                    kind="equipment",
                    first=a.item.name,
                    second=b.item.name,
                    at_mm=at,
                    amount=depth,
                    says=f"{a.item.name} and {b.item.name} want the same room, {depth:.1f} mm deep, {place(at)}",
                    cure=f"move one of them by {depth + 0.5:.1f} mm",
                )
            )
    for name, solid in wheels(airframe, stock):
        for body in solids:
            common = shared(solid, body.solid)
            if common is None:
                continue
            at, depth = meeting(common)
            findings.append(
                Clash(
                    kind="equipment",
                    first=name,
                    second=body.label,
                    at_mm=at,
                    amount=depth,
                    says=f"{name} rubs on {body.label}, {depth:.1f} mm deep, {place(at)}",
                    cure="widen the track, lower the axle, or take a smaller wheel",
                    change=_wider(airframe, solid, solids),
                )
            )
    discs = [(n, s, _PROPELLER_FREE_MM) for n, s in propeller_discs(airframe, stock)]
    cases = [(n, s, 0.0) for n, s in motor_cases(airframe, stock)]
    for name, solid, free in (*discs, *cases):
        for body in solids:
            if apart(solid, body.solid, free):
                continue
            gap = float(solid.min_gap(body.solid, free + 0.5)) if free else 0.0
            common = solid ^ body.solid
            if common.volume() <= FLOOR_MM3 and (not free or gap >= free):
                continue
            one, two = np.asarray(solid.bounding_box()), np.asarray(body.solid.bounding_box())
            at = point3(0.5 * (np.maximum(one[:3], two[:3]) + np.minimum(one[3:], two[3:])))
            findings.append(
                Clash(
                    kind="propeller",
                    first=name,
                    second=body.label,
                    at_mm=at,
                    amount=gap,
                    says=f"the {name} turns within {max(gap, 0.0):.1f} mm of {body.label} {place(at)}"
                    if common.volume() <= FLOOR_MM3
                    else f"the {name} strikes {body.label} {place(at)}",
                    cure="move the motor away from it, take a smaller propeller, or cut the part back",
                )
            )
    return len(found)


def _elsewhere(
    airframe: Airframe, bay: Bay, common: Solid, others: list[Body]
) -> tuple[tuple[str | int, ...], float | tuple[float, ...]] | None:
    """The shortest move, or a shorter travel, that clears a box of everything; None where no single one does."""
    b = np.asarray(common.bounding_box())
    reach = b[3:] - b[:3]
    travel = (
        1e3 * airframe.drive.pack_travel if bay.item.kind == "pack" and airframe.drive is not None else 0.0
    )
    for kept in range(int(travel - 0.5), -1, -1):
        cut = np.array([travel - kept, 0.0, 0.0])
        if _free(Bay(item=bay.item, low_mm=bay.low_mm + cut, high_mm=bay.high_mm - cut), others):
            return ("drive", "pack_travel"), float(kept)
    where = _written_at(airframe, bay)
    if where is None:
        return None
    moves = [s * np.eye(3)[k] * (reach[k] + 0.5) for k in range(3) for s in (1.0, -1.0)]
    for move in sorted(moves, key=lambda m: float(np.abs(m).sum())):
        if _free(Bay(item=bay.item, low_mm=bay.low_mm + move, high_mm=bay.high_mm + move), others):
            at = 1e3 * np.asarray(bay.item.at_m) + move
            if bay.item.name.endswith(", port"):
                at = at * (1.0, -1.0, 1.0)
            return where, tuple(round(float(v), 1) for v in at)
    return None


def _free(bay: Bay, others: list[Body]) -> bool:
    solid = bay.solid()
    return all(shared(solid, o.solid) is None for o in others)


def _written_at(airframe: Airframe, bay: Bay) -> tuple[str | int, ...] | None:
    """Where the design states the place of an item."""
    twin = airframe.drive is not None and airframe.drive.twin
    if bay.item.kind == "pack":
        return ("drive", "pack_at")
    if bay.item.kind == "controller":
        return None if twin else ("drive", "controller_at")
    if bay.item.kind == "receiver":
        return ("radio", "receiver_at")
    index = -1
    for item in airframe.equipment:
        if item.kind == "servo":
            index += not item.name.endswith(", port")
            if item is bay.item:
                return ("radio", "servo", index, "at")
    return None


def _wider(
    airframe: Airframe, wheel: Solid, solids: list[Body]
) -> tuple[tuple[str | int, ...], float] | None:
    """The track that takes a wheel clear."""
    if airframe.gear is None:
        return None
    w = np.asarray(wheel.bounding_box())
    side = 1.0 if w[1] + w[4] > 0 else -1.0
    for step in range(2, 80, 2):
        moved = wheel.translate((0.0, side * step, 0.0))
        if all(shared(moved, s.solid) is None for s in solids):
            return ("gear", "track"), round(1e3 * airframe.gear.track + 2 * step, 1)
    return None
