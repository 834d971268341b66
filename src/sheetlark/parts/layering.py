"""What is glued to a panel to make its section: ribs under an arc, a second skin and its web, a step."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sheetlark.airframe import LiftingSurface
from sheetlark.outline import Floats
from sheetlark.parts.blank import Blank
from sheetlark.parts.facets import Facet, flat_at
from sheetlark.parts.fits import EDGE_FIT_MM
from sheetlark.parts.panels import Panel
from sheetlark.parts.sections import Curve
from sheetlark.parts.solids import PORT, Solid, plate, polygons


def from_root(half: Any, height: float, surface: LiftingSurface, curve: Curve, thickness: float) -> Floats:
    """A half outline cut back from the centre so that raised sheets do not meet across the dihedral."""
    from shapely.geometry import box

    back = max(height, 0.0) * math.tan(max(surface.dihedral_rad, 0.0)) + curve.slant() * thickness / 2
    if back < 1e-6:
        return np.asarray(half.exterior.coords)[:-1]
    kept = half.intersection(box(-4e3, back, 4e3, 4e3))
    return np.asarray(max(polygons(kept), key=lambda p: p.area).exterior.coords)[:-1]


def score(made: Panel, a: tuple[float, float], b: tuple[float, float], note: str) -> None:
    """A score drawn on whichever parts of a panel it crosses."""
    from shapely.geometry import LineString

    for blank in (made.fixed, *(h.moving for h in made.hinges)):
        run = LineString([a, b]).intersection(blank.shape.buffer(-0.4))
        for piece in getattr(run, "geoms", [run]):
            if piece.geom_type == "LineString" and piece.length > 5.0:
                blank.mark(
                    "fold" if "fold" in note else "score",
                    [(float(u), float(v)) for u, v in piece.coords],
                    note,
                )


def layers(made: Panel, half: Any) -> list[Blank]:
    """What is glued to a panel to make its section: ribs under an arc, a second skin and its web, a step."""
    surface, curve, upper = made.surface, made.curve, made.upper
    t = made.fixed.thickness
    if curve is not None:
        return [_rib(made, curve, share, i) for i, share in enumerate((0.3, 0.7))]
    if upper is None:
        return []
    from shapely.geometry import LineString, Polygon

    end = float(upper.shares[-1])
    v0, v1 = -10.0, 1e3 * surface.half_span_m + 10.0
    front = Polygon(
        [
            (upper.edge_at(v0) - 400.0, v0),
            (upper.edge_at(v1) - 400.0, v1),
            (upper.edge_at(v1) + end * upper.chord_at(v1), v1),
            (upper.edge_at(v0) + end * upper.chord_at(v0), v0),
        ]
    )
    height = float(upper.heights.max()) * upper.chord[0] + 1.5 * t
    area = max(polygons(half.intersection(front)), key=lambda p: p.area)
    skin = Blank(
        name=f"{surface.name} upper {'skin' if surface.section == 'hollow' else 'layer'}",
        group="wing",
        sheet=surface.sheet,
        paper=surface.paper,
        thickness=t,
        shape=upper.outline(from_root(area, height, surface, upper, t)),
        facets=upper.facets,
        sides="pair",
        face="top",
        where=(*surface.where, "section"),
    )
    if surface.section == "stepped":
        skin.facets = (Facet(None, upper.facets[0].matrix),)
        return [skin]
    for a, b in upper.scores():
        run = LineString([a, b]).intersection(skin.shape.buffer(-0.4))
        if run.geom_type == "LineString" and not run.is_empty:
            skin.mark("fold", [(float(u), float(v)) for u, v in run.coords], "fold over the spar web")
    return [skin, _web(made, upper, skin, height)]


def filled(made: Panel) -> list[Solid]:
    """What lies over a panel, as lumps without the hollow: nothing of the body may stay between two skins."""
    import manifold3d as m3
    from shapely.geometry import Polygon

    lumps = []
    to_panel = np.linalg.inv(made.surface.matrix())
    for layer in made.layers:
        if "upper" not in layer.name:
            continue
        for shape, matrix in layer.flats():
            p = np.asarray(shape.exterior.coords)
            below = (to_panel @ matrix @ np.column_stack([p, np.zeros(len(p)), np.ones(len(p))]).T)[:2].T
            plan = Polygon(below).buffer(0)
            if plan.area < 1.0:
                continue
            foot = plate(plan, made.fixed.thickness, made.surface.matrix())
            half = m3.Manifold.batch_hull([plate(shape, layer.thickness, matrix), foot])
            lumps += [half, half.transform(PORT[:3])]
    return lumps


def _web(made: Panel, upper: Curve, skin: Blank, height: float) -> Blank:
    """The spar of a hollow wing: a strip on edge under the fold, as high as the section there."""
    from shapely.geometry import Polygon

    surface, t = made.surface, made.fixed.thickness
    share = surface.crest
    lean = abs(upper.edge[1] + surface.crest * upper.chord[1])
    v0 = max(height, 0.0) * math.tan(max(surface.dihedral_rad, 0.0)) + 0.5 + 0.5 * t * lean
    v1 = 0.94 * 1e3 * surface.half_span_m
    at = [np.array([upper.edge_at(v) + share * upper.chord_at(v), v, 0.0]) for v in (v0, v1)]
    run = at[1] - at[0]
    local = flat_at(at[0], run, np.array([0.0, 0.0, 1.0]))
    tall = [upper.rise(p[0], p[1]) for p in at]
    length = float(np.linalg.norm(run))
    web = Blank(
        name=f"{surface.name} spar web",
        group="wing",
        sheet=surface.sheet,
        paper=surface.paper,
        thickness=t,
        shape=Polygon([(0.0, t / 2), (length, t / 2), (length, tall[1]), (0.0, tall[0])]),
        facets=(Facet(None, surface.matrix() @ local),),
        sides="pair",
        face="front",
        where=(*surface.where, "section"),
    )
    web.yield_to(made.fixed, EDGE_FIT_MM)
    web.yield_to(skin, EDGE_FIT_MM)
    return web


def _rib(made: Panel, curve: Curve, along: float, index: int) -> Blank:
    """A rib glued under a curved panel, which holds its section; flat below."""
    from shapely.geometry import Polygon

    surface, t = made.surface, made.fixed.thickness
    v = along * 1e3 * surface.half_span_m
    end = 1.0 if surface.control is None else 1.0 - surface.control.chord_share - 0.02
    shares = np.linspace(0.02, end, 40)
    u = curve.edge_at(v) + shares * curve.chord_at(v)
    top = np.array([curve.rise(float(x), v) for x in u])
    low = np.full_like(top, -t / 2)
    shape = Polygon(np.concatenate([np.column_stack([u, top + 0.01]), np.column_stack([u, low])[::-1]]))
    local = np.eye(4)
    local[:3, 0], local[:3, 1], local[:3, 2], local[:3, 3] = (1, 0, 0), (0, 0, 1), (0, -1, 0), (0, v, 0)
    rib = Blank(
        name=f"{surface.name} {'inner' if index == 0 else 'outer'} rib",
        group="wing",
        sheet=surface.sheet,
        paper=surface.paper,
        thickness=t,
        shape=shape.buffer(0),
        facets=(Facet(None, surface.matrix() @ local),),
        sides="pair",
        face="outer",
        where=(*surface.where, "section"),
    )
    rib.yield_to(made.fixed, EDGE_FIT_MM)
    rib.drop_slivers(1.5)
    return rib
