"""The small motions of a model about steady flight: what they are called, how fast, how damped, in words.

Small-disturbance equations in stability axes. Lengthwise (u, w, q, theta) and sideways (v, p, r, phi) motion
do not couple for a symmetric model, so the full six-degree matrix is two blocks. With the heading and the
position left out (they have no effect on the rest) that is eight roots.

Words used here. *Short period*: the quick nose-up, nose-down motion at nearly constant speed. *Phugoid*: the slow
exchange of height and speed. *Dutch roll*: yaw and roll together, out of step. *Roll*: how fast a roll rate settles.
*Spiral*: how a bank left alone grows or fades.

References
----------
.. [1] R. C. Nelson, "Flight Stability and Automatic Control", 2nd ed., 1998, ch. 4 and 5 (equations from memory).
.. [2] B. Etkin, L. D. Reid, "Dynamics of Flight", 3rd ed., 1996, ch. 4 (equations from memory).
.. [3] F. W. Lanchester, "Aerodonetics", 1908: the phugoid as exchange of height and speed alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from sheetlark.errors import SolveError
from sheetlark.flight.derivatives import FlightState, MassProperties, Reference, StabilityDerivatives

Floats: TypeAlias = npt.NDArray[np.float64]

LENGTHWISE = ("u", "w", "q", "theta")
SIDEWAYS = ("v", "p", "r", "phi")
# Two real roots nearer than this fraction, or an imaginary part smaller than it, are the same to a pilot.
_REAL = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LinearModel:
    """x' = A x + B controls, lengthwise and sideways.

    lengthwise : shape (4, 4), states u [m/s], w [m/s], q [rad/s], theta [rad].
    elevator : shape (4,), by elevator [1/rad].
    sideways : shape (4, 4), states v [m/s], p [rad/s], r [rad/s], phi [rad].
    aileron, rudder : shape (4,), by aileron and rudder [1/rad].
    """

    speed_ms: float
    lengthwise: Floats
    elevator: Floats
    sideways: Floats
    aileron: Floats
    rudder: Floats

    def full(self) -> Floats:
        """The whole matrix, shape (8, 8): u, w, q, theta, v, p, r, phi."""
        whole = np.zeros((8, 8))
        whole[:4, :4] = self.lengthwise
        whole[4:, 4:] = self.sideways
        return whole


def linear_model(
    derivatives: StabilityDerivatives, mass: MassProperties, reference: Reference, state: FlightState
) -> LinearModel:
    """Linear motion about a steady, wings-level state, [1]_ and [2]_ of the module.

    Notes
    -----
    The force derivative with the rate of incidence is kept (it changes the mass the air sees in z), as are the
    cross inertia and the climb angle. Speed derivatives of the coefficients (Mach, Reynolds number) are zero.
    """
    d, V, g = derivatives, state.speed_ms, state.gravity_ms2
    q_area = state.dynamic_pressure_pa * reference.area_m2
    c, b = reference.chord_m, reference.span_m
    m = mass.mass_kg
    sin, cos = math.sin(state.climb_rad), math.cos(state.climb_rad)

    per_speed = q_area / (m * V)
    Xu = per_speed * (d.thrust_by_speed - 2.0 * d.CD)
    Xw = per_speed * (d.CL - d.CD_alpha)
    Zu = -per_speed * 2.0 * d.CL
    Zw = -per_speed * (d.CL_alpha + d.CD)
    Zq = -q_area * c / (2.0 * V * m) * d.CL_q
    Zwdot = -q_area * c / (2.0 * V * V * m) * d.CL_adot
    q_area_c = q_area * c / mass.iyy_kg_m2
    Mw = q_area_c / V * d.Cm_alpha
    Mq = q_area_c * c / (2.0 * V) * d.Cm_q
    Mwdot = q_area_c * c / (2.0 * V * V) * d.Cm_adot
    row_w = np.array([Zu, Zw, V + Zq, -g * sin]) / (1.0 - Zwdot)
    elevator_w = -q_area / m * d.CL_de / (1.0 - Zwdot)
    lengthwise = np.array(
        [[Xu, Xw, 0.0, -g * cos], row_w, np.array([0.0, Mw, Mq, 0.0]) + Mwdot * row_w, [0.0, 0.0, 1.0, 0.0]]
    )
    elevator = np.array([-q_area / m * d.CD_de, elevator_w, q_area_c * d.Cm_de + Mwdot * elevator_w, 0.0])

    q_area_b = q_area * b
    rate = b / (2.0 * V)
    inertia = np.array([[mass.ixx_kg_m2, -mass.ixz_kg_m2], [-mass.ixz_kg_m2, mass.izz_kg_m2]])
    moments = q_area_b * np.array(
        [
            [d.Cl_beta / V, d.Cl_p * rate, d.Cl_r * rate, 0.0, d.Cl_da, d.Cl_dr],
            [d.Cn_beta / V, d.Cn_p * rate, d.Cn_r * rate, 0.0, d.Cn_da, d.Cn_dr],
        ]
    )
    accelerations = np.linalg.solve(inertia, moments)
    force = q_area / m * np.array([d.CY_beta / V, d.CY_p * rate, d.CY_r * rate, 0.0, d.CY_da, d.CY_dr])
    force[2] -= V
    force[3] = g * cos
    table = np.vstack([force, accelerations, [0.0, 1.0, math.tan(state.climb_rad), 0.0, 0.0, 0.0]])
    return LinearModel(
        speed_ms=V,
        lengthwise=lengthwise,
        elevator=elevator,
        sideways=table[:, :4],
        aileron=table[:, 4],
        rudder=table[:, 5],
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """One mode of motion. A complex pair is one mode; its root is the one with the positive imaginary part."""

    name: str
    real: float
    imag: float

    @property
    def natural_frequency_rad_s(self) -> float:
        """Undamped frequency; for a real root its size."""
        return math.hypot(self.real, self.imag)

    @property
    def damping_ratio(self) -> float:
        """-1 to 1; a real root has 1 or -1, a root of zero has 0."""
        size = self.natural_frequency_rad_s
        return -self.real / size if size > 0.0 else 0.0

    @property
    def period_s(self) -> float:
        """Time of one swing; infinite without one."""
        return 2.0 * math.pi / self.imag if self.imag > 0.0 else math.inf

    @property
    def time_constant_s(self) -> float:
        """Time to fade to 1/e (negative: to grow e times)."""
        return -1.0 / self.real if self.real != 0.0 else math.inf

    @property
    def stable(self) -> bool:
        return self.real < 0.0

    @property
    def time_to_half_s(self) -> float:
        """Time to half; infinite if it does not fade."""
        return math.log(2.0) / -self.real if self.real < 0.0 else math.inf

    @property
    def time_to_double_s(self) -> float:
        """Time to double; infinite if it does not grow."""
        return math.log(2.0) / self.real if self.real > 0.0 else math.inf

    @property
    def words(self) -> str:
        """The mode as a pilot would feel it."""
        return f"{_FELT[self.name]}: {self._motion()}"

    def _motion(self) -> str:
        if self.imag > 0.0:
            swing = f"swings once in {self.period_s:.2g} s"
            if self.real > 0.0:
                return f"{swing} and doubles in {self.time_to_double_s:.2g} s"
            if self.real == 0.0:
                return f"{swing} and never fades"
            swings = self.time_to_half_s / self.period_s
            fading = "dies within one swing" if swings < 0.25 else f"halves in {self.time_to_half_s:.2g} s"
            return f"{swing} and {fading}"
        if self.real > 0.0:
            slow = self.time_to_double_s
            advice = "; slow enough to correct without thinking" if slow > _SLOW_DOUBLING_S else ""
            return f"left alone it doubles in {slow:.2g} s{advice}"
        if self.real == 0.0:
            return "neither grows nor fades"
        return f"halves in {self.time_to_half_s:.2g} s without a swing"


# Spiral doubling time above which a pilot does not notice it: MIL-F-8785C, 3.3.1.3 asks 12 to 20 s (level 1),
# 8 s (level 2); from memory.
_SLOW_DOUBLING_S = 12.0
_FELT = {
    "short period": "nose nods",
    "short period, fast part": "nose settles",
    "short period, slow part": "nose settles slowly",
    "phugoid": "height and speed trade places",
    "phugoid, fast part": "speed settles",
    "phugoid, slow part": "speed wanders",
    "pitch divergence": "nose runs away up or down",
    "Dutch roll": "tail wags with a roll",
    "Dutch roll, fast part": "yaw settles",
    "Dutch roll, slow part": "yaw settles slowly",
    "yaw divergence": "nose runs away sideways",
    "roll": "roll rate settles",
    "spiral": "bank left alone",
    "roll and spiral together": "bank rocks slowly",
}


def named_modes(model: LinearModel) -> tuple[Mode, ...]:
    """Every mode of a linear model by its name, lengthwise first, quick ones first.

    Names when the usual picture breaks up: a short period that does not swing gives its fast and its slow part;
    one of these that grows is a pitch divergence; roll and spiral that merge into one slow swing are named
    together; a Dutch roll that does not swing gives two parts, or a yaw divergence.

    Raises
    ------
    SolveError
        If the matrix holds a value that is not finite.
    """
    return _lengthwise(model.lengthwise) + _sideways(model.sideways)


def _roots(matrix: Floats) -> tuple[list[complex], list[float]]:
    if not np.isfinite(matrix).all():
        raise SolveError(
            "the motion matrix holds a value that is not finite; check mass, inertia and derivatives"
        )
    pairs: list[complex] = []
    reals: list[float] = []
    for value in np.linalg.eigvals(matrix):
        root = complex(value)
        if abs(root.imag) <= _REAL * max(abs(root), 1.0):
            reals.append(root.real)
        elif root.imag > 0.0:
            pairs.append(root)
    pairs.sort(key=abs, reverse=True)
    reals.sort(key=abs, reverse=True)
    return pairs, reals


def _swing(name: str, root: complex) -> Mode:
    return Mode(name=name, real=root.real, imag=root.imag)


def _fade(name: str, root: float) -> Mode:
    return Mode(name=name, real=root, imag=0.0)


def _lengthwise(matrix: Floats) -> tuple[Mode, ...]:
    pairs, reals = _roots(matrix)
    if len(pairs) == 2:
        return _swing("short period", pairs[0]), _swing("phugoid", pairs[1])
    if len(pairs) == 1:
        swing = pairs[0]
        if reals[0] > 0.0 or reals[1] > 0.0:
            # Balance behind the neutral point: one root runs away, the pair is what is left of the phugoid.
            grows, settles = max(reals), min(reals)
            return (
                _fade("short period, fast part", settles),
                _fade("pitch divergence", grows),
                _swing("phugoid" if abs(swing) < abs(settles) else "short period", swing),
            )
        if abs(swing) > abs(reals[0]):
            return (
                _swing("short period", swing),
                _fade("phugoid, fast part", reals[0]),
                _fade("phugoid, slow part", reals[1]),
            )
        return (
            _fade("short period, fast part", reals[0]),
            _fade("short period, slow part", reals[1]),
            _swing("phugoid", swing),
        )
    names = ("short period, fast part", "short period, slow part", "phugoid, fast part", "phugoid, slow part")
    runaway = max(range(3), key=lambda place: reals[place])
    return tuple(
        _fade("pitch divergence" if place == runaway and root > 0.0 else names[place], root)
        for place, root in enumerate(reals)
    )


def _sideways(matrix: Floats) -> tuple[Mode, ...]:
    pairs, reals = _roots(matrix)
    if len(pairs) == 2:
        return _swing("Dutch roll", pairs[0]), _swing("roll and spiral together", pairs[1])
    if len(pairs) == 1:
        if abs(pairs[0]) < 0.5 * abs(reals[1]):
            # A swing slower than both fades has no weathercock in it: roll has merged with the spiral.
            return (
                _fade("Dutch roll, fast part", reals[0]),
                _fade("Dutch roll, slow part" if reals[1] <= 0.0 else "yaw divergence", reals[1]),
                _swing("roll and spiral together", pairs[0]),
            )
        return _swing("Dutch roll", pairs[0]), _fade("roll", reals[0]), _fade("spiral", reals[1])
    grows = [root for root in reals if root > 0.0]
    runaway = max(grows) if grows and max(grows) > 4.0 * min(abs(root) for root in reals) else None
    rest = list(reals)
    if runaway is not None:
        rest.remove(runaway)
    names = (
        ("roll", "Dutch roll, fast part", "spiral")
        if runaway is not None
        else ("roll", "Dutch roll, fast part", "Dutch roll, slow part", "spiral")
    )
    first = () if runaway is None else (_fade("yaw divergence", runaway),)
    return first + tuple(_fade(name, root) for name, root in zip(names, rest, strict=False))


def lanchester_phugoid(speed_ms: float, lift_to_drag: float, gravity_ms2: float = 9.80665) -> Mode:
    """The phugoid as Lanchester saw it: height and speed alone, incidence constant ([3]_ of the module).

    Natural frequency √2 g/V, damping ratio CD/(√2 CL).
    """
    frequency = math.sqrt(2.0) * gravity_ms2 / speed_ms
    damping = 1.0 / (math.sqrt(2.0) * lift_to_drag)
    return Mode(
        name="phugoid",
        real=-damping * frequency,
        imag=frequency * math.sqrt(max(0.0, 1.0 - damping * damping)),
    )
