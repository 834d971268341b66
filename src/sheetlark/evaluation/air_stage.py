"""Airframe -> what the air meets: surfaces, body, struts, wheels and propeller discs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sheetlark import air
from sheetlark.air import AirModel, AirResults, Bit, Body, Condition, Disc, Layout, analyse
from sheetlark.airframe import (
    V_TAIL_DIHEDRAL_RAD,
    Airframe,
    BodyShape,
    Hinged,
    LiftingSurface,
    PlacedStrut,
    Reference,
    along_shaft_m,
)
from sheetlark.atmosphere import GRAVITY_MS2, Air, air_at
from sheetlark.design import Design, Drive, Gear
from sheetlark.stock import Stock
from sheetlark.weights import Weights

_STATIONS = 24  # cuts kept of a curved planform; the lattice interpolates straight between them

_ROLES: dict[str, air.surface.Role] = {
    "wing": "wing",
    "tailplane": "tail",
    "foreplane": "canard",
    "fin": "fin",
}


def layout_of(airframe: Airframe, drive: Drive | None, stock: Stock) -> Layout:
    """The airframe as the air meets it, balanced at the nose datum until told otherwise."""
    return _layout(
        airframe.surfaces,
        airframe.body,
        airframe.struts,
        airframe.gear,
        airframe.reference,
        _discs(drive, stock),
        stock,
    )


@lru_cache(maxsize=32)
def _layout(
    surfaces: tuple[LiftingSurface, ...],
    body: BodyShape | None,
    struts: tuple[PlacedStrut, ...],
    gear: Gear | None,
    reference: Reference,
    discs: tuple[Disc, ...],
    stock: Stock,
) -> Layout:
    return Layout(
        surfaces=tuple(_surface(s) for s in surfaces),
        bodies=() if body is None else (body_of(body),),
        bits=(*_strut_bits(struts), *(_gear_bits(gear, stock) if gear is not None else ())),
        discs=discs,
        reference=air.Reference(
            area_m2=reference.area_m2,
            chord_m=reference.chord_m,
            span_m=reference.span_m,
            leading_edge_m=(reference.leading_edge_m[0], 0.0, reference.leading_edge_m[1]),
        ),
        # Alike strips, eight at least: half the time of 24 on every surface, and the same lift and moments to 0.3 %.
    ).panelled(spanwise=20, chordwise=6)


@lru_cache(maxsize=64)
def _surface(surface: LiftingSurface) -> air.Surface:
    y, x, chord = surface.stations
    keep = _kept(y, x, chord)
    y, x, chord = y[keep], x[keep], chord[keep]
    # A rounded tip ends in a point or a short edge; the lattice wants a chord at both ends.
    chord = np.maximum(chord, 0.02 * chord.max())
    edge = np.asarray(surface.at_m) + np.stack([x, y, np.zeros_like(x)], axis=1) @ surface.axes.T
    return air.Surface.from_stations(
        surface.name,
        _ROLES[surface.role],
        edge,
        chord,
        np.full_like(chord, surface.incidence_rad),
        surface.mirrored,
        section=air.Section(
            kind=surface.section,  # type: ignore[arg-type]
            thickness_ratio=min(0.2, _thickness_m(surface) / surface.mean_chord.chord),
            edge=surface.edge,  # type: ignore[arg-type]
            camber_ratio=surface.camber if surface.section in {"arc", "folded"} else 0.0,
            camber_at=surface.crest,
        ),
        controls=() if surface.control is None else (_control(surface, surface.control),),
        root="joined"
        if surface.role == "fin"
        else "auto",  # a fin stands on body or tail: no air passes round its foot
    )


def _thickness_m(surface: LiftingSurface) -> float:
    """Greatest thickness of a section: one sheet, two with a step, two and the spar between when hollow."""
    sheets = {"stepped": 2.0, "hollow": 2.0}.get(surface.section, 1.0) * surface.thickness_m
    return sheets + (surface.camber * surface.mean_chord.chord if surface.section == "hollow" else 0.0)


def _kept(y: np.ndarray, x: np.ndarray, chord: np.ndarray) -> list[int]:
    """Indices of the stations that matter: the ends, and where either edge bends (Douglas-Peucker on both)."""
    both = np.stack([x, x + chord], axis=1)
    keep = {0, len(y) - 1}
    while len(keep) < min(_STATIONS, len(y)):
        order = sorted(keep)
        straight = np.stack([np.interp(y, y[order], both[order, k]) for k in range(2)], axis=1)
        off = np.abs(both - straight).max(axis=1)
        worst = int(off.argmax())
        if off[worst] < 1e-4 * float(chord.max()):
            break
        keep.add(worst)
    return sorted(keep)


def _control(surface: LiftingSurface, control: Hinged) -> air.Control:
    line = surface.hinge_line()
    assert line is not None
    (x_inner, _), (x_outer, _) = line
    front_in, chord_in = surface.chord_at(control.start)
    front_out, chord_out = surface.chord_at(min(control.end, 0.98))
    # A rounded tip shortens the chord at the very end; the share there stays within what can be hinged.
    share_in = min(max((x_inner - front_in) / chord_in, 0.0), 0.95)
    share_out = min(max((x_outer - front_out) / max(chord_out, 1e-6), 0.0), 0.95)
    return air.Control(
        name=control.moves,
        kind=_kind(surface, control),
        hinge_fraction=share_in,
        hinge_fraction_tip=share_out,
        from_eta=control.start,
        to_eta=control.end,
    )


def _kind(surface: LiftingSurface, control: Hinged) -> air.surface.ControlKind:
    """How the two halves can move: ailerons need their differential, and the halves of a V-tail mix."""
    if control.moves == "aileron":
        return "flaperon"
    if control.moves == "elevator" and abs(surface.dihedral_rad) >= V_TAIL_DIHEDRAL_RAD:
        return "elevon"
    return control.moves


@lru_cache(maxsize=32)
def body_of(shape: BodyShape) -> Body:
    """The body as the air meets it."""
    x, width, bottom, top = shape.sections()
    for deck in shape.decks:
        over = (x >= deck.start) & (x <= deck.end)
        top = np.where(over, top + deck.height * 2.0 / 3.0, top)  # a curved deck fills two thirds of its box
    return Body(
        name="body",
        x_m=x,
        width_m=width,
        height_m=np.maximum(top - bottom, 1e-4),
        middle_z_m=0.5 * (top + bottom),
        nose="blunt" if shape.stated.nose == "round" else "flat",
        open_underside="bottom" not in shape.stated.covered,
    )


def _strut_bits(struts: tuple[PlacedStrut, ...]) -> tuple[Bit, ...]:
    bits = []
    for strut in struts:
        middle = tuple(0.5 * (a + b) for a, b in zip(strut.lower_m, strut.upper_m, strict=True))
        bits.append(
            Bit(
                name=strut.name,
                kind="strut",
                at_m=(middle[0], 0.0, middle[2]),
                area_m2=strut.length_m * strut.thickness_m,
                side_area_m2=strut.length_m * strut.chord_m,
                count=2,
            )
        )
    return tuple(bits)


def _gear_bits(gear: Gear, stock: Stock) -> tuple[Bit, ...]:
    wheel, wire = stock.wheel(gear.wheel), stock.rod(gear.wire)
    leg = math.hypot(gear.mount_z - gear.at[1], gear.track / 4)
    return (
        Bit(
            name="wheels",
            kind="wheel",
            at_m=(gear.at[0], 0.0, gear.at[1]),
            area_m2=wheel.diameter_m * wheel.width_m,
            side_area_m2=math.pi / 4 * wheel.diameter_m**2,
            count=2,
        ),
        Bit(
            name="wire legs",
            kind="wire",
            at_m=(gear.at[0], 0.0, 0.5 * (gear.at[1] + gear.mount_z)),
            area_m2=leg * wire.outer_diameter_m,
            side_area_m2=leg * wire.outer_diameter_m,
            count=2,
        ),
    )


def _discs(drive: Drive | None, stock: Stock) -> tuple[Disc, ...]:
    if drive is None:
        return ()
    radius = stock.propeller(drive.propeller).diameter_m / 2
    x, y, z = drive.motor_at
    x += along_shaft_m(drive, stock)[1]
    places = [(x, y, z), (x, -y, z)] if drive.twin else [(x, y, z)]
    return tuple(
        Disc(at_m=place, radius_m=radius, down_rad=drive.down, right_rad=drive.right) for place in places
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AirFigures:
    """The air of the model about its cruise, and where its balance point lies in it.

    layout : as the air meets it, balanced at the model's balance point
    results : lift, drag, moments, derivatives at cruise without thrust
    static_margin : neutral point behind the balance point, in mean chords, power off [-]
    percent_mean_chord : balance point, in percent of the mean chord
    """

    layout: Layout
    results: AirResults
    static_margin: float
    percent_mean_chord: float

    @property
    def model(self) -> AirModel:
        """The air, ready to be asked at any state."""
        return self.results.model

    @property
    def neutral_point_m(self) -> float:
        """X of the neutral point, power off. [m]."""
        return self.results.neutral_point_m

    @property
    def lift_slope_per_rad(self) -> float:
        return self.results.foot.slope_per_rad

    @property
    def zero_lift_rad(self) -> float:
        return self.results.foot.zero_lift_rad


# Lift coefficient of an easy cruise on flat sheet, well clear of the stall (common practice, no source).
CRUISE_LIFT = 0.35


def cruise_speed_ms(mass_kg: float, area_m2: float, density_kg_m3: float) -> float:
    """Speed of an easy cruise, to the nearest quarter: what the air is evaluated about. [m/s]."""
    speed = math.sqrt(2.0 * mass_kg * GRAVITY_MS2 / (density_kg_m3 * area_m2 * CRUISE_LIFT))
    return max(2.0, round(4.0 * speed) / 4.0)


@lru_cache(maxsize=16)
def _analysed(
    layout: Layout, balance_m: tuple[float, float, float], speed_ms: float, air_now: Air
) -> tuple[Layout, AirResults]:
    balanced = layout.balanced_at(balance_m)
    condition = Condition(
        speed_ms=speed_ms,
        density_kg_m3=air_now.density_kg_m3,
        viscosity_m2_s=air_now.kinematic_viscosity_m2_s,
        alpha_rad=math.radians(4.0),
    )
    return balanced, analyse(balanced, condition)


def air_figures(airframe: Airframe, design: Design, stock: Stock, weights: Weights) -> AirFigures:
    """Analyse the layout about the model's balance point and cruise."""
    air_now = air_at(design.flying.altitude, design.flying.temperature)
    reference = airframe.reference
    x, y, z = (round(float(v), 6) for v in weights.balance_m)
    layout, results = _analysed(
        layout_of(airframe, design.drive, stock),
        (x, y, z),
        cruise_speed_ms(weights.all_up_kg, reference.area_m2, air_now.density_kg_m3),
        air_now,
    )
    return AirFigures(
        layout=layout,
        results=results,
        static_margin=(results.neutral_point_m - x) / reference.chord_m,
        percent_mean_chord=100.0 * (x - reference.leading_edge_m[0]) / reference.chord_m,
    )
