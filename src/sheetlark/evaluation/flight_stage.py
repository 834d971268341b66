"""What the model does in the air: trim, performance, modes, where it may balance, how it turns."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

import numpy as np

from sheetlark.air import Condition, coefficients_at, derivatives_at
from sheetlark.airframe import Airframe
from sheetlark.atmosphere import GRAVITY_MS2, Air, air_at
from sheetlark.design import Design
from sheetlark.drive import DriveLine, Phase, duration
from sheetlark.errors import SolveError
from sheetlark.evaluation.air_stage import AirFigures
from sheetlark.evaluation.drive_stage import DriveFigures
from sheetlark.evaluation.vehicle import controls_of, vehicle_of
from sheetlark.flight import (
    BalanceRange,
    BatteryPlace,
    FlightState,
    LinearModel,
    Mixer,
    Mode,
    Performance,
    Polar,
    StabilityDerivatives,
    SteadyTurn,
    Trim,
    TurnEntry,
    Vehicle,
    balance_range,
    in_stability_axes,
    linear_model,
    named_modes,
    performance,
    place_battery,
    stability_derivatives,
    steady_turn,
    stick_effect,
    trim_level,
    trim_with_throttle,
    trimmed_polar,
    turn_entry,
)
from sheetlark.stock import Stock
from sheetlark.weights import Weights

# Margin a first flight should have, in mean chords; 5 to 15 % is common practice, no source.
WANTED_MARGIN = 0.10
TAILLESS_MARGIN = 0.06
# Share of the wing's own greatest lift that trimmed flight should reach; less makes it land fast (common practice).
REACHED_LIFT = 0.75


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MotionFigures:
    """How the model moves about its cruise.

    glide : trimmed at cruise speed, power off
    derivatives, linear, modes : about cruise, stability axes
    turn, entry : a steady 30-degree turn and the way into it; None where it has no control for it
    says : what could not be found, in words
    """

    glide: Trim | None
    derivatives: StabilityDerivatives
    linear: LinearModel
    modes: tuple[Mode, ...]
    turn: SteadyTurn | None
    entry: TurnEntry | None
    says: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class FlightFigures:
    """What the model does in the air.

    vehicle, mixer : the model and its controls, ready to be flown
    polar : trimmed lift and drag
    stall_stick : pitch stick that holds the greatest trimmed lift, -1 to 1; None where it cannot be trimmed
    performance : None where the motor cannot hold it up
    cruise : trimmed level flight; None where it cannot be trimmed
    found_first : what could not be found of these, in words
    work_out, ranging, placing, lasting : what finds `motion`, `balance`, `battery` and `cruise_s` when they are first asked
    for
    """

    vehicle: Vehicle
    mixer: Mixer
    polar: Polar
    stall_ms: float
    stall_alpha_rad: float
    stall_stick: float | None
    cruise_ms: float
    performance: Performance | None
    cruise: Trim | None
    wanted_margin: float
    found_first: tuple[str, ...]
    work_out: Callable[[], MotionFigures]
    ranging: Callable[[], BalanceRange]
    placing: Callable[[BalanceRange], BatteryPlace | None]
    lasting: Callable[[], float | None]

    @cached_property
    def motion(self) -> MotionFigures:
        """How it moves about its cruise; worked out when first asked for."""
        return self.work_out()

    @cached_property
    def balance(self) -> BalanceRange:
        """Where it may balance."""
        return self.ranging()

    @cached_property
    def battery(self) -> BatteryPlace | None:
        """Where the battery would have to be for the wanted margin; None without a drive."""
        return self.placing(self.balance)

    @cached_property
    def cruise_s(self) -> float | None:
        """How long the battery lasts at cruise; None where it cannot cruise. [s]"""
        return self.lasting()

    @property
    def glide(self) -> Trim | None:
        """Trimmed at cruise speed, power off."""
        return self.motion.glide

    @property
    def derivatives(self) -> StabilityDerivatives:
        """About cruise, stability axes."""
        return self.motion.derivatives

    @property
    def linear(self) -> LinearModel:
        """About cruise, stability axes."""
        return self.motion.linear

    @property
    def modes(self) -> tuple[Mode, ...]:
        """About cruise."""
        return self.motion.modes

    @property
    def turn(self) -> SteadyTurn | None:
        """A steady 30-degree turn."""
        return self.motion.turn

    @property
    def entry(self) -> TurnEntry | None:
        """The way into that turn."""
        return self.motion.entry

    @property
    def says(self) -> tuple[str, ...]:
        """What could not be found, in words."""
        return (*self.found_first, *self.motion.says)


def _polar(
    air: AirFigures, vehicle: Vehicle, mixer: Mixer, says: list[str]
) -> tuple[Polar, float, float | None]:
    """Trimmed lift and drag, the stall's incidence and stick; untrimmed, with a word, where it cannot be trimmed."""
    try:
        found = trimmed_polar(vehicle, mixer, speed_ms=air.results.condition.speed_ms)
    except SolveError as error:
        says.append(str(error))
    else:
        if found.lift[-1] > 0:
            stall, own = found.stall_alpha_rad, air.results.curve
            # An elevator that gives out long before the wing does must be judged at the wing's stall, not at its own end.
            if found.ends_by_elevator and found.lift[-1] < REACHED_LIFT * own.lift_max:
                stall = own.stall_rad
            return found.polar, stall, float(found.pitch_stick[-1])
    curve = air.results.curve
    rising = (curve.alpha_rad > curve.zero_lift_rad) & (curve.alpha_rad <= curve.stall_rad + 1e-9)
    lift, drag = curve.lift[rising], curve.drag[rising]
    keep = np.concatenate([[True], np.diff(np.maximum.accumulate(lift)) > 1e-6])
    return Polar(lift=lift[keep], drag=np.maximum(drag[keep], 1e-4)), curve.stall_rad, None


