"""Parts at rest: no two overlap, no rod runs through what has no hole for it, every tab fits its slot."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np

from sheetlark.parts.clash import Body, Clash, meeting, overlap, place, point3, shared
from sheetlark.parts.kept import KeptOf
from sheetlark.parts.part import Joint, Kit, Part
from sheetlark.parts.solids import Solid, apart, part_solids, rod_solid

_HELD_MM3 = 0.02  # what a part pushed against its slot must press into; where they lean, an edge alone
_FIT_SLACK_MM = 0.05  # on each side beyond the stated play; a knife is no truer


def overlaps(solids: list[Body], findings: list[Clash]) -> int:
    """Every pair of copies; how many were tried."""
    count = 0
    for a, b in itertools.combinations(solids, 2):
        count += 1
        common = _common(a.solid, b.solid)
        if common is None:
            continue
        volume = float(common.volume())
        at, depth = meeting(common)
        findings.append(
            Clash(
                kind="overlap",
                first=a.label,
                second=b.label,
                at_mm=at,
                amount=volume,
                says=f"{a.label} and {b.label} overlap by {volume:.0f} mm³, {depth:.1f} mm deep, {place(at)}",
                cure=f"cut {depth + 0.1:.1f} mm away from {b.label} there, or move one of them by as much",
            )
        )
    return count


def _common(a: Solid, b: Solid) -> Solid | None:
    """What two parts share; a pair that was looked at before need not be cut again."""
    if apart(a, b):
        return None
    return _COMMON.get(a, lambda: overlap(a, b), also=(b,))


_COMMON: KeptOf[Solid | None] = KeptOf(500)


def rods(kit: Kit, solids: list[Body], findings: list[Clash]) -> None:
    """Every rod against every part that has no joint with it."""
    let_in = {(j.first, j.second) for j in kit.joints}
    for rod in kit.rods:
        solid = rod_solid(rod)
        for body in solids:
            if (body.name, rod.name) in let_in:
                continue
            common = shared(solid, body.solid)
            if common is None:
                continue
            at, depth = meeting(common)
            findings.append(
                Clash(
                    kind="overlap",
                    first=body.label,
                    second=rod.name,
                    at_mm=at,
                    amount=float(common.volume()),
                    says=f"{rod.name} runs through {body.label}, {depth:.1f} mm deep, {place(at)}",
                    cure=f"move the rod clear of {body.label}, or give {body.label} a hole for it",
                )
            )


def slots(kit: Kit, findings: list[Clash]) -> int:
    """Each tab against its slot, on the plane of the part with the slot."""
    count = 0
    by_name = {p.name: p for p in kit.parts}
    for joint in kit.joints:
        if joint.kind == "half-lap":
            count += 2
            for host, guest in ((joint.first, joint.second), (joint.second, joint.first)):
                _lap(joint, by_name[host], by_name[guest], findings)
            continue
        if joint.kind != "tab-and-slot":
            continue
        count += 1
        _slot(joint, by_name[joint.first], by_name[joint.second], findings)
    return count


def _lap(joint: Joint, host: Part, guest: Part, findings: list[Clash]) -> None:
    """Whether a lapped part is held: pushed aside by more than the play, it must meet its slot either way."""
    held, pushed = part_solids(host)[0], part_solids(guest)[0]
    run = np.asarray(joint.runs_mm[0])
    along = (run[-1] - run[0]) / np.linalg.norm(run[-1] - run[0])
    aside = np.cross(host.copies[0][0].matrix[:3, 2], along)
    by = joint.fit_mm / 2 + 2 * _FIT_SLACK_MM
    free = [
        s
        for s in (1.0, -1.0)
        if (held ^ pushed.translate(tuple((s * by * aside).tolist()))).volume() < _HELD_MM3
    ]
    if not free:
        return
    where = point3(run.mean(axis=0))
    findings.append(
        Clash(
            kind="fit",
            first=host.name,
            second=guest.name,
            at_mm=where,
            amount=by,
            says=f"{guest.name} rattles in its slot in {host.name} {place(where)}: it moves more than {by:.2f} mm aside "
            f"(stated play {joint.fit_mm:.1f} mm in all)",
            cure=f"cut the slot in {host.name} to {guest.name}'s thickness and {joint.fit_mm:.1f} mm",
        )
    )


def _slot(joint: Joint, host: Part, guest: Part, findings: list[Clash]) -> None:
    from shapely.geometry import Point as Place
    from shapely.geometry import Polygon

    from sheetlark.parts.shadows import shadow

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
                loose = float(
                    slot.difference(tongue.buffer(joint.fit_mm / 2 + _FIT_SLACK_MM, join_style="mitre")).area
                )
                off = slot.centroid.distance(tongue.centroid)
                if best is None or outside + loose < best[0] + best[1]:
                    best = (outside, loose, float(off))
    where = point3(middle)
    if best is None:
        findings.append(
            Clash(
                kind="fit",
                first=host.name,
                second=guest.name,
                at_mm=where,
                amount=0.0,
                says=f"the tab of {guest.name} finds no slot in {host.name} {place(where)}",
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
                says=f"the tab of {guest.name} does not fit its slot in {host.name} {place(where)}: they lie "
                f"{best[2]:.1f} mm apart, {best[0]:.1f} mm² of the tab outside, {best[1]:.1f} mm² of the slot idle "
                f"(stated play {joint.fit_mm:.1f} mm)",
                cure=f"move the slot in {host.name} by {best[2]:.1f} mm, or cut it to the tab's size",
            )
        )
