"""Lines drawn on the parts that no cut makes: thrust and datum, bends, push-rod exits, horns."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from sheetlark.airframe import Equipment
from sheetlark.parts.blank import Blank
from sheetlark.parts.body import Shell
from sheetlark.parts.panels import Hinge, Panel

Motor = tuple[Equipment, tuple[float, float, float]]


def draw_lines(
    shell: Shell,
    side: Blank,
    covers: list[Blank],
    panels: list[Panel],
    motors: tuple[Motor, ...],
    servos: tuple[Equipment, ...],
) -> None:
    """Thrust line, bends, push-rod exits on the side; horns on what they move."""
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
    hinges = {h.moving.name: h for p in panels for h in p.hinges}
    for servo in servos:
        moves = servo.name.split(" servo")[0]
        for hinge in hinges.values():
            if hinge.moving.name.endswith(moves):
                _horn(hinge, servo)
        if moves in {"elevator", "rudder"} and abs(servo.at_m[1]) < 0.06:
            word = "starboard" if servo.at_m[1] >= 0 else "port"
            x = min(1e3 * servo.at_m[0] + 150.0, shell.tail - 60.0) - (40.0 if moves == "rudder" else 0.0)
            low, high = shell.heights(x)
            z = min(max(1e3 * servo.at_m[2] + 6.0, low + 8.0), high - 8.0)
            a, b = (float(v) for v in at(np.array([x - 12.0, x + 12.0])))
            ring = [(a, z - 2), (b, z - 2), (b, z + 2), (a, z + 2), (a, z - 2)]
            side.mark("place", ring, f"{moves} push-rod exit, {word} side only")


def _horn(hinge: Hinge, servo: Equipment) -> None:
    """Where a horn stands: on the hinge line, as far out as its servo."""
    along = (hinge.end - hinge.start) / np.linalg.norm(hinge.end - hinge.start)
    aft = np.array([along[1], -along[0]])
    local = np.linalg.inv(hinge.frame) @ np.array([*(1e3 * np.asarray(servo.at_m)), 1.0])
    t = float((np.abs(local[:2]) * (1, 1) - hinge.start) @ along) if hinge.moving.group != "fin" else 12.0
    length = float(np.linalg.norm(hinge.end - hinge.start))
    foot = hinge.start + along * min(max(t, 8.0), length - 8.0) + aft * 1.5
    tip = foot + aft * 12.0
    hinge.moving.mark("place", [(float(foot[0]), float(foot[1])), (float(tip[0]), float(tip[1]))], "horn")
