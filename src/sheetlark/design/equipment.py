"""Tables of what is put in: drive, radio, ballast."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import Field, model_validator

from sheetlark.design.quantities import Arm, Extent, Mass, Tilt, Travel, written
from sheetlark.design.table import Key, Point3, Table, Title


class Drive(Table):
    """[drive]: motor, propeller, battery and speed controller."""

    motor: Key
    propeller: Key
    pack: Key
    controller: Key
    motor_at: Point3 = Field(
        description="centre of the motor's mounting face; with twin, of the starboard one"
    )
    twin: bool = False
    pusher: bool = False
    down: Tilt = 0.0
    right: Tilt = 0.0
    pack_at: Point3 = Field(description="centre of the battery")
    pack_travel: Travel = Field(0.0, description="how far the battery can move forward and aft of its place")
    controller_at: Point3

    @model_validator(mode="after")
    def _apart(self) -> Self:
        if self.twin and self.motor_at[1] <= 0:
            raise ValueError(
                "with twin = true, motor_at is the starboard motor's place: its y must be above 0"
            )
        return self


class Servo(Table):
    """[[radio.servo]]: a servo and its linkage."""

    stock: Key
    moves: Literal["elevator", "rudder", "aileron", "elevon", "flaperon"]
    at: Point3
    pair: bool = Field(False, description="a second one mirrored to port")
    arm: Arm = written("10 mm", description="hole used on the servo arm, from its axis")
    horn: Arm = written("12 mm", description="hole used on the horn, from the hinge line")
    push_rod: Key = "push-rod-wire-1"
    push_rod_length: Extent = 0.0


class Radio(Table):
    """[radio]: receiver and servos."""

    receiver: Key = "receiver-6ch"
    receiver_at: Point3
    servo: tuple[Servo, ...] = ()


class Ballast(Table):
    """[[ballast]]: a weight put somewhere on purpose."""

    name: Title = "ballast"
    mass: Mass
    at: Point3
