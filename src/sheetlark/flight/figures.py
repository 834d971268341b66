"""Every figure of flight but the simulation, from one model of the air, one mass and one drive."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sheetlark.air import (
    AirModel,
    Condition,
    ControlDerivatives,
    Derivatives,
    coefficients_at,
    derivatives_at,
)
from sheetlark.errors import SolveError
from sheetlark.flight.derivatives import FlightState, MassProperties, Reference, StabilityDerivatives
from sheetlark.flight.forces import Propulsion, ThrustLine, Vehicle, no_thrust
from sheetlark.flight.joining import (
    AirModelForces,
    in_stability_axes,
    stability_derivatives,
    with_servo_directions,
)
from sheetlark.flight.mixing import Mixer
from sheetlark.flight.modes import LinearModel, Mode, linear_model, named_modes
from sheetlark.flight.performance import Performance, performance
from sheetlark.flight.pilot import FlightPlan, Response, response
from sheetlark.flight.trim import BalanceRange, Trim, balance_range, trim_level, trim_with_throttle
from sheetlark.flight.trimmed import TrimmedPolar, trimmed_polar
from sheetlark.flight.turning import SteadyTurn, TurnEntry, steady_turn, stick_effect, turn_entry

_FEEBLE = 0.003  # a control with less effect than this per radian is none


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlightFigures:
    """What a model will do, and the vehicle and mixer a simulation flies.

    cruise : the trimmed state the derivatives, modes and turns belong to.
    steady_turn, turn_entry : None when the model has no control that turns it (a chuck glider).
    plan : speeds and heights of a first flight.
    """

    vehicle: Vehicle
    mixer: Mixer
    polar: TrimmedPolar
    performance: Performance
    cruise: Trim
    derivatives: StabilityDerivatives
    linear: LinearModel
    modes: tuple[Mode, ...]
    balance: BalanceRange
    response: Response
    steady_turn: SteadyTurn | None
    turn_entry: TurnEntry | None
    plan: FlightPlan


def flight_figures(
    model: AirModel,
    mass: MassProperties,
    mixer: Mixer,
    propulsion: Propulsion | None,
    *,
    thrust_line: ThrustLine | None = None,
    torque_per_thrust_m: float = 0.0,
    density_kg_m3: float = 1.225,
    wheels: tuple[tuple[float, float, float], ...] = (),
    belly_z_m: float = 0.04,
    static_margin: float = 0.10,
    cruise_ms: float | None = None,
    bank_rad: float = math.radians(30.0),
) -> FlightFigures:
    """Trim, performance, derivatives, modes, balance range and turns together.

    Parameters
    ----------
    model : AirModel
        Balanced at the balance point.
    mixer : Mixer
        Its surfaces as :class:`AirModelForces` names them; servo directions are set here.
    propulsion : callable or None
        Quick (a :class:`ThrustTable`); None is a glider.
    torque_per_thrust_m : float
        Shaft torque over thrust at cruise, for the slipstream's swirl. [m]

    Raises
    ------
    SolveError
        If the model cannot be trimmed, or its motor cannot hold it level; the message says what is lacking.
    """
    size = model.reference
    vehicle = Vehicle(
        mass=mass,
        reference=Reference(area_m2=size.area_m2, chord_m=size.chord_m, span_m=size.span_m),
        air=AirModelForces(model, density_kg_m3, torque_per_thrust_m=torque_per_thrust_m),
        propulsion=no_thrust if propulsion is None else propulsion,
        thrust_line=thrust_line or ThrustLine(),
        density_kg_m3=density_kg_m3,
        wheels=wheels,
        belly_z_m=belly_z_m,
    )
    mixer = with_servo_directions(vehicle, mixer, 10.0, math.radians(3.0))
    polar = trimmed_polar(vehicle, mixer)
    found = performance(
        polar.polar,
        None if propulsion is None else lambda v, t: propulsion(v, t)[0],
        mass_kg=mass.mass_kg,
        area_m2=size.area_m2,
        lift_slope_per_rad=polar.lift_slope_per_rad,
        density_kg_m3=density_kg_m3,
        cruise_ms=cruise_ms,
        bank_rad=bank_rad,
    )
    cruise = (
        trim_with_throttle(vehicle, mixer, found.cruise_ms, 0.0)
        if propulsion is None
        else trim_level(vehicle, mixer, found.cruise_ms)
    )
    derivatives = _derivatives(model, vehicle, cruise, torque_per_thrust_m)
    state = FlightState(speed_ms=cruise.airspeed_ms, density_kg_m3=density_kg_m3, climb_rad=cruise.climb_rad)
    turned = in_stability_axes(mass, cruise.alpha_rad)
    linear = linear_model(derivatives, turned, vehicle.reference, state)
    answer = response(vehicle, mixer, cruise.airspeed_ms, cruise.alpha_rad, cruise.thrust_n)
    turn = entry = None
    if answer.can_turn:
        turn = steady_turn(derivatives, turned, vehicle.reference, state, bank_rad=bank_rad)
        effect = stick_effect(vehicle, mixer, cruise.airspeed_ms, cruise.alpha_rad)
        try:
            entry = turn_entry(linear, effect, bank_rad=bank_rad)
        except SolveError:
            entry = None
    return FlightFigures(
        vehicle=vehicle,
        mixer=mixer,
        polar=polar,
        performance=found,
        cruise=cruise,
        derivatives=derivatives,
        linear=linear,
        modes=named_modes(linear),
        balance=balance_range(
            vehicle,
            mixer,
            stall_ms=found.stall_ms,
            stall_alpha_rad=polar.stall_alpha_rad,
            cruise_ms=cruise.airspeed_ms,
            cruise_alpha_rad=cruise.alpha_rad,
            static_margin=static_margin,
        ),
        response=answer,
        steady_turn=turn,
        turn_entry=entry,
        plan=FlightPlan(
            stall_ms=found.stall_ms,
            cruise_ms=found.cruise_ms,
            glide_ms=max(found.best_glide.airspeed_ms, 1.3 * found.stall_ms),
            cruise_throttle=min(1.0, found.cruise_throttle),
            climb_pitch_rad=_climb_pitch(found),
            from_wheels=bool(wheels),
        ),
    )


def _climb_pitch(found: Performance) -> float:
    """Nose above the horizon in the climb: four fifths of the steepest it can hold, 4° to 25°."""
    path = math.asin(max(-1.0, min(1.0, found.best_climb_ms / found.best_climb_speed_ms)))
    return min(math.radians(25.0), max(math.radians(4.0), 0.8 * path + math.radians(3.0)))


def _derivatives(
    model: AirModel, vehicle: Vehicle, cruise: Trim, torque_per_thrust_m: float
) -> StabilityDerivatives:
    names = AirModelForces.drive_angles(model, cruise.deflections_rad)
    thrust = max(cruise.thrust_n, 0.0)
    condition = Condition(
        speed_ms=cruise.airspeed_ms,
        density_kg_m3=vehicle.density_kg_m3,
        alpha_rad=cruise.alpha_rad,
        thrust_n=thrust,
        torque_nm=thrust * torque_per_thrust_m,
        deflections_rad=names,
    )
    slopes = derivatives_at(model, condition)
    elevator, aileron, rudder = strongest_drives(slopes)
    V = cruise.airspeed_ms
    faster = (
        vehicle.propulsion(V + 0.25, cruise.throttle)[0] - vehicle.propulsion(V - 0.25, cruise.throttle)[0]
    )
    q_area = 0.5 * vehicle.density_kg_m3 * V * V * vehicle.reference.area_m2
    return stability_derivatives(
        slopes,
        coefficients_at(model, condition),
        cruise.alpha_rad,
        elevator=elevator,
        aileron=aileron,
        rudder=rudder,
        thrust_by_speed=faster / 0.5 * V / q_area,
    )


def strongest_drives(slopes: Derivatives) -> tuple[str | None, str | None, str | None]:
    """The drives that pitch, roll and yaw the model most; none where nothing does.

    A drive is taken for what it does best, so that an aileron's adverse yaw does not make it a rudder.
    """

    def strength(control: ControlDerivatives, which: str) -> float:
        return abs(float(getattr(control, which)))

    def best(which: str) -> str | None:
        apt = [
            control
            for control in slopes.controls
            if strength(control, which) > _FEEBLE
            and strength(control, which)
            >= (0.5 if which == "yaw" else 1.0) * max(strength(control, k) for k in ("roll", "pitch", "yaw"))
        ]
        return max(apt, key=lambda control: strength(control, which)).control if apt else None

    return best("pitch"), best("roll"), best("yaw")
