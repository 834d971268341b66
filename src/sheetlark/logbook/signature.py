"""What a model does in the air, as a few measures; and how each cause moves them: its signature."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from sheetlark.errors import SolveError
from sheetlark.evaluation import Evaluation
from sheetlark.flight import (
    FlightPlan,
    Flow,
    Mixer,
    Start,
    Trim,
    Vehicle,
    View,
    fly,
    trim_level,
    trim_with_throttle,
)
from sheetlark.logbook.causes import Afflicted, Cause, Twist, afflicted, causes_for, with_twists
from sheetlark.logbook.symptoms import MEASURES, Measure

Floats = npt.NDArray[np.float64]

LAUNCH_S = 1.5
POWER_S = 3.0
_STEP_S = 1.0 / 40.0  # fine enough for a roll that settles in 0.05 s, and quick
FAST, SLOW = 1.35, 1.15  # of cruise, of stall
_THROW_MS, _THROW_UP_RAD, _HAND_M = 6.5, math.radians(6.0), 1.8  # common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Launch:
    """How the model leaves the hand: speed [m/s] and angle above the horizon [rad]. Unless told otherwise it is thrown a
    tenth faster than it stalls.
    """

    speed_ms: float = _THROW_MS
    up_rad: float = _THROW_UP_RAD


class _Held:
    """Sticks held where they are, full throttle."""

    finished = False

    def __init__(self, pitch: float, roll: float = 0.0, yaw: float = 0.0) -> None:
        self._sticks = (pitch, roll, yaw, 1.0)

    def __call__(self, view: View, /) -> tuple[float, float, float, float]:
        del view
        return self._sticks


def measures(
    model: Afflicted, plan: FlightPlan, *, launch: Launch | None = None, pitch_trim: float = 0.0
) -> dict[Measure, float]:
    """Every measure of a model that the flight model can answer.

    Parameters
    ----------
    plan : FlightPlan
        Stall and cruise speeds of the prediction: the flier flies by these.
    pitch_trim : float
        Pitch stick the predicted model flies with; the launch is made with it.

    Returns
    -------
    dict
        A measure without an answer (a glide the elevator cannot hold) is left out.
    """
    vehicle, mixer = model.vehicle, model.mixer
    found: dict[Measure, float] = {}
    cruise = _steady(vehicle, mixer, plan.cruise_ms, None)
    glide = _steady(vehicle, mixer, plan.cruise_ms, 0.0)
    fast = _steady(vehicle, mixer, FAST * plan.cruise_ms, 0.0)
    slow = _steady(vehicle, mixer, SLOW * plan.stall_ms, 0.0)
    level = cruise if cruise is not None else glide  # a glider's level flight is its glide
    if level is not None:
        found["pitch-trim"] = level.pitch_stick
        found["stiffness"] = _stiffness(vehicle, mixer, level)
        _sideways(found, vehicle, mixer, level)
        if cruise is not None:
            _power(found, vehicle, mixer, cruise)
        slip = _turn_slip(vehicle, mixer, level)
        if slip is not None:
            found["turn-slip"] = slip
    if glide is not None:
        found["glide-pitch"] = glide.pitch_stick
        if fast is not None:
            found["fast-pitch"] = fast.pitch_stick - glide.pitch_stick
        if slow is not None:
            found["slow-pitch"] = slow.pitch_stick - glide.pitch_stick
        found["stall-roll"] = _stall_roll(vehicle, mixer, slow or glide, plan.stall_ms)
    if not plan.from_wheels:
        _launch(found, model, launch or Launch(speed_ms=max(_THROW_MS, 1.1 * plan.stall_ms)), pitch_trim)
    return found


def _steady(vehicle: Vehicle, mixer: Mixer, speed: float, throttle: float | None) -> Trim | None:
    try:
        if throttle is None:
            return trim_level(vehicle, mixer, speed)
        return trim_with_throttle(vehicle, mixer, speed, throttle)
    except SolveError:
        return None


def _moments(
    vehicle: Vehicle,
    mixer: Mixer,
    at: Trim,
    *,
    roll: float = 0.0,
    yaw: float = 0.0,
    beta: float = 0.0,
    alpha: float = 0.0,
    p: float = 0.0,
) -> Floats:
    """(X, Y, Z, L, M, N) of air, thrust and torque at a trim."""
    torque = vehicle.propulsion(at.airspeed_ms, at.throttle)[1]
    air = vehicle.air(
        Flow(
            at.airspeed_ms,
            at.alpha_rad + alpha,
            mixer.deflections(at.pitch_stick, roll, yaw),
            beta_rad=beta,
            p_rad_s=p,
            thrust_n=at.thrust_n,
        )
    )
    total = np.array(air) + at.thrust_n * np.array(vehicle.thrust_line.per_newton())
    total[3:] += torque * np.array(vehicle.thrust_line.per_torque())
    return total


def _sideways(found: dict[Measure, float], vehicle: Vehicle, mixer: Mixer, at: Trim) -> None:
    """Roll and yaw stick that hold wings and heading, by the slopes about centre.

    With both controls the model does not slip; with one, it slips as it must.
    """
    h = 0.2
    base = _moments(vehicle, mixer, at)[[3, 5]]

    def slope(high: Floats, low: Floats, step: float) -> Floats:
        return np.asarray((high - low)[[3, 5]] / (2.0 * step))

    roll = slope(_moments(vehicle, mixer, at, roll=h), _moments(vehicle, mixer, at, roll=-h), h)
    yaw = slope(_moments(vehicle, mixer, at, yaw=h), _moments(vehicle, mixer, at, yaw=-h), h)
    beta = slope(_moments(vehicle, mixer, at, beta=0.03), _moments(vehicle, mixer, at, beta=-0.03), 0.03)
    has_roll = any(s.roll_rad for s in mixer.surfaces) and abs(roll[0]) > 1e-9
    has_yaw = any(s.yaw_rad for s in mixer.surfaces) and abs(yaw[1]) > 1e-9
    columns = [roll, yaw] if has_roll and has_yaw else [roll, beta] if has_roll else [yaw, beta]
    if not (has_roll or has_yaw):
        return
    table = np.stack(columns, axis=1)
    if abs(np.linalg.det(table)) < 1e-12:
        return
    sticks = -np.linalg.solve(table, base)
    if has_roll:
        found["roll-trim"] = float(sticks[0])
    if has_yaw:
        found["yaw-trim"] = float(sticks[1 if has_roll else 0])


def _stiffness(vehicle: Vehicle, mixer: Mixer, at: Trim) -> float:
    """Moment that turns the nose back, per radian, over weight times mean chord. [-]."""
    high = _moments(vehicle, mixer, at, alpha=0.02)
    low = _moments(vehicle, mixer, at, alpha=-0.02)
    return float(-(high[4] - low[4]) / 0.04 / (vehicle.weight_n * vehicle.reference.chord_m))


def _turn_slip(vehicle: Vehicle, mixer: Mixer, at: Trim) -> float | None:
    """Sideslip once a half-stick roll has settled: adverse yaw against the fin's grip. [rad]."""
    if not any(s.roll_rad for s in mixer.surfaces):
        return None
    stick = 0.5
    change = (_moments(vehicle, mixer, at, roll=stick) - _moments(vehicle, mixer, at, roll=-stick)) / 2.0
    spin = (_moments(vehicle, mixer, at, p=0.5) - _moments(vehicle, mixer, at, p=-0.5)) / 1.0
    slip = (_moments(vehicle, mixer, at, beta=0.03) - _moments(vehicle, mixer, at, beta=-0.03)) / 0.06
    table = np.array([[spin[3], slip[3]], [spin[5], slip[5]]])
    if abs(np.linalg.det(table)) < 1e-15:
        return None
    _, beta = np.linalg.solve(table, -change[[3, 5]])
    return float(beta)


