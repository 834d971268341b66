"""What can be reached, and what can be moved away, with other things in place.

Straight lines of sight are cast from points of a joint, and straight ways out from points of an item, against
every sheet of the model. Which sheet stops which line is found once; whether anything is free with any set of
things in place is then a matter of sets.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from sheetlark.handbook.pieces import Contact, Floats, Item, Model

if TYPE_CHECKING:
    from shapely.geometry import Polygon

Booleans = npt.NDArray[np.bool_]

# The 26 ways out of a cube's middle to its faces, edges and corners.
WAYS: Floats = np.array([w for w in itertools.product((-1.0, 0.0, 1.0), repeat=3) if any(w)])
WAYS = WAYS / np.linalg.norm(WAYS, axis=1)[:, None]
WAYS.setflags(write=False)
_FACES_FIRST = sorted(range(len(WAYS)), key=lambda w: (int(np.count_nonzero(np.abs(WAYS[w]) > 1e-9)), -w))
_OWN_MATERIAL_MM = (4.0, 8.0, 14.0)
_ENOUGH = 0.6  # share of a joint's points that must be in reach


def stopped(
    item: Item, origins: Floats, ways: Floats, *, from_mm: float = 0.3, to_mm: float = 900.0
) -> Booleans:
    """Which rays an item's sheet stops, shape (n,); origins and ways of shape (n, 3). A rod stops nothing."""
    found = np.zeros(len(origins), dtype=bool)
    for polygon, inverse in zip(item.polygons, item.inverses, strict=True):
        o = origins @ inverse[:3, :3].T + inverse[:3, 3]
        d = ways @ inverse[:3, :3].T
        steep = np.abs(d[:, 2]) > 1e-6
        t = np.where(steep, -o[:, 2] / np.where(steep, d[:, 2], 1.0), np.inf)
        crosses = np.flatnonzero(steep & (t > from_mm) & (t < to_mm) & ~found)
        at = o[crosses, :2] + t[crosses, None] * d[crosses, :2]
        found[crosses[_within(polygon, at)]] = True
        # a ray that runs along inside the sheet never crosses its middle: look where it gets to
        for reach in _OWN_MATERIAL_MM:
            left = np.flatnonzero(~found & (np.abs(d[:, 2]) < 0.5))
            p = o[left] + reach * d[left]
            deep = np.abs(p[:, 2]) < 0.5 * item.thickness_mm - 0.2
            left, p = left[deep], p[deep]
            found[left[_within(polygon, p[:, :2])]] = True
    return found


def _within(polygon: Polygon, at: Floats) -> Booleans:
    """Which points, shape (n, 2), lie in a polygon; its box first."""
    import shapely

    x0, y0, x1, y1 = polygon.bounds
    inside = (at[:, 0] > x0) & (at[:, 0] < x1) & (at[:, 1] > y0) & (at[:, 1] < y1)
    if inside.any():
        inside[inside] = shapely.contains_xy(polygon, at[inside, 0], at[inside, 1])
    return np.asarray(inside)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sight:
    """Lines of sight to one contact.

    stops : shape (items, points, ways), which item stops which line
    """

    stops: Booleans

    def share(self, placed: frozenset[int]) -> float:
        """Share of the contact's points that can be seen with these items in place."""
        if self.stops.shape[1] == 0:
            return 1.0
        rows = sorted(placed)
        blocked = np.any(self.stops[rows], axis=0) if rows else np.zeros(self.stops.shape[1:], dtype=bool)
        return float(np.mean(np.any(~blocked, axis=1)))


