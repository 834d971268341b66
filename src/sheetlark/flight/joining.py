"""From what the air and the drive rooms know to what the equations of motion ask for.

The air room names its drives: an aileron is one drive (both halves apart), an elevon or flaperon two (together and
apart). Here every half is a surface of its own, so that differential, flaperons and V-tails mix as they are built.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import replace
from itertools import pairwise

import numpy as np

from sheetlark.air import AirModel, Coefficients, ControlDerivatives, Derivatives
from sheetlark.errors import SolveError
from sheetlark.flight.derivatives import MassProperties, StabilityDerivatives
from sheetlark.flight.forces import Flow, Propulsion, Six, Vehicle
from sheetlark.flight.mixing import Mixer

APART = ":roll"  # as the air room names the drive that moves both halves apart
_NONE = ControlDerivatives(control="none", lift=0.0, drag=0.0, side=0.0, roll=0.0, pitch=0.0, yaw=0.0)


def _halves(
    drives: tuple[str, ...],
) -> tuple[tuple[str, ...], tuple[tuple[int, int, float, float], ...]]:
    """Names of the surfaces, and for each drive its two places among them and the parts taken of each."""
    names: list[str] = []
    order: list[tuple[int, int, float, float]] = []
    for drive in drives:
        if drive + APART in drives:
            first = len(names)
            names += [f"{drive}_port", f"{drive}_starboard"]
            order.append((first, first + 1, 0.5, 0.5))
        elif drive.endswith(APART):
            first = names.index(f"{drive.removesuffix(APART)}_port")
            order.append((first, first + 1, 0.5, -0.5))
        else:
            order.append((len(names), len(names), 1.0, 0.0))
            names.append(drive)
    return tuple(names), tuple(order)


class AirModelForces:
    """The air room's quick model, asked as the simulation asks.

    A drive with halves that move together and apart becomes ``name_port`` and ``name_starboard``; every other drive
    keeps its name (an aileron is positive with its starboard trailing edge up).

    Parameters
    ----------
    model : AirModel
        Balanced at the balance point.
    density_kg_m3 : float
    torque_per_thrust_m : float
        Shaft torque for thrust, which sets the slipstream's swirl. [m]
    motors : int
        How many share the thrust.
    """

    __slots__ = ("_density", "_model", "_motors", "_order", "_torque", "surfaces")

    def __init__(
        self,
        model: AirModel,
        density_kg_m3: float = 1.225,
        *,
        torque_per_thrust_m: float = 0.0,
        motors: int = 1,
    ) -> None:
        self._model = model
        self._motors = max(motors, 1)
        self._density = density_kg_m3
        self._torque = torque_per_thrust_m
        self.surfaces, self._order = _halves(model.drives)

    @staticmethod
    def drive_angles(model: AirModel, deflections_rad: tuple[float, ...]) -> dict[str, float]:
        """Deflections of the surfaces as the air room's drives, by name. [rad]."""
        _, order = _halves(model.drives)
        d = deflections_rad
        return {drive: d[i] * a + d[j] * b for drive, (i, j, a, b) in zip(model.drives, order, strict=True)}

    def __call__(self, flow: Flow, /) -> Six:
        airspeed_ms, alpha_rad, d, beta_rad, p_rad_s, q_rad_s, r_rad_s, thrust_n = flow
        if airspeed_ms < 1e-3 and thrust_n <= 0.0:
            return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        flat = airspeed_ms * math.cos(beta_rad)
        motion = np.array(
            [
                flat * math.cos(alpha_rad),
                airspeed_ms * math.sin(beta_rad),
                flat * math.sin(alpha_rad),
                p_rad_s,
                q_rad_s,
                r_rad_s,
            ]
        )
        drives = np.array([d[i] * a + d[j] * b for i, j, a, b in self._order])
        thrust = max(0.0, thrust_n) / self._motors
        found = self._model.loads(motion, drives, self._density, thrust, thrust * self._torque).tolist()
        return found[0], found[1], found[2], found[3], found[4], found[5]


