"""Parts in motion: moving surfaces through their throws, and what comes off along its way."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sheetlark.airframe import Airframe
from sheetlark.outline import Floats
from sheetlark.parts.bays import turned_cylinder
from sheetlark.parts.clash import Body, Clash, meeting, place, point3, shared
from sheetlark.parts.fits import KEPT_MM
from sheetlark.parts.kept import KeptOf
from sheetlark.parts.part import Kit, Point3, Swing
from sheetlark.parts.solids import Solid, apart, lies_within, rod_solid, turn_about, union

STEP_RAD = math.radians(2.0)
_HINGE_REACH_MM = 8.0  # round the hinge line the two sides may come nearer than elsewhere: they are taped
_WITHDRAW_STEPS = 24


def _angles(swing: Swing) -> Floats:
    up, down = swing.up_rad, swing.down_rad
    steps = max(2, math.ceil((up + down) / STEP_RAD))
    return np.linspace(-down, up, steps + 1)


def _turned(swing: Swing, body: Body, angle: float) -> Solid:
    start, end = np.asarray(swing.start_mm), np.asarray(swing.end_mm)
    if body.copy:
        start, end = start * (1, -1, 1), end * (1, -1, 1)
        angle = -angle  # the axis points to port there
    axis = (end - start) / np.linalg.norm(end - start)
    return body.solid.transform(turn_about(start, axis, angle)[:3])


def motion(
    kit: Kit, airframe: Airframe, solids: list[Body], findings: list[Clash]
) -> tuple[int, list[tuple[str, float]]]:
    """Every moving surface through its throw; positions tried, and the least gap of each."""
    positions = 0
    least: list[tuple[str, float]] = []
    swings = {s.moving: s for s in kit.swings}
    for swing in kit.swings:
        movers = [_with_rods(kit, b) for b in solids if b.name == swing.moving]
        nearest = math.inf
        for mover in movers:
            near = _near(swing, mover, solids)
            passed = [_passed(swing, mover, b, swings.get(b.name)) for b in near]
            positions += len(_angles(swing))
            nearest = min([nearest, *(p.nearest_mm for p in passed)])
            touches = [(t, b) for b, p in zip(near, passed, strict=True) for t in p.touches]
            if touches:
                # the first of the worst, as the surface goes from its lowest position up
                worst, other = min(
                    touches, key=lambda t: (t[0].gap_mm - 1e-3 * t[0].volume_mm3, t[0].angle_rad)
                )
                throw = _throw(swing, airframe, [t.angle_rad for t, _ in touches])
                findings.append(_motion_clash(swing, mover, worst, other, throw))
        least.append((swing.moving, nearest))
    return positions, least


@dataclass(frozen=True, slots=True)
class _Touch:
    """One position of a moving part too near to something. volume_mm3 : how much of that it takes."""

    angle_rad: float
    gap_mm: float
    volume_mm3: float


@dataclass(frozen=True, slots=True, eq=False)
class _Pass:
    """A moving part's way past one other."""

    nearest_mm: float
    touches: tuple[_Touch, ...]


def _passed(swing: Swing, mover: Body, other: Body, moves: Swing | None) -> _Pass:
    """Where a moving part comes too near to another in its throw.

    moves : the other's own swing, if it moves
    """
    own = other.name == swing.fixed
    if other.name == swing.moving:
        moves = None  # of two alike, which move together, each is held against the other at rest
    return _PASSES.get(
        mover.solid,
        lambda: _pass_by(swing, mover, other, moves, own=own),
        also=(other.solid,),
        by=(swing, mover.copy, other.copy, own, moves),
    )


# A servo moved leaves a surface's way as it was past all but what its rod runs through.
_PASSES: KeptOf[_Pass] = KeptOf(200)


def _pass_by(swing: Swing, mover: Body, other: Body, moves: Swing | None, *, own: bool) -> _Pass:
    """One part's way past another; own : of its own panel only what lies off the taped hinge line counts."""
    nearest = math.inf
    touches = []
    rivals = (
        [_off_hinge(swing, mover, other) if own else other.solid]
        if moves is None
        else [_turned(moves, other, a) for a in _few(moves)]
    )
    for angle in _angles(swing):
        turned = _turned(swing, mover, float(angle))
        for rival in rivals:
            if apart(turned, rival, KEPT_MM + 1.0):
                continue
            gap = float(turned.min_gap(rival, KEPT_MM + 1.0))
            nearest = min(nearest, gap)
            if gap < KEPT_MM - 0.02:
                volume = float((turned ^ rival).volume()) if gap <= 0.0 else 0.0
                touches.append(_Touch(float(angle), gap, volume))
    return _Pass(nearest, tuple(touches))


def _with_rods(kit: Kit, mover: Body) -> Body:
    """A moving part with its half of the rods that are glued into holes of it."""
    names = {j.second for j in kit.joints if j.kind == "rod-hole" and j.first == mover.name}
    rods = [rod_solid(r) for r in kit.rods if r.name in names]
    if not rods:
        return mover
    side = -1.0 if mover.copy else 1.0

    def made() -> Solid:
        halves = [r.trim_by_plane((0.0, side, 0.0), 0.0) for r in rods]
        return union([mover.solid, *halves])

    return Body(mover.name, mover.copy, _JOINED.get(mover.solid, made, also=tuple(rods), by=side))