def flight_figures(
    design: Design,
    airframe: Airframe,
    weights: Weights,
    air: AirFigures,
    drive: DriveFigures | None,
    stock: Stock,
) -> FlightFigures:
    """Trim, performance, modes, balance range and turn of a model.

    Raises
    ------
    SolveError
        If the model has no trimmed lift at all.
    """
    now = air_at(design.flying.altitude, design.flying.temperature)
    vehicle, mixer = vehicle_of(design, airframe, weights, air, drive, stock)
    says: list[str] = []
    polar, stall_alpha, stall_stick = _polar(air, vehicle, mixer, says)
    area, mass = airframe.reference.area_m2, weights.all_up_kg
    stall = math.sqrt(2.0 * mass * GRAVITY_MS2 / (now.density_kg_m3 * area * polar.greatest_lift))

    found: Performance | None = None
    if drive is not None:
        try:
            found = performance(
                polar,
                drive.table.net,
                mass_kg=mass,
                area_m2=area,
                lift_slope_per_rad=air.lift_slope_per_rad,
                density_kg_m3=now.density_kg_m3,
            )
        except SolveError as error:
            says.append(str(error))
    cruise_ms = found.cruise_ms if found is not None else 1.4 * stall
    cruise = None
    if drive is not None:
        try:
            cruise = trim_level(vehicle, mixer, cruise_ms)
        except SolveError as error:
            says.append(str(error))
    later: list[str] = []
    glide = cache(lambda: _glide(vehicle, mixer, cruise_ms, later))
    at = cruise or glide()
    alpha = at.alpha_rad if at is not None else air.results.condition.alpha_rad
    margin = TAILLESS_MARGIN if airframe.tail is None else WANTED_MARGIN

    def ranging() -> BalanceRange:
        return balance_range(
            vehicle,
            mixer,
            stall_ms=stall,
            stall_alpha_rad=stall_alpha,
            cruise_ms=cruise_ms,
            cruise_alpha_rad=alpha,
            static_margin=margin,
        )

    def motion() -> MotionFigures:
        gliding = glide()
        return _motion(vehicle, mixer, air, drive, at, cruise_ms, now, area, gliding, tuple(later))

    return FlightFigures(
        vehicle=vehicle,
        mixer=mixer,
        polar=polar,
        stall_ms=stall,
        stall_alpha_rad=stall_alpha,
        stall_stick=stall_stick,
        cruise_ms=cruise_ms,
        performance=found,
        cruise=cruise,
        wanted_margin=margin,
        found_first=tuple(says),
        work_out=motion,
        ranging=ranging,
        placing=lambda balance: _battery(design, airframe, weights, balance, stock),
        lasting=lambda: _cruise_time(drive, cruise, now.density_kg_m3),
    )


def _glide(vehicle: Vehicle, mixer: Mixer, cruise_ms: float, says: list[str]) -> Trim | None:
    try:
        return trim_with_throttle(vehicle, mixer, cruise_ms, 0.0)
    except SolveError as error:
        says.append(str(error))
        return None


