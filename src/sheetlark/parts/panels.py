"""Lifting surfaces as flat parts: fixed panels, the surfaces hinged to them, and their bevels."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np

from sheetlark.airframe import V_TAIL_DIHEDRAL_RAD, Hinged, LiftingSurface
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats
from sheetlark.parts.blank import Blank, Facet, flat_at
from sheetlark.parts.fits import BEVEL_SPARE_RAD, EDGE_FIT_MM, END_GAP_MM, HINGE_GAP_MM, PANEL_SPARE_MM
from sheetlark.parts.kept import Kept, keep
from sheetlark.parts.part import Bevel, Group
from sheetlark.parts.sections import Curve, curve_of, upper_curve
from sheetlark.parts.solids import PORT, Solid, plate, polygons, turn_about, union
from sheetlark.stock import Stock

_GROUPS: dict[str, Group] = {"wing": "wing", "tailplane": "tail", "foreplane": "tail", "fin": "fin"}


@dataclass(slots=True, eq=False)
class Hinge:
    """A moving surface and the line it swings about.

    start, end : of the hinge line in the panel's plane [mm]
    frame : of the flat stretch that carries the hinge line
    w : height of the hinge line above the middle of the sheet: the taped face [mm]
    up_rad, down_rad : throws, up towards the marked face of the panel
    joiner : all that the rod between two halves passes through, as a solid; None where there is none
    """

    moving: Blank
    fixed: Blank
    frame: Floats
    start: Floats
    end: Floats
    w: float
    up_rad: float
    down_rad: float
    joiner: Any = None
    _swept: Any = None

    def axis(self) -> tuple[Floats, Floats]:
        """A point of the starboard hinge line and its direction, on the geometry axes."""
        m = self.frame
        a = (m @ np.array([*self.start, self.w, 1.0]))[:3]
        b = (m @ np.array([*self.end, self.w, 1.0]))[:3]
        return a, (b - a) / np.linalg.norm(b - a)

    def trim(self) -> None:
        """Draw the bevel and the hinge line again where the moving part lost some of its edge."""
        along = (self.end - self.start) / np.linalg.norm(self.end - self.start)
        aft = np.array([along[1], -along[0]])
        on = self.start + HINGE_GAP_MM / 2 * aft
        low, high = edge_run(self.moving.shape, on, along)
        self.moving.bevels = [
            replace(b, start=_point(on + high * along), end=_point(on + low * along))
            for b in self.moving.bevels
        ]

    def at(self, angle_rad: float) -> Solid:
        """The starboard moving surface turned about its hinge; positive lifts its trailing edge."""
        return self.moving.half().transform(turn_about(*self.axis(), angle_rad)[:3])

    def sweep(self) -> Solid:
        """All it passes through, both sides: the hull of its positions, no more than 6 degrees apart.

        A plate swung about its own edge sweeps a sector, which its hull fills but for the arc's last 0.1 mm.
        """
        import manifold3d as m3

        if self._swept is None or self._swept[0] is not self.moving.shape:
            up, down = self.up_rad, self.down_rad
            if self.moving.group == "fin":
                up = down = max(
                    up, down
                )  # what stands to port of it is the mirror of what stands to starboard
            angles = np.linspace(-down, up, max(3, math.ceil((up + down) / math.radians(6.0)) + 1))
            half = m3.Manifold.batch_hull([self.at(float(a)) for a in angles])
            whole = half if self.moving.sides == "one" else union([half, half.transform(PORT[:3])])
            if self.joiner is not None:
                whole = union([whole, self.joiner])
            self._swept = (self.moving.shape, whole)
        return self._swept[1]


@dataclass(slots=True, eq=False)
class Panel:
    """One lifting surface: its fixed blank, what is hinged to it, and the whole as it was drawn.

    whole : the uncut planform as a solid, both sides, with what lies on it
    layers : skins, webs and ribs glued to the panel
    curve, upper : its own section, and that of a second skin, where they are not flat
    """

    surface: LiftingSurface
    fixed: Blank
    hinges: list[Hinge] = field(default_factory=list)
    whole: Any = None
    layers: list[Blank] = field(default_factory=list)
    curve: Curve | None = None
    upper: Curve | None = None

    @property
    def one_piece(self) -> bool:
        return self.fixed.sides == "one"

    def fresh(self) -> Panel:
        """A panel like it, whose parts can be cut without touching this one's."""
        fixed = self.fixed.fresh()
        hinges = [replace(h, moving=h.moving.fresh(), fixed=fixed) for h in self.hinges]
        return replace(self, fixed=fixed, hinges=hinges, layers=[b.fresh() for b in self.layers])

    def blanks(self) -> list[Blank]:
        return [self.fixed, *(h.moving for h in self.hinges), *self.layers]

    def underside(self, x_mm: float, y_mm: float, side: Literal[-1, 1]) -> float:
        """Height of its lower (-1) or upper (+1) face above a point of the plan view. [mm]."""
        m = self.surface.matrix()
        n = m[:3, 2]
        p = m[:3, 3] + side * self.fixed.thickness / 2 * n
        z = float(p[2] - (n[0] * (x_mm - p[0]) + n[1] * (abs(y_mm) - p[1])) / n[2])
        curve = self.curve if self.curve is not None else (self.upper if side > 0 else None)
        if curve is None:
            return z
        local = np.linalg.inv(m) @ np.array([x_mm, abs(y_mm), z, 1.0])
        share = curve.share(float(local[0]), float(local[1]))
        return z + (curve.rise(float(local[0]), float(local[1])) if share <= curve.shares[-1] else 0.0)

    def to_sheet(self, points: Floats) -> Floats:
        """Places of its own plane, shape (n, 2), on the flat sheet. [mm]."""
        return np.atleast_2d(points) if self.curve is None else self.curve.to_sheet(points)