def _stall_roll(vehicle: Vehicle, mixer: Mixer, slow: Trim, stall_ms: float) -> float:
    """Roll acceleration where the nose is pulled past the slow trim into the stall, sticks central. [rad/s²]."""
    worst = 0.0
    for extra in (4.0, 6.0, 8.0, 10.0):
        L = float(_moments(vehicle, mixer, slow, alpha=math.radians(extra))[3])
        worst = max(worst, L / vehicle.mass.ixx_kg_m2, key=abs)
    return worst * (stall_ms / slow.airspeed_ms) ** 2


def _power(found: dict[Measure, float], vehicle: Vehicle, mixer: Mixer, at: Trim) -> None:
    """Trimmed in level flight, throttle opened fully, sticks left where they are: three seconds later."""
    if vehicle.propulsion(at.airspeed_ms, 1.0)[0] <= 0.0:
        return
    start = Start(height_m=100.0, speed_ms=at.airspeed_ms, pitch_rad=at.alpha_rad)
    sticks = _Held(at.pitch_stick, found.get("roll-trim", 0.0), found.get("yaw-trim", 0.0))
    try:
        flown = fly(vehicle, mixer, start, sticks, seconds=POWER_S, step_s=_STEP_S, log_every=10)
    except SolveError:
        return
    found["power-pitch"] = float(flown.pitch_rad[-1] - flown.pitch_rad[0])
    found["power-roll"] = float(flown.bank_rad[-1])
    found["power-yaw"] = float(flown.heading_rad[-1] - flown.heading_rad[0])


