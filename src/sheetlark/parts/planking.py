"""Surfaces curved two ways, from flat sheet after all: split along their length into planks, or into gores.

A plank keeps to the surface along both its edges and is straight across between them; it is laid out as a strip of
flat cells and, where they are twisted, triangles, which lies flat exactly. What it leaves out is the bulge between its edges: that is the stated deviation.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from sheetlark.errors import GeometryError
from sheetlark.outline import Floats
from sheetlark.parts.facets import Facet, flat_at

_FLAT_MM = 0.02  # a cell twisted by less is flat to any knife
_MOST = 60  # planks round a shape; more than this is no longer sheet work


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plank:
    """One plank or gore, laid flat.

    outline : shape (2 n, 2), on the sheet: along its right edge, back along its left [mm]
    facets : its flat pieces, each with its place: a cell where it is flat, its two triangles where it is twisted
    creases : shape (n - 2, 2, 2), where it bends from cell to cell, on the sheet [mm]
    turns_rad : shape (n - 2,), how far it bends there [rad]
    left, right : shape (n, 3), its edges in place [mm]
    """

    outline: Floats
    facets: tuple[Facet, ...]
    creases: Floats
    turns_rad: Floats
    left: Floats
    right: Floats

    def leans_to(self, other: Plank, cell: int) -> tuple[float, float]:
        """How far the plank to its right leans from it at a cell, least and most, positive towards the marked faces.

        A range, for of a twisted cell both triangles touch the edge. [rad].
        """
        run = self.right[cell + 1] - self.right[cell]
        run = run / max(float(np.linalg.norm(run)), 1e-12)
        found = [
            math.atan2(float(np.cross(b, a) @ run), float(a @ b))
            for a in self._normals(cell)
            for b in other._normals(cell)
        ]
        return min(found), max(found)

    def _normals(self, cell: int) -> tuple[Floats, Floats]:
        corners = self.left[cell], self.right[cell], self.right[cell + 1], self.left[cell + 1]
        return _normal(*corners, right=True), _normal(*corners, right=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Planking:
    """A surface as planks.

    planks : side by side
    deviation_mm : furthest that the surface stands off the planks [mm]
    """

    planks: tuple[Plank, ...]
    deviation_mm: float


def planked(grid: Floats, count: int) -> Planking:
    """Split a surface into planks of equal width along its sections.

    Parameters
    ----------
    grid : ndarray, shape (n, m, 3)
        n sections along the surface, each of m points across it, many more than there are planks. [mm]
    count : int
        How many planks.

    Raises
    ------
    GeometryError
        If the grid is too coarse for so many, or the count is not from 1 to 60.
    """
    p = np.asarray(grid, dtype=np.float64)
    if not 1 <= count <= _MOST:
        raise GeometryError(f"a surface is split into 1 to {_MOST} planks, read {count}")
    if p.ndim != 3 or p.shape[0] < 2 or p.shape[1] < 2 * count + 1:
        raise GeometryError(
            f"{count} planks need sections of at least {2 * count + 1} points, read {p.shape}"
        )
    edges = _edges(p, count)
    planks = tuple(_laid(edges[:, k], edges[:, k + 1]) for k in range(count))
    return Planking(planks=planks, deviation_mm=_deviation(p, edges))


def _normal(a: Floats, b: Floats, c: Floats, d: Floats, *, right: bool) -> Floats:
    """Unit normal, on the marked face, of the triangle of a cell that holds its right or its left edge."""
    n = np.cross(b - a, c - a) if right else np.cross(c - a, d - a)
    if float(np.linalg.norm(n)) < 1e-9:  # at a pole there is only the other
        n = np.cross(c - a, d - a) if right else np.cross(b - a, c - a)
    size = float(np.linalg.norm(n))
    return np.asarray(n / size if size > 1e-9 else n, dtype=np.float64)


def fewest_planks(grid: Floats, allowed_mm: float, *, least: int = 1) -> Planking:
    """The fewest planks that keep within a deviation of the surface, and no fewer than the least.

    Raises
    ------
    GeometryError
        If as many as the grid bears do not come so near.
    """
    p = np.asarray(grid, dtype=np.float64)
    most = min(_MOST, (p.shape[1] - 1) // 2)
    for count in range(least, most + 1):
        if _deviation(p, _edges(p, count)) <= allowed_mm:
            return planked(p, count)
    raise GeometryError(
        f"{most} planks still stand {_deviation(p, _edges(p, most)):.2f} mm off the surface; {allowed_mm:.2f} mm are "
        f"allowed. Allow more, or draw it with less curve"
    )


def _edges(p: Floats, count: int) -> Floats:
    """Where the planks meet: points of every section at equal shares of its length, shape (n, count + 1, 3)."""
    found = np.empty((len(p), count + 1, 3))
    for i, section in enumerate(p):
        s = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(section, axis=0), axis=1))])
        if s[-1] < 1e-9:  # the pole of a gore
            found[i] = section[0]
            continue
        at = np.linspace(0.0, s[-1], count + 1)
        found[i] = np.column_stack([np.interp(at, s, section[:, k]) for k in range(3)])
    return found


def _deviation(p: Floats, edges: Floats) -> float:
    """Furthest of the sections' points from the chord of their own plank, and of a twisted cell from its triangles."""
    worst = 0.0
    for section, corners in zip(p, edges, strict=True):
        chord = np.diff(corners, axis=0)
        length = np.linalg.norm(chord, axis=1)
        if float(length.max()) < 1e-9:
            continue
        along = chord / np.maximum(length, 1e-12)[:, None]
        off = section[:, None, :] - corners[None, :-1, :]
        t = np.clip(np.einsum("mkc,kc->mk", off, along), 0.0, length[None, :])
        away = np.linalg.norm(off - t[:, :, None] * along[None], axis=2)
        worst = max(worst, float(away.min(axis=1).max()))
    for a, b in itertools.pairwise(edges):
        twist = 0.25 * (a[:-1] + b[1:] - a[1:] - b[:-1])
        normal = np.cross(b[1:] - a[:-1], a[1:] - b[:-1])
        size = np.linalg.norm(normal, axis=1)
        flat = size > 1e-9
        if flat.any():
            worst = max(
                worst, float(np.abs(np.einsum("kc,kc->k", twist[flat], normal[flat]) / size[flat]).max())
            )
    return worst


