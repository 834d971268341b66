"""Gauges at full size: incidence, throw, dihedral and thrust line, to print on card and cut out.

Each is a drawing of its own in millimetres, no larger than a page allows, with words that say where it goes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sheetlark.airframe import LiftingSurface
from sheetlark.evaluation import Evaluation
from sheetlark.units import show_ruled

Floats = npt.NDArray[np.float64]

LARGEST_MM = (186.0, 240.0)  # fits A4 and Letter with room for its words
_STRIP_MM = 22.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gauge:
    """One gauge.

    cuts : closed outlines, each of shape (n, 2) [mm]
    lines : lines drawn on it, each of shape (n, 2) [mm]
    words : (text, x, y, angle in degrees) to print on it
    """

    name: str
    says: str
    cuts: tuple[Floats, ...]
    lines: tuple[Floats, ...]
    words: tuple[tuple[str, float, float, float], ...]

    @property
    def box_mm(self) -> tuple[float, float, float, float]:
        """X and y from, x and y to. [mm]."""
        words = [(x + dx, y + dy) for _, x, y, _ in self.words for dx, dy in ((-3.0, -1.0), (3.0, 3.0))]
        every = np.concatenate([*self.cuts, *self.lines, *([np.array(words)] if words else [])])
        low, high = every.min(axis=0), every.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def gauges(evaluation: Evaluation) -> tuple[Gauge, ...]:
    """Every gauge a model needs."""
    made: list[Gauge] = []
    thrust_z = _thrust_mm(evaluation)
    imperial = evaluation.design.model.imperial
    for surface in evaluation.airframe.surfaces:
        if surface.role != "fin":
            made.append(_incidence(surface, thrust_z))
        if surface.role == "wing" and abs(surface.dihedral_rad) > math.radians(0.3):
            made.append(_dihedral(surface, imperial=imperial))
        if surface.control is not None:
            made.append(_throw(surface, imperial=imperial))
    drive = evaluation.design.drive
    if drive is not None and (abs(drive.down) > 1e-6 or abs(drive.right) > 1e-6):
        made.append(_shaft(drive.down, drive.right))
        made.append(_shim(evaluation))
    return tuple(made)


def _thrust_mm(evaluation: Evaluation) -> float:
    """Height of the thrust line, the line that incidence is measured from. [mm]."""
    drive = evaluation.design.drive
    return 1e3 * drive.motor_at[2] if drive is not None else 0.0


def _incidence(surface: LiftingSurface, thrust_mm: float) -> Gauge:
    """From the thrust line drawn on the body's side to the panel's face: stands on one, touches the other.

    Where that is more than a page is wide or tall, a strip with the same slope, held against a ruler on the thrust
    line, does as well: only the slope matters.
    """
    front, chord = surface.chord_at(0.0)
    length = 1e3 * chord * min(0.9, LARGEST_MM[0] / (1e3 * chord))
    angle = surface.incidence_rad
    lead = surface.place(front, 0.0)
    face = 1e3 * float(lead[2]) - math.copysign(0.5e3 * surface.thickness_m, float(lead[2]) * 1e3 - thrust_mm)
    gap = face - thrust_mm
    drop = length * math.tan(angle)
    whole = abs(gap) >= 12.0 and abs(gap) + abs(drop) <= LARGEST_MM[1] * 0.45
    base = abs(gap) if whole else _STRIP_MM
    # the gauge's far edge follows the panel: nose-up means it falls towards the tail
    sense = 1.0 if gap > 0 or not whole else -1.0
    top = np.array([[0.0, base], [length, base - sense * drop]])
    outline = np.array([[0.0, 0.0], [length, 0.0], top[1], top[0]])
    side = "underside" if sense > 0 else "upper side"
    stand = (
        f"long straight edge on the thrust line drawn on the body's side; the other edge lies along the {side} of the {surface.name}"
        if whole
        else f"straight edge on a ruler held along the thrust line; the other edge gives the slope of the {surface.name}"
    )
    return Gauge(
        name=f"Incidence of the {surface.name}: {math.degrees(angle):+.1f}°",
        says=f"{stand}, arrow to the nose.",
        cuts=(outline,),
        lines=(np.array([[14.0, 7.0], [4.0, 7.0], [7.0, 9.0], [4.0, 7.0], [7.0, 5.0]]),),
        words=(
            ("thrust line here", length / 2, 4.0, 0.0),
            (
                f"{surface.name}  {math.degrees(angle):+.1f}°",
                length / 2,
                max(base - 6.5 - max(0.0, sense * drop), 10.0),
                0.0,
            ),
            ("nose", 20.0, 7.0, 0.0),
        ),
    )


def _dihedral(surface: LiftingSurface, *, imperial: bool) -> Gauge:
    """A shallow V, both panels lie in it."""
    half = min(90.0, 800.0 * surface.half_span_m)
    angle = abs(surface.dihedral_rad)
    rise = half * math.tan(angle)
    outline = np.array([[-half, 0.0], [half, 0.0], [half, 18.0 + rise], [0.0, 18.0], [-half, 18.0 + rise]])
    lift = show_ruled(surface.half_span_m * math.sin(angle), imperial)
    return Gauge(
        name=f"Dihedral of the {surface.name}: {math.degrees(angle):.1f}° each side",
        says=f"stands under the middle; both panels lie on it. At the tips that is {lift} above the middle.",
        cuts=(outline,),
        lines=(np.array([[0.0, 0.0], [0.0, 18.0]]),),
        words=((f"{surface.name}, dihedral {math.degrees(angle):.1f}° each side", 0.0, 8.0, 0.0),),
    )


def _throw(surface: LiftingSurface, *, imperial: bool) -> Gauge:
    """A fan held against the fixed part behind the hinge line: the trailing edge points to the marks."""
    control = surface.control
    assert control is not None
    hinge = surface.hinge_line()
    assert hinge is not None
    x_hinge, y = hinge[0]
    front, chord = surface.chord_at(y / surface.half_span_m if surface.half_span_m else 0.0)
    flap = 1e3 * (front + chord - x_hinge)
    reach = min(max(flap + 14.0, 40.0), LARGEST_MM[0] - 20.0)
    up, down = control.up_rad, control.down_rad
    most = max(up, down) + math.radians(8.0)
    t = np.linspace(-most, most, 41)
    fan = np.column_stack([reach * np.cos(t), reach * np.sin(t)])
    outline = np.concatenate([[[0.0, 6.0], [-16.0, 6.0], [-16.0, -6.0], [0.0, -6.0]], fan])
    lines = [np.array([[-16.0, 0.0], [reach, 0.0]])]
    words: list[tuple[str, float, float, float]] = []
    left_right = control.moves == "rudder"
    for angle, sense, name in (
        (up, 1.0, "left" if left_right else "up"),
        (down, -1.0, "right" if left_right else "down"),
    ):
        direction = np.array([math.cos(angle), sense * math.sin(angle)])
        lines.append(np.stack([6.0 * direction, reach * direction]))
        travel = show_ruled(1e-3 * flap * math.sin(angle), imperial)
        turn = math.degrees(sense * angle)
        off = 1.4 if sense > 0 else 3.4
        at = (0.58 * reach) * direction + off * np.array([-direction[1], direction[0]]) * sense
        words.append((f"{name} {math.degrees(angle):.0f}°, {travel}", float(at[0]), float(at[1]), turn))
    words.append(("hinge", -8.0, 2.2, 0.0))
    arc = np.column_stack([flap * np.cos(t), flap * np.sin(t)])
    lines.append(arc[(t >= -down - 0.02) & (t <= up + 0.02)])
    return Gauge(
        name=f"Throw of the {control.moves} ({surface.name})",
        says=(
            "tongue flat against the fixed part, cross on the hinge line, at the control's inner end. "
            "The trailing edge moves between the two lines; the arc is where it travels."
        ),
        cuts=(outline,),
        lines=tuple(lines),
        words=tuple(words),
    )


def _shaft(down_rad: float, right_rad: float) -> Gauge:
    """Two squares that are not square: firewall against one side, motor shaft along the other."""
    arm = 80.0
    cuts: list[Floats] = []
    lines: list[Floats] = []
    words: list[tuple[str, float, float, float]] = []
    for k, (angle, name) in enumerate(
        ((down_rad, "down, held at the side"), (right_rad, "right, held on top"))
    ):
        x0 = k * 96.0
        tip = np.array([arm * math.cos(angle), -arm * math.sin(angle)])
        across = np.array([-math.sin(angle), -math.cos(angle)])
        foot = 45.0
        shift = np.array([x0, 0.0])
        corner = [[0.0, 0.0], tip, tip + 12.0 * across, [14.0, -14.0], [14.0, -foot], [0.0, -foot]]
        cuts.append(np.array(corner) + shift)
        lines.append(np.array([[4.0, -22.0], [4.0, -40.0]]) + shift)
        words.append(
            (
                f"{math.degrees(angle):.1f}° {name}",
                x0 + arm / 2,
                -6.0 - arm / 2 * math.tan(angle),
                -math.degrees(angle),
            )
        )
    return Gauge(
        name=f"Thrust line: {math.degrees(down_rad):.1f}° down, {math.degrees(right_rad):.1f}° right",
        says="short leg flat on the firewall, upright (first) and level (second); the motor's shaft runs along the long edge.",
        cuts=tuple(cuts),
        lines=tuple(lines),
        words=tuple(words),
    )


def shim_heights_mm(evaluation: Evaluation) -> tuple[float, float, float, float]:
    """Thickness under the motor mount at top, bottom, left and right for its angles. [mm].

    Seen from the front of a tractor the mount's top must stand further out to point it down, its port side to point it
    to starboard: circle times the tangent of the angle.
    """
    drive = evaluation.design.drive
    if drive is None:
        return 0.0, 0.0, 0.0, 0.0
    circle = 1e3 * evaluation.stock.motor(drive.motor).mount_circle_m
    # the face of a pusher's mount looks aft: the same thrust line asks for the opposite edges
    sense = -1.0 if drive.pusher else 1.0
    tall, wide = sense * circle * math.tan(drive.down), sense * circle * math.tan(drive.right)
    return max(tall, 0.0), max(-tall, 0.0), max(wide, 0.0), max(-wide, 0.0)


def _shim(evaluation: Evaluation) -> Gauge:
    """Pads for the motor mount, to cut from card or thin ply, with how thick each must be."""
    drive = evaluation.design.drive
    assert drive is not None
    motor = evaluation.stock.motor(drive.motor)
    r, hole = 0.5e3 * motor.mount_circle_m, 1.7
    outer = r + 4.5
    t = np.linspace(0.0, 2.0 * np.pi, 61)[:-1]
    ring = outer * np.column_stack([np.cos(t), np.sin(t)])
    bore = max(2.0, 0.5e3 * motor.shaft_m + 1.5)
    cuts = [ring, bore * np.column_stack([np.cos(t), np.sin(t)])]
    n = max(2, motor.mount_holes)
    for k in range(n):
        a = np.pi / 4 + 2 * np.pi * k / n
        cuts.append(
            hole * np.column_stack([np.cos(t), np.sin(t)])[::4] + r * np.array([np.cos(a), np.sin(a)])
        )
    top, bottom, left, right = shim_heights_mm(evaluation)
    lines = (np.array([[-outer, 0.0], [outer, 0.0]]), np.array([[0.0, -outer], [0.0, outer]]))
    parts = [
        f"{height:.1f} mm at the {where}"
        for height, where in ((top, "top"), (bottom, "bottom"), (left, "left"), (right, "right"))
        if height > 0.05
    ]
    return Gauge(
        name="Shim under the motor mount",
        says=(
            f"sand it to a wedge, or build the edge up with card: {' and '.join(parts) or 'even'}, nothing at the opposite edge. "
            "Left and right as the pilot sees them from behind; the drawing is seen from the front."
        ),
        cuts=tuple(cuts),
        lines=lines,
        words=(
            (
                f"top {top:.1f}" if top else f"bottom {bottom:.1f}",
                0.0,
                (outer + 3.0) if top else -(outer + 4.0),
                0.0,
            ),
            (
                f"left {left:.1f}" if left else f"right {right:.1f}",
                (outer + 9.0) if left else -(outer + 9.0),
                0.0,
                0.0,
            ),
        ),
    )
