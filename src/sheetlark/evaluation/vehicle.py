"""The model as the equations of motion meet it: mass, air, thrust, controls."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sheetlark.air import AirModel, Derivatives
from sheetlark.airframe import Airframe
from sheetlark.atmosphere import air_at
from sheetlark.design import Design
from sheetlark.evaluation.air_stage import AirFigures
from sheetlark.evaluation.drive_stage import DriveFigures
from sheetlark.flight import (
    MassProperties,
    Mixer,
    Reference,
    StabilityDerivatives,
    Surface,
    ThrustLine,
    Vehicle,
    no_thrust,
)
from sheetlark.flight.forces import Six
from sheetlark.outline import Floats
from sheetlark.stock import Stock
from sheetlark.weights import Weights

# Shares of an elevon's throw that pitch and roll may use; together they exceed one, and the stops hold them.
ELEVON_SHARE = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """How the mixer's surfaces move the drives of the air model.

    names : mixer surfaces, in order
    matrix : shape (drives, names); drive deflection for each surface's deflection, trailing edge down positive
    """

    names: tuple[str, ...]
    matrix: tuple[tuple[float, ...], ...]


class ModelAir:
    """The air model behind the protocol that the equations of motion ask."""

    def __init__(
        self,
        model: AirModel,
        movement: Movement,
        *,
        density_kg_m3: float,
        motors: int,
        torque_per_newton: float,
    ) -> None:
        self._model = model
        self._density = density_kg_m3
        self._motors = max(motors, 1)
        self._torque = torque_per_newton
        self._names = movement.names
        self._matrix = np.array(movement.matrix, dtype=np.float64).reshape(
            len(model.drives), len(movement.names)
        )

    @property
    def surfaces(self) -> tuple[str, ...]:
        return self._names

    def __call__(
        self,
        airspeed_ms: float,
        alpha_rad: float,
        beta_rad: float,
        p_rad_s: float,
        q_rad_s: float,
        r_rad_s: float,
        deflections_rad: tuple[float, ...],
        thrust_n: float,
        /,
    ) -> Six:
        cb = math.cos(beta_rad)
        motion = np.array(
            [
                airspeed_ms * math.cos(alpha_rad) * cb,
                airspeed_ms * math.sin(beta_rad),
                airspeed_ms * math.sin(alpha_rad) * cb,
                p_rad_s,
                q_rad_s,
                r_rad_s,
            ]
        )
        each = max(thrust_n, 0.0) / self._motors
        x, y, z, roll, pitch, yaw = self._model.loads(
            motion,
            self._matrix @ np.array(deflections_rad),
            self._density,
            each,
            each * self._torque,
        ).tolist()
        return (x, y, z, roll, pitch, yaw)


def movement_of(drives: tuple[str, ...]) -> Movement:
    """Which mixer surfaces there are, and what they do to the air model's drives."""
    names: list[str] = []
    columns: list[list[float]] = []

    def add(name: str, effect: dict[str, float]) -> None:
        names.append(name)
        columns.append([effect.get(drive, 0.0) for drive in drives])

    for drive in drives:
        if drive.endswith(":roll"):
            continue
        apart = f"{drive}:roll"
        if apart in drives:
            # Port down and starboard up is the positive sense of the drive apart.
            add(f"{drive}_port", {drive: 0.5, apart: 0.5})
            add(f"{drive}_starboard", {drive: 0.5, apart: -0.5})
        else:
            add(drive, {drive: 1.0})
    return Movement(names=tuple(names), matrix=tuple(zip(*columns, strict=True)) if columns else ())