def with_servo_directions(vehicle: Vehicle, mixer: Mixer, airspeed_ms: float, alpha_rad: float) -> Mixer:
    """The mixer with every servo turned the way that answers its stick, as a builder sets them at the transmitter.

    Each surface is moved alone, a little, by each stick, and reversed where it does the opposite: pitch stick must lift
    the nose, roll stick bring starboard down, yaw stick bring the nose to starboard.
    """
    air = vehicle.air
    count = len(mixer.surfaces)

    def moment(place: int, angle: float, which: int) -> float:
        moved = tuple(angle if k == place else 0.0 for k in range(count))
        return air(Flow(airspeed_ms, alpha_rad, moved))[which]

    turned = []
    for place, surface in enumerate(mixer.surfaces):
        signs = []
        for which, throw in ((4, surface.pitch_rad), (3, surface.roll_rad), (5, surface.yaw_rad)):
            probe = math.copysign(min(abs(throw), 0.05), throw)
            answer = moment(place, probe, which) - moment(place, -probe, which) if throw else 0.0
            signs.append(-1.0 if answer < 0.0 else 1.0)
        turned.append(
            replace(
                surface,
                pitch_rad=signs[0] * surface.pitch_rad,
                roll_rad=signs[1] * surface.roll_rad,
                yaw_rad=signs[2] * surface.yaw_rad,
            )
        )
    return replace(mixer, surfaces=tuple(turned))


class ThrustTable:
    """Thrust and torque by airspeed and throttle, read between points by straight lines.

    A drive's equilibrium takes far longer than a step of the motion; a table of it does not.

    Parameters
    ----------
    airspeed_ms : sequence, rising, two or more
    throttle : sequence, rising from 0 to 1, two or more
    thrust_n, torque_nm : shape (throttles, airspeeds)

    Raises
    ------
    SolveError
        If sizes do not fit or the marks do not rise.
    """

    __slots__ = ("_speeds", "_throttles", "_thrust", "_torque")

    def __init__(
        self,
        airspeed_ms: list[float],
        throttle: list[float],
        thrust_n: list[list[float]],
        torque_nm: list[list[float]],
    ) -> None:
        for name, marks in (("airspeed", airspeed_ms), ("throttle", throttle)):
            if len(marks) < 2 or any(b <= a for a, b in pairwise(marks)):
                raise SolveError(f"a thrust table's {name} must rise over two marks or more, got {marks}")
        for name, rows in (("thrust", thrust_n), ("torque", torque_nm)):
            if len(rows) != len(throttle) or any(len(row) != len(airspeed_ms) for row in rows):
                raise SolveError(
                    f"a thrust table's {name} must have {len(throttle)} rows of {len(airspeed_ms)} values"
                )
        self._speeds, self._throttles = list(airspeed_ms), list(throttle)
        self._thrust, self._torque = [list(row) for row in thrust_n], [list(row) for row in torque_nm]

    @classmethod
    def of(cls, propulsion: Propulsion, airspeed_ms: list[float], throttle: list[float]) -> ThrustTable:
        """Ask a propulsion at every mark."""
        asked = [[propulsion(v, t) for v in airspeed_ms] for t in throttle]
        return cls(
            airspeed_ms,
            throttle,
            [[pair[0] for pair in row] for row in asked],
            [[pair[1] for pair in row] for row in asked],
        )

    def __call__(self, airspeed_ms: float, throttle: float, /) -> tuple[float, float]:
        i, x = _between(self._speeds, airspeed_ms)
        j, y = _between(self._throttles, throttle)
        thrust, torque = self._thrust, self._torque
        a, b, c, d = (1.0 - x) * (1.0 - y), x * (1.0 - y), (1.0 - x) * y, x * y
        low, high = thrust[j], thrust[j + 1]
        low_q, high_q = torque[j], torque[j + 1]
        return (
            a * low[i] + b * low[i + 1] + c * high[i] + d * high[i + 1],
            a * low_q[i] + b * low_q[i + 1] + c * high_q[i] + d * high_q[i + 1],
        )

    def thrust(self, airspeed_ms: float, throttle: float) -> float:
        """Thrust alone, as the performance figures ask for it. [N]."""
        return self(airspeed_ms, throttle)[0]


def _between(marks: list[float], value: float) -> tuple[int, float]:
    """Interval and place in it; the ends hold beyond the marks."""
    k = min(max(bisect_right(marks, value) - 1, 0), len(marks) - 2)
    part = (value - marks[k]) / (marks[k + 1] - marks[k])
    return k, min(1.0, max(0.0, part))


