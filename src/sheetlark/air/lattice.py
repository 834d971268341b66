"""The lattice itself: panels, horseshoe vortices, and one factorisation for every right-hand side.

Each surface is cut into panels. A horseshoe vortex has its bound piece on the quarter line of a panel and
its legs trailing along +x; no air may pass through the sheet at the panel's three-quarter point. Positive
circulation runs from port to starboard (root to tip on a fin) and lifts along the normal x × span.

A layout symmetric about the centre plane is solved as a symmetric and an antisymmetric half, each half the
size; fins in that plane take part in the second only.

References
----------
.. [1] J. Katz and A. Plotkin, *Low-Speed Aerodynamics*, 2nd ed., 2001, ch. 12 (method; from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sheetlark.air.panels import MIRROR, Half, joined_ends, mirrored_half, panel_half
from sheetlark.air.stated import MOST_PANELS, number
from sheetlark.air.surface import Floats, Surface
from sheetlark.errors import GeometryError, SolveError

Integers = NDArray[np.intp]
# Between different surfaces a trailing leg may pass close to a control point by chance of panelling; a core
# of this share of the strip's width keeps the velocity that of a vortex sheet rather than of a single thread.
CORE_SHARE = 0.5


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


def _core(target: Half, source: Half, run_on: set[tuple[int, int]], order: Mapping[int, int]) -> float:
    """Core of the source's legs as the target meets them: none within a surface, nor where one runs on into it. [m]."""
    same = source.surface is target.surface
    if same or (order[id(target.surface)], order[id(source.surface)]) in run_on:
        return 0.0
    return CORE_SHARE * float(source.width_m.mean())


# Who blows on whom does not change while neither does: a hand that moves the tail leaves wing on wing as it was.
@lru_cache(maxsize=64)
def _block(target: Half, source: Half, mirror: bool, ground_m: float | None, core: float) -> Floats:
    """Influence of the source half (or of its port image) on the target's points, ground image included."""
    points = target.points_m.reshape(-1, 3)
    normals = np.repeat(target.normal, target.points_m.shape[1], axis=0)
    if mirror:
        points, normals = points * MIRROR, normals * MIRROR
    wash = normal_wash(points, normals, source.vertices_m, core)
    if ground_m is not None:
        below, turned = points.copy(), normals.copy()
        below[:, 2] = 2.0 * ground_m - below[:, 2]
        turned[:, 2] = -turned[:, 2]
        wash += normal_wash(below, turned, source.vertices_m, 0.0)
    wash.setflags(write=False)
    return wash


def build(surfaces: Sequence[Surface], ground_z_m: float | None = None) -> Lattice:
    """Panel all surfaces and work out who blows on whom.

    Parameters
    ----------
    surfaces : sequence of Surface
    ground_z_m : float, optional
        Height of a flat ground below the layout, in geometry axes; left out, free air. [m]
    """
    return _built(tuple(surfaces), ground_z_m)


@lru_cache(maxsize=6)
def _built(surfaces: tuple[Surface, ...], ground_z_m: float | None) -> Lattice:
    own: tuple[Surface, ...] = ()
    for surface in surfaces:  # one stated twice is two
        own += (replace(surface) if any(surface is s for s in own) else surface,)
    if not own:
        raise SolveError("the lattice needs at least one surface")
    panels = sum((2 if s.mirrored else 1) * s.spanwise * s.chordwise for s in own)
    if panels > MOST_PANELS:
        raise SolveError(f"{panels} panels are more than the {MOST_PANELS} there is room for; ask for fewer")
    met, run_on = joined_ends(own)
    stated = [panel_half(s, ends) for s, ends in zip(own, met, strict=True)]
    if ground_z_m is not None:
        _above(stated, ground_z_m)
    ports = [mirrored_half(h) for h in stated if h.surface.mirrored]
    symmetric = all(h.surface.mirrored or h.centred for h in stated)
    halves = (*stated, *ports)
    systems: tuple[Floats, ...]
    order = {id(s): k for k, s in enumerate(own)}

    def core_of(target: Half, source: Half) -> float:
        return _core(target, source, run_on, order)

    def block(target: Half, source: Half, *, mirror: bool) -> Floats:
        return _block(target, source, mirror, ground_z_m, core_of(target, source))

    if symmetric:
        direct = [[block(t, s, mirror=False) for s in stated] for t in stated]
        image = [[block(t, s, mirror=True) if s.surface.mirrored else None for s in stated] for t in stated]
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
            row = [block(t, s, mirror=False) for s in stated]
            row += [block(t, s, mirror=True) for s in stated if s.surface.mirrored]
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
        far=_far(halves, len(stated), ground_z_m, core_of),
        strip_width_m=np.concatenate([h.width_m for h in halves]),
        strip_chord_m=np.concatenate([h.chord_m for h in halves]),
        strip_surface=np.concatenate([np.full(h.width_m.size, own.index(h.surface)) for h in halves]),
    )


def _above(halves: Sequence[Half], ground_z_m: float) -> None:
    """Refuse a ground that touches a surface, or comes so near that panels are too coarse for it.

    Half a panel's chord: at 6 panels the lift of a wing a tenth of its chord up is 1 % high, closer it is worse.
    """
    ground = number("height of the ground", ground_z_m)
    for half in halves:
        lowest = float(half.vertices_m[..., 2].min())
        room = 0.0 if half.surface.upright else 0.5 * float(half.chord_m.max()) / half.surface.chordwise
        if lowest - ground < room or lowest <= ground:
            raise GeometryError(
                f"the ground at z = {ground:g} m is {lowest - ground:g} m below surface {half.surface.name!r}; "
                f"it must be {room:g} m at least. Lower it, or cut the chord into more panels."
            )


def _some(block: Floats | None) -> Floats | float:
    return 0.0 if block is None else block


def _far(
    halves: Sequence[Half], stated: int, ground_m: float | None, core_of: Callable[[Half, Half], float]
) -> Floats:
    """Strip-on-strip normal velocity far downstream, ground image included."""
    rows = []
    for target in halves:
        middle = 0.5 * (target.vertices_m[1:, 0] + target.vertices_m[:-1, 0])
        below, turned = middle.copy(), target.normal.copy()
        row = []
        for index, source in enumerate(halves):
            core = core_of(target, source)
            edges = source.vertices_m[:, 0]
            wash = far_wash(middle, target.normal, edges, core)
            if ground_m is not None:
                below[:, 2] = 2.0 * ground_m - middle[:, 2]
                turned[:, 2] = -target.normal[:, 2]
                wash = wash + far_wash(below, turned, edges, 0.0)
            row.append(-wash if index >= stated else wash)  # port strips run outwards in storage
        rows.append(np.hstack(row))
    return np.vstack(rows)
