"""What a wing looks like from the side: its root section, or the least figure without hollows round root and tip sections.

A side view shows a wing as its section at the root, or the whole half of it: then a tip that stands higher, or further
aft, makes another figure. Both lines of a figure are linear in the root chord, so that they are worked out once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.front import FrontWing
from sheetlark.trace.shapes.surface import Surface

_OUTER = 0.97  # of the half span, where a tip's section still has most of its chord
_LIKE_ROOT = 0.04  # of the chord: a tip that lies no further off than that makes no other figure
_NODES = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, 40))  # of a section's line round which a figure is laid


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


@lru_cache(maxsize=512)
def lines_of(shapes: tuple[Shape, ...], chord: float, points: int) -> tuple[Line, Line, Floats]:
    """The upper and the lower line of each of several shapes with one tip, and how far along the figure their places lie.

    Heights, and with a tip x too, have an axis of shapes before that of places on the view, and that before theirs.

    chord : root chord at which they are worked out where both sections show. [mm]
    """
    t = 0.5 - 0.5 * np.cos(np.linspace(0.06, np.pi - 0.06, points))  # closer together toward its ends
    thick, tilt = (np.array(v)[:, None] for v in ([s.thick for s in shapes], [s.tilt for s in shapes]))
    halves = np.ones((len(shapes), 1)), np.array([[-s.under] for s in shapes])
    tip = shapes[0].tip
    if tip is None:  # x is the same whatever their shape
        none = np.zeros(points)
        along = np.stack([t, none])
        upper, lower = (side * thick * thickness(t) + tilt * (0.5 - t) for side in halves)
        high, low = (np.stack([y, 0.0 * y])[:, :, None] for y in (upper, lower))
        return Line(along=along, above=high), Line(along=along, above=low), t
    further = tip.lead + (tip.trail - tip.lead) * _NODES
    # of the root, then of the tip: what the chord multiplies and what it does not, along and above
    along = np.stack([np.concatenate([_NODES, _NODES]), np.concatenate([0.0 * _NODES, further])])
    x = chord * along[0] + along[1]
    t_x = x.min() + np.ptp(x) * t
    out = []
    for side in halves:
        y = side * thick * thickness(_NODES) + tilt * (0.5 - _NODES)
        above = (
            np.concatenate([y, y], axis=1),
            np.concatenate([0.0 * y, tip.rise + (tip.trail - tip.lead) * y], axis=1),
        )
        runs = _hulls(x, side * (chord * above[0] + above[1]))
        lines = [
            [np.interp(t_x, x[on], v[on]) for v in (*along, above[0][k], above[1][k])]
            for k, on in enumerate(runs)
        ]
        a = np.array(lines).swapaxes(0, 1)[:, :, None]
        out.append(Line(along=a[:2], above=a[2:]))
    return out[0], out[1], t


def _hulls(x: Floats, z: Floats) -> list[npt.NDArray[np.intp]]:
    """Which points make the upper line of the least figure without hollows round them all, front to rear.

    z : shape (figures, points), over the same x.
    """
    points = np.stack(np.broadcast_arrays(x, z), axis=-1)
    hulls = shapely.convex_hull(shapely.linestrings(points))
    corners, of = shapely.get_coordinates(hulls, return_index=True)
    bounds = pairwise(np.searchsorted(of, np.arange(len(z) + 1)).tolist())
    out = []
    for mine, (begin, end) in zip(z, bounds, strict=True):
        ring = corners[begin : end - 1]  # clockwise
        front, rear = (np.lexsort((ring[:, 1], way * ring[:, 0]))[-1] for way in (-1.0, 1.0))
        upper = np.roll(ring, -front, axis=0)[: (rear - front) % len(ring) + 1]
        same = (x[:, None] == upper[:, 0]) & (mine[:, None] == upper[:, 1])
        out.append(np.asarray(same.argmax(0)))
    return out
