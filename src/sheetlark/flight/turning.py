"""Turns: what a steady one asks of the controls the model has, how far it slips on the way in, and the mix that cures it.

References
----------
.. [1] B. L. Stevens, F. L. Lewis, "Aircraft Control and Simulation", 2nd ed., 2003, ch. 3.6: steady turning flight (from
   memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sheetlark.errors import SolveError
from sheetlark.flight.derivatives import FlightState, MassProperties, Reference, StabilityDerivatives
from sheetlark.flight.forces import Flow, Vehicle
from sheetlark.flight.mixing import Mixer
from sheetlark.flight.modes import Floats, LinearModel

SIDESLIP_LIMIT_RAD = math.radians(5.0)
BANK_RAD = math.radians(30.0)
HALVINGS = 12  # of a twentieth: a mix to 0.001 %


@dataclass(frozen=True, slots=True, kw_only=True)
class SteadyTurn:
    """A level turn held at a bank.

    turn_rate_rad_s : of the heading. sideslip_rad : positive, the air comes from starboard.
    aileron_rad, rudder_rad : in the derivatives' sense; 0 for one it does not have.
    """

    bank_rad: float
    turn_rate_rad_s: float
    radius_m: float
    sideslip_rad: float
    aileron_rad: float
    rudder_rad: float


def steady_turn(
    derivatives: StabilityDerivatives,
    mass: MassProperties,
    reference: Reference,
    state: FlightState,
    *,
    bank_rad: float = BANK_RAD,
) -> SteadyTurn:
    """A level, steady turn with the controls there are ([1]_ of the module), stability axes.

    With ailerons and rudder the sideslip is held at zero; with one of them the sideslip is what it must be.

    Raises
    ------
    SolveError
        If there is neither aileron nor rudder.
    """
    d = derivatives
    has_aileron = abs(d.Cl_da) > 1e-6
    has_rudder = abs(d.Cn_dr) > 1e-6
    if not (has_aileron or has_rudder):
        raise SolveError(
            "the model has neither aileron nor rudder, so it cannot hold a turn; add a rudder or ailerons"
        )
    V, b = state.speed_ms, reference.span_m
    q_area = state.dynamic_pressure_pa * reference.area_m2
    sine, cosine = math.sin(bank_rad), math.cos(bank_rad)
    half = b / (2.0 * V)
    # columns: turn rate, sideslip, aileron, rudder; rows: side force, roll, yaw
    table = np.array(
        [
            [q_area * d.CY_r * half * cosine - mass.mass_kg * V * cosine, *(q_area * c for c in _side(d))],
            [q_area * b * d.Cl_r * half * cosine, *(q_area * b * c for c in _roll(d))],
            [q_area * b * d.Cn_r * half * cosine, *(q_area * b * c for c in _yaw(d))],
        ]
    )
    keep = [0, 2, 3] if has_aileron and has_rudder else [0, 1, 2] if has_aileron else [0, 1, 3]
    rate = 0.0
    found = np.zeros(4)
    for _ in range(4):
        pitch_yaw = rate * rate * sine * cosine
        right = np.array(
            [
                -mass.mass_kg * state.gravity_ms2 * sine,
                (mass.izz_kg_m2 - mass.iyy_kg_m2) * pitch_yaw,
                mass.ixz_kg_m2 * pitch_yaw,
            ]
        )
        found[keep] = np.linalg.solve(table[:, keep], right)
        rate = float(found[0])
    return SteadyTurn(
        bank_rad=bank_rad,
        turn_rate_rad_s=rate,
        radius_m=V / abs(rate) if rate else math.inf,
        sideslip_rad=float(found[1]),
        aileron_rad=float(found[2]),
        rudder_rad=float(found[3]),
    )


def _side(d: StabilityDerivatives) -> tuple[float, float, float]:
    return d.CY_beta, d.CY_da, d.CY_dr


def _roll(d: StabilityDerivatives) -> tuple[float, float, float]:
    return d.Cl_beta, d.Cl_da, d.Cl_dr


def _yaw(d: StabilityDerivatives) -> tuple[float, float, float]:
    return d.Cn_beta, d.Cn_da, d.Cn_dr


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StickEffect:
    """Accelerations for full stick, shape (4,): v' [m/s²], p' [rad/s²], r' [rad/s²], 0."""

    roll: Floats
    yaw: Floats


