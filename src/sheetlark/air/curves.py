"""Lift curve and drag polar through the stall, and which strip goes first."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from sheetlark.air.body import drag_lines
from sheetlark.air.derivatives import coefficients_at, six_of
from sheetlark.air.layout import Condition, Layout
from sheetlark.air.model import AirModel
from sheetlark.air.sections import behaviour
from sheetlark.air.surface import Floats, Reference
from sheetlark.errors import SolveError


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LiftCurve:
    """Lift, drag and pitching moment against angle of attack.

    alpha_rad, lift, drag, pitch : shape (n,)
    slope_per_rad : float
        At small lift, between -2 and +2 degrees about zero lift.
    zero_lift_rad : float
        Angle of attack without lift. [rad]
    stall_rad, lift_max : float
        First peak of the lift. [rad], [-]
    lift_spread : float
        Relative standard deviation of lift and of its maximum, from the sections. [-]
    unsettled_rad : tuple of float
        Angles where lattice and sections did not come to agree: their figures are rough. Empty as a rule; sheets that
        overlap in one plane can do it.
    """

    alpha_rad: Floats
    lift: Floats
    drag: Floats
    pitch: Floats
    slope_per_rad: float
    zero_lift_rad: float
    stall_rad: float
    lift_max: float
    lift_spread: float
    unsettled_rad: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        for name in ("alpha_rad", "lift", "drag", "pitch"):
            own = np.array(getattr(self, name), dtype=np.float64)
            own.setflags(write=False)
            object.__setattr__(self, name, own)


@dataclass(frozen=True, slots=True, kw_only=True)
class Polar:
    """The drag polar in short.

    drag_min : float
        Least drag coefficient, at lift `lift_at_drag_min`.
    best_lift_to_drag, lift_at_best : float
    span_efficiency : float
        Oswald's factor fitted between a fifth and seven tenths of the greatest lift, on the reference span.
    drag_spread : float
        Relative standard deviation of the least drag. [-]
    """

    drag_min: float
    lift_at_drag_min: float
    best_lift_to_drag: float
    lift_at_best: float
    span_efficiency: float
    drag_spread: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstStall:
    """Where the flow leaves first as the angle of attack grows.

    share_of_span : float
        0 at the root, 1 at the tip.
    alpha_rad : float
        Angle of attack where that strip begins to lose its flow. [rad]
    """

    surface: str
    share_of_span: float
    alpha_rad: float


CURVE_DEG = np.concatenate(
    [np.arange(-10.0, 4.1, 2.0), np.arange(5.0, 22.1), [24.0, 27.0, 30.0, 35.0, 40.0, 46.0]]
)
BELOW_DEG = np.arange(-26.0, -10.1, 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftFoot:
    """The lift curve's lower end, as far as the first incidence with lift.

    zero_lift_rad, slope_per_rad : as in `LiftCurve`.
    angles_rad : those the whole curve is asked at, rising. [rad]
    rows : the first of them answered: coefficients as `six_of` gives them.
    unsettled_rad : as in `LiftCurve`, of those.
    """

    zero_lift_rad: float
    slope_per_rad: float
    angles_rad: tuple[float, ...]
    rows: tuple[tuple[float, ...], ...]
    unsettled_rad: tuple[float, ...]


def _asked(model: AirModel, at: Condition, alpha: float, unsettled: list[float]) -> tuple[float, ...]:
    now = replace(at, alpha_rad=alpha)
    total, settled = model.asked(now)
    if not settled:
        unsettled.append(alpha)
    return six_of(model, now, total)


def lift_foot(layout: Layout | AirModel, condition: Condition | None = None) -> LiftFoot:
    """Zero lift and the slope there; the rest of the curve is not asked.

    Raises
    ------
    SolveError
        If lift does not grow through zero anywhere between -26 and 46 degrees.
    """
    model, at = model_of(layout, condition)
    unsettled: list[float] = []
    angles = np.radians(CURVE_DEG).tolist()
    found = [_asked(model, at, angles[0], unsettled)]
    if found[0][0] > 0.0:  # much camber or incidence
        below = np.radians(BELOW_DEG).tolist()
        angles, found = below + angles, [_asked(model, at, a, unsettled) for a in below] + found
    while (k := _rises(found)) is None and len(found) < len(angles):
        found.append(_asked(model, at, angles[len(found)], unsettled))
    if k is None:
        lift = [row[0] for row in found]
        raise SolveError(
            f"lift stays between {min(lift):.2f} and {max(lift):.2f} from {math.degrees(angles[0]):.0f} to 46 degrees: "
            "there is no zero-lift angle to start from. Check incidences and camber."
        )
    before, after = found[k][0], found[k + 1][0]
    zero = angles[k] - before * (angles[k + 1] - angles[k]) / (after - before)
    near = math.radians(2.0)
    up, down = (coefficients_at(model, replace(at, alpha_rad=zero + s)).lift for s in (near, -near))
    return LiftFoot(
        zero_lift_rad=zero,
        slope_per_rad=(up - down) / (2.0 * near),
        angles_rad=tuple(angles),
        rows=tuple(found),
        unsettled_rad=tuple(unsettled),
    )


def _rises(rows: list[tuple[float, ...]]) -> int | None:
    """The row before lift first grows through zero; None where it does not."""
    return next((i for i, (a, b) in enumerate(pairwise(rows)) if a[0] <= 0.0 < b[0]), None)


def lift_curve(
    layout: Layout | AirModel,
    condition: Condition | None = None,
    *,
    whole: bool = True,
    foot: LiftFoot | None = None,
) -> LiftCurve:
    """Lift curve through the stall, with drag and pitching moment.

    Parameters
    ----------
    layout : Layout or AirModel
    condition : Condition, optional
        Everything but its angle of attack is kept.
    whole : bool
        Up to 46 degrees; otherwise to one point past the first peak, which takes half the time: the figures are the
        same, only the arrays end there.
    foot : LiftFoot, optional
        Of the same model and condition, where it is known: it is not asked again.

    Raises
    ------
    SolveError
        If lift does not grow through zero anywhere between -26 and 46 degrees.
    """
    model, at = model_of(layout, condition)
    foot = foot or lift_foot(model, at)
    unsettled, found = list(foot.unsettled_rad), list(foot.rows)
    for a in foot.angles_rad[len(found) :]:
        if not whole and _has_peaked(found):
            break
        found.append(_asked(model, at, a, unsettled))
    rows, alpha = np.array(found), np.array(foot.angles_rad[: len(found)])
    lift = rows[:, 0]
    first = _rises(found)
    assert first is not None  # or there would be no foot
    peak = first + 1
    while peak + 1 < lift.size and lift[peak + 1] > lift[peak]:
        peak += 1
    stall, top = float(alpha[peak]), float(lift[peak])
    if peak + 1 < lift.size:  # a parabola through the peak and its neighbours
        fit = np.polyfit(alpha[peak - 1 : peak + 2], lift[peak - 1 : peak + 2], 2)
        if fit[0] < 0.0:
            stall = float(np.clip(-fit[1] / (2.0 * fit[0]), alpha[peak - 1], alpha[peak + 1]))
            top = float(np.polyval(fit, stall))
    return LiftCurve(
        alpha_rad=alpha,
        lift=lift,
        drag=rows[:, 1],
        pitch=rows[:, 4],
        slope_per_rad=foot.slope_per_rad,
        zero_lift_rad=foot.zero_lift_rad,
        stall_rad=stall,
        lift_max=top,
        lift_spread=section_spreads(model)[0],
        unsettled_rad=tuple(sorted(unsettled)),
    )


def _has_peaked(rows: list[tuple[float, ...]]) -> bool:
    """Whether lift has grown through zero and then once fallen."""
    k = _rises(rows)
    return k is not None and any(b[0] <= a[0] for a, b in pairwise(rows[k + 1 :]))


def polar_of(curve: LiftCurve, reference: Reference, drag_spread: float = 0.15) -> Polar:
    """Drag polar in short from a lift curve.

    Raises
    ------
    SolveError
        If the curve has too few points below the stall.
    """
    below = (curve.alpha_rad <= curve.stall_rad) & (curve.alpha_rad >= curve.zero_lift_rad - 0.1)
    lift, drag = curve.lift[below], curve.drag[below]
    if lift.size < 4:
        raise SolveError(
            f"only {lift.size} points of the lift curve lie below the stall; a polar needs at least 4"
        )
    fine = np.linspace(lift.min(), lift.max(), 400)
    order = np.argsort(lift)
    smooth = np.interp(fine, lift[order], drag[order])
    least = int(np.argmin(smooth))
    best = int(np.argmax(fine / smooth))
    part = (lift > 0.2 * curve.lift_max) & (lift < 0.7 * curve.lift_max)
    ratio = reference.span_m**2 / reference.area_m2
    efficiency = math.nan
    if part.sum() >= 2:
        growth = np.polyfit(lift[part] ** 2, drag[part], 1)[0]
        efficiency = float(1.0 / (math.pi * ratio * growth)) if growth > 0.0 else math.nan
    return Polar(
        drag_min=float(smooth[least]),
        lift_at_drag_min=float(fine[least]),
        best_lift_to_drag=float(fine[best] / smooth[best]),
        lift_at_best=float(fine[best]),
        span_efficiency=efficiency,
        drag_spread=drag_spread,
    )


def polar(layout: Layout | AirModel, condition: Condition | None = None) -> Polar:
    """Drag polar in short; see `lift_curve`."""
    model, at = model_of(layout, condition)
    return polar_of(lift_curve(model, at), model.reference, drag_spread_of(model))


def model_of(layout: Layout | AirModel, condition: Condition | None) -> tuple[AirModel, Condition]:
    """The model of a layout, built if need be, and the condition to ask it at."""
    at = condition or Condition()
    return (layout if isinstance(layout, AirModel) else AirModel(layout, at)), at


def section_spreads(model: AirModel) -> tuple[float, float]:
    """Lift and drag spreads of the sections, weighted by area."""
    rows = []
    for s in model.layout.surfaces:
        if s.upright:
            continue
        known = behaviour(s.section, model.reynolds_per_m * float(np.mean(s.chord_m)))
        rows.append((s.area_m2, known.lift_spread, known.drag_spread))
    table = np.array(rows) if rows else np.array([[1.0, 0.2, 0.3]])
    weights = table[:, 0] / table[:, 0].sum()
    return float(weights @ table[:, 1]), float(weights @ table[:, 2])


def drag_spread_of(model: AirModel) -> float:
    """Relative standard deviation of the least drag: sections and build-up lines, as independent parts."""
    layout = model.layout
    lines = drag_lines(layout.bodies, layout.bits, layout.surfaces, model.reynolds_per_m)
    sheets = float((model.drag0 * model.chord * model.true_width).sum())
    variance = (sheets * section_spreads(model)[1]) ** 2 + sum((x.area_m2 * x.spread) ** 2 for x in lines)
    return math.sqrt(variance) / (sheets + sum(x.area_m2 for x in lines))


def first_stall(model: AirModel, at: Condition, up_to_rad: float) -> FirstStall:
    """Which strip's flow leaves first as the angle of attack grows, and when (0.02 deg)."""
    low, high = at.alpha_rad if at.alpha_rad < up_to_rad else -0.1, up_to_rad

    def worst(alpha: float) -> tuple[float, int]:
        share = model.strips(replace(at, alpha_rad=alpha)).stall_share
        lying = np.array([not model.layout.surfaces[k].upright for k in model.lattice.strip_surface])
        share = np.where(lying, share, 0.0)
        k = int(np.argmax(share))
        return float(share[k]), k

    while worst(high)[0] < 1.0 and high < 1.2:
        high += math.radians(2.0)
    if worst(low)[0] > 1.0:
        low = -0.1
    while high - low > math.radians(0.02):
        middle = 0.5 * (low + high)
        if worst(middle)[0] >= 1.0:
            high = middle
        else:
            low = middle
    k = worst(high)[1]
    eta = np.concatenate([h.eta for h in model.lattice.halves])
    name = model.layout.surfaces[int(model.lattice.strip_surface[k])].name
    return FirstStall(surface=name, share_of_span=float(eta[k]), alpha_rad=high)
