"""Decals' places: outlines of their true size, drawn on the parts they go on.

A decal lies on the outside of the finished model. Where that is the marked face of a part its outline is drawn
where it goes; where it is the other face the note says so, and a pin through the corners carries it over.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sheetlark.airframe import Airframe, LiftingSurface
from sheetlark.design import Decal
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats
from sheetlark.parts.part import Kit, Mark, Part, Piece

_LEAST_SHARE = 0.02  # of a decal that lies on a part before it is drawn there
_WHOLE_SHARE = 0.98  # of a decal that finds parts under it before it is said to overhang
OTHER_FACE = "other face"


@dataclass(frozen=True, slots=True)
class _Spot:
    """One decal on one copy: where its middle lies, in space.

    along, up : the two geometry axes it is stated on: x and y, or x and z
    """

    at: tuple[float, float]
    along: int
    up: int


def with_decals(kit: Kit, airframe: Airframe) -> Kit:
    """The kit with the outline of every decal drawn on what it goes on.

    Raises
    ------
    GeometryError
        If one lies off what it is said to go on.
    """
    for index, decal in enumerate(airframe.decals):
        kit = _drawn(kit, airframe, decal, index)
    return kit


def _drawn(kit: Kit, airframe: Airframe, decal: Decal, index: int) -> Kit:
    surface = next((s for s in airframe.surfaces if _is(s, decal.on)), None)
    found: dict[int, Part] = {}
    sought = covered = 0.0
    size = (1e3 * decal.size[0], 1e3 * decal.size[1])
    for port in (False, True):
        wanted = {"both": True, "starboard": not port, "port": port}[decal.sides]
        if not wanted or (port and _once(surface, decal)):
            continue
        sought += size[0] * size[1]
        spot = _spot(surface, decal, port=port)
        for part in _candidates(kit, surface, decal, port=port):
            share, mark = _mark(
                found.get(part.number, part), spot, size, _note(part, surface, decal), port=port
            )
            if mark is None or share < _LEAST_SHARE:
                continue
            covered += share * size[0] * size[1]
            held = found.get(part.number, part)
            if mark not in held.marks:
                held = replace(held, marks=(*held.marks, mark))
            found[part.number] = held
    if not found:
        raise GeometryError(
            f"the decal {decal.name!r} lies off the {decal.on}, its middle at {1e3 * decal.at[0]:.0f}, "
            f"{1e3 * decal.at[1]:.0f} mm; move it onto that",
            ("decal", index, "at"),
        )
    kit = replace(kit, parts=tuple(found.get(p.number, p) for p in kit.parts))
    share = covered / sought
    if share < _WHOLE_SHARE:
        note = (
            f"{100 * (1 - share):.0f} % of the decal {decal.name!r} hangs over the edge of the {decal.on}: trim it, move it, "
            "or make it smaller."
        )
        kit = replace(kit, notes=(*kit.notes, note))
    return kit


def _is(surface: LiftingSurface, name: str) -> bool:
    return surface.name == name or (surface.role in {"tailplane", "foreplane"} and name == "tailplane")


def _upright(surface: LiftingSurface | None) -> bool:
    return surface is None or surface.role == "fin"


def _once(surface: LiftingSurface | None, decal: Decal) -> bool:
    """Whether both sides are one outline on one part: a fin on the centre line, a decal across the middle of a wing."""
    if surface is None:
        return False
    return surface.at_m[1] == 0 and (surface.role == "fin" or decal.at[1] == 0)


def _spot(surface: LiftingSurface | None, decal: Decal, *, port: bool) -> _Spot:
    x, other = 1e3 * decal.at[0], 1e3 * decal.at[1]
    if _upright(surface):
        return _Spot((x, other), 0, 2)
    return _Spot((x, -abs(other) if port else abs(other)), 0, 1)


def _candidates(kit: Kit, surface: LiftingSurface | None, decal: Decal, *, port: bool) -> list[Part]:
    """What a decal may lie on: of a wing with a second skin, that skin on top."""
    if surface is None:
        sides = [p for p in kit.parts if p.group == "body" and p.name.startswith("body side")]
        return [p for p in sides if port in p.mirrored]
    fixed = {surface.name, f"{surface.name} panel"}
    moving = {s.moving for s in kit.swings if s.fixed in fixed}
    skins = [p for p in kit.parts if p.name.startswith(f"{surface.name} upper")]
    if skins and decal.face == "top":
        return [*skins, *(p for p in kit.parts if p.name in moving)]
    return [p for p in kit.parts if p.name in fixed | moving]


def _note(part: Part, surface: LiftingSurface | None, decal: Decal) -> str:
    words = [decal.name]
    if surface is None or (surface.role == "fin" and surface.at_m[1] > 0):
        words.append(OTHER_FACE)
    elif surface.role == "fin":
        words.append({"both": "both faces", "port": "this face", "starboard": OTHER_FACE}[decal.sides])
    elif decal.face == "bottom":
        words.append(OTHER_FACE)
    if decal.sides != "both" and part.count > 1:
        words.append(f"{decal.sides} only")
    return ", ".join(words)


def _mark(
    part: Part, spot: _Spot, size: tuple[float, float], note: str, *, port: bool
) -> tuple[float, Mark | None]:
    """The outline on a part's sheet, and the share of it that the part lies under."""
    from shapely.geometry import Point, Polygon

    pieces = part.copies[1] if port and part.count > 1 else part.copies[0]
    rows = [spot.along, spot.up]

    def laid(piece: Piece, w: Floats) -> Floats:
        return np.asarray(np.linalg.solve(piece.matrix[np.ix_(rows, [0, 1])], w), dtype=np.float64)

    def miss(piece: Piece) -> float:
        at = laid(piece, np.asarray(spot.at) - piece.matrix[rows, 3])
        return float(Polygon(piece.outline).distance(Point(float(at[0]), float(at[1]))))

    flat = [p for p in pieces if abs(np.linalg.det(p.matrix[np.ix_(rows, [0, 1])])) > 0.1]
    if not flat:
        return 0.0, None
    piece = min(flat, key=miss)
    middle = laid(piece, np.asarray(spot.at) - piece.matrix[rows, 3])
    u = laid(piece, np.array([1.0, 0.0]))
    u /= np.linalg.norm(u)
    v = np.array([-u[1], u[0]])
    corners = [
        middle + 0.5 * a * size[0] * u + 0.5 * b * size[1] * v
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    ring = Polygon(corners)
    share = float(ring.intersection(Polygon(part.outline, part.holes).buffer(0)).area / ring.area)
    points = tuple((float(p[0]), float(p[1])) for p in (*corners, corners[0]))
    return share, Mark("decal", points, note)
