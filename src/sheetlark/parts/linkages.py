"""Push-rods: the way each runs from its servo to its horn, the slots it needs, and the horns' own slots.

A push-rod is tried as a round rod as thick as its sleeve, straight from the servo's arm to the horn's hole. What it
covers of a side, a deck, a cover or a former is cut away; where it crosses so flatly that the slot would weaken the
part, the slot is kept short and the wire is bent to it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sheetlark.airframe import Equipment
from sheetlark.outline import Floats
from sheetlark.parts.bays import size_mm
from sheetlark.parts.blank import MITRE, Blank
from sheetlark.parts.body import Shell
from sheetlark.parts.kept import Kept, keep, shape_stamp
from sheetlark.parts.panels import Hinge, Panel, edge_run
from sheetlark.parts.part import Joint, Point3
from sheetlark.parts.solids import polygons
from sheetlark.stock import Stock

# All of common practice, no source; the arm and the horn are those of a 5 to 9 g servo, from memory.
PASSAGE_MM = 4.0  # through a part: a wire of 1 to 1.5 mm in its sleeve, and 1 mm free
LONGEST_MM = 32.0  # of a slot for a rod that leaves the body at a slant
ARM_MM = 10.0  # from the servo's axis to the hole of its arm
ARM_ABOVE_MM = 4.0  # the arm over the servo's case
HORN_HOLE_MM = 12.0  # from the hinge line to the hole of the horn
HORN_FOOT_MM = (10.0, 1.8)  # of the horn's tongue through the sheet: along the chord, across it
_RIM_MM = 4.0  # left between a slot and any other edge
_HORN_BEHIND_MM = 2.0  # from the end of the hinge's bevel to the horn's tongue


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PushRod:
    """One push-rod of the body.

    moves : name of the moving part
    start, end : arm and horn hole on the geometry axes [mm]
    """

    moves: str
    start: Floats
    end: Floats

    def mirrored(self) -> PushRod:
        """Where it would run on the other side."""
        over = np.array([1.0, -1.0, 1.0])
        return replace(self, start=self.start * over, end=self.end * over)

    def cover(self, blank: Blank) -> Any:
        """What the rod and its play take of a part's sheet, facet by facet; None where it passes by."""
        from shapely.geometry import LineString
        from shapely.ops import unary_union

        r = PASSAGE_MM / 2
        places = blank.places
        a = (places.inverse @ np.array([*self.start, 1.0]))[:, :3]
        run = (places.inverse @ np.array([*self.end, 1.0]))[:, :3] - a
        lean = run[:, 2] / np.linalg.norm(run, axis=1)
        # The round rod's skin reaches the sheet's faces a little before and after its middle line does.
        reach = blank.thickness / 2 + r * np.sqrt(np.maximum(0.0, 1.0 - lean**2))
        flat = np.abs(run[:, 2]) < 1e-9
        rise = np.where(flat, 1.0, run[:, 2])
        meets = np.sort(np.stack([(-reach - a[:, 2]) / rise, (reach - a[:, 2]) / rise]), axis=0)
        first = np.where(flat, 0.0, np.maximum(meets[0], 0.0))
        last = np.where(flat, np.where(np.abs(a[:, 2]) > reach, -1.0, 1.0), np.minimum(meets[1], 1.0))
        enter, leave = a[:, :2] + first[:, None] * run[:, :2], a[:, :2] + last[:, None] * run[:, :2]
        low, high = np.minimum(enter, leave) - r, np.maximum(enter, leave) + r
        near = (
            (first < last)
            & (low <= places.bounds[:, 2:]).all(axis=1)
            & (high >= places.bounds[:, :2]).all(axis=1)
        )
        found = []
        for i in np.flatnonzero(near):
            way = LineString([enter[i], leave[i]]).buffer(r, quad_segs=4)
            region = places.facets[i].region
            if region is not None:
                way = way.intersection(region)
            if not way.is_empty:
                found.append(way)
        return unary_union(found) if found else None