def fits_in_one(surface: LiftingSurface, stock: Stock) -> bool:
    """Whether both halves can be cut as one part: flat across, and no longer than the sheet."""
    if not surface.mirrored or abs(surface.dihedral_rad) > 1e-4:
        return False
    sheet = stock.sheet(surface.sheet)
    p = surface.points_mm
    span, chord = 2 * float(p[:, 1].max()), float(np.ptp(p[:, 0]))
    long, short = 1e3 * max(sheet.width_m, sheet.height_m), 1e3 * min(sheet.width_m, sheet.height_m)
    return max(span, chord) <= long - PANEL_SPARE_MM and min(span, chord) <= short - PANEL_SPARE_MM


def panel(surface: LiftingSurface, stock: Stock) -> Panel:
    """Cut a lifting surface into its fixed panel and its moving surface; see `_panel`. Nothing is let into it yet."""
    return _PANELS.get((surface, stock), lambda: _panel(surface, stock)).fresh()


_PANELS: Kept[Panel] = keep(40)


def _panel(surface: LiftingSurface, stock: Stock) -> Panel:
    """Cut a lifting surface into its fixed panel and its moving surface.

    Raises
    ------
    GeometryError
        If nothing would be left ahead of the hinge, or a half is larger than the sheet.
    """
    from shapely.geometry import Polygon

    points = np.asarray(surface.points_mm)
    half = Polygon(points)
    curve = curve_of(surface) if surface.role == "wing" else None
    thickness = 1e3 * surface.thickness_m
    one = (fits_in_one(surface, stock) and curve is None) or not surface.mirrored
    if one and surface.mirrored:
        mirrored = points[::-1] * (1.0, -1.0)
        shape = Polygon(np.concatenate([points, mirrored])).buffer(0)
    else:
        shape = half
    if curve is not None:
        shape = curve.outline(
            _from_root(half, curve.heights.max() * curve.chord[0] + thickness / 2, surface, curve, thickness)
        )
    group = _GROUPS[surface.role]
    name = surface.name if surface.role == "fin" or one else f"{surface.name} panel"
    fixed = Blank(
        name=name,
        group=group,
        sheet=surface.sheet,
        paper=surface.paper,
        thickness=thickness,
        shape=shape,
        facets=(Facet(None, surface.matrix()),) if curve is None else curve.facets,
        sides="one" if one else "pair",
        face="port side" if surface.role == "fin" else "top",
        where=surface.where,
    )
    made = Panel(surface, fixed, curve=curve)
    if surface.role == "wing":
        made.upper = upper_curve(surface, thickness)
        made.layers = layers(made, half)
    made.whole = union([fixed.solid(), *_filled(made)])
    _check_size(surface, fixed, stock)
    line = surface.hinge_line()
    if surface.control is not None and line is not None:
        _hinged(made, surface.control, made.to_sheet(1e3 * np.asarray(line)))
    if curve is not None:
        for k, (a, b) in enumerate(curve.scores()):
            _score(
                made,
                a,
                b,
                "" if k else f"{'fold' if surface.section == 'folded' else 'score'}, other face out",
            )
        return made
    if not one and surface.role != "fin" and abs(surface.dihedral_rad) > 1e-4:
        _mitre_root(fixed, surface.dihedral_rad)
    fixed.mark(
        "datum",
        [(float(points[0, 0]), 0.0), (float(points[-1, 0]), 0.0)],
        "root" if not one else "centre line",
    ) if (surface.role != "fin") else None
    return made


