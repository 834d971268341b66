"""The plate a motor is screwed to, tilted to its thrust line, and the frame that stiffens the former behind it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sheetlark.airframe import Equipment
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats
from sheetlark.parts.blank import Blank
from sheetlark.parts.body import Shell, former_shape
from sheetlark.parts.facets import Facet, flat_at
from sheetlark.parts.solids import polygons
from sheetlark.stock import Stock

_PLATE_ROUND_MOTOR_MM = 4.0  # of the firewall beyond the motor's case; common practice, no source
_BOLT_MM = 3.2  # hole for an M3 screw
X, Y, Z = np.eye(3)


def across(x_mm: float) -> Floats:
    """The plane of a former: u to starboard, v up, seen from the rear."""
    m = np.eye(4)
    m[:3, 0], m[:3, 1], m[:3, 2], m[:3, 3] = Y, Z, X, (x_mm, 0.0, 0.0)
    return m


def firewall(
    shell: Shell | None,
    motor: Equipment,
    axis: tuple[float, float, float],
    plate: str,
    stock: Stock,
    *,
    pusher: bool,
) -> Blank:
    """The plate behind a motor, tilted to its thrust line and drilled for it.

    Raises
    ------
    GeometryError
        If there is no room for it between the sides.
    """
    from shapely.geometry import Point, box

    item = stock.motor(motor.key)
    t = 1e3 * stock.sheet(plate).thickness_m
    face = 1e3 * np.asarray(motor.at_m)
    aft = np.asarray(axis) if pusher else -np.asarray(axis)
    size = 500.0 * item.body_diameter_m + _PLATE_ROUND_MOTOR_MM
    matrix = flat_at(face + aft * (-t / 2 if pusher else t / 2), Y - (Y @ aft) * aft, np.cross(aft, Y))
    room: Any = box(-size, -size, size, size)
    if shell is not None and abs(face[1]) < 1e-6:
        outside = face[0] - t < shell.nose - 0.01 or face[0] + t > shell.tail + 0.01
        at = min(max(float(matrix[0, 3]), shell.nose), shell.tail)
        half, low, high = former_shape(shell, at, t)
        rim = (
            shell.t if outside else -0.7
        )  # outside it covers the ends of the box; inside it stands clear of them
        inset = 0.0 if outside else shell.t + 0.7
        room = room.intersection(
            box(-half - rim - face[1], low + inset - face[2], half + rim - face[1], high - inset - face[2])
        )
    if room.is_empty or room.area < 200.0:
        raise GeometryError(
            f"the motor at x {face[0]:.0f}, z {face[2]:.0f} mm has no room for its plate between the sides; move it "
            f"or widen the body",
            ("drive", "motor_at"),
        )
    blank = Blank(
        name="firewall" if abs(face[1]) < 1e-6 else "motor plate",
        group="drive",
        sheet=plate,
        paper="none",
        thickness=t,
        shape=room,
        facets=(Facet(None, matrix),),
        sides="one" if abs(face[1]) < 1e-6 else "pair",
        face="rear",
        where=("drive", "motor_at"),
    )
    r, n = 500.0 * item.mount_circle_m, max(2, item.mount_holes)
    angles = [math.pi / 4 + 2 * math.pi * k / n for k in range(n)]
    holes = [(0.0, 0.0, 1e3 * item.shaft_m + 4.0)]
    holes += [(r * math.cos(a), r * math.sin(a), _BOLT_MM) for a in angles]
    drill(blank, [h for h in holes if room.contains(Point(h[0], h[1]).buffer(h[2] / 2 + 0.5))])
    blank.mark("thrust", [(-size, 0.0), (size, 0.0)], "thrust line")
    return blank


def drill(blank: Blank, circles: list[tuple[float, float, float]]) -> None:
    """Round holes (u, v, diameter) through a blank."""
    from shapely.geometry import Point
    from shapely.ops import unary_union

    if circles:
        blank.take(unary_union([Point(u, v).buffer(d / 2, quad_segs=8) for u, v, d in circles]))


def doubler(former: Blank, plate: Blank, stock: Stock) -> Blank | None:
    """A frame glued behind the firewall's former, round the former's own opening; None where it has no room."""
    from shapely.geometry import Polygon, box

    t = 1e3 * stock.sheet(plate.sheet).thickness_m
    low_u, low_v, high_u, high_v = plate.shape.bounds
    mid = plate.matrix[:3, 3]
    frame: Any = box(mid[1] + low_u - 6, mid[2] + low_v - 6, mid[1] + high_u + 6, mid[2] + high_v + 6)
    frame = frame.intersection(former.shape.buffer(-8.0))
    for ring in former.shape.interiors:
        frame = frame.difference(Polygon(ring))
    frames = polygons(frame)
    if not frames or max(f.area for f in frames) < 300.0:
        return None
    return Blank(
        name="firewall doubler",
        group="drive",
        sheet=plate.sheet,
        paper="none",
        thickness=t,
        shape=max(frames, key=lambda p: p.area),
        facets=(Facet(None, across(float(former.matrix[0, 3]) + former.thickness / 2 + t / 2)),),
        face="rear",
        where=("drive", "motor_at"),
    )
