"""A part while it is being made: its shape on the sheet, its facets in space, and what cuts into it."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sheetlark.design import Paper
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats, Point
from sheetlark.parts.facets import MITRE, Facet, Places
from sheetlark.parts.kept import Kept, KeptOf, keep, shape_stamp
from sheetlark.parts.part import Bevel, Group, Mark, Part, Piece
from sheetlark.parts.solids import (
    PORT,
    Solid,
    both_sides,
    bounds,
    lies_within,
    plate,
    polygons,
    to_port,
    union,
    wedge,
)

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


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
    _round: Any = None

    @property
    def matrix(self) -> Floats:
        """Of the only facet, or the first."""
        return self.facets[0].matrix

    def flats(self) -> list[tuple[Any, Floats]]:
        """The polygons it makes in space, with their places; starboard of a pair."""
        return [
            (p, facet.matrix)
            for facet, shape in zip(self.facets, self._by_facet(), strict=True)
            for p in polygons(shape)
            if p.area > 0.02
        ]

    def _by_facet(self) -> Any:
        """What of the shape lies on each facet, shape (n,)."""
        import shapely

        if self.facets[0].region is None:
            return [self.shape]

        def made() -> Any:
            return shapely.intersection(self.shape, np.array([f.region for f in self.facets]))

        return _BY_FACET.get((shape_stamp(self.shape), self.places.stamp), made)

    @property
    def stamp(self) -> Hashable:
        """Stands for all that decides what it is as a solid, and what is cut from it."""
        return (
            shape_stamp(self.shape),
            self.thickness,
            self.places.stamp,
            tuple(self.bevels),
            self.sides,
        )

    def half(self) -> Solid:
        """The starboard one as a solid, or the only one; made once for each shape."""
        if self._held is not None and self._held[0] is self.shape and self._held[1] == len(self.bevels):
            return self._held[2]
        solid = self._raised()[0]
        self._held = (self.shape, len(self.bevels), solid)
        return solid

    def _raised(self) -> tuple[Solid, list[Solid]]:
        """The starboard one whole, and flat by flat."""

        def made() -> tuple[Solid, list[Solid]]:
            solids = []
            for shape, matrix in self.flats():
                flat = plate(shape, self.thickness, matrix)
                for bevel in self.bevels:
                    flat = flat - wedge(bevel).transform(matrix[:3])
                solids.append(flat)
            whole = union(solids)
            if len(solids) > 1:
                lies_within(whole, solids)
            return whole, solids

        key = (shape_stamp(self.shape), self.thickness, self.places.stamp, tuple(self.bevels))
        return _HALVES.get(key, made)

    def half_flats(self) -> list[Solid]:
        """Every flat of the starboard one, or the only one, as a solid."""
        return self._raised()[1]

    def flat_solids(self) -> list[Solid]:
        """Every flat of every copy as a solid: what they cover needs no union of them."""
        starboard = self._raised()[1]
        port = [to_port(s) for s in starboard] if self.sides != "one" else []
        return [*port] if self.sides == "port" else [*starboard, *port]

    @property
    def places(self) -> Places:
        """Where its facets lie, ready to be asked."""
        return _PLACES.get(self.facets, lambda: Places.of(self.facets))

    def solid(self) -> Solid:
        """All copies as one solid."""
        half = self.half()
        if self.sides == "port":
            return half.transform(PORT[:3])
        return half if self.sides == "one" else both_sides(half)

    def shadow(self, guest: Guest, clearance: float = 0.0) -> BaseGeometry | None:
        """What a guest covers of the sheet, facet by facet, grown by a clearance.

        A bent part as a guest is taken flat by flat: a change at one end of it leaves what the other covers.
        """
        from shapely.ops import unary_union

        found = []
        away = clearance + 1.0
        if isinstance(guest, Blank) and self.far_from(guest, away):
            return None
        low, high = self._outer()
        solids = (
            guest.flat_solids() if isinstance(guest, Blank) else guest if isinstance(guest, list) else [guest]
        )
        guests = [(g, reach) for g in solids if not _misses(low, high, reach := bounds(g), away)]
        for facet, low, high in self._rooms() if guests else []:
            near = [g for g, reach in guests if not _misses(low, high, reach, away)]
            cover = facet.covered(near, self.thickness, clearance) if near else None
            if cover is not None:
                found.append(cover)
        return None if not found else found[0] if len(found) == 1 else unary_union(found)

    def out_of_reach(self, *reach: float) -> bool:
        """Whether a box, by its least and its most x, y, z, is further off than a distance, the last. [mm]."""
        away = reach[6]
        return _misses(*self._outer(), reach, away) or all(
            _misses(low, high, reach, away) for _, low, high in self._rooms()
        )

    def far_from(self, other: Blank, away: float) -> bool:
        """Whether the boxes round two parts, every copy of the other, are further apart than a distance. [mm]."""
        low, high = other._outer()
        aside = high[1] if other.sides == "one" else max(high[1], -low[1])
        least = low[1] if other.sides == "one" else -aside
        return _misses(*self._outer(), (low[0], least, low[2], high[0], aside, high[2]), away)

    def _outer(self) -> tuple[list[float], list[float]]:
        """Least and most x, y, z of a box round it; of what it was cut from, where that has been measured."""
        if self._round is None or self._round[0] is not self.shape:
            rooms = self._rooms()
            low = [min((low[k] for _, low, _ in rooms), default=math.inf) for k in range(3)]
            high = [max((high[k] for _, _, high in rooms), default=-math.inf) for k in range(3)]
            self._round = (self.shape, (low, high))
        return self._round[1]  # type: ignore[no-any-return]

    def _rooms(self) -> list[tuple[Facet, list[float], list[float]]]:
        """Each facet with a box round what it holds, thickness and all; found once for each shape as it is drawn."""
        if self._boxes is None or self._boxes[0] is not self.shape:
            key = (shape_stamp(self.shape), self.places.stamp, self.thickness)
            self._boxes = (self.shape, _ROOMS.get(key, self._measured))
        return self._boxes[1]  # type: ignore[no-any-return]

    def thicker(self, by: float) -> Blank:
        """As it lies, of a sheet so much thicker: to ask what it nearly touches."""
        boxes = []
        for facet, low, high in self._rooms():
            more = (0.5 * by * np.abs(facet.matrix[:3, 2])).tolist()
            thin = zip(low, high, more, strict=True)
            ends = [(a - m, b + m) for a, b, m in thin]
            boxes.append((facet, [a for a, _ in ends], [b for _, b in ends]))
        return replace(
            self, thickness=self.thickness + by, _held=None, _boxes=(self.shape, boxes), _round=None
        )

    def _measured(self) -> list[tuple[Facet, list[float], list[float]]]:
        import shapely

        flat = shapely.bounds(self._by_facet())
        middle, half = 0.5 * (flat[:, :2] + flat[:, 2:]), 0.5 * (flat[:, 2:] - flat[:, :2])
        m = self.places.matrices
        at = (m[:, :, :2] @ middle[:, :, None])[:, :, 0] + m[:, :, 3]
        reach = (np.abs(m[:, :, :2]) @ half[:, :, None])[:, :, 0] + 0.5 * self.thickness * np.abs(m[:, :, 2])
        return [
            (facet, low, high)
            for facet, low, high in zip(
                self.facets, (at - reach).tolist(), (at + reach).tolist(), strict=True
            )
            if not math.isnan(low[0])
        ]

    def yield_to(self, guest: Guest, clearance: float = 0.0) -> list[Blank]:
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
        left = _left(self.shape, cover)
        if not left:
            raise GeometryError(
                f"nothing is left of {self.name!r} once what passes through it is cut away", self.where
            )
        if self._round is not None and self._round[0] is self.shape:
            self._round = (left[0], self._round[1])  # what is cut smaller still lies where it lay
        self.shape = left[0]
        return [
            replace(self, shape=p, marks=list(self.marks), bevels=list(self.bevels), _held=None, _boxes=None)
            for p in left[1:]
            if p.area > 60.0
        ]

    def drop_slivers(self, thinnest: float) -> None:
        """Take off tongues thinner than a builder can cut and keep."""
        from shapely.ops import unary_union

        def made() -> Any:
            half = 0.5 * thinnest
            core = self.shape.buffer(-half, join_style=MITRE).buffer(half + 0.01, join_style=MITRE)
            thin = [p for p in polygons(less(self.shape, core)) if p.area > 2.0 * thinnest]
            if not thin:
                return self.shape
            left = _clean(less(self.shape, unary_union(thin).buffer(0.05, join_style=MITRE)))
            return left[0] if left else self.shape

        self.shape = _STOUT.get((shape_stamp(self.shape), thinnest), made)

    def to_space(self, points: Floats, w: float = 0.0) -> Floats:
        """Points of the sheet, shape (n, 2), on the geometry axes, shape (n, 3), at a height above its middle."""
        import shapely

        p = np.atleast_2d(np.asarray(points, dtype=np.float64))
        at = np.column_stack([p, np.full(len(p), w), np.ones(len(p))])
        if len(self.facets) == 1:
            frames = self.facets[0].matrix[None]
        else:
            away = shapely.distance(np.array([f.region for f in self.facets])[:, None], shapely.points(p))
            frames = np.stack([f.matrix for f in self.facets])[away.argmin(axis=0)]
        return np.asarray((frames @ at[:, :, None])[:, :3, 0], dtype=np.float64)

    def frame_at(self, u: float, v: float) -> Floats:
        """The matrix of the facet that holds a place of the sheet, or the nearest."""
        from shapely import points as as_points

        if len(self.facets) == 1:
            return self.facets[0].matrix
        at = as_points(u, v)
        return min(self.facets, key=lambda f: f.region.distance(at)).matrix

    def fresh(self) -> Blank:
        """A blank like it, to be cut without touching this one."""
        return replace(self, marks=list(self.marks), bevels=list(self.bevels))

    def mark(self, kind: Any, points: list[Point], note: str = "") -> None:
        """Draw a line on it."""
        self.marks.append(Mark(kind, tuple((float(u), float(v)) for u, v in points), note))

    def _laid_out(self) -> tuple[Any, tuple[Piece, ...], tuple[Piece, ...]]:
        """The shape as it is cut, and its flat pieces to starboard and to port."""
        from shapely.geometry.polygon import orient

        pieces = []
        for rough, matrix in self.flats():
            flat = orient(rough.simplify(1e-3))
            pieces.append(Piece(_ring(flat.exterior), tuple(_ring(h) for h in flat.interiors), matrix))
        port = tuple(Piece(p.outline, p.holes, PORT @ p.matrix) for p in pieces)
        return orient(self.shape.simplify(1e-3)), tuple(pieces), port

    def finished(self, number: int) -> Part:
        """The part, numbered."""
        key = (
            shape_stamp(self.shape),
            self.places.stamp,
            (number, self.name, self.group, self.sheet, self.paper, self.thickness),
            (self.sides, self.face, self.may_turn),
            tuple(self.marks),
            tuple(self.bevels),
        )
        return _PARTS.get(key, lambda: self._numbered(number))

    def _numbered(self, number: int) -> Part:
        key = (shape_stamp(self.shape), self.places.stamp)
        shape, starboard, port = _PIECES.get(key, self._laid_out)
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


Guest = Solid | list[Solid] | Blank  # a solid, one in several, or a part with all its copies

# The halves of a kit, what each covers of which, what a cut leaves: each holds three kits' worth or more.
_HALVES: Kept[tuple[Solid, list[Solid]]] = keep(120)
_LEFT: Kept[list[Any]] = keep(300)
_STOUT: Kept[Any] = keep(60)
_PLACES: KeptOf[Places] = KeptOf(100)
_BY_FACET: Kept[Any] = keep(300)
_ROOMS: Kept[list[tuple[Facet, list[float], list[float]]]] = keep(300)
_PIECES: Kept[tuple[Any, tuple[Piece, ...], tuple[Piece, ...]]] = keep(100)
_PARTS: Kept[Part] = keep(120)


def _misses(low: Sequence[float], high: Sequence[float], reach: Sequence[float], away: float) -> bool:
    """Whether a box by its corners and one by its six bounds are further apart than a distance. [mm]."""
    return (
        low[0] > reach[3] + away
        or reach[0] > high[0] + away
        or low[1] > reach[4] + away
        or reach[1] > high[1] + away
        or low[2] > reach[5] + away
        or reach[2] > high[2] + away
    )


def _left(shape: BaseGeometry, cover: BaseGeometry) -> list[Any]:
    """The pieces worth keeping of a shape without a cover, largest first."""
    key = (shape_stamp(shape), shape_stamp(cover))
    return _LEFT.get(key, lambda: [p for p in _clean(less(shape, cover)) if p.area > 4.0])


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


def drawn(key: Hashable, draw: Callable[[], Blank]) -> Blank:
    """A blank as it is first drawn, before anything is let into it; looked up where it was drawn before."""
    return _DRAWN.get(key, draw).fresh()


_DRAWN: Kept[Blank] = keep(150)
