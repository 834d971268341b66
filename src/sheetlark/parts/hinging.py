"""The moving surface parted from its panel along the hinge line, end gaps and bevel with it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sheetlark.airframe import V_TAIL_DIHEDRAL_RAD, Hinged
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats
from sheetlark.parts.blank import Blank
from sheetlark.parts.fits import BEVEL_SPARE_RAD, END_GAP_MM, HINGE_GAP_MM
from sheetlark.parts.panels import Hinge, Panel, edge_run
from sheetlark.parts.part import Bevel
from sheetlark.parts.solids import polygons


def part_at_hinge(made: Panel, control: Hinged, line: Floats) -> None:
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
