"""Lines drawn on the parts that no cut makes: thrust and datum, bends."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from sheetlark.airframe import Equipment
from sheetlark.parts.blank import Blank
from sheetlark.parts.body import Shell

Motor = tuple[Equipment, tuple[float, float, float]]


def draw_lines(
    shell: Shell,
    side: Blank,
    covers: list[Blank],
    motors: tuple[Motor, ...],
) -> None:
    """Thrust line and datum on the side; bends on side and covers."""
    from shapely.geometry import LineString

    at = shell.bend.develop
    for motor, _ in motors[:1]:
        z, x = 1e3 * motor.at_m[2], 1e3 * motor.at_m[0]
        x0 = min(max(x, shell.nose), shell.tail)
        x1 = x0 + 80.0 if x0 < 0.5 * (shell.nose + shell.tail) else x0 - 80.0
        u = at(np.array([x0, x1]))
        side.mark("thrust", [(float(u[0]), z), (float(u[1]), z)], "thrust line")
    u = at(np.array([shell.nose + 100.0, shell.tail - 100.0]))
    side.mark("datum", [(float(u[0]), 0.0), (float(u[1]), 0.0)], "datum, z = 0")
    for x, turn in zip(shell.middle[1:-1, 0], shell.bend.turns_rad, strict=True):
        if abs(turn) > 0.02:
            low, high = shell.heights(float(x))
            s = float(at(np.array([x]))[0])
            side.mark("score", [(s, low + 0.5), (s, high - 0.5)], f"bend {np.degrees(abs(turn)):.0f}°")
    for cover in covers:
        for facet, after in pairwise(cover.facets):
            turn = float(np.arccos(np.clip(facet.matrix[:3, 2] @ after.matrix[:3, 2], -1, 1)))
            low_u, low_v, high_u, high_v = cover.shape.bounds
            u1 = after.region.bounds[0]
            if turn > 0.05 and low_u + 2 < u1 < high_u - 2:
                from shapely.geometry import LineString

                run = cover.shape.intersection(LineString([(u1, low_v - 1), (u1, high_v + 1)]))
                if run.geom_type == "LineString" and not run.is_empty:
                    cover.mark(
                        "score",
                        [(float(a), float(b)) for a, b in run.coords],
                        f"bend {np.degrees(turn):.0f}°",
                    )