def stick_effect(vehicle: Vehicle, mixer: Mixer, airspeed_ms: float, alpha_rad: float) -> StickEffect:
    """Full roll stick and full yaw stick through the mixer, half the difference of both ways.

    Full throws, so that differential, rudder mix and the surfaces' stops are all in it.
    """
    mass = vehicle.mass
    inertia = np.array([[mass.ixx_kg_m2, -mass.ixz_kg_m2], [-mass.ixz_kg_m2, mass.izz_kg_m2]])

    def accelerations(roll: float, yaw: float) -> Floats:
        one = vehicle.air(Flow(airspeed_ms, alpha_rad, mixer.deflections(0.0, roll, yaw)))
        two = vehicle.air(Flow(airspeed_ms, alpha_rad, mixer.deflections(0.0, -roll, -yaw)))
        half = [0.5 * (a - b) for a, b in zip(one, two, strict=True)]
        # body to stability axes: turn by the incidence
        sine, cosine = math.sin(alpha_rad), math.cos(alpha_rad)
        L, N = half[3], half[5]
        turned = np.linalg.solve(inertia, np.array([L, N]))
        spin = (cosine * turned[0] + sine * turned[1], cosine * turned[1] - sine * turned[0])
        return np.array([half[1] / mass.mass_kg, spin[0], spin[1], 0.0])

    return StickEffect(roll=accelerations(1.0, 0.0), yaw=accelerations(0.0, 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnEntry:
    """Rolling into a turn.

    peak_sideslip_rad : largest on the way and after. final_sideslip_rad : at the end.
    time_to_bank_s : until nine tenths of the bank; infinite if never.
    """

    peak_sideslip_rad: float
    final_sideslip_rad: float
    time_to_bank_s: float


SIDESLIP_TOLD_RAD = math.radians(45.0)
"""Past this the linear motion tells no figure."""


def sideslip_said(radians: float, places: int = 1) -> str:
    """A peak sideslip in degrees, in words.

    The motion is linear in the sideslip: past 45 degrees its figure says no more than that the nose swings right
    off the path, so it is said as "more than 45".
    """
    if radians > SIDESLIP_TOLD_RAD:
        return f"more than {math.degrees(SIDESLIP_TOLD_RAD):.0f}"
    return f"{math.degrees(radians):.{places}f}"


def turn_entry(
    model: LinearModel,
    effect: StickEffect,
    *,
    bank_rad: float = BANK_RAD,
    seconds: float = 6.0,
    servo_lag_s: float = 0.06,
) -> TurnEntry:
    """Linear sideways motion from level into a bank held by the stick that banks it best.

    The stick follows the bank's error and the roll rate as a practised hand does, no further than its stops.
    """
    by_roll = abs(effect.roll[1]) > 0.1
    stick = effect.roll if by_roll else effect.yaw
    A = model.sideways
    if by_roll:
        steady_rate = -float(stick[1]) / min(float(A[1, 1]), -1e-6)
    else:
        # yaw stick: the sideways speed at which it is balanced, and the roll rate of both
        balanced = -float(stick[2]) / max(float(A[2, 0]), 1e-9)
        balanced = max(-0.5 * model.speed_ms, min(0.5 * model.speed_ms, balanced))
        steady_rate = -(float(stick[1]) + float(A[1, 0]) * balanced) / min(float(A[1, 1]), -1e-6)
    if abs(steady_rate) < 1e-3:
        raise SolveError(
            "neither stick banks the model, so it cannot enter a turn; add ailerons, or a rudder with more dihedral"
        )
    width = 2.5 if by_roll else 1.2
    gain = math.copysign(min(width / abs(steady_rate), 4.0), steady_rate)
    damp = gain * (0.08 if by_roll else 0.35)
    h = 0.01
    step = _transition(A, stick, h)
    keep = math.exp(-h / servo_lag_s)
    v = p = r = phi = hand = held = 0.0
    gather = (0.3 if by_roll else 0.6) * gain * h  # against dihedral a stick must be held in
    peak, reached = 0.0, math.inf
    by_v, by_p, by_r, by_phi = step.tolist()
    for n in range(round(seconds / h)):
        held = max(-0.8, min(0.8, held + gather * (bank_rad - phi)))
        wanted = held + gain * (bank_rad - phi) - damp * p
        wanted = max(-1.0, min(1.0, wanted))
        hand = wanted + keep * (hand - wanted)
        v, p, r, phi = (
            by_v[0] * v + by_v[1] * p + by_v[2] * r + by_v[3] * phi + by_v[4] * hand,
            by_p[0] * v + by_p[1] * p + by_p[2] * r + by_p[3] * phi + by_p[4] * hand,
            by_r[0] * v + by_r[1] * p + by_r[2] * r + by_r[3] * phi + by_r[4] * hand,
            by_phi[0] * v + by_phi[1] * p + by_phi[2] * r + by_phi[3] * phi + by_phi[4] * hand,
        )
        peak = max(peak, abs(v))
        if math.isinf(reached) and phi >= 0.9 * bank_rad:
            reached = (n + 1) * h
    return TurnEntry(
        peak_sideslip_rad=math.atan2(peak, model.speed_ms),
        final_sideslip_rad=math.atan2(v, model.speed_ms),
        time_to_bank_s=reached,
    )


def _transition(A: Floats, b: Floats, h: float) -> Floats:
    """State and held input over a step: [A b; 0 0] to the power e, shape (4, 5)."""
    block = np.zeros((5, 5))
    block[:4, :4], block[:4, 4] = A * h, b * h
    total, term = np.eye(5), np.eye(5)
    # scale so that the series converges at once, then square back
    halvings = max(0, math.ceil(math.log2(max(float(np.abs(block).sum(axis=1).max()), 1e-12))) + 2)
    block = block / 2.0**halvings
    for k in range(1, 10):
        term = term @ block / k
        total = total + term
    for _ in range(halvings):
        total = total @ total
    return total[:4]


def least_mix(
    peak_sideslip_rad: Callable[[float], float],
    *,
    limit_rad: float = SIDESLIP_LIMIT_RAD,
    most: float = 1.0,
    what: str = "mix",
) -> float:
    """Smallest mix from 0 to ``most`` that keeps the peak sideslip within the limit.

    Parameters
    ----------
    peak_sideslip_rad : callable
        Peak for a mix: differential or rudder mix, through :func:`turn_entry`.
    what : str
        Its name, for the message.

    Raises
    ------
    SolveError
        If none does; the message gives the best there is.
    """
    mesh = [most * k / 20.0 for k in range(21)]
    peaks = []
    for k, mix in enumerate(mesh):
        peaks.append(peak_sideslip_rad(mix))
        if peaks[-1] <= limit_rad:
            if k == 0:
                return 0.0
            low, high = mesh[k - 1], mix
            for _ in range(HALVINGS):
                middle = 0.5 * (low + high)
                if peak_sideslip_rad(middle) <= limit_rad:
                    high = middle
                else:
                    low = middle
            return high
    lowest = min(peaks)
    raise SolveError(
        f"no {what} up to {100 * most:.0f} % keeps the sideslip within {math.degrees(limit_rad):.1f}°; the best, "
        f"{100 * mesh[peaks.index(lowest)]:.0f} %, leaves {math.degrees(lowest):.1f}°"
    )


def rudder_mix_for(
    vehicle: Vehicle,
    mixer: Mixer,
    model: LinearModel,
    alpha_rad: float,
    *,
    bank_rad: float = BANK_RAD,
    limit_rad: float = SIDESLIP_LIMIT_RAD,
) -> float:
    """Smallest part of roll stick on the rudder that keeps a turn's entry within the limit of sideslip.

    Raises
    ------
    SolveError
        If none does (no rudder, or too small a one).
    """
    return least_mix(
        lambda mix: _peak(vehicle, mixer.with_rudder_mix(mix), model, alpha_rad, bank_rad),
        limit_rad=limit_rad,
        what="rudder mix",
    )


def differential_for(
    vehicle: Vehicle,
    mixer: Mixer,
    model: LinearModel,
    alpha_rad: float,
    *,
    bank_rad: float = BANK_RAD,
    limit_rad: float = SIDESLIP_LIMIT_RAD,
) -> float:
    """Smallest aileron differential that keeps a turn's entry within the limit of sideslip.

    The air's model must know each half as a surface of its own.

    Raises
    ------
    SolveError
        If none does, or the halves are not known apart.
    """
    rolling = [surface for surface in mixer.surfaces if surface.roll_rad]
    if len(rolling) < 2:
        raise SolveError(
            f"differential needs two rolling surfaces; the model has {len(rolling)}. "
            "Give the air's model each aileron half of its own."
        )
    return least_mix(
        lambda part: _peak(vehicle, mixer.with_differential(part), model, alpha_rad, bank_rad),
        limit_rad=limit_rad,
        what="differential",
    )


def _peak(vehicle: Vehicle, mixer: Mixer, model: LinearModel, alpha_rad: float, bank_rad: float) -> float:
    effect = stick_effect(vehicle, mixer, model.speed_ms, alpha_rad)
    return turn_entry(model, effect, bank_rad=bank_rad).peak_sideslip_rad
