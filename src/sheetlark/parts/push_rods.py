"""Push-rods in motion: where arm, rod and horn stand as the surface goes through its throw.

The servo's shaft stands upright, so that its arm's hole goes round a level circle; the horn's hole goes round the
hinge line; the rod's length does not change.
"""

from __future__ import annotations

import math

import numpy as np

from sheetlark.outline import Floats
from sheetlark.parts.part import PushRod
from sheetlark.parts.solids import Solid, turn_about


def arm_turn(rod: PushRod, horn: Floats) -> float | None:
    """How far the arm has turned where the horn's hole stands; None where the rod cannot follow. [rad].

    With d from the shaft to the horn's hole and r the arm, |r(a) - d| is the rod's length:
    d·r cos a + (d x r)z... is one harmonic of a, which has two solutions; the nearer to rest is the arm's.
    """
    shaft = np.asarray(rod.shaft_mm)
    r, d = np.asarray(rod.arm_mm) - shaft, horn - shaft
    a = float(d[0] * r[0] + d[1] * r[1])
    b = float(d[1] * r[0] - d[0] * r[1])
    level = 0.5 * (float(r @ r) + float(d @ d) - rod.length_mm**2) - float(d[2] * r[2])
    size = math.hypot(a, b)
    if size < 1e-9 or abs(level) > size * (1.0 + 1e-9):
        return None
    middle, half = math.atan2(b, a), math.acos(min(1.0, max(-1.0, level / size)))
    found = [math.remainder(middle + s * half, 2.0 * math.pi) for s in (1.0, -1.0)]
    return min(found, key=abs)


def positions(rod: PushRod, count: int) -> list[tuple[float, Floats, Floats]]:
    """(angle of the surface, arm's hole, horn's hole) from full down to full up, rest among them; [rad], [mm].

    Positions that the rod cannot follow are left out.
    """
    point, axis = (np.asarray(p) for p in rod.axis_mm)
    shaft, r = np.asarray(rod.shaft_mm), np.asarray(rod.arm_mm) - np.asarray(rod.shaft_mm)
    half = max(1, count // 2)
    angles = [
        *np.linspace(-rod.down_rad, 0.0, half + 1)[:-1],
        0.0,
        *np.linspace(0.0, rod.up_rad, half + 1)[1:],
    ]
    found = []
    for angle in angles:
        horn = (turn_about(point, axis, float(angle)) @ np.array([*rod.horn_mm, 1.0]))[:3]
        turn = arm_turn(rod, horn)
        if turn is None:
            continue
        c, s = math.cos(turn), math.sin(turn)
        arm = shaft + np.array([c * r[0] - s * r[1], s * r[0] + c * r[1], r[2]])
        found.append((float(angle), arm, horn))
    return found


def rod_cylinder(start: Floats, end: Floats, diameter_mm: float) -> Solid:
    """A rod between two holes, as a prism of twelve sides that its round fits into."""
    import manifold3d as m3

    length = float(np.linalg.norm(end - start))
    axis = (end - start) / length
    helper = np.array([0.0, 0.0, 1.0]) if abs(axis[2]) < 0.9 else np.array([0.0, 1.0, 0.0])
    u = np.cross(helper, axis)
    u /= np.linalg.norm(u)
    m = np.column_stack([u, np.cross(axis, u), axis, start])
    radius = 0.5 * diameter_mm / math.cos(math.pi / 12)
    return m3.Manifold.cylinder(length, radius, radius, 12).transform(m)
