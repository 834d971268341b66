"""A first flight, simulated for the page: its track, its story, and the instruments along it."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from sheetlark.errors import DesignError
from sheetlark.evaluation import Evaluation
from sheetlark.flight import FlightPlan, Throw, breeze, first_flight

Plain = dict[str, Any]
_SECONDS = 75.0
_EVERY = 5  # of the simulation's steps, one is kept: ten a second


def flown(e: Evaluation, tell: Callable[[float, str], None]) -> Plain:
    """Fly it for the first time, in the wind the design states.

    Raises
    ------
    DesignError
        If it has no motor, or cannot hold itself up.
    """
    f = e.flight
    if f.performance is None or f.cruise is None:
        why = f.says[0] if f.says else "it has no motor"
        raise DesignError(f"a first flight cannot be flown: {why}")
    plan = FlightPlan(
        stall_ms=f.stall_ms,
        cruise_ms=f.cruise_ms,
        glide_ms=max(1.3 * f.stall_ms, f.performance.best_glide.airspeed_ms),
        cruise_throttle=min(f.cruise.throttle, 1.0),
        from_wheels=False,
    )
    tell(0.3, "flying")
    wind = breeze(
        e.design.flying.wind,
        speed_ms=f.cruise_ms,
        span_m=e.airframe.reference.span_m,
        seconds=_SECONDS,
        seed=1,
    )
    story = first_flight(
        f.vehicle,
        f.mixer,
        plan,
        cruise_alpha_rad=f.cruise.alpha_rad,
        throw=Throw(speed_ms=max(6.5, 1.05 * f.stall_ms)),
        wind=wind,
        seconds=_SECONDS,
    )
    h = story.history
    keep = slice(None, None, _EVERY)
    degrees = 180.0 / math.pi
    return {
        "t": h.time_s[keep].round(2).tolist(),
        "north": h.north_m[keep].round(2).tolist(),
        "east": h.east_m[keep].round(2).tolist(),
        "height": h.height_m[keep].round(2).tolist(),
        "speed": h.airspeed_ms[keep].round(2).tolist(),
        "climb": h.climb_ms[keep].round(2).tolist(),
        "bank": (degrees * h.bank_rad[keep]).round(1).tolist(),
        "pitch": (degrees * h.pitch_rad[keep]).round(1).tolist(),
        "heading": (degrees * h.heading_rad[keep]).round(1).tolist(),
        "sideslip": (degrees * h.beta_rad[keep]).round(1).tolist(),
        "throttle": h.throttle[keep].round(2).tolist(),
        "events": [{"t": v.time_s, "height": v.height_m, "says": v.says} for v in story.events],
        "span": e.airframe.reference.span_m,
        "stall": f.stall_ms,
        "landed": story.landed_as_planned,
        "trim": {
            "pitch": story.pitch_trim,
            "roll": story.roll_trim,
            "yaw": story.yaw_trim,
        },
        "wind": e.design.flying.wind,
    }
