"""Small parts fitted to panels and body: servo tray, dihedral brace, tail skid."""

from __future__ import annotations

import math

import numpy as np

from sheetlark.airframe import Equipment
from sheetlark.outline import Floats
from sheetlark.parts.blank import Blank
from sheetlark.parts.body import Shell
from sheetlark.parts.facets import Facet
from sheetlark.parts.firewalls import across
from sheetlark.parts.fits import EDGE_FIT_MM
from sheetlark.parts.panels import Panel
from sheetlark.stock import Stock

X, Y, Z = np.eye(3)


def servo_tray(shell: Shell, servos: list[tuple[Equipment, Floats]]) -> Blank | None:
    """A plate between the sides that holds the servos of the body.

    servos : each with its (length, width, height) in mm
    """
    from shapely.geometry import Polygon

    if not servos:
        return None
    at = np.array([1e3 * np.asarray(s.at_m) for s, _ in servos])
    size = np.array([z for _, z in servos])
    x0 = float((at[:, 0] - size[:, 0] / 2).min()) - 10.0
    x1 = float((at[:, 0] + size[:, 0] / 2).max()) + 10.0
    z = float((at[:, 2] + size[:, 2] / 6).mean())
    x0, x1 = max(x0, shell.nose + 1), min(x1, shell.tail - 1)
    kinks = [float(x) for x in shell.inner[:, 0] if x0 < x < x1]
    x = np.array([x0, *kinks, x1])
    half = shell.inside(x) - EDGE_FIT_MM
    if float(half.min()) < 4.0:
        return None
    matrix = np.eye(4)
    matrix[:3, 3] = (0.0, 0.0, z)
    blank = Blank(
        name="servo tray",
        group="body",
        sheet=shell.body.sheet,
        paper=shell.body.paper,
        thickness=shell.t,
        shape=Polygon(np.concatenate([np.column_stack([x, half]), np.column_stack([x, -half])[::-1]])),
        facets=(Facet(None, matrix),),
        face="top",
        where=("radio", "servo"),
    )
    blank.mark("grain", [(x0 + 3, 0.0), (x1 - 3, 0.0)], "fore and aft")
    return blank


def brace(
    panel: Panel, shell: Shell | None, taken: list[tuple[float, float]], plate: str, stock: Stock
) -> Blank | None:
    """A cross-piece glued to both panels where they meet, which holds their dihedral.

    taken : stretches along x that formers and the like already fill [mm]
    """
    from shapely.geometry import Polygon

    surface = panel.surface
    front, chord = surface.chord_at(0.0)
    x0, length = 1e3 * (surface.at_m[0] + front), 1e3 * chord
    t = 1e3 * stock.sheet(plate).thickness_m
    below = True
    half = 0.2 * 1e3 * surface.half_span_m
    for share in (0.4, 0.36, 0.44, 0.48, 0.52, 0.32, 0.56, 0.28, 0.6, 0.64, 0.68):
        x = x0 + share * length
        if any(a - 0.5 < x + t / 2 and b + 0.5 > x - t / 2 for a, b in taken):
            continue
        if shell is not None and shell.nose < x < shell.tail:
            low, high = shell.heights(x)
            below = panel.underside(x, 0.0, 1) > 0.5 * (low + high)
            half = min(half, shell.narrowest(x - t / 2, x + t / 2) - 1.0)
        if half < 12.0:
            return None
        depth = min(14.0, 0.35 * half)
        side = -1 if below else 1
        at = [panel.underside(x, y, side) for y in (half, 0.0)]  # type: ignore[arg-type]
        slack = EDGE_FIT_MM + abs(t * math.tan(surface.incidence_rad))
        edge = at[1] + side * slack
        tip = at[0] + side * slack
        flat = min(edge, tip) - depth if below else max(edge, tip) + depth
        shape = Polygon([(-half, flat), (half, flat), (half, tip), (0.0, edge), (-half, tip)])
        return Blank(
            name=f"{surface.name} brace",
            group="wing" if surface.role == "wing" else "tail",
            sheet=plate,
            paper="none",
            thickness=t,
            shape=shape.buffer(0),
            facets=(Facet(None, across(x)),),
            face="rear",
            where=(*surface.where, "dihedral"),
        )
    return None


_SKID_TAB = 0.3  # of a skid's length, ahead of its tab and behind it
_SKID_MM = 40.0


def tail_skid(
    shell: Shell, plate: str, stock: Stock, *, floor_end_mm: float
) -> tuple[Blank, tuple[Floats, Floats]] | None:
    """A skid under the tail, and the run of its upper edge that becomes a tab; None where the tail is too short.

    It slopes back from the body's underside, 40 mm long and 14 mm deep: common practice, no source. Its tab has 5 mm of
    the bottom cover behind it, which ends where the body grows too narrow for one.

    floor_end_mm : how far aft that reaches; inf without one. [mm]
    """
    from shapely.geometry import Polygon

    x1 = shell.tail - 0.12 * (shell.tail - shell.nose)
    x1 = min(x1, floor_end_mm - 5.0 + _SKID_TAB * _SKID_MM)
    x0 = x1 - _SKID_MM
    if x0 < 0.5 * (shell.nose + shell.tail):
        return None
    (z0, _), (z1, _) = shell.heights(x0), shell.heights(x1)
    matrix = np.eye(4)
    matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = X, Z, -Y
    blank = Blank(
        name="tail skid",
        group="gear",
        sheet=plate,
        paper="none",
        thickness=1e3 * stock.sheet(plate).thickness_m,
        shape=Polygon([(x0, z0 + 3), (x1, z1 + 3), (x1 + 4, z1 - 14), (x1 - 6, z1 - 14)]),
        facets=(Facet(None, matrix),),
        face="port side",
        where=("gear", "skid"),
    )
    a, b = np.array([x0, z0]), np.array([x1, z1])
    return blank, (a + _SKID_TAB * (b - a), b - _SKID_TAB * (b - a))