def rods_and_horns(
    panels: list[Panel], servos: tuple[Equipment, ...], shell: Shell | None, stock: Stock, skins: list[Blank]
) -> list[PushRod]:
    """Cut the horns' slots into what they move; return the rods that start inside the body.

    skins : what a rod may leave the body by; of the places a horn may stand, the first is taken from which the rod
        leaves cleanly
    """
    rods: list[PushRod] = []
    done: set[str] = set()
    hinges = [h for p in panels for h in p.hinges]
    for servo in servos:
        moves = servo.name.split(" servo")[0]
        for hinge in hinges:
            name = hinge.moving.name
            if not name.endswith(moves) or name in done:
                continue
            ways = _ways(hinge, servo, shell, stock)
            rod = next((w for w in ways if _leaves(w, skins)), ways[0] if ways else None)
            if rod is not None:
                rods.append(rod)
            if _cut_horn(hinge, 1e3 * np.asarray(servo.at_m) if rod is None else rod.end):
                done.add(name)
    return rods


def _ways(hinge: Hinge, servo: Equipment, shell: Shell | None, stock: Stock) -> list[PushRod]:
    """From a servo inside the body to a horn outside it, likeliest first; none for a servo that sits in a wing."""
    size = size_mm(servo, stock)
    x, y, z = 1e3 * np.asarray(servo.at_m)
    if shell is None or size is None or not shell.nose < x < shell.tail:
        return []
    low, high = shell.heights(x)
    inside = float(shell.inside(x))
    first, second = _span(hinge)
    upright = hinge.moving.group == "fin"
    if abs(y) > inside or not low < z < high or (upright and abs(first[1]) > 30.0):
        return []  # in a wing; or fins at the ends of a tailplane, whose rods run along that
    side = 1.0 if y >= 0 else -1.0
    top = min(z + size[2] / 2 + ARM_ABOVE_MM, high - shell.t - PASSAGE_MM / 2)
    starts = [
        np.array([x, side * min(abs(y) + arm, inside - PASSAGE_MM / 2 - 1.0), top])
        for arm in (ARM_MM, -ARM_MM)
    ]
    length = max(1.0, float(np.linalg.norm(second - first)))
    ends = []
    if upright:
        out = np.array([0.0, side * (hinge.moving.thickness / 2 + HORN_HOLE_MM), 0.0])
        ends = [
            first + (second - first) * min(1.0, up / length) + out for up in (9.0, 15.0, 22.0, 30.0, 40.0)
        ]
    else:
        station = 0.5 * (first[0] + second[0])
        outer = float(shell.inside(min(max(station, shell.nose), shell.tail))) + shell.t
        near = max(abs(y) + ARM_MM, outer + 6.0, abs(first[1]) + 8.0 if hinge.moving.sides == "pair" else 0.0)
        lift = np.array([0.0, 0.0, -HORN_HOLE_MM if z < first[2] else HORN_HOLE_MM])
        for reach in (near, near + 6.0, near + 12.0, near + 20.0):
            share = min(max((reach - abs(first[1])) / max(1e-9, abs(second[1]) - abs(first[1])), 0.0), 1.0)
            ends.append((first + (second - first) * share) * (1.0, side, 1.0) + lift)
    return [PushRod(moves=hinge.moving.name, start=start, end=end) for start in starts for end in ends]


def _leaves(rod: PushRod, skins: list[Blank]) -> bool:
    """Whether it leaves the body, and every slot it needs has room."""
    either = (rod, rod.mirrored())
    crosses = False
    for blank in skins:
        for way in either if blank.sides == "pair" else either[:1]:
            found = _slot(blank, way)
            if found is not None and not found[1]:
                return False
            crosses |= found is not None
    return crosses


def _span(hinge: Hinge) -> tuple[Floats, Floats]:
    """Both ends of a moving part's own hinge edge on the geometry axes, the inner or lower one first."""
    along = (hinge.end - hinge.start) / np.linalg.norm(hinge.end - hinge.start)
    low, high = edge_run(hinge.moving.shape, hinge.start + 0.3 * np.array([along[1], -along[0]]), along)
    if hinge.moving.sides == "one" and hinge.moving.group != "fin":
        low = max(low, float(-hinge.start @ along))  # one piece across the middle: its starboard half
    ends = [hinge.start + s * along for s in (low, high)]
    a, b = ((hinge.frame @ np.array([*e, 0.0, 1.0]))[:3] for e in ends)
    return a, b


