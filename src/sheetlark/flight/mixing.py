"""From sticks to surfaces: elevons, flaperons, V-tails, differential, rudder mix, exponential.

Sticks run from -1 to 1: pitch positive is nose up, roll positive is to starboard, yaw positive is nose to starboard.
A surface's deflection is positive trailing edge down (upright surface: trailing edge to port).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from sheetlark.errors import SolveError


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlSurface:
    """How one control surface answers the sticks.

    pitch_rad, roll_rad, yaw_rad, flap_rad : deflection for full stick alone; the sign says which way. [rad]
    differential : 0 to 1; the part of the roll throw taken away when it goes trailing edge down.
    up_limit_rad, down_limit_rad : most it can move up and down, both positive. [rad]
    """

    name: str
    pitch_rad: float = 0.0
    roll_rad: float = 0.0
    yaw_rad: float = 0.0
    flap_rad: float = 0.0
    differential: float = 0.0
    up_limit_rad: float = math.radians(45.0)
    down_limit_rad: float = math.radians(45.0)

    def __post_init__(self) -> None:
        if not 0.0 <= self.differential <= 1.0:
            raise SolveError(
                f"differential of {self.name!r} must be between 0 (equal) and 1 (up only), got {self.differential:g}"
            )

    def deflection(self, pitch: float, roll: float, yaw: float, flap: float) -> float:
        """Where it stands for these sticks. [rad]."""
        by_roll = self.roll_rad * roll
        if by_roll > 0.0:
            by_roll *= 1.0 - self.differential
        angle = self.pitch_rad * pitch + by_roll + self.yaw_rad * yaw + self.flap_rad * flap
        return max(-self.up_limit_rad, min(self.down_limit_rad, angle))


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixer:
    """All surfaces of a model, in the order the air names them, and the mixes between sticks.

    rudder_mix : part of the roll stick added to the yaw stick. [-]
    expo_pitch, expo_roll, expo_yaw : 0 straight to 1 cubic.
    """

    surfaces: tuple[ControlSurface, ...]
    rudder_mix: float = 0.0
    expo_pitch: float = 0.0
    expo_roll: float = 0.0
    expo_yaw: float = 0.0

    def deflections(self, pitch: float, roll: float, yaw: float, flap: float = 0.0) -> tuple[float, ...]:
        """Deflection of every surface [rad] for stick positions -1 to 1 (held to that range)."""
        pitch = exponential(_held(pitch), self.expo_pitch)
        roll = exponential(_held(roll), self.expo_roll)
        yaw = _held(exponential(_held(yaw), self.expo_yaw) + self.rudder_mix * roll)
        return tuple(surface.deflection(pitch, roll, yaw, flap) for surface in self.surfaces)

    def with_differential(self, differential: float) -> Mixer:
        """The same mix with another differential on every surface that rolls."""
        return replace(
            self,
            surfaces=tuple(
                replace(surface, differential=differential) if surface.roll_rad else surface
                for surface in self.surfaces
            ),
        )

    def with_rudder_mix(self, rudder_mix: float) -> Mixer:
        """The same mix with another part of roll stick on the rudder."""
        return replace(self, rudder_mix=rudder_mix)


def exponential(stick: float, expo: float) -> float:
    """Softened stick: the straight part shrinks to 1 - expo, the ends stay. Stick and answer -1 to 1.

    (1 - e) x + e x³: common practice in transmitters, no source.
    """
    return (1.0 - expo) * stick + expo * stick**3


def _held(stick: float) -> float:
    return -1.0 if stick < -1.0 else min(stick, 1.0)


def elevator(throw_rad: float, name: str = "elevator") -> ControlSurface:
    """An elevator: stick back lifts its trailing edge."""
    return ControlSurface(name=name, pitch_rad=-throw_rad)


def rudder(throw_rad: float, name: str = "rudder") -> ControlSurface:
    """A rudder: stick to starboard moves its trailing edge to starboard."""
    return ControlSurface(name=name, yaw_rad=-throw_rad)


def ailerons(
    throw_rad: float, names: tuple[str, str] = ("aileron_port", "aileron_starboard"), *, flap_rad: float = 0.0
) -> tuple[ControlSurface, ControlSurface]:
    """Port and starboard aileron; with ``flap_rad`` they droop together as flaperons."""
    return (
        ControlSurface(name=names[0], roll_rad=throw_rad, flap_rad=flap_rad),
        ControlSurface(name=names[1], roll_rad=-throw_rad, flap_rad=flap_rad),
    )


def elevons(
    pitch_rad: float, roll_rad: float, names: tuple[str, str] = ("elevon_port", "elevon_starboard")
) -> tuple[ControlSurface, ControlSurface]:
    """Port and starboard elevon: together for pitch, apart for roll."""
    return (
        ControlSurface(name=names[0], pitch_rad=-pitch_rad, roll_rad=roll_rad),
        ControlSurface(name=names[1], pitch_rad=-pitch_rad, roll_rad=-roll_rad),
    )


def v_tail(
    pitch_rad: float, yaw_rad: float, names: tuple[str, str] = ("tail_port", "tail_starboard")
) -> tuple[ControlSurface, ControlSurface]:
    """Port and starboard half of an upright V tail.

    Nose to starboard needs a force on the tail to port: the port half's trailing edge goes up and the starboard
    half's down (each half's lift leans towards the middle: port half's leans to starboard).
    """
    return (
        ControlSurface(name=names[0], pitch_rad=-pitch_rad, yaw_rad=-yaw_rad),
        ControlSurface(name=names[1], pitch_rad=-pitch_rad, yaw_rad=yaw_rad),
    )
