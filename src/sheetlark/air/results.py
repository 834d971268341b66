"""Everything the rest of the tool asks of the air, in one answer."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.air.body import DragLine, drag_lines
from sheetlark.air.derivatives import (
    Coefficients,
    Derivatives,
    Downwash,
    coefficients_at,
    derivatives_at,
    downwash_of,
    lift_pairs,
)
from sheetlark.air.hinges import HingeMoment, hinge_moments_at
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


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceShare:
    """One surface's part of the lift at the condition.

    lift_n : float
        Along its own normals. [N]
    share : float
        Of the sum over all lying surfaces.
    lift_coefficient : float
        On its own area.
    """

    surface: str
    lift_n: float
    share: float
    lift_coefficient: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpanLoading:
    """Load along one surface, port tip to starboard tip (root to tip on a single one).

    eta : shape (n,), -1 to 1 (0 to 1). load_n_m : shape (n,). [N/m] lift_coefficient : shape (n,).
    """

    surface: str
    eta: Floats
    load_n_m: Floats
    lift_coefficient: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AirResults:
    """The air of a layout about one condition.

    neutral_point_m : float
        Distance of the stick-fixed neutral point behind the nose datum, power off. [m]
    neutral_point_power_m : float
        The same at the condition's thrust. [m]
    neutral_point_spread_m : float
        Standard deviation, from lift slopes and the body's moment (judgement). [m]
    thin_data : tuple of str
        Surfaces whose section data no opened source covers; their spread is wider.
    warnings : tuple of str
        Where the answer is outside what it was checked for, in a builder's words.
    """

    reference: Reference
    condition: Condition
    coefficients: Coefficients
    curve: LiftCurve
    polar: Polar
    derivatives: Derivatives
    neutral_point_m: float
    neutral_point_power_m: float
    neutral_point_spread_m: float
    downwash: tuple[Downwash, ...]
    first_stall: FirstStall
    shares: tuple[SurfaceShare, ...]
    loading: tuple[SpanLoading, ...]
    hinges: tuple[HingeMoment, ...]
    drag: tuple[DragLine, ...]
    thin_data: tuple[str, ...]
    warnings: tuple[str, ...]
    model: AirModel


CURVE_DEG = np.concatenate(
    [np.arange(-10.0, 4.1, 2.0), np.arange(5.0, 22.1), [24.0, 27.0, 30.0, 35.0, 40.0, 46.0]]
)


def lift_curve(layout: Layout | AirModel, condition: Condition | None = None) -> LiftCurve:
    """Lift curve through the stall, with drag and pitching moment.

    Parameters
    ----------
    layout : Layout or AirModel
    condition : Condition, optional
        Everything but its angle of attack is kept.

    Raises
    ------
    SolveError
        If lift does not grow with angle of attack anywhere between -10 and 20 degrees.
    """
    model, at = _model(layout, condition)
    degrees = CURVE_DEG
    rows = [coefficients_at(model, replace(at, alpha_rad=math.radians(a))) for a in degrees.tolist()]
    lift = np.array([r.lift for r in rows])
    alpha = np.radians(degrees)
    rising = np.flatnonzero((lift[:-1] <= 0.0) & (lift[1:] > 0.0))
    if rising.size == 0:
        raise SolveError(
            f"lift stays between {lift.min():.2f} and {lift.max():.2f} from -10 to 46 degrees: there is no zero-lift "
            "angle to start from. Check incidences and camber."
        )
    k = int(rising[0])
    zero = float(alpha[k] - lift[k] * (alpha[k + 1] - alpha[k]) / (lift[k + 1] - lift[k]))
    near = math.radians(2.0)
    up, down = (coefficients_at(model, replace(at, alpha_rad=zero + s)).lift for s in (near, -near))
    peak = k + 1
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
        drag=np.array([r.drag for r in rows]),
        pitch=np.array([r.pitch for r in rows]),
        slope_per_rad=(up - down) / (2.0 * near),
        zero_lift_rad=zero,
        stall_rad=stall,
        lift_max=top,
        lift_spread=_spreads(model)[0],
    )


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
    model, at = _model(layout, condition)
    return polar_of(lift_curve(model, at), model.reference, _drag_spread(model))


def derivatives(layout: Layout | AirModel, condition: Condition | None = None) -> Derivatives:
    """All stability and control derivatives about a condition."""
    model, at = _model(layout, condition)
    return derivatives_at(model, at)


def downwash(layout: Layout | AirModel, condition: Condition | None = None) -> tuple[Downwash, ...]:
    """Downwash at every lying surface."""
    return downwash_of(_model(layout, condition)[0])


def hinge_moments(layout: Layout | AirModel, condition: Condition | None = None) -> tuple[HingeMoment, ...]:
    """Hinge moments of every control."""
    model, at = _model(layout, condition)
    return hinge_moments_at(model, at)


def neutral_point(layout: Layout | AirModel, condition: Condition | None = None) -> float:
    """Distance of the stick-fixed neutral point behind the nose datum at the condition's thrust. [m].

    Where the pitching moment does not change with angle of attack; found from moment and normal-force slopes, which
    is exact for forces normal to x.
    """
    model, at = _model(layout, condition)
    return _neutral(model, at)


def _neutral(model: AirModel, at: Condition) -> float:
    step = math.radians(0.5)
    up, down = (model.at(replace(at, alpha_rad=at.alpha_rad + s)) for s in (step, -step))
    normal, moment = -(up[2] - down[2]), up[4] - down[4]
    return float(model.about_m[0] - moment / normal)


def _model(layout: Layout | AirModel, condition: Condition | None) -> tuple[AirModel, Condition]:
    at = condition or Condition()
    return (layout if isinstance(layout, AirModel) else AirModel(layout, at)), at


def _spreads(model: AirModel) -> tuple[float, float]:
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


def _drag_spread(model: AirModel) -> float:
    """Relative standard deviation of the least drag: sections and build-up lines, as independent parts."""
    layout = model.layout
    lines = drag_lines(layout.bodies, layout.bits, layout.surfaces, model.reynolds_per_m)
    sheets = float((model.drag0 * model.chord * model.true_width).sum())
    variance = (sheets * _spreads(model)[1]) ** 2 + sum((x.area_m2 * x.spread) ** 2 for x in lines)
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


def _shares(model: AirModel, at: Condition) -> tuple[tuple[SurfaceShare, ...], tuple[SpanLoading, ...]]:
    state = model.strips(at)
    q = 0.5 * at.density_kg_m3 * at.speed_ms**2
    normal = np.concatenate([h.normal for h in model.lattice.halves])
    eta = np.concatenate([h.eta for h in model.lattice.halves])
    port = np.concatenate(
        [np.full(h.eta.size, k >= model.lattice.stated) for k, h in enumerate(model.lattice.halves)]
    )
    lifts, rows, loads = [], [], []
    for index, surface in enumerate(model.layout.surfaces):
        mine = np.flatnonzero(model.lattice.strip_surface == index)
        force = state.normal_n[mine]
        lift = float(force.sum()) if surface.upright else float((force * normal[mine, 2]).sum())
        lifts.append(0.0 if surface.upright else lift)
        rows.append((surface, lift))
        where = np.where(port[mine], -eta[mine], eta[mine])
        order = np.argsort(where)
        loads.append(
            SpanLoading(
                surface=surface.name,
                eta=where[order],
                load_n_m=(force / model.true_width[mine])[order],
                lift_coefficient=(force / (q * model.true_width[mine] * model.chord[mine]))[order],
            )
        )
    whole = sum(lifts)
    shares = tuple(
        SurfaceShare(
            surface=surface.name,
            lift_n=lift,
            share=part / whole if abs(whole) > 1e-9 else 0.0,
            lift_coefficient=lift / (q * surface.area_m2),
        )
        for (surface, lift), part in zip(rows, lifts, strict=True)
    )
    return shares, tuple(loads)


def analyse(layout: Layout, condition: Condition | None = None, model: AirModel | None = None) -> AirResults:
    """Everything about a layout's air at one condition.

    Parameters
    ----------
    layout : Layout
        Its own panelling is used; `Layout.panelled` makes it coarser or finer.
    condition : Condition, optional
        Left out: 10 m/s at sea level, no thrust.
    model : AirModel, optional
        A model of the same layout already built.

    Returns
    -------
    AirResults

    Raises
    ------
    SolveError
        If surfaces coincide, or the layout has no lift curve.
    """
    at = condition or Condition()
    own = model or AirModel(layout, at)
    glide = replace(at, thrust_n=0.0, torque_nm=0.0)
    curve = lift_curve(own, glide)
    shares, loading = _shares(own, at)
    pairs = lift_pairs(own)
    off = _neutral(own, glide)
    thin = []
    warnings = []
    for s in layout.surfaces:
        reynolds = own.reynolds_per_m * float(np.mean(s.chord_m))
        known = behaviour(s.section, reynolds)
        if known.thin:
            thin.append(s.name)
        if not 2.0e4 <= reynolds <= 3.0e5:
            warnings.append(
                f"{s.name}: Reynolds number {reynolds:.0f} lies outside 20000 to 300000, where the section data hold"
            )
    moved = abs(off - _neutral(_bare(own), glide)) if layout.bodies else 0.0
    chord = own.reference.chord_m
    return AirResults(
        reference=own.reference,
        condition=at,
        coefficients=coefficients_at(own, at),
        curve=curve,
        polar=polar_of(curve, own.reference, _drag_spread(own)),
        derivatives=derivatives_at(own, at, pairs),
        neutral_point_m=off,
        neutral_point_power_m=_neutral(own, at) if at.thrust_n > 0.0 else off,
        neutral_point_spread_m=math.hypot(0.01 * chord, 0.4 * moved),
        downwash=downwash_of(own, pairs),
        first_stall=first_stall(own, glide, curve.stall_rad),
        shares=shares,
        loading=loading,
        hinges=hinge_moments_at(own, at),
        drag=drag_lines(layout.bodies, layout.bits, layout.surfaces, own.reynolds_per_m),
        thin_data=tuple(thin),
        warnings=tuple(warnings),
        model=own,
    )


def _bare(model: AirModel) -> AirModel:
    """The same model without bodies and bits; shares everything else."""
    return model.without_pieces()