def _cut_horn(hinge: Hinge, at: Floats) -> bool:
    """A slot across the hinge line for the horn's tongue, as near to a place as the part allows."""
    from shapely.affinity import scale
    from shapely.geometry import Polygon

    moving = hinge.moving
    along = (hinge.end - hinge.start) / np.linalg.norm(hinge.end - hinge.start)
    aft = np.array([along[1], -along[0]])
    starboard = at * (1.0, -1.0, 1.0) if at[1] < 0 and moving.group != "fin" else at
    local = (np.linalg.inv(hinge.frame) @ np.array([*starboard, 1.0]))[:2]
    want = float((local - hinge.start) @ along)
    length, width = HORN_FOOT_MM
    setback = max((b.setback_mm for b in moving.bevels), default=0.0)
    back = 0.25 + setback + _HORN_BEHIND_MM
    across = moving.sides == "one" and moving.group != "fin"
    for step in (0.0, 2.0, -2.0, 4.0, -4.0, 7.0, -7.0, 10.0, -10.0, 14.0, 18.0, 24.0):
        foot = hinge.start + (want + step) * along
        corners = [
            foot + u * aft + v * along
            for u, v in (
                (back, -width / 2),
                (back + length, -width / 2),
                (back + length, width / 2),
                (back, width / 2),
            )
        ]
        slot: Any = Polygon(corners)
        if across and at[1] < 0:
            slot = scale(slot, 1.0, -1.0, origin=(0, 0))
        if not moving.shape.contains(slot.buffer(_RIM_MM - 1.0)):
            continue
        moving.take(slot)
        which = "" if moving.sides == "one" or moving.group == "wing" else ", one half only"
        ring = [(float(u), float(v)) for u, v in slot.buffer(1.0, join_style=MITRE).exterior.coords]
        moving.mark("place", ring, f"horn{which}")
        return True
    return False


def exits(rods: list[PushRod], skins: list[Blank]) -> tuple[list[Blank], list[str]]:
    """Cut the push-rods' ways through sides, covers and decks.

    Returns
    -------
    skins : list of Blank
        What was a pair is two patterns where the rods make its two sides unlike.
    parted : list of str
        The names that became two.
    """
    found: list[Blank] = []
    parted = []
    for blank in skins:
        made = _passed(blank, rods)
        found += made
        if len(made) == 2:
            parted.append(blank.name)
    return found, parted


def through_formers(rods: list[PushRod], formers: list[Blank], shell: Shell) -> None:
    """Cut the push-rods' ways through formers."""
    for rod in rods:
        for blank in formers:
            inside = float(shell.inside(float(blank.matrix[0, 3])))
            _through_former(blank, inside, rod, f"{rod.moves} push-rod")


def _passed(blank: Blank, rods: list[PushRod]) -> list[Blank]:
    """A part with its rods' ways cut; of a pair whose two sides now differ, one pattern each."""
    if blank.sides != "pair":
        for rod in rods:
            _pass(blank, rod, f"{rod.moves} push-rod")
        return [blank]
    starboard = replace(
        blank, sides="one", marks=list(blank.marks), bevels=list(blank.bevels), _held=None, _boxes=None
    )
    port = replace(
        blank, sides="port", marks=list(blank.marks), bevels=list(blank.bevels), _held=None, _boxes=None
    )
    for rod in rods:
        _pass(starboard, rod, f"{rod.moves} push-rod")
        _pass(port, rod.mirrored(), f"{rod.moves} push-rod")
    if starboard.marks == blank.marks and port.marks == blank.marks:
        return [blank]
    if starboard.shape.equals(port.shape):
        blank.shape, blank.marks = starboard.shape, starboard.marks
        return [blank]
    starboard.name, port.name = f"{blank.name}, starboard", f"{blank.name}, port"
    return [starboard, port]


def _slot(blank: Blank, rod: PushRod) -> tuple[Any, bool] | None:
    """The slot a rod needs in a part, kept short, and whether it lies clear of every other edge; None if none."""
    ends = np.array([rod.start, rod.end])
    if blank.out_of_reach(*ends.min(axis=0), *ends.max(axis=0), PASSAGE_MM):
        return None
    key = (
        shape_stamp(blank.shape),
        blank.places.stamp,
        blank.thickness,
        rod.start.tobytes(),
        rod.end.tobytes(),
    )
    return _SLOTS.get(key, lambda: _found_slot(blank, rod))


