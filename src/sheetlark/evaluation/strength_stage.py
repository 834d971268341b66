"""What the wings must bear and how they bear it: limit load, bending, joints, struts, bands, and softness.

The body at the wing's saddle and a landing on the nose are not computed: no published method for folded board is
known to us, so they stay words of caution.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sheetlark.airframe import Airframe, LiftingSurface, PlacedStrut
from sheetlark.atmosphere import GRAVITY_MS2, air_at
from sheetlark.design import Covering, Design
from sheetlark.evaluation.air_stage import AirFigures
from sheetlark.evaluation.braced import Braced, braced_wings
from sheetlark.evaluation.flight_stage import FlightFigures
from sheetlark.evaluation.wing_sections import Stations, stations_of
from sheetlark.outline import Floats
from sheetlark.stock import Stock
from sheetlark.strength import (
    Bending,
    HalfWingDesign,
    JointLoads,
    LimitLoad,
    RubberBands,
    Stress,
    TwistCaution,
    band_pull,
    bands_needed,
    joint_loads,
    limit_load,
    wing_strength,
)
from sheetlark.strength.loads import FACTOR_OF_SAFETY
from sheetlark.weights import Weights

# Most a pilot asks of each kind of flying, in g: common practice, no source.
CAP = {"floating": 4.0, "long": 5.0, "sport": 8.0, "vertical": 10.0}
# Tip deflection at limit load above which a wing is called soft, as a share of the half span (common practice).
SOFT = 0.10
# Band number 64: 89 x 6.4 x 0.9 mm laid flat, from memory.
BAND_FLAT_M, BAND_WIDTH_M, BAND_THICKNESS_M = 0.089, 0.0064, 0.0009
_DOWEL_BEYOND_M = 0.015  # dowels stand this far ahead of and behind the wing (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class StrutLoad:
    """A strut at limit load. pull_n : negative is a push. buckles_n : push at which it would bow out.

    margin : over what it carries times the safety factor; infinite where it is only pulled.
    """

    name: str
    pull_n: float
    buckles_n: float
    margin: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WingAlong:
    """One half wing at its limit load, station by station from the centre line: arrays of shape (n,).

    moment_nm : bending, positive lifts the tip. deflection_m : upwards. margin : of the weakest piece there, allowable
    over stress times the safety factor.
    """

    y_m: Floats
    moment_nm: Floats
    deflection_m: Floats
    margin: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WingFigures:
    """One wing at its limit load.

    lift_n : both halves in level flight. root_moment_nm, tip_deflection_m, tip_twist_rad : one half, at limit load.
    stresses : of every piece at its most strained station. margin : allowable over stress times the safety factor,
    of the weakest piece; below 1 it may break. weakest_y_m : where.
    soft : tip deflection over the half span.
    joint : where the halves meet, if a spar joins them. bands : if it is held by bands.
    braced : whether struts carry part of it. along : the same along the half span
    """

    name: str
    lift_n: float
    root_moment_nm: float
    tip_deflection_m: float
    tip_twist_rad: float
    half_span_m: float
    stresses: tuple[Stress, ...]
    margin: float
    weakest: str
    weakest_y_m: float
    joint: JointLoads | None
    twist: TwistCaution
    bands: RubberBands | None
    braced: bool
    along: WingAlong

    @property
    def soft(self) -> float:
        return abs(self.tip_deflection_m) / self.half_span_m


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StrengthFigures:
    """What the wings bear.

    limit : load factor they are judged at. top_ms : the speed that goes with it.
    """

    limit: LimitLoad
    top_ms: float
    wings: tuple[WingFigures, ...]
    struts: tuple[StrutLoad, ...]

    @property
    def tip_deflection_m(self) -> float:
        """Of the wing that bends most."""
        return max(w.tip_deflection_m for w in self.wings)

    @property
    def weakest(self) -> WingFigures:
        """The wing with the least margin."""
        return min(self.wings, key=lambda w: w.margin)

    @property
    def softest(self) -> WingFigures:
        """The wing that bends most for its span."""
        return max(self.wings, key=lambda w: w.soft)

    @property
    def most_twisted(self) -> WingFigures:
        """The wing with the least reserve against twisting off or fluttering."""
        return min(self.wings, key=lambda w: w.twist.reserve)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Loaded:
    """One wing with its lift per span at its stations, level flight."""

    surface: LiftingSurface
    at: Stations
    lift_n_m: Floats
    moment_nm_m: Floats


def _limit(
    design: Design, air: AirFigures, flight: FlightFigures, weights: Weights
) -> tuple[LimitLoad, float]:
    stall = flight.stall_ms
    p = flight.performance
    # Without a motor that can hold it up, the speed of a steep glide is what counts.
    top = max(p.top_ms if p is not None else 1.8 * stall, 1.2 * stall)
    density = air_at(design.flying.altitude, design.flying.temperature).density_kg_m3
    reference = air.results.reference
    return (
        limit_load(
            top_ms=top,
            stall_ms=stall,
            cap=CAP[design.flying.style],
            gust_ms=0.3
            * design.flying.wind,  # three times the Dryden root mean square of a tenth of the wind
            cruise_ms=flight.cruise_ms,
            wing_loading_kg_m2=weights.all_up_kg / reference.area_m2,
            chord_m=reference.chord_m,
            lift_slope_per_rad=air.lift_slope_per_rad,
            density_kg_m3=density,
        ),
        top,
    )


def _loaded(
    airframe: Airframe, covering: Covering, air: AirFigures, weight_n: float, stock: Stock
) -> list[_Loaded]:
    """Lift per span of every wing in level flight: the lattice's loading, scaled so that all lifts carry the weight."""
    results, model = air.results, air.results.model
    whole = sum(s.lift_n for s in results.shares)
    scale = weight_n / whole if whole > 0.0 else 0.0
    state = model.strips(results.condition)
    names = [s.name for s in model.layout.surfaces]
    eta = np.concatenate([h.eta for h in model.lattice.halves])
    starboard = np.concatenate(
        [np.full(h.eta.size, k < model.lattice.stated) for k, h in enumerate(model.lattice.halves)]
    )
    made = []
    for surface in airframe.wings:
        mine = np.flatnonzero((model.lattice.strip_surface == names.index(surface.name)) & starboard)
        mine = mine[np.argsort(eta[mine])]
        at = stations_of(surface, covering, stock)
        share = at.y_m / surface.half_span_m
        width = model.true_width[mine]
        # Lift goes to nothing at the tip; the innermost strip's holds to the centre line.
        places = np.concatenate([eta[mine], [1.0]])
        load = np.concatenate([state.normal_n[mine] / width, [0.0]])
        turning = np.concatenate([-state.shift_nm[mine] / width, [0.0]])
        made.append(
            _Loaded(
                surface=surface,
                at=at,
                lift_n_m=scale * np.interp(share, places, load),
                moment_nm_m=np.interp(share, places, turning),
            )
        )
    return made


