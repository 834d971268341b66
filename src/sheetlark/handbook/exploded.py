"""Where each thing stands in an exploded view: moved out of its place until nothing covers anything.

Words: an item's *shadow* is what it covers of the picture; its *base* is what it stays with (an elevator with its
tailplane, a cover with the formers under it). Things are set down one after another from the middle of the model
outwards. Each is moved from its base along the direction it would be pulled off, just until its shadow is clear of
all that stand already. So every part is seen whole, and no line of one can hide behind another.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sheetlark.handbook.order import units
from sheetlark.handbook.pieces import Floats, Item, Model
from sheetlark.handbook.scene import Eye, bars

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

STEP_MM = 3.0
FAR_MM = 1800.0
UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)
AFT, AHEAD = (1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)
STARBOARD, PORT = (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)
Way = tuple[float, float, float]
_HINGED = ("elevator", "rudder", "aileron", "elevon", "flaperon")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moved:
    """An item out of its place.

    base_mm, offset_mm : shape (3,), how far what it stays with has moved, and how far it has [mm]
    shadow : what it covers of the picture there, shapely, picture axes [mm]
    """

    item: Item
    base_mm: Floats
    offset_mm: Floats
    shadow: Any


def explode(model: Model, eye: Eye, gap_mm: float) -> tuple[Moved, ...]:
    """Every item where it stands in the exploded view, no two shadows nearer than a gap.

    Parameters
    ----------
    gap_mm : float
        Least distance between two shadows. [mm]
    """
    return _Bench(model, eye, gap_mm).all()


def shadow(item: Item, axes: Floats) -> BaseGeometry:
    """What an item covers, seen along the third of the axes, its openings counted as covered."""
    from shapely import unary_union
    from shapely.geometry import MultiPoint, Polygon

    flat = (
        [(p.outline, p.matrix, item.thickness_mm) for p in item.pieces]
        if item.part is not None
        else [(outline, matrix, thickness) for outline, _, matrix, thickness in bars(item)]
    )
    found: list[Any] = []
    for outline, matrix, thickness in flat:
        faces = []
        for w in (0.5 * thickness, -0.5 * thickness):
            place = matrix[:3, 3] + w * matrix[:3, 2]
            faces.append(((outline @ matrix[:3, :2].T + place) @ axes.T)[:, :2])
        found += [Polygon(face).buffer(0) for face in faces]
        # The walls between both faces: a strip along the outline as thick as they stand apart.
        shift = faces[1][0] - faces[0][0]
        if float(np.hypot(*shift)) > 0.3:
            middle = Polygon(0.5 * (faces[0] + faces[1])).buffer(0)
            found.append(middle.boundary.buffer(0.5 * float(np.hypot(*shift)), quad_segs=2))
        if len(outline) <= 4:
            found.append(MultiPoint(np.concatenate(faces)).convex_hull)
    whole: BaseGeometry = unary_union(found).simplify(0.4)
    return whole


class _Bench:
    """Where things are set down."""

    def __init__(self, model: Model, eye: Eye, gap_mm: float) -> None:
        import shapely

        self.model = model
        self.axes = eye.axes()
        self.row_gap = 5.0 * gap_mm  # numbers have to stand between the formers
        self.shadows = [shadow(item, self.axes) for item in model.items]
        self.wide = [shapely.simplify(s.buffer(gap_mm, quad_segs=2), 0.8) for s in self.shadows]
        self.boxes = [self._box(item) for item in model.items]
        self.done: dict[int, Moved] = {}
        self.body = [i.index for i in model.items if _group(i) in ("body", "drive")]
        self.stations: list[tuple[float, float]] = []

    def all(self) -> tuple[Moved, ...]:
        """Set everything down, from the middle outwards."""
        self._crosswise()
        for index in self._unset(lambda i: "tray" in i.name):
            self.put(index, self.stretch(index), (UP, DOWN))
        self._sides()
        self._covers()
        for index in self._unset(lambda i: _group(i) in ("body", "drive")):
            self._beside_host(index)
        for index in self._unset(lambda i: _group(i) == "gear"):
            self.put(index, self.stretch(index), (DOWN, AHEAD, AFT))
        self._struts("cabane")
        for group, ways in (("tail", (AFT, UP, DOWN)), ("fin", (UP, AFT, DOWN))):
            self._surfaces(group, ways)
        self._wings(upper=False)
        self._struts("")
        self._wings(upper=True)
        for index in self._unset(lambda _: True):
            self._beside_host(index)
        return tuple(self.done[i.index] for i in self.model.items)

    def put(self, index: int, base: Floats, ways: Sequence[Way]) -> None:
        """Set an item down."""
        self._set(index, base, self._clear(self.wide[index], base, ways))

    def _clear(self, wide: Any, base: Floats, ways: Sequence[Way]) -> Floats:
        """Where a shadow with room about it is clear: of the ways the soonest, the first preferred."""
        import shapely

        standing = [m.shadow for m in self.done.values()]
        tree = shapely.STRtree(standing)
        steps = np.arange(0.0, FAR_MM, STEP_MM)
        best: tuple[float, Floats] | None = None
        for rank, way in enumerate(ways):
            least = np.inf if best is None else best[0]
            dear = 1.0 + 0.35 * rank
            for batch in np.array_split(steps, 60):
                if batch[0] * dear >= least:
                    break
                offsets = base + batch[:, None] * np.asarray(way)
                flat = offsets @ self.axes.T
                tried = [self._at(wide, xy) for xy in flat[:, :2]]
                hit = np.zeros(len(tried), dtype=bool)
                if standing:
                    hit[np.unique(tree.query(tried, predicate="intersects")[0])] = True
                if not hit.all():
                    first = int(np.argmin(hit))
                    if batch[first] * dear < least:
                        best = (float(batch[first]) * dear, offsets[first])
                    break
        return base if best is None else best[1]

    def _set(self, index: int, base: Floats, offset: Floats) -> None:
        self.done[index] = Moved(
            item=self.model.items[index],
            base_mm=base,
            offset_mm=offset,
            shadow=self._at(self.shadows[index], (offset @ self.axes.T)[:2]),
        )

    @staticmethod
    def _at(shape: Any, xy: Floats) -> Any:
        import shapely

        return shapely.transform(shape, lambda p: p + xy)

    @staticmethod
    def _box(item: Item) -> tuple[Floats, Floats]:
        return item.points.min(axis=0), item.points.max(axis=0)

    def _unset(self, which: Any) -> list[int]:
        return [i.index for i in self.model.items if i.index not in self.done and which(i)]

    def stretch(self, index: int) -> Floats:
        """How far the body has been drawn out where an item sits."""
        if not self.stations:
            return np.zeros(3)
        low, high = self.boxes[index]
        x, moved = np.array(self.stations).T
        return np.array([float(np.interp(0.5 * (low[0] + high[0]), x, moved)), 0.0, 0.0])

    def _crosswise(self) -> None:
        """Formers, firewall and nose in a row along the body, drawn out like a telescope."""

        def across(index: int) -> bool:
            low, high = self.boxes[index]
            wide = high - low
            return bool(wide[0] < 0.5 * wide[1] and wide[0] < 0.5 * wide[2])

        row = sorted((i for i in self.body if across(i)), key=lambda i: self.boxes[i][0][0])
        if not row:
            return
        middle = len(row) // 2
        before: dict[int, int] = {}
        for index, start, way in (
            *((i, middle, AHEAD) for i in reversed(row[: middle + 1])),
            *((i, middle, AFT) for i in row[middle + 1 :]),
        ):
            neighbour = before.get(0 if way is AHEAD else 1, row[start])
            base = self.done[neighbour].offset_mm if neighbour in self.done else np.zeros(3)
            ways: tuple[Way, ...] = (way,)
            if neighbour in self.done and abs(self.boxes[index][0][0] - self.boxes[neighbour][0][0]) < 1.0:
                higher = self.boxes[index][1][2] > self.boxes[neighbour][1][2]
                ways = (UP,) if higher else (DOWN,)
                base = base * np.array([1.0, 1.0, 0.0])
            level = base * np.array([1.0, 1.0, 0.0])
            room = (
                self.shadows[index].buffer(self.row_gap, quad_segs=2) if ways == (way,) else self.wide[index]
            )
            self._set(index, level, self._clear(room, level, ways))
            if ways == (way,):
                before[0 if way is AHEAD else 1] = index
        self.stations = sorted(
            (
                float(0.5 * (self.boxes[i][0][0] + self.boxes[i][1][0])),
                float(self.done[i].offset_mm[0]),
            )
            for i in row
        )

    def _sides(self) -> None:
        for index in self._unset(lambda i: i.name.startswith("body side")):
            starboard = self.boxes[index][1][1] > -self.boxes[index][0][1]
            self.put(index, self.stretch(index), (STARBOARD if starboard else PORT,))

    def _covers(self) -> None:
        covers = self._unset(lambda i: "cover" in i.name or "deck" in i.name)
        if not covers:
            return
        middle = self._middle_z()
        # nearest the nose first, covers before the decks above them
        for index in sorted(covers, key=lambda i: ("deck" in self.model.items[i].name, self.boxes[i][0][0])):
            name = self.model.items[index].name
            above = "top" in name or "deck" in name or ("bottom" not in name and self._z(index) > middle)
            self.put(index, self.stretch(index), (UP,) if above else (DOWN,))

    def _z(self, index: int) -> float:
        low, high = self.boxes[index]
        return 0.5 * float(low[2] + high[2])

    def _middle_z(self) -> float:
        """Of the body; without one, of the wings."""
        among = [i for i in self.body if self.model.items[i].name.startswith("body side")] or [
            i.index for i in self.model.items if _group(i) == "wing"
        ]
        return float(np.mean([self._z(i) for i in among])) if among else 0.0

    def _beside_host(self, index: int) -> None:
        """What is glued on or pushed through something: beside it."""
        ways: tuple[Way, ...] = (UP, DOWN, AHEAD, AFT, PORT, STARBOARD)
        hosts = [c.other(index) for c in self.model.of(index) if c.other(index) in self.done]
        base = self.done[hosts[0]].offset_mm if hosts else self.stretch(index)
        y = 0.5 * float(self.boxes[index][0][1] + self.boxes[index][1][1])
        if abs(y) > 3.0:
            ways = (STARBOARD if y > 0 else PORT, *ways)
        self.put(index, base, ways)

    def _struts(self, kind: str) -> None:
        for index in self._unset(lambda i: _group(i) == "strut" and kind in i.name):
            y = 0.5 * float(self.boxes[index][0][1] + self.boxes[index][1][1])
            out = STARBOARD if y > 0 else PORT
            self.put(index, self.stretch(index), (UP, out, AHEAD) if kind else (out, UP, DOWN))

    def _surfaces(self, group: str, ways: tuple[Way, ...]) -> None:
        for unit in self._units(group):
            self._unit(unit, self.stretch(max(unit, key=self._area)), ways)

    def _wings(self, *, upper: bool) -> None:
        middle = self._middle_z()
        for unit in sorted(self._units("wing"), key=lambda u: abs(self._z(max(u, key=self._area)) - middle)):
            above = self._z(max(unit, key=self._area)) >= middle - 8.0
            if above == upper:
                self._unit(unit, np.zeros(3), (UP,) if above else (DOWN,))

    def _units(self, group: str) -> Iterator[tuple[int, ...]]:
        for unit in units(self.model):
            first = max(unit, key=self._area)
            if _group(self.model.items[first]) == group and first not in self.done:
                yield tuple(sorted(unit))

    def _area(self, index: int) -> float:
        part = self.model.items[index].part
        return part.area_mm2 if part is not None else 0.0

    def _unit(self, unit: tuple[int, ...], base: Floats, ways: tuple[Way, ...]) -> None:
        """A surface made up of several: drawn apart by itself first, then moved as one."""
        import shapely

        others, self.done = self.done, {}
        self._apart(unit)
        alone, self.done = self.done, others
        whole = shapely.union_all(
            [self._at(self.wide[i], (self.axes @ m.offset_mm)[:2]) for i, m in alone.items()]
        )
        moved = self._clear(whole, base, ways)
        first = max(unit, key=self._area)
        for index, m in alone.items():
            start = base if index == first else moved + m.base_mm
            self._set(index, start, moved + m.offset_mm)

    def _apart(self, unit: tuple[int, ...]) -> None:
        """Panels first, then what is hinged to them, then what is let in."""
        items = self.model.items
        first = max(unit, key=self._area)
        panels = [first, *(i for i in unit if i != first and items[i].number == items[first].number)]
        for index in panels:
            low, high = self.boxes[index]
            y = 0.5 * float(low[1] + high[1])
            if len(panels) > 1 and abs(y) > 3.0:
                self.put(index, np.zeros(3), (STARBOARD if y > 0 else PORT,))
            else:
                self.put(index, np.zeros(3), (UP,))
        rest = [i for i in unit if i not in panels]
        rest.sort(key=lambda i: (not any(word in items[i].name for word in _HINGED), i))
        for index in rest:
            near = min(panels, key=lambda p: float(np.linalg.norm(items[p].centre - items[index].centre)))
            hinged = any(word in items[index].name for word in _HINGED)
            self.put(index, self.done[near].offset_mm, (AFT,) if hinged else (DOWN, AHEAD, UP, AFT))


def _group(item: Item) -> str:
    if item.part is not None:
        return item.part.group
    return item.rod.group if item.rod is not None else "body"