def _laid(left: Floats, right: Floats) -> Plank:
    """A strip of triangles between two edges, each shape (n, 3), unrolled one after another."""
    from shapely.geometry import Polygon

    flat_left, flat_right = [np.zeros(2)], [np.array([float(np.linalg.norm(right[0] - left[0])), 0.0])]
    facets: list[Facet] = []
    creases: list[Floats] = []

    turns: list[float] = []
    before: Floats | None = None

    def put(a: Floats, b: Floats, c: Floats, a2: Floats, b2: Floats) -> Floats:
        """A third corner, on the left of a to b on the sheet."""
        base = b - a
        length = float(np.linalg.norm(base))
        if length < 1e-9:  # at a pole both edges start in one point
            return np.asarray(a2 + np.array([0.0, float(np.linalg.norm(c - a))]), dtype=np.float64)
        x = float((c - a) @ base) / length
        y = float(np.sqrt(max(0.0, float((c - a) @ (c - a)) - x * x)))
        e = (b2 - a2) / np.linalg.norm(b2 - a2)
        return np.asarray(a2 + x * e + y * np.array([-e[1], e[0]]), dtype=np.float64)

    def lay(corners: list[Floats], flat: list[Floats]) -> None:
        """Corners of one flat piece, in place and on the sheet; it becomes a facet unless it is nothing."""
        area = Polygon(flat).area
        if area < 1e-9:
            return
        a, a2 = corners[0], flat[0]
        k = next(i for i in range(1, len(corners)) if np.linalg.norm(flat[i] - a2) > 1e-9)
        e = (flat[k] - a2) / np.linalg.norm(flat[k] - a2)
        local = flat_at(a, corners[k] - a, corners[-1] - a)
        turn = np.array([[e[0], e[1]], [-e[1], e[0]]])
        m = local.copy()
        m[:3, :2] = local[:3, :2] @ turn
        m[:3, 3] = a - m[:3, :2] @ a2
        facets.append(Facet(Polygon(flat).buffer(1e-6, join_style="mitre"), m))

    for i in range(len(left) - 1):
        a2, b2 = flat_left[-1], flat_right[-1]
        c2 = put(left[i], right[i], right[i + 1], a2, b2)
        d2 = put(left[i], right[i + 1], left[i + 1], a2, c2)
        n = _normal(left[i], right[i], right[i + 1], left[i + 1], right=True)
        far = _normal(left[i], right[i], right[i + 1], left[i + 1], right=False)
        if abs(float((left[i + 1] - left[i]) @ n)) < _FLAT_MM:
            lay([left[i], right[i], right[i + 1], left[i + 1]], [a2, b2, c2, d2])
        else:
            lay([left[i], right[i], right[i + 1]], [a2, b2, c2])
            lay([left[i], right[i + 1], left[i + 1]], [a2, c2, d2])
        flat_left.append(d2)
        flat_right.append(c2)
        if before is not None:
            creases.append(np.stack([a2, b2]))
            turns.append(math.acos(min(1.0, max(-1.0, float(before @ n)))))
        before = far
    outline = np.concatenate([np.array(flat_right), np.array(flat_left)[::-1]])
    return Plank(
        outline=outline,
        facets=tuple(facets),
        creases=np.array(creases).reshape(-1, 2, 2),
        turns_rad=np.array(turns),
        left=left,
        right=right,
    )
