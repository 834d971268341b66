"""Everything bought and put in: what it is, and where."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sheetlark.design import Design, Drive
from sheetlark.stock import Stock

EquipmentKind = Literal[
    "motor", "propeller", "pack", "controller", "receiver", "servo", "linkage", "wheel", "ballast"
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Equipment:
    """One bought item in its place.

    kind, key : what to look up in the stock; ballast has its own mass
    at_m : its centre on the geometry axes [m]
    length_m : for what is sold by length (linkages) [m]
    mass_kg : stated mass of ballast; otherwise 0, and the stock's counts [kg]
    arm_m, horn_m : of a servo: the holes used, from its shaft and from the hinge line [m]
    rod : of a servo: key of its push-rod
    """

    name: str
    kind: EquipmentKind
    key: str
    at_m: tuple[float, float, float]
    length_m: float = 0.0
    mass_kg: float = 0.0
    arm_m: float = 0.0
    horn_m: float = 0.0
    rod: str = ""


def along_shaft_m(drive: Drive, stock: Stock) -> tuple[float, float]:
    """How far the middle of the motor and the propeller lie from the mounting face, along x. [m].

    Forward of it (negative) for a tractor, aft for a pusher; the propeller at the motor's far end. The shaft's few
    degrees of tilt move neither by a tenth of a millimetre worth weighing.
    """
    length = stock.motor(drive.motor).body_length_m
    way = 1.0 if drive.pusher else -1.0
    return way * 0.5 * length, way * length


def equipment(design: Design, stock: Stock) -> tuple[Equipment, ...]:
    """Every bought item of a design that is not sheet, rod, glue or tape.

    Raises
    ------
    StockError
        If the motor is not in stock.
    """
    items: list[Equipment] = []
    drive, radio = design.drive, design.radio
    if drive is not None:
        x, y, z = drive.motor_at
        places = [("", (x, y, z))]
        if drive.twin:
            places = [(", starboard", (x, y, z)), (", port", (x, -y, z))]
        for side, at in places:
            to_motor, to_propeller = along_shaft_m(drive, stock)
            motor_place, disc_place = (at[0] + to_motor, *at[1:]), (at[0] + to_propeller, *at[1:])
            items.append(Equipment(name=f"motor{side}", kind="motor", key=drive.motor, at_m=motor_place))
            items.append(
                Equipment(name=f"propeller{side}", kind="propeller", key=drive.propeller, at_m=disc_place)
            )
            items.append(
                Equipment(
                    name=f"speed controller{side}",
                    kind="controller",
                    key=drive.controller,
                    at_m=drive.controller_at
                    if not drive.twin
                    else (
                        drive.controller_at[0],
                        at[1] / abs(at[1]) * abs(drive.controller_at[1]),
                        drive.controller_at[2],
                    ),
                )
            )
        items.append(Equipment(name="battery", kind="pack", key=drive.pack, at_m=drive.pack_at))
    if radio is not None:
        items.append(Equipment(name="receiver", kind="receiver", key=radio.receiver, at_m=radio.receiver_at))
        for servo in radio.servo:
            x, y, z = servo.at
            sides = (
                [(", starboard", (x, abs(y), z)), (", port", (x, -abs(y), z))]
                if servo.pair
                else [("", (x, y, z))]
            )
            for side, at in sides:
                items.append(
                    Equipment(
                        name=f"{servo.moves} servo{side}",
                        kind="servo",
                        key=servo.stock,
                        at_m=at,
                        arm_m=servo.arm,
                        horn_m=servo.horn,
                        rod=servo.push_rod,
                    )
                )
                if servo.push_rod_length > 0:
                    middle = (at[0] + 0.5 * servo.push_rod_length, at[1], at[2])
                    items.append(
                        Equipment(
                            name=f"{servo.moves} push-rod{side}",
                            kind="linkage",
                            key=servo.push_rod,
                            at_m=middle,
                            length_m=servo.push_rod_length,
                        )
                    )
    if design.gear is not None:
        gear = design.gear
        for side, sign in (("starboard", 1.0), ("port", -1.0)):
            items.append(
                Equipment(
                    name=f"wheel, {side}",
                    kind="wheel",
                    key=gear.wheel,
                    at_m=(gear.at[0], sign * gear.track / 2, gear.at[1]),
                )
            )
    items.extend(
        Equipment(name=lead.name, kind="ballast", key="", at_m=lead.at, mass_kg=lead.mass)
        for lead in design.ballast
    )
    return tuple(items)
