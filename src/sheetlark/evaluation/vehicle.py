"""The model as the equations of motion meet it: mass, air, thrust, controls."""

from __future__ import annotations

from sheetlark.airframe import Airframe, along_shaft_m
from sheetlark.atmosphere import air_at
from sheetlark.design import Design
from sheetlark.evaluation.air_stage import AirFigures
from sheetlark.evaluation.drive_stage import DriveFigures
from sheetlark.flight import (
    AirModelForces,
    ControlSurface,
    DownwashLag,
    MassProperties,
    Mixer,
    Reference,
    ThrustLine,
    Vehicle,
    no_thrust,
    with_servo_directions,
)
from sheetlark.outline import Floats
from sheetlark.stock import Stock
from sheetlark.weights import Weights

# Shares of an elevon's throw that pitch and roll may use; together they exceed one, and the stops hold them.
ELEVON_SHARE = 0.6
# A skid of wire or ply under the tail (common practice).
_SKID_AHEAD_M, _SKID_DEPTH_M = 0.01, 0.012


def mixer_of(airframe: Airframe, names: tuple[str, ...]) -> Mixer:
    """The mixer that gives the stated throws, one surface for each name the air answers to."""
    hinged = {str(s.control.moves): s.control for s in airframe.surfaces if s.control is not None}
    surfaces = []
    for name in names:
        moves, _, side = name.partition("_")
        control = hinged[moves]
        up, down = control.up_rad, control.down_rad
        if moves in {"elevon", "flaperon", "aileron"}:
            lift = ELEVON_SHARE * up if moves == "elevon" else 0.0
            roll = ELEVON_SHARE * up if moves == "elevon" else up
            differential = min(max(1.0 - down / up, 0.0), 1.0) if up > 0 and moves != "elevon" else 0.0
            surfaces.append(
                ControlSurface(
                    name=name,
                    pitch_rad=-lift,
                    roll_rad=roll if side == "port" else -roll,
                    flap_rad=down if moves == "flaperon" else 0.0,
                    differential=differential,
                    up_limit_rad=up,
                    down_limit_rad=down,
                )
            )
        elif moves == "elevator" and side:
            yaw = ELEVON_SHARE * up
            surfaces.append(
                ControlSurface(
                    name=name,
                    pitch_rad=-ELEVON_SHARE * up,
                    yaw_rad=-yaw if side == "port" else yaw,
                    up_limit_rad=up,
                    down_limit_rad=down,
                )
            )
        elif moves == "elevator":
            surfaces.append(ControlSurface(name=name, pitch_rad=-up, up_limit_rad=up, down_limit_rad=down))
        else:
            surfaces.append(ControlSurface(name=name, yaw_rad=-up, up_limit_rad=down, down_limit_rad=up))
    return Mixer(surfaces=tuple(surfaces))


def mass_properties(weights: Weights) -> MassProperties:
    """Mass and inertia in flight axes; turning both x and z about leaves all four figures as they are."""
    inertia = weights.inertia_kg_m2
    return MassProperties(
        mass_kg=weights.all_up_kg,
        ixx_kg_m2=float(inertia[0, 0]),
        iyy_kg_m2=float(inertia[1, 1]),
        izz_kg_m2=float(inertia[2, 2]),
        ixz_kg_m2=-float(inertia[0, 2]),
    )


def vehicle_of(
    design: Design,
    airframe: Airframe,
    weights: Weights,
    air: AirFigures,
    drive: DriveFigures | None,
    stock: Stock,
) -> tuple[Vehicle, Mixer]:
    """The model ready to be trimmed and flown."""
    density = air_at(design.flying.altitude, design.flying.temperature).density_kg_m3
    r = airframe.reference
    balance = weights.balance_m
    torque_per_newton = 0.0
    thrust_line = ThrustLine()
    propulsion = no_thrust
    if drive is not None and design.drive is not None:
        x, y, z = design.drive.motor_at
        x += along_shaft_m(design.drive, stock)[1]
        thrust_line = ThrustLine(
            x_m=float(balance[0]) - x,
            y_m=0.0 if design.drive.twin else y - float(balance[1]),
            z_m=float(balance[2]) - z,
            down_rad=design.drive.down,
            right_rad=design.drive.right,
        )
        table = drive.table
        motors = drive.line.motors
        full = table.thrust(0.0, 1.0)
        torque_per_newton = table.torque(0.0, 1.0) * motors / full if full > 0 else 0.0

        def propulsion(airspeed_ms: float, throttle: float, /) -> tuple[float, float]:
            # Two propellers alike turn the same way: their torques add.
            thrust, torque = table.free(airspeed_ms, throttle)
            return thrust, motors * torque

    forces = AirModelForces(
        air.model,
        density,
        torque_per_thrust_m=torque_per_newton,
        motors=drive.line.motors if drive else 1,
    )
    vehicle = Vehicle(
        mass=mass_properties(weights),
        reference=Reference(area_m2=r.area_m2, chord_m=r.chord_m, span_m=r.span_m),
        air=forces,
        propulsion=propulsion,
        thrust_line=thrust_line,
        lag=DownwashLag(lift=air.results.lag[0], pitch=air.results.lag[1]),
        density_kg_m3=density,
        wheels=_wheels(design, airframe, balance, stock),
        belly_z_m=_belly(airframe, balance),
    )
    mixer = mixer_of(airframe, forces.surfaces)
    at = air.results.condition
    return vehicle, with_servo_directions(vehicle, mixer, at.speed_ms, at.alpha_rad)


def _wheels(
    design: Design, airframe: Airframe, balance: Floats, stock: Stock
) -> tuple[tuple[float, float, float], ...]:
    """Lowest points of the wheels, and of the tail that rests on the ground, in flight axes."""
    if design.gear is None:
        return ()
    x, z = design.gear.at
    low = z - stock.wheel(design.gear.wheel).diameter_m / 2
    half = design.gear.track / 2
    points = [(x, side * half, low) for side in (1.0, -1.0)]
    body = airframe.body
    if body is not None:
        # A skid under the tail's end carries it until it lifts.
        end = body.tail_m - _SKID_AHEAD_M
        points.append((end, 0.0, body.heights_m(end)[0] - _SKID_DEPTH_M))
    lowest = min(airframe.wings, key=lambda w: w.at_m[2])
    front, chord = lowest.chord_at(0.9)
    tip = lowest.place(front + 0.5 * chord, 0.9 * lowest.half_span_m).tolist()
    points += [(tip[0], side * tip[1], tip[2]) for side in (1.0, -1.0)]
    return tuple((float(balance[0]) - a, b - float(balance[1]), float(balance[2]) - c) for a, b, c in points)


def _belly(airframe: Airframe, balance: Floats) -> float:
    """Lowest point of body or wings below the balance point. [m]."""
    low = min(s.at_m[2] for s in airframe.surfaces)
    if airframe.body is not None:
        low = min(low, float(airframe.body.profile_mm[:, 1].min()) * 1e-3)
    return max(0.01, float(balance[2]) - low)


def controls_of(drives: tuple[str, ...]) -> tuple[str | None, str | None, str | None]:
    """Which drives of the air pitch, roll and yaw."""

    def first(*names: str) -> str | None:
        return next((name for name in names if name in drives), None)

    return (
        first("elevator", "elevon"),
        first("aileron:roll", "elevon:roll", "flaperon:roll"),
        first("rudder", "elevator:roll"),
    )
