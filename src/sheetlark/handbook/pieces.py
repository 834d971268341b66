"""The things a builder puts together, one by one, and where they meet.

Words: an *item* is one copy of a part, or one rod; a *contact* is where two items meet, with the lines along
which they are glued, taped or slid together. Millimetres, geometry axes.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from sheetlark.parts import Joint, Kit, Part, Piece, RodPiece

if TYPE_CHECKING:
    from shapely.geometry import Polygon

_TOUCH_MM = 6.0  # a sheet's thickness and a bit

Floats = npt.NDArray[np.float64]
Run = tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Item:
    """One copy of a part, or one rod.

    index : its place in the list of items
    copy : which copy, from 0. part : None for a rod. rod : None for a part
    """

    index: int
    name: str
    part: Part | None
    rod: RodPiece | None
    copy: int = 0

    @property
    def number(self) -> int:
        """Its number on the sheets; 0 for a rod."""
        return self.part.number if self.part is not None else 0

    @property
    def pieces(self) -> tuple[Piece, ...]:
        return self.part.copies[self.copy] if self.part is not None else ()

    @property
    def thickness_mm(self) -> float:
        if self.part is not None:
            return self.part.thickness_mm
        assert self.rod is not None
        return min(self.rod.width_mm, self.rod.height_mm)

    @cached_property
    def polygons(self) -> tuple[Polygon, ...]:
        """Of each piece, in its own plane."""
        import shapely
        from shapely.geometry import Polygon

        found = tuple(_sound(Polygon(piece.outline, piece.holes)) for piece in self.pieces)
        for polygon in found:
            shapely.prepare(polygon)
        return found

    @cached_property
    def inverses(self) -> tuple[Floats, ...]:
        """From the geometry axes into each piece's plane."""
        return tuple(np.asarray(np.linalg.inv(piece.matrix), dtype=np.float64) for piece in self.pieces)

    @cached_property
    def points(self) -> Floats:
        """Its outline, or its line, in space, shape (n, 3)."""
        if self.rod is not None:
            return np.asarray(self.rod.points_mm, dtype=np.float64)
        found = [_place(piece.matrix, piece.outline) for piece in self.pieces]
        return np.concatenate(found)

    @cached_property
    def centre(self) -> Floats:
        return np.asarray(0.5 * (self.points.min(axis=0) + self.points.max(axis=0)))

    @property
    def normal(self) -> Floats:
        """Of its first piece; of a rod, its direction."""
        if self.rod is not None:
            run = np.asarray(self.rod.points_mm, dtype=np.float64)
            along = run[-1] - run[0]
            return np.asarray(along / np.linalg.norm(along))
        return np.asarray(self.pieces[0].matrix[:3, 2])

    @cached_property
    def inside(self) -> Floats:
        """A spread of points well inside its sheet, in space, shape (n, 3): they are what must pass another item."""
        if self.rod is not None:
            a, b = (np.asarray(p, dtype=np.float64) for p in (self.rod.start_mm, self.rod.end_mm))
            return np.asarray(a + np.linspace(0.1, 0.9, 7)[:, None] * (b - a))
        import shapely

        found = []
        fine = 7 if len(self.pieces) == 1 else 3
        for piece, polygon in zip(self.pieces, self.polygons, strict=True):
            core = polygon.buffer(-min(3.0, 0.25 * min(_extent(polygon))))
            if core.is_empty:
                core = polygon
            x0, y0, x1, y1 = core.bounds
            gx, gy = np.meshgrid(np.linspace(x0, x1, fine + 2)[1:-1], np.linspace(y0, y1, fine + 2)[1:-1])
            keep = shapely.contains_xy(core, gx.ravel(), gy.ravel())
            flat = np.column_stack([gx.ravel()[keep], gy.ravel()[keep]])
            if not len(flat):
                inner = core.representative_point()
                flat = np.array([[inner.x, inner.y]])
            found.append(_place(piece.matrix, flat))
        return np.concatenate(found)

    def distance_to(self, point: Floats) -> float:
        """From its material to a point in space. [mm]."""
        if self.rod is not None:
            run = np.asarray(self.rod.points_mm, dtype=np.float64)
            return min(_to_segment(point, a, b) for a, b in itertools.pairwise(run))
        from shapely.geometry import Point

        best = np.inf
        for inverse, polygon in zip(self.inverses, self.polygons, strict=True):
            u, v, w, _ = inverse @ np.array([*point, 1.0])
            off = max(0.0, abs(w) - 0.5 * self.thickness_mm)
            best = min(best, float(np.hypot(off, polygon.distance(Point(u, v)))))
        return float(best)


def _sound(polygon: Polygon) -> Polygon:
    """A polygon fit to be asked, points that hardly bend it left out; the largest piece where it falls apart."""
    slim: Any = polygon.buffer(0).simplify(0.05)
    whole: Polygon = max(slim.geoms, key=lambda p: p.area) if hasattr(slim, "geoms") else slim
    return whole


