"""What every strip of the lattice is like before any air moves: its section, its edges, its share of the controls.

References
----------
.. [1] L. W. Traub, Aerospace 10(7):597, 2023: rectangular plates keep side-edge vortex lift, none at an unswept
   leading edge (abstract).
.. [2] E. C. Polhamus, NASA TN D-3767, 1966: the suction that a sharp swept edge loses comes back as normal force; for
   deltas of aspect ratio 0.5 to 2.3 that is 3.1 to 3.3 times q, the wing's area and sin² (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sheetlark.air.lattice import Lattice
from sheetlark.air.motion import smooth
from sheetlark.air.panels import Half
from sheetlark.air.potential import DRIVE_APART, senses
from sheetlark.air.sections import behaviour, flap_terms, mean_line_terms
from sheetlark.air.surface import Floats

# Side-edge vortex lift: normal force of one edge over q, tip chord squared and sin² of the angle. 1.0 gives a
# plate of aspect ratio 1 Lamar's side-edge constant of about 2 per wing area (from memory); checked against the
# tables of aspect ratio 1 and 2 in tests/published.
SIDE_EDGE = 1.0
# Vortex lift of a swept leading edge [2]_. What separates there rolls up over the wing from about 45 degrees of sweep
# on, all of it by 60 (from memory). So rolled up it stays on the sheet longer and leaves by and by, as the vortex
# bursts: own choice, so that pointed deltas of 55 and 60 degrees lift 1.0 and 1.25 at the most (1.1 and 1.3 measured,
# from memory) and the balance settles.
# It acts where the lattice's own lift does, for pitch over lift of sharp deltas is nearly straight (from memory).
ROLLED_UP, ROLLED_UP_AT = 3.2, 0.375
ROLLS_FROM, ROLLS_BY = math.radians(45.0), math.radians(60.0)
LEAVES_LATER, GONE_LATER = math.radians(5.0), math.radians(22.0)
# Of the span: an edge's sweep is that of the rest, for round tips of straight wings curve back.
ROUND_TIP = 0.1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripState:
    """What every strip does in one state.

    attached : shape (n,), 1 fully attached, 0 fully separated.
    nose_angle_rad : shape (n,), leading-edge angle counted from the induced flow. [rad]
    stall_share : shape (n,), nose angle over the angle where the flow leaves; above 1 it has begun.
    normal_n : shape (n,), force along the strip's normal. [N]
    along_n : shape (n,), force along the chord, aft positive. [N]
    shift_nm : shape (n,), normal force times its distance behind the quarter chord. [N m]
    lift_coefficient : shape (n,), normal force over local q and strip area.
    passes : int
        Rounds the stall needed to settle; 0 when nothing stalls.
    """

    attached: Floats
    nose_angle_rad: Floats
    stall_share: Floats
    normal_n: Floats
    along_n: Floats
    shift_nm: Floats
    lift_coefficient: Floats
    passes: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strips:
    """Sections and edges of all strips, each of shape (n,).

    slope : section lift slope over 2 pi.
    leave, gone : nose angle where the flow begins to leave and where it is gone. [rad]
    suction : share of leading-edge suction kept at small angles.
    drag0 : drag coefficient at zero lift.
    shift0, half_a1 : thin-aerofoil terms of the mean line. [rad]
    aspect : aspect ratio of the surface a strip belongs to.
    true_width : width with the inset. [m]
    twist : incidence. [rad]
    edges : normal force of what rolls up round free side edges and swept leading edges, over q and sin². [m²]
    edge_shift : that times its distance behind the quarter chord. [m³]
    """

    slope: Floats
    leave: Floats
    gone: Floats
    suction: Floats
    drag0: Floats
    shift0: Floats
    half_a1: Floats
    aspect: Floats
    true_width: Floats
    twist: Floats
    edges: Floats
    edge_shift: Floats


def strips_of(lattice: Lattice, reynolds_per_m: float) -> Strips:
    """Section behaviour of every strip at its own Reynolds number, and its free edges."""
    halves = lattice.halves
    rows = []
    rolls = [_rolls_up(half) for half in halves]
    for half, share in zip(halves, rolls, strict=True):
        section = half.surface.section
        shift, half_a1 = mean_line_terms(section)
        thick_chord = float(half.surface.chord_m.max()) * section.thickness_ratio
        mean = float(np.mean(half.chord_m))
        known = behaviour(section, reynolds_per_m * mean)
        onset = known.leave_rad + share * LEAVES_LATER, known.gone_rad + share * GONE_LATER
        for chord in half.chord_m:
            # Sheet keeps its thickness as the chord tapers.
            extra = thick_chord / max(float(chord), 1e-6) - section.thickness_ratio
            friction = known.drag_at_zero_lift * math.sqrt(mean / max(float(chord), 1e-6))
            drag = friction + 0.3 * max(min(extra, 0.1), 0.0)
            rows.append((known.slope, *onset, known.suction, drag, shift, half_a1))
    slope, leave, gone, suction, drag0, shift0, half_a1 = np.array(rows).T
    side_edges = np.concatenate([_side_edges(h) for h in halves])
    rolled = ROLLED_UP * np.concatenate(
        [share * h.chord_m * h.true_width_m for h, share in zip(halves, rolls, strict=True)]
    )
    return Strips(
        slope=slope,
        leave=leave,
        gone=gone,
        suction=suction,
        drag0=drag0,
        shift0=shift0,
        half_a1=half_a1,
        aspect=np.concatenate([np.full(h.eta.size, h.surface.aspect_ratio) for h in halves]),
        true_width=np.concatenate([h.true_width_m for h in halves]),
        twist=np.concatenate([np.interp(h.eta, h.surface.eta, h.surface.twist_rad) for h in halves]),
        edges=side_edges + rolled,
        edge_shift=((0.5 - 0.25) * side_edges + (ROLLED_UP_AT - 0.25) * rolled) * lattice.strip_chord_m,
    )


def _rolls_up(half: Half) -> float:
    """Share of what separates at the leading edge that rolls up over a surface, 0..1; of one that stands, nothing."""
    surface = half.surface
    if surface.upright:
        return 0.0
    x = np.interp([0.0, 1.0 - ROUND_TIP], surface.eta, surface.leading_edge_m[:, 0])
    sweep = math.atan2(abs(float(x[1] - x[0])), (1.0 - ROUND_TIP) * float(surface.steps_m.sum()))
    return float(smooth(np.array((sweep - ROLLS_FROM) / (ROLLS_BY - ROLLS_FROM))))


def _side_edges(half: Half) -> Floats:
    """Side-edge constant times tip chord squared on the strips that end free [1]_, shape (m,)."""
    surface = half.surface
    out = np.zeros(half.eta.size)
    if not surface.upright or surface.role == "fin":
        if not half.met[1]:
            out[int(np.argmax(half.eta))] += surface.chord_m[-1] ** 2
        if not surface.mirrored and surface.root != "joined" and not half.met[0]:
            out[int(np.argmin(half.eta))] += surface.chord_m[0] ** 2
    return SIDE_EDGE * out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Turns:
    """What each drive does to each strip per radian, shape (n, drives), and what kind of control it is.

    a0, a1 : shift of A0 and of A1/2. line : turn of the chord line.
    gap : shape (drives,), open gap over chord. whole : shape (drives,), whether it turns the whole surface.
    even : shape (drives,), whether both sides of a symmetric layout move alike.
    """

    a0: Floats
    a1: Floats
    line: Floats
    gap: Floats
    whole: NDArray[np.bool_]
    even: NDArray[np.bool_]


def turns_of(lattice: Lattice, drives: tuple[str, ...]) -> Turns:
    """What every drive does to every strip's leading edge, lift and chord line."""
    n, k = lattice.strips, len(drives)
    a0, a1, line = np.zeros((n, k)), np.zeros((n, k)), np.zeros((n, k))
    gap, whole, even = np.zeros(k), np.zeros(k, dtype=bool), np.ones(k, dtype=bool)
    for d, drive in enumerate(drives):
        name, apart = drive.removesuffix(DRIVE_APART), drive.endswith(DRIVE_APART)
        first = 0
        for index, half in enumerate(lattice.halves):
            m = half.eta.size
            mine = slice(first, first + m)
            first += m
            for c, control in enumerate(half.surface.controls):
                if control.name != name:
                    continue
                sense = senses(control, apart=apart, mirrored=half.surface.mirrored)
                sign = sense[index >= lattice.stated]
                span = half.turned[c].max(axis=1)  # share of the strip the control covers
                hinge = control.hinge_at(half.eta)
                shift, half_a1 = flap_terms(hinge)
                a0[mine, d] += sign * span * shift
                a1[mine, d] += sign * span * half_a1
                line[mine, d] += sign * span * (1.0 - hinge)
                gap[d] = max(gap[d], control.gap_m / float(np.mean(half.chord_m)))
                whole[d] = control.hinge_fraction == 0.0
                even[d] &= half.surface.mirrored and sense[0] == sense[1]
    return Turns(a0=a0, a1=a1, line=line, gap=gap, whole=whole, even=even)