def strength_figures(
    design: Design,
    airframe: Airframe,
    weights: Weights,
    air: AirFigures,
    flight: FlightFigures,
    stock: Stock,
) -> StrengthFigures:
    """Every wing at its limit load; wings joined by struts as one frame."""
    limit, top = _limit(design, air, flight, weights)
    loaded = _loaded(airframe, design.covering, air, weights.all_up_kg * GRAVITY_MS2, stock)
    braced = {}
    if airframe.struts:
        braced = braced_wings(
            [(w.surface, w.at, limit.factor * (w.lift_n_m - w.at.mass_kg_m * GRAVITY_MS2)) for w in loaded],
            airframe,
            stock,
        )
    density = flight.vehicle.density_kg_m3
    wings = tuple(
        _figures(w, limit, top, flight.cruise_ms, density, braced.get(w.surface.name), airframe)
        for w in loaded
    )
    return StrengthFigures(limit=limit, top_ms=top, wings=wings, struts=_strut_loads(braced, airframe, stock))


def _figures(
    w: _Loaded,
    limit: LimitLoad,
    top: float,
    cruise: float,
    density: float,
    frame: Braced | None,
    airframe: Airframe,
) -> WingFigures:
    surface, at = w.surface, w.at
    joiner = max((s.span for s in surface.spars), default=0.0)
    found = wing_strength(
        HalfWingDesign(
            y_m=at.y_m,
            chord_m=at.chord_m,
            lift_n_m=w.lift_n_m,
            moment_nm_m=w.moment_nm_m,
            sections=at.sections,
        ),
        limit,
        top_ms=top,
        cruise_ms=cruise,
        joiner_m=joiner or 0.2,
        density_kg_m3=density,
    )
    lift = 2.0 * float(np.trapezoid(w.lift_n_m, at.y_m))
    root, tip = found.bending.root_moment_nm, found.tip_deflection_m
    stresses, margin, weakest, place = found.stresses, found.margin, found.weakest, found.weakest_y_m
    if frame is not None:
        root, tip = float(frame.moment_nm[0]), frame.tip_deflection_m
        stresses, margin, weakest, place = _strained(at, frame)
    return WingFigures(
        name=surface.name,
        lift_n=lift,
        root_moment_nm=root,
        tip_deflection_m=tip,
        tip_twist_rad=found.tip_twist_rad,
        half_span_m=surface.half_span_m,
        stresses=stresses,
        margin=margin,
        weakest=weakest,
        weakest_y_m=place,
        joint=joint_loads(root_moment_nm=root, root_shear_n=found.bending.root_shear_n, joiner_m=joiner)
        if joiner > 0
        else None,
        twist=found.twist,
        bands=_bands(surface, limit, lift, 2.0 * float(np.trapezoid(at.mass_kg_m, at.y_m)), airframe),
        braced=frame is not None,
        along=_along(at, found.bending if frame is None else frame),
    )


