"""Motor, propeller, battery and controller as the design states them, and what they give on this model."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from sheetlark.air import front_coefficient
from sheetlark.airframe import Airframe, BodyShape
from sheetlark.atmosphere import GRAVITY_MS2, Air, air_at
from sheetlark.design import Design, Drive
from sheetlark.drive import (
    Circuits,
    DriveLine,
    Duration,
    NetThrust,
    Nose,
    Phase,
    States,
    StaticFigures,
    duration,
    net_thrust,
    propeller_of,
    settle,
    static_figures,
)
from sheetlark.evaluation.air_stage import body_of
from sheetlark.flight import ThrustTable
from sheetlark.outline import Floats
from sheetlark.stock import Stock
from sheetlark.weights import Weights

# Airspeeds and throttles the thrust is tabulated at; in between it is read off straight lines.
_SPEEDS_MS = np.concatenate([np.linspace(0.0, 20.0, 21), np.linspace(22.0, 40.0, 10)])
_THROTTLES = np.linspace(0.0, 1.0, 11)
# Charge at which climb and top speed are quoted: a battery that has given a little.
_WORKING_CHARGE = 0.8


@dataclass(frozen=True, kw_only=True, eq=False)
class DriveTable:
    """Thrust and torque of the whole drive over airspeed and throttle.

    speeds_ms : shape (n,). throttles : shape (m,)
    thrust_n, net_n, torque_nm, current_a : shape (m, n); net of the nose's blockage; torque of one motor
    """

    speeds_ms: Floats
    throttles: Floats
    thrust_n: Floats
    net_n: Floats
    torque_nm: Floats
    current_a: Floats

    @cached_property
    def free(self) -> ThrustTable:
        """(free thrust of the whole drive, torque of one motor), read between points."""
        return self._reader(self.thrust_n)

    @cached_property
    def _net(self) -> ThrustTable:
        return self._reader(self.net_n)

    def _reader(self, thrust_n: Floats) -> ThrustTable:
        return ThrustTable(
            self.speeds_ms.tolist(), self.throttles.tolist(), thrust_n.tolist(), self.torque_nm.tolist()
        )

    def thrust(self, airspeed_ms: float, throttle: float) -> float:
        """Free thrust of the whole drive. [N]."""
        return self.free(airspeed_ms, throttle)[0]

    def net(self, airspeed_ms: float, throttle: float) -> float:
        """Thrust less what the slipstream loses on the nose. [N]."""
        return self._net(airspeed_ms, throttle)[0]

    def torque(self, airspeed_ms: float, throttle: float) -> float:
        """Shaft torque of one motor. [N m]."""
        return self.free(airspeed_ms, throttle)[1]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Alone:
    """What depends on the drive alone: not on where its pieces sit, what stands behind, what it carries."""

    line: DriveLine
    air: Air

    @cached_property
    def static(self) -> StaticFigures:
        return static_figures(
            self.line, density_kg_m3=self.air.density_kg_m3, air_temperature_k=self.air.temperature_k
        )

    @cached_property
    def states(self) -> States:
        """At every throttle and airspeed of a table."""
        speed, throttle = np.meshgrid(_SPEEDS_MS, _THROTTLES)
        at_disc = speed * (1.0 - (self.line.wake_fraction if self.line.pusher else 0.0))
        return settle(
            Circuits.of(self.line).repeated(speed.size),
            airspeed_ms=at_disc.ravel(),
            throttle=throttle.ravel(),
            charge=_WORKING_CHARGE,
            density_kg_m3=self.air.density_kg_m3,
        )

    @cached_property
    def full_throttle(self) -> Duration:
        held = Phase(share=1.0, airspeed_ms=0.0, throttle=1.0)
        return duration(self.line, held, density_kg_m3=self.air.density_kg_m3)


@dataclass(frozen=True, kw_only=True, eq=False)
class DriveFigures:
    """What the drive gives on this model; each figure is worked out when it is first asked for.

    alone : what does not depend on the model
    nose : what stands behind the disc; None where nothing does
    """

    alone: _Alone
    nose: Nose | None
    weight_n: float

    @property
    def line(self) -> DriveLine:
        """The drive."""
        return self.alone.line

    @property
    def static(self) -> StaticFigures:
        """Full throttle at no airspeed, full battery, with spreads."""
        return self.alone.static

    @cached_property
    def net(self) -> NetThrust:
        """Static thrust, less what the nose costs."""
        return _net(self.static.point.thrust_n, 0.0, self.line, self.nose, self.alone.air.density_kg_m3)

    @property
    def thrust_to_weight(self) -> float:
        """Net static thrust over weight. [-]"""
        return self.net.net_n / self.weight_n

    @property
    def table(self) -> DriveTable:
        """Thrust over airspeed and throttle, battery at 80 %."""
        return _table(self.alone, self.nose)

    @property
    def full_throttle(self) -> Duration:
        """How long it lasts held open, standing still, and what ends it."""
        return self.alone.full_throttle

    @property
    def full_throttle_min(self) -> float:
        return self.full_throttle.time_s / 60.0


_Slice = tuple[str, str, str, str, bool, bool]


def _slice(drive: Drive) -> _Slice:
    """What of the table the drive itself depends on: not where its pieces sit."""
    return drive.motor, drive.propeller, drive.pack, drive.controller, drive.twin, drive.pusher


@lru_cache(maxsize=32)
def _line(key: _Slice, stock: Stock) -> DriveLine:
    motor, propeller, pack, controller, twin, pusher = key
    return DriveLine(
        motor=stock.motor(motor),
        propeller=propeller_of(stock.propeller(propeller)),
        pack=stock.pack(pack),
        controller=stock.controller(controller),
        motors=2 if twin else 1,
        pusher=pusher,
    )


def nose_behind(drive: Drive, body: BodyShape | None, line: DriveLine) -> Nose | None:
    """What of the body stands behind a tractor disc, within a disc's diameter of it."""
    if body is None or drive.pusher or drive.twin:
        return None
    x = np.linspace(body.nose_m, min(body.tail_m, body.nose_m + line.propeller.diameter_m), 24)
    bottom, top = body.heights_along(x)
    frontal = float((body.width_m(x) * (top - bottom)).max())
    # The disc stands a motor's length ahead of its mounting face.
    disc = drive.motor_at[0] - line.motor.body_length_m
    return Nose(
        frontal_area_m2=frontal,
        behind_m=max(0.0, body.nose_m - disc),
        # The airframe's own figure: what the slipstream adds is more of the same drag.
        drag_coefficient=front_coefficient(body_of(body)),
    )


