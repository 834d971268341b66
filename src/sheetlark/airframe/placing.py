"""Stated design -> airframe: everything placed in space, and refused where it cannot be."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from sheetlark.airframe.body import BodyShape, body_shape
from sheetlark.airframe.equipment import Equipment, equipment
from sheetlark.airframe.surfaces import (
    V_TAIL_DIHEDRAL_RAD,
    LiftingSurface,
    Reference,
    lifting_surfaces,
    reference_of,
)
from sheetlark.design import Body, Decal, Design, Drive, Fin, Gear, Paper, SheetChoice, Strut, Tailplane, Wing
from sheetlark.errors import GeometryError
from sheetlark.stock import Stock

# How far a root may stand off what carries it and still be glued to it: the thickness of a doubler.
_REACH_M = 0.012


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedStrut:
    """A flat strut, starboard one of a pair.

    lower_m, upper_m : middle of each end [m]
    chord_m : its chord, along x [m]
    crossed : whether it is one of two braces in an X; the other stands beside it
    """

    name: str
    where: tuple[str | int, ...]
    lower: str
    upper: str
    lower_m: tuple[float, float, float]
    upper_m: tuple[float, float, float]
    chord_m: float
    sheet: str
    paper: Paper
    thickness_m: float
    crossed: bool = False

    @property
    def length_m(self) -> float:
        return math.dist(self.lower_m, self.upper_m)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Airframe:
    """Everything of a design in its place.

    surfaces : lifting surfaces, wings first
    body, struts, gear : as placed; body and gear may be missing
    equipment : bought items
    reference : area, chord and span for coefficients
    drive : as stated, for thrust angles, side and travel; may be missing
    decals : where they go on the outside
    plate_sheet : what firewall, braces and doublers are cut from
    layout : what kind of aeroplane it is, in one word or two
    """

    name: str
    layout: str
    surfaces: tuple[LiftingSurface, ...]
    body: BodyShape | None
    struts: tuple[PlacedStrut, ...]
    gear: Gear | None
    equipment: tuple[Equipment, ...]
    reference: Reference
    drive: Drive | None = None
    plate_sheet: str = "ply-2"
    decals: tuple[Decal, ...] = ()

    @property
    def wings(self) -> tuple[LiftingSurface, ...]:
        return tuple(s for s in self.surfaces if s.role == "wing")

    @property
    def tail(self) -> LiftingSurface | None:
        """The tailplane or foreplane."""
        return next((s for s in self.surfaces if s.role in {"tailplane", "foreplane"}), None)

    @property
    def fins(self) -> tuple[LiftingSurface, ...]:
        return tuple(s for s in self.surfaces if s.role == "fin")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shapes:
    surfaces: tuple[LiftingSurface, ...]
    body: BodyShape | None
    struts: tuple[PlacedStrut, ...]
    reference: Reference


# What a change of equipment does not move: the shapes are found once for each set of these tables.
@lru_cache(maxsize=64)
def _shapes(
    wings: tuple[Wing, ...],
    tailplane: Tailplane | None,
    fins: tuple[Fin, ...],
    body_stated: Body | None,
    struts_stated: tuple[Strut, ...],
    sheet: SheetChoice,
    stock: Stock,
) -> _Shapes:
    surfaces = lifting_surfaces(wings, tailplane, fins, sheet, stock)
    body = body_shape(body_stated, sheet, stock)
    named = {s.name: s for s in surfaces if s.role == "wing"}
    struts = tuple(
        placed
        for i, strut in enumerate(struts_stated)
        for placed in _struts(strut, i, named, body, sheet, stock, alone=len(struts_stated) == 1)
    )
    if body is not None:
        _refuse_strays(surfaces, body, struts_stated)
    return _Shapes(surfaces=surfaces, body=body, struts=struts, reference=reference_of(surfaces))


def airframe(design: Design, stock: Stock) -> Airframe:
    """Place everything of a design.

    Raises
    ------
    GeometryError
        If the design is geometrically impossible; the message names the thing, `where` its place.
    StockError
        If it names a material the stock does not have.
    """
    shapes = _shapes(
        design.wing, design.tailplane, design.fin, design.body, design.strut, design.sheet, stock
    )
    _check_equipment(design, shapes.body)
    return Airframe(
        name=design.model.name,
        layout=layout(shapes.surfaces),
        surfaces=shapes.surfaces,
        body=shapes.body,
        struts=shapes.struts,
        gear=design.gear,
        equipment=equipment(design, stock),
        reference=shapes.reference,
        drive=design.drive,
        plate_sheet=design.sheet.firewall,
        decals=_decals(design.decal, shapes),
    )


def _decals(decals: tuple[Decal, ...], shapes: _Shapes) -> tuple[Decal, ...]:
    known = [s.name for s in shapes.surfaces]
    known += ["tailplane" for s in shapes.surfaces if s.role in {"tailplane", "foreplane"}]
    known += ["body"] if shapes.body is not None else []
    for i, decal in enumerate(decals):
        if decal.on not in known:
            raise GeometryError(
                f"there is no {decal.on!r} for the decal {decal.name!r}; it goes on one of: "
                f"{', '.join(dict.fromkeys(known))}",
                ("decal", i, "on"),
            )
    return decals


def layout(surfaces: tuple[LiftingSurface, ...]) -> str:
    """What kind of aeroplane the surfaces make: monoplane, biplane, canard, tailless, V-tail ..."""
    wings = sum(s.role == "wing" for s in surfaces)
    plan = {1: "monoplane", 2: "biplane", 3: "triplane"}.get(wings, f"{wings} wings")
    tail = next((s for s in surfaces if s.role in {"tailplane", "foreplane"}), None)
    if tail is None:
        return f"tailless {plan}"
    if tail.role == "foreplane":
        return f"canard {plan}"
    if abs(tail.dihedral_rad) >= V_TAIL_DIHEDRAL_RAD:
        return f"V-tail {plan}"
    return plan


def _struts(
    strut: Strut,
    index: int,
    wings: dict[str, LiftingSurface],
    body: BodyShape | None,
    sheet: SheetChoice,
    stock: Stock,
    *,
    alone: bool,
) -> tuple[PlacedStrut, ...]:
    """One strut, or the two braces of an X."""
    where = ("strut", index)
    known = [*wings, *(["body"] if body is not None else [])]
    for name in strut.joins:
        if name not in known:
            raise GeometryError(
                f"there is no {name!r} to join; a strut joins two of: {', '.join(known)}", (*where, "joins")
            )
    if strut.joins[0] == strut.joins[1]:
        raise GeometryError(
            f"a strut joins two different things, not {strut.joins[0]!r} twice", (*where, "joins")
        )
    name = "strut" if alone else f"strut {index + 1}"
    half = 0.5 * strut.crossed
    if half <= 0:
        return (_strut(strut, name, where, (strut.y, strut.y), wings, body, sheet, stock),)
    if "body" in strut.joins:
        raise GeometryError("braces that cross join two wings, not the body", (*where, "crossed"))
    if half > strut.y:
        raise GeometryError(
            f"feet {1e3 * strut.crossed:.1f} mm apart about y {1e3 * strut.y:.1f} mm would cross the centre line",
            (*where, "crossed"),
        )
    first, second = strut.y - half, strut.y + half
    return tuple(
        _strut(strut, f"{name}, {word}", where, ys, wings, body, sheet, stock)
        for word, ys in (("outwards", (first, second)), ("inwards", (second, first)))
    )


def _strut(
    strut: Strut,
    name: str,
    where: tuple[str | int, ...],
    y_m: tuple[float, float],
    wings: dict[str, LiftingSurface],
    body: BodyShape | None,
    sheet: SheetChoice,
    stock: Stock,
) -> PlacedStrut:
    ends = []
    for end, other, y in zip(strut.joins, strut.joins[::-1], y_m, strict=True):
        if end == "body" and body is not None:
            ends.append(_foot_on_body(strut, wings[other], body, where))
        else:
            ends.append(_end_on_wing(strut, wings[end], y, where))
    lower, upper = ends
    if lower[2] > upper[2]:
        raise GeometryError(
            f"{strut.joins[0]!r} lies above {strut.joins[1]!r} there; name the lower end first",
            (*where, "joins"),
        )
    key = strut.sheet or sheet.stock
    return PlacedStrut(
        name=name,
        where=where,
        lower=strut.joins[0],
        upper=strut.joins[1],
        lower_m=lower,
        upper_m=upper,
        chord_m=strut.chord,
        sheet=key,
        paper=strut.paper or sheet.paper,
        thickness_m=stock.sheet(key).thickness_m,
        crossed=strut.crossed > 0,
    )


def _foot_on_body(
    strut: Strut, wing: LiftingSurface, body: BodyShape, where: tuple[str | int, ...]
) -> tuple[float, float, float]:
    front, chord = wing.chord_at(0.0)
    x = wing.at_m[0] + front + strut.place * chord
    if not body.nose_m <= x <= body.tail_m:
        raise GeometryError(f"its foot at x = {1e3 * x:.1f} mm lies off the body", where)
    return (x, strut.y, body.heights_m(x)[1])


def _end_on_wing(
    strut: Strut, wing: LiftingSurface, y: float, where: tuple[str | int, ...]
) -> tuple[float, float, float]:
    along = y / max(math.cos(wing.dihedral_rad), 1e-6)
    if along > wing.half_span_m:
        raise GeometryError(
            f"{1e3 * y:.1f} mm out lies beyond the tip of {wing.name!r} at {1e3 * wing.half_span_m:.1f} mm",
            (*where, "y"),
        )
    front, chord = wing.chord_at(along / wing.half_span_m)
    p = wing.place(front + strut.place * chord, along)
    return (float(p[0]), float(p[1]), float(p[2]))


def _refuse_strays(surfaces: tuple[LiftingSurface, ...], body: BodyShape, struts: tuple[Strut, ...]) -> None:
    """Every surface must touch the body, or be carried by something that does."""
    carried: set[str] = {"body"}

    def on_body(s: LiftingSurface) -> bool:
        x_front, chord = s.chord_at(0.0)
        x0 = s.at_m[0] + x_front
        z_tail = s.at_m[2] - (chord * math.sin(s.incidence_rad) if s.role != "fin" else 0.0)
        reach = _REACH_M + s.thickness_m
        return any(
            body.touches(x0, x0 + chord, z, within_m=reach)
            for z in (s.at_m[2], 0.5 * (s.at_m[2] + z_tail), z_tail)
        )

    flat = [s for s in surfaces if s.role != "fin"]
    carried |= {s.name for s in flat if on_body(s)}
    for _ in struts:  # as many rounds as the longest chain of struts
        for strut in struts:
            if carried & set(strut.joins):
                carried |= set(strut.joins)
    for s in flat:
        if s.name not in carried:
            raise GeometryError(
                f"{s.name!r} at x {1e3 * s.at_m[0]:.1f}, z {1e3 * s.at_m[2]:.1f} mm misses the body, which runs "
                f"from x {1e3 * body.nose_m:.1f} to {1e3 * body.tail_m:.1f} mm, and no strut carries it. "
                f"Move it to the body or add a [[strut]] that joins it.",
                (*s.where, "at"),
            )
    for s in surfaces:
        if s.role != "fin":
            continue
        x_front, chord = s.chord_at(0.0)
        x0, x1 = s.at_m[0] + x_front, s.at_m[0] + x_front + chord
        stands = s.at_m[1] == 0 and body.touches(x0, x1, s.at_m[2], within_m=_REACH_M)
        for other in flat:
            if stands or s.at_m[1] > other.half_span_m:
                continue
            front, across = other.chord_at(s.at_m[1] / other.half_span_m)
            a = other.place(front, s.at_m[1])
            stands = (
                a[0] < x1
                and a[0] + across > x0
                and abs(a[2] - s.at_m[2])
                < _REACH_M + across * abs(math.sin(other.incidence_rad)) + other.thickness_m
            )
        if not stands:
            raise GeometryError(
                f"the fin {s.name!r} stands at x {1e3 * s.at_m[0]:.1f}, z {1e3 * s.at_m[2]:.1f} mm, where there "
                f"is neither body nor wing nor tailplane under its foot",
                (*s.where, "at"),
            )


def _check_equipment(design: Design, body: BodyShape | None) -> None:
    if body is None or design.drive is None:
        return
    x = design.drive.pack_at[0]
    if not body.nose_m - 0.05 <= x <= body.tail_m + 0.05:
        raise GeometryError(
            f"the battery at x = {1e3 * x:.1f} mm lies off the body, which runs from {1e3 * body.nose_m:.1f} to "
            f"{1e3 * body.tail_m:.1f} mm",
            ("drive", "pack_at"),
        )
