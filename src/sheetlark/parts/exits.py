"""The ways push-rods need through sides, covers, decks and formers, through the whole of their travel."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sheetlark.outline import Floats
from sheetlark.parts.blank import Blank
from sheetlark.parts.body import Shell
from sheetlark.parts.facets import MITRE
from sheetlark.parts.kept import Kept, digest, keep, shape_stamp
from sheetlark.parts.part import Joint, Point3, PushRod
from sheetlark.parts.push_rods import positions
from sheetlark.parts.solids import polygons

# All of common practice, no source.
PASSAGE_MM = 3.5  # through a part: a rod of at most 2 mm, and 0.75 mm free all round
LONGEST_MM = 75.0  # of a slot for a rod that leaves the body at a slant
_RIM_MM = 4.0  # left between a slot and any other edge
POSITIONS = (
    5  # of the travel whose ways are joined into one slot; between them the rod moves by less than its play
)


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """All that one push-rod passes along.

    lines : shape (n, 2, 3), from arm to horn at n positions [mm]
    """

    rod: PushRod
    lines: Floats

    @classmethod
    def of(cls, rod: PushRod) -> Way:
        """Its whole travel."""
        return _WAYS.get(rod, lambda: cls(rod, np.array([(a, h) for _, a, h in positions(rod, POSITIONS)])))

    def at_rest(self) -> Way:
        """With its surface in the middle of its throw alone."""
        return Way(self.rod, self.lines[len(self.lines) // 2 :][:1])

    @property
    def note(self) -> str:
        return self.rod.name.split(",")[0]

    def mirrored(self) -> Way:
        """Where it would run on the other side."""
        return Way(self.rod, self.lines * (1.0, -1.0, 1.0))

    @property
    def stamp(self) -> bytes:
        """Stands for its lines, to the last bit: rounded, a slot made for one would be given to the next."""
        return digest(self.lines.tobytes())

    def cover(self, blank: Blank) -> Any:
        """What the rod and its play take of a part's sheet, facet by facet; None where it passes by."""
        key = (blank.places.stamp, blank.thickness, self.stamp)
        return _COVERS.get(key, lambda: self._cover(blank))

    def _cover(self, blank: Blank) -> Any:
        from shapely.ops import unary_union

        found = _pieces(blank, self.lines)
        return unary_union(found) if found else None


_WAYS: Kept[Way] = keep(200)


def _pieces(blank: Blank, lines: Floats) -> list[Any]:
    """What a rod and its play take of a part's sheet, line by line and facet by facet."""
    import shapely

    r = PASSAGE_MM / 2
    places = blank.places
    ends = np.concatenate([lines, np.ones((*lines.shape[:2], 1))], axis=2)
    a, b = ((places.inverse @ ends[:, None, k, :, None])[..., :3, 0] for k in (0, 1))
    run = b - a
    lean = run[..., 2] / np.linalg.norm(run, axis=-1)
    # The round rod's skin reaches the sheet's faces a little before and after its middle line does.
    reach = blank.thickness / 2 + r * np.sqrt(np.maximum(0.0, 1.0 - lean**2))
    flat = np.abs(run[..., 2]) < 1e-9
    rise = np.where(flat, 1.0, run[..., 2])
    one, other = (-reach - a[..., 2]) / rise, (reach - a[..., 2]) / rise
    first = np.where(flat, 0.0, np.maximum(np.minimum(one, other), 0.0))
    last = np.minimum(np.maximum(one, other), 1.0)
    last = np.where(flat, np.where(np.abs(a[..., 2]) > reach, -1.0, 1.0), last)
    enter, leave = (a[..., :2] + share[..., None] * run[..., :2] for share in (first, last))
    low, high = np.minimum(enter, leave) - r, np.maximum(enter, leave) + r
    near = (
        (first < last)
        & (low <= places.bounds[:, 2:]).all(axis=-1)
        & (high >= places.bounds[:, :2]).all(axis=-1)
    )
    if not near.any():
        return []
    ways: Any = shapely.buffer(
        shapely.linestrings(np.stack([enter[near], leave[near]], axis=1)), r, quad_segs=4
    )
    if places.facets[0].region is not None:
        ways = shapely.intersection(ways, [places.facets[i].region for i in np.nonzero(near)[1]])
    return [way for way in ways if not way.is_empty]


def exits(rods: list[Way], skins: list[Blank]) -> tuple[list[Blank], list[str]]:
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


def through_formers(rods: list[Way], formers: list[Blank], shell: Shell) -> None:
    """Cut the push-rods' ways through formers."""
    for rod in rods:
        for blank in formers:
            inside = float(shell.inside(float(blank.matrix[0, 3])))
            _through_former(blank, inside, rod, rod.note)


