"""Motor, propeller, battery and controller as the design states them, and what they give."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from sheetlark.atmosphere import GRAVITY_MS2, air_at
from sheetlark.design import Design, Drive, Flying
from sheetlark.drive import DriveLine, OperatingPoint, equilibrium, propeller_of
from sheetlark.stock import Stock
from sheetlark.weights import Weights


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DriveFigures:
    """What the drive gives standing still, from a full battery.

    line : the drive
    static : full throttle at no airspeed
    thrust_to_weight : of the model as it weighs [-]
    """

    line: DriveLine
    static: OperatingPoint
    thrust_to_weight: float

    @property
    def full_throttle_min(self) -> float:
        """Minutes at full throttle, standing, until 20 % of the charge is left. [min]."""
        return (
            0.8 * self.line.pack.capacity_ah / self.static.current_a * 60.0
            if self.static.current_a > 0
            else math.inf
        )


def drive_line(drive: Drive, stock: Stock) -> DriveLine:
    """Look up what the design names."""
    return DriveLine(
        motor=stock.motor(drive.motor),
        propeller=propeller_of(stock.propeller(drive.propeller)),
        pack=stock.pack(drive.pack),
        controller=stock.controller(drive.controller),
        motors=2 if drive.twin else 1,
        pusher=drive.pusher,
    )


@lru_cache(maxsize=64)
def _settled(drive: Drive, flying: Flying, stock: Stock) -> tuple[DriveLine, OperatingPoint]:
    line = drive_line(drive, stock)
    air = air_at(flying.altitude, flying.temperature)
    return line, equilibrium(line, density_kg_m3=air.density_kg_m3)


def drive_figures(design: Design, stock: Stock, weights: Weights) -> DriveFigures | None:
    """What the drive gives, or None for a glider."""
    if design.drive is None:
        return None
    line, static = _settled(design.drive, design.flying, stock)
    return DriveFigures(
        line=line, static=static, thrust_to_weight=static.thrust_n / (weights.all_up_kg * GRAVITY_MS2)
    )
