"""Down and right thrust: what full throttle does to the trim, and the shaft angles that undo most of it.

The change between glide and full throttle at one speed is asked of the air's own model, so that slipstream on wing,
tail and fin, the change of downwash, and the disc's own force are in it, as they are in the simulated flight. The
rougher sums of :mod:`sheetlark.drive` leave out the wing's share, which on these models is the larger one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sheetlark.atmosphere import GRAVITY_MS2
from sheetlark.design import Design
from sheetlark.drive import ThrustAngles
from sheetlark.evaluation.air_stage import AirFigures
from sheetlark.evaluation.drive_stage import DriveFigures
from sheetlark.evaluation.flight_stage import FlightFigures
from sheetlark.flight import Flow
from sheetlark.outline import Floats

_SPEEDS = 4
MOST_RAD = math.radians(
    8.0
)  # more costs pull and looks broken; move the thrust line instead (common practice)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ThrustFigures:
    """Shaft angles as stated beside the best.

    best : least change between glide and full throttle from just above the stall to top speed; `before` is as stated
    """

    stated_down_rad: float
    stated_right_rad: float
    best: ThrustAngles

    @property
    def off_rad(self) -> float:
        """How far the worse of both stated angles is from its best."""
        return max(
            abs(self.best.down_rad - self.stated_down_rad), abs(self.best.right_rad - self.stated_right_rad)
        )


def thrust_figures(
    design: Design, air: AirFigures, drive: DriveFigures | None, flight: FlightFigures
) -> ThrustFigures | None:
    """The best shaft angles; None for a glider, or where a tilt has no lever about the balance point.

    Notes
    -----
    Trim at each speed from the glide's by the derivatives: incidence for the lift, stick for the moment. The pull's
    moment is linear in the sine of each angle (cosines within 1 % of 1), so linear least squares finds both.
    """
    stated, at = design.drive, flight.glide or flight.cruise
    if stated is None or drive is None or at is None:
        return None
    v = flight.vehicle
    line = v.thrust_line
    if abs(line.x_m) < 1e-2:
        return None
    p = flight.performance
    slow = 1.15 * flight.stall_ms
    speeds = np.linspace(slow, max(p.top_ms if p is not None else 0.0, 1.3 * slow), _SPEEDS)
    rows = np.array([_change(float(speed), flight, air) for speed in speeds])
    thrust, pitch, yaw = rows.T
    lever = line.x_m * thrust
    weight = float(lever @ lever)
    # Moments of the pull about the balance point: z cos(down) - x sin(down), x sin(right) - y.
    down = _held(float((pitch + line.z_m * thrust) @ lever) / weight)
    right = _held(-float((yaw - line.y_m * thrust) @ lever) / weight)

    def left(down_rad: float, right_rad: float) -> tuple[float, float]:
        return (
            _size(pitch + thrust * (line.z_m * math.cos(down_rad) - line.x_m * math.sin(down_rad))),
            _size(yaw + thrust * (line.x_m * math.sin(right_rad) - line.y_m * math.cos(right_rad))),
        )

    before, after = left(stated.down, 0.0 if stated.twin else stated.right), left(down, right)
    return ThrustFigures(
        stated_down_rad=stated.down,
        stated_right_rad=stated.right,
        best=ThrustAngles(
            down_rad=down,
            right_rad=right,
            pitch_before_nm=before[0],
            pitch_after_nm=after[0],
            yaw_before_nm=before[1],
            yaw_after_nm=after[1],
        ),
    )


def _change(speed: float, flight: FlightFigures, air: AirFigures) -> tuple[float, float, float]:
    """Thrust [N], and what its slipstream adds in pitch and yaw [N m], at full throttle against the glide."""
    v, at = flight.vehicle, flight.glide or flight.cruise
    assert at is not None
    lift = v.mass.mass_kg * GRAVITY_MS2 / (0.5 * v.density_kg_m3 * v.reference.area_m2)
    alpha = at.alpha_rad + lift * (speed**-2 - at.airspeed_ms**-2) / air.lift_slope_per_rad
    d = flight.derivatives
    pitching = max((abs(s.pitch_rad) for s in flight.mixer.surfaces), default=0.0)
    per_stick = abs(d.Cm_de) * pitching
    stick = at.pitch_stick - (d.Cm_alpha * (alpha - at.alpha_rad) / per_stick if per_stick > 1e-6 else 0.0)
    deflections = flight.mixer.deflections(max(-1.0, min(1.0, stick)), 0.0, 0.0)
    thrust, _ = v.propulsion(speed, 1.0)
    still = v.air(Flow(speed, alpha, deflections))
    washed = v.air(Flow(speed, alpha, deflections, thrust_n=thrust))
    return thrust, washed[4] - still[4], washed[5] - still[5]


def _size(moment: Floats) -> float:
    return float(np.sqrt(np.mean(moment**2)))


def _held(sine: float) -> float:
    most = math.sin(MOST_RAD)
    return math.asin(max(-most, min(most, sine)))
