"""Non-linear motion of a rigid model in six degrees of freedom.

Position north, east and height; attitude as a unit quaternion from flight axes to the ground's; velocity and rates
in flight axes. Fourth-order Runge-Kutta with a fixed step. Controls, thrust and gusts hold through a step; the air's
forces, gravity and the wheels are taken anew at each of its four stages. The inner loop is plain floats: for
thirteen numbers that is some ten times quicker than arrays.

References
----------
.. [1] B. L. Stevens, F. L. Lewis, "Aircraft Control and Simulation", 2nd ed., 2003, ch. 1: the rigid-body
   equations, with cross inertia and quaternion (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from sheetlark.flight.forces import Flow, Vehicle

Floats: TypeAlias = npt.NDArray[np.float64]
# down position is kept (not height) so that the axes stay right-handed
State: TypeAlias = tuple[
    float, float, float, float, float, float, float, float, float, float, float, float, float
]
Rates: TypeAlias = Callable[[State], State]

_ROLLING = 0.06  # rolling resistance of small wheels on short grass: common practice, no source
_SIDE_GRIP = 0.5  # most side force over load on a wheel: common practice, no source
# The tail feels a change of downwash only while the wing's lift follows its incidence: whole up to the first angle,
# gone at the second, about the stall of a flat sheet and its end (our choice).
_LAG_WHOLE_RAD, _LAG_GONE_RAD = math.radians(10.0), math.radians(22.0)
_QUICKEST_RAD_S = 60.0  # of a point on the ground; a step of 1/50 s follows it


def attitude(bank_rad: float, pitch_rad: float, heading_rad: float) -> tuple[float, float, float, float]:
    """Unit quaternion of bank, pitch and heading (heading first, then pitch, then bank)."""
    cb, sb = math.cos(0.5 * bank_rad), math.sin(0.5 * bank_rad)
    cp, sp = math.cos(0.5 * pitch_rad), math.sin(0.5 * pitch_rad)
    ch, sh = math.cos(0.5 * heading_rad), math.sin(0.5 * heading_rad)
    return (
        cb * cp * ch + sb * sp * sh,
        sb * cp * ch - cb * sp * sh,
        cb * sp * ch + sb * cp * sh,
        cb * cp * sh - sb * sp * ch,
    )


def rotation(
    e0: float, e1: float, e2: float, e3: float
) -> tuple[float, float, float, float, float, float, float, float, float]:
    """Flight axes to ground axes, row by row."""
    return (
        e0 * e0 + e1 * e1 - e2 * e2 - e3 * e3,
        2.0 * (e1 * e2 - e0 * e3),
        2.0 * (e1 * e3 + e0 * e2),
        2.0 * (e1 * e2 + e0 * e3),
        e0 * e0 - e1 * e1 + e2 * e2 - e3 * e3,
        2.0 * (e2 * e3 - e0 * e1),
        2.0 * (e1 * e3 - e0 * e2),
        2.0 * (e2 * e3 + e0 * e1),
        e0 * e0 - e1 * e1 - e2 * e2 + e3 * e3,
    )


def _spring(vehicle: Vehicle, point: tuple[float, float, float]) -> tuple[float, float]:
    """Stiffness and damping of the ground under one point. [N/m], [N s/m].

    Two wheels sag by 4 mm standing, damped at two thirds of critical; a point far out, where the model is easily
    turned, is softer, so that its own swing stays slow enough for the step.
    """
    mass = vehicle.mass
    x, y, _ = point
    felt = 1.0 / (1.0 / mass.mass_kg + x * x / mass.iyy_kg_m2 + y * y / mass.ixx_kg_m2)
    stiffness = min(mass.mass_kg * vehicle.gravity_ms2 / (0.004 * 2.0), felt * _QUICKEST_RAD_S**2)
    return stiffness, 2.0 * 0.65 * math.sqrt(stiffness * min(felt, 0.5 * mass.mass_kg))


class Motion:
    """The equations of motion of one vehicle; set controls, thrust and moving air, then ask for rates or a step."""

    def __init__(self, vehicle: Vehicle) -> None:
        self.deflections: tuple[float, ...] = (0.0,) * len(vehicle.air.surfaces)
        self.thrust_n = 0.0
        self.torque_nm = 0.0
        self.wind: tuple[float, float, float] = (0.0, 0.0, 0.0)  # north, east, down
        self.gust: tuple[float, float, float, float, float, float] = (0.0,) * 6  # flight axes and rates
        self.vehicle = vehicle
        self.rates = self._equations()

    def set_power(self, airspeed_ms: float, throttle: float) -> None:
        """Thrust and torque for the next step."""
        self.thrust_n, self.torque_nm = self.vehicle.propulsion(airspeed_ms, throttle)

    def _equations(self) -> Rates:
        vehicle = self.vehicle
        air = vehicle.air
        mass = vehicle.mass
        inverse_mass = 1.0 / mass.mass_kg
        gravity = vehicle.gravity_ms2
        ixx, iyy, izz, ixz = mass.ixx_kg_m2, mass.iyy_kg_m2, mass.izz_kg_m2, mass.ixz_kg_m2
        spread = 1.0 / (ixx * izz - ixz * ixz)
        inverse_iyy = 1.0 / iyy
        tx, ty, tz, tl, tm, tn = vehicle.thrust_line.per_newton()
        ql, qm, qn = vehicle.thrust_line.per_torque()
        wheels = vehicle.wheels
        lag = vehicle.lag
        # lift and pitching moment per rate of incidence and airspeed [N s²/m, N s²], of ½ρ V² S c/2V
        late = 0.25 * vehicle.density_kg_m3 * vehicle.reference.area_m2 * vehicle.reference.chord_m
        late_lift = late * lag.lift if lag else 0.0
        late_pitch = late * lag.pitch * vehicle.reference.chord_m if lag else 0.0
        reach = max((math.hypot(*wheel) for wheel in wheels), default=0.0) + 0.01
        points = tuple((*point, *_spring(vehicle, point)) for point in wheels)
        sqrt, atan2, asin = math.sqrt, math.atan2, math.asin

        def rates(s: State) -> State:
            _, _, down, e0, e1, e2, e3, u, v, w, p, q, r = s
            r11 = e0 * e0 + e1 * e1 - e2 * e2 - e3 * e3
            r12 = 2.0 * (e1 * e2 - e0 * e3)
            r13 = 2.0 * (e1 * e3 + e0 * e2)
            r21 = 2.0 * (e1 * e2 + e0 * e3)
            r22 = e0 * e0 - e1 * e1 + e2 * e2 - e3 * e3
            r23 = 2.0 * (e2 * e3 - e0 * e1)
            r31 = 2.0 * (e1 * e3 - e0 * e2)
            r32 = 2.0 * (e2 * e3 + e0 * e1)
            r33 = e0 * e0 - e1 * e1 - e2 * e2 + e3 * e3
            wn, we, wd = self.wind
            gu, gv, gw, gp, gq, gr = self.gust
            ua = u - (r11 * wn + r21 * we + r31 * wd) - gu
            va = v - (r12 * wn + r22 * we + r32 * wd) - gv
            wa = w - (r13 * wn + r23 * we + r33 * wd) - gw
            airspeed = sqrt(ua * ua + va * va + wa * wa)
            alpha = atan2(wa, ua) if airspeed > 1e-6 else 0.0
            beta = asin(max(-1.0, min(1.0, va / airspeed))) if airspeed > 1e-6 else 0.0
            thrust = self.thrust_n
            torque = self.torque_nm
            X, Y, Z, L, M, N = air(
                Flow(airspeed, alpha, self.deflections, beta, p - gp, q - gq, r - gr, thrust)
            )
            X += thrust * tx
            Y += thrust * ty
            Z += thrust * tz
            L += thrust * tl + torque * ql
            M += thrust * tm + torque * qm
            N += thrust * tn + torque * qn
            if wheels and -down < reach:
                for x, y, z, stiffness, damping in points:
                    depth = down + r31 * x + r32 * y + r33 * z
                    if depth > 0.0:
                        # velocity of the wheel over the ground, in flight axes
                        xu, yv, zw = u + q * z - r * y, v + r * x - p * z, w + p * y - q * x
                        sinking = r31 * xu + r32 * yv + r33 * zw
                        load = stiffness * depth + damping * sinking
                        if load > 0.0:
                            rolling = -_ROLLING * load * max(-1.0, min(1.0, xu / 0.2))
                            side = -_SIDE_GRIP * load * max(-1.0, min(1.0, yv / 0.5))
                            fx, fy, fz = rolling - r31 * load, side - r32 * load, -r33 * load
                            X += fx
                            Y += fy
                            Z += fz
                            L += y * fz - z * fy
                            M += z * fx - x * fz
                            N += x * fy - y * fx
            if lag is not None and airspeed > 1e-6 and abs(alpha) < _LAG_GONE_RAD:
                # The lag's lift slows the very change of incidence that makes it: solved, not guessed. In air that
                # moves with steady speed the velocity against it changes as the velocity itself does.
                share = min(1.0, (_LAG_GONE_RAD - abs(alpha)) / (_LAG_GONE_RAD - _LAG_WHOLE_RAD))
                ax = X * inverse_mass + gravity * r31 + r * va - q * wa
                az = Z * inverse_mass + gravity * r33 + q * ua - p * va
                flat = ua * ua + wa * wa
                per_rate = share * late_lift * airspeed
                change = (ua * az - wa * ax) / (flat + per_rate * inverse_mass * sqrt(flat))
                X += per_rate * change * wa / sqrt(flat)
                Z -= per_rate * change * ua / sqrt(flat)
                M += share * late_pitch * airspeed * change
            # rates of rotation: inertia times their change is moment less the gyroscopic part
            hl = L - q * (izz * r - ixz * p) + r * iyy * q
            hm = M - r * (ixx * p - ixz * r) + p * (izz * r - ixz * p)
            hn = N - p * iyy * q + q * (ixx * p - ixz * r)
            # a little pull back to unit length undoes rounding of the quaternion
            pull = 0.5 * (1.0 - (e0 * e0 + e1 * e1 + e2 * e2 + e3 * e3))
            return (
                r11 * u + r12 * v + r13 * w,
                r21 * u + r22 * v + r23 * w,
                r31 * u + r32 * v + r33 * w,
                -0.5 * (e1 * p + e2 * q + e3 * r) + pull * e0,
                0.5 * (e0 * p + e2 * r - e3 * q) + pull * e1,
                0.5 * (e0 * q + e3 * p - e1 * r) + pull * e2,
                0.5 * (e0 * r + e1 * q - e2 * p) + pull * e3,
                X * inverse_mass + gravity * r31 + r * v - q * w,
                Y * inverse_mass + gravity * r32 + p * w - r * u,
                Z * inverse_mass + gravity * r33 + q * u - p * v,
                (izz * hl + ixz * hn) * spread,
                hm * inverse_iyy,
                (ixz * hl + ixx * hn) * spread,
            )

        return rates

    def step(self, s: State, h: float) -> State:
        """One Runge-Kutta step of ``h`` seconds."""
        rates = self.rates
        half = 0.5 * h
        k1 = rates(s)
        k2 = rates(_ahead(s, k1, half))
        k3 = rates(_ahead(s, k2, half))
        k4 = rates(_ahead(s, k3, h))
        sixth = h / 6.0
        return tuple(  # type: ignore[return-value]  # thirteen in, thirteen out
            [x + sixth * (a + 2.0 * (b + c) + d) for x, a, b, c, d in zip(s, k1, k2, k3, k4, strict=True)]
        )


def _ahead(s: State, k: State, h: float) -> State:
    a0, a1, a2, a3, a4, a5, a6, a7, a8, a9, a10, a11, a12 = s
    b0, b1, b2, b3, b4, b5, b6, b7, b8, b9, b10, b11, b12 = k
    return (
        a0 + h * b0,
        a1 + h * b1,
        a2 + h * b2,
        a3 + h * b3,
        a4 + h * b4,
        a5 + h * b5,
        a6 + h * b6,
        a7 + h * b7,
        a8 + h * b8,
        a9 + h * b9,
        a10 + h * b10,
        a11 + h * b11,
        a12 + h * b12,
    )


def energy(vehicle: Vehicle, state: State) -> float:
    """Kinetic (travel and spin) and potential energy above height zero. [J]."""
    mass = vehicle.mass
    _, _, down, _, _, _, _, u, v, w, p, q, r = state
    spin = mass.ixx_kg_m2 * p * p + mass.iyy_kg_m2 * q * q + mass.izz_kg_m2 * r * r
    spin -= 2.0 * mass.ixz_kg_m2 * p * r
    return 0.5 * mass.mass_kg * (u * u + v * v + w * w) + 0.5 * spin - vehicle.weight_n * down


def linearised(
    vehicle: Vehicle, deflections_rad: tuple[float, ...], thrust_n: float, torque_nm: float, state: State
) -> Floats:
    """The full eight-state matrix of the non-linear equations about a state, by central differences.

    Nothing is left out: lengthwise and sideways motion couple here if thrust, torque or an uneven model make them.

    Returns
    -------
    ndarray, shape (8, 8)
        States u, w, q, theta, v, p, r, phi, as :meth:`sheetlark.flight.modes.LinearModel.full`.
    """
    motion = Motion(vehicle)
    motion.deflections, motion.thrust_n, motion.torque_nm = deflections_rad, thrust_n, torque_nm
    base = np.array(state)
    speed = float(np.linalg.norm(base[7:10]))
    e0, e1, e2, e3 = state[3:7]
    r = rotation(e0, e1, e2, e3)
    bank, pitch = math.atan2(r[7], r[8]), math.asin(max(-1.0, min(1.0, -r[6])))
    heading = math.atan2(r[3], r[0])
    steps = np.array([1e-4 * speed, 1e-4 * speed, 1e-3, 1e-4, 1e-4 * speed, 1e-3, 1e-3, 1e-4])

    def change(offset: Floats) -> Floats:
        s = base.copy()
        s[[7, 9, 11, 8, 10, 12]] += offset[[0, 1, 2, 4, 5, 6]]
        phi, theta = bank + offset[7], pitch + offset[3]
        s[3:7] = attitude(phi, theta, heading)
        d = motion.rates(tuple(s.tolist()))
        p, q, rr = s[10:13]
        theta_rate = q * math.cos(phi) - rr * math.sin(phi)
        phi_rate = p + (q * math.sin(phi) + rr * math.cos(phi)) * math.tan(theta)
        return np.array([d[7], d[9], d[11], theta_rate, d[8], d[10], d[12], phi_rate])

    matrix = np.empty((8, 8))
    for k in range(8):
        offset = np.zeros(8)
        offset[k] = steps[k]
        matrix[:, k] = (change(offset) - change(-offset)) / (2.0 * steps[k])
    return matrix
