"""How it turns and moves: sideslip, mixes, stability sideways, roll, where it stalls first.

Limits without a named source are common practice in the hobby, no source.
"""

from __future__ import annotations

import math

from sheetlark.evaluation import Evaluation
from sheetlark.flight import SIDESLIP_LIMIT_RAD, sideslip_said
from sheetlark.review.check import Check

SIDESLIP = Check(
    id="adverse-yaw",
    unit="deg",
    measure=lambda e: (
        None if e.controls.peak_sideslip_rad is None else math.degrees(e.controls.peak_sideslip_rad)
    ),
    limit=math.degrees(SIDESLIP_LIMIT_RAD),
    least=False,
    kept_by=lambda e: (
        None if e.controls.least_sideslip_rad is None else math.degrees(e.controls.least_sideslip_rad)
    ),
    says=lambda e, figure, __: (
        f"It skids rather than turns: rolling into a 30 degree bank it slips {sideslip_said(math.radians(figure))} degrees"
        + (f", even with {100 * e.controls.rudder_mix:.0f} % of rudder." if e.controls.rudder_mix else ".")
    ),
    because=lambda e, *_: (
        f"Yaw from sideslip {e.flight.derivatives.Cn_beta:.3f}, yaw from roll rate "
        f"{e.flight.derivatives.Cn_p:.3f}, yaw from ailerons {e.flight.derivatives.Cn_da:.4f} for "
        f"{e.flight.derivatives.Cl_da:.3f} of roll, per radian."
    ),
    deviation=lambda e: (
        None if e.spread.peak_sideslip_rad is None else math.degrees(e.spread.peak_sideslip_rad.deviation)
    ),
)

RUDDER_MIX = Check(
    id="rudder-mix",
    unit="% of roll stick",
    measure=lambda e: 100.0 * e.controls.rudder_mix if e.controls.rudder_mix else None,
    limit=0.0,
    least=False,
    severity="note",
    says=lambda _, figure, __: (
        f"Mix at least {math.ceil(figure):.0f} % of rudder with the ailerons, or lead the turns with your thumb."
    ),
    because=lambda e, *_: (
        f"With ailerons alone it slips {sideslip_said(e.controls.entry.peak_sideslip_rad)} degrees rolling into a "
        f"30 degree bank; with the mix {sideslip_said(e.controls.coordinated.peak_sideslip_rad)}."
        if e.controls.entry is not None and e.controls.coordinated is not None
        else ""
    ),
)

NO_TURN = Check(
    id="no-turn",
    unit="controls",
    measure=lambda e: 0.0 if e.flight.entry is None else 1.0,
    limit=1.0,
    least=True,
    severity="fault",
    says=lambda *_: "It has no control that turns it.",
    because=lambda e, *_: "; ".join(e.flight.says) or "Neither ailerons, elevons nor a rudder are stated.",
)

YAW_STABILITY = Check(
    id="yaw-stability",
    unit="per rad",
    measure=lambda e: e.flight.derivatives.Cn_beta,
    limit=0.01,
    least=True,
    severity=lambda figure, _: "fault" if figure <= 0 else "caution",
    says=lambda _, figure, __: (
        "The fin is too small: it would swap ends."
        if figure <= 0
        else "The fin is small: it weathercocks weakly."
    ),
    because=lambda _, figure, limit: (
        f"Yawing moment from sideslip is {figure:.3f} per radian; {limit:.2f} is the least worth flying "
        "(common practice, no source)."
    ),
)


def _spiral_doubling(e: Evaluation) -> float | None:
    growing = [m.time_to_double_s for m in e.flight.modes if m.name == "spiral" and not m.stable]
    return growing[0] if growing else None


SPIRAL = Check(
    id="spiral",
    unit="s",
    measure=_spiral_doubling,
    limit=4.0,
    least=True,
    says=lambda _, figure, __: f"Left alone in a bank it winds up: the bank doubles in {figure:.1f} s.",
    because=lambda e, *_: (
        f"Roll from sideslip {e.flight.derivatives.Cl_beta:.3f} is small beside yaw from sideslip "
        f"{e.flight.derivatives.Cn_beta:.3f}. MIL-F-8785C asks 12 to 20 s of a light aeroplane (from memory); a "
        "model needs at least 4 s to be flown by eye (common practice)."
    ),
)


def _dutch_damping(e: Evaluation) -> float | None:
    found = [m.damping_ratio for m in e.flight.modes if m.name == "Dutch roll"]
    return found[0] if found else None


DUTCH_ROLL = Check(
    id="dutch-roll",
    unit="of critical",
    measure=_dutch_damping,
    limit=0.08,
    least=True,
    severity=lambda figure, _: "fault" if figure < 0 else "caution",
    says=lambda *_: "Its tail wags: the Dutch roll is poorly damped.",
    because=lambda _, figure, limit: (
        f"Damping is {figure:.2f} of critical; {limit:.2f} is MIL-F-8785C's level 1 for the landing approach (from memory)."
    ),
)


def _roll_helix(e: Evaluation) -> float | None:
    """Helix angle pb/2V of full aileron; None without ailerons. [rad]."""
    return e.controls.helix_rad or None


ROLL_RATE = Check(
    id="roll-rate",
    unit="rad",
    measure=_roll_helix,
    limit=0.05,
    least=True,
    says=lambda *_: "The ailerons are weak: it rolls slowly.",
    because=lambda e, figure, limit: (
        f"Full stick gives a helix angle pb/2V of {figure:.3f}, {math.degrees(figure * 2 * e.flight.cruise_ms / e.airframe.reference.span_m):.0f} "
        f"degrees a second at cruise; {limit:.2f} is the least that a light aeroplane is asked for (NACA TR-715, from memory)."
    ),
)


def _tip_stall(e: Evaluation) -> float | None:
    stall = e.air.results.first_stall
    wings = {w.name for w in e.airframe.wings}
    return stall.share_of_span if stall.surface in wings else None


TIP_STALL = Check(
    id="tip-stall",
    unit="of the half span",
    measure=_tip_stall,
    limit=0.65,
    least=False,
    says=lambda e, *_: (
        f"The {e.air.results.first_stall.surface} stalls near its tip first: it will drop a wing."
    ),
    because=lambda e, figure, _: (
        f"The first strip to stall lies {100 * figure:.0f} % of the way out, at "
        f"{math.degrees(e.air.results.first_stall.alpha_rad):.1f} degrees."
    ),
)
