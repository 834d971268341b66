"""A lifting surface as flat parts: its fixed panel, what is hinged to it, and what is glued on."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np

from sheetlark.airframe import LiftingSurface
from sheetlark.outline import Floats
from sheetlark.parts.blank import Blank
from sheetlark.parts.fits import HINGE_GAP_MM
from sheetlark.parts.kept import Kept, keep
from sheetlark.parts.sections import Curve
from sheetlark.parts.solids import PORT, Solid, polygons, solid_stamp, turn_about, union


@dataclass(slots=True, eq=False)
class Hinge:
    """A moving surface and the line it swings about.

    start, end : of the hinge line in the panel's plane [mm]
    frame : of the flat stretch that carries the hinge line
    w : height of the hinge line above the middle of the sheet: the taped face [mm]
    up_rad, down_rad : throws, up towards the marked face of the panel
    joiner : all that the rod between two halves passes through, as a solid; None where there is none
    """

    moving: Blank
    fixed: Blank
    frame: Floats
    start: Floats
    end: Floats
    w: float
    up_rad: float
    down_rad: float
    joiner: Any = None

    def axis(self) -> tuple[Floats, Floats]:
        """A point of the starboard hinge line and its direction, on the geometry axes."""
        m = self.frame
        a = (m @ np.array([*self.start, self.w, 1.0]))[:3]
        b = (m @ np.array([*self.end, self.w, 1.0]))[:3]
        return a, (b - a) / np.linalg.norm(b - a)

    def trim(self) -> None:
        """Draw the bevel and the hinge line again where the moving part lost some of its edge."""
        along = (self.end - self.start) / np.linalg.norm(self.end - self.start)
        aft = np.array([along[1], -along[0]])
        on = self.start + HINGE_GAP_MM / 2 * aft
        low, high = edge_run(self.moving.shape, on, along)
        self.moving.bevels = [
            replace(b, start=_point(on + high * along), end=_point(on + low * along))
            for b in self.moving.bevels
        ]

    def at(self, angle_rad: float) -> Solid:
        """The starboard moving surface turned about its hinge; positive lifts its trailing edge."""
        return self.moving.half().transform(turn_about(*self.axis(), angle_rad)[:3])

    def sweep(self) -> Solid:
        """All it passes through, both sides: the hull of its positions, no more than 6 degrees apart.

        A plate swung about its own edge sweeps a sector, which its hull fills but for the arc's last 0.1 mm.
        """
        up, down = self.up_rad, self.down_rad
        if self.moving.group == "fin":
            up = down = max(up, down)  # what stands to port of it is the mirror of what stands to starboard
        joiner = None if self.joiner is None else solid_stamp(self.joiner)
        key = (self.moving.stamp, *(p.tobytes() for p in self.axis()), up, down, joiner)
        return _SWEEPS.get(key, lambda: self._swept(up, down))

    def _swept(self, up: float, down: float) -> Solid:
        import manifold3d as m3

        angles = np.linspace(-down, up, max(3, math.ceil((up + down) / math.radians(6.0)) + 1))
        half = m3.Manifold.batch_hull([self.at(float(a)) for a in angles])
        whole = half if self.moving.sides == "one" else union([half, half.transform(PORT[:3])])
        return whole if self.joiner is None else union([whole, self.joiner])


_SWEEPS: Kept[Solid] = keep(60)


@dataclass(slots=True, eq=False)
class Panel:
    """One lifting surface: its fixed blank, what is hinged to it, and the whole as it was drawn.

    whole : the uncut planform as a solid, both sides, with what lies on it
    layers : skins, webs and ribs glued to the panel
    curve, upper : its own section, and that of a second skin, where they are not flat
    """

    surface: LiftingSurface
    fixed: Blank
    hinges: list[Hinge] = field(default_factory=list)
    whole: Any = None
    layers: list[Blank] = field(default_factory=list)
    curve: Curve | None = None
    upper: Curve | None = None

    @property
    def one_piece(self) -> bool:
        return self.fixed.sides == "one"

    def fresh(self) -> Panel:
        """A panel like it, whose parts can be cut without touching this one's."""
        fixed = self.fixed.fresh()
        hinges = [replace(h, moving=h.moving.fresh(), fixed=fixed) for h in self.hinges]
        return replace(self, fixed=fixed, hinges=hinges, layers=[b.fresh() for b in self.layers])

    def blanks(self) -> list[Blank]:
        return [self.fixed, *(h.moving for h in self.hinges), *self.layers]

    def underside(self, x_mm: float, y_mm: float, side: Literal[-1, 1]) -> float:
        """Height of its lower (-1) or upper (+1) face above a point of the plan view. [mm]."""
        m = self.surface.matrix()
        n = m[:3, 2]
        p = m[:3, 3] + side * self.fixed.thickness / 2 * n
        z = float(p[2] - (n[0] * (x_mm - p[0]) + n[1] * (abs(y_mm) - p[1])) / n[2])
        curve = self.curve if self.curve is not None else (self.upper if side > 0 else None)
        if curve is None:
            return z
        local = np.linalg.inv(m) @ np.array([x_mm, abs(y_mm), z, 1.0])
        share = curve.share(float(local[0]), float(local[1]))
        return z + (curve.rise(float(local[0]), float(local[1])) if share <= curve.shares[-1] else 0.0)

    def to_sheet(self, points: Floats) -> Floats:
        """Places of its own plane, shape (n, 2), on the flat sheet. [mm]."""
        return np.atleast_2d(points) if self.curve is None else self.curve.to_sheet(points)


def edge_run(shape: Any, on: Floats, along: Floats) -> tuple[float, float]:
    """First and last place of a shape's edge that lies on a line, measured along it."""
    from shapely.geometry import LineString

    line = LineString([on - 4e3 * along, on + 4e3 * along]).buffer(0.02)
    run = shape.intersection(line)
    points = np.concatenate([np.asarray(p.exterior.coords) for p in polygons(run)])
    t = (points - on) @ along
    return float(t.min()), float(t.max())


def _point(p: Floats) -> tuple[float, float]:
    return (float(p[0]), float(p[1]))
