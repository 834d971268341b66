"""How far each control moves, what that gives, how hard it is for its servo, and what keeps a turn tidy."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from sheetlark.air import Condition, HingeMoment, coefficients_at, derivatives_at
from sheetlark.airframe import Airframe, LiftingSurface
from sheetlark.atmosphere import GRAVITY_MS2, air_at
from sheetlark.design import Design, Servo
from sheetlark.errors import SolveError
from sheetlark.evaluation.air_stage import AirFigures
from sheetlark.evaluation.flight_stage import FlightFigures
from sheetlark.evaluation.vehicle import controls_of
from sheetlark.flight import (
    FLAP_LOSS,
    SIDESLIP_LIMIT_RAD,
    FlightState,
    HoleChoice,
    Linkage,
    MixChoice,
    Throws,
    TurnEntry,
    best_holes,
    differential_for,
    elevator_for_lift,
    exponential_for,
    full_roll_helix,
    in_stability_axes,
    linear_model,
    rudder_mix_for,
    stability_derivatives,
    stick_effect,
    throws_for,
    tidiest_mix,
    travel_at_trailing_edge,
    trim_level,
    trim_with_throttle,
    turn_entry,
    with_rudder_mix,
)
from sheetlark.stock import Stock
from sheetlark.weights import Weights

# Holes of a common small horn, from the hinge line; length of a push-rod nobody stated: common practice, no source.
HORN_HOLES_M = (0.008, 0.010, 0.012, 0.014, 0.016)
PUSH_ROD_M = 0.08
# Sideslip a rudder or fin may meet at speed, and roll rate a first pilot is at ease with (common practice).
_RUDDER_SIDESLIP_RAD = math.radians(5.0)
_GENTLE_ROLL_RAD_S = math.radians(90.0)
# A slow approach, over the stall: where models skid most (common practice).
SLOW = 1.2


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlFigures:
    """One servo and what it moves.

    up_rad, down_rad : throws as stated. wanted_rad : throw that the target asks for (see `wanted_for`), 0 for none.
    up_m, down_m : the same at the trailing edge, at the control's inner end, as a ruler shows it.
    hinge_moment_nm : the most the air puts on the hinge at top speed, all that one servo moves.
    servo_up_rad, servo_down_rad : servo turns for the throws; None where the linkage does not reach.
    servo_torque_nm : at the worse end. torque_nm : what the servo has.
    travel_used : of the servo's travel either way. best : holes with the least torque, None where none serves.
    expo : softening to start with. says : what does not work, in words
    """

    moves: str
    surface: str
    where: int
    up_rad: float
    down_rad: float
    wanted_rad: float
    wanted_for: str
    up_m: float
    down_m: float
    hinge_moment_nm: float
    servo_up_rad: float | None
    servo_down_rad: float | None
    servo_torque_nm: float | None
    torque_nm: float
    travel_used: float | None
    best: HoleChoice | None
    expo: float
    says: str = ""

    @property
    def torque_share(self) -> float | None:
        """Of the servo's torque, what the air asks for at top speed; None where the linkage does not reach."""
        return None if self.servo_torque_nm is None else self.servo_torque_nm / self.torque_nm


