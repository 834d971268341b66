"""Cutting surfaces into panels: where vortices and control points lie, and which panels a control turns.

References
----------
.. [1] G. J. Hough, "Remarks on vortex-lattice methods", J. Aircraft 10(5), 1973: the quarter-panel inset at
   free ends (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from sheetlark.air.sections import mean_line_slope
from sheetlark.air.surface import Control, Floats, Surface

MIRROR = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Half:
    """Panels of one half surface (or single surface); spanwise index first, m strips by n panels.

    vertices_m : shape (m + 1, n, 3), ends of the bound pieces. [m]
    points_m : shape (m, n, 3), three-quarter points. [m]
    normal : shape (m, 3), unit normal of the untwisted strip.
    slope_rad : shape (m, n), incidence of the mean line at the three-quarter point. [rad]
    chord_m, width_m : shape (m,), strip's mean chord and width as modelled. [m]
    true_width_m : shape (m,), width including the inset. [m]
    leading_edge_m : shape (m, 3), strip's leading edge at mid-strip. [m]
    back_m : shape (m + 1, n), distance from the bound vertex to the trailing edge. [m]
    fraction : shape (m, n + 1), panel edges along the chord at mid-strip.
    eta : shape (m,), mid-strip.
    turned : shape (controls, m, n), share of each panel that each control turns.
    met : whether the surface's root and its tip run on into another surface.
    """

    surface: Surface
    vertices_m: Floats
    points_m: Floats
    normal: Floats
    slope_rad: Floats
    chord_m: Floats
    width_m: Floats
    true_width_m: Floats
    leading_edge_m: Floats
    back_m: Floats
    fraction: Floats
    eta: Floats
    turned: Floats
    centred: bool
    met: tuple[bool, bool] = (False, False)


def joined_ends(surfaces: Sequence[Surface]) -> tuple[list[tuple[bool, bool]], set[tuple[int, int]]]:
    """Whether each surface's root and tip meets another's, edge to edge; and which pairs so meet.

    A wing may be stated in pieces: where leading and trailing edges run on from one to the next, no air passes.
    """
    at = [
        (index, end, surface.leading_edge_m[end], float(surface.chord_m[end]))
        for index, surface in enumerate(surfaces)
        for end in (0, -1)
    ]
    met = [[False, False] for _ in surfaces]
    pairs: set[tuple[int, int]] = set()
    for k, (i, end, nose, chord) in enumerate(at):
        for j, other_end, other_nose, other_chord in at[:k]:
            near = 1e-6 * max(chord, other_chord)
            if i == j or abs(chord - other_chord) > near or np.abs(nose - other_nose).max() > near:
                continue
            here, there = surfaces[i].leading_edge_m, surfaces[j].leading_edge_m
            # Sheets that lie on each other from the same end on do not run on: they coincide.
            away = here[1 if end == 0 else -2] - nose, there[1 if other_end == 0 else -2] - other_nose
            sizes = [float(np.hypot(a[1], a[2])) for a in away]
            if float(away[0][1:] @ away[1][1:]) > 0.9 * sizes[0] * sizes[1]:
                continue
            met[i][end], met[j][other_end] = True, True
            pairs |= {(i, j), (j, i)}
    return [(root, tip) for root, tip in met], pairs


def _ends(surface: Surface, met: tuple[bool, bool]) -> tuple[float, float]:
    """Inset at the root and at the tip, in panels; none where an end has met another surface's."""
    spacing = surface.spacing
    if spacing == "auto":
        spacing = "equal" if surface.chordwise == 1 else "inset"
    if spacing == "equal":
        return 0.0, 0.0
    joined = surface.root == "joined" or (
        surface.root == "auto" and surface.mirrored and abs(surface.leading_edge_m[0, 1]) < 1e-6
    )
    return (0.0 if joined or met[0] else 0.25), (0.0 if met[1] else 0.25)


