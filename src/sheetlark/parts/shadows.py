"""What solids cover of a plate's plane: from this each part is cut to the others."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sheetlark.outline import Floats
from sheetlark.parts.solids import Solid, mesh_of

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

# A face that only touches leaves nothing: cuts look this far inside the surface. [mm]
SKIN_MM = 0.01


def shadow(solid: Solid, matrix: Floats, thickness_mm: float) -> BaseGeometry | None:
    """What a solid covers of a plate's plane within the plate's thickness, or None."""
    return shadow_of_all([solid], matrix, thickness_mm)


def shadow_of_all(solids: list[Solid], matrix: Floats, thickness_mm: float) -> BaseGeometry | None:
    """What any of several solids covers of a plate's plane within the plate's thickness, or None.

    A slanted guest covers more than its section at the middle: all of it counts, so that a slot of this
    shape lets it in.

    Seen from above, what lies between two heights is covered by the section at the upper one and by every face that
    looks up between them: above any point of the solid there is one or the other. So the solids are neither cut nor
    joined. Seen from below it is the same: the side is taken that asks for fewer sections.
    """
    import manifold3d as m3

    to_local = np.linalg.inv(matrix)[:3]
    half = thickness_mm / 2 - SKIN_MM
    triangles, over, under = [], [], []
    for solid in solids:
        corners, faces = mesh_of(solid)
        if not len(corners):
            continue
        local = corners @ to_local[:, :3].T + to_local[:, 3]
        low, high = float(local[:, 2].min()), float(local[:, 2].max())
        if high < -half or low > half:
            continue
        triangles.append(local[faces])
        if high > half:
            over.append(solid)
        if low < -half:
            under.append(solid)
    if not triangles:
        return None
    every = triangles[0] if len(triangles) == 1 else np.concatenate(triangles)
    below = len(under) < len(over)
    if below:
        every = every * (1.0, 1.0, -1.0)
    mirrored = np.linalg.det(to_local[:, :3]) < 0  # a frame to port: there faces run backwards
    if below != mirrored:
        every = every[:, ::-1]
    covers = _looking_up(every, half)
    for solid in under if below else over:
        covers += solid.transform(to_local).slice(-half if below else half).to_polygons()
    if not covers:
        return None
    found = m3.CrossSection(covers, m3.FillRule.Positive).simplify(_HAIR_MM).to_polygons()
    return _joined([ring for ring in found if len(ring) >= 3])


_HAIR_MM = 1e-6
# A wall that leans less than this shifts by less than a hair over its height.
_UPRIGHT = 1e-6


def _looking_up(triangles: Floats, half: float) -> list[Floats]:
    """Outlines of the triangles that look up, as far as they lie between two heights about the plane.

    Parameters
    ----------
    triangles : ndarray, shape (n, 3, 3)

    Returns
    -------
    list of ndarray, shape (m, 2)
        Anticlockwise; a corner may come twice.
    """
    z = triangles[:, :, 2]
    lowest, highest = _ends(z[:, 0], z[:, 1], z[:, 2])
    met = (lowest < half) & (highest > -half)
    triangles, lowest, highest = triangles[met], lowest[met], highest[met]
    a, b = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    nx = a[:, 1] * b[:, 2] - a[:, 2] * b[:, 1]
    ny = a[:, 2] * b[:, 0] - a[:, 0] * b[:, 2]
    nz = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    up = nz > _UPRIGHT * np.sqrt(nx * nx + ny * ny + nz * nz)
    inside = (lowest >= -half) & (highest <= half)
    whole = list(triangles[up & inside][:, :, :2])
    start = triangles[up & ~inside]
    if not len(start):
        return whole
    # Along each edge the share that lies between the heights; its two ends, edge after edge, are the outline.
    run = start[:, [1, 2, 0]] - start
    rise = run[:, :, 2]
    level = np.abs(rise) < 1e-12
    safe = np.where(level, 1.0, rise)
    at_low, at_high = (-half - start[:, :, 2]) / safe, (half - start[:, :, 2]) / safe
    first, last = np.minimum(at_low, at_high), np.maximum(at_low, at_high)
    crosses = np.where(level, np.abs(start[:, :, 2]) <= half, (first <= 1.0) & (last >= 0.0))
    first = np.where(level, 0.0, np.maximum(first, 0.0))
    last = np.where(level, 1.0, np.minimum(last, 1.0))
    points = np.stack([start + first[..., None] * run, start + last[..., None] * run], axis=2)[..., :2]
    # An edge outside adds no corner: it stands where the one before it ends, or the one after it begins.
    ends, begins = points[:, [2, 0, 1], 1:], points[:, [1, 2, 0], :1]
    stand_in = np.where(crosses[:, [2, 0, 1], None, None], ends, begins)
    points = np.where(crosses[:, :, None, None], points, stand_in)
    return whole + list(points.reshape(-1, 6, 2)[crosses.sum(axis=1) >= 2])


def _ends(a: Floats, b: Floats, c: Floats) -> tuple[Floats, Floats]:
    """Least and most of three, place by place: numpy reduces so short an axis slowly."""
    return np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)


def _anticlockwise(ring: Floats) -> bool:
    """Which way a ring runs: by the sign of the area it encloses (shoelace formula)."""
    x, y = ring[:, 0], ring[:, 1]
    return float(x[:-1] @ y[1:] - x[1:] @ y[:-1] + x[-1] * y[0] - x[0] * y[-1]) > 0


def _joined(found: list[Floats]) -> BaseGeometry | None:
    """Rings that do not cross, anticlockwise outer and clockwise inner ones, as one shape."""
    from shapely.geometry import Polygon
    from shapely.ops import unary_union

    outer: list[Any] = []
    inner: list[Any] = []
    for ring in found:
        flat = Polygon(ring)
        (outer if _anticlockwise(ring) else inner).append(flat if flat.is_valid else flat.buffer(0))
    if not outer:
        return None
    shape = outer[0] if len(outer) == 1 else unary_union(outer)
    return shape.difference(unary_union(inner)) if inner else shape
