"""Where in a kit a box is free: the question a designer asks before the proof does."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sheetlark.airframe import Airframe, Equipment
from sheetlark.outline import Floats
from sheetlark.parts.bays import size_mm
from sheetlark.parts.clash import Body, overlap, shared
from sheetlark.parts.kept import KeptOf
from sheetlark.parts.part import Kit
from sheetlark.parts.solids import Solid, bounds, box, cuboid, part_solids, rod_solid
from sheetlark.stock import Stock

KEPT_FREE_MM = 0.5  # round a box that is put in by hand; common practice, no source


@dataclass(frozen=True, eq=False)
class Room:
    """The parts and rods of a kit, some left out, as solids to keep clear of."""

    solids: tuple[Body, ...]

    @classmethod
    def of(cls, kit: Kit, *, without: tuple[str, ...] = ()) -> Room:
        """All parts and rods but those whose names begin with one of `without`."""
        found = [
            Body(p.name, i, s)
            for p in kit.parts
            if not p.name.startswith(without)
            for i, s in enumerate(part_solids(p))
        ]
        return cls((*found, *(Body(r.name, 0, rod_solid(r)) for r in kit.rods)))

    @cached_property
    def _reach(self) -> Floats:
        """Least x, y, z and most x, y, z of each solid; shape (n, 6) [mm]."""
        return np.array([bounds(b.solid) for b in self.solids]).reshape(-1, 6)

    @cached_property
    def _asked_first(self) -> list[int]:
        """Solids in the order in which they are asked, which no answer depends on."""
        return list(range(len(self.solids)))

    def meets(self, low_mm: Floats, high_mm: Floats) -> tuple[str, ...]:
        """Names of what a box runs into; shapes (3,) [mm]."""
        solid = box(np.asarray(low_mm) - KEPT_FREE_MM, np.asarray(high_mm) + KEPT_FREE_MM)
        return tuple(b.label for b in self.solids if shared(solid, b.solid) is not None)

    def free(self, low_mm: Floats, high_mm: Floats) -> bool:
        """Whether a box runs into nothing; shapes (3,) [mm]."""
        low, high = np.asarray(low_mm) - KEPT_FREE_MM, np.asarray(high_mm) + KEPT_FREE_MM
        near = np.logical_and.reduce((self._reach[:, :3] <= high) & (self._reach[:, 3:] >= low), axis=1)
        for k in self._asked_first:
            if near[k] and _meet(low, high, self.solids[k].solid):
                # Boxes are tried one beside the other: what was in the way of one is in the way of the next.
                self._asked_first.remove(k)
                self._asked_first.insert(0, k)
                return False
        return True

    def stretch(self, name: str) -> tuple[float, float] | None:
        """From where to where along x the parts of a name's beginning reach; None where there is none. [mm]."""
        ends = [np.asarray(b.solid.bounding_box()) for b in self.solids if b.name.startswith(name)]
        return (min(float(e[0]) for e in ends), max(float(e[3]) for e in ends)) if ends else None


def _meet(low: Floats, high: Floats, solid: Solid) -> bool:
    corners = low.tobytes(), high.tobytes()
    return _MET.get(solid, lambda: overlap(cuboid(low, high), solid) is not None, by=corners)


# A box looked for again in a kit with other formers is tried at the same places: some hundreds of them.
_MET: KeptOf[bool] = KeptOf(4000)


def boxed(airframe: Airframe, stock: Stock) -> tuple[tuple[Equipment, Floats], ...]:
    """Each boxed item of an airframe with its length, width and height, shape (3,), travel not counted. [mm]."""
    return tuple(
        (item, np.asarray(size)) for item in airframe.equipment if (size := size_mm(item, stock)) is not None
    )