def _along(at: Stations, bent: Bending | Braced) -> WingAlong:
    """Moment, deflection and the least margin at every station."""
    moment = np.interp(at.y_m, bent.y_m, bent.moment_nm)
    margin = [
        min(stress.margin for stress in section.stresses(m)) / FACTOR_OF_SAFETY
        for section, m in zip(at.sections, moment.tolist(), strict=True)
    ]
    return WingAlong(
        y_m=at.y_m,
        moment_nm=moment,
        deflection_m=np.interp(at.y_m, bent.y_m, bent.deflection_m),
        margin=np.array(margin),
    )


def _strained(at: Stations, frame: Braced) -> tuple[tuple[Stress, ...], float, str, float]:
    """Stresses at every station under the frame's moments."""
    worst: dict[str, tuple[Stress, float]] = {}
    for y, moment, section in zip(
        at.y_m.tolist(), np.interp(at.y_m, frame.y_m, frame.moment_nm).tolist(), at.sections, strict=True
    ):
        for stress in section.stresses(moment):
            if stress.name not in worst or stress.margin < worst[stress.name][0].margin:
                worst[stress.name] = (stress, y)
    weakest, place = min(worst.values(), key=lambda pair: pair[0].margin)
    return tuple(s for s, _ in worst.values()), weakest.margin / FACTOR_OF_SAFETY, weakest.name, place


def _strut_loads(braced: dict[str, Braced], airframe: Airframe, stock: Stock) -> tuple[StrutLoad, ...]:
    made = []
    pulls = next(iter(braced.values())).pulls_n if braced else {}
    for strut in airframe.struts:
        if strut.name not in pulls:
            continue
        pull = pulls[strut.name]
        buckles = _buckles(strut, stock)
        made.append(
            StrutLoad(
                name=strut.name,
                pull_n=pull,
                buckles_n=buckles,
                margin=buckles / (FACTOR_OF_SAFETY * -pull) if pull < 0.0 else math.inf,
            )
        )
    return tuple(made)


def _buckles(strut: PlacedStrut, stock: Stock) -> float:
    """Euler's load of a flat strut about its thin way, ends pinned. [N]."""
    sheet = stock.sheet(strut.sheet)
    papers = {"both": 2, "one": 1, "none": 0}[strut.paper] if sheet.paper_modulus_pa > 0 else 0
    core = sheet.core_modulus_pa * strut.chord_m * sheet.thickness_m**3 / 12.0
    # One paper alone shifts the neutral axis to itself and adds next to nothing.
    skins = 0.5 * sheet.paper_modulus_pa * sheet.paper_thickness_m * strut.chord_m * sheet.thickness_m**2
    return math.pi**2 * (core + (skins if papers == 2 else 0.0)) / strut.length_m**2


def _bands(
    surface: LiftingSurface, limit: LimitLoad, lift_n: float, mass_kg: float, airframe: Airframe
) -> RubberBands | None:
    """Bands across the wing from dowel to dowel; None where it is glued or bolted."""
    if surface.held != "bands":
        return None
    front, chord = surface.chord_at(0.0)
    wide = float(airframe.body.width_m(surface.at_m[0] + front + 0.5 * chord)) if airframe.body else 0.05
    over = math.hypot(chord + 2.0 * _DOWEL_BEYOND_M, wide)
    flat = BAND_FLAT_M
    # A deep wing takes a longer band: doubled, or the next size, until it is not stretched beyond three times.
    while over / flat > 3.0:
        flat *= 1.5
    flat = min(flat, over / 1.3)
    pull = band_pull(flat_length_m=flat, width_m=BAND_WIDTH_M, thickness_m=BAND_THICKNESS_M, stretched_m=over)
    return bands_needed(
        load_factor=limit.factor,
        wing_lift_n=lift_n,
        wing_weight_n=mass_kg * GRAVITY_MS2,
        band_pull_n=pull,
    )
