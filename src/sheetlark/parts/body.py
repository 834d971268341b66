"""The box body: sides bent round the formers, covers between the sides, formers, decks, firewall."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import numpy as np

from sheetlark.airframe import BodyShape, FormerStation
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats
from sheetlark.parts.bending import Bend, offset_line
from sheetlark.parts.blank import Blank, drawn
from sheetlark.parts.facets import MITRE, Facet
from sheetlark.parts.fits import BEND_MM, EDGE_FIT_MM
from sheetlark.parts.kept import Kept, keep, shape_stamp
from sheetlark.parts.solids import polygons

X = np.array([1.0, 0.0, 0.0])
Y = np.array([0.0, 1.0, 0.0])
Z = np.array([0.0, 0.0, 1.0])
_SHARP_RAD = math.radians(40.0)  # a cover is parted where the profile turns more than this


@lru_cache(maxsize=16)
def shell_of(body: BodyShape) -> Shell:
    """What a body's sides leave inside; the same one for the same body."""
    return Shell(body)


class Shell:
    """What the box's sides leave inside: its widths at every station. Lengths in mm."""

    def __init__(self, body: BodyShape) -> None:
        self.body = body
        self.t = 1e3 * body.thickness_m
        self.nose, self.tail = 1e3 * body.nose_m, 1e3 * body.tail_m
        inner_kinks = [1e3 * x for x, _ in body.stated.width if self.nose < 1e3 * x < self.tail]
        x = np.array([self.nose, *inner_kinks, self.tail])
        outer = np.column_stack([x, 500.0 * body.width_m(x * 1e-3)])
        self.middle = _ends_square(offset_line(outer, -self.t / 2), self.nose, self.tail)
        self.inner = _ends_square(offset_line(outer, -self.t), self.nose, self.tail)
        self.bend = Bend.along(self.middle)
        if float(self.inner[:, 1].max()) < 2.0:
            raise GeometryError(
                f"two sides of {self.t:.1f} mm leave no room inside a body {2 * float(outer[:, 1].max()):.1f} mm wide",
                ("body", "width"),
            )

    def inside(self, x: Floats | float) -> Floats:
        """Half the free width between the sides at stations; negative where they meet. [mm]."""
        return np.asarray(np.interp(x, self.inner[:, 0], self.inner[:, 1]), dtype=np.float64)

    def narrowest(self, x0: float, x1: float) -> float:
        """The least free half width over a stretch. [mm]."""
        at = [x0, x1, *(float(x) for x in self.inner[:, 0] if x0 < x < x1)]
        return float(min(self.inside(np.array(at))))

    def heights(self, x: float) -> tuple[float, float]:
        """Lowest and highest point of the profile at a station, to a nanometre. [mm].

        Heights at the ends are read a hair inside them: unrounded, what stands there would be cut anew for every
        change of the profile's slope.
        """
        low, high = self.body.heights_m(1e-3 * min(max(x, self.nose), self.tail))
        return round(1e3 * low, 6), round(1e3 * high, 6)


def _ends_square(line: Floats, first: float, last: float) -> Floats:
    """A run whose ends are drawn on, or back, to two stations."""
    p = np.array(line)
    for end, inner, x in ((0, 1, first), (-1, -2, last)):
        t = (x - p[inner, 0]) / (p[end, 0] - p[inner, 0])
        p[end] = p[inner] + t * (p[end] - p[inner])
    return p


def side(shell: Shell, saddles: list[Floats]) -> Blank:
    """The starboard side: the profile and its saddles, bent to the width, marked inside where the formers go.

    saddles : outlines (x, z) added to the profile where a wing sits above or below it [mm]
    """
    from shapely.geometry import Polygon
    from shapely.ops import unary_union

    body = shell.body
    outline: Any = Polygon(body.profile_mm)
    if saddles:
        outline = unary_union([outline, *(Polygon(s).buffer(0.01, join_style=MITRE) for s in saddles)])
        outline = max(polygons(outline), key=lambda p: p.area)
    shape = Polygon(shell.bend.developed(np.asarray(outline.exterior.coords)[:-1]))
    return Blank(
        name="body side",
        group="body",
        sheet=body.sheet,
        paper=body.paper,
        thickness=shell.t,
        shape=shape.buffer(0),
        facets=shell.bend.facets(X, Y, Z),
        sides="pair",
        face="inside",
        where=("body", "profile"),
    )


