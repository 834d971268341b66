"""Bought items as boxes and cylinders in place: what must fit, move and turn free of the parts."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sheetlark.airframe import Airframe, Equipment
from sheetlark.outline import Floats
from sheetlark.parts.solids import Solid, box
from sheetlark.stock import Stock

PROPELLER_AHEAD_MM = 6.0  # from the front of the motor's case to the middle of the hub; from memory
BLADE_MM = 8.0  # fore-and-aft room of the turning blades; from memory


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bay:
    """The room one bought item takes up.

    item : the item
    low_mm, high_mm : shape (3,), corners of its box, with the way it may be moved along [mm]
    """

    item: Equipment
    low_mm: Floats
    high_mm: Floats

    def solid(self) -> Solid:
        """As a box."""
        return box(self.low_mm, self.high_mm)


def size_mm(item: Equipment, stock: Stock) -> tuple[float, float, float] | None:
    """Length (along x), width (along y) and height of a boxed item; None for what is not a box. [mm]."""
    if item.kind == "pack":
        p = stock.pack(item.key)
        return (1e3 * p.length_m, 1e3 * p.width_m, 1e3 * p.height_m)
    if item.kind == "receiver":
        r = stock.receiver(item.key)
        return (1e3 * r.length_m, 1e3 * r.width_m, 1e3 * r.height_m)
    if item.kind == "controller":
        c = stock.controller(item.key)
        return (1e3 * c.length_m, 1e3 * c.width_m, 1e3 * c.height_m)
    if item.kind == "servo":
        s = stock.servo(item.key)
        return (1e3 * s.length_m, 1e3 * s.width_m, 1e3 * s.height_m)
    return None


def bays(airframe: Airframe, stock: Stock) -> tuple[Bay, ...]:
    """The boxes of all boxed items, the battery's with its travel."""
    travel = 1e3 * airframe.drive.pack_travel if airframe.drive is not None else 0.0
    found = []
    for item in airframe.equipment:
        size = size_mm(item, stock)
        if size is None:
            continue
        middle, half = 1e3 * np.asarray(item.at_m), 0.5 * np.asarray(size)
        reach = np.array([travel if item.kind == "pack" else 0.0, 0.0, 0.0])
        found.append(Bay(item=item, low_mm=middle - half - reach, high_mm=middle + half + reach))
    return tuple(found)


def drive_axes(airframe: Airframe) -> tuple[tuple[Equipment, Floats], ...]:
    """Each motor, placed at its mounting face, with the unit vector from there to its propeller."""
    drive = airframe.drive
    if drive is None:
        return ()
    down, right = drive.down, drive.right
    # Forward, turned nose-down and to starboard; a pusher's motor looks aft along the same line.
    forward = np.array([-np.cos(down) * np.cos(right), np.cos(down) * np.sin(right), -np.sin(down)])
    along = -forward if drive.pusher else forward
    # The equipment stands where it weighs, half a motor's length off; what is cut meets the mounting face.
    face = drive.motor_at[0]
    return tuple(
        (replace(e, at_m=(face, e.at_m[1], e.at_m[2])), along)
        for e in airframe.equipment
        if e.kind == "motor"
    )


def turned_cylinder(start: Floats, axis: Floats, length: float, diameter: float) -> Solid:
    """A cylinder from a point along a unit vector."""
    import manifold3d as m3

    helper = np.array([0.0, 0.0, 1.0]) if abs(axis[2]) < 0.9 else np.array([0.0, 1.0, 0.0])
    u = np.cross(helper, axis)
    u /= np.linalg.norm(u)
    m = np.column_stack([u, np.cross(axis, u), axis, start])
    return m3.Manifold.cylinder(length, diameter / 2, diameter / 2, 48).transform(m)


def propeller_discs(airframe: Airframe, stock: Stock) -> tuple[tuple[str, Solid], ...]:
    """The room each turning propeller needs."""
    found = []
    drive = airframe.drive
    if drive is None:
        return ()
    diameter = 1e3 * stock.propeller(drive.propeller).diameter_m
    for motor, along in drive_axes(airframe):
        case = 1e3 * stock.motor(motor.key).body_length_m
        at = 1e3 * np.asarray(motor.at_m) + along * (case + PROPELLER_AHEAD_MM - BLADE_MM / 2)
        found.append(
            (motor.name.replace("motor", "propeller"), turned_cylinder(at, along, BLADE_MM, diameter))
        )
    return tuple(found)


def motor_cases(airframe: Airframe, stock: Stock) -> tuple[tuple[str, Solid], ...]:
    """The turning cases of the motors."""
    found = []
    for motor, along in drive_axes(airframe):
        m = stock.motor(motor.key)
        at = 1e3 * np.asarray(motor.at_m) + 0.05 * along
        found.append((motor.name, turned_cylinder(at, along, 1e3 * m.body_length_m, 1e3 * m.body_diameter_m)))
    return tuple(found)


def wheels(airframe: Airframe, stock: Stock) -> tuple[tuple[str, Solid], ...]:
    """The wheels, standing upright on their axles."""
    found = []
    for item in airframe.equipment:
        if item.kind == "wheel":
            wheel = stock.wheel(item.key)
            side = np.array([0.0, 1.0, 0.0])
            at = 1e3 * np.asarray(item.at_m) - 500.0 * wheel.width_m * side
            found.append((item.name, turned_cylinder(at, side, 1e3 * wheel.width_m, 1e3 * wheel.diameter_m)))
    return tuple(found)
