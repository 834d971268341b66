"""Steady flight: the incidence, stick and throttle that hold it; and where the balance point may lie.

A model trims where the air, the thrust and the weight leave no force and no pitching moment. The balance point
may be moved without asking the air anew: moments move with the force, ``M' = M - s Z`` for a balance point ``s`` further
aft. Damping and inertia are left as they were, which for the few per cent of chord in question is small.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sheetlark.errors import SolveError
from sheetlark.flight.forces import Flow, Vehicle
from sheetlark.flight.mixing import Mixer

_STEPS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Trim:
    """One steady state, wings level.

    pitch_stick : -1 to 1. deflections_rad : of every surface, the mixer's order.
    climb_rad : flight path above the horizon.
    """

    airspeed_ms: float
    alpha_rad: float
    pitch_stick: float
    deflections_rad: tuple[float, ...]
    throttle: float
    thrust_n: float
    climb_rad: float


def trim_level(vehicle: Vehicle, mixer: Mixer, airspeed_ms: float, *, climb_rad: float = 0.0) -> Trim:
    """Incidence, stick and throttle that hold an airspeed on a given path.

    Raises
    ------
    SolveError
        If the airspeed is too low for the wing, the elevator too weak, or the motor too weak (the message says
        which).
    """
    alpha, stick, throttle = _solve(vehicle, mixer, airspeed_ms, climb_rad, None)
    if throttle > 1.0 + 1e-6:
        raise SolveError(
            f"level flight at {airspeed_ms:.1f} m/s needs {100 * throttle:.0f} % throttle; the motor has 100 %. "
            "Try a lower airspeed or a stronger drive."
        )
    if throttle < -1e-6:
        raise SolveError(
            f"holding {airspeed_ms:.1f} m/s on a path of {math.degrees(climb_rad):.1f}° needs no throttle at all and "
            "some braking; try a flatter path"
        )
    return _trim(vehicle, mixer, airspeed_ms, alpha, stick, max(0.0, throttle), climb_rad)


def trim_with_throttle(vehicle: Vehicle, mixer: Mixer, airspeed_ms: float, throttle: float) -> Trim:
    """Incidence, stick and path at an airspeed and a throttle; throttle 0 is a glide.

    Raises
    ------
    SolveError
        As :func:`trim_level`, but the motor is never too weak: it sinks.
    """
    alpha, stick, climb = _solve(vehicle, mixer, airspeed_ms, None, throttle)
    return _trim(vehicle, mixer, airspeed_ms, alpha, stick, throttle, climb)


def _trim(
    vehicle: Vehicle, mixer: Mixer, speed: float, alpha: float, stick: float, throttle: float, climb: float
) -> Trim:
    return Trim(
        airspeed_ms=speed,
        alpha_rad=alpha,
        pitch_stick=stick,
        deflections_rad=mixer.deflections(stick, 0.0, 0.0),
        throttle=throttle,
        thrust_n=vehicle.propulsion(speed, throttle)[0],
        climb_rad=climb,
    )


def lengthwise_forces(
    vehicle: Vehicle,
    mixer: Mixer,
    airspeed_ms: float,
    alpha_rad: float,
    stick: float,
    thrust_n: float,
    *,
    q_rad_s: float = 0.0,
) -> tuple[float, float, float]:
    """X, Z [N] and M [N m] of air and thrust, without weight."""
    X, _, Z, _, M, _ = vehicle.air(
        Flow(airspeed_ms, alpha_rad, mixer.deflections(stick, 0.0, 0.0), q_rad_s=q_rad_s, thrust_n=thrust_n)
    )
    tx, _, tz, _, tm, _ = vehicle.thrust_line.per_newton()
    return X + tx * thrust_n, Z + tz * thrust_n, M + tm * thrust_n


def _solve(
    vehicle: Vehicle, mixer: Mixer, speed: float, climb: float | None, throttle: float | None
) -> tuple[float, float, float]:
    """Newton's method on (alpha, stick, and throttle or climb), damped; residuals in weights and mean chords."""
    weight = vehicle.weight_n
    arm = weight * vehicle.reference.chord_m

    def residual(x: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        alpha, stick, free = x.tolist()
        path = free if climb is None else climb
        power = free if throttle is None else throttle
        # outside 0..1 the thrust runs on along its end, so that the search may stray
        held = max(0.0, min(1.0, power))
        thrust = vehicle.propulsion(speed, held)[0]
        if power != held:
            thrust += (power - held) * vehicle.propulsion(speed, 1.0)[0]
        # so does the stick: the elevator's effect is continued as a straight line
        held_stick = max(-1.0, min(1.0, stick))
        X, Z, M = lengthwise_forces(vehicle, mixer, speed, alpha, held_stick, thrust)
        if stick != held_stick:
            inner = 0.9 * held_stick
            x2, z2, m2 = lengthwise_forces(vehicle, mixer, speed, alpha, inner, thrust)
            more = (stick - held_stick) / (held_stick - inner)
            X, Z, M = X + more * (X - x2), Z + more * (Z - z2), M + more * (M - m2)
        pitch = alpha + path
        return np.array(
            [
                (X - weight * math.sin(pitch)) / weight,
                (Z + weight * math.cos(pitch)) / weight,
                M / arm,
            ]
        )

    # start where half the stall lies: a guess by lift slope from two incidences
    lifts = [-lengthwise_forces(vehicle, mixer, speed, a, 0.0, 0.0)[1] for a in (0.0, 0.05)]
    slope = (lifts[1] - lifts[0]) / 0.05
    guess = (weight - lifts[0]) / slope if slope > 0.0 else 0.1
    x = np.array([max(-0.2, min(0.25, guess)), 0.0, -0.1 if climb is None else 0.4])
    base = residual(x)
    for _ in range(_STEPS):
        if float(np.max(np.abs(base))) < 1e-9:
            break
        jacobian = np.empty((3, 3))
        for k in range(3):
            nudged = x.copy()
            nudged[k] += 1e-5
            jacobian[:, k] = (residual(nudged) - base) / 1e-5
        try:
            change = -np.linalg.solve(jacobian, base)
        except np.linalg.LinAlgError:
            break
        longest = float(np.max(np.abs(change) / np.array([0.08, 1.0, 0.8])))
        change /= max(1.0, longest)
        for _halving in range(6):
            trial = residual(x + change)
            if float(np.linalg.norm(trial)) < float(np.linalg.norm(base)):
                break
            change = 0.5 * change
        x = x + change
        base = residual(x)
    if float(np.max(np.abs(base))) > 1e-6:
        raise SolveError(
            f"no steady flight at {speed:.1f} m/s: {100 * float(np.max(np.abs(base))):.1f} % of the weight is left over. "
            "It is below the stall there; try a higher airspeed."
        )
    alpha, stick, free = x.tolist()
    if _stalled(vehicle, mixer, speed, alpha):
        raise SolveError(
            f"no steady flight at {speed:.1f} m/s: the wing would have to stand at {math.degrees(alpha):.0f}°, past its "
            "stall. Try a higher airspeed."
        )
    if abs(stick) > 1.0 + 1e-6:
        raise SolveError(
            f"trim at {speed:.1f} m/s needs {100 * stick:.0f} % of the pitch stick, which has 100 %. "
            "Try another balance point, more throw, or another airspeed."
        )
    return alpha, stick, free


def _stalled(vehicle: Vehicle, mixer: Mixer, speed: float, alpha: float) -> bool:
    """Whether lift has passed its first peak below this incidence; looked at only where a wing may stall."""
    if alpha < math.radians(5.0):
        return False
    before = math.inf
    count = math.ceil((alpha - math.radians(4.0)) / math.radians(1.0)) + 1
    for k in range(count + 1):
        at = math.radians(4.0) + k * (alpha - math.radians(4.0)) / count
        Z = lengthwise_forces(vehicle, mixer, speed, at, 0.0, 0.0)[1]
        if before < Z:
            return True
        before = Z
    return False


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceRange:
    """Where the balance point may lie, as distances aft of where it is now (negative: ahead). [m]

    neutral_aft_m : the neutral point, stick fixed. aft_limit_m : neutral point less the margin asked for.
    stall_forward_m : ahead of it full up elevator no longer stalls the wing.
    round_out_forward_m : ahead of it full up elevator no longer rounds out.
    """

    neutral_aft_m: float
    aft_limit_m: float
    stall_forward_m: float
    round_out_forward_m: float
    chord_m: float

    @property
    def forward_limit_m(self) -> float:
        """The hinder of the two forward limits."""
        return max(self.stall_forward_m, self.round_out_forward_m)

    @property
    def static_margin(self) -> float:
        """Neutral point behind the balance point, in mean chords."""
        return self.neutral_aft_m / self.chord_m

    @property
    def possible(self) -> bool:
        """Whether any place serves."""
        return self.forward_limit_m <= self.aft_limit_m


def balance_range(
    vehicle: Vehicle,
    mixer: Mixer,
    *,
    stall_ms: float,
    stall_alpha_rad: float,
    cruise_ms: float,
    cruise_alpha_rad: float,
    static_margin: float = 0.10,
    round_out_load_factor: float = 1.15,
) -> BalanceRange:
    """The range of balance points: stable enough aft, enough elevator forward.

    Parameters
    ----------
    stall_alpha_rad : float
        Incidence of the greatest lift. [rad]
    static_margin : float
        Least distance of the neutral point behind the balance point, in mean chords; 0.05 to 0.15 is common
        practice for models, no source.
    round_out_load_factor : float
        Load factor the elevator must give at 1.2 times the stall to round out. From memory: light aeroplanes
        round out with 1.1 to 1.2.

    Notes
    -----
    Motor off, full up elevator, forces from the air's own model. Round-out: the nose turns with q = g (n - 1)/V,
    whose damping the elevator must also carry.
    """

    def normal_and_moment(
        speed: float, alpha: float, stick: float, pitch_rate: float = 0.0
    ) -> tuple[float, float]:
        _, Z, M = lengthwise_forces(vehicle, mixer, speed, alpha, stick, 0.0, q_rad_s=pitch_rate)
        return Z, M

    step = 0.01
    z1, m1 = normal_and_moment(cruise_ms, cruise_alpha_rad + step, 0.0)
    z0, m0 = normal_and_moment(cruise_ms, cruise_alpha_rad - step, 0.0)
    if not z1 < z0:
        raise SolveError(
            f"lift does not grow with incidence at {cruise_ms:.1f} m/s, {math.degrees(cruise_alpha_rad):.1f}°: "
            "the wing is stalled there, so it has no neutral point. Try a higher airspeed."
        )
    neutral = (m1 - m0) / (z1 - z0)
    z, m = normal_and_moment(stall_ms, stall_alpha_rad, 1.0)
    stall_forward = m / z
    # incidence at 1.2 times the stall for the load factor: lift goes with the square of the speed
    speed = 1.2 * stall_ms
    z_need = -round_out_load_factor * vehicle.weight_n
    pitch_rate = vehicle.gravity_ms2 * (round_out_load_factor - 1.0) / speed
    needed = _crossing(
        lambda alpha: normal_and_moment(speed, alpha, 1.0, pitch_rate)[0] - z_need, -0.2, stall_alpha_rad
    )
    z, m = normal_and_moment(speed, needed, 1.0, pitch_rate)
    return BalanceRange(
        neutral_aft_m=neutral,
        aft_limit_m=neutral - static_margin * vehicle.reference.chord_m,
        stall_forward_m=stall_forward,
        round_out_forward_m=m / z,
        chord_m=vehicle.reference.chord_m,
    )


def _crossing(falling: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function crosses zero, by false position with halving (Illinois); an end where it does not."""
    at_low, at_high = falling(low), falling(high)
    if at_low <= 0.0:
        return low
    if at_high > 0.0:
        return high
    kept = 0
    for _ in range(60):
        if high - low < 1e-11:
            break
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        if not low < middle < high:
            break
        at_middle = falling(middle)
        if at_middle == 0.0:
            return middle
        if at_middle > 0.0:
            low, at_low = middle, at_middle
            at_high = 0.5 * at_high if kept > 0 else at_high
            kept = 1
        else:
            high, at_high = middle, at_middle
            at_low = 0.5 * at_low if kept < 0 else at_low
            kept = -1
        if abs(at_middle) < 1e-10:
            return middle
    return 0.5 * (low + high)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryPlace:
    """Where the battery goes for a balance point, geometry axes (x aft). [m], [kg]

    wanted_x_m : where it would have to be. x_m : where it can be.
    balance_x_m : the balance point reached, ballast included.
    ballast_kg : least ballast that closes the rest; 0 if the bay allows it. ballast_x_m : where it goes.
    """

    wanted_x_m: float
    x_m: float
    ballast_kg: float
    ballast_x_m: float
    balance_x_m: float

    @property
    def inside_bay(self) -> bool:
        return abs(self.wanted_x_m - self.x_m) < 1e-9


def place_battery(
    *,
    all_up_kg: float,
    balance_x_m: float,
    battery_kg: float,
    battery_x_m: float,
    bay_x_m: tuple[float, float],
    target_x_m: float,
    ballast_ahead_x_m: float,
    ballast_astern_x_m: float,
) -> BatteryPlace:
    """Move the battery so that the model balances at a target; if its bay ends first, add the least ballast.

    ``all_up_kg`` and ``balance_x_m`` are those with the battery at ``battery_x_m``. Ballast goes to whichever end helps.

    Raises
    ------
    SolveError
        If the bay is empty, the battery weighs nothing, or ballast at that end cannot reach the target.
    """
    ahead, astern = bay_x_m
    if not ahead <= astern:
        raise SolveError(f"the battery bay must run from front to back, got {ahead:.3f} m to {astern:.3f} m")
    if not battery_kg > 0.0:
        raise SolveError(f"the battery must weigh something to move the balance point, got {battery_kg:g} kg")
    wanted = battery_x_m + all_up_kg * (target_x_m - balance_x_m) / battery_kg
    placed = max(ahead, min(astern, wanted))
    reached = balance_x_m + battery_kg * (placed - battery_x_m) / all_up_kg
    ballast, ballast_x = 0.0, ballast_ahead_x_m
    if abs(wanted - placed) > 1e-9:
        ballast_x = ballast_ahead_x_m if wanted < placed else ballast_astern_x_m
        arm = ballast_x - target_x_m
        if arm * (target_x_m - reached) <= 0.0:
            raise SolveError(
                f"ballast at {ballast_x * 1e3:.0f} mm cannot move the balance point from {reached * 1e3:.0f} mm to "
                f"{target_x_m * 1e3:.0f} mm: it would have to lie beyond the target"
            )
        ballast = all_up_kg * (target_x_m - reached) / arm
        reached = target_x_m
    return BatteryPlace(
        wanted_x_m=wanted, x_m=placed, ballast_kg=ballast, ballast_x_m=ballast_x, balance_x_m=reached
    )
