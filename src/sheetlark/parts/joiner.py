"""The joiner of an elevator in two halves: one rod in holes bored into both inner edges, or a wire bent to their V."""

from __future__ import annotations

import math

import numpy as np

from sheetlark.airframe import V_TAIL_DIHEDRAL_RAD
from sheetlark.errors import StockError
from sheetlark.outline import Floats
from sheetlark.parts.kept import Kept, keep
from sheetlark.parts.panels import Hinge, Panel, edge_run
from sheetlark.parts.part import Joint, Point3, RodPiece
from sheetlark.parts.solids import PORT, Solid, rod_solid, turn_about, union
from sheetlark.stock import Stock

# Common practice, no source.
_DEEP_MM = 30.0  # of the hole in each half
_WIDEST_MM = 150.0  # between the halves; a longer joiner twists more than it drives
_RODS = (
    (4.5, "bamboo-3", "wire-2"),
    (0.0, "wire-1.5", "wire-1.5"),
)  # sheet at least so thick: straight, bent
_WALL_MM = 2.5  # of foam between the hole and the hinge edge


def split_elevator(p: Panel) -> Hinge | None:
    """The hinge of a tail's moving halves that turn together; None where they are one piece, or a V-tail's two."""
    upright = abs(p.surface.dihedral_rad) >= V_TAIL_DIHEDRAL_RAD
    if p.surface.role not in {"tailplane", "foreplane"} or upright or not p.hinges:
        return None
    hinge = p.hinges[0]
    return hinge if hinge.moving.sides == "pair" else None


def joiner(p: Panel, stock: Stock) -> tuple[RodPiece, Joint] | str | None:
    """The rod that turns both halves as one, and the holes it goes into; a note where there can be none.

    Returns
    -------
    tuple, str or None
        Rod and joint; or what the builder must know; or None where the surface moves in one piece.
    """
    from shapely.geometry import box

    hinge = split_elevator(p)
    if hinge is None:
        return None
    moving = hinge.moving
    t = moving.thickness
    inner = float(moving.shape.bounds[1])
    apart_mm = 2 * inner
    if apart_mm > _WIDEST_MM:
        return f"The two halves of the {moving.name} stand {apart_mm:.0f} mm apart: give each a servo of its own."
    straight = abs(p.surface.dihedral_rad) < math.radians(0.5)
    key = next(even if straight else bent for least, even, bent in _RODS if t >= least)
    try:
        d = 1e3 * stock.rod(key).outer_diameter_m
    except StockError:
        return f"The two halves of the {moving.name} want a joiner; there is no {key} in stock."
    along = (hinge.end - hinge.start) / np.linalg.norm(hinge.end - hinge.start)
    run = edge_run(moving.shape, hinge.start + 0.3 * np.array([along[1], -along[0]]), along)
    edge = [hinge.start + s * along for s in (run[0], min(run[1], run[0] + _DEEP_MM))]
    setback = max((b.setback_mm for b in moving.bevels), default=0.0)
    u = max(float(e[0]) for e in edge) + 0.5 * setback + _WALL_MM + d / 2
    deep = box(u - d / 2, inner - 0.1, u + d / 2, inner + _DEEP_MM)
    if moving.shape.intersection(deep.buffer(1.0)).area < 0.85 * deep.buffer(1.0).area:
        return f"The two halves of the {moving.name} have no room for a joiner {_DEEP_MM:.0f} mm deep: give each a servo."
    m = p.surface.matrix()
    tip = (m @ np.array([u, inner + _DEEP_MM, 0.0, 1.0]))[:3]
    root = (m @ np.array([u, 0.0, 0.0, 1.0]))[:3]
    inlet = (m @ np.array([u, inner, 0.0, 1.0]))[:3]
    over = np.array([1.0, -1.0, 1.0])
    points = [tip * over, tip] if straight else [tip * over, root * (1.0, 0.0, 1.0), tip]
    rod = RodPiece(
        name=f"{moving.name} joiner",
        key=key,
        group=moving.group,
        points_mm=tuple(_point(q) for q in points),
        width_mm=d,
        height_mm=d,
    )
    ring = [
        (u - d / 2, inner),
        (u + d / 2, inner),
        (u + d / 2, inner + _DEEP_MM),
        (u - d / 2, inner + _DEEP_MM),
    ]
    moving.mark(
        "slot-edge", [*ring, ring[0]], f"bore {d:.1f} mm from the edge, {_DEEP_MM:.0f} mm deep: joiner"
    )
    runs = ((_point(inlet), _point(tip)), (_point(inlet * over), _point(tip * over)))
    return rod, Joint(kind="rod-hole", first=moving.name, second=rod.name, held="glue", runs_mm=runs)


def swept(hinge: Hinge, rod: RodPiece) -> Solid:
    """All that a joiner passes through between its two halves, both sides."""
    key = (rod, *(p.tobytes() for p in hinge.axis()), hinge.up_rad, hinge.down_rad)
    return _SWEPT.get(key, lambda: _swept(hinge, rod))


_SWEPT: Kept[Solid] = keep(30)


def _swept(hinge: Hinge, rod: RodPiece) -> Solid:
    import manifold3d as m3

    half = rod_solid(rod).trim_by_plane((0.0, 1.0, 0.0), 0.0)
    angles = np.linspace(-hinge.down_rad, hinge.up_rad, 7)
    way = m3.Manifold.batch_hull([half.transform(turn_about(*hinge.axis(), float(a))[:3]) for a in angles])
    return union([way, way.transform(PORT[:3])])


def _point(p: Floats) -> Point3:
    return (float(p[0]), float(p[1]), float(p[2]))