@lru_cache(maxsize=32)
def _alone(key: _Slice, air: Air, stock: Stock) -> _Alone:
    return _Alone(line=_line(key, stock), air=air)


def _net(
    thrust_n: float, airspeed_ms: float, line: DriveLine, nose: Nose | None, density: float
) -> NetThrust:
    if nose is None or thrust_n <= 0:
        return NetThrust(free_n=thrust_n, net_n=thrust_n, lost_n=0.0, fraction=0.0, advance_factor=1.0)
    return net_thrust(
        thrust_n=thrust_n,
        airspeed_ms=airspeed_ms,
        diameter_m=line.propeller.diameter_m,
        nose=nose,
        density_kg_m3=density,
    )


@lru_cache(maxsize=32)
def _table(alone: _Alone, nose: Nose | None) -> DriveTable:
    line, states, density = alone.line, alone.states, alone.air.density_kg_m3
    shape = (_THROTTLES.size, _SPEEDS_MS.size)
    thrust = line.motors * states.thrust_n.reshape(shape)
    net = np.array(
        [
            [_net(f, v, line, nose, density).net_n for f, v in zip(row, _SPEEDS_MS.tolist(), strict=True)]
            for row in thrust.tolist()
        ]
    )
    return DriveTable(
        speeds_ms=_SPEEDS_MS,
        throttles=_THROTTLES,
        thrust_n=thrust,
        net_n=net,
        torque_nm=states.torque_nm.reshape(shape),
        current_a=states.pack_current_a.reshape(shape),
    )


def drive_figures(design: Design, airframe: Airframe, stock: Stock, weights: Weights) -> DriveFigures | None:
    """What the drive gives, or None for a glider."""
    drive = design.drive
    if drive is None:
        return None
    air = air_at(design.flying.altitude, design.flying.temperature)
    alone = _alone(_slice(drive), air, stock)
    return DriveFigures(
        alone=alone,
        nose=nose_behind(drive, airframe.body, alone.line),
        weight_n=weights.all_up_kg * GRAVITY_MS2,
    )


FULL_SHARE = 0.25  # of a mixed flight at full throttle, the rest in cruise (common practice, no source)


def mixed_flight(drive: DriveFigures, cruise_ms: float, thrust_n: float, density_kg_m3: float) -> Duration:
    """How long a flight lasts that is a quarter full throttle and the rest cruise.

    Raises
    ------
    SolveError
        If the mix draws no current.
    """
    speed = round(cruise_ms, 1)
    return duration(
        drive.line,
        Phase(share=FULL_SHARE, airspeed_ms=speed, throttle=1.0),
        Phase(share=1.0 - FULL_SHARE, airspeed_ms=speed, thrust_n=round(thrust_n, 2)),
        density_kg_m3=density_kg_m3,
    )
