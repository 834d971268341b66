"""From a stand, a meter and a tachometer: the motor's constants and the propeller's correction.

Each reading holds the volts and amps at the controller's battery side, the rpm, and the thrust if a scale was
there. The motor's current follows from the propeller's torque at the measured rpm, the throttle from volts and
rpm; so a reading at part throttle needs no throttle figure. The unknowns are Kv, resistance, no-load current
and the propeller's power; the stock's typical figures stand by as weak evidence, with their own spreads, so that
two readings already help and ten hardly feel them.

A reading without the propeller (two at different volts are better) fixes Kv and the no-load current.

Tie the stand down, stay out of the propeller's plane, wear eye protection, and never run a propeller indoors
near people.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sheetlark.drive.family import Floats
from sheetlark.drive.motor import DRAG_DOUBLES_AT_RPM, no_load_rpm, torque_constant
from sheetlark.drive.propeller import Propeller
from sheetlark.drive.settling import CHOPPING_LOSS, LEAD_OHM
from sheetlark.errors import SolveError
from sheetlark.stock import Controller, Motor, Reading

if TYPE_CHECKING:
    from collections.abc import Sequence

AMPS_SPREAD, RPM_SPREAD, THRUST_SPREAD = 0.02, 0.01, 0.02  # of a careful reading
GOOD_FIT = 0.08  # residual beyond which a reading wants a second look: several times what meters are off by
BELIEVABLE = 6.0  # spreads from the stock's figure beyond which a fit is a mistake, not a motor
KV_SPREAD, RESISTANCE_SPREAD, IDLE_SPREAD = 0.06, 0.40, 0.40  # of the stock's typical figures (from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchReading:
    """What the meters said.

    volts_v, amps_a : at the controller's battery side
    rpm : of the motor
    thrust_n : if a scale was there
    full_throttle : at part throttle the controller chops, and volts alone do not set the rpm
    propeller : False for a run of the bare motor
    """

    volts_v: float
    amps_a: float
    rpm: float
    thrust_n: float | None = None
    full_throttle: bool = True
    propeller: bool = True

    def __post_init__(self) -> None:
        for name, value in (
            ("volts_v", self.volts_v),
            ("amps_a", self.amps_a),
            ("rpm", self.rpm),
            ("thrust_n", self.thrust_n),
        ):
            if value is not None and not (math.isfinite(value) and value > 0):
                raise SolveError(f"a bench reading's {name} must be above 0, got {value:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Residual:
    """Measured over modelled, less 1, of each figure of a reading; nan where it was not measured or not free."""

    amps: float
    rpm: float
    thrust: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchFit:
    """What the bench taught.

    kv_spread, resistance_spread, no_load_spread, power_spread : float
        Relative standard deviations left. [-]
    readings : tuple of Reading
        For `sheetlark.stock.keep_readings`.
    residuals : tuple of Residual
        One for each reading given.
    """

    motor: Motor
    propeller: Propeller
    readings: tuple[Reading, ...]
    kv_spread: float
    resistance_spread: float
    no_load_spread: float
    power_spread: float
    residuals: tuple[Residual, ...]

    @property
    def worst(self) -> float:
        """The largest share by which any reading of amps, rpm or thrust is off. [-]."""
        every = [abs(v) for r in self.residuals for v in (r.amps, r.rpm, r.thrust) if math.isfinite(v)]
        return max(every, default=0.0)


def fit_bench(
    readings: Sequence[BenchReading],
    *,
    motor: Motor,
    propeller: Propeller,
    controller: Controller,
    lead_ohm: float = LEAD_OHM,
    density_kg_m3: float = 1.225,
) -> BenchFit:
    """Fit the motor's constants and the propeller's correction to bench readings.

    Weighted least squares in the logarithms of the four unknowns, by Gauss and Newton with damping (Marquardt);
    the spreads come from the curvature at the solution.

    Raises
    ------
    SolveError
        With fewer than two readings; with no reading at full throttle; or when the best fit asks for an unbelievable
        motor or propeller, or leaves a reading more than a quarter off: then a meter, a unit or an entry is wrong.
    """
    if len(readings) < 2:
        raise SolveError(f"a bench fit needs at least two readings, got {len(readings)}")
    if not any(r.full_throttle for r in readings):
        raise SolveError("a bench fit needs a reading at full throttle: part throttle alone does not show Kv")
    rpm = np.array([r.rpm for r in readings])
    volts, amps = np.array([r.volts_v for r in readings]), np.array([r.amps_a for r in readings])
    thrust = np.array([r.thrust_n or math.nan for r in readings])
    loaded = np.array([r.propeller for r in readings])
    full = np.array([r.full_throttle for r in readings])
    fixed_ohm = controller.resistance_ohm + lead_ohm
    ct, cp = propeller.coefficients(np.zeros_like(rpm), rpm)
    n, d = rpm / 60.0, propeller.diameter_m
    torque = np.where(loaded, cp * density_kg_m3 * n**2 * d**5 / (2 * math.pi), 0.0)
    expected_thrust = ct * density_kg_m3 * n**2 * d**4
    power_doubt = propeller.spread(0.0, float(np.mean(rpm)))[1]
    start = np.log([motor.kv_rpm_v, motor.resistance_ohm, motor.no_load_current_a, 1.0])
    doubt = np.array([KV_SPREAD, RESISTANCE_SPREAD, IDLE_SPREAD, power_doubt])
    idle_shape = (1 + rpm / DRAG_DOUBLES_AT_RPM) / (1 + no_load_rpm(motor) / DRAG_DOUBLES_AT_RPM)

    def modelled(unknown: Floats) -> tuple[Floats, Floats]:
        kv, ohm, idle, power = np.exp(unknown)
        current = torque * power / torque_constant(kv) + idle * idle_shape
        spinning = kv * (volts - current * (ohm + fixed_ohm))
        duty = np.clip((rpm / kv + current * (ohm + fixed_ohm)) / volts, 0.0, 1.0)
        drawn = np.where(full, current, duty * (1 + CHOPPING_LOSS * (1 - duty)) * current)
        return drawn, np.where(full, np.maximum(spinning, 1.0), rpm)

    def misfit(unknown: Floats) -> Floats:
        drawn, spinning = modelled(unknown)
        return np.concatenate(
            [
                np.log(amps / drawn) / AMPS_SPREAD,
                np.log(rpm / spinning) / RPM_SPREAD,
                (unknown - start) / doubt,
            ]
        )

    def slopes(unknown: Floats, at: Floats) -> Floats:
        step = 1e-6
        return np.stack([(misfit(unknown + step * e) - at) / step for e in np.eye(4)], axis=1)

    best, damping = start.copy(), 1e-3
    now = misfit(best)
    for _ in range(60):
        slope = slopes(best, now)
        normal = slope.T @ slope
        move = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), -slope.T @ now)
        trial = misfit(best + move)
        if trial @ trial < now @ now:
            best, now, damping = best + move, trial, max(damping / 5.0, 1e-9)
            if np.abs(move).max() < 1e-9:
                break
        else:
            damping *= 5.0
            if damping > 1e9:
                break
    slope = slopes(best, now)
    left = np.sqrt(np.diag(np.linalg.inv(slope.T @ slope)))
    kv, ohm, idle, power = (float(v) for v in np.exp(best))
    drawn, spinning = modelled(best)
    names = ("Kv", "resistance", "no-load current", "propeller's power")
    for name, moved, usual in zip(names, best - start, doubt, strict=True):
        if abs(moved) > BELIEVABLE * usual:
            raise SolveError(
                f"the best fit makes the {name} {math.exp(moved):.2g} times the stock's figure; such figures are "
                f"{100 * usual:.0f} % off at most times. Check the readings' units and the propeller's size."
            )
    off_rpm = np.where(full, rpm / spinning - 1, 0.0)
    for name, off in (("amps", amps / drawn - 1), ("rpm", off_rpm)):
        worst = int(np.argmax(np.abs(off)))
        if not abs(off[worst]) <= 0.25:
            raise SolveError(
                f"reading {worst + 1} is {100 * off[worst]:+.0f} % off in {name} even at the best fit. "
                "Check its units, the propeller's size and the motor's Kv."
            )
    fitted = replace(
        motor,
        kv_rpm_v=kv,
        resistance_ohm=ohm,
        no_load_current_a=idle,
        source="measured",
        note=f"fitted to {len(readings)} bench readings",
    )
    told, kept = _told(
        propeller, readings, cp=cp, power=power, power_spread=float(left[3]), density_kg_m3=density_kg_m3
    )
    told_thrust = told.coefficients(np.zeros_like(rpm), rpm)[0] * expected_thrust / ct
    residuals = tuple(
        Residual(
            amps=float(amps[i] / drawn[i] - 1),
            rpm=float(rpm[i] / spinning[i] - 1) if full[i] else math.nan,
            thrust=float(thrust[i] / told_thrust[i] - 1) if loaded[i] else math.nan,
        )
        for i in range(len(readings))
    )
    return BenchFit(
        motor=fitted,
        propeller=told,
        readings=kept,
        kv_spread=float(left[0]),
        resistance_spread=float(left[1]),
        no_load_spread=float(left[2]),
        power_spread=float(left[3]),
        residuals=residuals,
    )


def _told(
    propeller: Propeller,
    readings: Sequence[BenchReading],
    *,
    cp: Floats,
    power: float,
    power_spread: float,
    density_kg_m3: float,
) -> tuple[Propeller, tuple[Reading, ...]]:
    """The propeller told each thrust, and once the power the fit found, at the middle of the speeds."""
    told, kept = propeller, []
    loaded = [i for i, r in enumerate(readings) if r.propeller]
    middle = sorted(loaded, key=lambda i: readings[i].rpm)[len(loaded) // 2] if loaded else None
    for i in loaded:
        r = readings[i]
        watts = power * float(cp[i]) * density_kg_m3 * (r.rpm / 60.0) ** 3 * propeller.diameter_m**5
        for thrust_n, power_w, spread in (
            (r.thrust_n, None, THRUST_SPREAD),
            (None, watts if i == middle else None, max(power_spread, 0.01)),
        ):
            if thrust_n is None and power_w is None:
                continue
            told = told.calibrated(
                rpm=r.rpm,
                thrust_n=thrust_n,
                power_w=power_w,
                density_kg_m3=density_kg_m3,
                reading_spread=spread,
            )
            point = told.points[-1]
            kept.append(
                Reading(
                    key="bench",
                    name="bench",
                    source="measured",
                    rpm=point.rpm,
                    advance_ratio=point.advance_ratio,
                    thrust_coefficient=point.thrust_coefficient,
                    power_coefficient=point.power_coefficient,
                    spread=point.spread,
                )
            )
    return told, tuple(kept)
