"""A first flight told: what happened when, and the figures a builder wants from it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.flight.forces import Vehicle
from sheetlark.flight.gust import STILL, Wind
from sheetlark.flight.mixing import Mixer
from sheetlark.flight.pilot import FirstFlightPilot, FlightPlan, Mark, Phase, response
from sheetlark.flight.simulate import STEP_S, Floats, History, Start, fly


@dataclass(frozen=True, slots=True, kw_only=True)
class Throw:
    """A launch by hand: speed over the ground, angle above the horizon, height of the hand, bank by mischance."""

    speed_ms: float = 6.5  # 5 to 7 m/s: common practice, no source
    up_rad: float = math.radians(6.0)
    height_m: float = 1.8
    bank_rad: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something that happened: when, how high, and in words."""

    time_s: float
    height_m: float
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """One turn as flown.

    heading_change_rad : signed, starboard positive. bank_rad : most bank reached.
    radius_m : from the mean rate of turn; infinite if it did not turn.
    """

    starboard: bool
    seconds: float
    heading_change_rad: float
    bank_rad: float
    peak_sideslip_rad: float
    radius_m: float
    height_lost_m: float

    @property
    def turned(self) -> bool:
        """Whether it went round at least a third of what was asked, the right way."""
        wanted = 1.0 if self.starboard else -1.0
        return wanted * self.heading_change_rad > math.pi / 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stall:
    """The stall as flown: slowest airspeed, whether it broke or mushed, wing dropped, height until level again."""

    speed_ms: float
    broke: bool
    bank_rad: float
    recovery_height_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Story:
    """A whole first flight.

    launch_height_lost_m : below the hand (or the run's end) before it climbed. [m]
    pitch_trim, roll_trim, yaw_trim : sticks held in level flight, -1 to 1: the trim it needs.
    trim_deflections_rad : the same at each surface, in the mixer's order.
    peak_sideslip_rad : in the turns.
    touch_down_sink_ms : sink at the ground. [m/s]
    launched_by_hand : otherwise from its wheels
    """

    events: tuple[Event, ...]
    history: History
    launch_height_lost_m: float
    pitch_trim: float
    roll_trim: float
    yaw_trim: float
    trim_deflections_rad: tuple[float, ...]
    turns: tuple[Turn, ...]
    stall: Stall | None
    touch_down_sink_ms: float
    landed_as_planned: bool
    launched_by_hand: bool = True

    @property
    def peak_sideslip_rad(self) -> float:
        return max((turn.peak_sideslip_rad for turn in self.turns), default=0.0)

    @property
    def turns_both_ways(self) -> bool:
        return len(self.turns) == 2 and all(turn.turned for turn in self.turns)


def first_flight(
    vehicle: Vehicle,
    mixer: Mixer,
    plan: FlightPlan,
    *,
    cruise_alpha_rad: float = 0.0,
    throw: Throw | None = None,
    wind: Wind = STILL,
    seconds: float = 60.0,
    step_s: float = STEP_S,
    watch: Callable[[float], None] | None = None,
) -> Story:
    """Fly a model for the first time, thrown by hand, or from its wheels if the plan says so.

    Parameters
    ----------
    cruise_alpha_rad : float
        Incidence of level flight, where the strength of the controls is felt. [rad]
    throw : Throw, optional
        Left out: 6.5 m/s, 6° up, from 1.8 m.
    watch : callable, optional
        Told the time flown, once for every second of it; it may raise to stop.
    """
    # the trade adds half the wind to the approach (common practice, no source)
    plan = replace(plan, glide_ms=plan.glide_ms + 0.5 * wind.speed_ms)
    answer = response(vehicle, mixer, plan.cruise_ms, cruise_alpha_rad)
    pilot = FirstFlightPilot(plan, answer, step_s)
    thrown = throw or Throw()
    if plan.from_wheels and vehicle.wheels:
        start = standing(vehicle)
    else:
        start = Start(
            height_m=thrown.height_m,
            speed_ms=thrown.speed_ms,
            pitch_rad=thrown.up_rad,
            path_rad=thrown.up_rad,
            bank_rad=thrown.bank_rad,
        )
    history = fly(vehicle, mixer, start, pilot, seconds=seconds, wind=wind, step_s=step_s, watch=watch)
    from_wheels = plan.from_wheels and bool(vehicle.wheels)
    return _told(
        history,
        pilot,
        mixer,
        from_wheels=from_wheels,
        on_wheels_m=max((z for _, _, z in vehicle.wheels), default=0.0),
    )


