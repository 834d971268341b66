"""What the equations of motion ask of the air and of the motor, and a model of the air made from derivatives.

The air answers in flight axes (x forward, y to starboard, z down) about the balance point, without the thrust
itself, which the motion adds along the thrust line.

References
----------
.. [1] G. Kirchhoff and Lord Rayleigh's free-streamline plate: normal force coefficient
   2 π sin a / (4 + π sin a); as given in S. F. Hoerner, "Fluid-Dynamic Lift", 1975 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple, Protocol, TypeAlias

from sheetlark.errors import SolveError
from sheetlark.flight.derivatives import FlightState, MassProperties, Reference, StabilityDerivatives

Six: TypeAlias = tuple[float, float, float, float, float, float]


class Flow(NamedTuple):
    """How the model meets the air: a tuple, because the motion asks for one four times a step.

    alpha_rad, beta_rad : incidence and sideslip, any (±180°)
    deflections_rad : of the air's ``surfaces``, in their order: positive is trailing edge down, and for an upright
        surface trailing edge to port
    p_rad_s, q_rad_s, r_rad_s : turning about the flight axes
    thrust_n : lets the slipstream act on what it washes
    """

    airspeed_ms: float
    alpha_rad: float
    deflections_rad: tuple[float, ...]
    beta_rad: float = 0.0
    p_rad_s: float = 0.0
    q_rad_s: float = 0.0
    r_rad_s: float = 0.0
    thrust_n: float = 0.0


class AirForces(Protocol):
    """The air's forces and moments on the model, in still air of one density.

    Gives ``(X, Y, Z, L, M, N)`` in N and N m, flight axes about the balance point; the thrust itself is not in the
    answer. It must answer for airspeed down to zero.
    """

    @property
    def surfaces(self) -> tuple[str, ...]:
        """Names of the control surfaces, in the order of the deflections."""
        ...

    def __call__(self, flow: Flow, /) -> Six: ...


class Propulsion(Protocol):
    """Thrust [N] and shaft torque [N m] at an airspeed [m/s] and a throttle (0 to 1); thrust may be negative."""

    def __call__(self, airspeed_ms: float, throttle: float, /) -> tuple[float, float]: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class ThrustLine:
    """Where the propeller pulls, in flight axes from the balance point, and which way.

    down_rad, right_rad : the shaft's front end points down and to starboard by these. [rad]
    clockwise : turns clockwise seen from behind; its reaction then rolls the model to port.
    """

    x_m: float = 0.0
    y_m: float = 0.0
    z_m: float = 0.0
    down_rad: float = 0.0
    right_rad: float = 0.0
    clockwise: bool = True

    def per_newton(self) -> Six:
        """Force and moment of one newton of thrust."""
        fx = math.cos(self.down_rad) * math.cos(self.right_rad)
        fy = math.cos(self.down_rad) * math.sin(self.right_rad)
        fz = math.sin(self.down_rad)
        return (
            fx,
            fy,
            fz,
            self.y_m * fz - self.z_m * fy,
            self.z_m * fx - self.x_m * fz,
            self.x_m * fy - self.y_m * fx,
        )

    def per_torque(self) -> tuple[float, float, float]:
        """Moment on the model of one newton metre of shaft torque."""
        sign = -1.0 if self.clockwise else 1.0
        return (
            sign * math.cos(self.down_rad) * math.cos(self.right_rad),
            sign * math.cos(self.down_rad) * math.sin(self.right_rad),
            sign * math.sin(self.down_rad),
        )


def no_thrust(_airspeed_ms: float, _throttle: float, /) -> tuple[float, float]:
    """A glider's propulsion."""
    return 0.0, 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DownwashLag:
    """What the tail feels late: the wing's downwash of a moment ago.

    lift, pitch : lift and pitching moment coefficients per (d alpha/dt) c/2V, as CL_adot and Cm_adot. [1/rad]
    """

    lift: float
    pitch: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """All that moves: mass, air, motor, and the points that may touch the ground.

    lag : downwash that reaches the tail late; None leaves it out. It is no part of ``air``, since it depends on the
        acceleration that the air causes.
    wheels : points in flight axes from the balance point [m]; none means it is thrown by hand and lands on
        its belly.
    belly_z_m : the lowest point of the body below the balance point. [m]
    """

    mass: MassProperties
    reference: Reference
    air: AirForces
    propulsion: Propulsion
    thrust_line: ThrustLine = ThrustLine()
    lag: DownwashLag | None = None
    density_kg_m3: float = 1.225
    gravity_ms2: float = 9.80665
    wheels: tuple[tuple[float, float, float], ...] = ()
    belly_z_m: float = 0.04

    @property
    def weight_n(self) -> float:
        return self.mass.mass_kg * self.gravity_ms2


