"""How sure the figures that matter are: spreads of mass, balance, thrust, drag and air carried into them.

Each figure is computed again from what the stages found, for inputs a little off: mass, balance point, thrust,
drag, neutral point, greatest lift, current, and the two parts of yawing (weathercock stability, adverse yaw). Inputs
are taken as independent; what one batch of sheet does to mass and balance together is small beside either.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.airframe import Airframe
from sheetlark.atmosphere import GRAVITY_MS2
from sheetlark.errors import SolveError
from sheetlark.evaluation.air_stage import AirFigures
from sheetlark.evaluation.controls_stage import ControlsFigures
from sheetlark.evaluation.drive_stage import DriveFigures
from sheetlark.evaluation.flight_stage import FlightFigures
from sheetlark.flight import (
    Draws,
    FlightState,
    Spread,
    StickEffect,
    climb_rates,
    drawn,
    in_stability_axes,
    linear_model,
    propagated,
    stick_effect,
    turn_entry,
)
from sheetlark.outline import Floats
from sheetlark.weights import Weights

# Relative spread of a lattice's weathercock stability and adverse yaw on a layout with a body in the way (judgement).
YAW_SPREAD, ADVERSE_SPREAD = 0.12, 0.25

INPUTS = (
    "mass",
    "balance",
    "thrust",
    "drag",
    "neutral point",
    "greatest lift",
    "current",
    "weathercock stability",
    "adverse yaw",
)
FIGURES = ("stall_ms", "climb_ms", "top_ms", "cruise_min", "margin", "thrust_to_weight", "peak_sideslip_rad")


@dataclass(frozen=True, slots=True, kw_only=True)
class SpreadFigures:
    """Figures with their standard deviations; None where the model has no such figure.

    margin : of the mean chord [-]. minutes : at cruise.
    """

    stall_ms: Spread
    climb_ms: Spread | None
    top_ms: Spread | None
    cruise_min: Spread | None
    margin: Spread
    thrust_to_weight: Spread | None
    peak_sideslip_rad: Spread | None


class Spreading:
    """The figures as one quick function of how far the inputs are off, and the inputs' deviations."""

    def __init__(
        self,
        airframe: Airframe,
        weights: Weights,
        air: AirFigures,
        drive: DriveFigures | None,
        flight: FlightFigures,
        controls: ControlsFigures,
    ) -> None:
        self._airframe, self._air, self._drive = airframe, air, drive
        self._flight, self._controls = flight, controls
        self._mass = weights.all_up_kg
        static = drive.static if drive is not None else None
        self.mean = np.array([self._mass, 0.0, 1.0, 1.0, 0.0, 1.0, 1.0, 1.0, 1.0])
        self.deviation = np.array(
            [
                float(weights.spread[0]),
                float(weights.spread[1]),
                static.thrust_spread if static is not None else 0.0,
                air.results.polar.drag_spread,
                air.results.neutral_point_spread_m,
                air.results.curve.lift_spread,
                static.current_spread if static is not None else 0.0,
                YAW_SPREAD,
                ADVERSE_SPREAD,
            ]
        )
        self._speeds = flight.stall_ms * np.linspace(0.8, 4.5, 75)
        self._full = (
            np.array([drive.table.net(float(v), 1.0) for v in self._speeds]) if drive is not None else None
        )
        self._effect = (
            stick_effect(
                flight.vehicle,
                flight.mixer.with_rudder_mix(controls.rudder_mix),
                flight.cruise_ms,
                controls.cruise_alpha_rad,
            )
            if controls.coordinated is not None
            else None
        )
        self._turned = in_stability_axes(flight.vehicle.mass, controls.cruise_alpha_rad)

    def __call__(self, inputs: Floats) -> Floats:
        """Figures in the order of `FIGURES`, shape (7,), for inputs in the order of `INPUTS`; nan for none."""
        mass, shift, thrust, drag, neutral, lift, current, yaw, adverse = inputs.tolist()
        v, f = self._flight.vehicle, self._flight
        area, density = v.reference.area_m2, v.density_kg_m3
        weight = mass * GRAVITY_MS2
        greatest = f.polar.greatest_lift * lift
        stall = math.sqrt(2.0 * weight / (density * area * greatest))
        margin = self._air.static_margin + (neutral - shift) / self._airframe.reference.chord_m
        climb = top = minutes = ratio = math.nan
        if self._drive is not None and self._full is not None:
            ratio = self._drive.net.net_n * thrust / weight
            polar = replace(f.polar, lift=f.polar.lift * lift, drag=f.polar.drag * drag)
            rates = climb_rates(polar, mass, area, self._speeds, thrust * self._full, density)
            if not np.isnan(rates).all():
                climb = float(np.nanmax(rates))
                top = _top(self._speeds, rates)
            minutes = self._minutes(weight, thrust, drag, current, area, density)
        return np.array([stall, climb, top, minutes, margin, ratio, self._sideslip(shift, yaw, adverse)])

    def _minutes(
        self, weight: float, thrust: float, drag: float, current: float, area: float, density: float
    ) -> float:
        """At the nominal cruise: the nominal time by the ratio of the currents that the table gives."""
        f = self._flight
        if f.cruise_s is None or self._drive is None:
            return math.nan
        speed, table = f.cruise_ms, self._drive.table
        pressure = 0.5 * density * speed**2 * area

        def amps(load: float, push: float, drags: float) -> float:
            needed = pressure * drags * float(f.polar.drag_at(np.array([load / pressure]))[0]) / push
            row = np.array([table.net(speed, t) for t in table.throttles.tolist()])
            throttle = float(np.interp(needed, row, table.throttles))
            amperes = [float(np.interp(speed, table.speeds_ms, line)) for line in table.current_a]
            return float(np.interp(throttle, table.throttles, amperes))

        nominal = amps(self._mass * GRAVITY_MS2, 1.0, 1.0)
        now = current * amps(weight, thrust, drag)
        return f.cruise_s / 60.0 * nominal / now if now > 0.0 else math.nan

    def _sideslip(self, shift: float, yaw: float, adverse: float) -> float:
        if self._effect is None:
            return math.nan
        f, b = self._flight, self._flight.vehicle.reference.span_m
        d = f.derivatives
        # Moving the balance aft shortens the fin's arm: the side force there has its moment about a new point.
        changed = replace(
            d,
            Cn_beta=yaw * d.Cn_beta + d.CY_beta * shift / b,
            Cn_p=d.Cn_p * (2.0 - adverse) if d.Cn_p > 0.0 else d.Cn_p * adverse,
        )
        roll = self._effect.roll.copy()
        roll[2] *= adverse if roll[2] * roll[1] < 0.0 else 2.0 - adverse
        model = linear_model(
            changed,
            self._turned,
            f.vehicle.reference,
            FlightState(speed_ms=f.cruise_ms, density_kg_m3=f.vehicle.density_kg_m3),
        )
        try:
            return turn_entry(model, StickEffect(roll=roll, yaw=self._effect.yaw)).peak_sideslip_rad
        except SolveError:
            return math.nan

    def linear(self) -> SpreadFigures:
        """Spreads by slopes: a few dozen evaluations."""
        found = dict(zip(FIGURES, propagated(self, self.mean, self.deviation), strict=True))
        kept = {
            name: s if math.isfinite(s.mean) and math.isfinite(s.deviation) else None
            for name, s in found.items()
        }
        return SpreadFigures(**kept)  # type: ignore[arg-type]  # stall and margin always have an answer

    def drawn(self, draws: int = 1000, seed: int = 0) -> Draws:
        """Figures of many made models, columns in the order of `FIGURES`."""
        return drawn(self, self.mean, self.deviation, draws=draws, seed=seed)


def _top(speeds: Floats, rates: Floats) -> float:
    """Fastest airspeed without sink, between the mesh's points by a straight line."""
    level = np.flatnonzero(np.nan_to_num(rates, nan=-1.0) >= 0.0)
    if not level.size:
        return math.nan
    last = int(level[-1])
    if last == speeds.size - 1:
        return float(speeds[-1])
    part = rates[last] / (rates[last] - rates[last + 1])
    return float(speeds[last] + part * (speeds[last + 1] - speeds[last]))
