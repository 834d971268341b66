"""Drives that suit a design, for the page: the best, the nearest misses, the one in it."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, cast

from sheetlark.drive import Combination
from sheetlark.evaluation import AimName, Evaluation, match_design

Plain = dict[str, Any]


def matched(e: Evaluation, aim: str, tell: Callable[[float, str], None]) -> Plain:
    """Try every drive in stock in a design.

    Raises
    ------
    DesignError
        If the design has no drive whose places could be used.
    SolveError
        For an unknown aim.
    """
    ranking = match_design(e, cast("AimName", aim), keep_fitting=60, keep_refused=60, progress=tell)
    return {
        "aim": aim,
        "wanted": ranking.aim.wanted_thrust_to_weight,
        "tried": ranking.tried,
        "will_do": ranking.will_do,
        "ahead": ranking.ahead_of_today,
        "clears": ranking.requirements.clears,
        "largest": 1e3 * ranking.requirements.largest_propeller_m,
        "today": None if ranking.today is None else _row(ranking.today),
        "fitting": [_row(c) for c in ranking.fitting],
        "refused": [_row(c) for c in ranking.refused],
        "counts": [{"reason": c.reason, "count": c.count} for c in ranking.counts],
    }


def _row(c: Combination) -> Plain:
    return {
        "motor": c.motor.name,
        "propeller": c.propeller.name,
        "pack": c.pack.name,
        "keys": [c.motor.key, c.propeller.key, c.pack.key, c.controller.key],
        "mass": 1e3 * c.mass_kg,
        "battery_x": round(1e3 * c.battery_x_m, 1),
        "ratio": c.thrust_to_weight,
        "amps": c.static_current_a,
        "mixed": c.mixed_min if math.isfinite(c.mixed_min) else None,
        "refusals": list(c.refusals),
    }