def edge_chains(shell: Shell, which: str) -> list[Floats]:
    """The top or bottom edge of the profile from nose to tail, parted at sharp corners; each (n, 2) of (x, z)."""
    p = np.asarray(shell.body.profile_mm)
    n = len(p)
    left, right = float(p[:, 0].min()), float(p[:, 0].max())
    sign = 1.0 if which == "top" else -1.0

    def extreme(x: float) -> int:
        at = [i for i in range(n) if abs(p[i, 0] - x) < 1e-6]
        return max(at, key=lambda i: sign * p[i, 1])

    start, end = extreme(left), extreme(right)
    runs = []
    for step in (1, -1):
        run, i = [start], start
        while i != end:
            i = (i + step) % n
            run.append(i)
        runs.append(p[run])
    chain = max(
        runs, key=lambda r: sign * float(np.mean(np.interp(np.linspace(left, right, 50), *_sorted(r))))
    )
    chains, current = [], [chain[0]]
    for a, b, c in zip(chain[:-1], chain[1:], [*chain[2:], None], strict=False):
        current.append(b)
        if c is None:
            break
        d, e = b - a, c - b
        turn = abs(math.atan2(d[0] * e[1] - d[1] * e[0], float(d @ e)))
        if turn > _SHARP_RAD:
            chains.append(np.array(current))
            current = [b]
    chains.append(np.array(current))
    usable = []
    for c in chains:
        if len(c) < 2 or c[-1, 0] - c[0, 0] < 12.0 or np.any(np.diff(c[:, 0]) <= 0):
            continue
        usable.append(c)
    return usable


def _sorted(run: Floats) -> tuple[Floats, Floats]:
    order = np.argsort(run[:, 0], kind="stable")
    return run[order, 0], run[order, 1]


def cover(shell: Shell, which: str, chain: Floats, name: str) -> Blank | None:
    """One cover between the sides, bent along the profile's edge; None where the sides leave no room."""
    body = shell.body
    key = (which, chain.tobytes(), name, shell.inner.tobytes(), shell.t, body.sheet, body.paper)
    made = _COVERS.get(key, lambda: _cover(shell, which, chain, name))
    return None if made is None else made.fresh()


_COVERS: Kept[Blank | None] = keep(40)


def _cover(shell: Shell, which: str, chain: Floats, name: str) -> Blank | None:
    from shapely.geometry import LineString, Polygon

    sign = 1.0 if which == "top" else -1.0
    line = np.asarray(LineString(chain).simplify(BEND_MM).coords)
    middle = offset_line(line, -sign * shell.t / 2)
    try:
        bend = Bend.along(middle)
    except GeometryError as error:
        raise GeometryError(f"the {which} of the body: {error}", ("body", "profile")) from None
    x0, x1 = max(chain[0, 0], middle[0, 0]), min(chain[-1, 0], middle[-1, 0])
    kinks = [x for x in shell.inner[:, 0] if x0 < x < x1]
    x = np.unique(np.concatenate([np.linspace(x0, x1, 3), middle[:, 0].clip(x0, x1), kinks]))
    room = shell.inside(x) - EDGE_FIT_MM
    keep = room >= 4.0
    if keep.sum() < 2:
        return None
    if not keep[-1]:
        last = int(np.max(np.nonzero(keep)))
        t = (room[last] - 4.0) / (room[last] - room[last + 1])
        x = np.append(x[: last + 1], x[last] + t * (x[last + 1] - x[last]))
        room = np.append(room[: last + 1], 4.0)
    s = bend.develop(x)
    shape = Polygon(np.concatenate([np.column_stack([s, room]), np.column_stack([s, -room])[::-1]])).buffer(0)
    if shape.area < 100.0:
        return None
    body = shell.body
    return Blank(
        name=name,
        group="body",
        sheet=body.sheet,
        paper=body.paper,
        thickness=shell.t,
        shape=max(polygons(shape), key=lambda p: p.area),
        facets=bend.facets(X, Z, -Y if which == "top" else Y),  # marked inside, where the formers stand
        face="inside",
        where=("body", "covered"),
    )


