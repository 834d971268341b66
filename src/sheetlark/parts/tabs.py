"""Tabs and slots: stated once, they shape both parts."""

from __future__ import annotations

from typing import Any

import numpy as np

from sheetlark.outline import Floats
from sheetlark.parts.blank import Blank
from sheetlark.parts.facets import MITRE
from sheetlark.parts.fits import SLOT_FIT_MM
from sheetlark.parts.kept import Kept, keep, shape_stamp
from sheetlark.parts.part import Joint
from sheetlark.parts.solids import Solid, plate, polygons


def tab_into(guest: Blank, host: Blank, along: tuple[Floats, Floats], depth: float) -> Joint | None:
    """Give a guest a tab and its host the slot for it.

    Parameters
    ----------
    guest, host : Blank
        The tab grows from the guest's edge, away from its middle.
    along : two points, shape (2,)
        The run of the guest's edge that becomes the tab, on the guest's sheet. [mm]
    depth : float
        How far the tab reaches beyond the edge. [mm]

    Returns
    -------
    Joint or None
        None where the tab would miss the host.
    """
    from shapely.geometry import Polygon

    a, b = np.asarray(along[0], dtype=float), np.asarray(along[1], dtype=float)
    run = (b - a) / np.linalg.norm(b - a)
    out = np.array([run[1], -run[0]])
    middle = np.asarray(guest.shape.representative_point().coords[0])
    if float((middle - a) @ out) > 0:
        out = -out
    inside = 3.0
    tab = Polygon([a - inside * out, b - inside * out, b + depth * out, a + depth * out])
    proud = Polygon([a, b, b + depth * out, a + depth * out])
    guest.shape = max(polygons(guest.shape.union(tab)), key=lambda p: p.area)
    tongue: Solid = plate(proud, guest.thickness, guest.matrix)
    if guest.sides == "pair" and host.sides == "one":
        from sheetlark.parts.solids import PORT, union

        tongue = union([tongue, tongue.transform(PORT[:3])])
    cover = host.shadow(tongue)
    if cover is None or cover.area < 1.0:
        return None
    host.take(cover.buffer(SLOT_FIT_MM / 2, join_style=MITRE))
    ends = guest.to_space(np.stack([a, b]))
    return Joint(
        kind="tab-and-slot",
        first=host.name,
        second=guest.name,
        held="loose",  # it locates; the glue along the whole edge is the butt joint's
        runs_mm=(_run(ends),),
        fit_mm=SLOT_FIT_MM,
    )


def standing_run(guest: Blank, host: Blank) -> tuple[Floats, Floats] | None:
    """The middle third of a guest's edge that stands on a flat host, on the guest's sheet; None if none does."""
    cover = guest.shadow(host.thicker(0.8))
    if cover is None:
        return None
    touch = guest.shape.boundary.intersection(cover.buffer(0.05))
    runs = [g for g in getattr(touch, "geoms", [touch]) if g.geom_type == "LineString" and not g.is_empty]
    if not runs:
        return None
    p = np.concatenate([np.asarray(g.coords) for g in runs])
    p = p[np.argsort(p[:, 0])]
    a, b = float(p[0, 0]), float(p[-1, 0])
    if b - a < 20.0:
        return None
    at = np.array([a + (b - a) / 3, b - (b - a) / 3])
    v = np.interp(at, p[:, 0], p[:, 1])
    return np.array([at[0], v[0]]), np.array([at[1], v[1]])


def _run(points: Floats) -> tuple[tuple[float, float, float], ...]:
    return tuple((float(x), float(y), float(z)) for x, y, z in points)


def contact(host: Blank, guest: Blank, within: float = 0.4, kind: str = "butt") -> Joint | None:
    """The glue line where a guest stands on a host, drawn on the host; None where they do not meet.

    The guest's shadow on the host, each grown by a hair, is as wide as the guest is thick: its long axis is
    the line.
    """
    if host.far_from(guest, within + 1.0):
        return None
    key = (host.stamp, guest.stamp, within)
    lines, rings = _MEETINGS.get(key, lambda: _meeting(host, guest, within))
    if not lines:
        return None
    for ring in rings:
        host.mark("glue", ring, guest.name)
    runs = []
    for ends in lines:
        runs.append(ends)
        if host.sides == "pair":
            runs.append(tuple((x, -y, z) for x, y, z in ends))
    return Joint(kind=kind, first=host.name, second=guest.name, held="glue", runs_mm=tuple(runs))  # type: ignore[arg-type]


_NEAR_MM = 5.0
_Line = tuple[tuple[float, float, float], ...]
_Contact = tuple[list[_Line], list[list[tuple[float, float]]]]
_CONTACTS: Kept[_Contact] = keep(250)
_MEETINGS: Kept[_Contact] = keep(400)


def _meeting(host: Blank, guest: Blank, within: float) -> _Contact:
    """Where a guest stands on a host; two parts as they were a moment ago meet as they did."""
    from shapely.geometry import box

    # Of a pair a starboard host can meet the starboard one alone.
    flats = guest.flat_solids() if host.sides == "one" else guest.half_flats()
    cover = host.thicker(2 * within).shadow(flats)
    if cover is None:
        return [], []
    # Only what lies near the feet matters: a host cut elsewhere is glued as it was.
    u0, v0, u1, v1 = cover.bounds
    near = host.shape.intersection(box(u0 - _NEAR_MM, v0 - _NEAR_MM, u1 + _NEAR_MM, v1 + _NEAR_MM))
    key = (shape_stamp(near), shape_stamp(cover), host.places.stamp, guest.thickness, within)
    return _CONTACTS.get(key, lambda: _standing(host, near, cover, guest.thickness, within))


def _standing(host: Blank, shape: Any, cover: Any, thick: float, within: float) -> _Contact:
    """Where a guest stands that covers so much of a host's shape: lines in space, and rings on the host's sheet."""
    lines: list[tuple[Floats, Any]] = []
    rounds: list[tuple[Floats, Any]] = []
    feet = cover.intersection(shape.buffer(within, join_style=MITRE))
    for patch in polygons(feet.buffer(0.05, join_style=MITRE).buffer(-0.05, join_style=MITRE)):
        if patch.area <= 2.0:
            continue
        box = np.asarray(patch.minimum_rotated_rectangle.exterior.coords)[:4]
        sides = np.linalg.norm(np.diff(np.vstack([box, box[:1]]), axis=0), axis=1)
        if patch.interiors and max(sides[:2]) < 2.5 * min(sides[:2]):
            # A ring stands on it: the line runs round. A long strip with a slot in it is a line all the same.
            middle = patch.convex_hull.buffer(-0.5 * thick)
            ring = (patch.convex_hull if middle.is_empty else middle).exterior
            rounds.append((np.asarray(ring.simplify(0.2).coords), patch))
            continue
        if sides[1] > sides[0]:
            p, q = 0.5 * (box[0] + box[1]), 0.5 * (box[2] + box[3])
        else:
            p, q = 0.5 * (box[1] + box[2]), 0.5 * (box[3] + box[0])
        if np.linalg.norm(q - p) >= 3.0:
            lines.append((np.stack([p, q]), patch))
    rings = [
        [(float(u), float(v)) for u, v in piece.simplify(0.05).exterior.coords]
        for _, patch in (*lines, *rounds)
        for piece in polygons(patch.intersection(shape))
    ]
    return [_run(host.to_space(line)) for line, _ in (*lines, *rounds)], rings
