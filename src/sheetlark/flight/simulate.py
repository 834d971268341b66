"""A flight: start, pilot, controls with their lag, moving air, and the record of it.

The equations are in :mod:`sheetlark.flight.motion`. Controls, thrust and gusts hold through a step.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol, TypeAlias

import numpy as np
import numpy.typing as npt

from sheetlark.errors import SolveError
from sheetlark.flight.forces import Vehicle
from sheetlark.flight.gust import STILL, Wind
from sheetlark.flight.mixing import Mixer
from sheetlark.flight.motion import Motion, State, attitude, rotation

Floats: TypeAlias = npt.NDArray[np.float64]

STEP_S = 1.0 / 50.0
SERVO_LAG_S = 0.06  # first-order lag of a small servo, about 0.1 s for 60°: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """Where and how a flight begins. Angles in radians, speeds over the ground.

    heading_rad : 0 is north. pitch_rad, bank_rad : attitude. path_rad : angle of the flight path above the
    horizon, along the heading.
    """

    height_m: float
    speed_ms: float
    heading_rad: float = 0.0
    pitch_rad: float = 0.0
    bank_rad: float = 0.0
    path_rad: float = 0.0
    p_rad_s: float = 0.0
    q_rad_s: float = 0.0
    r_rad_s: float = 0.0
    sideslip_ms: float = 0.0

    def state(self) -> State:
        """The thirteen numbers of the motion."""
        quaternion = attitude(self.bank_rad, self.pitch_rad, self.heading_rad)
        north = self.speed_ms * math.cos(self.path_rad) * math.cos(self.heading_rad)
        east = self.speed_ms * math.cos(self.path_rad) * math.sin(self.heading_rad)
        down = -self.speed_ms * math.sin(self.path_rad)
        r11, r12, r13, r21, r22, r23, r31, r32, r33 = rotation(*quaternion)
        return (
            0.0,
            0.0,
            -self.height_m,
            *quaternion,
            r11 * north + r21 * east + r31 * down,
            r12 * north + r22 * east + r32 * down + self.sideslip_ms,
            r13 * north + r23 * east + r33 * down,
            self.p_rad_s,
            self.q_rad_s,
            self.r_rad_s,
        )


class View(Protocol):
    """What a pilot can see of the model at one instant; every angle in radians."""

    time_s: float
    height_m: float
    climb_ms: float
    airspeed_ms: float
    alpha_rad: float
    beta_rad: float
    bank_rad: float
    pitch_rad: float
    heading_rad: float
    p_rad_s: float
    q_rad_s: float
    r_rad_s: float


class Pilot(Protocol):
    """Moves the sticks: ``(pitch, roll, yaw, throttle)``; sets ``finished`` when the flight is over."""

    finished: bool

    def __call__(self, view: View, /) -> tuple[float, float, float, float]: ...


@dataclass(slots=True)
class _Instant:
    """One view, used again at every step: making three thousand of them costs more than it tells."""

    time_s: float = 0.0
    height_m: float = 0.0
    climb_ms: float = 0.0
    airspeed_ms: float = 0.0
    alpha_rad: float = 0.0
    beta_rad: float = 0.0
    bank_rad: float = 0.0
    pitch_rad: float = 0.0
    heading_rad: float = 0.0
    p_rad_s: float = 0.0
    q_rad_s: float = 0.0
    r_rad_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class History:
    """A flight as it went, every array of shape (n,) and the last instant included.

    north_m, east_m, height_m : position of the balance point. [m]
    airspeed_ms, climb_ms : [m/s]
    alpha_rad, beta_rad, bank_rad, pitch_rad, heading_rad : heading grows past ±π without a jump. [rad]
    p_rad_s, q_rad_s, r_rad_s : [rad/s]
    pitch_stick, roll_stick, yaw_stick : as the servos stand, -1 to 1. throttle : 0 to 1. thrust_n : [N]
    landed : it touched the ground (or, with wheels, the pilot ended the flight there).
    """

    time_s: Floats
    north_m: Floats
    east_m: Floats
    height_m: Floats
    airspeed_ms: Floats
    climb_ms: Floats
    alpha_rad: Floats
    beta_rad: Floats
    bank_rad: Floats
    pitch_rad: Floats
    heading_rad: Floats
    p_rad_s: Floats
    q_rad_s: Floats
    r_rad_s: Floats
    pitch_stick: Floats
    roll_stick: Floats
    yaw_stick: Floats
    throttle: Floats
    thrust_n: Floats
    landed: bool
    final: State


_COLUMNS = tuple(name for name in History.__dataclass_fields__ if name not in {"landed", "final"})


def fly(
    vehicle: Vehicle,
    mixer: Mixer,
    start: Start,
    pilot: Pilot,
    *,
    seconds: float = 60.0,
    wind: Wind = STILL,
    step_s: float = STEP_S,
    log_every: int = 2,
    watch: Callable[[float], None] | None = None,
) -> History:
    """Fly until the pilot is finished, the belly touches, or the time is over.

    Parameters
    ----------
    watch : callable, optional
        Told the time flown, once for every second of it; it may raise to stop.

    Raises
    ------
    SolveError
        If the mixer's surfaces are not those of the air, or the motion leaves all bounds (a step too long for a
        very quick model).
    """
    names = tuple(surface.name for surface in mixer.surfaces)
    if names != tuple(vehicle.air.surfaces):
        raise SolveError(
            f"the mixer moves {', '.join(names) or 'nothing'}, the air knows "
            f"{', '.join(vehicle.air.surfaces) or 'nothing'}; give them the same surfaces in the same order"
        )
    motion = Motion(vehicle)
    view = _Instant()
    state = start.state()
    pitch = roll = yaw = throttle = 0.0
    # sticks start where the pilot holds them, not at centre
    first = True
    lag = 1.0 - math.exp(-step_s / SERVO_LAG_S)
    turned, heading_before = 0.0, start.heading_rad
    rows: list[tuple[float, ...]] = []
    landed = False
    belly = 0.0 if vehicle.wheels else vehicle.belly_z_m
    steps = round(seconds / step_s)
    each_second = max(1, round(1.0 / step_s))
    for n in range(steps + 1):
        if watch is not None and n % each_second == 0:
            watch(n * step_s)
        north, east, down, e0, e1, e2, e3, u, v, w, p, q, r = state
        r11, r12, r13, r21, r22, r23, r31, r32, r33 = rotation(e0, e1, e2, e3)
        steady, gust = wind.at(n * step_s, -down)
        wn, we, wd = steady
        ua = u - (r11 * wn + r21 * we + r31 * wd) - gust[0]
        va = v - (r12 * wn + r22 * we + r32 * wd) - gust[1]
        wa = w - (r13 * wn + r23 * we + r33 * wd) - gust[2]
        airspeed = math.sqrt(ua * ua + va * va + wa * wa)
        if not airspeed < 1e3:
            raise SolveError(
                f"the flight left all bounds after {n * step_s:.2f} s (airspeed {airspeed:g} m/s); "
                f"try a step shorter than {step_s * 1e3:.1f} ms"
            )
        heading = math.atan2(r21, r11)
        turned += math.remainder(heading - heading_before, 2.0 * math.pi)
        heading_before = heading
        view.time_s = n * step_s
        view.height_m = -down
        view.climb_ms = -(r31 * u + r32 * v + r33 * w)
        view.airspeed_ms = airspeed
        view.alpha_rad = math.atan2(wa, ua)
        view.beta_rad = math.asin(max(-1.0, min(1.0, va / airspeed))) if airspeed > 1e-6 else 0.0
        view.bank_rad = math.atan2(r32, r33)
        view.pitch_rad = math.asin(max(-1.0, min(1.0, -r31)))
        view.heading_rad = start.heading_rad + turned
        view.p_rad_s, view.q_rad_s, view.r_rad_s = p, q, r
        asked = pilot(view)
        if first:
            pitch, roll, yaw, throttle = asked
            first = False
        pitch += lag * (asked[0] - pitch)
        roll += lag * (asked[1] - roll)
        yaw += lag * (asked[2] - yaw)
        throttle += lag * (asked[3] - throttle)
        motion.deflections = mixer.deflections(pitch, roll, yaw)
        motion.wind, motion.gust = steady, gust
        motion.set_power(airspeed, max(0.0, min(1.0, throttle)))
        landed = -down <= belly and n > 0
        over = pilot.finished or landed or n == steps
        if over or n % log_every == 0:
            rows.append(
                (
                    view.time_s,
                    north,
                    east,
                    -down,
                    airspeed,
                    view.climb_ms,
                    view.alpha_rad,
                    view.beta_rad,
                    view.bank_rad,
                    view.pitch_rad,
                    view.heading_rad,
                    p,
                    q,
                    r,
                    pitch,
                    roll,
                    yaw,
                    throttle,
                    motion.thrust_n,
                )
            )
        if over:
            break
        state = motion.step(state, step_s)
    columns = np.array(rows, dtype=np.float64).T
    columns.setflags(write=False)
    arrays = dict(zip(_COLUMNS, columns, strict=True))
    return History(**arrays, landed=landed, final=state)
