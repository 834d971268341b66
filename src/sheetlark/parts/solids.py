"""Flat parts as solids in place, and what one leaves on the plane of another."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from sheetlark.outline import Floats
from sheetlark.parts.kept import Kept, KeptOf, Stamp, digest, keep, shape_stamp
from sheetlark.parts.part import Bevel, Part, RodPiece

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Solid = Any  # manifold3d.Manifold: the library ships no types

PORT: Floats = np.diag([1.0, -1.0, 1.0, 1.0])
PORT.setflags(write=False)


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

    def made() -> Solid:
        outline = rings(shape)
        if not outline:
            return m3.Manifold()
        section = m3.CrossSection(outline, m3.FillRule.EvenOdd)
        return section.extrude(thickness_mm).translate((0.0, 0.0, -thickness_mm / 2)).transform(matrix[:3])

    return _PLATES.get((shape_stamp(shape), thickness_mm, matrix.tobytes()), made)


def box(low: Floats, high: Floats) -> Solid:
    """A box between two corners on the geometry axes, looked up where it was made before."""
    key = (np.asarray(low, dtype=float).tobytes(), np.asarray(high, dtype=float).tobytes())
    return _PLATES.get(key, lambda: cuboid(low, high))


def cuboid(low: Floats, high: Floats) -> Solid:
    """A box between two corners on the geometry axes, made anew."""
    import manifold3d as m3

    size = tuple(np.maximum(np.asarray(high) - np.asarray(low), 1e-6).tolist())
    return m3.Manifold.cube(size).translate(tuple(np.asarray(low, dtype=float).tolist()))


def union(solids: list[Solid]) -> Solid:
    """All of them as one."""
    import manifold3d as m3

    if not solids:
        return m3.Manifold()
    return solids[0] if len(solids) == 1 else m3.Manifold.batch_boolean(solids, m3.OpType.Add)


def sweep(solids: list[Solid]) -> Solid:
    """The least solid without hollows round all of them: what lies clear of it lies clear of each."""
    import manifold3d as m3

    return m3.Manifold.batch_hull(solids)


def both_sides(half: Solid) -> Solid:
    """A solid and its mirror image to port, as one."""

    def made() -> Solid:
        whole = union([half, half.transform(PORT[:3])])
        lies_within(whole, [half, to_port(half)])
        return whole

    return _PAIRS.get(half, made)


def to_port(solid: Solid) -> Solid:
    """The mirror image of a solid."""
    image = _PORTS.get(solid, lambda: solid.transform(PORT[:3]))
    _IMAGES.get(image, lambda: solid)
    return image


def mirrored_from(solid: Solid) -> Solid | None:
    """What `to_port` made a solid from; None where it is no mirror image."""
    return _IMAGES.peek(solid)


def bounds(solid: Solid) -> tuple[float, ...]:
    """Least x, y, z and most x, y, z of a solid. [mm]."""

    def made() -> tuple[float, ...]:
        twin = mirrored_from(solid)
        if twin is None:
            box: tuple[float, ...] = solid.bounding_box()
            return box
        x0, y0, z0, x1, y1, z1 = bounds(twin)
        return (x0, -y1, z0, x1, -y0, z1)

    return _BOUNDS.get(solid, made)


def lies_within(whole: Solid, solids: list[Solid]) -> None:
    """Remember the box round a union by those of its solids: many a union is asked only how far it reaches."""
    boxes = np.array([bounds(s) for s in solids])
    low, high = boxes[:, :3].min(axis=0).tolist(), boxes[:, 3:].max(axis=0).tolist()
    _BOUNDS.get(whole, lambda: (*low, *high))


def apart(a: Solid, b: Solid, gap_mm: float = 0.0) -> bool:
    """Whether the boxes round two solids do not meet: the quick answer."""
    p, q = bounds(a), bounds(b)
    return any(p[k] > q[k + 3] + gap_mm or q[k] > p[k + 3] + gap_mm for k in range(3))


def mesh_of(solid: Solid) -> tuple[Floats, NDArray[np.int64]]:
    """Corners, shape (n, 3), and triangles, shape (m, 3), of a solid, looked up where it was asked for before. [mm]."""

    def made() -> tuple[Floats, NDArray[np.int64]]:
        mesh = solid.to_mesh64()
        return np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts).astype(np.int64)

    return _MESHES.get(solid, made)


def solid_stamp(solid: Solid) -> Stamp:
    """The stamp of a solid: its corners and faces."""

    def made() -> Stamp:
        corners, faces = mesh_of(solid)
        return digest(corners.tobytes(), faces.tobytes())

    return _STAMPS.get(solid, made)


_MESHES: KeptOf[tuple[Floats, NDArray[np.int64]]] = KeptOf(250)
_STAMPS: KeptOf[Stamp] = KeptOf(250)
_BOUNDS: KeptOf[tuple[float, ...]] = KeptOf(250)
_PORTS: KeptOf[Solid] = KeptOf(60)
# More than the flats of any one guest, so that none is forgotten between being mirrored and being asked about.
_IMAGES: KeptOf[Solid] = KeptOf(250)
_PAIRS: KeptOf[Solid] = KeptOf(60)
_PLATES: Kept[Solid] = keep(300)


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


def part_solids(part: Part) -> tuple[Solid, ...]:
    """Each copy of a finished part as a solid in place, its bevels cut; raised once for each part."""
    return _COPIES.get(part, lambda: _copies(part))


_COPIES: KeptOf[tuple[Solid, ...]] = KeptOf(250)


def _copies(part: Part) -> tuple[Solid, ...]:
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
    return tuple(found)


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
    return _PLATES.get((rod.points_mm, rod.width_mm, rod.height_mm), lambda: _rod_solid(rod))


def _rod_solid(rod: RodPiece) -> Solid:
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