def _passed(blank: Blank, rods: list[Way]) -> list[Blank]:
    """A part with its rods' ways cut; of a pair whose two sides now differ, one pattern each."""
    if blank.sides != "pair":
        for rod in rods:
            _pass(blank, rod, rod.note)
        return [blank]
    starboard = replace(
        blank, sides="one", marks=list(blank.marks), bevels=list(blank.bevels), _held=None, _boxes=None
    )
    port = replace(
        blank, sides="port", marks=list(blank.marks), bevels=list(blank.bevels), _held=None, _boxes=None
    )
    for rod in rods:
        _pass(starboard, rod, rod.note)
        _pass(port, rod.mirrored(), rod.note)
    if starboard.marks == blank.marks and port.marks == blank.marks:
        return [blank]
    if starboard.shape.equals(port.shape):
        blank.shape, blank.marks = starboard.shape, starboard.marks
        return [blank]
    starboard.name, port.name = f"{blank.name}, starboard", f"{blank.name}, port"
    return [starboard, port]


def slot_for(blank: Blank, way: Way) -> tuple[Any, bool] | None:
    """The slot a rod needs in a part, and whether it is short and lies clear of every other edge; None if none."""
    from shapely.geometry import box as rectangle

    ends = way.lines.reshape(-1, 3)
    if blank.out_of_reach(*ends.min(axis=0), *ends.max(axis=0), PASSAGE_MM):
        return None
    cover = way.cover(blank)
    if cover is None:
        return None
    plank = _is_plank(blank)
    near = blank.shape
    if not plank:  # only what lies near the slot matters: a part cut elsewhere leaves it as it was
        u0, v0, u1, v1 = cover.bounds
        edge = _RIM_MM + 1.0
        near = near.intersection(rectangle(u0 - edge, v0 - edge, u1 + edge, v1 + edge))
    key = (shape_stamp(near), shape_stamp(cover), plank)
    return _SLOTS.get(key, lambda: _found_slot(near, cover, plank=plank))


_COVERS: Kept[Any] = keep(300)
_SLOTS: Kept[tuple[Any, bool] | None] = keep(300)


def _found_slot(shape: Any, cover: Any, *, plank: bool) -> tuple[Any, bool] | None:
    if cover.intersection(shape).area < 2.0:
        return None
    slot = cover.convex_hull
    box = np.asarray(slot.minimum_rotated_rectangle.exterior.coords)
    longest = float(np.linalg.norm(np.diff(box[:3], axis=0), axis=1).max())
    return slot, longest <= LONGEST_MM and _has_room(shape, slot, plank=plank)


def _has_room(shape: Any, slot: Any, *, plank: bool) -> bool:
    """Whether a slot leaves a rim all round; a plank, glued to its neighbours, may be notched instead."""
    if shape.contains(slot.buffer(_RIM_MM)):
        return True
    if not plank:
        return False
    left = max((p.area for p in polygons(shape.difference(slot))), default=0.0)
    return left > 0.7 * float(shape.area) and left > 0.98 * float(shape.difference(slot).area)


def _is_plank(blank: Blank) -> bool:
    return blank.where[-1:] == ("planks",)


def _pass(blank: Blank, rod: Way, note: str) -> None:
    """Cut a rod's way through a part; where no clean slot has room, draw where it is to be opened."""
    found = slot_for(blank, rod)
    if found is None:
        return
    slot, whole = found
    if whole:
        blank.take(slot)
        if _is_plank(blank):
            blank.drop_slivers(_RIM_MM)
    ring = slot.buffer(1.0, join_style=MITRE).exterior.coords
    blank.mark(
        "place", [(float(u), float(v)) for u, v in ring], f"{note}{' exit' if whole else ': open to suit'}"
    )


def _through_former(blank: Blank, inside: float, rod: Way, note: str) -> None:
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
    slot = _joined(slot, blank.shape)
    left = max(polygons(blank.shape.difference(slot)), key=lambda p: p.area, default=None)
    if left is None or left.area < 0.9 * blank.shape.area:
        blank.mark("place", [(u0, v0), (u1, v0), (u1, v1), (u0, v1), (u0, v0)], f"{note}: open to suit")
        return
    blank.take(slot)


def _joined(slot: Any, shape: Any) -> Any:
    """A slot, widened into a former's opening where the bridge between them is too thin to stay."""
    from shapely.geometry import Polygon
    from shapely.ops import nearest_points, unary_union

    for ring in (Polygon(r) for r in shape.interiors):
        if 0.0 < slot.distance(ring) < _RIM_MM:
            beyond = nearest_points(ring.buffer(-1.0), slot)[0].buffer(PASSAGE_MM / 2, quad_segs=4)
            slot = unary_union([slot, beyond]).convex_hull
    return slot


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
