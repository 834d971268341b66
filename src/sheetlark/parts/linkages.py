"""Push-rods: from which side of the arm to which place for a horn each runs straight and clear.

Of the places a horn may stand, the first is taken to which the rod runs straight, through its whole travel, past all
that cannot be cut, and leaves the body by slots that have room.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np

from sheetlark.airframe import Equipment
from sheetlark.outline import Floats
from sheetlark.parts.bays import size_mm
from sheetlark.parts.blank import Blank
from sheetlark.parts.body import Shell
from sheetlark.parts.clash import shared
from sheetlark.parts.exits import PASSAGE_MM, POSITIONS, Way, slot_for
from sheetlark.parts.horns import cut_horn, span_of
from sheetlark.parts.panels import Hinge, Panel
from sheetlark.parts.part import PushRod, point3
from sheetlark.parts.push_rods import rod_cylinder
from sheetlark.parts.solids import Solid, sweep
from sheetlark.stock import Stock

ARM_ABOVE_MM = 4.0  # the arm over the servo's case, of a 5 to 9 g servo; from memory
_FURTHER_MM = (0.0, 6.0, 12.0, 20.0, 30.0, 42.0)  # places tried for a horn, beyond the nearest
_UP_MM = (9.0, 15.0, 22.0, 30.0, 40.0, 52.0)  # the same for a rudder's, above its foot
_CHECKED = (0, 2, 4)  # of the positions of the travel, those tried against what cannot be cut


def rods_and_horns(
    panels: list[Panel],
    servos: tuple[Equipment, ...],
    shell: Shell | None,
    stock: Stock,
    skins: list[Blank],
    fixed: list[Blank],
) -> list[PushRod]:
    """Cut the horns' slots into what they move; return the rods.

    skins : what a rod may leave the body by
    fixed : what it must pass by, for it is not cut
    """
    rods: list[PushRod] = []
    done: set[str] = set()
    hinges = [h for p in panels for h in p.hinges]
    for servo in servos:
        moves = servo.name.split(" servo")[0]
        for hinge in hinges:
            name = hinge.moving.name
            if not name.endswith(moves):
                continue
            ways = _ways(hinge, servo, shell, stock)
            rod = _best(ways, servo, shell, skins, fixed)
            side = -1.0 if servo.at_m[1] < 0 else 1.0
            if hinge.moving.sides == "pair" and servo.name.endswith(("starboard", "port")) and rods:
                # The second of a pair runs as the first does, mirrored: both horns come from one pattern.
                rod = next((_mirrored(r, servo.name) for r in rods if r.moves == name and side < 0), rod)
            if rod is not None:
                rods.append(rod)
            if name not in done and cut_horn(
                hinge, 1e3 * np.asarray(servo.at_m) if rod is None else np.asarray(rod.horn_mm)
            ):
                done.add(name)
    return rods


def _mirrored(rod: PushRod, servo: str) -> PushRod:
    over = np.array([1.0, -1.0, 1.0])
    point, axis = (np.asarray(p) for p in rod.axis_mm)
    return PushRod(
        name=f"{servo.split(' servo', maxsplit=1)[0]} push-rod, port",
        servo=servo,
        moves=rod.moves,
        copy=1,
        shaft_mm=point3(over * rod.shaft_mm),
        arm_mm=point3(over * rod.arm_mm),
        horn_mm=point3(over * rod.horn_mm),
        axis_mm=(point3(over * point), point3(-over * axis)),
        up_rad=rod.up_rad,
        down_rad=rod.down_rad,
        bends=rod.bends,
    )


def _best(
    ways: Iterator[PushRod],
    servo: Equipment,
    shell: Shell | None,
    skins: list[Blank],
    fixed: list[Blank],
) -> PushRod | None:
    """The first that runs clear; else the one with the least in its way."""
    inside = shell is not None and _in_body(servo, shell)
    solids = [b.solid() for b in fixed]

    def faults(rod: PushRod) -> Iterator[int]:
        return _faults(rod, skins if inside else [], solids, must_leave=inside)

    tried = []
    for rod in ways:
        more = faults(rod)
        first = next(more, None)
        if first is None:
            return rod
        tried.append((rod, first, more))
    best, fewest = None, math.inf
    for rod, first, more in tried:
        total = float(first)
        while total < fewest and (count := next(more, None)) is not None:
            total += count
        if total < fewest:
            best, fewest = rod, total
    return best


def _faults(rod: PushRod, skins: list[Blank], solids: list[Solid], *, must_leave: bool) -> Iterator[int]:
    """What each thing in a rod's way counts: slots without room, and what cannot be cut.

    The cheapest is asked first; a rod that fails there is not asked the rest.
    """
    whole = Way.of(rod)
    if len(whole.lines) < POSITIONS:
        yield 100  # it cannot follow its surface
        return
    for way, weight in ((whole.at_rest(), 20), (whole, 10)):
        over = way.mirrored()
        crosses, failed = False, False
        for blank in skins:
            for each in (way, over) if blank.sides == "pair" else (way,):
                found = slot_for(blank, each)
                if found is not None:
                    crosses = True
                    if not found[1]:
                        yield 1 if failed else weight + 1
                        failed = True
        if must_leave and not crosses:
            yield weight + 1
        if failed or (must_leave and not crosses):
            return
    at_each = [rod_cylinder(arm, horn, PASSAGE_MM - 1.0) for arm, horn in whole.lines[list(_CHECKED)]]
    swept = sweep(at_each)
    near = [solid for solid in solids if shared(swept, solid) is not None]
    for cylinder, solid in itertools.product(at_each, near):
        if shared(cylinder, solid) is not None:
            yield 1


def _in_body(servo: Equipment, shell: Shell) -> bool:
    x, y, z = 1e3 * np.asarray(servo.at_m)
    if not shell.nose < x < shell.tail:
        return False
    low, high = shell.heights(float(x))
    return bool(abs(y) <= float(shell.inside(float(x))) and low < z < high)


def _ways(hinge: Hinge, servo: Equipment, shell: Shell | None, stock: Stock) -> Iterator[PushRod]:
    """From either side of a servo's arm to each place a horn may stand, likeliest first."""
    size = size_mm(servo, stock)
    if size is None:
        return
    x, y, z = (float(v) for v in 1e3 * np.asarray(servo.at_m))
    arm, horn = 1e3 * servo.arm_m, 1e3 * servo.horn_m
    side = 1.0 if y >= 0 else -1.0
    first, second = span_of(hinge)
    upright = hinge.moving.group == "fin"
    if shell is not None and _in_body(servo, shell):
        if upright and abs(first[1]) > 30.0:
            return  # fins at the ends of a tailplane, whose rods run along that
        _, high = shell.heights(x)
        inside = float(shell.inside(x))
        top = min(z + size[2] / 2 + ARM_ABOVE_MM, high - shell.t - PASSAGE_MM / 2)
        out = max(0.0, min(abs(y) + arm, inside - PASSAGE_MM / 2 - 1.0) - abs(y))
        starts = [np.array([x, side * (abs(y) + a), top]) for a in (out, -arm)]
        shafts = [np.array([x, y, top])] * 2
        station = min(max(0.5 * (first[0] + second[0]), shell.nose), shell.tail)
        near = max(abs(y) + arm, float(shell.inside(station)) + shell.t + 6.0)
    else:
        if upright:
            return
        heights = [s * (size[2] / 2 + ARM_ABOVE_MM) for s in ((-1.0, 1.0) if z <= first[2] else (1.0, -1.0))]
        starts = [np.array([x, y + a, z + h]) for h in heights for a in (arm, -arm)]
        shafts = [np.array([x, y, z + h]) for h in heights for _ in (arm, -arm)]
        near = 0.0
    for shaft, start in zip(shafts, starts, strict=True):
        if shell is None or not _in_body(servo, shell):
            ends = [_beside(hinge, first, second, start, horn, side)]
        elif upright:
            ends = _rudder_ends(hinge, first, second, side, horn)
        else:
            ends = _level_ends(hinge, first, second, near, horn, side, z)
        for end in ends:
            yield _rod(hinge, servo, shaft, start, end, side)


