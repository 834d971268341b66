"""Flat parts as solids in place, and what one leaves on the plane of another."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Any

import numpy as np

from sheetlark.outline import Floats, signed_area
from sheetlark.parts.part import Bevel, Part, RodPiece

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Solid = Any  # manifold3d.Manifold: the library ships no types

PORT: Floats = np.diag([1.0, -1.0, 1.0, 1.0])
PORT.setflags(write=False)

# A face that only touches leaves nothing: cuts look this far inside the surface. [mm]
SKIN_MM = 0.01


def rings(shape: BaseGeometry) -> list[Floats]:
    """Every ring of a polygon or of several, unclosed."""
    found: list[Floats] = []
    for polygon in polygons(shape):
        both = (polygon.exterior, *polygon.interiors)
        found.extend(np.asarray(ring.coords, dtype=np.float64)[:-1, :2] for ring in both)
    return found


def polygons(shape: BaseGeometry) -> list[Any]:
    """The polygons in a geometry, lines and points dropped."""
    parts = getattr(shape, "geoms", [shape])
    return [p for p in parts if p.geom_type == "Polygon" and not p.is_empty]


def plate(shape: BaseGeometry, thickness_mm: float, matrix: Floats) -> Solid:
    """A polygon given thickness about its plane and put in place."""
    import manifold3d as m3

    outline = rings(shape)
    if not outline:
        return m3.Manifold()
    section = m3.CrossSection(outline, m3.FillRule.EvenOdd)
    return section.extrude(thickness_mm).translate((0.0, 0.0, -thickness_mm / 2)).transform(matrix[:3])


def box(low: Floats, high: Floats) -> Solid:
    """A box between two corners on the geometry axes."""
    import manifold3d as m3

    size = np.maximum(np.asarray(high) - np.asarray(low), 1e-6)
    return m3.Manifold.cube(tuple(size.tolist())).translate(tuple(np.asarray(low, dtype=float).tolist()))


def union(solids: list[Solid]) -> Solid:
    """All of them as one."""
    import manifold3d as m3

    if not solids:
        return m3.Manifold()
    return solids[0] if len(solids) == 1 else m3.Manifold.batch_boolean(solids, m3.OpType.Add)


def apart(a: Solid, b: Solid, gap_mm: float = 0.0) -> bool:
    """Whether the boxes round two solids do not meet: the quick answer."""
    p, q = a.bounding_box(), b.bounding_box()
    return any(p[k] > q[k + 3] + gap_mm or q[k] > p[k + 3] + gap_mm for k in range(3))


def shadow(solid: Solid, matrix: Floats, thickness_mm: float) -> BaseGeometry | None:
    """What a solid covers of a plate's plane within the plate's thickness, or None.

    A slanted guest covers more than its section at the middle: all of it counts, so that a slot of this
    shape lets it in.
    """
    from shapely.geometry import Polygon
    from shapely.ops import unary_union

    local = solid.transform(np.linalg.inv(matrix)[:3])
    half = thickness_mm / 2 - SKIN_MM
    b = local.bounding_box()
    if b[2] > half or b[5] < -half:
        return None
    if b[2] < -half:
        local = local.trim_by_plane((0.0, 0.0, 1.0), -half)
    if b[5] > half:
        local = local.trim_by_plane((0.0, 0.0, -1.0), -half)
    if local.is_empty():
        return None
    outer: list[Any] = []
    inner: list[Any] = []
    for ring in local.project().to_polygons():
        if len(ring) >= 3:
            (outer if signed_area(ring) > 0 else inner).append(Polygon(ring).buffer(0))
    if not outer:
        return None
    shape = unary_union(outer)
    return shape.difference(unary_union(inner)) if inner else shape


def wedge(bevel: Bevel) -> Solid:
    """What a bevel takes off, in the plane of its part, a little over-long past the edge it slants."""
    import manifold3d as m3

    a, b = np.asarray(bevel.start), np.asarray(bevel.end)
    along = (b - a) / np.linalg.norm(b - a)
    inwards = np.array([-along[1], along[0]])
    over = 0.5 if bevel.to_w_mm > bevel.from_w_mm else -0.5
    out = 0.2
    corners = []
    for p in (a, b):
        for depth, w in (
            (-out, bevel.from_w_mm),
            (0.0, bevel.from_w_mm),
            (bevel.setback_mm * (1 + over / (bevel.to_w_mm - bevel.from_w_mm)), bevel.to_w_mm + over),
            (-out, bevel.to_w_mm + over),
        ):
            q = p + depth * inwards
            corners.append((q[0], q[1], w))
    return m3.Manifold.hull_points(np.array(corners))


def part_solids(part: Part) -> list[Solid]:
    """Each copy of a finished part as a solid in place, its bevels cut."""
    from shapely.geometry import Polygon

    found = []
    for pieces in part.copies:
        solids = []
        for piece in pieces:
            solid = plate(Polygon(piece.outline, piece.holes), part.thickness_mm, piece.matrix)
            for bevel in part.bevels:
                solid = solid - wedge(bevel).transform(piece.matrix[:3])
            solids.append(solid)
        found.append(union(solids))
    return found


def turn_about(point: Floats, axis: Floats, angle_rad: float) -> Floats:
    """Rotation about a line, shape (4, 4) (Rodrigues' formula). Positive lifts what lies aft of an axis that
    points to starboard.
    """
    k = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    # Right-handed about starboard (y) takes x towards -z: aft goes down. Up is the other way.
    a = -angle_rad
    r = np.eye(3) + math.sin(a) * k + (1 - math.cos(a)) * (k @ k)
    m = np.eye(4)
    m[:3, :3], m[:3, 3] = r, point - r @ point
    return m


def rod_solid(rod: RodPiece) -> Solid:
    """A rod as square-edged lengths along its middle line; a strip stands as its section says."""
    solids = []
    for a, b in itertools.pairwise(np.asarray(rod.points_mm, dtype=np.float64)):
        length = float(np.linalg.norm(b - a))
        if length < 1e-6:
            continue
        along = (b - a) / length
        up = np.array([0.0, 0.0, 1.0]) if abs(along[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
        wide = np.cross(up, along)
        wide /= np.linalg.norm(wide)
        m = np.column_stack([along, wide, np.cross(along, wide), a])
        import manifold3d as m3

        w, h = rod.width_mm, rod.height_mm
        solids.append(m3.Manifold.cube((length, w, h)).translate((0.0, -w / 2, -h / 2)).transform(m))
    return union(solids)