def _span_edges(surface: Surface, insets: tuple[float, float]) -> Floats:
    """Strip edges in eta, shape (m + 1,), with an edge at every end of a control; insets at both ends in panels."""
    inner, outer = insets
    n = surface.spanwise
    width = 1.0 / (n + inner + outer)
    start, stop = inner * width, 1.0 - outer * width
    marks = sorted({e for c in surface.controls for e in (c.from_eta, c.to_eta)})
    marks = [e for e in marks if start + 0.5 * width < e < stop - 0.5 * width]
    knots = np.array([start, *marks, stop])
    share = np.diff(knots) / (stop - start) * n
    count = np.maximum(1, np.round(share).astype(int))
    while count.sum() > max(n, count.size):
        count[np.argmax(count - share)] -= 1
    while count.sum() < n:
        count[np.argmin(count - share)] += 1
    count = np.maximum(count, 1)
    pieces = [np.linspace(a, b, k + 1)[:-1] for a, b, k in zip(knots[:-1], knots[1:], count, strict=True)]
    return np.concatenate([*pieces, [stop]])


def _chord_fractions(surface: Surface, eta: Floats) -> Floats:
    """Panel edges along the chord, shape (eta.size, n + 1), fitted to the hinge where there is one."""
    n = surface.chordwise
    plain = np.linspace(0.0, 1.0, n + 1)
    hinged = [c for c in surface.controls if c.hinge_fraction > 0.0]
    if not hinged or n < 2:
        return np.tile(plain, (eta.size, 1))
    lines = np.array([c.hinge_at(eta) for c in hinged])
    away = np.array([np.maximum(0.0, np.maximum(c.from_eta - eta, eta - c.to_eta)) for c in hinged])
    hinge = lines[np.argmin(away, axis=0), np.arange(eta.size)]
    # A single panel behind the hinge cannot show where the load on the control sits: two at least.
    front = int(np.clip(round(n * float(np.mean(hinge))), 1, n - min(2, n // 2)))
    # The slope of the sheet steps where control points change from one side of the hinge to the other, so the hinge
    # belongs midway between two control points: on the bound vortex of the first panel behind it.
    quarter = 0.25 / (n - front)
    edge = np.maximum((hinge - quarter) / (1.0 - quarter), 0.02)
    ahead = edge[:, None] * np.linspace(0.0, 1.0, front + 1)
    behind = edge[:, None] + (1.0 - edge)[:, None] * np.linspace(0.0, 1.0, n - front + 1)
    return np.hstack([ahead, behind[:, 1:]])


def _coverage(control: Control, edges: Floats, fraction: Floats) -> Floats:
    """Share of each panel (m, n) that the control turns."""
    # The outermost strips answer for the sheet right to its ends, though the inset ends them short of it.
    ends = np.concatenate([[0.0], edges[1:-1], [1.0]])
    inside = np.minimum(ends[1:], control.to_eta) - np.maximum(ends[:-1], control.from_eta)
    along = np.clip(inside, 0.0, None) / np.diff(ends)
    hinge = control.hinge_at(0.5 * (edges[1:] + edges[:-1]))[:, None]
    if fraction.shape[1] == 2 or control.hinge_fraction == 0.0:
        behind = np.clip(
            (fraction[:, 1:] - np.maximum(fraction[:, :-1], hinge)) / np.diff(fraction, axis=1), 0.0, 1.0
        )
    else:  # each control point answers for the sheet between its own vortex and the next
        start = fraction[:, :-1] + 0.25 * np.diff(fraction, axis=1)
        stop = np.hstack([start[:, 1:], np.ones((start.shape[0], 1))])
        behind = np.clip((stop - np.maximum(start, hinge)) / (stop - start), 0.0, 1.0)
    return np.asarray(along[:, None] * behind, dtype=np.float64)


def _turned_about(surface: Surface) -> Surface:
    """The same single surface stated from its other end."""
    return replace(
        surface,
        leading_edge_m=surface.leading_edge_m[::-1],
        chord_m=surface.chord_m[::-1],
        twist_rad=surface.twist_rad[::-1],
        controls=tuple(
            replace(
                c,
                from_eta=1.0 - c.to_eta,
                to_eta=1.0 - c.from_eta,
                hinge_fraction=c.hinge_fraction if c.hinge_fraction_tip is None else c.hinge_fraction_tip,
                hinge_fraction_tip=c.hinge_fraction,
            )
            for c in surface.controls
        ),
    )


@lru_cache(maxsize=64)
def panel_half(surface: Surface, met: tuple[bool, bool] = (False, False)) -> Half:
    """Cut the starboard half (or the single surface) into panels.

    A single surface that runs to port or downwards from its root is cut from its tip, so that incidence and controls
    mean the same on it as on any other: nose up, or nose to port on a fin. Its `eta` still runs 0 at the root.

    Parameters
    ----------
    surface : Surface
    met : tuple of bool
        Whether root and tip meet another surface's end, see `joined_ends`.
    """
    step = surface.leading_edge_m[-1] - surface.leading_edge_m[0]
    if not surface.mirrored and float(step[2] if surface.upright else step[1]) < 0.0:
        half = _cut(_turned_about(surface), _ends(surface, met)[::-1])
        return replace(half, surface=surface, eta=1.0 - half.eta, met=met)
    return replace(_cut(surface, _ends(surface, met)), met=met)


def _cut(surface: Surface, insets: tuple[float, float]) -> Half:
    edges = _span_edges(surface, insets)
    eta = 0.5 * (edges[1:] + edges[:-1])
    known = surface.eta

    def at(values: Floats, where: Floats) -> Floats:
        if values.ndim == 1:
            return np.asarray(np.interp(where, known, values), dtype=np.float64)
        return np.stack([np.interp(where, known, values[:, k]) for k in range(3)], axis=1)

    nose, chord = at(surface.leading_edge_m, edges), at(surface.chord_m, edges)
    fraction = _chord_fractions(surface, edges)
    quarter = fraction[:, :-1] + 0.25 * np.diff(fraction, axis=1)
    vertices = nose[:, None, :] + np.zeros((1, surface.chordwise, 3))
    vertices[..., 0] += chord[:, None] * quarter
    # Three-quarter points lie midway between the panel's sides.
    mid_nose, mid_chord = 0.5 * (nose[1:] + nose[:-1]), 0.5 * (chord[1:] + chord[:-1])
    mid_fraction = _chord_fractions(surface, eta)
    back_edge = nose[:, 0:1] + chord[:, None] * (fraction[:, :-1] + 0.75 * np.diff(fraction, axis=1))
    points = mid_nose[:, None, :] + np.zeros((1, surface.chordwise, 3))
    points[..., 0] = 0.5 * (back_edge[1:] + back_edge[:-1])
    along = np.diff(nose, axis=0)
    along[:, 0] = 0.0
    width = np.hypot(along[:, 1], along[:, 2])
    along /= width[:, None]
    normal = np.stack([np.zeros_like(width), -along[:, 2], along[:, 1]], axis=1)
    three = mid_fraction[:, :-1] + 0.75 * np.diff(mid_fraction, axis=1)
    slope = at(surface.twist_rad, eta)[:, None] + mean_line_slope(surface.section, three)
    span = surface.steps_m.sum()
    full = np.concatenate([[0.0], edges[1:-1], [1.0]])
    flat = not surface.mirrored and bool((np.abs(surface.leading_edge_m[:, 1]) < 1e-9).all())
    return Half(
        surface=surface,
        vertices_m=vertices,
        points_m=points,
        normal=normal,
        slope_rad=slope,
        chord_m=mid_chord,
        width_m=width,
        true_width_m=np.diff(full) * span,
        leading_edge_m=mid_nose,
        back_m=chord[:, None] * (1.0 - quarter),
        fraction=mid_fraction,
        eta=eta,
        turned=np.array([_coverage(c, edges, mid_fraction) for c in surface.controls]).reshape(
            len(surface.controls), eta.size, surface.chordwise
        ),
        centred=flat,
    )


@lru_cache(maxsize=64)
def mirrored_half(half: Half) -> Half:
    """The port half, strips still numbered from root to tip but circulation still port to starboard."""
    swap = half.vertices_m * MIRROR
    return Half(
        surface=half.surface,
        vertices_m=swap,
        points_m=half.points_m * MIRROR,
        normal=half.normal * MIRROR,
        slope_rad=half.slope_rad,
        chord_m=half.chord_m,
        width_m=half.width_m,
        true_width_m=half.true_width_m,
        leading_edge_m=half.leading_edge_m * MIRROR,
        back_m=half.back_m,
        fraction=half.fraction,
        eta=half.eta,
        turned=half.turned,
        centred=False,
        met=half.met,
    )
