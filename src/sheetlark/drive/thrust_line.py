"""What power does to trim: thrust offset, torque and slipstream, and the down and side thrust against it.

Words: *down thrust* tilts the shaft so that the pull points down, *right thrust* so that it points to starboard;
a *right-hand* propeller turns clockwise seen from behind. Moments are about the balance point in flight axes: roll
to starboard, nose up and nose to starboard are positive.

The change between glide and full throttle at a speed is the sum of

- the pull times its offset from the balance point (exact);
- the reaction to the propeller's torque, a roll;
- the slipstream's extra dynamic pressure on the tail's trimmed load, pitch (momentum theory);
- the slipstream's swirl on the fin, yaw: the torque put into the air as angular momentum [1]_, halved, since wing
  and body straighten about half of it before the fin (estimate), on the part of the fin in the slipstream.

Left out: the wing's own share in the slipstream and the change it makes in downwash; the pull's sideways part
at an angle of attack. Both are smaller than the spread of the swirl (estimate).

References
----------
.. [1] H. Glauert, "Airplane Propellers", in W. F. Durand (ed.), Aerodynamic Theory, vol. IV, 1935: the
   slipstream's rotation from the torque (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sheetlark.drive.family import Floats
from sheetlark.drive.settling import Circuits, DriveLine, settle
from sheetlark.errors import GeometryError

SWIRL_LEFT_AT_TAIL = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerLayout:
    """Where thrust, tail and fin stand. Geometry axes: x aft, y starboard, z up. Angles in radians.

    balance_m, disc_m : (x, y, z) of the balance point and of the disc's centre
    down_rad, right_rad : tilt of the shaft
    right_hand : clockwise seen from behind
    tail_area_m2, tail_x_m : tailplane in the slipstream and its quarter chord
    tail_lift_coefficient : its lift coefficient in the glide, up positive
    fin_area_m2, fin_x_m, fin_lift_slope : fin in the slipstream; lift slope per radian
    fin_below_m2 : fin area in the slipstream below the shaft, which the swirl pushes the other way
    """

    balance_m: tuple[float, float, float]
    disc_m: tuple[float, float, float]
    down_rad: float = 0.0
    right_rad: float = 0.0
    right_hand: bool = True
    tail_area_m2: float = 0.0
    tail_x_m: float = 0.0
    tail_lift_coefficient: float = 0.0
    fin_area_m2: float = 0.0
    fin_below_m2: float = 0.0
    fin_x_m: float = 0.0
    fin_lift_slope: float = 2.5

    def __post_init__(self) -> None:
        for name, angle in (("down_rad", self.down_rad), ("right_rad", self.right_rad)):
            if not abs(angle) <= math.radians(30.0):
                raise GeometryError(f"{name} must be within 30 deg, got {math.degrees(angle):g} deg")
        numbers = (*self.balance_m, *self.disc_m, self.tail_x_m, self.fin_x_m, self.tail_lift_coefficient)
        if not all(math.isfinite(number) for number in numbers):
            raise GeometryError("every position and coefficient of a power layout must be a finite number")

    @property
    def arm_m(self) -> tuple[float, float, float]:
        """From the balance point to the disc, in flight axes."""
        (bx, by, bz), (dx, dy, dz) = self.balance_m, self.disc_m
        return bx - dx, dy - by, bz - dz


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PowerMoments:
    """Moments that full throttle adds to the glide, over speed: arrays of shape (n,). [N m]."""

    airspeed_ms: Floats
    thrust_n: Floats
    roll_torque_nm: Floats
    pitch_offset_nm: Floats
    pitch_slipstream_nm: Floats
    yaw_offset_nm: Floats
    yaw_slipstream_nm: Floats

    @property
    def pitch_nm(self) -> Floats:
        return self.pitch_offset_nm + self.pitch_slipstream_nm

    @property
    def yaw_nm(self) -> Floats:
        return self.yaw_offset_nm + self.yaw_slipstream_nm


def power_moments(
    layout: PowerLayout,
    *,
    airspeed_ms: Floats,
    thrust_n: Floats,
    torque_nm: Floats,
    diameter_m: float,
    density_kg_m3: float = 1.225,
) -> PowerMoments:
    """Moments of one propeller's thrust and torque at each speed.

    Parameters
    ----------
    airspeed_ms, thrust_n, torque_nm : shape (n,)
        Airspeed, thrust and torque of one propeller.
    """
    v = np.asarray(airspeed_ms, dtype=np.float64)
    thrust, torque = np.asarray(thrust_n, dtype=np.float64), np.asarray(torque_nm, dtype=np.float64)
    turn = 1.0 if layout.right_hand else -1.0
    rx, ry, rz = layout.arm_m
    fx = thrust * math.cos(layout.down_rad) * math.cos(layout.right_rad)
    fy = thrust * math.sin(layout.right_rad)
    fz = thrust * math.sin(layout.down_rad) * math.cos(layout.right_rad)
    area = 0.25 * math.pi * diameter_m**2
    pull = np.maximum(thrust, 0.0)
    w = np.sqrt(0.25 * v**2 + pull / (2.0 * density_kg_m3 * area)) - 0.5 * v
    far = v + 2.0 * w  # fully grown slipstream at the tail
    extra = 0.5 * density_kg_m3 * (far**2 - v**2)
    tail_arm = layout.tail_x_m - layout.balance_m[0]
    fin_arm = layout.fin_x_m - layout.balance_m[0]
    # Angular momentum: torque = mass flow x swirl x radius, taken at two thirds of the slipstream's radius.
    flow = density_kg_m3 * area * (v + w)
    contracted = 0.5 * diameter_m * np.sqrt((v + w) / np.maximum(far, 1e-9))
    swirl = np.where(flow > 1e-9, torque / np.maximum(flow * contracted * 2.0 / 3.0, 1e-9), 0.0)
    angle = np.arctan2(SWIRL_LEFT_AT_TAIL * swirl, np.maximum(far, 1e-9))
    side = 0.5 * density_kg_m3 * far**2 * layout.fin_lift_slope * angle
    # Right-hand swirl above the shaft moves to starboard and takes the fin with it: the nose goes to port.
    fin_force = turn * side * (layout.fin_area_m2 - layout.fin_below_m2)
    return PowerMoments(
        airspeed_ms=v,
        thrust_n=thrust,
        roll_torque_nm=-turn * torque + ry * fz - rz * fy,
        pitch_offset_nm=rz * fx - rx * fz,
        pitch_slipstream_nm=-extra * layout.tail_area_m2 * layout.tail_lift_coefficient * tail_arm,
        yaw_offset_nm=rx * fy - ry * fx,
        yaw_slipstream_nm=-fin_force * fin_arm,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ThrustAngles:
    """Down and right thrust that best cancel what full throttle adds, and what is left of it.

    pitch_before_nm, pitch_after_nm, yaw_before_nm, yaw_after_nm : float
        Root mean square over the speeds, with straight thrust and with these angles. [N m]
    """

    down_rad: float
    right_rad: float
    pitch_before_nm: float
    pitch_after_nm: float
    yaw_before_nm: float
    yaw_after_nm: float


def best_thrust_angles(
    layout: PowerLayout,
    *,
    airspeed_ms: Floats,
    thrust_n: Floats,
    torque_nm: Floats,
    diameter_m: float,
    density_kg_m3: float = 1.225,
    most_rad: float = math.radians(8.0),
) -> ThrustAngles:
    """Find the down and right thrust with the least mean square change over the speeds.

    Both moments are linear in the sine of their angle, the cosines within 1 % of 1, so two steps of linear least
    squares from straight thrust find them. Held within ``most_rad``: more than 8° costs pull and looks broken;
    move the thrust line instead.

    Raises
    ------
    GeometryError
        If the disc stands at the balance point, where no tilt helps.
    """
    rx = layout.arm_m[0]
    if abs(rx) < 1e-3:
        raise GeometryError(
            "the disc stands beside the balance point: tilting the thrust there does not trim it"
        )

    def at(down: float, right: float) -> PowerMoments:
        tilted = PowerLayout(
            **{
                name: getattr(layout, name)
                for name in layout.__dataclass_fields__
                if name not in {"down_rad", "right_rad"}
            },
            down_rad=down,
            right_rad=right,
        )
        return power_moments(
            tilted,
            airspeed_ms=airspeed_ms,
            thrust_n=thrust_n,
            torque_nm=torque_nm,
            diameter_m=diameter_m,
            density_kg_m3=density_kg_m3,
        )

    down = right = 0.0
    straight = at(0.0, 0.0)
    lever = rx * straight.thrust_n
    weight = float(lever @ lever)
    if weight > 0.0:
        for _ in range(3):
            now = at(down, right)
            down = _held(math.sin(down) + float(now.pitch_nm @ lever) / weight, most_rad)
            right = _held(math.sin(right) - float(now.yaw_nm @ lever) / weight, most_rad)
    after = at(down, right)

    def size(moment: Floats) -> float:
        return float(np.sqrt(np.mean(moment**2)))

    return ThrustAngles(
        down_rad=down,
        right_rad=right,
        pitch_before_nm=size(straight.pitch_nm),
        pitch_after_nm=size(after.pitch_nm),
        yaw_before_nm=size(straight.yaw_nm),
        yaw_after_nm=size(after.yaw_nm),
    )


def _held(sine: float, most_rad: float) -> float:
    return math.asin(max(-math.sin(most_rad), min(math.sin(most_rad), sine)))


def full_throttle(
    drive: DriveLine, airspeed_ms: Floats, *, charge: float = 0.8, density_kg_m3: float = 1.225
) -> tuple[Floats, Floats]:
    """Thrust and torque of one propeller at full throttle over airspeed, shape (n,). [N], [N m]."""
    v = np.atleast_1d(np.asarray(airspeed_ms, dtype=np.float64))
    s = settle(
        Circuits.of(drive).repeated(v.size),
        airspeed_ms=v,
        throttle=1.0,
        charge=charge,
        density_kg_m3=density_kg_m3,
    )
    return s.thrust_n, s.torque_nm
