"""What is let into the surfaces: motors' plates and cases, servos, spars, a joiner; and the hinges' tape."""

from __future__ import annotations

import numpy as np

from sheetlark.parts import firewalls
from sheetlark.parts.bays import size_mm
from sheetlark.parts.blank import Blank
from sheetlark.parts.fits import EDGE_FIT_MM, MOTOR_FREE_MM, SERVO_FIT_MM, SWEEP_MM
from sheetlark.parts.joiner import joiner, split_elevator, swept
from sheetlark.parts.making import Assembly
from sheetlark.parts.panels import Hinge, Panel
from sheetlark.parts.part import Joint, Swing, point3, to_port
from sheetlark.parts.rods import spars
from sheetlark.parts.solids import box, rod_solid


def motor_plates(made: Assembly) -> list[Blank]:
    """A firewall for each motor to starboard or amidships."""
    found = []
    for motor, axis in made.fitted.motors:
        if motor.at_m[1] < 0:
            continue
        found.append(
            firewalls.firewall(
                made.shell, motor, axis, made.fitted.plate, made.stock, pusher=made.fitted.pusher
            )
        )
    return found


def let_into_surfaces(made: Assembly) -> None:
    """Cut the surfaces for motors and servos; let in spars and joiners; tape the hinges."""
    for p in made.flats:
        for case in made.fitted.cases:
            p.fixed.yield_to(case, MOTOR_FREE_MM)
        for mount in made.plates:
            p.fixed.yield_to(mount, EDGE_FIT_MM)
    for servo in made.fitted.servos:
        size = size_mm(servo, made.stock)
        if size is None:
            continue
        middle, half = 1e3 * np.asarray(servo.at_m), 0.5 * np.asarray(size)
        solid = box(middle - half, middle + half)
        for p in made.flats:
            cover = p.fixed.shadow(solid, SERVO_FIT_MM)
            if cover is None or not cover.intersects(p.fixed.shape):
                continue
            p.fixed.take(cover)
            u, v, u1, v1 = cover.bounds
            p.fixed.mark("place", [(u, v), (u1, v), (u1, v1), (u, v1), (u, v)], servo.name.split(",")[0])
    for p in made.panels:
        rods, joints = spars(p, made.stock)
        made.rods += rods
        made.joints += joints
        for hinge in p.hinges:
            _tape(made, hinge)
        _join_halves(made, p)


def _join_halves(made: Assembly, p: Panel) -> None:
    """A rod through both halves of an elevator; what lies between them gives way to it."""
    found = joiner(p, made.stock)
    hinge = split_elevator(p)
    if found is None or hinge is None:
        return
    if isinstance(found, str):
        made.notes.append(found)
        return
    rod, joint = found
    hinge.joiner = swept(hinge, rod)
    hinge.fixed.yield_to(hinge.joiner, SWEEP_MM)
    hinge.fixed.drop_slivers(2.0)
    made.rods.append(rod)
    made.joints.append(joint)
    made.joiners.append(rod.name)


def fit_layers(made: Assembly) -> None:
    """Skins, webs and ribs give way to what goes through the panel they are glued to."""
    for p in made.flats:
        for layer in p.layers:
            for other in (*made.struts, *made.fins_fixed(), *made.plates):
                layer.yield_to(other, EDGE_FIT_MM)
            for case in made.fitted.cases:
                layer.yield_to(case, MOTOR_FREE_MM)
            for rod in made.rods:
                layer.yield_to(rod_solid(rod), 0.2)
            for servo in made.fitted.servos:
                size = size_mm(servo, made.stock)
                if size is not None:
                    middle, half = 1e3 * np.asarray(servo.at_m), 0.5 * np.asarray(size)
                    layer.yield_to(box(middle - half, middle + half), SERVO_FIT_MM)


def _tape(made: Assembly, hinge: Hinge) -> None:
    start, end = (point3((hinge.frame @ np.array([*p, hinge.w, 1.0]))[:3]) for p in (hinge.start, hinge.end))
    made.swings.append(
        Swing(
            moving=hinge.moving.name,
            fixed=hinge.fixed.name,
            start_mm=start,
            end_mm=end,
            up_rad=hinge.up_rad,
            down_rad=hinge.down_rad,
        )
    )
    runs = [(start, end)]
    if hinge.moving.sides == "pair":
        runs.append((to_port(start), to_port(end)))
    made.joints.append(
        Joint(
            kind="hinge",
            first=hinge.fixed.name,
            second=hinge.moving.name,
            held="tape",
            runs_mm=tuple(runs),
            fit_mm=0.5,
        )
    )
