"""The model as triangles and edges for a 3-D view, item by item."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sheetlark.handbook.pieces import Floats, Item, Model
from sheetlark.handbook.scene import CORNER_RAD, turns

Ints = npt.NDArray[np.int16]

STEP_MM = 0.1  # one unit of the numbers in the page; 16 bits reach 3.2 m either way


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mesh:
    """One item.

    triangles : shape (n, 3, 3), corners [mm]
    edges : shape (m, 2, 3), ends [mm]
    """

    item: Item
    triangles: Floats
    edges: Floats


def meshes(model: Model) -> tuple[Mesh, ...]:
    """Every item as a closed surface, and the edges one sees on it."""
    return tuple(_mesh(item) for item in model.items)


def _mesh(item: Item) -> Mesh:
    triangles: list[Floats] = []
    edges: list[Floats] = []
    flat = _flats(item)
    for outline, holes, matrix, thickness in flat:
        t, e = _plate(outline, holes, matrix, thickness)
        triangles.append(t)
        edges.append(e)
    every = np.concatenate(edges)
    if len(flat) > 1:
        every = _outer(every)
    return Mesh(item=item, triangles=np.concatenate(triangles), edges=every)


def _flats(item: Item) -> list[tuple[Floats, tuple[Floats, ...], Floats, float]]:
    if item.part is not None:
        return [(p.outline, p.holes, p.matrix, item.thickness_mm) for p in item.pieces]
    from sheetlark.handbook.scene import bars

    return bars(item)


def _plate(
    outline: Floats, holes: tuple[Floats, ...], matrix: Floats, thickness: float
) -> tuple[Floats, Floats]:
    import shapely
    from shapely.geometry import Polygon

    whole: Any = Polygon(outline, holes).buffer(0).simplify(0.12)
    pieces = list(getattr(whole, "geoms", [whole]))
    half = 0.5 * thickness
    triangles, edges = [], []

    def place(flat: Floats, w: float) -> Floats:
        return np.asarray(flat @ matrix[:3, :2].T + matrix[:3, 3] + w * matrix[:3, 2])

    for polygon in pieces:
        caps = np.array(
            [np.asarray(t.exterior.coords)[:3] for t in shapely.constrained_delaunay_triangles(polygon).geoms]
        )
        if len(caps):
            a, b = caps[:, 1] - caps[:, 0], caps[:, 2] - caps[:, 0]
            turned = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] < 0
            caps[turned] = caps[turned][:, ::-1]
            triangles += [place(caps.reshape(-1, 2), half).reshape(-1, 3, 3)]
            triangles += [place(caps[:, ::-1].reshape(-1, 2), -half).reshape(-1, 3, 3)]
        for number, ring in enumerate((polygon.exterior, *polygon.interiors)):
            p = np.asarray(ring.coords)[:-1]
            area = 0.5 * float(np.sum(p[:, 0] * np.roll(p[:, 1], -1) - np.roll(p[:, 0], -1) * p[:, 1]))
            if (area > 0) != (number == 0):
                p = p[::-1]
            top, low = place(p, half), place(p, -half)
            top2, low2 = np.roll(top, -1, axis=0), np.roll(low, -1, axis=0)
            triangles += [np.stack([top, low, low2], axis=1), np.stack([top, low2, top2], axis=1)]
            edges += [np.stack([top, top2], axis=1), np.stack([low, low2], axis=1)]
            sharp = turns(p) > CORNER_RAD
            edges.append(np.stack([top[sharp], low[sharp]], axis=1))
    faces = np.concatenate(triangles)
    if np.linalg.det(matrix[:3, :3]) < 0:
        faces = faces[:, ::-1]  # a mirrored copy turns its corners round
    return faces, np.concatenate(edges)


def _outer(edges: Floats) -> Floats:
    """Edges that two flat stretches share are no edges."""
    keys = np.round(edges.mean(axis=1) / 1.5).astype(np.int64)
    _, where, counts = np.unique(keys, axis=0, return_inverse=True, return_counts=True)
    return np.asarray(edges[counts[where.reshape(-1)] == 1])


def packed(values: Floats) -> str:
    """Millimetres as base64 of little-endian 16-bit numbers in steps of `STEP_MM`."""
    import base64

    whole = np.clip(np.rint(values.reshape(-1) / STEP_MM), -32767, 32767).astype("<i2")
    return base64.b64encode(whole.tobytes()).decode("ascii")