def covers(shell: Shell) -> list[Blank]:
    """All covers the design asks for."""
    found = []
    for which in ("top", "bottom"):
        if which not in shell.body.stated.covered:
            continue
        chains = edge_chains(shell, which)
        for i, chain in enumerate(chains):
            blank = cover(
                shell, which, chain, f"{which} cover" if len(chains) == 1 else f"{which} cover {i + 1}"
            )
            if blank is not None:
                found.append(blank)
    return found


def former_shape(shell: Shell, x: float, thickness: float) -> tuple[float, float, float]:
    """Half width, bottom and top of the room for a former, over its whole thickness. [mm]."""
    x0, x1 = max(x - thickness / 2, shell.nose), min(x + thickness / 2, shell.tail)
    (a, b), (c, d) = shell.heights(x0), shell.heights(x1)
    return shell.narrowest(x0, x1) - EDGE_FIT_MM, max(a, c), min(b, d)


def former(shell: Shell, station: FormerStation, thickness: float, index: int, deck_over: Any) -> Blank:
    """A former between the sides, from edge to edge of the profile; covers, wings and decks cut it later.

    deck_over : polygon (y, z) of the room under a deck at the station, or None
    """
    key = (shell, station, thickness, index, shape_stamp(deck_over))
    return drawn(key, lambda: _former(shell, station, thickness, index, deck_over))


def _former(shell: Shell, station: FormerStation, thickness: float, index: int, deck_over: Any) -> Blank:
    from shapely.geometry import box
    from shapely.ops import unary_union

    x = 1e3 * station.x_m
    half, low, high = former_shape(shell, x, thickness)
    if half < 3.0 or high - low < 6.0:
        raise GeometryError(
            f"the former at {x:.1f} mm would be {2 * half:.1f} x {high - low:.1f} mm; move it to where the body is "
            f"larger, or leave it out",
            ("body", "former", index, "at"),
        )
    shape: Any = box(-half, low, half, high)
    if deck_over is not None:
        shape = max(polygons(unary_union([shape, deck_over])), key=lambda p: p.area)
    matrix = np.eye(4)
    matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = Y, Z, X
    matrix[:3, 3] = (x, 0.0, 0.0)
    return Blank(
        name=f"former {index + 1}",
        group="body",
        sheet=station.sheet,
        paper=shell.body.paper,
        thickness=thickness,
        shape=shape,
        facets=(Facet(None, matrix),),
        face="rear",
        where=("body", "former", index),
    )


def opening(blank: Blank, share: float) -> Any:
    """A rounded hole through a former, of a share of its width, walls kept round it."""
    from shapely.geometry import box

    if share <= 0:
        return None
    low_u, low_v, high_u, high_v = blank.shape.bounds
    wall = max(8.0, 0.5 * (1 - share) * (high_u - low_u))
    width, height = (
        share * (high_u - low_u),
        min((high_v - low_v) - 2 * max(8.0, 0.5 * (1 - share) * (high_v - low_v)), 1e3),
    )
    if width < 6.0 or height < 6.0:
        return None
    mid_u, mid_v = 0.5 * (low_u + high_u), 0.5 * (low_v + high_v)
    hole = box(mid_u - width / 2, mid_v - height / 2, mid_u + width / 2, mid_v + height / 2)
    r = 0.3 * min(width, height)
    hole = hole.buffer(-r).buffer(r, quad_segs=8)
    inner = blank.shape.buffer(-min(wall, 8.0))
    hole = hole.intersection(inner)
    pieces = polygons(hole)
    return max(pieces, key=lambda p: p.area) if pieces else None


def saddle_fill(shell: Shell, faces: Any, x0: float, x1: float, on_top: bool) -> Floats | None:
    """What is added to a side so that it reaches a wing that stands off it; (x, z) outline or None.

    faces : function of x giving the height of the wing's near face above the side [mm]
    """
    x0, x1 = max(x0, shell.nose), min(x1, shell.tail)
    if x1 - x0 < 5.0:
        return None
    x = np.linspace(x0, x1, 25)
    z = np.array([faces(float(v)) for v in x])
    edge = np.array([shell.heights(float(v))[1 if on_top else 0] for v in x])
    gap = (z - edge) if on_top else (edge - z)
    if float(gap.max()) < 0.05:
        return None
    deep = np.array([0.5 * sum(shell.heights(float(v))) for v in x])
    top = np.maximum(z, edge) if on_top else np.minimum(z, edge)
    return np.concatenate([np.column_stack([x, top]), np.column_stack([x, deep])[::-1]])
