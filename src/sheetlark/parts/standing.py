"""Struts and fins: cut off at what they stand on, with a tab through it."""

from __future__ import annotations

from sheetlark.errors import GeometryError
from sheetlark.outline import Floats
from sheetlark.parts.blank import Blank
from sheetlark.parts.cutting import relieve, way_clear
from sheetlark.parts.fits import EDGE_FIT_MM, THINNEST_MM
from sheetlark.parts.laps import half_lap, runs_through
from sheetlark.parts.making import Assembly
from sheetlark.parts.panels import Panel
from sheetlark.parts.solids import apart, plate, rod_solid
from sheetlark.parts.struts import strut_blank, strut_tabs
from sheetlark.parts.tabs import contact, standing_run, tab_into


def stand_struts(made: Assembly) -> None:
    """Struts between wings and body, cut off at their faces and tabbed through."""
    named = {p.surface.name: p for p in made.wings}
    for strut in made.fitted.struts:
        inner = None
        if "body" in {strut.lower, strut.upper} and made.shell is not None:
            foot = strut.lower_m if strut.lower == "body" else strut.upper_m
            half = 500.0 * strut.chord_m
            inner = made.shell.narrowest(1e3 * foot[0] - half, 1e3 * foot[0] + half) - EDGE_FIT_MM
        blank = strut_blank(strut, named, inner)
        same = sum(b.name.startswith(blank.name) for b in made.struts)
        if same:
            blank.name = f"{blank.name} {same + 1}"
        made.joints += strut_tabs(blank, strut, named, made.rods)
        made.struts.append(blank)
        if strut.crossed and len(made.struts) > 1 and made.struts[-2].where == blank.where:
            _cross(made, made.struts[-2], blank)


def _cross(made: Assembly, first: Blank, second: Blank) -> None:
    """Half-lap two braces where they cross, and glue them along what they share."""
    joint = half_lap(first, second)
    if joint is None:
        raise GeometryError(
            f"{first.name!r} and {second.name!r} do not cross where both could be slotted; set their feet further apart, or "
            "give them more chord",
            (*first.where, "crossed"),
        )
    made.joints.append(joint)
    glued = contact(first, second)
    if glued is not None:
        made.joints.append(glued)


def stand_fins(made: Assembly) -> None:
    """Fins cut to what they stand on and freed of every moving surface."""
    for fin in made.fins:
        lapped = _lap(made, fin)
        for flat in made.flats:
            if flat is not lapped:
                fin.fixed.yield_to(flat.whole)
            for other in flat.hinges:
                cover = way_clear(fin.fixed, other.sweep())
                if cover is not None:
                    fin.fixed.take(cover)
        for mount in made.plates:  # as where a motor pushes below a fin
            fin.fixed.yield_to(mount, EDGE_FIT_MM)
        fin.fixed.drop_slivers(2.0)
        stands = lapped is not None
        for flat in made.flats:
            if flat is lapped:
                continue
            run = standing_run(fin.fixed, flat.fixed)
            if run is not None:
                stands = True
                if fin.surface.at_m[1] == 0 and not flat.one_piece:
                    continue  # it stands on the joint of two panels: glue alone
                run = _clear_of_rods(made, fin.fixed, run, flat.fixed.thickness)
                joint = tab_into(fin.fixed, flat.fixed, run, flat.fixed.thickness)
                if joint is not None:
                    made.joints.append(joint)
        if fin.surface.at_m[1] > 0 and not stands:
            raise GeometryError(
                f"{fin.surface.name!r} stands on a moving surface, or on nothing fixed, at "
                f"y {1e3 * fin.surface.at_m[1]:.0f} mm; move it forward of the hinge line or beyond the end of "
                f"the moving surface",
                (*fin.surface.where, "y"),
            )
        for hinge in fin.hinges:
            for flat in made.flats:
                relieve(hinge, flat.whole)
                for other in flat.hinges:
                    relieve(hinge, other.sweep())
            for mount in made.plates:
                relieve(hinge, mount.solid())
            hinge.moving.drop_slivers(THINNEST_MM)
            hinge.trim()


def _lap(made: Assembly, fin: Panel) -> Panel | None:
    """The tailplane a fin runs through, where both run on: they are slotted half and half."""
    for flat in made.flats:
        once = flat.one_piece and fin.fixed.sides == "one" and flat.curve is None
        if flat.surface.role != "wing" and once and runs_through(fin.fixed, flat.fixed):
            joint = half_lap(fin.fixed, flat.fixed)
            if joint is not None:
                made.joints.append(joint)
                return flat
    return None


def _clear_of_rods(
    made: Assembly, fin: Blank, run: tuple[Floats, Floats], depth: float
) -> tuple[Floats, Floats]:
    """A tab's run moved along its edge, where a spar would cross the tab."""
    from shapely.geometry import LineString

    rods = [rod_solid(r) for r in made.rods]
    step = run[1] - run[0]
    for share in (0.0, -0.35, 0.35, -0.7, 0.7):
        a, b = run[0] + share * step, run[1] + share * step
        tongue = plate(LineString([a, b]).buffer(depth + 1.0, cap_style="flat"), fin.thickness, fin.matrix)
        if all(apart(tongue, rod) or (tongue ^ rod).volume() < 1e-3 for rod in rods):
            return a, b
    return run
