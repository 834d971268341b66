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
    out_of_elevator = False
    search = _StickSearch(vehicle, mixer, speed_ms)
    for k in range(60):
        alpha = from_alpha_rad + k * _STEP_RAD
        found = search.at(alpha)
        if found is None:
            out_of_elevator = bool(rows)
            if rows:
                break
            continue
        stick, X, Z = found
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


class _StickSearch:
    """Sticks without pitching moment, one incidence after another; each begins where the last two point."""

    def __init__(self, vehicle: Vehicle, mixer: Mixer, speed_ms: float) -> None:
        self._vehicle, self._mixer, self._speed = vehicle, mixer, speed_ms
        self._close = 1e-4 * vehicle.weight_n * vehicle.reference.chord_m
        self._sticks: list[float] = []
        self._slope = 0.0  # pitching moment per stick, as last seen [N m]

    def at(self, alpha: float) -> tuple[float, float, float] | None:
        """Stick, X and Z [N] at an incidence; None if both stops pitch one way."""
        found = self._quick(alpha) or self._between_stops(alpha)
        if found is not None:
            self._sticks.append(found[0])
        return found

    def _ask(self, alpha: float, stick: float) -> tuple[float, float, float]:
        return lengthwise_forces(self._vehicle, self._mixer, self._speed, alpha, stick, 0.0)

    def _quick(self, alpha: float) -> tuple[float, float, float] | None:
        """By the secant: the moment is nearly straight in the stick, and its slope nearly the last one."""
        before = self._sticks[-2:]
        here = 2.0 * before[1] - before[0] if len(before) == 2 else (before or [0.0])[0]
        here = max(-1.0, min(1.0, here))
        X, Z, moment = self._ask(alpha, here)
        for _ in range(8):
            if abs(moment) < self._close:
                return here, X, Z
            step = -moment / self._slope if self._slope else (0.1 if here < 0.9 else -0.1)
            there = here + step
            if abs(there) > 1.0 or there == here:
                return None
            X, Z, now = self._ask(alpha, there)
            self._slope = (now - moment) / (there - here)
            here, moment = there, now
        return None

    def _between_stops(self, alpha: float) -> tuple[float, float, float] | None:
        low, high = -1.0, 1.0
        at_low, at_high = self._ask(alpha, low)[2], self._ask(alpha, high)[2]
        if at_low * at_high > 0.0:
            return None
        for _ in range(40):
            middle = 0.5 * (low + high)
            if self._ask(alpha, middle)[2] * at_low > 0.0:
                low = middle
            else:
                high = middle
        X, Z, _ = self._ask(alpha, 0.5 * (low + high))
        return 0.5 * (low + high), X, Z
