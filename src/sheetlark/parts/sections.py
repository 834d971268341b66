"""Wing sections that are not flat: a sheet bent to an arc or creased once, a second skin over a spar, a step.

A curved panel is part of a cone: its rulings run from root to tip at a constant share of the chord, so a tapered
panel keeps its section in proportion and still lies flat. Shares are taken on the straight-edged planform.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from sheetlark.airframe import LiftingSurface
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats
from sheetlark.parts.bending import arc_points, ruled
from sheetlark.parts.facets import Facet

_ARC_FACETS = 8
_BEYOND = 0.06  # the end facets go on past both edges by this share, for tips that bulge


class Curve:
    """The mean surface of a curved panel, developed.

    shares : shape (n,), of the chord, where the rulings lie
    heights : shape (n,), there, in chords
    lift_mm : how far the whole lies above the panel's own plane
    """

    def __init__(
        self, surface: LiftingSurface, shares: Floats, heights: Floats, lift_mm: float = 0.0
    ) -> None:
        self.surface = surface
        self.lift = lift_mm
        half = 1e3 * surface.half_span_m
        (x0, c0), (x1, c1) = surface.chord_at(0.0), surface.chord_at(0.7)
        self.edge = (1e3 * x0, 1e3 * (x1 - x0) / (0.7 * half))
        self.chord = (1e3 * c0, 1e3 * (c1 - c0) / (0.7 * half))
        s, h = np.asarray(shares, dtype=float), np.asarray(heights, dtype=float)
        first, last = (h[1] - h[0]) / (s[1] - s[0]), (h[-1] - h[-2]) / (s[-1] - s[-2])
        ends = (s[0] - _BEYOND, s[-1] + _BEYOND)
        self.shares = s
        self.heights = h
        wide_s = np.array([ends[0], *s[1:-1], ends[1]])
        wide_h = np.array([h[0] - _BEYOND * first, *h[1:-1], h[-1] + _BEYOND * last])
        root, tip = -6.0, half + 2.0
        if self.chord_at(tip) < 2.0:
            raise GeometryError(
                f"{surface.name!r} tapers to a point; a section of {surface.section!r} needs some chord at the tip",
                (*surface.where, "tip_chord"),
            )

        def line(v: float) -> Floats:
            c = self.chord_at(v)
            return np.column_stack([self.edge_at(v) + c * wide_s, np.full(len(wide_s), v), c * wide_h])

        _, facets, rulings = ruled(line(tip), line(root))
        self.facets: tuple[Facet, ...] = tuple(self._turned(f) for f in facets)
        self.rulings = np.stack([rulings[..., 1], -rulings[..., 0]], axis=-1)
        self._local = [np.linalg.inv(surface.matrix()) @ f.matrix for f in self.facets]
        self._cuts = wide_s[1:-1]

    def edge_at(self, v: float) -> float:
        """Leading edge of the straight-edged planform. [mm]."""
        return float(self.edge[0] + self.edge[1] * v)

    def chord_at(self, v: float) -> float:
        """Its chord. [mm]."""
        return float(self.chord[0] + self.chord[1] * v)

    def _turned(self, facet: Facet) -> Facet:
        """From the ruled strip's own sheet (along the ruling, across) to (aft, outwards), and into place."""
        from shapely.affinity import affine_transform

        m = facet.matrix
        own = np.eye(4)
        own[:3, 0], own[:3, 1], own[:3, 2], own[:3, 3] = m[:3, 1], -m[:3, 0], m[:3, 2], m[:3, 3]
        own[2, 3] += self.lift
        region = affine_transform(facet.region, [0, 1, -1, 0, 0, 0])
        return Facet(region, self.surface.matrix() @ own)

    def share(self, u: float, v: float) -> float:
        """Share of the chord at a place of the plan. [-]."""
        return (u - self.edge_at(v)) / self.chord_at(v)

    def rise(self, u: float, v: float) -> float:
        """Height of the mean surface above the panel's plane. [mm]."""
        v = max(v, 0.0)
        s = min(max(self.share(u, v), float(self.shares[0])), float(self.shares[-1]))
        return float(np.interp(s, self.shares, self.heights)) * self.chord_at(v) + self.lift

    def slant(self) -> float:
        """The most any facet's normal leans along the span. [-]."""
        return max(abs(float(m[1, 2])) for m in self._local)

    def to_sheet(self, points: Floats) -> Floats:
        """Places of the plan, shape (n, 2), on the flat sheet, shape (n, 2). [mm]."""
        out = []
        for u, v in np.atleast_2d(points):
            i = int(np.searchsorted(self._cuts, self.share(float(u), float(v))))
            m = self._local[i]
            out.append(np.linalg.solve(m[:2, :2], np.array([u, v]) - m[:2, 3]))
        return np.array(out)

    def outline(self, points: Floats) -> Any:
        """A closed outline of the plan, shape (n, 2), laid on the sheet, corners added where it crosses rulings."""
        from shapely.geometry import Polygon

        p = np.asarray(points, dtype=float)
        found: list[Floats] = []
        for a, b in zip(p, np.roll(p, -1, axis=0), strict=True):
            d = b - a
            cuts = [0.0]
            for s in self._cuts:
                # u - edge - s chord is linear along the side, and zero on the ruling.
                start = a[0] - self.edge_at(a[1]) - s * self.chord_at(a[1])
                end = b[0] - self.edge_at(b[1]) - s * self.chord_at(b[1])
                if start * end < 0:
                    cuts.append(float(start / (start - end)))
            found.extend(a + t * d for t in sorted(cuts))
        return Polygon(self.to_sheet(np.array(found))).buffer(0)

    def scores(self) -> list[tuple[tuple[float, float], tuple[float, float]]]:
        """Where it is scored or folded: its inner rulings on the sheet."""
        return [((float(a[0]), float(a[1])), (float(b[0]), float(b[1]))) for a, b in self.rulings[1:-1]]


