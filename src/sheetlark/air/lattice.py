"""The lattice itself: panels, horseshoe vortices, and one factorisation for every right-hand side.

Each surface is cut into panels. A horseshoe vortex has its bound piece on the quarter line of a panel and
its legs trailing along +x; no air may pass through the sheet at the panel's three-quarter point. Positive
circulation runs from port to starboard (root to tip on a fin) and lifts along the normal x × span.

A layout symmetric about the centre plane is solved as a symmetric and an antisymmetric half, each half the
size; fins in that plane take part in the second only.

References
----------
.. [1] J. Katz and A. Plotkin, *Low-Speed Aerodynamics*, 2nd ed., 2001, ch. 12 (method; from memory).
.. [2] G. J. Hough, "Remarks on vortex-lattice methods", J. Aircraft 10(5), 1973: the quarter-panel inset at
   free ends (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sheetlark.air.sections import mean_line_slope
from sheetlark.air.surface import Control, Floats, Surface
from sheetlark.errors import SolveError

Integers = NDArray[np.intp]
MIRROR = np.array([1.0, -1.0, 1.0])
# Between different surfaces a trailing leg may pass close to a control point by chance of panelling; a core
# of this share of the strip's width keeps the velocity that of a vortex sheet rather than of a single thread.
CORE_SHARE = 0.5


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


def normal_wash(points: Floats, normals: Floats, vertices: Floats, core_m: float) -> Floats:
    """Velocity along `normals` at `points` from unit horseshoes between neighbouring `vertices`.

    Parameters
    ----------
    points, normals : ndarray, shape (k, 3)
        Normals have no x part.
    vertices : ndarray, shape (m + 1, n, 3)
    core_m : float
        Radius inside which a leg turns like a solid body; 0 for a plain thread. [m]

    Returns
    -------
    ndarray, shape (k, m * n)
        [1/m]
    """
    m, n = vertices.shape[0] - 1, vertices.shape[1]
    v = vertices.reshape(-1, 3)
    rx = points[:, 0:1] - v[:, 0]
    ry = points[:, 1:2] - v[:, 1]
    rz = points[:, 2:3] - v[:, 2]
    r = np.sqrt(rx * rx + ry * ry + rz * rz)
    # (1 + x/r)/d² written as 1/(r (r - x)): no cancellation upstream of the vertex.
    q = r * (r - rx)
    if core_m > 0.0:
        q = np.sqrt(q * q + 0.25 * core_m**4)
    ny, nz = normals[:, 1:2], normals[:, 2:3]
    cross = ry * nz - rz * ny
    leg = (cross / q).reshape(-1, m + 1, n)
    # Bound piece: (a × b)(|a| + |b|) / (|a||b| (|a||b| + a·b)), with a - b the same for every point.
    shape = (-1, m + 1, n)
    ax, a = rx.reshape(shape)[:, :-1], r.reshape(shape)[:, :-1]
    b = r.reshape(shape)[:, 1:]
    span = vertices[1:] - vertices[:-1]
    sx, sy, sz = span[..., 0], span[..., 1], span[..., 2]
    ay, az = ry.reshape(shape)[:, :-1], rz.reshape(shape)[:, :-1]
    # b = a - s, so a × b = s × a and a·b = a² - a·s; its part along n = (0, ny, nz):
    # ny (sz ax - sx az) + nz (sx ay - sy ax)
    twist = sx * cross.reshape(shape)[:, :-1] + ax * (ny[:, :, None] * sz - nz[:, :, None] * sy)
    ab = a * b
    dot = a * a - (ax * sx + ay * sy + az * sz)
    bound = twist * (a + b) / (ab * (ab + dot))
    wash: Floats = (bound + leg[:, 1:] - leg[:, :-1]) * (0.25 / np.pi)
    return wash.reshape(-1, m * n)


def far_wash(points: Floats, normals: Floats, edges: Floats, core_m: float) -> Floats:
    """Normal velocity far downstream at `points` (k, 3) from unit strips between `edges` (m + 1, 3), (k, m)."""
    ry = points[:, 1:2] - edges[:, 1]
    rz = points[:, 2:3] - edges[:, 2]
    d = ry * ry + rz * rz
    if core_m > 0.0:
        d = np.sqrt(d * d + core_m**4)
    leg = (ry * normals[:, 2:3] - rz * normals[:, 1:2]) / d * (0.5 / np.pi)
    return np.asarray(leg[:, 1:] - leg[:, :-1], dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lattice:
    """All panels of a layout and the factors that turn normal velocities into circulations.

    halves : tuple of Half
        Stated halves first, in the order of the surfaces, then the port halves of mirrored ones.
    stated : int
        How many of them are stated.
    symmetric : bool
        Whether it is solved as two half-sized systems.
    systems : tuple of ndarray
        Matrices: (symmetric, antisymmetric) or (whole,).
    far : ndarray, shape (strips, strips)
        Normal velocity far downstream per unit strip circulation. [1/m]
    """

    surfaces: tuple[Surface, ...]
    halves: tuple[Half, ...]
    stated: int
    symmetric: bool
    systems: tuple[Floats, ...]
    points_m: Floats
    normals: Floats
    bound_m: Floats
    bound_at_m: Floats
    back_a_m: Floats
    back_b_m: Floats
    vertex_a_m: Floats
    vertex_b_m: Floats
    strip_of: Integers
    far: Floats
    strip_width_m: Floats
    strip_chord_m: Floats
    strip_surface: Integers

    @property
    def panels(self) -> int:
        return int(self.points_m.shape[0])

    @property
    def strips(self) -> int:
        return int(self.strip_width_m.size)

    @property
    def stated_strips(self) -> int:
        return sum(h.eta.size for h in self.halves[: self.stated])

    def images(self) -> tuple[Integers, Integers]:
        """For every strip and every panel, its twin on the other side (itself on a centre-plane fin)."""
        strip, panel = [], []
        strip_at = panel_at = 0
        port_strip = self.stated_strips
        port_panel = sum(h.points_m[..., 0].size for h in self.halves[: self.stated])
        back_strip, back_panel = [], []
        for half in self.halves[: self.stated]:
            m, size = half.eta.size, half.points_m[..., 0].size
            if half.surface.mirrored:
                strip.append(np.arange(port_strip, port_strip + m))
                panel.append(np.arange(port_panel, port_panel + size))
                back_strip.append(np.arange(strip_at, strip_at + m))
                back_panel.append(np.arange(panel_at, panel_at + size))
                port_strip, port_panel = port_strip + m, port_panel + size
            else:
                strip.append(np.arange(strip_at, strip_at + m))
                panel.append(np.arange(panel_at, panel_at + size))
            strip_at, panel_at = strip_at + m, panel_at + size
        return np.concatenate([*strip, *back_strip]), np.concatenate([*panel, *back_panel])

    def circulation(self, inflow: Floats) -> Floats:
        """Circulations (panels, k) that cancel the normal velocities `inflow` (panels, k). [m²/s].

        Raises
        ------
        SolveError
            If two surfaces lie on top of each other so that the lattice has no answer.
        """
        stated = sum(h.points_m.shape[0] * h.points_m.shape[1] for h in self.halves[: self.stated])
        try:
            if not self.symmetric:
                return np.asarray(np.linalg.solve(self.systems[0], -inflow), dtype=np.float64)
            pair = self._paired()
            starboard, port = inflow[:stated], inflow[stated:]
            even, odd = self.systems
            paired_rows = np.flatnonzero(pair >= 0)
            images = pair[paired_rows]
            mean = 0.5 * (starboard[paired_rows] + port[images])
            lone = starboard.copy()
            lone[paired_rows] = 0.5 * (starboard[paired_rows] - port[images])
            gamma_even = np.linalg.solve(even, -mean)
            gamma_odd = np.linalg.solve(odd, -lone)
        except np.linalg.LinAlgError as trouble:
            raise SolveError(
                "the lattice has no answer: two surfaces lie in the same place. Move one of them apart."
            ) from trouble
        out = np.empty_like(inflow)
        out[:stated] = gamma_odd
        out[paired_rows] += gamma_even
        out[stated + images] = gamma_even - gamma_odd[paired_rows]
        return out

    def _paired(self) -> Integers:
        """For every stated panel, the row of its image among the port panels, or -1."""
        rows, image = [], 0
        for half in self.halves[: self.stated]:
            size = half.points_m.shape[0] * half.points_m.shape[1]
            if half.surface.mirrored:
                rows.append(np.arange(image, image + size))
                image += size
            else:
                rows.append(np.full(size, -1))
        return np.concatenate(rows)

    def strip_circulation(self, gamma: Floats) -> Floats:
        """Sum panels (panels, k) of each strip: (strips, k). [m²/s]."""
        out = np.zeros((self.strips, gamma.shape[1]))
        np.add.at(out, self.strip_of, gamma)
        return out


def _block(target: Half, source: Half, mirror: bool, ground_m: float | None) -> Floats:
    """Influence of the source half (or of its port image) on the target's points, ground image included."""
    points = target.points_m.reshape(-1, 3)
    normals = np.repeat(target.normal, target.points_m.shape[1], axis=0)
    if mirror:
        points, normals = points * MIRROR, normals * MIRROR
    same = source.surface is target.surface
    core = 0.0 if same else CORE_SHARE * float(source.width_m.mean())
    wash = normal_wash(points, normals, source.vertices_m, core)
    if ground_m is not None:
        below, turned = points.copy(), normals.copy()
        below[:, 2] = 2.0 * ground_m - below[:, 2]
        turned[:, 2] = -turned[:, 2]
        wash += normal_wash(below, turned, source.vertices_m, 0.0)
    return wash