def standing(vehicle: Vehicle) -> Start:
    """Standing on its wheels: on the lowest ones, the tail let down until something behind them touches."""
    main = max(vehicle.wheels, key=lambda point: point[2])
    behind = [p for p in vehicle.wheels if p[0] < main[0] - 0.02]
    pitch = min((math.atan2(main[2] - p[2], main[0] - p[0]) for p in behind), default=0.0)
    lowest = max(math.cos(pitch) * z - math.sin(pitch) * x for x, _, z in vehicle.wheels)
    return Start(height_m=lowest - 0.004, speed_ms=0.0, pitch_rad=pitch)


def _slice(history: History, begin: float, end: float) -> slice:
    first = int(np.searchsorted(history.time_s, begin - 1e-9))
    last = int(np.searchsorted(history.time_s, end + 1e-9))
    return slice(first, max(last, first + 1))


def _told(
    history: History, pilot: FirstFlightPilot, mixer: Mixer, *, from_wheels: bool, on_wheels_m: float
) -> Story:
    marks = pilot.marks
    ends = [mark.time_s for mark in marks[1:]] + [float(history.time_s[-1])]
    events: list[Event] = []
    turns: list[Turn] = []
    stall: Stall | None = None
    lost = _launch_loss(history)
    for mark, end in zip(marks, ends, strict=True):
        part = _slice(history, mark.time_s, end)
        says = mark.phase.value
        if mark.phase is Phase.LAUNCH:
            says = f"leaves the hand at {mark.airspeed_ms:.1f} m/s and loses {lost:.1f} m"
        elif mark.phase is Phase.RUN:
            says = f"starts to roll; at flying speed after {end - mark.time_s:.1f} s"
        elif mark.phase is Phase.CLIMB:
            gained = float(history.height_m[part][-1] - history.height_m[part][0])
            verb = "climbs" if gained >= 0.0 else "sinks"
            says = f"{verb} {abs(gained):.0f} m in {end - mark.time_s:.1f} s"
        elif mark.phase is Phase.LEVEL:
            says = f"flies level at {float(np.mean(history.airspeed_ms[part])):.1f} m/s; {_trim_words(pilot)}"
        elif mark.phase in (Phase.STARBOARD, Phase.PORT):
            turn = _turn(history, part, starboard=mark.phase is Phase.STARBOARD)
            turns.append(turn)
            says = (
                f"turns {'to starboard' if turn.starboard else 'to port'} through "
                f"{abs(math.degrees(turn.heading_change_rad)):.0f}° in {turn.seconds:.1f} s, radius {turn.radius_m:.0f} m, "
                f"sideslip up to {math.degrees(turn.peak_sideslip_rad):.1f}°"
            )
        elif mark.phase is Phase.STALL:
            says = "motor off, stick slowly back"
        elif mark.phase is Phase.RECOVERY:
            stall = _stall(history, marks, mark, end, pilot)
            how = "the stall breaks" if stall.broke else "it mushes with the stick full back"
            says = (
                f"{how} at {stall.speed_ms:.1f} m/s, bank {math.degrees(stall.bank_rad):.0f}°; "
                f"level again {stall.recovery_height_m:.1f} m lower"
            )
        elif mark.phase is Phase.GLIDE:
            says = f"glides, sinking {-float(np.mean(history.climb_ms[part])):.1f} m/s"
        events.append(Event(time_s=mark.time_s, height_m=mark.height_m, says=says))
    ending = marks[-1].phase in (Phase.FLARE, Phase.ROLL)
    sink = -float(history.climb_ms[-1])
    if from_wheels:
        flare = [mark.time_s for mark in marks if mark.phase is Phase.FLARE]
        sink = _wheels_touch(history, flare[0], on_wheels_m) if flare else sink
    planned = ending and (history.landed or pilot.finished)
    if history.landed or pilot.finished:
        end_says = (
            f"touches down sinking {sink:.1f} m/s" if ending else f"hits the ground sinking {sink:.1f} m/s"
        )
        if ending and from_wheels:
            end_says = f"rolls to a stop, having touched down sinking {sink:.1f} m/s"
        if not ending and from_wheels:
            end_says = "never leaves the ground"
    else:
        end_says = "still flying when the time is over"
    events.append(
        Event(time_s=float(history.time_s[-1]), height_m=float(history.height_m[-1]), says=end_says)
    )
    pitch, roll, yaw = pilot.trim
    return Story(
        events=tuple(events),
        history=history,
        launch_height_lost_m=lost,
        pitch_trim=pitch,
        roll_trim=roll,
        yaw_trim=yaw,
        trim_deflections_rad=mixer.deflections(pitch, roll, yaw),
        turns=tuple(turns),
        stall=stall,
        touch_down_sink_ms=sink,
        landed_as_planned=planned,
        launched_by_hand=not from_wheels,
    )


