"""Sheet bent in one direction: developed along its middle surface, in flat facets.

Words: a *station line* is a run of points of the middle surface in the plane of the bend; a *facet* is the
flat stretch between two neighbouring points; *developing* lays the facets side by side on the flat sheet,
each at its true size.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sheetlark.design import Paper
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats
from sheetlark.parts.facets import Facet, flat_at

_FAR_MM = 1e4


def offset_line(points: Floats, distance_mm: float) -> Floats:
    """A run of points moved to its left by a distance, corners mitred; both shape (n, 2)."""
    p = np.asarray(points, dtype=np.float64)
    d = np.diff(p, axis=0)
    length = np.linalg.norm(d, axis=1)
    normal = np.stack([-d[:, 1], d[:, 0]], axis=1) / length[:, None]
    moved = np.empty_like(p)
    moved[0], moved[-1] = p[0] + distance_mm * normal[0], p[-1] + distance_mm * normal[-1]
    for i in range(1, len(p) - 1):
        both = normal[i - 1] + normal[i]
        moved[i] = p[i] + distance_mm * 2.0 * both / float(both @ both)
    return moved


@dataclass(frozen=True, slots=True, eq=False)
class Bend:
    """A surface bent along a line in a plane: developed length against the line's own abscissa.

    line : shape (n, 2), middle line (a, b), a increasing [mm]
    s : shape (n,), developed length at each point [mm]
    """

    line: Floats
    s: Floats

    @classmethod
    def along(cls, line: Floats) -> Bend:
        """Develop a line; `s` begins at the first point's abscissa, so that a flat one keeps its places.

        Raises
        ------
        GeometryError
            If the line turns back on itself.
        """
        p = np.asarray(line, dtype=np.float64)
        if np.any(np.diff(p[:, 0]) <= 0):
            raise GeometryError(
                "a bent part turns back on itself; its width or its profile bends too sharply there"
            )
        steps = np.linalg.norm(np.diff(p, axis=0), axis=1)
        return cls(p, p[0, 0] + np.concatenate([[0.0], np.cumsum(steps)]))

    def develop(self, a: Floats) -> Floats:
        """Developed length at abscissae, straight on beyond the ends. [mm]."""
        x, s = self.line[:, 0], self.s
        inside = np.interp(a, x, s)
        first, last = (s[1] - s[0]) / (x[1] - x[0]), (s[-1] - s[-2]) / (x[-1] - x[-2])
        out = np.where(a < x[0], s[0] + (a - x[0]) * first, inside)
        return np.asarray(np.where(a > x[-1], s[-1] + (a - x[-1]) * last, out), dtype=np.float64)

    def across(self, a: Floats) -> Floats:
        """The middle line's other coordinate at abscissae. [mm]."""
        return np.asarray(np.interp(a, self.line[:, 0], self.line[:, 1]), dtype=np.float64)

    def developed(self, outline: Floats) -> Floats:
        """An outline (a, height) of shape (n, 2) laid on the sheet as (s, height), corners added at bends."""
        p = np.asarray(outline, dtype=np.float64)
        found: list[Floats] = []
        for start, end in zip(p, np.roll(p, -1, axis=0), strict=True):
            cuts = [0.0]
            da = end[0] - start[0]
            if abs(da) > 1e-9:
                t = (self.line[1:-1, 0] - start[0]) / da
                cuts.extend(sorted(float(v) for v in t if 1e-6 < v < 1 - 1e-6))
            found.extend(start + t * (end - start) for t in cuts)
        q = np.array(found)
        return np.column_stack([self.develop(q[:, 0]), q[:, 1]])

    def facets(self, a_axis: Floats, b_axis: Floats, height_axis: Floats) -> tuple[Facet, ...]:
        """The flat stretches, (s, height) on the sheet; axes are unit vectors of the geometry axes."""
        from shapely.geometry import box

        found = []
        last = len(self.s) - 2
        for i in range(last + 1):
            start = self.line[i, 0] * a_axis + self.line[i, 1] * b_axis
            step = self.line[i + 1] - self.line[i]
            u = (step[0] * a_axis + step[1] * b_axis) / float(np.hypot(*step))
            matrix = flat_at(start - u * self.s[i], u, height_axis)
            low = -_FAR_MM if i == 0 else float(self.s[i])
            high = _FAR_MM if i == last else float(self.s[i + 1])
            region = None if last == 0 else box(low, -_FAR_MM, high, _FAR_MM)
            found.append(Facet(region, matrix))
        return tuple(found)

    @property
    def turns_rad(self) -> Floats:
        """How far it bends at each inner point, shape (n - 2,). [rad]."""
        d = np.diff(self.line, axis=0)
        angle = np.arctan2(d[:, 1], d[:, 0])
        return np.asarray(np.diff(angle), dtype=np.float64)


