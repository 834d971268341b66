"""A simple pilot for a first flight: climb, level, a turn each way, a stall, a glide and a landing.

He looks at attitude, height, speed and the ball of the sideslip, moves the sticks with a lag, and uses whatever
controls the model has: with no roll control he banks with the rudder. His gains come from how strongly the model
answers, found by moving its sticks a little in the air's own model, so the signs of the linkages are never assumed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from sheetlark.errors import SolveError
from sheetlark.flight.forces import Flow, Vehicle
from sheetlark.flight.mixing import Mixer
from sheetlark.flight.simulate import STEP_S, View

REACTION_S = 0.10  # lag of a practised hand: McRuer's 0.1 to 0.2 s (from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """How the model answers its sticks at one airspeed.

    pitch_rate, roll_rate, roll_rate_by_yaw : steady rate for full stick. [rad/s]
    sideslip_by_yaw : steady sideslip for full yaw stick. [rad]
    """

    airspeed_ms: float
    pitch_rate: float
    roll_rate: float
    roll_rate_by_yaw: float
    sideslip_by_yaw: float

    @property
    def banks_by_roll(self) -> bool:
        """Whether the roll stick banks it best (else the yaw stick does)."""
        return abs(self.roll_rate) > _FEEBLE and abs(self.roll_rate) >= 0.5 * abs(self.roll_rate_by_yaw)

    @property
    def can_turn(self) -> bool:
        return max(abs(self.roll_rate), abs(self.roll_rate_by_yaw)) > _FEEBLE


_FEEBLE = math.radians(6.0)  # full stick for less than this roll rate is no control
_PROBE = 0.3


def response(
    vehicle: Vehicle, mixer: Mixer, airspeed_ms: float, alpha_rad: float, thrust_n: float = 0.0
) -> Response:
    """Steady answers to the sticks, by small differences of the air's forces.

    Raises
    ------
    SolveError
        If there is no damping in roll: the model cannot be flown, and the derivatives are wrong.
    """
    air, mass = vehicle.air, vehicle.mass

    def moments(
        pitch: float = 0.0,
        roll: float = 0.0,
        yaw: float = 0.0,
        alpha: float = 0.0,
        beta: float = 0.0,
        p: float = 0.0,
        q: float = 0.0,
    ) -> tuple[float, float, float, float]:
        _, _, z, L, M, N = air(
            Flow(
                airspeed_ms,
                alpha_rad + alpha,
                mixer.deflections(pitch, roll, yaw),
                beta_rad=beta,
                p_rad_s=p,
                q_rad_s=q,
                thrust_n=thrust_n,
            )
        )
        return z, L, M, N

    z0, _, _, _ = moments()
    up, down = moments(pitch=_PROBE), moments(pitch=-_PROBE)
    M_stick = (up[2] - down[2]) / (2 * _PROBE) / mass.iyy_kg_m2
    high, low = moments(alpha=0.02), moments(alpha=-0.02)
    lift_rate = max(-(high[0] - low[0]) / 0.04 / (mass.mass_kg * airspeed_ms), 0.1)
    M_alpha = (high[2] - low[2]) / 0.04 / mass.iyy_kg_m2
    quick, slow = moments(q=0.2), moments(q=-0.2)
    M_q = (quick[2] - slow[2]) / 0.4 / mass.iyy_kg_m2
    stiffness = max(-M_alpha - lift_rate * M_q, 1.0)
    rolled, level = moments(p=0.2), moments(p=-0.2)
    L_p = (rolled[1] - level[1]) / 0.4
    if not L_p < 0.0:
        raise SolveError(
            f"roll damping at {airspeed_ms:.1f} m/s is {L_p:.2g} N m s: it must be negative. "
            "The wing is stalled there, or the air's model has a sign wrong; try a higher airspeed."
        )
    right, left = moments(roll=_PROBE), moments(roll=-_PROBE)
    L_roll = (right[1] - left[1]) / (2 * _PROBE)
    right, left = moments(yaw=_PROBE), moments(yaw=-_PROBE)
    L_yaw, N_yaw = (right[1] - left[1]) / (2 * _PROBE), (right[3] - left[3]) / (2 * _PROBE)
    windward, leeward = moments(beta=0.05), moments(beta=-0.05)
    L_beta, N_beta = (windward[1] - leeward[1]) / 0.1, (windward[3] - leeward[3]) / 0.1
    sideslip = -N_yaw / N_beta if N_beta > 1e-9 else 0.0
    del z0
    return Response(
        airspeed_ms=airspeed_ms,
        pitch_rate=M_stick * lift_rate / stiffness,
        roll_rate=-L_roll / L_p,
        roll_rate_by_yaw=-(L_yaw + L_beta * sideslip) / L_p,
        sideslip_by_yaw=sideslip,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FlightPlan:
    """Speeds and heights of a first flight.

    stall_ms, cruise_ms, glide_ms : airspeeds the pilot aims at. [m/s]
    cruise_throttle, climb_throttle : 0 to 1.
    climb_pitch_rad : nose above the horizon in the climb. [rad]
    top_m : height of the manoeuvres over the field. [m]
    bank_rad : bank of the turns. [rad]
    hands_off_s : sticks at centre after the throw, while the hand comes back to them. [s]
    """

    stall_ms: float
    cruise_ms: float
    glide_ms: float
    cruise_throttle: float = 0.6
    climb_throttle: float = 1.0
    climb_pitch_rad: float = math.radians(15.0)
    top_m: float = 22.0
    bank_rad: float = math.radians(30.0)
    hands_off_s: float = 0.5
    from_wheels: bool = False


class Phase(Enum):
    """What the pilot is doing."""

    RUN = "take-off run"
    LAUNCH = "launch"
    CLIMB = "climb"
    LEVEL = "level"
    STARBOARD = "turn to starboard"
    ROLL_OUT = "roll out"
    PORT = "turn to port"
    SETTLE = "settle"
    STALL = "stall"
    RECOVERY = "recovery"
    GLIDE = "glide"
    FLARE = "round out"
    ROLL = "landing roll"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """The moment a phase began, with what the pilot saw."""

    phase: Phase
    time_s: float
    height_m: float
    airspeed_ms: float
    heading_rad: float
    bank_rad: float


class FirstFlightPilot:
    """Flies a plan; keep one for one flight. ``marks`` lists the phases as they began."""

    def __init__(self, plan: FlightPlan, answer: Response, step_s: float = STEP_S) -> None:
        if abs(answer.pitch_rate) < _FEEBLE:
            raise SolveError(
                f"full pitch stick gives {math.degrees(answer.pitch_rate):.1f}°/s; a first flight needs an elevator "
                "or elevons that work. Check the throws and the linkage."
            )
        self.plan = plan
        self.finished = False
        self.marks: list[Mark] = []
        self.phase = Phase.RUN if plan.from_wheels else Phase.LAUNCH
        self.stall_broke = False
        self.pitch_trim = self.roll_trim = self.yaw_trim = 0.0
        self.trim: tuple[float, float, float] = (0.0, 0.0, 0.0)
        self._trim_sum = [0.0, 0.0, 0.0, 0.0]
        self._answer = answer
        self._step = step_s
        self._lag = 1.0 - math.exp(-step_s / REACTION_S)
        self._hands = [0.0, 0.0, 0.0, 0.0]
        self._began = 0.0
        self._heading = 0.0
        self._full_back_s = 0.0
        self._stalling_back = 1.0  # how far back from trim the stick stood when it stalled
        self._throttle_trim = plan.cruise_throttle
        self._stall_pitch = 0.0
        self._glide_pitch = math.radians(-6.0)
        self._top = plan.top_m
        self._start_height: float | None = None
        # proportional gains for a bandwidth a hand can hold; never more than full stick for 15° of error
        self._k_pitch = math.copysign(min(2.5 / abs(answer.pitch_rate), 4.0), answer.pitch_rate)
        by_roll = answer.banks_by_roll
        rate = answer.roll_rate if by_roll else answer.roll_rate_by_yaw
        width = 2.5 if by_roll else 1.2
        self._k_bank = math.copysign(min(width / abs(rate), 4.0), rate) if answer.can_turn else 0.0
        slip = answer.sideslip_by_yaw
        feet = by_roll and abs(slip) > math.radians(2.0)
        self._k_feet = math.copysign(min(0.3 / abs(slip), 1.5), slip) * -1.0 if feet else 0.0

    def __call__(self, view: View, /) -> tuple[float, float, float, float]:
        if not self.marks:
            self._start_height = view.height_m
            self._mark(self.phase, view)
        self._advance(view)
        pitch, roll, yaw, throttle = self._sticks(view)
        if self.phase is Phase.LAUNCH and view.time_s < self.plan.hands_off_s:
            pitch = roll = yaw = 0.0
        hands = self._hands
        for k, wanted in enumerate((pitch, roll, yaw, throttle)):
            low = 0.0 if k == 3 else -1.0
            hands[k] += self._lag * (max(low, min(1.0, wanted)) - hands[k])
        if not self.marks[1:] and view.time_s == 0.0 and not self.plan.from_wheels:
            hands[3] = self.plan.climb_throttle
        return hands[0], hands[1], hands[2], hands[3]

    def _mark(self, phase: Phase, view: View) -> None:
        self.phase = phase
        self._began = view.time_s
        self._heading = view.heading_rad
        self.marks.append(
            Mark(
                phase=phase,
                time_s=view.time_s,
                height_m=view.height_m,
                airspeed_ms=view.airspeed_ms,
                heading_rad=view.heading_rad,
                bank_rad=view.bank_rad,
            )
        )

    def _advance(self, view: View) -> None:
        plan, phase = self.plan, self.phase
        since = view.time_s - self._began
        if phase is Phase.RUN:
            if view.airspeed_ms > 1.2 * plan.stall_ms:
                self._mark(Phase.CLIMB, view)
            elif since > 15.0:
                self.finished = True
        elif phase is Phase.LAUNCH:
            if since > 2.0 and view.airspeed_ms > 1.1 * plan.stall_ms:
                self._mark(Phase.CLIMB, view)
        elif phase is Phase.CLIMB:
            if view.height_m > self._top or since > 16.0:
                self._top = min(self._top, max(view.height_m, 8.0))
                self._mark(Phase.LEVEL, view)
        elif phase is Phase.LEVEL:
            if since > 2.5:
                for k in range(3):
                    self._trim_sum[k] += self._hands[k]
                self._trim_sum[3] += 1.0
            if since > 6.0:
                count = self._trim_sum[3]
                self.trim = (self._trim_sum[0] / count, self._trim_sum[1] / count, self._trim_sum[2] / count)
                self._mark(Phase.STARBOARD if self._answer.can_turn else Phase.SETTLE, view)
        elif phase is Phase.STARBOARD:
            if view.heading_rad - self._heading > math.pi or since > 9.0:
                self._mark(Phase.ROLL_OUT, view)
        elif phase is Phase.ROLL_OUT:
            if since > 1.5:
                self._mark(Phase.PORT, view)
        elif phase is Phase.PORT:
            if self._heading - view.heading_rad > math.pi or since > 9.0:
                self._mark(Phase.SETTLE, view)
        elif phase is Phase.SETTLE:
            if since > 2.0:
                self._stall_pitch = view.pitch_rad
                self._mark(Phase.STALL, view)
        elif phase is Phase.STALL:
            self._watch_stall(view, since)
        elif phase is Phase.RECOVERY:
            if (
                since > 0.5 and view.airspeed_ms > 1.2 * plan.stall_ms and view.climb_ms > -0.3
            ) or since > 6.0:
                self._mark(Phase.GLIDE, view)
        elif phase is Phase.GLIDE:
            if view.height_m < max(1.8, -view.climb_ms * 1.1):
                self._mark(Phase.FLARE, view)
        elif phase is Phase.FLARE:
            if plan.from_wheels and view.height_m < 0.5 and abs(view.climb_ms) < 0.3 and since > 1.0:
                self._mark(Phase.ROLL, view)
        elif phase is Phase.ROLL and (view.airspeed_ms < 2.5 or since > 4.0):
            self.finished = True

    def _watch_stall(self, view: View, since: float) -> None:
        """The break: nose or wing falls although the stick is back; or it mushes with the stick full back."""
        back = self._hands[0] * math.copysign(1.0, self._k_pitch)
        falling = view.q_rad_s < -math.radians(15.0) and back > 0.4
        dropping = abs(view.bank_rad) > math.radians(30.0) and view.airspeed_ms < 1.3 * self.plan.stall_ms
        self._full_back_s = self._full_back_s + self._step if back > 0.97 else 0.0
        if since > 0.5 and (falling or dropping):
            self.stall_broke = True
            self._stalling_back = max(back - self.pitch_trim * math.copysign(1.0, self._k_pitch), 0.1)
            self._mark(Phase.RECOVERY, view)
        elif self._full_back_s > 1.2 or since > 9.0:
            self._mark(Phase.RECOVERY, view)

    def _sticks(self, view: View) -> tuple[float, float, float, float]:
        plan, phase = self.plan, self.phase
        throttle, bank = plan.climb_throttle, 0.0
        since = view.time_s - self._began
        # a steady rate of pitch or roll goes with the airspeed
        soften = self._answer.airspeed_ms / max(view.airspeed_ms, 0.6 * self._answer.airspeed_ms)
        hold_height = self._top - view.height_m
        if phase is Phase.RUN:
            yaw = max(-1.0, min(1.0, -2.0 * view.heading_rad - 0.3 * view.r_rad_s))
            level = -self._k_bank * soften * (view.bank_rad + 0.08 * view.p_rad_s)
            roll = level if self._answer.banks_by_roll else 0.0
            return self.pitch_trim, roll, yaw, plan.climb_throttle
        if phase in (Phase.LAUNCH, Phase.CLIMB):
            slow = view.airspeed_ms - 1.2 * plan.stall_ms
            pitch = min(plan.climb_pitch_rad, max(math.radians(-8.0), plan.climb_pitch_rad + 0.10 * slow))
            if (
                plan.from_wheels
                and self._start_height is not None
                and view.height_m < self._start_height + 1.5
            ):
                pitch = max(pitch, math.radians(4.0))  # just off the ground there is nothing to dive into
        elif phase in (Phase.LEVEL, Phase.STARBOARD, Phase.ROLL_OUT, Phase.PORT, Phase.SETTLE):
            error = plan.cruise_ms - view.airspeed_ms
            self._throttle_trim = max(0.0, min(1.0, self._throttle_trim + 0.04 * error * self._step))
            throttle = self._throttle_trim + 0.10 * error
            sink = 0.25 * max(-2.0, min(2.0, hold_height)) - view.climb_ms
            self._stall_pitch += 0.06 * sink * self._step
            pitch = self._stall_pitch + 0.07 * sink
            if phase is Phase.STARBOARD:
                bank = plan.bank_rad * min(1.0, since / 0.6)
            elif phase is Phase.PORT:
                bank = -plan.bank_rad * min(1.0, since / 0.6)
            # a banked wing must lift more: nose up with the load factor
            pitch += 0.5 * (1.0 / max(math.cos(view.bank_rad), 0.5) - 1.0)
        elif phase is Phase.STALL:
            throttle = 0.0
            pitch = self._stall_pitch + math.radians(4.0) * since
        elif phase is Phase.RECOVERY:
            throttle = plan.cruise_throttle if since > 0.3 else 0.0
            pitch = math.radians(-12.0) if view.airspeed_ms < 1.15 * plan.stall_ms else math.radians(2.0)
        elif phase is Phase.GLIDE:
            throttle = 0.0
            fast = view.airspeed_ms - plan.glide_ms
            self._glide_pitch += 0.015 * fast * self._step
            pitch = self._glide_pitch + 0.05 * fast
            pitch = max(math.radians(-20.0), min(math.radians(8.0), pitch))
        else:
            throttle = 0.0
            wanted = -0.25 - 0.5 * max(view.height_m - 0.3, 0.0)
            pitch = view.pitch_rad + 0.14 * (wanted - view.climb_ms)
            pitch = max(math.radians(-8.0), min(math.radians(14.0), pitch))
        error = pitch - view.pitch_rad
        if phase not in (Phase.STALL, Phase.RECOVERY, Phase.FLARE):
            self.pitch_trim += 0.5 * self._k_pitch * error * self._step
            self.pitch_trim = max(-1.0, min(1.0, self.pitch_trim))
        hand_pitch = self.pitch_trim + self._k_pitch * soften * (error - 0.15 * view.q_rad_s)
        if phase is Phase.STALL:
            # the stick only comes back, slowly, as a stall is flown
            hand_pitch = max(hand_pitch, self.pitch_trim + math.copysign(0.12, self._k_pitch) * since)
        if phase in (Phase.RECOVERY, Phase.GLIDE, Phase.FLARE):
            # he has felt how far back stalls it: forward first, then never so far again
            back = 0.9 if phase is Phase.FLARE else 0.5
            if phase is Phase.RECOVERY and since < 0.5:
                back = -0.3
            most = back * self._stalling_back
            sign = math.copysign(1.0, self._k_pitch)
            hand_pitch = self.pitch_trim + sign * min((hand_pitch - self.pitch_trim) * sign, most)
        return hand_pitch, *self._bank_sticks(view, bank, soften), throttle

    def _bank_sticks(self, view: View, bank: float, soften: float) -> tuple[float, float]:
        error = bank - view.bank_rad
        if self._answer.banks_by_roll:
            if abs(bank) < 0.01:
                self.roll_trim += 0.3 * self._k_bank * error * self._step
                self.roll_trim = max(-0.6, min(0.6, self.roll_trim))
            roll = self.roll_trim + self._k_bank * soften * (error - 0.08 * view.p_rad_s)
            return roll, self._k_feet * soften * view.beta_rad
        # against dihedral a rudder must be held in
        self.yaw_trim += 0.6 * self._k_bank * error * self._step
        self.yaw_trim = max(-0.8, min(0.8, self.yaw_trim))
        return 0.0, self.yaw_trim + self._k_bank * soften * (error - 0.35 * view.p_rad_s)
