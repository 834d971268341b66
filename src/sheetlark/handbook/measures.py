"""The lengths and angles an assembly drawing states, each computed once."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from sheetlark.airframe import Airframe, LiftingSurface
from sheetlark.evaluation import Evaluation
from sheetlark.handbook.pieces import Floats, Model
from sheetlark.handbook.scene import bars
from sheetlark.handbook.settings import balance_aim_m


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceRow:
    """One lifting surface as the table shows it.

    span_m : tip to tip across the model; of a fin its height
    root_chord_m, mean_chord_m : at the centre line (the foot), and the mean aerodynamic chord
    """

    name: str
    upright: bool
    span_m: float
    root_chord_m: float
    mean_chord_m: float
    incidence_rad: float
    dihedral_rad: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """How two wings stand to each other, root leading edge to root leading edge, in the middle of the sheet.

    stagger_m : how far the upper stands ahead of the lower; negative where it stands behind
    gap_m : how far the upper stands above the lower
    """

    lower: str
    upper: str
    stagger_m: float
    gap_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measures:
    """What the drawing states.

    low_m, high_m : shape (3,), the box about all parts and rods; wheels too where the model has them
    length_m : of parts and rods along the datum line, without propeller
    height_m : of parts, rods and wheels, datum line level
    arm_m : from the wings' quarter-chord point back to the tail's; negative for a foreplane; None without a tail
    balance_m : behind the nose datum, and behind the root leading edge of the largest wing
    """

    low_m: Floats
    high_m: Floats
    span_m: float
    length_m: float
    height_m: float
    surfaces: tuple[SurfaceRow, ...]
    pairs: tuple[Pair, ...]
    arm_m: float | None
    arm_from_m: tuple[float, float]
    arm_to_m: tuple[float, float]
    balance_m: float
    balance_behind_m: float
    balance_wing: LiftingSurface


def measures(evaluation: Evaluation, model: Model) -> Measures:
    """Every figure of the assembly drawing."""
    frame = evaluation.airframe
    low, high = parts_box_mm(model)
    length = high[0] - low[0]
    for item in frame.equipment:
        if item.kind == "wheel":
            wheel = evaluation.stock.wheel(item.key)
            reach = 500.0 * np.array([wheel.diameter_m, wheel.width_m, wheel.diameter_m])
            low = np.minimum(low, 1e3 * np.asarray(item.at_m) - reach)
            high = np.maximum(high, 1e3 * np.asarray(item.at_m) + reach)
    rows = tuple(_row(s) for s in frame.surfaces)
    aim = balance_aim_m(evaluation)
    wing = max(frame.wings, key=lambda s: s.area_m2)
    arm, start, end = _arm(frame)
    return Measures(
        low_m=1e-3 * low,
        high_m=1e-3 * high,
        span_m=frame.reference.span_m,
        length_m=1e-3 * float(length),
        height_m=1e-3 * float(high[2] - low[2]),
        surfaces=rows,
        pairs=_pairs(frame),
        arm_m=arm,
        arm_from_m=start,
        arm_to_m=end,
        balance_m=aim,
        balance_behind_m=aim - float(root_edge(wing)[0]),
        balance_wing=wing,
    )


def parts_box_mm(model: Model) -> tuple[Floats, Floats]:
    """Two corners of the box about every part and rod, sheet thickness counted. [mm]."""
    found = []
    for item in model.items:
        flat = (
            [(p.outline, p.matrix, item.thickness_mm) for p in item.pieces]
            if item.part is not None
            else [(outline, matrix, thick) for outline, _, matrix, thick in bars(item)]
        )
        for outline, matrix, thickness in flat:
            middle = outline @ matrix[:3, :2].T + matrix[:3, 3]
            found += [middle + 0.5 * thickness * matrix[:3, 2], middle - 0.5 * thickness * matrix[:3, 2]]
    every = np.concatenate(found)
    return every.min(axis=0), every.max(axis=0)


def root_edge(surface: LiftingSurface) -> Floats:
    """Its leading edge at the root, middle of the sheet, shape (3,). [m]."""
    return surface.place(surface.chord_at(0.0)[0], float(surface.stations[0][0]))


def _row(s: LiftingSurface) -> SurfaceRow:
    upright = s.role == "fin"
    # The span is what a rule laid across the tips shows.
    span = s.half_span_m if upright else 2.0 * s.half_span_m * math.cos(s.dihedral_rad)
    return SurfaceRow(
        name=s.name,
        upright=upright,
        span_m=span,
        root_chord_m=s.chord_at(0.0)[1],
        mean_chord_m=s.mean_chord.chord,
        incidence_rad=s.incidence_rad,
        dihedral_rad=s.dihedral_rad,
    )


def _pairs(frame: Airframe) -> tuple[Pair, ...]:
    """Neighbouring wings, lowest first; wings one behind the other at one height are no pair."""
    wings = sorted(frame.wings, key=lambda s: float(root_edge(s)[2]))
    found = []
    for lower, upper in itertools.pairwise(wings):
        a, b = root_edge(lower), root_edge(upper)
        found.append(
            Pair(
                lower=lower.name,
                upper=upper.name,
                stagger_m=float(a[0] - b[0]),
                gap_m=float(b[2] - a[2]),
            )
        )
    return tuple(found)


def _arm(frame: Airframe) -> tuple[float | None, tuple[float, float], tuple[float, float]]:
    r = frame.reference
    start = (r.leading_edge_m[0] + 0.25 * r.chord_m, r.leading_edge_m[1])
    tail = frame.tail
    if tail is None:
        return None, start, start
    m = tail.mean_chord
    there = tail.place(m.leading_edge_x + 0.25 * m.chord, m.station_y)
    end = (float(there[0]), float(there[2]))
    return end[0] - start[0], start, end