@dataclass(frozen=True, kw_only=True, eq=False)
class ControlsFigures:
    """All controls.

    servos : in the design's order, those that move something
    throws : what the targets ask for
    roll_rate_rad_s, helix_rad : of the stated ailerons at cruise; 0 without
    entry : into a turn with the roll stick alone (or the rudder alone where it banks); None without any
    rudder_mix : least part of the roll stick on the rudder that keeps the entry within 5 degrees of sideslip; 0 where
        none is needed or there is no rudder. coordinated : entry with that mix
    """

    servos: tuple[ControlFigures, ...]
    throws: Throws
    roll_rate_rad_s: float
    helix_rad: float
    entry: TurnEntry | None
    rudder_mix: float
    coordinated: TurnEntry | None
    flight: FlightFigures
    air: AirFigures
    cruise_alpha_rad: float

    @property
    def peak_sideslip_rad(self) -> float | None:
        """Of the entry into a turn, flown with all the controls it has."""
        return None if self.coordinated is None else self.coordinated.peak_sideslip_rad

    @cached_property
    def differential(self) -> float | None:
        """Least aileron differential that would do it without the rudder; None where none does or has ailerons."""
        f = self.flight
        try:
            choice = differential_for(f.vehicle, f.mixer, f.linear, self.cruise_alpha_rad)
        except SolveError:
            return None
        return choice.mix if choice.peak_sideslip_rad <= SIDESLIP_LIMIT_RAD else None

    @cached_property
    def least_sideslip_rad(self) -> float | None:
        """Of the entry into a turn with more rudder mixed in than is needed, until it grows again.

        Where the mix is what holds the peak at its limit, this still tells one aeroplane from a tidier one.
        """
        if self.coordinated is None:
            return None
        peak = self.coordinated.peak_sideslip_rad
        if not _has_both(self.flight) or peak > SIDESLIP_LIMIT_RAD:
            return peak
        f = self.flight
        peaks = with_rudder_mix(f.vehicle, f.mixer, f.linear, self.cruise_alpha_rad)
        return tidiest_mix(peaks, MixChoice(mix=self.rudder_mix, peak_sideslip_rad=peak)).peak_sideslip_rad

    @cached_property
    def slow(self) -> TurnEntry | None:
        """The entry at a slow approach, 1.2 times the stall, with the same mix; None where it cannot be trimmed."""
        return _slow_entry(self.flight, self.air, self.rudder_mix)


def controls_figures(
    design: Design,
    airframe: Airframe,
    weights: Weights,
    air: AirFigures,
    flight: FlightFigures,
    stock: Stock,
) -> ControlsFigures:
    """Throws, loads, and the mix for tidy turns."""
    d, v = flight.derivatives, flight.vehicle
    throws = throws_for(
        d,
        v.reference,
        cruise_ms=flight.cruise_ms,
        greatest_lift=flight.polar.greatest_lift,
    )
    at = flight.cruise or flight.glide
    alpha = at.alpha_rad if at is not None else air.results.condition.alpha_rad
    helix = full_roll_helix(d, flight.mixer)
    roll_rate = helix * 2.0 * flight.cruise_ms / v.reference.span_m
    now = air_at(design.flying.altitude, design.flying.temperature)
    p = flight.performance
    top = p.top_ms if p is not None else 1.5 * flight.cruise_ms
    pressure = 0.5 * now.density_kg_m3 * top**2
    lift = weights.all_up_kg * GRAVITY_MS2 / (pressure * airframe.reference.area_m2)
    fast_alpha = air.zero_lift_rad + lift / air.lift_slope_per_rad
    servos = []
    for i, servo in enumerate(design.radio.servo if design.radio is not None else ()):
        surface = _moved(airframe, servo)
        if surface is None:
            continue
        servos.append(
            _servo(
                servo,
                i,
                surface,
                [h for h in air.results.hinges if h.control == servo.moves],
                pressure,
                fast_alpha,
                throws,
                _elevator(throws, flight),
                _expo(servo, flight, roll_rate),
                stock,
            )
        )
    mix, coordinated = _coordinated(flight, alpha)
    return ControlsFigures(
        servos=tuple(servos),
        throws=throws,
        roll_rate_rad_s=roll_rate,
        helix_rad=helix,
        entry=flight.entry,
        rudder_mix=mix,
        coordinated=coordinated,
        flight=flight,
        air=air,
        cruise_alpha_rad=alpha,
    )


def _elevator(throws: Throws, flight: FlightFigures) -> float:
    """Up elevator that stalls it with a fifth in reserve: by the derivatives, or as the trimmed polar needed it."""
    pitching = max((abs(s.pitch_rad) for s in flight.mixer.surfaces), default=0.0)
    stick = flight.stall_stick
    return max(throws.elevator_rad, 1.2 * abs(stick) * pitching if stick is not None else 0.0)