_SLOTS: Kept[tuple[Any, bool] | None] = keep(300)


def _found_slot(blank: Blank, rod: PushRod) -> tuple[Any, bool] | None:
    import shapely
    from shapely.affinity import translate
    from shapely.geometry import box

    cover = rod.cover(blank)
    if cover is None:
        return None
    shape = blank.shape
    if cover.intersection(shape).area < 2.0:
        return None
    slot = cover.convex_hull
    u0, v0, u1, v1 = cover.intersection(shape).bounds
    mid_u, mid_v, half = 0.5 * (u0 + u1), 0.5 * (v0 + v1), LONGEST_MM / 2
    slot = slot.intersection(box(mid_u - half, mid_v - half, mid_u + half, mid_v + half)).convex_hull
    if slot.area <= 4.0:
        return slot, False
    along_u = u1 - u0 > v1 - v0
    rim = slot.buffer(_RIM_MM)
    shapely.prepare(shape)
    for step in (0, -4, 4, -8, 8, -12, 12, -16, -22, 16, -30, 22, 30):
        by = (step, 0.0) if along_u else (0.0, step)
        if shape.contains(translate(rim, *by)):
            return translate(slot, *by), True
    return slot, False


def _pass(blank: Blank, rod: PushRod, note: str) -> None:
    """Cut a rod's way through a part; where no clean slot has room, draw where it is to be opened."""
    found = _slot(blank, rod)
    if found is None:
        return
    slot, whole = found
    if whole:
        blank.take(slot)
    ring = slot.buffer(1.0, join_style=MITRE).exterior.coords
    blank.mark(
        "place", [(float(u), float(v)) for u, v in ring], f"{note}{' exit' if whole else ': open to suit'}"
    )


def _through_former(blank: Blank, inside: float, rod: PushRod, note: str) -> None:
    """A hole, or a notch in the edge it runs along, between the sides; tabs are left alone."""
    from shapely.geometry import box

    cover = rod.cover(blank)
    if cover is None:
        return
    slot = cover.convex_hull.intersection(box(-inside, -1e4, inside, 1e4))
    if slot.area < 2.0 or slot.intersection(blank.shape).area < 1.0:
        return
    u0, v0, u1, v1 = slot.bounds
    if (
        max(abs(u0), abs(u1)) > inside - _RIM_MM
    ):  # a wall so thin between hole and side breaks out: it goes as well
        slot = box(u0, v0, inside, v1) if u0 + u1 > 0 else box(-inside, v0, u1, v1)
    left = max(polygons(blank.shape.difference(slot)), key=lambda p: p.area, default=None)
    if left is None or left.area < 0.9 * blank.shape.area:
        blank.mark("place", [(u0, v0), (u1, v0), (u1, v1), (u0, v1), (u0, v0)], f"{note}: open to suit")
        return
    blank.take(slot)


def sided(joints: list[Joint], name: str) -> list[Joint]:
    """Joints of a pair whose two patterns differ: each side's runs with its own name."""
    found: list[Joint] = []
    for joint in joints:
        if name not in {joint.first, joint.second}:
            found.append(joint)
            continue
        if joint.first == joint.second:  # a part that meets its own mirror image
            found.append(replace(joint, first=f"{name}, starboard", second=f"{name}, port"))
            continue
        for word, sign in (("starboard", 1.0), ("port", -1.0)):
            runs = tuple(r for run in joint.runs_mm if (r := _on_side(run, sign)))
            if runs:
                rename = (
                    {"first": f"{name}, {word}"} if joint.first == name else {"second": f"{name}, {word}"}
                )
                found.append(replace(joint, runs_mm=runs, **rename))  # type: ignore[arg-type]
    return found


def _on_side(run: tuple[Point3, ...], sign: float) -> tuple[Point3, ...]:
    """A run as far as it lies on one side of the centre plane; one that crosses is cut there."""
    y = [sign * p[1] for p in run]
    if max(y) <= 0:
        return ()
    if min(y) >= 0:
        return run
    (a, b) = run[0], run[-1]
    t = a[1] / (a[1] - b[1])
    middle = (a[0] + t * (b[0] - a[0]), 0.0, a[2] + t * (b[2] - a[2]))
    return (middle, b) if sign * b[1] > 0 else (a, middle)
