"""Where in a kit a box is free: the question a designer asks before the proof does."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.airframe import Airframe, Equipment
from sheetlark.outline import Floats
from sheetlark.parts.bays import size_mm
from sheetlark.parts.clash import Body, shared
from sheetlark.parts.part import Kit
from sheetlark.parts.solids import box, part_solids, rod_solid
from sheetlark.stock import Stock

KEPT_FREE_MM = 0.5  # round a box that is put in by hand; common practice, no source


@dataclass(frozen=True, slots=True, eq=False)
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

    def meets(self, low_mm: Floats, high_mm: Floats) -> tuple[str, ...]:
        """Names of what a box runs into; shapes (3,) [mm]."""
        solid = box(np.asarray(low_mm) - KEPT_FREE_MM, np.asarray(high_mm) + KEPT_FREE_MM)
        return tuple(b.label for b in self.solids if shared(solid, b.solid) is not None)

    def free(self, low_mm: Floats, high_mm: Floats) -> bool:
        """Whether a box runs into nothing; shapes (3,) [mm]."""
        solid = box(np.asarray(low_mm) - KEPT_FREE_MM, np.asarray(high_mm) + KEPT_FREE_MM)
        return all(shared(solid, b.solid) is None for b in self.solids)

    def stretch(self, name: str) -> tuple[float, float] | None:
        """From where to where along x the parts of a name's beginning reach; None where there is none. [mm]."""
        ends = [np.asarray(b.solid.bounding_box()) for b in self.solids if b.name.startswith(name)]
        return (min(float(e[0]) for e in ends), max(float(e[3]) for e in ends)) if ends else None


def boxed(airframe: Airframe, stock: Stock) -> tuple[tuple[Equipment, Floats], ...]:
    """Each boxed item of an airframe with its length, width and height, shape (3,), travel not counted. [mm]."""
    return tuple(
        (item, np.asarray(size)) for item in airframe.equipment if (size := size_mm(item, stock)) is not None
    )