def _check_size(surface: LiftingSurface, blank: Blank, stock: Stock) -> None:
    sheet = stock.sheet(surface.sheet)
    low_u, low_v, high_u, high_v = blank.shape.bounds
    size = sorted((high_u - low_u, high_v - low_v))
    have = sorted((1e3 * sheet.width_m, 1e3 * sheet.height_m))
    if size[0] > have[0] or size[1] > have[1]:
        raise GeometryError(
            f"{blank.name!r} is {size[1]:.0f} x {size[0]:.0f} mm, but a sheet of {sheet.name} holds "
            f"{have[1]:.0f} x {have[0]:.0f} mm. Shorten the span or the chord, or pick a larger sheet.",
            surface.where,
        )


def _from_root(half: Any, height: float, surface: LiftingSurface, curve: Curve, thickness: float) -> Floats:
    """A half outline cut back from the centre so that raised sheets do not meet across the dihedral."""
    from shapely.geometry import box

    back = max(height, 0.0) * math.tan(max(surface.dihedral_rad, 0.0)) + curve.slant() * thickness / 2
    if back < 1e-6:
        return np.asarray(half.exterior.coords)[:-1]
    kept = half.intersection(box(-4e3, back, 4e3, 4e3))
    return np.asarray(max(polygons(kept), key=lambda p: p.area).exterior.coords)[:-1]


def _score(made: Panel, a: tuple[float, float], b: tuple[float, float], note: str) -> None:
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
        shape=upper.outline(_from_root(area, height, surface, upper, t)),
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


def _filled(made: Panel) -> list[Solid]:
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
    web.yield_to(made.fixed.solid(), EDGE_FIT_MM)
    web.yield_to(skin.solid(), EDGE_FIT_MM)
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
    rib.yield_to(made.fixed.solid(), EDGE_FIT_MM)
    rib.drop_slivers(1.5)
    return rib


