"""Rods let into parts: spars in their grooves, braces for the dihedral, wire legs."""

from __future__ import annotations

import numpy as np

from sheetlark.design import Gear, Spar
from sheetlark.errors import GeometryError, StockError
from sheetlark.outline import Floats
from sheetlark.parts.panels import Panel
from sheetlark.parts.part import Joint, Point3, RodPiece
from sheetlark.stock import Rod, Stock

_SKIN_LEFT_MM = 1.0  # of a sheet below a groove, so that the spar does not cut the panel in two


def section(rod: Rod, sheet_mm: float) -> tuple[float, float]:
    """Width along the chord and depth of a rod let into a sheet: on edge where the sheet is thick enough."""
    if rod.outer_diameter_m > 0:
        return 1e3 * rod.outer_diameter_m, 1e3 * rod.outer_diameter_m
    wide, thin = 1e3 * max(rod.width_m, rod.thickness_m), 1e3 * min(rod.width_m, rod.thickness_m)
    return (thin, wide) if wide <= sheet_mm - _SKIN_LEFT_MM else (wide, thin)


def spars(panel: Panel, stock: Stock) -> tuple[list[RodPiece], list[Joint]]:
    """Every spar of a surface in its groove, flush with the lower face.

    Raises
    ------
    GeometryError
        If a spar is too thick for the sheet, or its line leaves the panel.
    """
    rods: list[RodPiece] = []
    joints: list[Joint] = []
    for i, spar in enumerate(panel.surface.spars):
        where = (*panel.surface.where, "spar", i)
        try:
            rod = stock.rod(spar.rod)
        except StockError as error:
            raise GeometryError(str(error), (*where, "rod")) from None
        lines = _lines(panel, spar, where)
        t = panel.fixed.thickness
        width, depth = section(rod, t)
        if depth > t:
            raise GeometryError(
                f"{rod.name} is {depth:.1f} mm deep, the sheet of {panel.surface.name!r} only {t:.1f} mm; "
                f"take a thinner rod",
                (*where, "rod"),
            )
        w = -t / 2 + depth / 2
        note = f"groove {width:.1f} x {depth:.1f} mm deep, other face: {rod.name}"
        for j, line in enumerate(lines):
            a, b = line
            run = (b - a) / np.linalg.norm(b - a)
            side = np.array([-run[1], run[0]]) * width / 2
            corners = panel.to_sheet(np.array([a + side, b + side, b - side, a - side, a + side]))
            panel.fixed.mark("slot-edge", [(float(u), float(v)) for u, v in corners], note)
            ends = list(panel.fixed.to_space(panel.to_sheet(np.array([a, b])), w))
            sides = (
                [(ends, "")]
                if panel.one_piece
                else [(ends, ", starboard"), ([e * (1, -1, 1) for e in ends], ", port")]
            )
            for points, word in sides:
                name = f"{panel.surface.name} spar" + (f" {i + 1}" if len(panel.surface.spars) > 1 else "")
                name += (f", {('starboard', 'port')[j]}" if len(lines) == 2 else "") + word
                run3 = tuple(_point(p) for p in points)
                rods.append(
                    RodPiece(
                        name=name,
                        key=spar.rod,
                        group=panel.fixed.group,
                        points_mm=run3,
                        width_mm=width,
                        height_mm=depth,
                    )
                )
                joints.append(
                    Joint(kind="groove", first=panel.fixed.name, second=name, held="glue", runs_mm=(run3,))
                )
    return rods, joints


def _lines(panel: Panel, spar: Spar, where: tuple[str | int, ...]) -> list[tuple[Floats, Floats]]:
    """The spar's runs on the panel's sheet: one across where it is straight, else one each side."""
    surface = panel.surface
    half = min(0.5e3 * spar.span, 1e3 * surface.half_span_m - 2.0)
    share = half / (1e3 * surface.half_span_m)
    (x0, c0), (x1, c1) = surface.chord_at(0.0), surface.chord_at(share)
    root = np.array([1e3 * (x0 + spar.at * c0), 0.0])
    tip = np.array([1e3 * (x1 + spar.at * c1), half])
    _ = where
    if not panel.one_piece:
        return [(root, tip)]
    if abs(tip[0] - root[0]) < 3.0:
        # Nearly square across: one straight rod, set where it averages the stated place.
        u = 0.5 * (tip[0] + root[0])
        return [(np.array([u, -half]), np.array([u, half]))]
    return [(root, tip), (root * (1, -1), tip * (1, -1))]


def _point(p: Floats) -> Point3:
    return (float(p[0]), float(p[1]), float(p[2]))


def legs(gear: Gear, stock: Stock, half_width_mm: float) -> RodPiece:
    """Both wire legs bent from one length: axle, leg, across the body, leg, axle."""
    x, z = 1e3 * gear.at[0], 1e3 * gear.at[1]
    y, mount = 0.5e3 * gear.track, 1e3 * gear.mount_z
    wheel = stock.wheel(gear.wheel)
    wire = stock.rod(gear.wire)
    axle = 0.5e3 * wheel.width_m + 4.0
    root = min(half_width_mm, y)
    points = (
        (x, -y - axle, z),
        (x, -y + axle, z),
        (x, -root, mount),
        (x, root, mount),
        (x, y - axle, z),
        (x, y + axle, z),
    )
    d = 1e3 * wire.outer_diameter_m
    return RodPiece(
        name="undercarriage wire", key=gear.wire, group="gear", points_mm=points, width_mm=d, height_mm=d
    )