_JOINED: KeptOf[Solid] = KeptOf(20)


def _few(swing: Swing) -> list[float]:
    """Positions of a second moving surface tried against each of the first."""
    return [-swing.down_rad, -0.5 * swing.down_rad, 0.0, 0.5 * swing.up_rad, swing.up_rad]


def _near(swing: Swing, mover: Body, solids: list[Body]) -> list[Body]:
    """Everything else near its way."""
    turned = [_turned(swing, mover, float(a)) for a in (-swing.down_rad, 0.0, swing.up_rad)]
    reach = union(turned)
    lies_within(reach, turned)
    return [
        other
        for other in solids
        if (other.name, other.copy) != (mover.name, mover.copy) and not apart(reach, other.solid, 6.0)
    ]


def _off_hinge(swing: Swing, mover: Body, panel: Body) -> Solid:
    """A panel without a tube round the hinge line of what moves, a little longer than the line."""
    start, end = np.asarray(swing.start_mm), np.asarray(swing.end_mm)
    if mover.copy:
        start, end = start * (1, -1, 1), end * (1, -1, 1)
    length = float(np.linalg.norm(end - start))
    axis = (end - start) / length
    return panel.solid - turned_cylinder(start - 1.2 * axis, axis, length + 2.4, 2 * _HINGE_REACH_MM)


def _motion_clash(
    swing: Swing,
    mover: Body,
    worst: _Touch,
    other: Body,
    throw: tuple[tuple[str | int, ...], float] | None,
) -> Clash:
    angle, gap = worst.angle_rad, worst.gap_mm
    solid = _turned(swing, mover, angle)
    at: Point3
    if worst.volume_mm3 > 0:
        common = solid ^ other.solid
        at, _ = meeting(common) if common.volume() > 0 else (point3(np.asarray(swing.end_mm)), 0.0)
        how = f"runs into {other.label} by {worst.volume_mm3:.0f} mm³"
    else:
        beside = _off_hinge(swing, mover, other) if other.name == swing.fixed else other.solid
        b, c = np.asarray(solid.bounding_box()), np.asarray(beside.bounding_box())
        at = point3(0.5 * (np.maximum(b[:3], c[:3]) + np.minimum(b[3:], c[3:])))
        how = f"comes within {gap:.2f} mm of {other.label} ({KEPT_MM:.0f} mm is asked)"
    degrees = math.degrees(angle)
    return Clash(
        kind="motion",
        first=mover.label,
        second=other.label,
        at_mm=at,
        amount=gap,
        says=f"{mover.label} at {degrees:+.0f}° {how} {place(at)}",
        cure=f"relieve {other.label} or the corner of {mover.label} there by {KEPT_MM - min(gap, 0.0):.1f} mm"
        + (f", or keep the throw to {throw[1]:.0f}°" if throw is not None else ""),
        change=throw,
    )


def _throw(swing: Swing, airframe: Airframe, bad: list[float]) -> tuple[tuple[str | int, ...], float] | None:
    """The throw, in degrees, that stays clear of every position found bad; None where they lie on both sides."""
    least = math.degrees(min(abs(a) for a in bad))
    up, down = any(a > 0 for a in bad), any(a < 0 for a in bad)
    value = math.floor(least - 2.0 + 1e-6)
    surface = next((s for s in airframe.surfaces if swing.fixed in {s.name, f"{s.name} panel"}), None)
    if up == down or value < 3 or surface is None or surface.control is None:
        return None
    key = surface.control.moves if surface.control.moves in {"elevator", "rudder"} else "aileron"
    return (*surface.where, key, "up" if up else "down"), float(value)


def withdrawals(kit: Kit, airframe: Airframe, solids: list[Body], findings: list[Clash]) -> None:
    """What comes off, moved along its path."""
    for removal in kit.removals:
        moved = union([b.solid for b in solids if b.name in removal.parts])
        stays = [b for b in solids if b.name not in removal.parts]
        path = np.asarray(removal.path_mm)
        for step in range(1, _WITHDRAW_STEPS + 1):
            # Small steps first: what is let in catches at once or not at all.
            share = (step / _WITHDRAW_STEPS) ** 2
            solid = moved.translate(tuple((share * path).tolist()))
            hit = next(
                ((b, c) for b in stays if (c := shared(solid, b.solid)) is not None),
                None,
            )
            if hit is not None:
                body, common = hit
                at, depth = meeting(common)
                findings.append(
                    Clash(
                        kind="withdrawal",
                        first=removal.name,
                        second=body.label,
                        at_mm=at,
                        amount=depth,
                        says=f"{removal.name} cannot be taken off: after {float(np.linalg.norm(share * path)):.0f} mm "
                        f"it catches on {body.label} by {depth:.1f} mm {place(at)}",
                        cure=f"open {body.label} there, or fix {removal.name} for good",
                        change=next(
                            (
                                ((*s.where, "held"), "glued")
                                for s in airframe.surfaces
                                if s.name == removal.name
                            ),
                            None,
                        ),
                    )
                )
                break