def _hinged(made: Panel, control: Hinged, line: Floats) -> None:
    """Part the moving surface from the panel along its hinge line, end gaps and bevel with it."""
    from shapely.geometry import Polygon
    from shapely.ops import unary_union

    a, b = line
    along = (b - a) / np.linalg.norm(b - a)
    aft = np.array([along[1], -along[0]])
    to_centre = control.start < 1e-6
    to_tip = control.end > 1 - 1e-6
    across = to_centre and made.surface.mirrored and abs(made.surface.dihedral_rad) < V_TAIL_DIHEDRAL_RAD
    across = across and made.one_piece
    far = 4e3

    def region(gap: float, end_gap: float) -> Any:
        """Aft of the hinge line by a gap, its ends drawn in by another; starboard half."""
        inner = a - far * along if across else a + end_gap * along
        outer = b + far * along if to_tip else b - end_gap * along
        return Polygon([inner + gap * aft, outer + gap * aft, outer + far * aft, inner + far * aft])

    half_gap = HINGE_GAP_MM / 2
    root_gap = 0.0 if across else (END_GAP_MM if to_centre else END_GAP_MM / 2)
    whole = made.fixed.shape
    mirror = made.one_piece and made.surface.mirrored

    def both(shape: Any) -> Any:
        from shapely.affinity import scale

        return unary_union([shape, scale(shape, 1.0, -1.0, origin=(0, 0))]) if mirror else shape

    starboard = (
        whole
        if not mirror
        else whole.intersection(Polygon([(-far, -1e-9), (far, -1e-9), (far, far), (-far, far)]))
    )
    moving = max(
        polygons(starboard.intersection(region(half_gap, root_gap))), key=lambda p: p.area, default=None
    )
    if moving is None or moving.area < 100.0:
        raise GeometryError(
            f"the {control.moves} of {made.surface.name!r} would be too small to cut; give it more chord or span",
            (*made.surface.where, _key(control)),
        )
    bay = region(-half_gap, -END_GAP_MM / 2 if not to_centre else -far)
    fixed = max(polygons(whole.difference(both(bay))), key=lambda p: p.area, default=None)
    if fixed is None or fixed.area < 100.0:
        raise GeometryError(
            f"nothing of {made.surface.name!r} is left ahead of its {control.moves}; give the {control.moves} less chord",
            (*made.surface.where, _key(control)),
        )
    made.fixed.shape = fixed
    if across:
        moving = both(moving).buffer(0)
    surface = made.surface
    name = control.moves if surface.role in {"tailplane", "foreplane"} else f"{surface.name} {control.moves}"
    if surface.role == "fin":
        name = "rudder" if surface.name in {"fin", "fins"} else f"{surface.name} rudder"
    blank = Blank(
        name=name,
        group=made.fixed.group,
        sheet=surface.sheet,
        paper=surface.paper,
        thickness=made.fixed.thickness,
        shape=moving,
        facets=made.fixed.facets,
        sides="one" if across or not surface.mirrored else "pair",
        face=made.fixed.face,
        where=(*surface.where, _key(control)),
    )
    t = blank.thickness
    # Taped on the marked face; the bevel lets it turn away from the tape. Towards the tape it opens freely.
    opens = min(control.down_rad if surface.role != "fin" else max(control.up_rad, control.down_rad), 1.2)
    bounds = edge_run(moving, a + half_gap * aft, along)
    start, end = a + half_gap * aft + bounds[0] * along, a + half_gap * aft + bounds[1] * along
    setback = t * math.tan(opens + BEVEL_SPARE_RAD) - HINGE_GAP_MM
    if setback > 0:
        # Seen on the marked face the part must lie on the left of the run: aft is to the right of root-to-tip.
        blank.bevels.append(
            Bevel(start=_point(end), end=_point(start), from_w_mm=t / 2, to_w_mm=-t / 2, setback_mm=setback)
        )
        inset = setback * aft
        blank.mark(
            "bevel",
            [_point(start + inset), _point(end + inset)],
            f"bevel to here on the other face, {math.degrees(math.atan2(setback, t)):.0f}°",
        )
    blank.mark("hinge", [_point(start), _point(end)], "hinge, tape this face")
    runs = [[_point(start - HINGE_GAP_MM * aft), _point(end - HINGE_GAP_MM * aft)]]
    if mirror and not across:
        runs.append([(u, -v) for u, v in runs[0]])
    for run in runs:
        made.fixed.mark("hinge", run, "hinge")
    made.hinges.append(
        Hinge(
            moving=blank,
            fixed=made.fixed,
            frame=blank.frame_at(*_point(0.5 * (a + b) + 2.0 * aft)),
            start=a + bounds[0] * along,
            end=a + bounds[1] * along,
            w=t / 2,
            up_rad=control.up_rad,
            down_rad=control.down_rad,
        )
    )


def _key(control: Hinged) -> str:
    return {"elevator": "elevator", "rudder": "rudder"}.get(control.moves, "aileron")


def _point(p: Floats) -> tuple[float, float]:
    return (float(p[0]), float(p[1]))


def edge_run(shape: Any, on: Floats, along: Floats) -> tuple[float, float]:
    """First and last place of a shape's edge that lies on a line, measured along it."""
    from shapely.geometry import LineString

    line = LineString([on - 4e3 * along, on + 4e3 * along]).buffer(0.02)
    run = shape.intersection(line)
    points = np.concatenate([np.asarray(p.exterior.coords) for p in polygons(run)])
    t = (points - on) @ along
    return float(t.min()), float(t.max())


def _mitre_root(fixed: Blank, dihedral_rad: float) -> None:
    """Slant the root edges so that two panels meet at their dihedral: half a wedge each, the lower (or, with
    anhedral, the upper) edges closing on the glue.
    """
    t = fixed.thickness
    start, end = _root_run(fixed.shape)
    up = dihedral_rad > 0
    fixed.bevels.append(
        Bevel(
            start=(start, 0.0),
            end=(end, 0.0),
            from_w_mm=0.0,
            to_w_mm=t / 2 if up else -t / 2,
            setback_mm=t / 2 * math.tan(abs(dihedral_rad)),
        )
    )
    fixed.mark(
        "bevel",
        [(start, 0.0), (end, 0.0)],
        f"sand the {'top' if up else 'lower'} edge to {math.degrees(abs(dihedral_rad)):.1f}°",
    )


def _root_run(shape: Any) -> tuple[float, float]:
    p = np.asarray(shape.exterior.coords)
    on = p[np.abs(p[:, 1]) < 1e-6]
    return float(on[:, 0].min()), float(on[:, 0].max())
