"""Parts as triangles in place, for views in three dimensions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sheetlark.outline import Floats
from sheetlark.parts.part import Group, Kit
from sheetlark.parts.solids import part_solids, rod_solid


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """The surface of one copy of a part, or of a rod.

    name, group : of the part
    number : of the part on the sheets; 0 for a rod
    copy : which copy, from 0; of a pair, 1 is to port
    vertices_mm : shape (n, 3), on the geometry axes [mm]
    triangles : shape (m, 3), indices of vertices, anticlockwise seen from outside
    """

    name: str
    group: Group
    number: int
    copy: int
    vertices_mm: Floats
    triangles: NDArray[np.int64]


def mesh(kit: Kit) -> tuple[Mesh, ...]:
    """Every copy of every part, and every rod, as triangles in place."""
    found = []
    for part in kit.parts:
        for i, solid in enumerate(part_solids(part)):
            found.append(_mesh(part.name, part.group, part.number, i, solid))
    found.extend(_mesh(rod.name, rod.group, 0, 0, rod_solid(rod)) for rod in kit.rods)
    return tuple(found)


def _mesh(name: str, group: Group, number: int, copy: int, solid: object) -> Mesh:
    surface = solid.to_mesh()  # type: ignore[attr-defined]
    vertices = np.asarray(surface.vert_properties, dtype=np.float64)[:, :3]
    triangles = np.asarray(surface.tri_verts, dtype=np.int64)
    vertices.setflags(write=False)
    triangles.setflags(write=False)
    return Mesh(name=name, group=group, number=number, copy=copy, vertices_mm=vertices, triangles=triangles)
