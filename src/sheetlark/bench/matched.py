"""Drives that suit a design: the stock's combinations tried in it, ranked for the page."""

from __future__ import annotations

import math
from typing import Any

from sheetlark.atmosphere import air_at
from sheetlark.drive import Combination, Requirements, rank
from sheetlark.errors import DesignError
from sheetlark.evaluation import Evaluation

Plain = dict[str, Any]
_DRIVE_KINDS = ("motor", "propeller", "pack", "controller")
_GROUND_CLEARANCE_M = 0.015


def requirements(e: Evaluation) -> Requirements:
    """The model as a drive finds it: its mass and balance without one, its drag, its room.

    Raises
    ------
    DesignError
        If the design has no drive whose places could be used.
    """
    drive = e.design.drive
    if drive is None:
        raise DesignError(
            "a drive is matched to the places of motor and battery; add a motor and battery first"
        )
    bought = {f"{kind} {key}" for kind, key in zip(_DRIVE_KINDS, _keys(e), strict=True)}
    bare = [line for line in e.weights.lines if line.batch not in bought]
    mass = sum(line.mass_kg for line in bare)
    x = sum(line.mass_kg * float(line.element.at_m[0]) for line in bare) / mass
    polar = e.flight.polar
    below = polar.lift <= 0.8 * polar.greatest_lift
    lift, drag = polar.lift[below], polar.drag[below]
    # C_D = a + b C_L² through the unstalled part, by least squares.
    spread = float(((lift**2 - (lift**2).mean()) ** 2).sum())
    growth = (
        float(((lift**2 - (lift**2).mean()) * (drag - drag.mean())).sum()) / spread if spread > 0 else 0.05
    )
    growth = max(growth, 1e-3)
    zero = max(float(drag.mean() - growth * (lift**2).mean()), 1e-3)
    here, b = float(e.weights.balance_m[0]), e.flight.balance
    wanted = here + (
        b.aft_limit_m if b.aft_limit_m > b.forward_limit_m else 0.5 * (b.aft_limit_m + b.forward_limit_m)
    )
    room = max(b.aft_limit_m - b.forward_limit_m, 0.0)
    motor_x = drive.motor_at[0]
    length = e.stock.motor(drive.motor).body_length_m * (1.0 if drive.pusher else -1.0)
    return Requirements(
        bare_mass_kg=mass,
        bare_balance_x_m=x,
        balance_x_m=wanted - 0.5 * room,
        balance_tolerance_m=max(0.5 * room, 0.002),
        motor_x_m=motor_x + 0.5 * length,
        propeller_x_m=motor_x + length,
        controller_x_m=drive.controller_at[0],
        battery_from_x_m=drive.pack_at[0] - drive.pack_travel,
        battery_to_x_m=drive.pack_at[0] + drive.pack_travel,
        wing_area_m2=e.airframe.reference.area_m2,
        cl_max=polar.greatest_lift,
        drag_zero=zero,
        drag_due_to_lift=growth,
        largest_propeller_m=_largest_propeller(e),
        motors=2 if drive.twin else 1,
        thrust_kept=1.0 - e.drive.net.fraction if e.drive is not None else 1.0,
        density_kg_m3=air_at(e.design.flying.altitude, e.design.flying.temperature).density_kg_m3,
    )


def _keys(e: Evaluation) -> tuple[str, str, str, str]:
    drive = e.design.drive
    assert drive is not None
    return (drive.motor, drive.propeller, drive.pack, drive.controller)


def _largest_propeller(e: Evaluation) -> float:
    """What clears the ground with wheels, or 0.5 m."""
    drive, gear = e.design.drive, e.design.gear
    assert drive is not None
    if gear is None or drive.pusher:
        return 0.5
    ground = gear.at[1] - e.stock.wheel(gear.wheel).diameter_m / 2
    return max(0.05, 2.0 * (drive.motor_at[2] - ground - _GROUND_CLEARANCE_M))


def matched(e: Evaluation, aim: str) -> Plain:
    """The best combinations, the nearest misses, and what refused the rest.

    Raises
    ------
    DesignError, SolveError
        If nothing can be tried.
    """
    ranking = rank(requirements(e), e.stock, aim, keep_fitting=60, keep_refused=60)  # type: ignore[arg-type]
    mine = _keys(e)
    return {
        "aim": aim,
        "wanted": ranking.aim.wanted_thrust_to_weight,
        "tried": ranking.tried,
        "will_do": ranking.will_do,
        "fitting": [_row(c, mine) for c in ranking.fitting],
        "refused": [_row(c, mine) for c in ranking.refused],
        "counts": [{"reason": c.reason, "count": c.count} for c in ranking.counts],
    }


def _row(c: Combination, mine: tuple[str, str, str, str]) -> Plain:
    keys = (c.motor.key, c.propeller.key, c.pack.key, c.controller.key)
    return {
        "motor": c.motor.name,
        "propeller": c.propeller.name,
        "pack": c.pack.name,
        "keys": list(keys),
        "mine": keys[:3] == mine[:3],
        "mass": 1e3 * c.mass_kg,
        "battery_x": round(1e3 * c.battery_x_m, 1),
        "ratio": c.thrust_to_weight,
        "amps": c.static_current_a,
        "full": c.full_throttle_min,
        "mixed": c.mixed_min if math.isfinite(c.mixed_min) else None,
        "refusals": list(c.refusals),
    }
