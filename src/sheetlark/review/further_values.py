"""Strength, controls, thrust angles and spreads as plain values, for the document."""

from __future__ import annotations

import math
from typing import Any

from sheetlark.evaluation import ControlFigures, Evaluation, WingFigures
from sheetlark.flight import Spread

Plain = dict[str, Any]


def strength_values(e: Evaluation) -> Plain:
    """Limit load, every wing and strut at it, and the lightest spar that serves."""
    s = e.strength
    return {
        "limit_load_factor": s.limit.factor,
        "limit_because": s.limit.because,
        "pull_up_g": s.limit.pull_up,
        "gust_g": s.limit.gust,
        "judged_at_ms": s.top_ms,
        "tip_deflection_mm_at_limit": 1e3 * s.tip_deflection_m,
        "margin": s.weakest.margin,
        "wings": [_wing(e, w) for w in s.wings],
        "struts": [
            {"name": t.name, "pull_n": t.pull_n, "buckles_n": t.buckles_n, "margin": t.margin}
            for t in s.struts
        ],
        "not_computed": [
            "body at the wing's saddle: tape and double it",
            "landing on the nose: expect to repair it",
        ],
    }


def _wing(e: Evaluation, w: WingFigures) -> Plain:
    made: Plain = {
        "name": w.name,
        "lift_n": w.lift_n,
        "root_moment_nm": w.root_moment_nm,
        "tip_deflection_mm": 1e3 * w.tip_deflection_m,
        "tip_twist_deg": math.degrees(w.tip_twist_rad),
        "margin": w.margin,
        "weakest": w.weakest,
        "weakest_y_mm": 1e3 * w.weakest_y_m,
        "braced": w.braced,
        "stresses": [
            {
                "piece": t.name,
                "most_mpa": 1e-6 * t.most_pa,
                "least_mpa": 1e-6 * t.least_pa,
                "margin": t.margin,
            }
            for t in w.stresses
        ],
        "flutter_ms": w.twist.flutter_ms,
        "divergence_ms": w.twist.divergence_ms,
        "twist_reserve": w.twist.reserve,
    }
    if w.joint is not None:
        made["joint"] = {
            "moment_nm": w.joint.moment_nm,
            "shear_n": w.joint.shear_n,
            "couple_n": w.joint.couple_n,
        }
    if w.bands is not None:
        made["bands"] = {"count": w.bands.count, "lift_off_n": w.bands.lift_off_n, "pull_n": w.bands.pull_n}
    lightest = next(iter(e.serving_spars(w.name)), None)
    if lightest is not None:
        made["lightest_spar"] = {
            "rod": lightest.rod.key,
            "name": lightest.rod.name,
            "at": lightest.at,
            "span_mm": 1e3 * lightest.span_m,
            "mass_g": 1e3 * lightest.mass_kg,
            "margin": lightest.margin,
        }
    return made


def controls_values(e: Evaluation) -> list[Plain]:
    """One entry for each servo."""
    return [_control(c) for c in e.controls.servos]


def _control(c: ControlFigures) -> Plain:
    made: Plain = {
        "moves": c.moves,
        "surface": c.surface,
        "up_deg": math.degrees(c.up_rad),
        "down_deg": math.degrees(c.down_rad),
        "up_mm": 1e3 * c.up_m,
        "down_mm": 1e3 * c.down_m,
        "wanted_deg": math.degrees(c.wanted_rad),
        "wanted_for": c.wanted_for,
        "exponential": c.expo,
        "hinge_moment_nm": c.hinge_moment_nm,
        "servo_torque_nm": c.servo_torque_nm,
        "torque_nm": c.torque_nm,
        "torque_share": c.torque_share,
        "travel_used": c.travel_used,
        "servo_up_deg": None if c.servo_up_rad is None else math.degrees(c.servo_up_rad),
        "servo_down_deg": None if c.servo_down_rad is None else math.degrees(c.servo_down_rad),
        "says": c.says,
    }
    if c.best is not None:
        made["best_holes"] = {
            "arm_mm": 1e3 * c.best.arm_m,
            "horn_mm": 1e3 * c.best.horn_m,
            "travel_used": c.best.travel_used,
            "servo_torque_nm": c.best.servo_torque_nm,
        }
    return made


def turn_values(e: Evaluation) -> Plain:
    """How it enters a turn, flown with all it has; and with the roll stick alone, and slowly."""
    c = e.controls
    made: Plain = {
        "roll_rate_deg_s": math.degrees(c.roll_rate_rad_s),
        "rudder_mix": c.rudder_mix,
    }
    if c.entry is not None and c.coordinated is not None:
        made |= {
            "peak_sideslip_deg": math.degrees(c.coordinated.peak_sideslip_rad),
            "final_sideslip_deg": math.degrees(c.coordinated.final_sideslip_rad),
            "time_to_bank_s": c.coordinated.time_to_bank_s,
            "peak_sideslip_without_mix_deg": math.degrees(c.entry.peak_sideslip_rad),
            "differential_for_it": c.differential,
        }
        if c.slow is not None:
            made["peak_sideslip_slow_deg"] = math.degrees(c.slow.peak_sideslip_rad)
    return made


def thrust_values(e: Evaluation) -> Plain:
    """Shaft angles, stated and best."""
    assert e.thrust is not None
    t = e.thrust
    return {
        "stated": {
            "down_deg": math.degrees(t.stated_down_rad),
            "right_deg": math.degrees(t.stated_right_rad),
        },
        "down_deg": math.degrees(t.best.down_rad),
        "right_deg": math.degrees(t.best.right_rad),
        "pitch_before_nm": t.best.pitch_before_nm,
        "pitch_after_nm": t.best.pitch_after_nm,
        "yaw_before_nm": t.best.yaw_before_nm,
        "yaw_after_nm": t.best.yaw_after_nm,
    }


def spread_values(e: Evaluation) -> Plain:
    """One standard deviation of the figures that matter, by slopes."""
    s = e.spread

    def plain(spread: Spread | None, scale: float = 1.0) -> Plain | None:
        return (
            None if spread is None else {"mean": scale * spread.mean, "deviation": scale * spread.deviation}
        )

    return {
        "stall_ms": plain(s.stall_ms),
        "climb_ms": plain(s.climb_ms),
        "top_ms": plain(s.top_ms),
        "cruise_min": plain(s.cruise_min),
        "static_margin_percent": plain(s.margin, 100.0),
        "thrust_to_weight": plain(s.thrust_to_weight),
        "peak_sideslip_deg": plain(s.peak_sideslip_rad, math.degrees(1.0)),
    }