def neighbours(lattice: Lattice, quarter_m: Floats) -> Floats:
    """Weights that average over a strip's neighbourhood along the span, rows summing to 1, shape (n, n).

    Separation is not decided strip by strip: it spreads about half a chord each way, or a strip where strips are
    wider (no source; wide enough that the answer does not depend on the number of strips).
    """
    places = quarter_m[:, 1:]
    apart = np.hypot(*(places[:, None, :] - places[None, :, :]).transpose(2, 0, 1))
    same = lattice.strip_surface[:, None] == lattice.strip_surface[None, :]
    reach = np.maximum(0.5 * lattice.strip_chord_m, lattice.strip_width_m)
    near = np.exp(-((apart / reach[:, None]) ** 2))
    weight = np.where(same, near, 0.0) * lattice.strip_width_m
    return np.asarray(weight / weight.sum(axis=1, keepdims=True), dtype=np.float64)


def sweep(lattice: Lattice) -> tuple[Floats, Floats]:
    """Tangent of the quarter line's sweep, and change of the legs' length on the sheet along the span, each (n,).

    Both are taken from port to starboard: positive when the starboard end lies aft, or is longer.
    """
    lines, legs = [], []
    for index, half in enumerate(lattice.halves):
        first = 0.25 * half.fraction[:, 1]  # the first row of bound pieces, as a share of the chord
        chord = np.diff(half.back_m[:, 0]) / (1.0 - first)
        line = (np.diff(half.vertices_m[:, 0, 0]) + (0.25 - first) * chord) / half.width_m
        leg = 0.75 * chord / half.width_m
        sign = -1.0 if index >= lattice.stated else 1.0
        lines.append(sign * line)
        legs.append(sign * leg)
    return np.concatenate(lines), np.concatenate(legs)