class DerivativeForces:
    """The air as a set of derivatives, with a soft stall; incidence counts from the state they were made at.

    Three surfaces: ``elevator``, ``aileron``, ``rudder``, acting as the derivatives' signs say.

    Parameters
    ----------
    derivatives : StabilityDerivatives
        Rate-of-incidence derivatives must be zero: a force that depends on the acceleration it causes is the
        motion's to solve; give them as the vehicle's :class:`DownwashLag`.
    reference : Reference
    state : FlightState
        Where they were made: gives the speed for lift equal to weight, and the density.
    stall_rad : float, optional
        Incidence above zero lift at which half the lift slope is gone. Left out: never stalls.
    softness_rad : float
        How gently it goes. [rad]

    Raises
    ------
    SolveError
        If rate-of-incidence derivatives are given, or the lift slope is not positive.

    Notes
    -----
    Past the stall the flow is that of a plate with a free streamline [1]_, whose force acts at half chord, so the
    nose drops.
    """

    __slots__ = ("_d", "_density", "_reference", "_softness", "_stall", "_zero")

    def __init__(
        self,
        derivatives: StabilityDerivatives,
        reference: Reference,
        state: FlightState,
        *,
        stall_rad: float | None = None,
        softness_rad: float = math.radians(1.2),
    ) -> None:
        if derivatives.CL_adot != 0.0 or derivatives.Cm_adot != 0.0:
            raise SolveError(
                f"rate-of-incidence derivatives (CL_adot {derivatives.CL_adot:g}, Cm_adot {derivatives.Cm_adot:g}) "
                "must be zero in the air's forces; give them as the vehicle's lag instead"
            )
        if not derivatives.CL_alpha > 0.0:
            raise SolveError(f"the lift slope must be positive, got {derivatives.CL_alpha:g} per rad")
        self._d = derivatives
        self._reference = reference
        self._density = state.density_kg_m3
        self._stall = stall_rad
        self._softness = softness_rad
        self._zero = derivatives.CL / derivatives.CL_alpha

    @property
    def surfaces(self) -> tuple[str, ...]:
        return ("elevator", "aileron", "rudder")

    def __call__(self, flow: Flow, /) -> Six:
        # the thrust is left out: these derivatives know no slipstream
        airspeed_ms, alpha_rad, deflections_rad, beta_rad, p_rad_s, q_rad_s, r_rad_s, _ = flow
        d = self._d
        V = max(0.1, airspeed_ms)
        c, b = self._reference.chord_m, self._reference.span_m
        q_area = 0.5 * self._density * airspeed_ms * airspeed_ms * self._reference.area_m2
        half_chord, half_span = c / (2.0 * V), b / (2.0 * V)
        ph, qh, rh = p_rad_s * half_span, q_rad_s * half_chord, r_rad_s * half_span
        de, da, dr = deflections_rad

        lift = d.CL + d.CL_alpha * alpha_rad
        drag = d.CD + d.CD_alpha * alpha_rad
        moment = d.Cm_alpha * alpha_rad
        if self._stall is not None:
            incidence = alpha_rad + self._zero
            # drag polar through the state with the slope given: quadratic in lift keeps it positive
            bend = d.CD_alpha / (2.0 * d.CL_alpha * d.CL) if d.CL > 0.0 else 0.0
            drag = max(d.CD + bend * (lift * lift - d.CL * d.CL), 0.3 * d.CD)
            past = (abs(incidence) - self._stall) / self._softness
            gone = 1.0 / (1.0 + math.exp(-past)) if past < 40.0 else 1.0
            sine = math.sin(incidence)
            plate = 2.0 * math.pi * sine / (4.0 + math.pi * abs(sine))
            lift += gone * (plate * math.cos(incidence) - lift)
            drag += gone * (abs(plate * sine) + d.CD - drag)
            moment += gone * (-0.25 * plate - moment)
        lift += d.CL_q * qh + d.CL_de * de
        drag += d.CD_de * de
        moment += d.Cm_q * qh + d.Cm_de * de
        sin, cos = math.sin(alpha_rad), math.cos(alpha_rad)
        return (
            q_area * (lift * sin - drag * cos),
            q_area * (d.CY_beta * beta_rad + d.CY_p * ph + d.CY_r * rh + d.CY_da * da + d.CY_dr * dr),
            q_area * (-lift * cos - drag * sin),
            q_area * b * (d.Cl_beta * beta_rad + d.Cl_p * ph + d.Cl_r * rh + d.Cl_da * da + d.Cl_dr * dr),
            q_area * c * moment,
            q_area * b * (d.Cn_beta * beta_rad + d.Cn_p * ph + d.Cn_r * rh + d.Cn_da * da + d.Cn_dr * dr),
        )
