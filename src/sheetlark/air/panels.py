"""Cutting surfaces into panels: where vortices and control points lie, and which panels a control turns.

References
----------
.. [1] G. J. Hough, "Remarks on vortex-lattice methods", J. Aircraft 10(5), 1973: the quarter-panel inset at
   free ends (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

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


def _ends(surface: Surface) -> tuple[float, float]:
    """Inset at the root and at the tip, in panels."""
    spacing = surface.spacing
    if spacing == "auto":
        spacing = "equal" if surface.chordwise == 1 else "inset"
    if spacing == "equal":
        return 0.0, 0.0
    joined = surface.root == "joined" or (
        surface.root == "auto" and surface.mirrored and abs(surface.leading_edge_m[0, 1]) < 1e-6
    )
    return (0.0 if joined else 0.25), 0.25


def _span_edges(surface: Surface) -> Floats:
    """Strip edges in eta, shape (m + 1,), with an edge at every end of a control."""
    inner, outer = _ends(surface)
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
    width = np.diff(edges)
    inside = np.clip(
        np.minimum(edges[1:], control.to_eta) - np.maximum(edges[:-1], control.from_eta), 0.0, None
    )
    along = inside / width
    # The inset leaves the outermost strips' ends bare; a control that reaches the end covers the strip.
    if control.to_eta >= 1.0:
        along[-1] = min(1.0, (edges[-1] - max(edges[-2], control.from_eta)) / width[-1])
    if control.from_eta <= 0.0:
        along[0] = min(1.0, (min(edges[1], control.to_eta) - edges[0]) / width[0])
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


def panel_half(surface: Surface) -> Half:
    """Cut the starboard half (or the single surface) into panels."""
    edges = _span_edges(surface)
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
    )