def build(surfaces: Sequence[Surface], ground_z_m: float | None = None) -> Lattice:
    """Panel all surfaces and work out who blows on whom.

    Parameters
    ----------
    surfaces : sequence of Surface
    ground_z_m : float, optional
        Height of a flat ground below the layout, in geometry axes; left out, free air. [m]
    """
    own = tuple(surfaces)
    if not own:
        raise SolveError("the lattice needs at least one surface")
    stated = [panel_half(s) for s in own]
    ports = [mirrored_half(h) for h in stated if h.surface.mirrored]
    symmetric = all(h.surface.mirrored or h.centred for h in stated)
    halves = (*stated, *ports)
    systems: tuple[Floats, ...]
    if symmetric:
        direct = [[_block(t, s, False, ground_z_m) for s in stated] for t in stated]
        image = [
            [_block(t, s, True, ground_z_m) if s.surface.mirrored else None for s in stated] for t in stated
        ]
        pairs = [i for i, h in enumerate(stated) if h.surface.mirrored]
        even_rows = [np.hstack([direct[i][j] + _some(image[i][j]) for j in pairs]) for i in pairs]
        odd_rows = []
        for i in range(len(stated)):
            row = []
            for j in range(len(stated)):
                far_side = image[i][j]
                row.append(direct[i][j] if far_side is None else direct[i][j] - far_side)
            odd_rows.append(np.hstack(row))
        even = np.vstack(even_rows) if even_rows else np.zeros((0, 0))
        systems = (even, np.vstack(odd_rows))
    else:
        # Port halves blow as mirror images of the stated ones: one kernel serves both.
        rows = []
        for t in halves:
            row = [_block(t, s, False, ground_z_m) for s in stated]
            row += [_block(t, s, True, ground_z_m) for s in stated if s.surface.mirrored]
            rows.append(np.hstack(row))
        systems = (np.vstack(rows),)

    a, b, back_a, back_b, points, normals, strip_of = [], [], [], [], [], [], []
    count = 0
    for index, half in enumerate(halves):
        m, n = half.points_m.shape[:2]
        inner, outer = half.vertices_m[:-1].reshape(-1, 3), half.vertices_m[1:].reshape(-1, 3)
        near, off = half.back_m[:-1].ravel(), half.back_m[1:].ravel()
        if index >= len(stated):  # port to starboard: the outer end comes first
            inner, outer, near, off = outer, inner, off, near
        a.append(inner)
        b.append(outer)
        back_a.append(near)
        back_b.append(off)
        points.append(half.points_m.reshape(-1, 3))
        normals.append(np.repeat(half.normal, n, axis=0))
        strip_of.append(count + np.repeat(np.arange(m), n))
        count += m
    left, right = np.vstack(a), np.vstack(b)
    return Lattice(
        surfaces=own,
        halves=halves,
        stated=len(stated),
        symmetric=symmetric,
        systems=systems,
        points_m=np.vstack(points),
        normals=np.vstack(normals),
        bound_m=right - left,
        bound_at_m=0.5 * (left + right),
        back_a_m=np.concatenate(back_a),
        back_b_m=np.concatenate(back_b),
        vertex_a_m=left,
        vertex_b_m=right,
        strip_of=np.concatenate(strip_of),
        far=_far(halves, len(stated), ground_z_m),
        strip_width_m=np.concatenate([h.width_m for h in halves]),
        strip_chord_m=np.concatenate([h.chord_m for h in halves]),
        strip_surface=np.concatenate([np.full(h.width_m.size, own.index(h.surface)) for h in halves]),
    )


def _some(block: Floats | None) -> Floats | float:
    return 0.0 if block is None else block


def _far(halves: Sequence[Half], stated: int, ground_m: float | None) -> Floats:
    """Strip-on-strip normal velocity far downstream, ground image included."""
    rows = []
    for target in halves:
        middle = 0.5 * (target.vertices_m[1:, 0] + target.vertices_m[:-1, 0])
        below, turned = middle.copy(), target.normal.copy()
        row = []
        for index, source in enumerate(halves):
            same = source.surface is target.surface
            core = 0.0 if same else CORE_SHARE * float(source.width_m.mean())
            edges = source.vertices_m[:, 0]
            wash = far_wash(middle, target.normal, edges, core)
            if ground_m is not None:
                below[:, 2] = 2.0 * ground_m - middle[:, 2]
                turned[:, 2] = -target.normal[:, 2]
                wash = wash + far_wash(below, turned, edges, 0.0)
            row.append(-wash if index >= stated else wash)  # port strips run outwards in storage
        rows.append(np.hstack(row))
    return np.vstack(rows)
