"""What a wing looks like from the side: its root section, or the least figure without hollows round root and tip sections.

A side view shows a wing as its section at the root, or the whole half of it: then a tip that stands higher, or further
aft, makes another figure. Both lines of a figure are linear in the root chord, so that they are worked out once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.front import FrontWing
from sheetlark.trace.shapes.surface import Surface

_OUTER = 0.97  # of the half span, where a tip's section still has most of its chord
_LIKE_ROOT = 0.04  # of the chord: a tip that lies no further off than that makes no other figure


class Tip(NamedTuple):
    """Where a wing's tip section lies against the root's: its ends further aft, itself higher. [mm]"""

    lead: float
    trail: float
    rise: float

    def apart(self, chord: float) -> bool:
        """Whether a half wing with that root chord looks other than its root section."""
        return max(abs(v) for v in self) > _LIKE_ROOT * chord


def tip_of(both: Surface, wing: FrontWing, other_mm: float) -> Tip:
    """Where a wing's tip lies against its root, by its dihedral and by how the edges of both wings together run.

    other_mm : half span of the other wing. [mm]
    """
    y = 0.85 * min(wing.semi_mm, other_mm)  # within both
    out = _OUTER * wing.semi_mm
    lead, trail = (float(np.interp(y, both.station, e) - e[0]) * out / y for e in (both.lead, both.trail))
    return Tip(lead=lead, trail=trail, rise=out * float(np.tan(np.radians(wing.dihedral_deg))))


class Shape(NamedTuple):
    """Thickness above the chord line doubled over chord, and the depth below it as a share of that above.

    under : less than nothing where the lower line is hollow.
    tip : None where the root section alone is drawn.
    tilt : how much higher the leading edge lies than the trailing edge, over chord: wings stand at an incidence.
    """

    thick: float
    under: float
    tip: Tip | None = None
    tilt: float = 0.0

    @property
    def depth(self) -> float:
        """How far its lines are from each other at the most, over chord."""
        return 0.5 * self.thick * (1.0 + self.under)


def thickness(t: Floats) -> Floats:
    """Half thickness of a 100 % thick symmetrical section over its chord; NACA Report 460 (1933), its formula 1."""
    return np.asarray(
        5.0 * (0.2969 * np.sqrt(t) - 0.1260 * t - 0.3516 * t**2 + 0.2843 * t**3 - 0.1015 * t**4)
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A figure's upper or lower line, its places linear in the root chord: x = lead + chord * along[0] + along[1], z alike."""

    along: Floats  # shape (2, n)
    above: Floats

    def x(self, lead: Floats, chord: Floats) -> Floats:
        return np.asarray(lead[..., None] + chord[..., None] * self.along[0] + self.along[1])

    def height(self, z: Floats, chord: Floats) -> Floats:
        return np.asarray(z[..., None] + chord[..., None] * self.above[0] + self.above[1])


@lru_cache(maxsize=2048)
def figure_lines(shape: Shape, chord: float, points: int) -> tuple[Line, Line, Floats]:
    """The upper and the lower line of a shape, and how far along the figure their places lie, 0..1.

    chord : root chord at which it is worked out where both sections show. [mm]
    """
    t = 0.5 - 0.5 * np.cos(np.linspace(0.06, np.pi - 0.06, points))
    half = (1.0, -shape.under)
    if shape.tip is None:
        none = np.zeros(points)
        up, down = (
            Line(
                along=np.stack([t, none]),
                above=np.stack([side * shape.thick * thickness(t) + shape.tilt * (0.5 - t), none]),
            )
            for side in half
        )
        return up, down, t
    lead, trail, rise = shape.tip
    s = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, 40))
    further = lead + (trail - lead) * s
    ends = np.r_[chord * s, chord * s + further]
    t_x = ends.min() + np.ptp(ends) * t
    out = []
    for side in half:
        y = side * shape.thick * thickness(s) + shape.tilt * (0.5 - s)
        nodes = np.stack([  # of the root, then of the tip: what the chord multiplies and what it does not, along and above
            np.r_[s, s], np.r_[0.0 * s, further], np.r_[y, y], np.r_[0.0 * s, rise + (trail - lead) * y]
        ])  # fmt: skip
        x, z = chord * nodes[0] + nodes[1], chord * nodes[2] + nodes[3]
        on = _hull(x, side * z)
        a = np.stack([np.interp(t_x, x[on], v[on]) for v in nodes])
        out.append(Line(along=a[:2], above=a[2:]))
    return out[0], out[1], t


@lru_cache(maxsize=512)
def lines_of(shapes: tuple[Shape, ...], chord: float, points: int) -> tuple[Line, Line, Floats]:
    """As :func:`figure_lines`, of several shapes with one tip at once: heights, and with a tip x too, have an axis of shapes before places."""
    made = [figure_lines(shape, chord, points) for shape in shapes]
    # of root sections x is the same whatever their shape
    lines = [
        Line(
            along=side[0].along
            if shapes[0].tip is None
            else np.stack([s.along[:, None] for s in side], axis=1),
            above=np.stack([s.above[:, None] for s in side], axis=1),
        )
        for side in ([m[0] for m in made], [m[1] for m in made])
    ]
    return lines[0], lines[1], made[0][2]


def _hull(x: Floats, z: Floats) -> npt.NDArray[np.intp]:
    """Which points make the upper line of the least figure without hollows round them all, front to rear."""
    points = np.c_[x, z]
    ring = shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(points)))[:-1]  # clockwise
    front, rear = (np.lexsort((ring[:, 1], end * ring[:, 0]))[-1] for end in (-1.0, 1.0))
    upper = np.roll(ring, -front, axis=0)[: (rear - front) % len(ring) + 1]
    return np.asarray((points[:, None] == upper).all(-1).argmax(0))
