"""What a flyer asks of a drive, and the model it goes into."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sheetlark.drive.battery import RESERVE
from sheetlark.drive.family import Floats
from sheetlark.drive.nose import Nose
from sheetlark.errors import SolveError


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What the flyer asks.

    least_thrust_to_weight : below it a combination is refused
    wanted_thrust_to_weight : more earns nothing
    least_pitch_over_stall : pitch speed over stall speed, below it refused
    minutes_weight, lightness_weight : how much the logarithms of minutes and of lightness count beside thrust
    """

    name: str
    least_thrust_to_weight: float
    wanted_thrust_to_weight: float
    least_pitch_over_stall: float
    minutes_weight: float
    lightness_weight: float


# Thrust to weight by kind of flying: 0.5-0.8 park flyer, 0.8-1.0 sport, above 1.2 hovering (from memory). Pitch speed
# two to three times the stall speed (common practice, no source). Weights: our choice.
AIMS = {
    "vertical": Aim(
        name="vertical",
        least_thrust_to_weight=1.2,
        wanted_thrust_to_weight=1.6,
        least_pitch_over_stall=1.8,
        minutes_weight=0.5,
        lightness_weight=1.5,
    ),
    "sport": Aim(
        name="sport",
        least_thrust_to_weight=0.7,
        wanted_thrust_to_weight=1.0,
        least_pitch_over_stall=2.0,
        minutes_weight=0.7,
        lightness_weight=1.0,
    ),
    "floating": Aim(
        name="floating",
        least_thrust_to_weight=0.45,
        wanted_thrust_to_weight=0.65,
        least_pitch_over_stall=1.6,
        minutes_weight=0.7,
        lightness_weight=2.0,
    ),
    "long": Aim(
        name="long",
        least_thrust_to_weight=0.4,
        wanted_thrust_to_weight=0.5,
        least_pitch_over_stall=1.8,
        minutes_weight=1.5,
        lightness_weight=0.7,
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirements:
    """The model a drive goes into. Geometry axes: x aft from the nose datum.

    bare_mass_kg, bare_balance_x_m : the model ready to fly, without motor, propeller, controller and battery
    balance_x_m, balance_tolerance_m : where it must balance, and how near
    forward_tolerance_m : how much further forward will do as well; as near as aft where None
    motor_x_m, propeller_x_m, controller_x_m : where those sit, once placed
    battery_from_x_m, battery_to_x_m : where the middle of the battery may lie
    battery_ends_x_m : between which its ends must lie, whatever its length
    bay_m : length, width, height of the battery's room; infinite if open
    wing_area_m2, cl_max, drag_zero, drag_due_to_lift : C_D = drag_zero + drag_due_to_lift C_L²
    largest_propeller_m, clears : what clears ground, booms and body, and which of them is nearest, in words
    motors : alike
    thrust_kept : share of the free thrust left, whatever the propeller
    nose : what stands behind each disc; a larger propeller loses less of its thrust on it
    cruise_over_stall : cruise speed over stall speed
    slipstream_drag : thrust that holds cruise over the drag without slipstream and the nose's loss: what the slipstream
        costs on the rest of the model, measured with propellers of `slipstream_diameter_m`
    wake_fraction : of the airspeed that is missing at a pusher's disc
    """

    bare_mass_kg: float
    bare_balance_x_m: float
    balance_x_m: float
    motor_x_m: float
    propeller_x_m: float
    controller_x_m: float
    battery_from_x_m: float
    battery_to_x_m: float
    wing_area_m2: float
    cl_max: float
    drag_zero: float
    drag_due_to_lift: float
    largest_propeller_m: float
    balance_tolerance_m: float = 0.002
    forward_tolerance_m: float | None = None
    battery_ends_x_m: tuple[float, float] = (-math.inf, math.inf)
    clears: str = "what stands beside it"
    bay_m: tuple[float, float, float] = (math.inf, math.inf, math.inf)
    motors: int = 1
    thrust_kept: float = 1.0
    nose: Nose | None = None
    cruise_over_stall: float = 1.4  # common practice
    slipstream_drag: float = 1.0
    slipstream_diameter_m: float = 0.0
    wake_fraction: float = 0.0
    reserve: float = RESERVE
    full_share: float = 0.25
    density_kg_m3: float = 1.225
    largest_mass_kg: float = math.inf

    def __post_init__(self) -> None:
        for name in (
            "bare_mass_kg",
            "wing_area_m2",
            "cl_max",
            "drag_zero",
            "drag_due_to_lift",
            "largest_propeller_m",
            "density_kg_m3",
            "thrust_kept",
            "cruise_over_stall",
            "slipstream_drag",
        ):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise SolveError(f"{name} must be above 0, got {value:g}")
        if self.battery_to_x_m < self.battery_from_x_m:
            raise SolveError(
                f"the battery may lie from {1e3 * self.battery_from_x_m:.0f} to {1e3 * self.battery_to_x_m:.0f} mm: "
                "the first must not be behind the second"
            )

    def slipstream_drag_at(self, diameter_m: Floats) -> Floats:
        """What the slipstream of each propeller costs, as `slipstream_drag`, shape as the diameters.

        The slipstream's extra dynamic pressure is thrust over disc area, and what stands in it stays as large: extra
        drag is k T / D², so the thrust that holds a drag is drag / (1 - k / D²), k from the measured one. Held where
        half of the thrust would be lost.
        """
        if self.slipstream_drag <= 1.0 or self.slipstream_diameter_m <= 0.0:
            return np.full_like(diameter_m, self.slipstream_drag)
        lost = (1.0 - 1.0 / self.slipstream_drag) * (self.slipstream_diameter_m / diameter_m) ** 2
        return np.asarray(1.0 / (1.0 - np.minimum(lost, 0.5)), dtype=np.float64)

    def drag_to_lift(self, over_stall: float) -> float:
        """Drag over lift in level flight at a multiple of the stall speed. [-]."""
        cl = self.cl_max / over_stall**2
        return (self.drag_zero + self.drag_due_to_lift * cl**2) / cl
