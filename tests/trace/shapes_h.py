"""Curves hand h builds its aeroplanes from: planforms, sections, bodies. Lengths in mm; x aft, y starboard, z up."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from scipy.interpolate import PchipInterpolator
from shapely.affinity import scale
from shapely.ops import unary_union

Points = np.ndarray


def lens(x0: float, x1: float, half: float, power: float = 2.0) -> Points:
    """A pointed or rounded sliver along x, its greatest half width near the middle."""
    t = np.linspace(0, np.pi, 40)
    x = (x0 + x1) / 2 - (x1 - x0) / 2 * np.cos(t)
    w = half * np.sin(t) ** (2 / power)
    return np.r_[np.c_[x, w], np.c_[x, -w][::-1][1:-1]]


def rounded(shape: shapely.Polygon, radius: float) -> shapely.Polygon:
    """A shape with its outer corners rounded."""
    return shape.buffer(-radius, quad_segs=24).buffer(radius, quad_segs=24)


def mirrored(half: Points) -> shapely.Polygon:
    """The whole shape of a starboard half given from centre line to centre line."""
    return shapely.Polygon(np.r_[half, (half * [1, -1])[::-1]]).buffer(0)


def planform(
    rng: np.random.Generator, *, half: float, root: float, tip: float, back: float, end: str, at: float = 0.0
) -> shapely.Polygon:
    """A wing or tail from above: chords at the root and, before the tip's own shape, the tip; `back` is how far the
    leading edge falls behind at the tip, `at` the x of its apex.
    """
    if end == "elliptic":
        y = half * np.sin(np.linspace(0, np.pi / 2, 120))
        power = rng.uniform(2.0, 2.7)
        chord = root * (1 - (y / half) ** power) ** (1 / power)
        line = rng.uniform(0.25, 0.45)  # the share of the chord that lies on one straight line
        lead = at + back * y / half + line * (root - chord)
        return mirrored(np.r_[np.c_[lead, y], np.c_[lead + chord, y][::-1][1:]])
    if end == "round":
        depth = min(rng.uniform(0.35, 0.75) * tip, 0.35 * half)
        y0 = half - depth
        s = np.sin(np.linspace(0, np.pi / 2, 60))
        y = np.r_[0.0, y0 + depth * s]
        full = root + (tip - root) * y / half
        chord = full * np.r_[1.0, np.sqrt(1 - s**2)]
        line = rng.uniform(0.3, 0.5)
        lead = at + back * y / half + line * (full - chord)
        return mirrored(np.r_[np.c_[lead, y], np.c_[lead + chord, y][::-1][1:]])
    rake = {"raked": rng.uniform(0.15, 0.4), "square": 0.0}[end] * tip
    inner = half - rake
    corners = [
        (at, 0),
        (at + back * inner / half, inner),
        (at + back + tip, half),
        (at + root, 0),
    ]
    plan = rounded(mirrored(np.array(corners, float)), rng.uniform(0.06, 0.22) * tip)
    return scale(plan, 1.0, half / plan.bounds[3], origin=(0, 0))  # rounding takes a sharp tip's end away


def section(chord: float, at: float, z: float, thick: float, camber: float = 0.02) -> shapely.Polygon:
    """A wing section; thickness and camber in shares of the chord."""
    s = (1 - np.cos(np.linspace(0, np.pi, 45))) / 2
    t = 5 * thick * (0.2969 * np.sqrt(s) - 0.126 * s - 0.3516 * s**2 + 0.2843 * s**3 - 0.1036 * s**4)
    mean = camber * 4 * s * (1 - s)
    up, low = np.c_[s, mean + t], np.c_[s, mean - t]
    return shapely.Polygon(np.r_[up, low[::-1][1:-1]] * chord + [at, z]).buffer(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """A wing or a tailplane: seen from above, and how high, how bent and how thick it is."""

    plan: shapely.Polygon
    z: float
    dihedral: float  # rad
    thick: float

    @property
    def half(self) -> float:
        return float(self.plan.bounds[3])

    def chord(self, y: float) -> tuple[float, float]:
        """Leading and trailing edge at y; of a cut-out centre the section beside it counts."""
        cut = self.plan.intersection(shapely.LineString([(-1e5, y), (1e5, y)]))
        return (0.0, 0.0) if cut.is_empty else (cut.bounds[0], cut.bounds[2])

    def height(self, y: float) -> float:
        return self.z + abs(y) * float(np.tan(self.dihedral))

    def section(self, y: float) -> shapely.Polygon:
        lead, trail = self.chord(y)
        return section(trail - lead, lead, self.height(y), self.thick)

    def side(self) -> shapely.Polygon:
        """What shows of it from the side: all its sections from root to tip, one behind the other."""
        cuts = [self.section(y) for y in self.half * np.array([0.02, 0.3, 0.55, 0.75, 0.88, 0.95, 0.985])]
        return unary_union([a.union(b).convex_hull for a, b in pairwise(cuts)])

    def front(self) -> shapely.Polygon:
        """What shows of it from the front, in (y, z)."""
        y = self.half * np.sin(np.linspace(0.02, np.pi / 2 - 0.03, 40))
        ends = np.array([self.chord(v) for v in y])
        t = 0.5 * self.thick * (ends[:, 1] - ends[:, 0])
        z = np.array([self.height(v) for v in y])
        t, z, y = np.r_[t[0], t, 0.0], np.r_[self.z, z, z[-1]], np.r_[0.0, y, self.half]
        half = np.r_[np.c_[y, z + t], np.c_[y, z - t][::-1][1:]]
        return unary_union([shapely.Polygon(half), shapely.Polygon(half * [-1, 1])]).buffer(1e-6)

    def hinge(self, share: float, y0: float, y1: float) -> list[Points]:
        """A straight hinge line from a share of the chord at one y to the same at another, with the flap's ends."""
        (a0, a1), (c0, c1) = self.chord(y0), self.chord(y1)
        line = np.array([[a1, y0], [a0 + share * (a1 - a0), y0], [c0 + share * (c1 - c0), y1], [c1, y1]])
        return [line, line * [1, -1]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """A body by its half width, its upper and its lower line along x; it begins at x = 0."""

    length: float
    width: PchipInterpolator
    upper: PchipInterpolator
    lower: PchipInterpolator
    nose: str  # "cowl", "inline", "round"
    nose_length: float  # of the rounding of a round nose
    axis: float  # z of the foremost point

    def _x(self) -> Points:
        return self.length * (1 - np.cos(np.linspace(0, np.pi / 2, 150)))

    def _round(self, x: Points) -> Points:
        if self.nose != "round":
            return np.ones_like(x)
        u = np.clip(x / self.nose_length, 0, 1)
        return np.sqrt(1 - (1 - u) ** 2)

    def _blunted(self, shape: shapely.Polygon) -> shapely.Polygon:
        """The front corners of a cowl rounded."""
        if self.nose == "round":
            return shape
        r = 0.25 * float(self.width(0.0))
        rest = shape.intersection(shapely.box(1.5 * r, -1e5, 1e5, 1e5))
        return rounded(shape, r).union(rest)

    def top(self) -> shapely.Polygon:
        x = self._x()
        return self._blunted(mirrored(np.c_[x, self.width(x) * self._round(x)]))

    def side(self) -> shapely.Polygon:
        x = self._x()
        k = self._round(x)
        up = self.axis + (self.upper(x) - self.axis) * k
        low = self.axis + (self.lower(x) - self.axis) * k
        return self._blunted(shapely.Polygon(np.r_[np.c_[x, up], np.c_[x, low][::-1]]).buffer(0))

    def front(self, power: float) -> shapely.Polygon:
        """The widest section, in (y, z)."""
        x = np.linspace(0, self.length, 200)
        k = int(np.argmax(self.width(x)))
        w, up, low = (
            float(self.width(x[k])),
            float(np.max(self.upper(x[: k + 40]))),
            float(np.min(self.lower(x))),
        )
        a = np.linspace(0, 2 * np.pi, 120, endpoint=False)
        c, s = np.cos(a), np.sin(a)
        y = w * np.sign(c) * np.abs(c) ** (2 / power)
        z = (up + low) / 2 + (up - low) / 2 * np.sign(s) * np.abs(s) ** (2 / power)
        return shapely.Polygon(np.c_[y, z])

    def across(self, x: float, view: str) -> Points:
        """A line across the body at x."""
        if view == "top":
            w = float(self.width(x) * self._round(np.array([x]))[0])
            return np.array([[x, -w], [x, w]])
        return np.array([[x, float(self.lower(x))], [x, float(self.upper(x))]])


def disc(x: float, z: float, radius: float) -> shapely.Polygon:
    return shapely.Point(x, z).buffer(radius, quad_segs=32)


def bar(a: tuple[float, float], b: tuple[float, float], width: float) -> shapely.Polygon:
    """A strut seen as a band between two points."""
    return shapely.LineString([a, b]).buffer(width / 2, cap_style="flat")


def both_sides(shape: shapely.Polygon) -> list[shapely.Polygon]:
    """A shape of the front view and its mirror image."""
    return [shape, scale(shape, -1, 1, origin=(0, 0))]