def _points_along(contact: Contact) -> Floats:
    found = []
    for run in contact.runs_mm:
        a = np.asarray(run, dtype=np.float64)
        for p, q in itertools.pairwise(a):
            count = 1 if np.linalg.norm(q - p) < 25.0 else 2 if np.linalg.norm(q - p) < 80.0 else 4
            found += [p + s * (q - p) for s in (np.arange(count) + 0.5) / count]
    if len(found) > 24:
        found = found[:: len(found) // 24 + 1]
    return np.array(found).reshape(-1, 3)


class Access:
    """What the things of a model do to each other's reach. All rays are cast once, at the start."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self._sights = _sights(model)
        self._ways = _stoppers(model)

    def sight(self, number: int) -> Sight:
        """Lines of sight to a contact."""
        return self._sights[number]

    def reachable(self, number: int, guest: int, rest: frozenset[int]) -> bool:
        """Whether glue can be run along a contact before its guest goes on, with the rest in place.

        A joint that even its host alone hides in part asks for no more than its host leaves.
        """
        contact = self.model.contacts[number]
        sight = self.sight(number)
        host = contact.other(guest)
        alone = sight.share(frozenset({host}))
        return sight.share(rest - {guest}) >= min(_ENOUGH, alone) - 1e-9

    def stoppers(self, index: int) -> tuple[frozenset[int], ...]:
        """For each way out, which items stand in the way of one item."""
        return self._ways[index]

    def way_out(self, unit: frozenset[int], placed: frozenset[int]) -> Floats | None:
        """A way along which items that move as one come free of what is in place, or None.

        Tabs leave along their slots, rods across their grooves, to within 25 degrees: a sheet gives, and a slot has play.

        Returns
        -------
        ndarray, shape (3,)
            A unit vector: one of `WAYS`, faces of the cube before edges and corners, or a slot's or a sheet's own.
        """
        rest = placed - unit
        slots = [
            self.model.items[c.host if self.model.items[c.host].part is not None else c.guest].normal
            for i in sorted(unit)
            for c in self.model.of(i)
            if c.kind in ("tab-and-slot", "groove") and c.other(i) in rest
        ]
        for w in self._liked(unit, rest):
            if all(abs(float(WAYS[w] @ n)) > 0.9 for n in slots) and not any(
                self.stoppers(i)[w] & rest for i in unit
            ):
                return np.asarray(WAYS[w])
        for way in self._own_ways(unit, slots):
            if all(abs(float(way @ n)) > 0.9 for n in slots) and not any(
                self._stands(i, way, rest) for i in unit
            ):
                return way
        return None

    def _liked(self, unit: frozenset[int], rest: frozenset[int]) -> list[int]:
        """The ways in the order a builder would try them: square to the sheet and away from what holds it, then the
        other faces of the cube, then edges and corners.
        """
        items = [self.model.items[i] for i in sorted(unit)]
        flat = [i for i in items if i.part is not None]
        if not flat:
            return _FACES_FIRST
        largest = max(flat, key=lambda i: i.part.area_mm2 if i.part is not None else 0.0)
        areas = [p.area for p in largest.polygons]
        normal = np.sum([a * p.matrix[:3, 2] for a, p in zip(areas, largest.pieces, strict=True)], axis=0)
        size = float(np.linalg.norm(normal))
        if size < 1e-9:
            return _FACES_FIRST
        normal = normal / size
        held = [
            self.model.items[c.other(i)].centre
            for i in sorted(unit)
            for c in self.model.of(i)
            if c.other(i) in rest
        ]
        if held and float(normal @ (largest.centre - np.mean(held, axis=0))) < 0:
            normal = -normal
        rank = {w: k for k, w in enumerate(_FACES_FIRST)}
        square = [w for w in _FACES_FIRST if float(WAYS[w] @ normal) > 0.85]
        square.sort(key=lambda w: (-round(float(WAYS[w] @ normal), 2), rank[w]))
        return [*square, *(w for w in _FACES_FIRST if w not in square)]

    def _own_ways(self, unit: frozenset[int], slots: list[Floats]) -> list[Floats]:
        """Ways that are none of the cube's: along the slots, and along each of a unit's own sheets (a wing half with
        dihedral slides out of a body's side along itself).
        """
        found = []
        if slots and not _opposed(slots):
            mean = np.mean([n if n @ slots[0] > 0 else -n for n in slots], axis=0)
            found.append(mean / np.linalg.norm(mean))
        for i in sorted(unit):
            for piece in self.model.items[i].pieces[:1]:
                found += [piece.matrix[:3, 1], piece.matrix[:3, 0]]
        distinct: list[Floats] = []
        for way in found:
            if np.abs(WAYS @ way).max() < 0.9999 and all(abs(float(way @ d)) < 0.9999 for d in distinct):
                distinct.append(np.asarray(way, dtype=np.float64))
        return [sign * way for way in distinct for sign in (1.0, -1.0)]

    def _stands(self, index: int, way: Floats, rest: frozenset[int]) -> bool:
        item = self.model.items[index]
        ways = np.tile(way, (len(item.inside), 1))
        return any(
            bool(stopped(self.model.items[o], item.inside, ways, from_mm=1.0).any())
            for o in rest
            if self.model.items[o].part is not None
        )


def _sights(model: Model) -> tuple[Sight, ...]:
    points = [_points_along(contact) for contact in model.contacts]
    sizes = [len(p) for p in points]
    every = np.concatenate(points) if points else np.zeros((0, 3))
    stops = np.zeros((len(model.items), len(every), len(WAYS)), dtype=bool)
    origins = np.repeat(every, len(WAYS), axis=0)
    ways = np.tile(WAYS, (len(every), 1))
    for item in model.items:
        if item.part is not None and len(every):
            stops[item.index] = stopped(item, origins, ways).reshape(len(every), len(WAYS))
    ends = np.cumsum(sizes)
    return tuple(Sight(stops=stops[:, end - size : end]) for size, end in zip(sizes, ends, strict=True))


def _stoppers(model: Model) -> tuple[tuple[frozenset[int], ...], ...]:
    points = [item.inside for item in model.items]
    owner = np.repeat(np.arange(len(points)), [len(p) * len(WAYS) for p in points])
    every = np.concatenate(points)
    origins = np.repeat(every, len(WAYS), axis=0)
    ways = np.tile(WAYS, (len(every), 1))
    way = np.tile(np.arange(len(WAYS)), len(every))
    table = np.zeros((len(points), len(WAYS), len(points)), dtype=bool)
    for other in model.items:
        if other.part is not None:
            hit = stopped(other, origins, ways, from_mm=1.0)
            table[owner[hit], way[hit], other.index] = True
    for i in range(len(points)):
        table[i, :, i] = False
    return tuple(tuple(frozenset(np.flatnonzero(row).tolist()) for row in rows) for rows in table)


def _opposed(normals: list[Floats]) -> bool:
    """Whether slots lie in planes that no one way can leave."""
    return any(abs(float(a @ b)) < 0.9 for a, b in itertools.combinations(normals, 2))