def _moved(airframe: Airframe, servo: Servo) -> LiftingSurface | None:
    return next(
        (s for s in airframe.surfaces if s.control is not None and s.control.moves == servo.moves), None
    )


def _expo(servo: Servo, flight: FlightFigures, roll_rate: float) -> float:
    """Softening that brings the middle of the stick to 90 degrees a second, or to two g for the whole stick."""
    d = flight.derivatives
    if servo.moves in {"aileron", "flaperon", "elevon"} and roll_rate > 0.0:
        return exponential_for(roll_rate, _GENTLE_ROLL_RAD_S)
    pitching = [abs(s.pitch_rad) for s in flight.mixer.surfaces if s.pitch_rad]
    if servo.moves == "elevator" and pitching:
        try:
            pull = abs(elevator_for_lift(d, max(d.CL, 0.1)))
        except SolveError:
            return 0.0
        return exponential_for(max(pitching), 2.0 * pull) if pull > 0.0 else 0.0
    return 0.0


def _servo(
    servo: Servo,
    place: int,
    surface: LiftingSurface,
    hinges: list[HingeMoment],
    pressure: float,
    alpha: float,
    throws: Throws,
    elevator: float,
    expo: float,
    stock: Stock,
) -> ControlFigures:
    control = surface.control
    assert control is not None
    item = stock.servo(servo.stock)
    angle = _RUDDER_SIDESLIP_RAD if servo.moves == "rudder" else alpha
    moments = []
    for throw in (-control.up_rad, control.down_rad):
        each = [
            abs(h.at_zero + h.per_alpha * angle + FLAP_LOSS * h.per_deflection * throw)
            * pressure
            * h.area_m2
            * h.chord_m
            for h in hinges
        ]
        moments.append(max(each, default=0.0) if servo.pair else sum(each))
    reach = servo.push_rod_length or PUSH_ROD_M
    linked = _linked(servo.arm, servo.horn, reach, control.up_rad, control.down_rad)
    best = _holes(item.arm_holes_m, reach, control.up_rad, control.down_rad, 0.5 * item.travel_rad)
    says = "" if linked is not None else _short(servo, control.up_rad, control.down_rad)
    if linked is not None and best is None:
        says = "no pair of the servo's own holes and a common horn's gives these throws within its travel"
    flap = _flap(surface)
    return ControlFigures(
        moves=servo.moves,
        surface=surface.name,
        where=place,
        up_rad=control.up_rad,
        down_rad=control.down_rad,
        wanted_rad={"elevator": elevator, "rudder": throws.rudder_rad}.get(servo.moves, throws.aileron_rad),
        wanted_for={
            "elevator": "for a stall with a fifth in reserve",
            "rudder": "by common practice, no source",
        }.get(servo.moves, "for a roll helix pb/2V of 0.07 at cruise"),
        up_m=travel_at_trailing_edge(flap, control.up_rad),
        down_m=travel_at_trailing_edge(flap, control.down_rad),
        hinge_moment_nm=max(moments),
        servo_up_rad=None if linked is None else linked[0],
        servo_down_rad=None if linked is None else linked[1],
        servo_torque_nm=None if linked is None else max(moments[0] * linked[2], moments[1] * linked[3]),
        torque_nm=item.torque_nm,
        travel_used=None if linked is None else max(linked[0], linked[1]) / (0.5 * item.travel_rad),
        best=None if best is None else _loaded(best, max(moments)),
        expo=expo,
        says=says,
    )


def _loaded(best: HoleChoice, moment_nm: float) -> HoleChoice:
    return HoleChoice(
        arm_m=best.arm_m,
        horn_m=best.horn_m,
        servo_up_rad=best.servo_up_rad,
        servo_down_rad=best.servo_down_rad,
        travel_used=best.travel_used,
        servo_torque_nm=moment_nm * best.servo_torque_nm,
    )


