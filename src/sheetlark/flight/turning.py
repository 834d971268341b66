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
MESH = 20  # mixes looked at, from none to the most
_NARROWEST = 1e-5  # a mix to 0.001 %
_BANKS_RAD_S2 = 0.1  # roll acceleration from which the roll stick is what banks the model


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
    return StickEffect(
        roll=_accelerations(vehicle, mixer, airspeed_ms, alpha_rad, 1.0, 0.0),
        yaw=_accelerations(vehicle, mixer, airspeed_ms, alpha_rad, 0.0, 1.0),
    )


def _accelerations(
    vehicle: Vehicle, mixer: Mixer, airspeed_ms: float, alpha_rad: float, roll: float, yaw: float
) -> Floats:
    """What a stick's two ways differ by, halved: v' [m/s²], p' [rad/s²], r' [rad/s²], 0."""
    mass = vehicle.mass
    one = vehicle.air(Flow(airspeed_ms, alpha_rad, mixer.deflections(0.0, roll, yaw)))
    two = vehicle.air(Flow(airspeed_ms, alpha_rad, mixer.deflections(0.0, -roll, -yaw)))
    half = [0.5 * (a - b) for a, b in zip(one, two, strict=True)]
    inertia = np.array([[mass.ixx_kg_m2, -mass.ixz_kg_m2], [-mass.ixz_kg_m2, mass.izz_kg_m2]])
    turned = np.linalg.solve(inertia, np.array([half[3], half[5]]))
    # body to stability axes: turn by the incidence
    sine, cosine = math.sin(alpha_rad), math.cos(alpha_rad)
    spin = (cosine * turned[0] + sine * turned[1], cosine * turned[1] - sine * turned[0])
    return np.array([half[1] / mass.mass_kg, spin[0], spin[1], 0.0])


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
    by_roll = abs(effect.roll[1]) > _BANKS_RAD_S2
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
    peak, reached, most = 0.0, math.inf, 0.9 * bank_rad
    # Hundreds of steps for every mix tried: plain names and comparisons take a third of the time of calls.
    (vv, vp, vr, vf, vh), (pv, pp, pr, pf, ph), (rv, rp, rr, rf, rh), (fv, fp, fr, ff, fh) = step.tolist()
    for n in range(round(seconds / h)):
        left = bank_rad - phi
        held += gather * left
        if held > 0.8:
            held = 0.8
        elif held < -0.8:
            held = -0.8
        wanted = held + gain * left - damp * p
        if wanted > 1.0:
            wanted = 1.0
        elif wanted < -1.0:
            wanted = -1.0
        hand = wanted + keep * (hand - wanted)
        v, p, r, phi = (
            vv * v + vp * p + vr * r + vf * phi + vh * hand,
            pv * v + pp * p + pr * r + pf * phi + ph * hand,
            rv * v + rp * p + rr * r + rf * phi + rh * hand,
            fv * v + fp * p + fr * r + ff * phi + fh * hand,
        )
        if v > peak:
            peak = v
        elif -v > peak:
            peak = -v
        if phi >= most and reached == math.inf:
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


@dataclass(frozen=True, slots=True, kw_only=True)
class MixChoice:
    """A mix and the peak sideslip of a turn's entry with it. [rad]."""

    mix: float
    peak_sideslip_rad: float


def least_mix(
    peak_sideslip_rad: Callable[[float], float],
    *,
    limit_rad: float = SIDESLIP_LIMIT_RAD,
    most: float = 1.0,
) -> MixChoice:
    """Smallest mix from 0 to ``most`` that keeps the peak sideslip within the limit; where none does, the best.

    Parameters
    ----------
    peak_sideslip_rad : callable
        Peak for a mix: differential or rudder mix, through :func:`turn_entry`.

    Notes
    -----
    The first of a mesh of mixes that serves, then false position (Illinois) between it and the one before.
    """
    tried: list[MixChoice] = []
    for mix in _mesh(most):
        here = MixChoice(mix=mix, peak_sideslip_rad=peak_sideslip_rad(mix))
        if here.peak_sideslip_rad <= limit_rad:
            return _closed_in(peak_sideslip_rad, tried[-1], here, limit_rad) if tried else here
        tried.append(here)
    return min(tried, key=lambda choice: choice.peak_sideslip_rad)


