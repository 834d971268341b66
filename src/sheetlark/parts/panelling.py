"""A lifting surface cut into its fixed panel and its moving surface."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sheetlark.airframe import LiftingSurface
from sheetlark.errors import GeometryError
from sheetlark.parts.blank import Blank
from sheetlark.parts.facets import Facet
from sheetlark.parts.fits import PANEL_SPARE_MM
from sheetlark.parts.hinging import part_at_hinge
from sheetlark.parts.kept import Kept, keep
from sheetlark.parts.layering import filled, from_root, layers, score
from sheetlark.parts.panels import Panel
from sheetlark.parts.part import Bevel, Group
from sheetlark.parts.sections import curve_of, upper_curve
from sheetlark.parts.solids import union
from sheetlark.stock import Stock

_GROUPS: dict[str, Group] = {"wing": "wing", "tailplane": "tail", "foreplane": "tail", "fin": "fin"}
_PANELS: Kept[Panel] = keep(40)


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
            from_root(half, curve.heights.max() * curve.chord[0] + thickness / 2, surface, curve, thickness)
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
    made.whole = union([fixed.solid(), *filled(made)])
    _check_size(surface, fixed, stock)
    line = surface.hinge_line()
    if surface.control is not None and line is not None:
        part_at_hinge(made, surface.control, made.to_sheet(1e3 * np.asarray(line)))
    if curve is not None:
        for k, (a, b) in enumerate(curve.scores()):
            score(
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