def _launch(found: dict[Measure, float], model: Afflicted, launch: Launch, pitch_trim: float) -> None:
    start = Start(
        height_m=50.0
        + _HAND_M,  # the air under it, so that a dip is measured and not cut short by the ground
        speed_ms=max(1.0, launch.speed_ms + model.extra_throw_ms),
        pitch_rad=launch.up_rad,
        path_rad=launch.up_rad,
    )
    try:
        flown = fly(
            model.vehicle,
            model.mixer,
            start,
            _Held(pitch_trim),
            seconds=LAUNCH_S,
            step_s=_STEP_S,
            log_every=5,
        )
    except SolveError:
        return
    found["launch-height"] = float(flown.height_m[-1] - flown.height_m[0])
    found["launch-bank"] = float(np.interp(1.0, flown.time_s, flown.bank_rad))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Signatures:
    """How every cause moves every measure, about the model as predicted.

    predicted : the measures of the model with nothing wrong
    slopes : shape (causes, measures), change of each measure per unit of each cause; nan where the flight model has
        no answer
    """

    causes: tuple[Cause, ...]
    measures: tuple[Measure, ...]
    predicted: Floats
    slopes: Floats

    def slope(self, cause: str) -> Floats:
        """The signature of one cause, shape (measures,)."""
        row = next(i for i, c in enumerate(self.causes) if c.name == cause)
        return np.asarray(self.slopes[row])


def signatures(
    vehicle: Vehicle,
    mixer: Mixer,
    plan: FlightPlan,
    *,
    launch: Launch | None = None,
    twists: tuple[Twist, ...] = (),
) -> Signatures:
    """Fly the model with each cause put in both ways, and see what changes.

    Parameters
    ----------
    vehicle, mixer, plan
        The model as predicted, and the speeds it is flown by.
    twists : tuple of Twist
        Half wings the vehicle's air can twist, from `with_twists`; without them a warp is put in by strip theory.
    """
    names: tuple[Measure, ...] = tuple(MEASURES)
    causes = causes_for(vehicle, mixer, twists)
    healthy = Afflicted(vehicle=vehicle, mixer=mixer)
    trim = _steady(vehicle, mixer, plan.cruise_ms, None)
    stick = trim.pitch_stick if trim is not None else 0.0

    def row(model: Afflicted) -> Floats:
        got = measures(model, plan, launch=launch, pitch_trim=stick)
        return np.array([got.get(name, math.nan) for name in names])

    predicted = row(healthy)
    slopes = np.empty((len(causes), len(names)))
    for i, cause in enumerate(causes):
        high = row(afflicted(vehicle, mixer, cause.name, cause.usual, twist=cause.twist))
        low = row(afflicted(vehicle, mixer, cause.name, -cause.usual, twist=cause.twist))
        slopes[i] = (high - low) / (2.0 * cause.usual)
    # stiffness is told as a share of what was predicted
    column = names.index("stiffness")
    slopes[:, column] /= max(abs(float(predicted[column])), 1e-6)
    return Signatures(causes=causes, measures=names, predicted=predicted, slopes=slopes)


def signatures_of(
    evaluation: Evaluation, *, by_hand: bool | None = None, launch: Launch | None = None
) -> Signatures:
    """Signatures of an evaluated design.

    Parameters
    ----------
    by_hand : bool, optional
        Whether it is thrown; left out: it is, unless it has wheels.
    """
    figures = evaluation.flight
    vehicle, mixer, twists = with_twists(evaluation)
    thrown = not vehicle.wheels if by_hand is None else by_hand
    plan = FlightPlan(
        stall_ms=figures.stall_ms,
        cruise_ms=figures.cruise_ms,
        glide_ms=figures.cruise_ms,
        from_wheels=not thrown,
    )
    if thrown:
        vehicle = replace(vehicle, wheels=())
    return signatures(vehicle, mixer, plan, launch=launch, twists=twists)


def deviations(
    model: Afflicted,
    healthy: Signatures,
    plan: FlightPlan,
    *,
    pitch_trim: float,
    launch: Launch | None = None,
) -> dict[Measure, float]:
    """How far every measure of a model lies off the prediction; stiffness as a share."""
    got = measures(model, plan, launch=launch, pitch_trim=pitch_trim)
    off: dict[Measure, float] = {}
    for name, predicted in zip(healthy.measures, healthy.predicted.tolist(), strict=True):
        if name in got and math.isfinite(predicted):
            scale = max(abs(predicted), 1e-6) if name == "stiffness" else 1.0
            off[name] = (got[name] - predicted) / scale
    return off