def ruled(first: Floats, second: Floats) -> tuple[Floats, tuple[Facet, ...], Floats]:
    """Develop the strip of flat quadrilaterals between two runs of points in space.

    Parameters
    ----------
    first, second : ndarray, shape (n, 3)
        Facing points; each four neighbours must lie in one plane, as they do where the runs are parallel
        piece by piece (a cylinder, a cone).

    Returns
    -------
    outline : ndarray, shape (2 n, 2)
        On the sheet: along the second run, back along the first. [mm]
    facets : tuple of Facet
    rulings : ndarray, shape (n, 2, 2)
        Where each ruling lies on the sheet, the first run's end first.

    Raises
    ------
    GeometryError
        If four neighbours do not lie in one plane: the surface cannot be made from flat sheet.
    """
    from shapely.geometry import Polygon

    p, q = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    a2 = np.array([0.0, 0.0])
    b2 = np.array([float(np.linalg.norm(q[0] - p[0])), 0.0])
    laid = [(a2, b2)]
    facets = []
    for i in range(len(p) - 1):
        a, b, c, d = p[i], q[i], q[i + 1], p[i + 1]
        u = b - a
        longer = c if np.linalg.norm(c - b) > np.linalg.norm(d - a) else d
        v = longer - a
        matrix = flat_at(a, u, v)
        local = (np.stack([a, b, c, d]) - a) @ matrix[:3, :3]
        off = float(np.abs(local[:, 2]).max())
        if off > 0.05:
            from sheetlark.parts.planking import planked

            grid = np.stack([np.linspace(p[k], q[k], 9) for k in range(len(p))])
            split = planked(grid, 2).deviation_mm, planked(grid, 4).deviation_mm
            raise GeometryError(
                f"the surface is twisted by {off:.2f} mm between neighbouring rulings; it cannot be made from one flat "
                f"sheet. Split along its length it can: two planks stand {split[0]:.2f} mm off it, four {split[1]:.2f} mm"
            )
        e = (b2 - a2) / np.linalg.norm(b2 - a2)
        turn = np.array([[e[0], -e[1]], [e[1], e[0]]])
        flat = local[:, :2] @ turn.T + a2
        to_space = matrix.copy()
        to_space[:3, 0] = matrix[:3, :2] @ turn[0]
        to_space[:3, 1] = matrix[:3, :2] @ turn[1]
        to_space[:3, 3] = a - to_space[:3, 0] * a2[0] - to_space[:3, 1] * a2[1]
        corners = [flat[0], flat[1], flat[2], flat[3]]
        if np.linalg.norm(flat[2] - flat[3]) < 1e-9:
            corners.pop()
        facets.append(Facet(Polygon(corners).buffer(1e-6, join_style="mitre"), to_space))
        b2, a2 = flat[2], flat[3]
        laid.append((a2, b2))
    rulings = np.array(laid)
    outline = np.concatenate([rulings[:, 1], rulings[::-1, 0]])
    return outline, tuple(facets), rulings


def arc_points(width_mm: float, height_mm: float, count: int) -> Floats:
    """Facet corners of a shallow circular arc over a chord, shape (count + 1, 2) as (across, up).

    The facets are as long as the arc they stand for, so that the developed width is the arc's exactly: they
    lie a little outside the circle, by its radius times δ²/24 with δ the angle of one facet.

    Raises
    ------
    GeometryError
        If the arc is higher than half a circle.
    """
    if not 0 < height_mm <= 0.5 * width_mm:
        raise GeometryError(
            f"a curved deck {width_mm:.1f} mm wide can stand at most {0.5 * width_mm:.1f} mm high, read {height_mm:.1f} mm"
        )
    radius = (0.25 * width_mm**2 + height_mm**2) / (2.0 * height_mm)
    half = 2.0 * math.atan2(2.0 * height_mm, width_mm)
    step = 2.0 * half / count
    outer = radius * (0.5 * step) / math.sin(0.5 * step)
    t = np.linspace(-half, half, count + 1)
    return np.column_stack([outer * np.sin(t), outer * np.cos(t) - (radius - height_mm)])


def arc_length(width_mm: float, height_mm: float) -> float:
    """Length of a circular arc over a chord: R times its angle. [mm]."""
    radius = (0.25 * width_mm**2 + height_mm**2) / (2.0 * height_mm)
    return 4.0 * radius * math.atan2(2.0 * height_mm, width_mm)


def score_note(radius_mm: float, thickness_mm: float, *, paper: Paper, marked: bool = True) -> str:
    """How to cut the scores of a bend, on its inner side: common practice, no source.

    marked : whether the inner side is the marked face
    """
    through = "through the inner paper" if paper == "both" else "inside the bend"
    face = "" if marked else ", other face"
    return f"score {thickness_mm / 2:.1f} mm deep {through}{face}, to bend to {radius_mm:.0f} mm radius"