def _short(servo: Servo, up: float, down: float) -> str:
    return (
        f"the linkage, {1e3 * servo.arm:.0f} mm on the arm and {1e3 * servo.horn:.0f} mm on the horn, cannot give "
        f"{math.degrees(up):.0f} degrees one way and {math.degrees(down):.0f} the other"
    )


@lru_cache(maxsize=128)
def _linked(
    arm: float, horn: float, reach: float, up: float, down: float
) -> tuple[float, float, float, float] | None:
    """Servo turns for both throws and the gearing at each, all positive; None where it does not reach."""
    linkage = Linkage(arm_m=arm, horn_m=horn, distance_m=reach)
    try:
        turns = linkage.servo_for(up), linkage.servo_for(-down)
        gears = [abs(linkage.gearing(turn)) for turn in turns]
    except SolveError:
        return None
    return abs(turns[0]), abs(turns[1]), gears[0], gears[1]


@lru_cache(maxsize=128)
def _holes(
    arm_holes: tuple[float, ...], reach: float, up: float, down: float, travel: float
) -> HoleChoice | None:
    """Best holes for a hinge moment of one newton metre."""
    try:
        return best_holes(
            arm_holes_m=arm_holes,
            horn_holes_m=HORN_HOLES_M,
            distance_m=reach,
            up_rad=up,
            down_rad=down,
            hinge_moment_nm=1.0,
            travel_rad=travel,
        )
    except SolveError:
        return None


def _flap(surface: LiftingSurface) -> float:
    """Chord of the moving part at its inner end. [m]."""
    hinge = surface.hinge_line()
    assert hinge is not None
    (x, _), _ = hinge
    assert surface.control is not None
    front, chord = surface.chord_at(surface.control.start)
    return front + chord - x


def _has_both(flight: FlightFigures) -> bool:
    """Whether it has ailerons and a rudder, to be mixed."""
    surfaces = flight.mixer.surfaces
    return any(s.roll_rad for s in surfaces) and any(s.yaw_rad for s in surfaces)


def _coordinated(flight: FlightFigures, alpha: float) -> tuple[float, TurnEntry | None]:
    """Least rudder mix for a tidy entry, and the entry with it; the best there is where none suffices."""
    entry = flight.entry
    if entry is None or not _has_both(flight) or entry.peak_sideslip_rad <= SIDESLIP_LIMIT_RAD:
        return 0.0, entry
    choice = rudder_mix_for(flight.vehicle, flight.mixer, flight.linear, alpha)
    return choice.mix, _entry(flight, alpha, choice.mix) if choice.mix else entry


def _entry(flight: FlightFigures, alpha: float, mix: float) -> TurnEntry | None:
    effect = stick_effect(flight.vehicle, flight.mixer.with_rudder_mix(mix), flight.cruise_ms, alpha)
    try:
        return turn_entry(flight.linear, effect)
    except SolveError:
        return None


def _slow_entry(flight: FlightFigures, air: AirFigures, mix: float) -> TurnEntry | None:
    v, speed = flight.vehicle, SLOW * flight.stall_ms
    mixer = flight.mixer.with_rudder_mix(mix)
    try:
        try:
            at = trim_level(v, flight.mixer, speed)
        except SolveError:
            at = trim_with_throttle(v, flight.mixer, speed, 0.0)
        condition = Condition(
            speed_ms=speed,
            density_kg_m3=v.density_kg_m3,
            viscosity_m2_s=air.results.condition.viscosity_m2_s,
            alpha_rad=at.alpha_rad,
        )
        elevator, aileron, rudder = controls_of(air.model.drives)
        d = stability_derivatives(
            derivatives_at(air.model, condition),
            coefficients_at(air.model, condition),
            at.alpha_rad,
            elevator=elevator,
            aileron=aileron,
            rudder=rudder,
        )
        model = linear_model(
            d,
            in_stability_axes(v.mass, at.alpha_rad),
            v.reference,
            FlightState(speed_ms=speed, density_kg_m3=v.density_kg_m3),
        )
        return turn_entry(model, stick_effect(v, mixer, speed, at.alpha_rad))
    except (SolveError, np.linalg.LinAlgError):
        return None
