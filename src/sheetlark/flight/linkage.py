"""The push-rod between servo arm and control horn: a four-bar linkage, solved as it is.

Seen from the side, servo shaft at the origin, x towards the hinge. Arm and horn stand at right angles to the x axis when the
servo is centred unless an offset says otherwise. The rod's length is what joins them then.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from sheetlark.errors import SolveError

SERVO_MARGIN = 1.5  # torque over need for lasting use: 1.5 to 2, common practice, no source
SERVO_TRAVEL_RAD = math.radians(45.0)  # usually to either side: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Linkage:
    """One push-rod.

    arm_m, horn_m : from servo shaft and from hinge line to the rod's holes. [m]
    distance_m, height_m : hinge line from servo shaft, along and up. [m]
    arm_offset_rad, horn_offset_rad : lean towards the hinge at centre. [rad]
    opposite : horn on the other side of the surface than the arm, so that it turns the other way.
    """

    arm_m: float
    horn_m: float
    distance_m: float
    height_m: float = 0.0
    arm_offset_rad: float = 0.0
    horn_offset_rad: float = 0.0
    opposite: bool = False

    def __post_init__(self) -> None:
        if not (self.arm_m > 0.0 and self.horn_m > 0.0 and self.distance_m > 0.0):
            raise SolveError(
                f"arm, horn and distance must be positive, got {self.arm_m * 1e3:.1f}, {self.horn_m * 1e3:.1f} and "
                f"{self.distance_m * 1e3:.1f} mm"
            )

    @property
    def rod_m(self) -> float:
        """Length of the rod, hole to hole. [m]."""
        ax, ay = self._arm(0.0)
        hx, hy = self._horn(self._horn_centre)
        return math.hypot(hx - ax, hy - ay)

    @property
    def _horn_centre(self) -> float:
        side = -1.0 if self.opposite else 1.0
        return side * (0.5 * math.pi - self.horn_offset_rad)

    def _arm(self, servo_rad: float) -> tuple[float, float]:
        angle = 0.5 * math.pi - self.arm_offset_rad - servo_rad
        return self.arm_m * math.cos(angle), self.arm_m * math.sin(angle)

    def _horn(self, angle: float) -> tuple[float, float]:
        return self.distance_m + self.horn_m * math.cos(angle), self.height_m + self.horn_m * math.sin(angle)

    def surface_angle(self, servo_rad: float) -> float:
        """Turn of the surface for a turn of the servo; both positive when the arm leans towards the hinge. [rad].

        Raises
        ------
        SolveError
            If the rod cannot reach: the linkage has gone over its dead point.
        """
        ax, ay = self._arm(servo_rad)
        dx, dy = ax - self.distance_m, ay - self.height_m
        apart = math.hypot(dx, dy)
        cosine = (self.horn_m**2 + apart**2 - self.rod_m**2) / (2.0 * self.horn_m * apart)
        if abs(cosine) > 1.0:
            raise SolveError(
                f"the rod cannot follow {math.degrees(servo_rad):.0f}° of servo: horn {self.horn_m * 1e3:.1f} mm, arm "
                f"{self.arm_m * 1e3:.1f} mm go over their dead point. Use a hole further out on the horn."
            )
        towards = math.atan2(dy, dx)
        centre = self._horn_centre
        swing = math.acos(cosine)
        angle = min(
            (towards + swing, towards - swing),
            key=lambda a: abs(math.remainder(a - centre, 2.0 * math.pi)),
        )
        return -math.remainder(angle - centre, 2.0 * math.pi)

    def gearing(self, servo_rad: float) -> float:
        """Turn of the surface per turn of the servo there, from the rod's lever arms. [-].

        The servo's torque is the hinge moment times this.
        """
        ax, ay = self._arm(servo_rad)
        hx, hy = self._horn(self._horn_centre - self.surface_angle(servo_rad))
        rx, ry = hx - ax, hy - ay
        # lever arm of the rod's line about each shaft (cross product), the rod's length cancels
        about_servo = ax * ry - ay * rx
        about_hinge = (hx - self.distance_m) * ry - (hy - self.height_m) * rx
        if abs(about_hinge) < 1e-9 * self.rod_m:
            raise SolveError(
                f"the rod points at the hinge line at {math.degrees(servo_rad):.0f}° of servo; it has no lever there"
            )
        return about_servo / about_hinge

    def servo_for(self, surface_rad: float, limit_rad: float = math.radians(80.0)) -> float:
        """Servo turn that gives a surface turn. [rad].

        Raises
        ------
        SolveError
            If the servo's limit does not give it.
        """
        sign = math.copysign(1.0, surface_rad) * (-1.0 if self.opposite else 1.0)
        low, high = 0.0, limit_rad
        for _ in range(60):
            middle = 0.5 * (low + high)
            try:
                reached = abs(self.surface_angle(sign * middle)) >= abs(surface_rad)
            except SolveError:
                reached = True
            if reached:
                high = middle
            else:
                low = middle
        try:
            found = self.surface_angle(sign * high)
        except SolveError:
            found = math.inf
        if abs(found - surface_rad) > 1e-6:
            raise SolveError(
                f"the linkage does not give {math.degrees(surface_rad):.0f}° within {math.degrees(limit_rad):.0f}° of servo: "
                "use a hole further out on the servo arm or further in on the horn"
            )
        return sign * high


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleChoice:
    """Holes that give the throws, and what they cost.

    servo_up_rad, servo_down_rad : servo turns needed. travel_used : the larger over what the servo has.
    servo_torque_nm : at the worse end, without margin.
    """

    arm_m: float
    horn_m: float
    servo_up_rad: float
    servo_down_rad: float
    travel_used: float
    servo_torque_nm: float


def best_holes(
    *,
    arm_holes_m: tuple[float, ...],
    horn_holes_m: tuple[float, ...],
    distance_m: float,
    height_m: float = 0.0,
    up_rad: float,
    down_rad: float,
    hinge_moment_nm: float,
    travel_rad: float = SERVO_TRAVEL_RAD,
) -> HoleChoice:
    """Hole on the arm and hole on the horn that give both throws with the least torque on the servo.

    The least torque is the same as the fullest use of the servo's travel, which also makes the least play at the surface.

    Raises
    ------
    SolveError
        If no pair of holes reaches both throws; the message says which throw the best pair would give.
    """
    best: HoleChoice | None = None
    widest = 0.0
    for arm, horn in itertools.product(arm_holes_m, horn_holes_m):
        linkage = Linkage(arm_m=arm, horn_m=horn, distance_m=distance_m, height_m=height_m)
        try:
            widest = max(widest, abs(linkage.surface_angle(travel_rad)))
        except SolveError:
            continue
        try:
            up, down = linkage.servo_for(up_rad, travel_rad), linkage.servo_for(-down_rad, travel_rad)
        except SolveError:
            continue
        torque = abs(hinge_moment_nm) * max(abs(linkage.gearing(up)), abs(linkage.gearing(down)))
        choice = HoleChoice(
            arm_m=arm,
            horn_m=horn,
            servo_up_rad=up,
            servo_down_rad=down,
            travel_used=max(abs(up), abs(down)) / travel_rad,
            servo_torque_nm=torque,
        )
        if best is None or choice.servo_torque_nm < best.servo_torque_nm:
            best = choice
    if best is None:
        raise SolveError(
            f"no pair of holes gives {math.degrees(up_rad):.0f}° up and {math.degrees(down_rad):.0f}° down within "
            f"{math.degrees(travel_rad):.0f}° of servo; the widest pair gives {math.degrees(widest):.0f}°. "
            "Use a longer servo arm, a horn hole nearer the hinge, or less throw."
        )
    return best
