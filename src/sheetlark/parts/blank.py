"""A part while it is being made: its shape on the sheet, its facets in space, and what cuts into it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sheetlark.design import Paper
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats, Point
from sheetlark.parts.part import Bevel, Group, Mark, Part, Piece
from sheetlark.parts.solids import PORT, Solid, plate, polygons, shadow, union, wedge

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

MITRE: Literal["mitre"] = "mitre"  # corners stay sharp


@dataclass(frozen=True, slots=True, eq=False)
class Facet:
    """A flat stretch of a bent part.

    region : what of the sheet it holds; None for a part that stays flat
    matrix : shape (4, 4), from (u, v, w) on the sheet to the geometry axes [mm]
    """

    region: Any
    matrix: Floats


@dataclass(slots=True, eq=False)
class Blank:
    """A part in the making. The shape is a shapely polygon on the flat sheet; everything in mm.

    sides : "one" where it exists once, "pair" where a mirrored one exists to port, "port" where only that one does:
        its shape and facets are those of the starboard one it mirrors
    where : the place in the design to name when it cannot be made
    """

    name: str
    group: Group
    sheet: str
    paper: Paper
    thickness: float
    shape: Any
    facets: tuple[Facet, ...]
    sides: Literal["one", "pair", "port"] = "one"
    face: str = "outside"
    may_turn: bool = True
    where: tuple[str | int, ...] = ()
    marks: list[Mark] = field(default_factory=list)
    bevels: list[Bevel] = field(default_factory=list)
    _held: Any = None
    _boxes: Any = None

    @property
    def matrix(self) -> Floats:
        """Of the only facet, or the first."""
        return self.facets[0].matrix

    def flats(self) -> list[tuple[Any, Floats]]:
        """The polygons it makes in space, with their places; starboard of a pair."""
        found: list[tuple[Any, Floats]] = []
        for facet in self.facets:
            shape = self.shape if facet.region is None else self.shape.intersection(facet.region)
            found.extend((p, facet.matrix) for p in polygons(shape) if p.area > 0.02)
        return found

    def half(self) -> Solid:
        """The starboard one as a solid, or the only one; made once for each shape."""
        if self._held is not None and self._held[0] is self.shape and self._held[1] == len(self.bevels):
            return self._held[2]
        solids = []
        for shape, matrix in self.flats():
            flat = plate(shape, self.thickness, matrix)
            for bevel in self.bevels:
                flat = flat - wedge(bevel).transform(matrix[:3])
            solids.append(flat)
        solid = union(solids)
        self._held = (self.shape, len(self.bevels), solid)
        return solid

    def solid(self) -> Solid:
        """All copies as one solid."""
        half = self.half()
        if self.sides == "port":
            return half.transform(PORT[:3])
        return half if self.sides == "one" else union([half, half.transform(PORT[:3])])

    def shadow(self, guest: Solid, clearance: float = 0.0) -> BaseGeometry | None:
        """What a guest covers of the sheet, facet by facet, grown by a clearance."""
        from shapely.ops import unary_union

        found = []
        away = clearance + 1.0
        reach = guest.bounding_box()
        for facet, low, high in self._rooms():
            if any(low[k] > reach[k + 3] + away or reach[k] > high[k] + away for k in range(3)):
                continue
            cover = shadow(guest, facet.matrix, self.thickness + 2 * clearance)
            if cover is None:
                continue
            if clearance:
                cover = cover.buffer(clearance, join_style=MITRE)
            if facet.region is not None:
                cover = cover.intersection(facet.region)
            if not cover.is_empty:
                found.append(cover)
        return unary_union(found) if found else None

    def _rooms(self) -> list[tuple[Facet, list[float], list[float]]]:
        """Each facet with the box round what it holds, thickness and all; found once for each shape."""
        if self._boxes is None or self._boxes[0] is not self.shape:
            found = []
            for facet in self.facets:
                shape = self.shape if facet.region is None else self.shape.intersection(facet.region)
                if shape.is_empty:
                    continue
                u0, v0, u1, v1 = shape.bounds
                w = self.thickness / 2
                corners = np.array([(u, v, z, 1.0) for u in (u0, u1) for v in (v0, v1) for z in (-w, w)])
                placed = corners @ facet.matrix[:3].T
                found.append((facet, placed.min(axis=0).tolist(), placed.max(axis=0).tolist()))
            self._boxes = (self.shape, found)
        return self._boxes[1]  # type: ignore[no-any-return]

    def yield_to(self, guest: Solid, clearance: float = 0.0) -> list[Blank]:
        """Take away what a guest needs; keep the largest piece, return the others as blanks of their own.

        Raises
        ------
        GeometryError
            If nothing worth cutting is left.
        """
        cover = self.shadow(guest, clearance)
        return [] if cover is None else self.take(cover)

    def take(self, cover: BaseGeometry) -> list[Blank]:
        """Cut a shape of the sheet away; largest piece kept, others returned."""
        left = [p for p in _clean(less(self.shape, cover)) if p.area > 4.0]
        if not left:
            raise GeometryError(
                f"nothing is left of {self.name!r} once what passes through it is cut away", self.where
            )
        self.shape = left[0]
        return [
            replace(self, shape=p, marks=list(self.marks), bevels=list(self.bevels), _held=None, _boxes=None)
            for p in left[1:]
            if p.area > 60.0
        ]

    def drop_slivers(self, thinnest: float) -> None:
        """Take off tongues thinner than a builder can cut and keep."""
        from shapely.ops import unary_union

        half = 0.5 * thinnest
        core = self.shape.buffer(-half, join_style=MITRE).buffer(half + 0.01, join_style=MITRE)
        thin = [p for p in polygons(less(self.shape, core)) if p.area > 2.0 * thinnest]
        if thin:
            left = _clean(less(self.shape, unary_union(thin).buffer(0.05, join_style=MITRE)))
            self.shape = left[0] if left else self.shape

    def to_space(self, points: Floats, w: float = 0.0) -> Floats:
        """Points of the sheet, shape (n, 2), on the geometry axes, shape (n, 3), at a height above its middle."""
        p = np.atleast_2d(np.asarray(points, dtype=np.float64))
        out = np.empty((len(p), 3))
        for i, (u, v) in enumerate(p):
            out[i] = (self.frame_at(u, v) @ np.array([u, v, w, 1.0]))[:3]
        return out

    def frame_at(self, u: float, v: float) -> Floats:
        """The matrix of the facet that holds a place of the sheet, or the nearest."""
        from shapely import points as as_points

        if len(self.facets) == 1:
            return self.facets[0].matrix
        at = as_points(u, v)
        return min(self.facets, key=lambda f: f.region.distance(at)).matrix

    def mark(self, kind: Any, points: list[Point], note: str = "") -> None:
        """Draw a line on it."""
        self.marks.append(Mark(kind, tuple((float(u), float(v)) for u, v in points), note))

    def finished(self, number: int) -> Part:
        """The part, numbered."""
        from shapely.geometry.polygon import orient

        shape = orient(self.shape.simplify(1e-3))
        pieces = []
        for rough, matrix in self.flats():
            flat = orient(rough.simplify(1e-3))
            pieces.append(Piece(_ring(flat.exterior), tuple(_ring(h) for h in flat.interiors), matrix))
        starboard = tuple(pieces)
        port = tuple(Piece(p.outline, p.holes, PORT @ p.matrix) for p in pieces)
        copies = {"one": (starboard,), "pair": (starboard, port), "port": (port,)}[self.sides]
        return Part(
            number=number,
            name=self.name,
            group=self.group,
            sheet=self.sheet,
            paper=self.paper,
            thickness_mm=self.thickness,
            outline=_ring(shape.exterior),
            holes=tuple(_ring(h) for h in shape.interiors),
            marks=tuple(self.marks),
            copies=copies,
            mirrored=(True,) if self.sides == "port" else (False, True)[: len(copies)],
            face=self.face,
            may_turn=self.may_turn,
            bevels=tuple(self.bevels),
        )


def less(shape: BaseGeometry, cover: BaseGeometry) -> BaseGeometry:
    """A shape without a cover; on a fine grid where exact arithmetic loses its way among near-equal edges."""
    import shapely

    try:
        return shape.difference(cover)
    except shapely.errors.GEOSException:
        return shapely.difference(shape.buffer(0), cover.buffer(0), grid_size=1e-4)


def _clean(shape: BaseGeometry) -> list[Any]:
    """Its polygons, largest first, without the hairs that cutting leaves."""
    hair = 0.02
    cleaned = shape.buffer(-hair, join_style=MITRE).buffer(hair, join_style=MITRE)
    return sorted(polygons(cleaned), key=lambda p: -p.area)


def _ring(ring: Any) -> Floats:
    p = np.asarray(ring.coords, dtype=np.float64)[:-1, :2].copy()
    p.setflags(write=False)
    return p


def flat_at(origin: Floats, u: Floats, v: Floats) -> Floats:
    """A matrix, shape (4, 4), for a plane through an origin with axes u and v made square to each other."""
    m = np.eye(4)
    a = np.asarray(u, dtype=np.float64) / np.linalg.norm(u)
    b = np.asarray(v, dtype=np.float64) - np.dot(v, a) * a
    b /= np.linalg.norm(b)
    m[:3, 0], m[:3, 1], m[:3, 2], m[:3, 3] = a, b, np.cross(a, b), origin
    return m
