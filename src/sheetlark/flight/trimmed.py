"""The model's own polar: lift and drag at every incidence with the elevator where it must stand for it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sheetlark.errors import SolveError
from sheetlark.flight.forces import Vehicle
from sheetlark.flight.mixing import Mixer
from sheetlark.flight.modes import Floats
from sheetlark.flight.performance import Polar
from sheetlark.flight.trim import lengthwise_forces

_STEP_RAD = math.radians(1.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrimmedPolar:
    """Trimmed states, motor off, from low lift to the greatest; every array of shape (n,).

    alpha_rad : incidence. pitch_stick : -1 to 1. lift, drag : coefficients.
    ends_by_elevator : the elevator runs out before the wing stalls.
    """

    alpha_rad: Floats
    pitch_stick: Floats
    lift: Floats
    drag: Floats
    ends_by_elevator: bool

    @property
    def polar(self) -> Polar:
        """Lift and drag alone, as the performance figures take them."""
        return Polar(lift=self.lift, drag=self.drag)

    @property
    def stall_alpha_rad(self) -> float:
        """Incidence of the greatest trimmed lift."""
        return float(self.alpha_rad[-1])

    @property
    def lift_slope_per_rad(self) -> float:
        """Slope of trimmed lift over the lower half of its range, by least squares."""
        half = self.lift <= 0.5 * (self.lift[0] + self.lift[-1])
        chosen = half if half.sum() > 2 else np.ones_like(half)
        return float(np.polyfit(self.alpha_rad[chosen], self.lift[chosen], 1)[0])


def trimmed_polar(
    vehicle: Vehicle, mixer: Mixer, *, speed_ms: float = 10.0, from_alpha_rad: float = math.radians(-4.0)
) -> TrimmedPolar:
    """Trim at one incidence after another, a degree apart, until lift falls or the elevator runs out.

    Parameters
    ----------
    speed_ms : float
        Airspeed at which the air is asked; coefficients do not depend on it unless the air's model says so. [m/s]

    Raises
    ------
    SolveError
        If fewer than three incidences trim: the balance point or the elevator is far off.
    """
    q_area = 0.5 * vehicle.density_kg_m3 * speed_ms**2 * vehicle.reference.area_m2
    rows: list[tuple[float, float, float, float]] = []
    stick = 0.0
    out_of_elevator = False
    for k in range(60):
        alpha = from_alpha_rad + k * _STEP_RAD
        found = _stick_for(vehicle, mixer, speed_ms, alpha, stick)
        if found is None:
            out_of_elevator = bool(rows)
            if rows:
                break
            continue
        stick = found
        X, Z, _ = lengthwise_forces(vehicle, mixer, speed_ms, alpha, stick, 0.0)
        lift = (X * math.sin(alpha) - Z * math.cos(alpha)) / q_area
        drag = -(X * math.cos(alpha) + Z * math.sin(alpha)) / q_area
        if rows and lift <= rows[-1][2]:
            break
        rows.append((alpha, stick, lift, drag))
    if len(rows) < 3:
        raise SolveError(
            f"only {len(rows)} incidences of this model trim with the elevator it has; "
            "move the balance point or give the elevator more throw"
        )
    alpha_rad, sticks, lifts, drags = (np.array(column) for column in zip(*rows, strict=True))
    return TrimmedPolar(
        alpha_rad=alpha_rad, pitch_stick=sticks, lift=lifts, drag=drags, ends_by_elevator=out_of_elevator
    )


def _stick_for(vehicle: Vehicle, mixer: Mixer, speed: float, alpha: float, guess: float) -> float | None:
    """Stick with no pitching moment, by false position between the stops; none if both stops pitch one way."""

    def moment(stick: float) -> float:
        return lengthwise_forces(vehicle, mixer, speed, alpha, stick, 0.0)[2]

    # the last incidence's stick is near: two steps of the secant usually do
    a, b = guess, max(-1.0, min(1.0, guess + 0.1 if guess < 0.9 else guess - 0.1))
    at_a, at_b = moment(a), moment(b)
    scale = 1e-4 * vehicle.weight_n * vehicle.reference.chord_m
    for _ in range(8):
        if abs(at_b) < scale:
            return b
        if at_b == at_a:
            break
        a, b, at_a = b, b - at_b * (b - a) / (at_b - at_a), at_b
        if abs(b) > 1.0:
            break
        at_b = moment(b)
    low, high = -1.0, 1.0
    at_low, at_high = moment(low), moment(high)
    if at_low * at_high > 0.0:
        return None
    for _ in range(40):
        middle = 0.5 * (low + high)
        if moment(middle) * at_low > 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
