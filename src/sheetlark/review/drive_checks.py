"""What to know of a drive besides thrust and current: heat, pitch speed, the nose in its wind, the cells' cut-off.

Limits without a named source are common practice in the hobby, no source.
"""

from __future__ import annotations

import math

from sheetlark.drive import CUT_OFF_V, MAGNET_LIMIT_K, RESERVE, propeller_sizes
from sheetlark.evaluation import Evaluation
from sheetlark.review.check import Check, imperial
from sheetlark.units import INCH_M, show_length, show_speed

ZERO_C_K = 273.15
_ENAMEL_C = 140.0  # windings' enamel and solder give way not far above
_HEAT_SPREAD = 0.30  # of the rise: cowls, gaps and dust


def _windings(e: Evaluation) -> float | None:
    return None if e.drive is None else e.drive.static.winding_k - ZERO_C_K


def _windings_deviation(e: Evaluation) -> float | None:
    figure = _windings(e)
    if figure is None or not math.isfinite(figure):
        return None
    return _HEAT_SPREAD * (figure + ZERO_C_K - e.design.flying.temperature)


WINDINGS = Check(
    id="winding-heat",
    unit="C",
    measure=_windings,
    limit=MAGNET_LIMIT_K - ZERO_C_K,
    least=False,
    severity=lambda figure, _: "fault" if figure > _ENAMEL_C else "caution",
    says=lambda _, figure, limit: (
        "Held at full throttle the motor's windings have no steady temperature: they burn."
        if math.isinf(figure)
        else f"Held at full throttle the motor's windings reach about {figure:.0f} °C; above {limit:.0f} °C magnets "
        "and glue suffer."
    ),
    because=lambda e, *_: (
        f"{e.drive.static.point.copper_heat_w:.0f} W in the copper and {e.drive.static.point.iron_heat_w:.0f} W in the "
        f"iron, at {e.drive.static.point.motor_current_a:.1f} A, in the propeller's wind; a cowl makes it worse. A motor "
        "too hot to hold for three seconds is too hot."
        if e.drive is not None
        else ""
    ),
    deviation=_windings_deviation,
)


def _charge_at_cut_off(e: Evaluation) -> float | None:
    """Charge left when full throttle ends, in percent."""
    return None if e.drive is None else 100.0 * e.drive.full_throttle.charge_left


CUT_OFF = Check(
    id="cell-cut-off",
    unit="% of charge left",
    measure=_charge_at_cut_off,
    limit=100.0 * RESERVE + 0.5,
    least=False,
    severity=lambda figure, _: "fault" if figure > 90.0 else "caution",
    says=lambda _, figure, __: (
        "A full battery sags to the cut-off at full throttle: the controller stops the motor at once."
        if figure > 99.0
        else f"At full throttle the cells sag to the cut-off with {figure:.0f} % of the charge still in them: the "
        "controller stops the motor early."
    ),
    because=lambda e, *_: (
        f"{e.drive.static.point.current_a:.1f} A through {1e3 * e.drive.line.pack.resistance_per_cell_ohm:.0f} mohm a "
        f"cell; the controller cuts off at {CUT_OFF_V:.1f} V a cell."
        if e.drive is not None
        else ""
    ),
)

PITCH_SPEED = Check(
    id="pitch-speed",
    unit="of stall speed",
    measure=lambda e: None if e.drive is None else e.drive.static.pitch_speed_ms / e.flight.stall_ms,
    limit=2.0,
    least=True,
    severity="note",
    says=lambda _, figure, limit: (
        f"The propeller's pitch speed is only {figure:.1f} times the stall speed, where {limit:.0f} to 3 is usual: it "
        "pulls well standing still and little in the air."
    ),
    because=lambda e, *_: (
        f"{e.drive.line.propeller.pitch_m / INCH_M:.3g} in of pitch at {e.drive.static.point.rpm:.0f} rpm is "
        f"{show_speed(e.drive.static.pitch_speed_ms, imperial(e))}; it stalls at "
        f"{show_speed(e.flight.stall_ms, imperial(e))}. More pitch or more rpm."
        if e.drive is not None
        else ""
    ),
)


def _larger(e: Evaluation) -> str:
    """What a larger propeller on the same motor would give, pitch lowered so that the load stays."""
    assert e.drive is not None
    assert e.drive.nose is not None
    now, more = propeller_sizes(e.drive.line, e.drive.nose, factors=(1.0, 1.2))
    gain = more.net.net_n / max(now.net.net_n, 1e-9) - 1.0
    return (
        f"A propeller of {show_length(more.propeller.diameter_m, imperial(e))} and "
        f"{show_length(more.propeller.pitch_m, imperial(e))} pitch, about the same load, would lose "
        f"{100 * more.net.fraction:.0f} % and pull {100 * gain:+.0f} % net."
    )


NOSE_BLOCKAGE = Check(
    id="nose-blockage",
    unit="% of static thrust",
    measure=lambda e: None if e.drive is None or e.drive.nose is None else 100.0 * e.drive.net.fraction,
    limit=12.0,
    least=False,
    severity="note",
    says=lambda _, figure, __: f"The wide nose costs {figure:.0f} % of the static thrust.",
    because=lambda e, *_: (
        f"{1e4 * e.drive.nose.frontal_area_m2:.0f} cm² stand {show_length(e.drive.nose.behind_m, imperial(e))} behind a "
        f"propeller of {show_length(e.drive.line.propeller.diameter_m, imperial(e))}. {_larger(e)}"
        if e.drive is not None and e.drive.nose is not None
        else ""
    ),
)
