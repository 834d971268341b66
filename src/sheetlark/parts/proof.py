"""The proof that a kit goes together: every part as a solid in its place, moved as it will be moved.

Nothing here knows how the parts were made. What a finding says is measured on the solids: both parts, where,
how much, and what would cure it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from sheetlark.airframe import Airframe
from sheetlark.outline import Floats
from sheetlark.parts.bays import bays, motor_cases, propeller_discs, turned_cylinder, wheels
from sheetlark.parts.fits import KEPT_MM
from sheetlark.parts.part import Joint, Kit, Part, Point3, Swing
from sheetlark.parts.solids import Solid, apart, part_solids, rod_solid, turn_about, union
from sheetlark.stock import Stock

FLOOR_MM3 = 1.0  # faces that only touch leave nothing; less than this is rounding
STEP_RAD = math.radians(2.0)
_HINGE_REACH_MM = 8.0  # round the hinge line the two sides may come nearer than elsewhere: they are taped
_WITHDRAW_STEPS = 24
_PROPELLER_FREE_MM = 2.0

Progress = Callable[[float, str], None]
Kind = Literal["overlap", "fit", "motion", "withdrawal", "equipment", "propeller"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """One thing that does not go together.

    kind : what was tried
    first, second : both parts, or a part and an item
    at_mm : where, on the geometry axes [mm]
    amount : how much; its unit is in `says`
    says : in words
    cure : what would clear it
    """

    kind: Kind
    first: str
    second: str
    at_mm: Point3
    amount: float
    says: str
    cure: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """What was tried, and what was found.

    findings : empty where everything goes together
    pairs, slots, positions, items : how many pairs of solids, slots, positions of moving surfaces, and items
        were tried
    least_gap_mm : for each moving part, the nearest it came to anything but its own hinge [mm]
    """

    findings: tuple[Clash, ...]
    pairs: int
    slots: int
    positions: int
    items: int
    least_gap_mm: tuple[tuple[str, float], ...]

    @property
    def clean(self) -> bool:
        return not self.findings


@dataclass(frozen=True, slots=True, eq=False)
class _Body:
    name: str
    copy: int
    solid: Solid

    @property
    def label(self) -> str:
        return self.name if self.copy == 0 else f"{self.name}, port"


def prove(kit: Kit, airframe: Airframe, stock: Stock, *, progress: Progress | None = None) -> Proof:
    """Put every part in its place and try it: overlaps, slots, motion, withdrawal, equipment, propeller.

    Parameters
    ----------
    kit : Kit
    airframe : Airframe
        For what is put in and what turns.
    stock : Stock
        For its sizes.
    progress : callable, optional
        Called with a share from 0 to 1 and a few words.
    """
    tell = progress or (lambda _share, _words: None)
    tell(0.0, "parts as solids")
    solids = [_Body(p.name, i, s) for p in kit.parts for i, s in enumerate(part_solids(p))]
    findings: list[Clash] = []
    tell(0.1, "overlaps")
    pairs = _overlaps(solids, findings)
    _rods(kit, solids, findings)
    tell(0.3, "slots")
    slots = _slots(kit, findings)
    tell(0.4, "moving surfaces")
    positions, least = _motion(kit, solids, findings)
    tell(0.8, "what comes off")
    _withdrawals(kit, solids, findings)
    tell(0.9, "what goes in")
    items = _equipment(kit, airframe, stock, solids, findings)
    tell(1.0, "done")
    return Proof(
        findings=tuple(findings),
        pairs=pairs,
        slots=slots,
        positions=positions,
        items=items,
        least_gap_mm=tuple(least),
    )


def _point(p: Floats) -> Point3:
    return (round(float(p[0]), 2), round(float(p[1]), 2), round(float(p[2]), 2))


def _meeting(common: Solid) -> tuple[Point3, float]:
    """Middle and least dimension of what two solids share."""
    b = np.asarray(common.bounding_box())
    return _point(0.5 * (b[:3] + b[3:])), float((b[3:] - b[:3]).min())


def _place(at: Point3) -> str:
    return f"at x {at[0]:.0f}, y {at[1]:.0f}, z {at[2]:.0f} mm"


def _overlaps(solids: list[_Body], findings: list[Clash]) -> int:
    count = 0
    for a, b in itertools.combinations(solids, 2):
        count += 1
        if apart(a.solid, b.solid):
            continue
        common = a.solid ^ b.solid
        volume = float(common.volume())
        if volume <= FLOOR_MM3:
            continue
        at, depth = _meeting(common)
        findings.append(
            Clash(
                kind="overlap",
                first=a.label,
                second=b.label,
                at_mm=at,
                amount=volume,
                says=f"{a.label} and {b.label} overlap by {volume:.0f} mm³, {depth:.1f} mm deep, {_place(at)}",
                cure=f"cut {depth + 0.1:.1f} mm away from {b.label} there, or move one of them by as much",
            )
        )
    return count


def _rods(kit: Kit, solids: list[_Body], findings: list[Clash]) -> None:
    let_in = {(j.first, j.second) for j in kit.joints}
    for rod in kit.rods:
        solid = rod_solid(rod)
        for body in solids:
            if (body.name, rod.name) in let_in or apart(solid, body.solid):
                continue
            common = solid ^ body.solid
            volume = float(common.volume())
            if volume <= FLOOR_MM3:
                continue
            at, depth = _meeting(common)
            findings.append(
                Clash(
                    kind="overlap",
                    first=body.label,
                    second=rod.name,
                    at_mm=at,
                    amount=volume,
                    says=f"{rod.name} runs through {body.label}, {depth:.1f} mm deep, {_place(at)}",
                    cure=f"move the rod clear of {body.label}, or give {body.label} a hole for it",
                )
            )


def _slots(kit: Kit, findings: list[Clash]) -> int:
    """Each tab against its slot, on the plane of the part with the slot."""
    count = 0
    by_name = {p.name: p for p in kit.parts}
    for joint in kit.joints:
        if joint.kind != "tab-and-slot":
            continue
        count += 1
        _slot(joint, by_name[joint.first], by_name[joint.second], findings)
    return count


def _slot(joint: Joint, host: Part, guest: Part, findings: list[Clash]) -> None:
    from shapely.geometry import Point as Place
    from shapely.geometry import Polygon

    from sheetlark.parts.solids import shadow

    tabs = part_solids(guest)
    at = joint.runs_mm[0]
    middle = np.mean(np.asarray(at), axis=0)
    best: tuple[float, float, float] | None = None
    for piece in host.copies[0]:
        local = np.linalg.inv(piece.matrix) @ np.array([*middle, 1.0])
        if abs(local[2]) > host.thickness_mm + 2.0:
            continue
        for tab in tabs:
            cover = shadow(tab, piece.matrix, host.thickness_mm)
            if cover is None:
                continue
            for ring in host.holes:  # of the sheet: a bend may run through a slot
                slot: Any = Polygon(ring)
                here = cover
                if len(host.copies[0]) > 1:  # of a bent part, what lies on this flat stretch
                    room = Polygon(piece.outline).convex_hull
                    slot, here = slot.intersection(room), cover.intersection(room)
                    if slot.area < 1.0:
                        continue
                tongue = here.intersection(slot.buffer(3.0, join_style="mitre"))
                if slot.distance(Place(float(local[0]), float(local[1]))) > 12.0:
                    continue
                if tongue.is_empty:
                    continue
                outside = float(tongue.difference(slot.buffer(0.02)).area)
                loose = float(slot.difference(tongue.buffer(joint.fit_mm + 0.05, join_style="mitre")).area)
                off = slot.centroid.distance(tongue.centroid)
                if best is None or outside + loose < best[0] + best[1]:
                    best = (outside, loose, float(off))
    where = _point(middle)
    if best is None:
        findings.append(
            Clash(
                kind="fit",
                first=host.name,
                second=guest.name,
                at_mm=where,
                amount=0.0,
                says=f"the tab of {guest.name} finds no slot in {host.name} {_place(where)}",
                cure=f"cut the slot in {host.name} where the tab meets it",
            )
        )
    elif best[0] > 0.5 or best[1] > 2.0:
        findings.append(
            Clash(
                kind="fit",
                first=host.name,
                second=guest.name,
                at_mm=where,
                amount=best[2],
                says=f"the tab of {guest.name} does not fit its slot in {host.name} {_place(where)}: they lie "
                f"{best[2]:.1f} mm apart, {best[0]:.1f} mm² of the tab outside, {best[1]:.1f} mm² of the slot idle "
                f"(stated play {joint.fit_mm:.1f} mm)",
                cure=f"move the slot in {host.name} by {best[2]:.1f} mm, or cut it to the tab's size",
            )
        )


def _angles(swing: Swing) -> Floats:
    up, down = swing.up_rad, swing.down_rad
    steps = max(2, math.ceil((up + down) / STEP_RAD))
    return np.linspace(-down, up, steps + 1)


def _turned(swing: Swing, body: _Body, angle: float) -> Solid:
    start, end = np.asarray(swing.start_mm), np.asarray(swing.end_mm)
    if body.copy:
        start, end = start * (1, -1, 1), end * (1, -1, 1)
        angle = -angle  # the axis points to port there
    axis = (end - start) / np.linalg.norm(end - start)
    return body.solid.transform(turn_about(start, axis, angle)[:3])


def _motion(kit: Kit, solids: list[_Body], findings: list[Clash]) -> tuple[int, list[tuple[str, float]]]:
    positions = 0
    least: list[tuple[str, float]] = []
    swings = {s.moving: s for s in kit.swings}
    for swing in kit.swings:
        movers = [b for b in solids if b.name == swing.moving]
        nearest = math.inf
        for mover in movers:
            near = _away_from_hinge(swing, mover, solids)
            worst: tuple[float, float, _Body, float] | None = None
            for angle in _angles(swing):
                positions += 1
                solid = _turned(swing, mover, float(angle))
                for other in near:
                    if other.name in swings and other.name != swing.moving:
                        rivals = [_turned(swings[other.name], other, a) for a in _few(swings[other.name])]
                    else:
                        rivals = [other.solid]
                    for rival in rivals:
                        if apart(solid, rival, KEPT_MM + 1.0):
                            continue
                        gap = float(solid.min_gap(rival, KEPT_MM + 1.0))
                        volume = float((solid ^ rival).volume()) if gap <= 0.0 else 0.0
                        nearest = min(nearest, gap)
                        if gap < KEPT_MM - 0.02 and (
                            worst is None or (gap - 1e-3 * volume) < (worst[1] - 1e-3 * worst[3])
                        ):
                            worst = (float(angle), gap, other, volume)
            if worst is not None:
                findings.append(_motion_clash(swing, mover, worst, solids))
        least.append((swing.moving, nearest))
    return positions, least


def _few(swing: Swing) -> list[float]:
    """Positions of a second moving surface tried against each of the first."""
    return [-swing.down_rad, -0.5 * swing.down_rad, 0.0, 0.5 * swing.up_rad, swing.up_rad]


def _away_from_hinge(swing: Swing, mover: _Body, solids: list[_Body]) -> list[_Body]:
    """Everything else near its way; of its own panel only what lies off the taped hinge line."""
    reach = union([_turned(swing, mover, float(a)) for a in (-swing.down_rad, 0.0, swing.up_rad)])
    start, end = np.asarray(swing.start_mm), np.asarray(swing.end_mm)
    if mover.copy:
        start, end = start * (1, -1, 1), end * (1, -1, 1)
    found = []
    for other in solids:
        if other is mover or apart(reach, other.solid, 6.0):
            continue
        panel = other.name == swing.fixed
        found.append(_Body(other.name, other.copy, other.solid - _tube(start, end)) if panel else other)
    return found


def _tube(start: Floats, end: Floats) -> Solid:
    """A tube round a hinge line, a little longer than the line; the ends of the bay stay outside it."""
    length = float(np.linalg.norm(end - start))
    axis = (end - start) / length
    return turned_cylinder(start - 1.2 * axis, axis, length + 2.4, 2 * _HINGE_REACH_MM)


def _motion_clash(
    swing: Swing, mover: _Body, worst: tuple[float, float, _Body, float], solids: list[_Body]
) -> Clash:
    angle, gap, other, volume = worst
    solid = _turned(swing, mover, angle)
    at: Point3
    if volume > 0:
        rival = next(b for b in solids if b.name == other.name and b.copy == other.copy)
        common = solid ^ rival.solid
        at, _ = _meeting(common) if common.volume() > 0 else (_point(np.asarray(swing.end_mm)), 0.0)
        how = f"runs into {other.label} by {volume:.0f} mm³"
    else:
        b, c = np.asarray(solid.bounding_box()), np.asarray(other.solid.bounding_box())
        at = _point(0.5 * (np.maximum(b[:3], c[:3]) + np.minimum(b[3:], c[3:])))
        how = f"comes within {gap:.2f} mm of {other.label} ({KEPT_MM:.0f} mm is asked)"
    degrees = math.degrees(angle)
    return Clash(
        kind="motion",
        first=mover.label,
        second=other.label,
        at_mm=at,
        amount=gap,
        says=f"{mover.label} at {degrees:+.0f}° {how} {_place(at)}",
        cure=f"relieve {other.label} or the corner of {mover.label} there by {KEPT_MM - min(gap, 0.0):.1f} mm, or keep the "
        f"throw below {abs(degrees) - 2:.0f}°",
    )


def _withdrawals(kit: Kit, solids: list[_Body], findings: list[Clash]) -> None:
    for removal in kit.removals:
        moved = union([b.solid for b in solids if b.name in removal.parts])
        stays = [b for b in solids if b.name not in removal.parts]
        path = np.asarray(removal.path_mm)
        for step in range(1, _WITHDRAW_STEPS + 1):
            # Small steps first: what is let in catches at once or not at all.
            share = (step / _WITHDRAW_STEPS) ** 2
            solid = moved.translate(tuple((share * path).tolist()))
            hit = next(
                (
                    (b, c)
                    for b in stays
                    if not apart(solid, b.solid) and (c := solid ^ b.solid).volume() > FLOOR_MM3
                ),
                None,
            )
            if hit is not None:
                body, common = hit
                at, depth = _meeting(common)
                findings.append(
                    Clash(
                        kind="withdrawal",
                        first=removal.name,
                        second=body.label,
                        at_mm=at,
                        amount=depth,
                        says=f"{removal.name} cannot be taken off: after {float(np.linalg.norm(share * path)):.0f} mm "
                        f"it catches on {body.label} by {depth:.1f} mm {_place(at)}",
                        cure=f"open {body.label} there, or fix {removal.name} for good",
                    )
                )
                break


def _equipment(kit: Kit, airframe: Airframe, stock: Stock, solids: list[_Body], findings: list[Clash]) -> int:
    found = bays(airframe, stock)
    rods = [_Body(r.name, 0, rod_solid(r)) for r in kit.rods]
    for bay in found:
        solid = bay.solid()
        for body in (*solids, *rods):
            if apart(solid, body.solid):
                continue
            common = solid ^ body.solid
            if common.volume() <= FLOOR_MM3:
                continue
            at, depth = _meeting(common)
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
                    f"{body.label} by {depth:.1f} mm {_place(at)}",
                    cure=f"move it {depth + 0.5:.1f} mm away from {body.label}, or open {body.label}"
                    + (", or shorten pack_travel" if moved else ""),
                )
            )
    for a, b in itertools.combinations(found, 2):
        low, high = np.maximum(a.low_mm, b.low_mm), np.minimum(a.high_mm, b.high_mm)
        if np.all(high - low > 0.05):
            at = _point(0.5 * (low + high))
            depth = float((high - low).min())
            findings.append(
                Clash(
                    kind="equipment",
                    first=a.item.name,
                    second=b.item.name,
                    at_mm=at,
                    amount=depth,
                    says=f"{a.item.name} and {b.item.name} want the same room, {depth:.1f} mm deep, {_place(at)}",
                    cure=f"move one of them by {depth + 0.5:.1f} mm",
                )
            )
    for name, solid in wheels(airframe, stock):
        for body in solids:
            if apart(solid, body.solid) or (common := solid ^ body.solid).volume() <= FLOOR_MM3:
                continue
            at, depth = _meeting(common)
            findings.append(
                Clash(
                    kind="equipment",
                    first=name,
                    second=body.label,
                    at_mm=at,
                    amount=depth,
                    says=f"{name} rubs on {body.label}, {depth:.1f} mm deep, {_place(at)}",
                    cure="widen the track, lower the axle, or take a smaller wheel",
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
            at = _point(0.5 * (np.maximum(one[:3], two[:3]) + np.minimum(one[3:], two[3:])))
            findings.append(
                Clash(
                    kind="propeller",
                    first=name,
                    second=body.label,
                    at_mm=at,
                    amount=gap,
                    says=f"the {name} turns within {max(gap, 0.0):.1f} mm of {body.label} {_place(at)}"
                    if common.volume() <= FLOOR_MM3
                    else f"the {name} strikes {body.label} {_place(at)}",
                    cure="move the motor away from it, take a smaller propeller, or cut the part back",
                )
            )
    return len(found)