def _motion(
    vehicle: Vehicle,
    mixer: Mixer,
    air: AirFigures,
    drive: DriveFigures | None,
    at: Trim | None,
    cruise_ms: float,
    now: Air,
    area_m2: float,
    glide: Trim | None,
    says: tuple[str, ...],
) -> MotionFigures:
    """Derivatives about a trimmed state, and the motions and the turn that follow from them."""
    alpha = at.alpha_rad if at is not None else air.results.condition.alpha_rad
    thrust = at.thrust_n if at is not None else 0.0
    condition = Condition(
        speed_ms=cruise_ms,
        density_kg_m3=now.density_kg_m3,
        viscosity_m2_s=now.kinematic_viscosity_m2_s,
        alpha_rad=alpha,
        thrust_n=max(thrust, 0.0) / (drive.line.motors if drive else 1),
    )
    elevator, aileron, rudder = controls_of(air.model.drives)
    derivatives = stability_derivatives(
        derivatives_at(air.model, condition),
        coefficients_at(air.model, condition),
        alpha,
        elevator=elevator,
        aileron=aileron,
        rudder=rudder,
        thrust_by_speed=_thrust_by_speed(drive, at, cruise_ms, now.density_kg_m3, area_m2),
    )
    state = FlightState(speed_ms=cruise_ms, density_kg_m3=now.density_kg_m3)
    turned = in_stability_axes(vehicle.mass, alpha)
    linear = linear_model(derivatives, turned, vehicle.reference, state)
    turn: SteadyTurn | None = None
    entry: TurnEntry | None = None
    try:
        turn = steady_turn(derivatives, turned, vehicle.reference, state)
        entry = turn_entry(linear, stick_effect(vehicle, mixer, cruise_ms, alpha))
    except (SolveError, np.linalg.LinAlgError) as error:
        says = (*says, str(error))
    return MotionFigures(
        glide=glide,
        derivatives=derivatives,
        linear=linear,
        modes=named_modes(linear),
        turn=turn,
        entry=entry,
        says=says,
    )


def _thrust_by_speed(
    drive: DriveFigures | None, at: Trim | None, speed_ms: float, density: float, area_m2: float
) -> float:
    """d(thrust)/d(speed) at a held throttle, over (dynamic pressure x area / speed)."""
    if drive is None or at is None:
        return 0.0
    step = 0.5
    up = drive.table.thrust(speed_ms + step, at.throttle)
    down = drive.table.thrust(speed_ms - step, at.throttle)
    return (up - down) / (2 * step) / (0.5 * density * speed_ms * area_m2)


def _cruise_time(drive: DriveFigures | None, cruise: Trim | None, density_kg_m3: float) -> float | None:
    if drive is None or cruise is None:
        return None
    return _lasts(drive.line, round(cruise.airspeed_ms, 1), round(cruise.thrust_n, 2), density_kg_m3)


@lru_cache(maxsize=64)
def _lasts(line: DriveLine, airspeed_ms: float, thrust_n: float, density_kg_m3: float) -> float | None:
    phase = Phase(share=1.0, airspeed_ms=airspeed_ms, thrust_n=thrust_n)
    try:
        return duration(line, phase, density_kg_m3=density_kg_m3).time_s
    except SolveError:
        return None


def _battery(
    design: Design, airframe: Airframe, weights: Weights, balance: BalanceRange, stock: Stock
) -> BatteryPlace | None:
    drive = design.drive
    if drive is None:
        return None
    target = float(weights.balance_m[0]) + balance.aft_limit_m
    target = max(target, float(weights.balance_m[0]) + balance.forward_limit_m)
    nose = airframe.body.nose_m if airframe.body is not None else min(drive.pack_at[0], drive.motor_at[0])
    tail = airframe.body.tail_m if airframe.body is not None else max(s.at_m[0] for s in airframe.surfaces)
    try:
        return place_battery(
            all_up_kg=weights.all_up_kg,
            balance_x_m=float(weights.balance_m[0]),
            battery_kg=stock.pack(drive.pack).mass_kg,
            battery_x_m=drive.pack_at[0],
            bay_x_m=(drive.pack_at[0] - drive.pack_travel, drive.pack_at[0] + drive.pack_travel),
            target_x_m=target,
            ballast_ahead_x_m=nose + 0.01,
            ballast_astern_x_m=tail - 0.01,
        )
    except SolveError:
        return None
