"""The simulated first flight of an evaluated design: by hand or from its wheels, in the wind it states."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from sheetlark.errors import SolveError
from sheetlark.evaluation.whole import Evaluation
from sheetlark.flight import FlightPlan, Story, Throw, breeze, first_flight

SECONDS = 75.0


def maiden(
    evaluation: Evaluation,
    seed: int = 0,
    wind_ms: float | None = None,
    throw_ms: float | None = None,
    progress: Callable[[float, str], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Story:
    """Fly the model for the first time and tell what happened.

    Parameters
    ----------
    seed : int
        Of the gusts; the same seed is the same flight.
    wind_ms : float, optional
        Wind at 6 m; left out: what the design states. [m/s]
    throw_ms : float, optional
        Speed of the throw over the ground. Given, a model with wheels is thrown too; left out, one with wheels takes
        off from them and another is thrown at 6.5 m/s (common practice).
    progress : callable, optional
        Told a share and a few words about once for every second flown.
    should_stop : callable, optional
        Asked as often; true ends it with a SolveError.

    Raises
    ------
    DesignError
        If it has no motor, or cannot hold itself up.
    SolveError
        If it was stopped, or the motion left all bounds.
    """
    f, design = evaluation.flight, evaluation.design
    if f.performance is None or f.cruise is None:
        why = f.says[0] if f.says else "it has no motor"
        raise design.refusal((), f"a first flight cannot be flown: {why}")
    wind_ms = design.flying.wind if wind_ms is None else wind_ms
    if throw_ms is not None and not (math.isfinite(throw_ms) and 0.0 < throw_ms <= 20.0):
        raise SolveError(f"a throw is between 0 and 20 m/s, got {throw_ms:g} m/s; a strong arm gives 8")
    from_wheels = design.gear is not None and throw_ms is None
    vehicle = f.vehicle
    if vehicle.wheels and not from_wheels:
        # Thrown, it lands on its wheels as on a belly that hangs as low.
        vehicle = replace(vehicle, wheels=(), belly_z_m=max(z for _, _, z in vehicle.wheels))
    plan = FlightPlan(
        stall_ms=f.stall_ms,
        cruise_ms=f.cruise_ms,
        glide_ms=max(1.3 * f.stall_ms, f.performance.best_glide.airspeed_ms),
        cruise_throttle=min(f.cruise.throttle, 1.0),
        from_wheels=from_wheels,
    )

    def watch(time_s: float) -> None:
        if should_stop is not None and should_stop():
            raise SolveError(f"the first flight was stopped after {time_s:.0f} s of it")
        if progress is not None:
            progress(min(time_s / SECONDS, 1.0), f"flying, {time_s:.0f} s")

    return first_flight(
        vehicle,
        f.mixer.with_rudder_mix(evaluation.controls.rudder_mix),
        plan,
        cruise_alpha_rad=f.cruise.alpha_rad,
        throw=Throw() if throw_ms is None else Throw(speed_ms=throw_ms),
        wind=breeze(
            wind_ms,
            speed_ms=f.cruise_ms,
            span_m=evaluation.airframe.reference.span_m,
            seconds=SECONDS,
            seed=seed,
        ),
        seconds=SECONDS,
        watch=watch if progress is not None or should_stop is not None else None,
    )