def tidiest_mix(
    peak_sideslip_rad: Callable[[float], float], start: MixChoice, *, most: float = 1.0
) -> MixChoice:
    """The mix from a start upwards at which the peak sideslip is least before it rises, of those on a mesh."""
    best = start
    for mix in _mesh(most):
        if mix > start.mix:
            here = MixChoice(mix=mix, peak_sideslip_rad=peak_sideslip_rad(mix))
            if here.peak_sideslip_rad > best.peak_sideslip_rad:
                break
            best = here
    return best


def _mesh(most: float) -> list[float]:
    return [most * k / MESH for k in range(MESH + 1)]


def _closed_in(
    peak_sideslip_rad: Callable[[float], float], bad: MixChoice, good: MixChoice, limit_rad: float
) -> MixChoice:
    """The least mix within the limit between one that is not and one that is."""
    f_bad, f_good = bad.peak_sideslip_rad - limit_rad, good.peak_sideslip_rad - limit_rad
    for _ in range(40):
        if good.mix - bad.mix <= _NARROWEST or -f_good <= _NARROWEST * limit_rad:
            break
        mix = good.mix - f_good * (good.mix - bad.mix) / (f_good - f_bad)
        here = MixChoice(mix=mix, peak_sideslip_rad=peak_sideslip_rad(mix))
        short = here.peak_sideslip_rad - limit_rad
        if short <= 0.0:
            good, f_good, f_bad = here, short, 0.5 * f_bad
        else:
            bad, f_bad, f_good = here, short, 0.5 * f_good
    return good


def rudder_mix_for(
    vehicle: Vehicle,
    mixer: Mixer,
    model: LinearModel,
    alpha_rad: float,
    *,
    bank_rad: float = BANK_RAD,
    limit_rad: float = SIDESLIP_LIMIT_RAD,
) -> MixChoice:
    """Smallest part of roll stick on the rudder that keeps a turn's entry within the limit; where none does, the best."""
    return least_mix(
        with_rudder_mix(vehicle, mixer, model, alpha_rad, bank_rad=bank_rad), limit_rad=limit_rad
    )


def with_rudder_mix(
    vehicle: Vehicle, mixer: Mixer, model: LinearModel, alpha_rad: float, *, bank_rad: float = BANK_RAD
) -> Callable[[float], float]:
    """Peak sideslip of a turn's entry as a function of the rudder mix, as :func:`least_mix` asks for it. [rad]."""
    return lambda mix: _peak(vehicle, mixer.with_rudder_mix(mix), model, alpha_rad, bank_rad)


def differential_for(
    vehicle: Vehicle,
    mixer: Mixer,
    model: LinearModel,
    alpha_rad: float,
    *,
    bank_rad: float = BANK_RAD,
    limit_rad: float = SIDESLIP_LIMIT_RAD,
) -> MixChoice:
    """Smallest aileron differential that keeps a turn's entry within the limit; where none does, the best.

    The air's model must know each half as a surface of its own.

    Raises
    ------
    SolveError
        If the halves are not known apart.
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
    )


def _peak(vehicle: Vehicle, mixer: Mixer, model: LinearModel, alpha_rad: float, bank_rad: float) -> float:
    """Peak sideslip with a mixer, infinite where it does not bank; the yaw stick is asked only where it is used."""
    roll = _accelerations(vehicle, mixer, model.speed_ms, alpha_rad, 1.0, 0.0)
    banks = abs(roll[1]) > _BANKS_RAD_S2
    yaw = np.zeros(4) if banks else _accelerations(vehicle, mixer, model.speed_ms, alpha_rad, 0.0, 1.0)
    try:
        return turn_entry(model, StickEffect(roll=roll, yaw=yaw), bank_rad=bank_rad).peak_sideslip_rad
    except SolveError:
        return math.inf
