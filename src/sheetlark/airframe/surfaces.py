"""Lifting surfaces placed in space: planform, hinge lines, spars, thickness."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np

from sheetlark.design import ControlSurface, Fin, Paper, Planform, SheetChoice, Spar, Tailplane, Wing
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats, MeanChord, Path, chord_stations, mean_chord, polygon
from sheetlark.stock import Stock

Role = Literal["wing", "tailplane", "foreplane", "fin"]
Moves = Literal["elevator", "rudder", "aileron", "elevon", "flaperon"]

V_TAIL_DIHEDRAL_RAD = math.radians(20.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hinged:
    """A control surface of a lifting surface.

    moves : what it does
    chord_share : its share of the local chord at its inner end; the hinge line is straight
    start, end : along the half span, 0 at the centre line (or the foot), 1 at the tip
    up_rad, down_rad : throws; for a rudder to the left and to the right
    """

    moves: Moves
    chord_share: float
    start: float
    end: float
    up_rad: float
    down_rad: float


@dataclass(frozen=True, kw_only=True, eq=False)
class LiftingSurface:
    """One lifting surface, both halves where it is mirrored.

    where : its place in the design file
    outline : half outline in its own plane, (x aft, y outwards) from the root leading edge [mm]
    at_m : root leading edge on the geometry axes [m]
    incidence_rad, dihedral_rad : dihedral of a fin is 90 degrees
    mirrored : whether the other half exists
    camber, crest : height of the section and where it lies, as shares of the chord; 0 where it is flat
    centre_cut_m : the inner end of a half; 0 unless halves stand apart (a pair of fins)
    """

    name: str
    role: Role
    where: tuple[str | int, ...]
    outline: Path
    at_m: tuple[float, float, float]
    incidence_rad: float
    dihedral_rad: float
    mirrored: bool
    section: str
    edge: str
    sheet: str
    paper: Paper
    thickness_m: float
    control: Hinged | None
    spars: tuple[Spar, ...] = ()
    held: str = "glued"
    camber: float = 0.0
    crest: float = 0.5

    @cached_property
    def points_mm(self) -> Floats:
        """The sampled half outline, shape (n, 2), from centre line to centre line. [mm]."""
        return self.outline.sample()

    @cached_property
    def stations(self) -> tuple[Floats, Floats, Floats]:
        """(y, leading x, chord) of the half in its own plane, each of shape (n,). [m]."""
        y, x, c = chord_stations(self.points_mm, self.name)
        return y * 1e-3, x * 1e-3, c * 1e-3

    @cached_property
    def axes(self) -> Floats:
        """Rotation, shape (3, 3), from the plane (chord, span, normal) to the geometry axes.

        Dihedral turns about the x axis first, incidence about the y axis last, so that the root chord keeps
        its incidence. For an upright fin the incidence would be a yaw and is zero.
        """
        i, d = self.incidence_rad, self.dihedral_rad
        si, ci, sd, cd = math.sin(i), math.cos(i), math.sin(d), math.cos(d)
        return np.array([[ci, sd * si, cd * si], [0.0, cd, -sd], [-si, sd * ci, cd * ci]])

    def matrix(self, *, port: bool = False) -> Floats:
        """Shape (4, 4): from (u, v, w) in millimetres to the geometry axes in millimetres."""
        m = np.eye(4)
        m[:3, :3] = self.axes
        m[:3, 3] = np.asarray(self.at_m) * 1e3
        if port:
            m[1] *= -1.0
        return m

    def place(self, x_m: float, y_m: float) -> Floats:
        """A point of the (starboard) half on the geometry axes, shape (3,). [m]."""
        point: Floats = np.asarray(self.at_m) + self.axes @ np.array([x_m, y_m, 0.0])
        return point

    @cached_property
    def half_span_m(self) -> float:
        """Length of the half, along itself. [m]."""
        y = self.stations[0]
        return float(y[-1] - y[0])

    @cached_property
    def half_area_m2(self) -> float:
        """Area of the half, by its sampled outline. [m²]."""
        return float(polygon(self.points_mm, self.name).area) * 1e-6

    @property
    def area_m2(self) -> float:
        """Area of all of it, along itself. [m²]."""
        return self.half_area_m2 * (2 if self.mirrored else 1)

    @cached_property
    def mean_chord(self) -> MeanChord:
        """Mean aerodynamic chord of the half in its own plane. [m, m²]."""
        return mean_chord(*self.stations)

    def chord_at(self, share: float) -> tuple[float, float]:
        """Leading edge x and chord at a share of the half span, in the plane. [m]."""
        y, x, c = self.stations
        at = y[0] + share * (y[-1] - y[0])
        return float(np.interp(at, y, x)), float(np.interp(at, y, c))

    def hinge_line(self) -> tuple[tuple[float, float], tuple[float, float]] | None:
        """Both ends (x, y) of the control's straight hinge line in the plane, inner end first. [m].

        An elevator is one piece across the centre line, so its hinge line runs straight across. Others follow
        the stated share of the chord at the inner end and three quarters of the way out, where a rounded tip
        does not bend it yet.
        """
        if self.control is None:
            return None
        c = self.control
        y0 = self.stations[0][0]

        def at(eta: float) -> float:
            front, chord = self.chord_at(eta)
            return front + (1.0 - c.chord_share) * chord

        inner, outer = y0 + c.start * self.half_span_m, y0 + c.end * self.half_span_m
        x_inner = at(c.start)
        if c.moves == "elevator" and abs(self.dihedral_rad) < V_TAIL_DIHEDRAL_RAD:
            return ((x_inner, inner), (x_inner, outer))
        slope = (at(c.start + 0.75 * (c.end - c.start)) - x_inner) / (0.75 * (outer - inner))
        return ((x_inner, inner), (x_inner + slope * (outer - inner), outer))


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """What coefficients are referred to: all main wings together, in plan view.

    area_m2 : planform area of all main wings
    chord_m : their combined mean aerodynamic chord
    leading_edge_m : (x, z) of that chord's leading edge
    span_m : the largest span
    """

    area_m2: float
    chord_m: float
    leading_edge_m: tuple[float, float]
    span_m: float


def reference_of(surfaces: tuple[LiftingSurface, ...]) -> Reference:
    """Combine the main wings' planforms, projected on the plan view.

    The combined chord is the area-weighted mean of the wings' own mean chords, and its leading edge the
    area-weighted mean of theirs: the integrals of c² and of x c over all wings together.
    """
    area = chord = x = z = span = 0.0
    for s in surfaces:
        if s.role != "wing":
            continue
        m = s.mean_chord
        flat = math.cos(s.dihedral_rad)
        s_area = 2.0 * s.half_area_m2 * flat
        place = s.place(m.leading_edge_x, m.station_y).tolist()
        area += s_area
        chord += s_area * m.chord
        x += s_area * place[0]
        z += s_area * place[2]
        span = max(span, 2.0 * s.half_span_m * flat)
    return Reference(area_m2=area, chord_m=chord / area, leading_edge_m=(x / area, z / area), span_m=span)


def lifting_surfaces(
    wings: tuple[Wing, ...],
    tailplane: Tailplane | None,
    fins: tuple[Fin, ...],
    sheet: SheetChoice,
    stock: Stock,
) -> tuple[LiftingSurface, ...]:
    """Every stated lifting surface, placed.

    Raises
    ------
    GeometryError
        If an outline crosses itself or has no span; carries the place in the design.
    StockError
        If a sheet is not in the stock.
    """
    placed = [_wing(wing, ("wing", i), sheet, stock) for i, wing in enumerate(wings)]
    if tailplane is not None:
        ahead = tailplane.at[0] < float(np.mean([w.at[0] for w in wings]))
        placed.append(_tailplane(tailplane, sheet, stock, ahead=ahead))
    placed.extend(_fin(fin, ("fin", i), sheet, stock) for i, fin in enumerate(fins))
    for surface in placed:
        _check(surface)
    return tuple(placed)


def _check(surface: LiftingSurface) -> None:
    where = (*surface.where, "outline")
    try:
        _ = surface.half_area_m2, surface.stations
    except GeometryError as error:
        raise GeometryError(str(error), surface.where) from None
    first, last = surface.outline.start, surface.outline.end
    if abs(first[1]) > 0.01 or abs(last[1]) > 0.01:
        raise GeometryError(
            f"half an outline runs from centre line to centre line: it must begin and end at 0 across, "
            f"but begins at {first[1]:g} mm and ends at {last[1]:g} mm",
            where,
        )
    if surface.points_mm[:, 1].min() < -0.01:
        raise GeometryError("half an outline must stay on one side of its centre line", where)


def _control(surface: ControlSurface | None, moves: Moves) -> Hinged | None:
    if surface is None:
        return None
    return Hinged(
        moves=moves,
        chord_share=surface.chord,
        start=surface.start,
        end=surface.end,
        up_rad=surface.up,
        down_rad=surface.down,
    )


def _material(own: Planform | Fin, sheet: SheetChoice, stock: Stock) -> tuple[str, Paper, float]:
    key = own.sheet or sheet.stock
    return key, own.paper or sheet.paper, stock.sheet(key).thickness_m


# One that is stated as before is the same one: whatever was found of it still holds.
@lru_cache(maxsize=64)
def _wing(wing: Wing, where: tuple[str | int, ...], sheet: SheetChoice, stock: Stock) -> LiftingSurface:
    key, paper, thickness = _material(wing, sheet, stock)
    return LiftingSurface(
        name=wing.name,
        role="wing",
        where=where,
        outline=wing.half(),
        at_m=(wing.at[0], 0.0, wing.at[1]),
        incidence_rad=wing.incidence,
        dihedral_rad=wing.dihedral,
        mirrored=True,
        section=wing.section,
        edge=wing.edge,
        sheet=key,
        paper=paper,
        thickness_m=thickness,
        control=_control(wing.aileron, wing.aileron.role if wing.aileron else "aileron"),
        spars=wing.spar,
        held=wing.held,
        camber=wing.camber if wing.section in {"arc", "folded", "hollow"} else 0.0,
        crest=0.5 if wing.section in {"flat", "arc"} else wing.crest,
    )


@lru_cache(maxsize=64)
def _tailplane(tail: Tailplane, sheet: SheetChoice, stock: Stock, *, ahead: bool) -> LiftingSurface:
    key, paper, thickness = _material(tail, sheet, stock)
    return LiftingSurface(
        name="foreplane" if ahead else "tailplane",
        role="foreplane" if ahead else "tailplane",
        where=("tailplane",),
        outline=tail.half(),
        at_m=(tail.at[0], 0.0, tail.at[1]),
        incidence_rad=tail.incidence,
        dihedral_rad=tail.dihedral,
        mirrored=True,
        section="flat",
        edge=tail.edge,
        sheet=key,
        paper=paper,
        thickness_m=thickness,
        control=_control(tail.elevator, "elevator"),
        spars=tail.spar,
    )


@lru_cache(maxsize=64)
def _fin(fin: Fin, where: tuple[str | int, ...], sheet: SheetChoice, stock: Stock) -> LiftingSurface:
    key, paper, thickness = _material(fin, sheet, stock)
    return LiftingSurface(
        name=fin.name,
        role="fin",
        where=where,
        outline=fin.half(),
        at_m=(fin.at[0], fin.y, fin.at[1]),
        incidence_rad=0.0,
        dihedral_rad=math.pi / 2,
        mirrored=fin.y > 0,
        section="flat",
        edge=fin.edge,
        sheet=key,
        paper=paper,
        thickness_m=thickness,
        control=_control(fin.rudder, "rudder"),
    )
