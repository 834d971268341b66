"""A first flight, simulated for the page: its track, its story, and the instruments along it."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from sheetlark.evaluation import Evaluation, maiden

Plain = dict[str, Any]
_EVERY = 5  # of the simulation's steps, one is kept: ten a second


def flown(e: Evaluation, tell: Callable[[float, str], None], seed: int = 0) -> Plain:
    """Fly it for the first time, in the wind the design states.

    Raises
    ------
    DesignError
        If it has no motor, or cannot hold itself up.
    SolveError
        If the motion left all bounds.
    """
    story = maiden(e, seed, progress=lambda share, words: tell(0.2 + 0.8 * share, words))
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
        "throttle": h.throttle[keep].round(2).tolist(),
        "events": [{"t": v.time_s, "height": v.height_m, "says": v.says} for v in story.events],
        "landed": story.landed_as_planned,
        "by_hand": story.launched_by_hand,
        "trim": {"pitch": story.pitch_trim, "roll": story.roll_trim, "yaw": story.yaw_trim},
        "wind": e.design.flying.wind,
    }
