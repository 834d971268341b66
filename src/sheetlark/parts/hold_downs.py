"""What holds a wing that comes off: dowels for rubber bands, plates for bolts."""

from __future__ import annotations

import math

import numpy as np

from sheetlark.errors import GeometryError
from sheetlark.parts.blank import Blank
from sheetlark.parts.body import Shell
from sheetlark.parts.facets import Facet
from sheetlark.parts.firewalls import drill
from sheetlark.parts.fits import EDGE_FIT_MM
from sheetlark.parts.panels import Panel
from sheetlark.parts.part import Joint, Point3, RodPiece
from sheetlark.stock import Stock

_WING_BOLT_MM = 4.2  # hole for a nylon M4
_DOWEL = "bamboo-4"
X, Y, Z = np.eye(3)


def dowels(
    panel: Panel, shell: Shell, taken: list[tuple[float, float]], stock: Stock
) -> list[tuple[str, float, float, float]]:
    """Places of the two dowels for a banded wing: (name, x, z, diameter); ahead of and behind the wing."""
    surface = panel.surface
    front, chord = surface.chord_at(0.0)
    x0 = 1e3 * (surface.at_m[0] + front)
    x1 = x0 + 1e3 * chord
    d = 1e3 * stock.rod(_DOWEL).outer_diameter_m
    on_top = (
        panel.underside(0.5 * (x0 + x1), 0.0, 1)
        > sum(shell.heights(min(max(0.5 * (x0 + x1), shell.nose), shell.tail))) / 2
    )
    found = []
    for name, start, step in (("front", x0 - 10.0, -2.0), ("rear", x1 + 10.0, 2.0)):
        x = start
        for _ in range(16):
            if all(not (a - d < x < b + d) for a, b in taken):
                break
            x += step
        if not shell.nose + 8.0 < x < shell.tail - 8.0:
            raise GeometryError(
                f"there is no body {'ahead of' if name == 'front' else 'behind'} {surface.name!r} for its dowel at "
                f"x {x:.0f} mm; move the wing, or hold it with bolts",
                (*surface.where, "held"),
            )
        low, high = shell.heights(x)
        z = high - shell.t - 8.0 if on_top else low + shell.t + 8.0
        found.append((name, x, z, d))
    return found


def dowel_parts(
    panel: Panel, shell: Shell, side: Blank, place: tuple[str, float, float, float], plate: str, stock: Stock
) -> tuple[RodPiece, Blank, Joint]:
    """A dowel through both sides, the holes for it, and the doubler inside each side."""
    from shapely.geometry import Point, box

    name, x, z, d = place
    t = 1e3 * stock.sheet(plate).thickness_m
    outer = float(shell.inside(x)) + shell.t
    tip = outer + 9.0
    rod = RodPiece(
        name=f"{panel.surface.name} dowel, {name}",
        key=_DOWEL,
        group="wing",
        points_mm=((x, -tip, z), (x, tip, z)),
        width_mm=d,
        height_mm=d,
    )
    facet = min(
        side.facets,
        key=lambda f: (
            0.0
            if f.region is None
            else f.region.distance(Point(float(shell.bend.develop(np.array([x]))[0]), z))
        ),
    )
    u = float(shell.bend.develop(np.array([x]))[0])
    drill(side, [(u, z, d + 0.3)])
    r = d / 2 + 1.2
    side.mark(
        "place",
        [(u - r, z - r), (u + r, z - r), (u + r, z + r), (u - r, z + r), (u - r, z - r)],
        f"dowel {d:.0f} mm",
    )
    inner = facet.matrix.copy()
    inner[:3, 3] = facet.matrix[:3, 3] + facet.matrix[:3, 2] * (shell.t / 2 + t / 2 + EDGE_FIT_MM)
    blank = Blank(
        name=f"dowel doubler, {name}",
        group="body",
        sheet=plate,
        paper="none",
        thickness=t,
        shape=box(u - 9.0, z - 7.0, u + 9.0, z + 7.0),
        facets=(Facet(None, inner),),
        sides="pair",
        face="inside",
        where=(*panel.surface.where, "held"),
    )
    drill(blank, [(u, z, d + 0.3)])
    ends: tuple[Point3, ...] = ((x, -outer, z), (x, outer, z))
    return (
        rod,
        blank,
        Joint(kind="dowel", first=side.name, second=rod.name, held="loose", runs_mm=(ends,), fit_mm=0.3),
    )


def bolt_plate(
    panel: Panel,
    shell: Shell,
    share: float,
    name: str,
    taken: list[tuple[float, float]],
    plate: str,
    stock: Stock,
) -> Blank | None:
    """A plate across the body under a bolted wing, with two bolt holes; the wing gets the same holes."""
    from shapely.geometry import box

    surface = panel.surface
    front, chord = surface.chord_at(0.0)
    u = 1e3 * (front + share * chord)
    t = 1e3 * stock.sheet(plate).thickness_m
    m = surface.matrix()
    root = np.eye(4)
    i = surface.incidence_rad
    root[:3, 0], root[:3, 1], root[:3, 2] = (math.cos(i), 0, -math.sin(i)), Y, (math.sin(i), 0, math.cos(i))
    root[:3, 3] = m[:3, 3]
    x = float((root @ np.array([u, 0, 0, 1.0]))[0])
    for _ in range(20):
        if all(not (a - 10.5 < x < b + 10.5) for a, b in taken):
            break
        x, u = x + (2.0 if share < 0.5 else -2.0), u + (2.0 if share < 0.5 else -2.0)
    low, high = shell.heights(min(max(x, shell.nose), shell.tail))
    below = panel.underside(x, 0.0, 1) > 0.5 * (low + high)
    half = shell.narrowest(x - 10, x + 10) - EDGE_FIT_MM
    if half < 12.0:
        return None
    w = (t / 2 + panel.fixed.thickness / 2 + 0.2) / max(math.cos(surface.dihedral_rad), 0.5)
    root[:3, 3] = root[:3, 3] + root[:3, 2] * (-w if below else w)
    blank = Blank(
        name=f"{surface.name} bolt plate, {name}",
        group="body",
        sheet=plate,
        paper="none",
        thickness=t,
        shape=box(u - 10.0, -half, u + 10.0, half),
        facets=(Facet(None, root),),
        face="top",
        where=(*surface.where, "held"),
    )
    y = min(12.0, half / 2)
    drill(blank, [(u, y, _WING_BOLT_MM), (u, -y, _WING_BOLT_MM)])
    drill(
        panel.fixed,
        [(u, y, _WING_BOLT_MM + 0.4), *([(u, -y, _WING_BOLT_MM + 0.4)] if panel.one_piece else [])],
    )
    return blank