def mixer_of(airframe: Airframe, movement: Movement) -> Mixer:
    """The mixer that gives the stated throws."""
    hinged = {str(s.control.moves): s.control for s in airframe.surfaces if s.control is not None}
    surfaces = []
    for name in movement.names:
        moves, _, side = name.partition("_")
        control = hinged[moves]
        up, down = control.up_rad, control.down_rad
        if moves in {"elevon", "flaperon", "aileron"}:
            lift = ELEVON_SHARE * up if moves == "elevon" else 0.0
            roll = ELEVON_SHARE * up if moves == "elevon" else up
            differential = min(max(1.0 - down / up, 0.0), 1.0) if up > 0 and moves != "elevon" else 0.0
            surfaces.append(
                Surface(
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
                Surface(
                    name=name,
                    pitch_rad=-ELEVON_SHARE * up,
                    yaw_rad=-yaw if side == "port" else yaw,
                    up_limit_rad=up,
                    down_limit_rad=down,
                )
            )
        elif moves == "elevator":
            surfaces.append(Surface(name=name, pitch_rad=-up, up_limit_rad=up, down_limit_rad=down))
        else:
            surfaces.append(Surface(name=name, yaw_rad=-up, up_limit_rad=down, down_limit_rad=up))
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
    movement = movement_of(air.model.drives)
    r = airframe.reference
    balance = weights.balance_m
    torque_per_newton = 0.0
    thrust_line = ThrustLine()
    propulsion = no_thrust
    if drive is not None and design.drive is not None:
        x, y, z = design.drive.motor_at
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
            return table.thrust(airspeed_ms, throttle), motors * table.torque(airspeed_ms, throttle)

    vehicle = Vehicle(
        mass=mass_properties(weights),
        reference=Reference(area_m2=r.area_m2, chord_m=r.chord_m, span_m=r.span_m),
        air=ModelAir(
            air.model,
            movement,
            density_kg_m3=density,
            motors=drive.line.motors if drive else 1,
            torque_per_newton=torque_per_newton,
        ),
        propulsion=propulsion,
        thrust_line=thrust_line,
        density_kg_m3=density,
        wheels=_wheels(design, balance, stock),
        belly_z_m=_belly(airframe, balance),
    )
    return vehicle, mixer_of(airframe, movement)


def _wheels(design: Design, balance: Floats, stock: Stock) -> tuple[tuple[float, float, float], ...]:
    """Lowest points of the wheels, and of the tail that rests on the ground, in flight axes."""
    if design.gear is None:
        return ()
    x, z = design.gear.at
    low = z - stock.wheel(design.gear.wheel).diameter_m / 2
    half = design.gear.track / 2
    return tuple(
        (float(balance[0]) - x, side * half - float(balance[1]), float(balance[2]) - low)
        for side in (1.0, -1.0)
    )


def _belly(airframe: Airframe, balance: Floats) -> float:
    """Lowest point of body or wings below the balance point. [m]."""
    low = min(s.at_m[2] for s in airframe.surfaces)
    if airframe.body is not None:
        low = min(low, float(airframe.body.profile_mm[:, 1].min()) * 1e-3)
    return max(0.01, float(balance[2]) - low)


def _pitching(drives: tuple[str, ...]) -> str | None:
    return next((d for d in ("elevator", "elevon") if d in drives), None)


def stability_derivatives(
    derivatives: Derivatives,
    *,
    lift: float,
    drag: float,
    alpha_rad: float,
    thrust_by_speed: float,
    drives: tuple[str, ...],
) -> StabilityDerivatives:
    """The air's derivatives, turned from body axes to stability axes at an incidence.

    Rates, rolling and yawing moments turn together: with T the turn by alpha, the rate matrix becomes T A Tᵀ,
    columns T v. E.g. B. Etkin, L. D. Reid, "Dynamics of Flight", 3rd ed., 1996, appendix B.12 (from memory).
    """
    d = derivatives
    s, c = math.sin(alpha_rad), math.cos(alpha_rad)
    turn = np.array([[c, s], [-s, c]])
    rates = turn @ np.array([[d.roll_p, d.roll_r], [d.yaw_p, d.yaw_r]]) @ turn.T
    side = turn @ np.array([d.side_p, d.side_r])
    beta = turn @ np.array([d.roll_beta, d.yaw_beta])
    elevator = _pitching(drives)
    roll = next((f"{n}:roll" for n in ("aileron", "elevon", "flaperon") if f"{n}:roll" in drives), None)
    yaw = next((n for n in ("rudder", "elevator:roll") if n in drives), None)

    def control(name: str | None) -> tuple[float, float, float, float, float, float]:
        if name is None:
            return (0.0,) * 6
        k = d.control(name)
        turned = turn @ np.array([k.roll, k.yaw])
        return (k.lift, k.drag, k.pitch, k.side, float(turned[0]), float(turned[1]))

    e, a, r = control(elevator), control(roll), control(yaw)
    return StabilityDerivatives(
        CL=lift,
        CD=drag,
        CL_alpha=d.lift_alpha,
        CD_alpha=d.drag_alpha,
        Cm_alpha=d.pitch_alpha,
        CL_q=d.lift_q,
        Cm_q=d.pitch_q,
        CL_adot=d.lift_alpha_rate,
        Cm_adot=d.pitch_alpha_rate,
        CY_beta=d.side_beta,
        Cl_beta=float(beta[0]),
        Cn_beta=float(beta[1]),
        CY_p=float(side[0]),
        Cl_p=float(rates[0, 0]),
        Cn_p=float(rates[1, 0]),
        CY_r=float(side[1]),
        Cl_r=float(rates[0, 1]),
        Cn_r=float(rates[1, 1]),
        CL_de=e[0],
        CD_de=e[1],
        Cm_de=e[2],
        CY_da=a[3],
        Cl_da=a[4],
        Cn_da=a[5],
        CY_dr=r[3],
        Cl_dr=r[4],
        Cn_dr=r[5],
        thrust_by_speed=thrust_by_speed,
    )


def turned_mass(mass: MassProperties, alpha_rad: float) -> MassProperties:
    """Inertia turned from body axes to stability axes at an incidence."""
    s, c = math.sin(alpha_rad), math.cos(alpha_rad)
    turn = np.array([[c, s], [-s, c]])
    tensor = turn @ np.array([[mass.ixx_kg_m2, -mass.ixz_kg_m2], [-mass.ixz_kg_m2, mass.izz_kg_m2]]) @ turn.T
    return MassProperties(
        mass_kg=mass.mass_kg,
        ixx_kg_m2=float(tensor[0, 0]),
        iyy_kg_m2=mass.iyy_kg_m2,
        izz_kg_m2=float(tensor[1, 1]),
        ixz_kg_m2=-float(tensor[0, 1]),
    )