def stability_derivatives(
    found: Derivatives,
    state: Coefficients,
    alpha_rad: float,
    *,
    elevator: str | None = None,
    aileron: str | None = None,
    rudder: str | None = None,
    thrust_by_speed: float = 0.0,
) -> StabilityDerivatives:
    """The air room's derivatives (body axes for moments and rates) turned into stability axes.

    Parameters
    ----------
    found, state : Derivatives, Coefficients
        At the trimmed condition.
    alpha_rad : float
        Its incidence, by which the axes turn. [rad]
    elevator, aileron, rudder : str, optional
        Drives of these names; left out: none.
    """
    sine, cosine = math.sin(alpha_rad), math.cos(alpha_rad)

    def roll(l_body: float, n_body: float) -> float:
        return l_body * cosine + n_body * sine

    def yaw(l_body: float, n_body: float) -> float:
        return n_body * cosine - l_body * sine

    # by the stability-axis rates: p turns p and r of the body, r likewise
    side_p, side_r = found.side_p * cosine + found.side_r * sine, found.side_r * cosine - found.side_p * sine
    roll_p, roll_r = found.roll_p * cosine + found.roll_r * sine, found.roll_r * cosine - found.roll_p * sine
    yaw_p, yaw_r = found.yaw_p * cosine + found.yaw_r * sine, found.yaw_r * cosine - found.yaw_p * sine
    e = found.control(elevator) if elevator else _NONE
    a = found.control(aileron) if aileron else _NONE
    r = found.control(rudder) if rudder else _NONE
    return StabilityDerivatives(
        CL=state.lift,
        CD=state.drag,
        CL_alpha=found.lift_alpha,
        CD_alpha=found.drag_alpha,
        Cm_alpha=found.pitch_alpha,
        CL_q=found.lift_q,
        Cm_q=found.pitch_q,
        CL_adot=found.lift_alpha_rate,
        Cm_adot=found.pitch_alpha_rate,
        CY_beta=found.side_beta,
        Cl_beta=roll(found.roll_beta, found.yaw_beta),
        Cn_beta=yaw(found.roll_beta, found.yaw_beta),
        CY_p=side_p,
        Cl_p=roll(roll_p, yaw_p),
        Cn_p=yaw(roll_p, yaw_p),
        CY_r=side_r,
        Cl_r=roll(roll_r, yaw_r),
        Cn_r=yaw(roll_r, yaw_r),
        CL_de=e.lift,
        CD_de=e.drag,
        Cm_de=e.pitch,
        CY_da=a.side,
        Cl_da=roll(a.roll, a.yaw),
        Cn_da=yaw(a.roll, a.yaw),
        CY_dr=r.side,
        Cl_dr=roll(r.roll, r.yaw),
        Cn_dr=yaw(r.roll, r.yaw),
        thrust_by_speed=thrust_by_speed,
    )


def in_stability_axes(mass: MassProperties, alpha_rad: float) -> MassProperties:
    """Inertia about axes turned nose down by the incidence, so that x lies along the flight path.

    Ixx' = Ixx c² + Izz s² - Ixz sin 2α, Izz' = Ixx s² + Izz c² + Ixz sin 2α,
    Ixz' = ½ (Ixx - Izz) sin 2α + Ixz cos 2α, with Ixz the integral of x z dm.
    """
    s2, c2 = math.sin(alpha_rad) ** 2, math.cos(alpha_rad) ** 2
    sin2, cos2 = math.sin(2.0 * alpha_rad), math.cos(2.0 * alpha_rad)
    return replace(
        mass,
        ixx_kg_m2=mass.ixx_kg_m2 * c2 + mass.izz_kg_m2 * s2 - mass.ixz_kg_m2 * sin2,
        izz_kg_m2=mass.ixx_kg_m2 * s2 + mass.izz_kg_m2 * c2 + mass.ixz_kg_m2 * sin2,
        ixz_kg_m2=0.5 * (mass.ixx_kg_m2 - mass.izz_kg_m2) * sin2 + mass.ixz_kg_m2 * cos2,
    )