def _wheels_touch(history: History, after_s: float, on_wheels_m: float) -> float:
    """Sink when the wheels first touch after the round-out began; at the end where they never do. [m/s]."""
    part = _slice(history, after_s, float(history.time_s[-1]))
    low = np.flatnonzero(history.height_m[part] <= on_wheels_m + 0.01)
    # The first sample on the ground is already slowed by the springs: the one before it is the touch.
    at = max(int(low[0]) - 1, 0) if low.size else -1
    return -float(history.climb_ms[part][at])


def _launch_loss(history: History) -> float:
    """Start height less the lowest height before it is back above it (at most 8 s)."""
    start = float(history.height_m[0])
    part = _slice(history, 0.0, 8.0)
    heights = history.height_m[part]
    above = np.flatnonzero(heights > start + 1.0)
    until = int(above[0]) if above.size else heights.size
    return max(0.0, start - float(np.min(heights[: max(until, 1)])))


def _trim_words(pilot: FirstFlightPilot) -> str:
    words = []
    for value, more, less in zip(
        pilot.trim,
        ("nose up", "roll to starboard", "yaw to starboard"),
        ("nose down", "roll to port", "yaw to port"),
        strict=True,
    ):
        if abs(value) > 0.03:
            words.append(f"{100 * abs(value):.0f} % {more if value > 0 else less}")
    return "needs " + ", ".join(words) + " trim" if words else "needs no trim"


def _turn(history: History, part: slice, *, starboard: bool) -> Turn:
    time = history.time_s[part]
    heading = history.heading_rad[part]
    seconds = float(time[-1] - time[0])
    change = float(heading[-1] - heading[0])
    rate = abs(change) / seconds if seconds > 0.0 else 0.0
    speed = float(np.mean(history.airspeed_ms[part]))
    bank = history.bank_rad[part]
    return Turn(
        starboard=starboard,
        seconds=seconds,
        heading_change_rad=change,
        bank_rad=float(bank[np.argmax(np.abs(bank))]),
        peak_sideslip_rad=float(np.max(np.abs(history.beta_rad[part]))),
        radius_m=speed / rate if rate > 1e-3 else math.inf,
        height_lost_m=float(history.height_m[part][0] - np.min(history.height_m[part])),
    )


def _stall(history: History, marks: list[Mark], mark: Mark, end: float, pilot: FirstFlightPilot) -> Stall:
    began = next(m.time_s for m in marks if m.phase is Phase.STALL)
    slow: Floats = history.airspeed_ms[_slice(history, began, mark.time_s + 0.5)]
    after = _slice(history, mark.time_s, end)
    bank = history.bank_rad[_slice(history, mark.time_s, mark.time_s + 1.0)]
    return Stall(
        speed_ms=float(np.min(slow)),
        broke=pilot.stall_broke,
        bank_rad=float(bank[np.argmax(np.abs(bank))]),
        recovery_height_m=mark.height_m - float(np.min(history.height_m[after])),
    )