def _rudder_ends(hinge: Hinge, first: Floats, second: Floats, side: float, horn: float) -> list[Floats]:
    length = max(1.0, float(np.linalg.norm(second - first)))
    out = np.array([0.0, hinge.moving.thickness / 2 + horn, 0.0])
    return [
        first + (second - first) * min(1.0, up / length) + s * out
        for s, up in itertools.product((side, -side), _UP_MM)
    ]


def _level_ends(
    hinge: Hinge, first: Floats, second: Floats, near: float, horn: float, side: float, z: float
) -> list[Floats]:
    over = np.array([1.0, side, 1.0])
    if hinge.moving.sides == "pair":
        near = max(near, abs(first[1]) + 8.0)
    lifts = (-horn, horn) if z < first[2] else (horn, -horn)
    span = max(1e-9, abs(second[1]) - abs(first[1]))
    shares = [min(max((near + more - abs(first[1])) / span, 0.0), 1.0) for more in _FURTHER_MM]
    return [
        (first + (second - first) * share + lift * hinge.frame[:3, 2]) * over
        for lift, share in itertools.product(lifts, shares)
    ]


def _beside(hinge: Hinge, first: Floats, second: Floats, start: Floats, horn: float, side: float) -> Floats:
    """The horn's hole in line with an arm beside the same surface, on the arm's own side of the sheet."""
    over = np.array([1.0, side, 1.0])
    span = max(1e-9, abs(second[1]) - abs(first[1]))
    share = min(max((abs(start[1]) - abs(first[1])) / span, 0.0), 1.0)
    at = first + (second - first) * share
    normal = hinge.frame[:3, 2]
    way = 1.0 if float((start * over - at) @ normal) > 0 else -1.0
    return np.asarray((at + way * horn * normal) * over, dtype=np.float64)


def _rod(
    hinge: Hinge,
    servo: Equipment,
    shaft: Floats,
    start: Floats,
    end: Floats,
    side: float,
) -> PushRod:
    point, axis = hinge.axis()
    port = hinge.moving.sides == "pair" and side < 0
    if port:
        over = np.array([1.0, -1.0, 1.0])
        point, axis = over * point, -over * axis
    word = next((f", {w}" for w in ("starboard", "port") if servo.name.endswith(w)), "")
    return PushRod(
        name=f"{servo.name.split(' servo')[0]} push-rod{word}",
        servo=servo.name,
        moves=hinge.moving.name,
        copy=1 if port else 0,
        shaft_mm=point3(shaft),
        arm_mm=point3(start),
        horn_mm=point3(end),
        axis_mm=(point3(point), point3(axis)),
        up_rad=hinge.up_rad,
        down_rad=hinge.down_rad,
        bends=servo.rod in {"push-rod-tube", "pull-line"},
    )