def _extent(polygon: Any) -> tuple[float, float]:
    x0, y0, x1, y1 = polygon.bounds
    return x1 - x0, y1 - y0


def _place(matrix: Floats, flat: Floats) -> Floats:
    return np.asarray(flat @ matrix[:3, :2].T + matrix[:3, 3])


def _to_segment(p: Floats, a: Floats, b: Floats) -> float:
    along = b - a
    share = float(np.clip((p - a) @ along / max(float(along @ along), 1e-9), 0.0, 1.0))
    return float(np.linalg.norm(p - (a + share * along)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contact:
    """Where two items meet.

    host, guest : indices of the items; the host carries the line drawn where the guest goes
    runs_mm : lines along the joint; empty where the kit draws none and only their nearness tells
    """

    joint: Joint | None
    host: int
    guest: int
    runs_mm: tuple[Run, ...]

    @property
    def held(self) -> str:
        return self.joint.held if self.joint is not None else "glue"

    @property
    def kind(self) -> str:
        return self.joint.kind if self.joint is not None else "butt"

    @property
    def length_mm(self) -> float:
        """All its runs together. [mm]."""
        return float(
            sum(np.linalg.norm(np.subtract(b, a)) for run in self.runs_mm for a, b in itertools.pairwise(run))
        )

    def other(self, index: int) -> int:
        """The item it joins to the one given."""
        return self.guest if index == self.host else self.host


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Model:
    """Everything that is put together, and where it meets."""

    items: tuple[Item, ...]
    contacts: tuple[Contact, ...]

    def of(self, index: int) -> tuple[Contact, ...]:
        """Contacts of one item."""
        return tuple(c for c in self.contacts if index in (c.host, c.guest))


def take_apart(kit: Kit) -> Model:
    """Every copy of every part and every rod of a kit, and the contacts between them.

    A joint of the kit names parts; here each of its runs is given to the copies it touches. What no joint names
    (a plate screwed on, a wire leg) is put to whatever lies nearest.
    """
    items: list[Item] = []
    for part in kit.parts:
        for copy in range(part.count):
            items.append(Item(index=len(items), name=part.name, part=part, rod=None, copy=copy))
    for rod in kit.rods:
        items.append(Item(index=len(items), name=rod.name, part=None, rod=rod))
    named: dict[str, list[Item]] = {}
    for item in items:
        named.setdefault(item.name, []).append(item)
    found: dict[tuple[int, int, int], list[Run]] = {}
    for number, joint in enumerate(kit.joints):
        for run in joint.runs_mm:
            for pair in _pairs(named.get(joint.first, []), named.get(joint.second, []), run, held=joint.held):
                found.setdefault((number, *pair), []).append(run)
    contacts = [
        Contact(joint=kit.joints[number], host=host, guest=guest, runs_mm=tuple(runs))
        for (number, host, guest), runs in found.items()
    ]
    touched = {i for c in contacts for i in (c.host, c.guest)}
    for item in items:
        if item.index not in touched:
            host = _nearest(item, items)
            if host is not None:
                contacts.append(Contact(joint=None, host=host, guest=item.index, runs_mm=()))
                touched.add(host)
    return Model(items=tuple(items), contacts=tuple(contacts))


def _pairs(first: list[Item], second: list[Item], run: Run, *, held: str) -> list[tuple[int, int]]:
    """The copies a run lies between: one pair, or one at each end for a rod that passes through both sides."""
    points = [middle_of(run)]
    if held == "loose":
        points += [np.asarray(run[0], dtype=np.float64), np.asarray(run[-1], dtype=np.float64)]
    found: dict[tuple[int, int], float] = {}
    for point in points:
        if not first or not second:
            continue
        host = min(first, key=lambda i: (round(i.distance_to(point), 1), i.index))
        others = [i for i in second if i.index != host.index]
        if not others:
            continue
        guest = min(others, key=lambda i: (round(i.distance_to(point), 1), i.index))
        off = max(host.distance_to(point), guest.distance_to(point))
        pair = (host.index, guest.index)
        found[pair] = min(off, found.get(pair, np.inf))
    near = [pair for pair, off in found.items() if off < _TOUCH_MM]
    return near or list(found)[:1]


def middle_of(run: Run) -> Floats:
    """A point of a run, halfway along its middle stretch."""
    points = np.asarray(run, dtype=np.float64)
    k = (len(points) - 1) // 2
    return np.asarray(0.5 * (points[k] + points[min(k + 1, len(points) - 1)]))


def _nearest(item: Item, items: list[Item]) -> int | None:
    others = [i for i in items if i.index != item.index and i.part is not None]
    if not others:
        return None
    probe = item.inside if len(item.inside) <= 12 else item.inside[:: max(1, len(item.inside) // 12)]
    if item.rod is not None:
        probe = item.points
    return min(others, key=lambda o: min(o.distance_to(p) for p in probe)).index