def curve_of(surface: LiftingSurface) -> Curve | None:
    """The curve of a panel bent to an arc or folded; None for one whose own sheet stays flat.

    Raises
    ------
    GeometryError
        If the section cannot be bent so.
    """
    if surface.section not in {"arc", "folded"} or surface.camber <= 0:
        return None
    _check(surface)
    hinge = [] if surface.control is None else [1.0 - surface.control.chord_share]
    if surface.section == "folded":
        shares = np.array(sorted({0.0, surface.crest, 1.0, *hinge}))
        heights = np.interp(shares, [0.0, surface.crest, 1.0], [0.0, surface.camber, 0.0])
        return Curve(surface, shares, heights)
    arc = arc_points(1.0, surface.camber, _ARC_FACETS)
    shares, heights = arc[:, 0] + 0.5, arc[:, 1]
    if hinge:
        # The hinge line must be a ruling: the nearest one gives way to it.
        at = 1 + int(np.argmin(np.abs(shares[1:-1] - hinge[0])))
        kept = np.delete(shares, at), np.delete(heights, at)
        h = float(np.interp(hinge[0], shares, heights))
        where = int(np.searchsorted(kept[0], hinge[0]))
        shares, heights = np.insert(kept[0], where, hinge[0]), np.insert(kept[1], where, h)
    return Curve(surface, shares, heights)


def upper_curve(surface: LiftingSurface, thickness_mm: float) -> Curve | None:
    """The second skin of a hollow or a stepped wing, lying on its panel; None for other sections."""
    if surface.section not in {"hollow", "stepped"}:
        return None
    _check(surface)
    end = 1.0 if surface.control is None else 1.0 - surface.control.chord_share
    if surface.section == "stepped":
        return Curve(surface, np.array([0.0, 0.5 * surface.crest, surface.crest]), np.zeros(3), thickness_mm)
    rear = end - 0.04
    if surface.crest > rear - 0.1:
        raise GeometryError(
            f"the spar of {surface.name!r} at {100 * surface.crest:.0f} % of the chord leaves no room for the skin "
            f"behind it, which ends at {100 * rear:.0f} %; move the crest forward",
            (*surface.where, "crest"),
        )
    return Curve(
        surface, np.array([0.0, surface.crest, rear]), np.array([0.0, surface.camber, 0.0]), thickness_mm
    )


def _check(surface: LiftingSurface) -> None:
    if not 0.1 <= surface.crest <= 0.9:
        raise GeometryError(
            f"the crest of {surface.name!r} must lie from 10 % to 90 % of the chord, read {100 * surface.crest:.0f} %",
            (*surface.where, "crest"),
        )
    if surface.camber > 0.15:
        raise GeometryError(
            f"a camber of {100 * surface.camber:.0f} % of the chord is more than sheet takes; at most 15 %",
            (*surface.where, "camber"),
        )
