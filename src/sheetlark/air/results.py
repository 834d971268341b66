"""Everything the rest of the tool asks of the air, in one answer."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from sheetlark.air.body import DragLine, drag_lines
from sheetlark.air.curves import (
    FirstStall,
    LiftCurve,
    LiftFoot,
    Polar,
    drag_spread_of,
    first_stall,
    lift_curve,
    lift_foot,
    model_of,
    polar_of,
)
from sheetlark.air.derivatives import (
    Coefficients,
    Derivatives,
    Downwash,
    LiftPair,
    coefficients_at,
    derivatives_at,
    downwash_lag,
    downwash_of,
    lift_pairs,
)
from sheetlark.air.hinges import HingeMoment, hinge_moments_at
from sheetlark.air.layout import Condition, Layout
from sheetlark.air.model import AirModel
from sheetlark.air.sections import behaviour
from sheetlark.air.surface import Floats, Reference, Surface


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


@dataclass(frozen=True, kw_only=True, eq=False)
class AirResults:
    """The air of a layout about one condition. What is not asked for is not worked out.

    foot : LiftFoot
        Zero lift and the lift curve's slope.
    neutral_point_m : float
        Distance of the stick-fixed neutral point behind the nose datum, power off. [m]
    """

    reference: Reference
    condition: Condition
    foot: LiftFoot
    neutral_point_m: float
    model: AirModel

    @cached_property
    def coefficients(self) -> Coefficients:
        """At the condition."""
        return coefficients_at(self.model, self.condition)

    @property
    def _glide(self) -> Condition:
        """The condition without thrust."""
        return replace(self.condition, thrust_n=0.0, torque_nm=0.0)

    @cached_property
    def curve(self) -> LiftCurve:
        """The lift curve to just past the stall, power off."""
        return lift_curve(self.model, self._glide, whole=False, foot=self.foot)

    @cached_property
    def whole_curve(self) -> LiftCurve:
        """The lift curve up to 46 degrees, power off."""
        return lift_curve(self.model, self._glide, foot=self.foot)

    @cached_property
    def polar(self) -> Polar:
        """Drag in short; raises `SolveError` where the lift curve has too few points below the stall."""
        return polar_of(self.curve, self.reference, drag_spread_of(self.model))

    @cached_property
    def pairs(self) -> tuple[LiftPair, ...]:
        """What every lying surface lifts amid the others and alone."""
        return lift_pairs(self.model)

    @cached_property
    def lag(self) -> tuple[float, float]:
        """Lift and pitching moment per (d alpha/dt) c/2V from downwash that arrives late."""
        return downwash_lag(self.model, self.condition, self.pairs)

    @cached_property
    def derivatives(self) -> Derivatives:
        """About the condition."""
        return derivatives_at(self.model, self.condition, self.pairs)

    @cached_property
    def neutral_point_power_m(self) -> float:
        """The neutral point at the condition's thrust. [m]."""
        return _neutral(self.model, self.condition) if self.condition.thrust_n > 0.0 else self.neutral_point_m

    @cached_property
    def neutral_point_spread_m(self) -> float:
        """Standard deviation, from lift slopes and the body's moment (judgement). [m]."""
        model = self.model
        moved = 0.0
        if model.layout.bodies:
            moved = abs(self.neutral_point_m - _neutral(_bare(model), self._glide))
        return math.hypot(0.01 * model.reference.chord_m, 0.4 * moved)

    @cached_property
    def downwash(self) -> tuple[Downwash, ...]:
        """At every lying surface."""
        return downwash_of(self.model, self.pairs)

    @cached_property
    def first_stall(self) -> FirstStall:
        """Where the flow leaves first, power off."""
        return first_stall(self.model, self._glide, self.curve.stall_rad)

    @cached_property
    def _shared(self) -> tuple[tuple[SurfaceShare, ...], tuple[SpanLoading, ...]]:
        return _shares(self.model, self.condition)

    @property
    def shares(self) -> tuple[SurfaceShare, ...]:
        """Every surface's part of the lift."""
        return self._shared[0]

    @property
    def loading(self) -> tuple[SpanLoading, ...]:
        """Load along every surface."""
        return self._shared[1]

    @cached_property
    def hinges(self) -> tuple[HingeMoment, ...]:
        """Hinge moments of every control."""
        return hinge_moments_at(self.model, self.condition)

    @cached_property
    def drag(self) -> tuple[DragLine, ...]:
        """Drag of all but the sheets, line by line."""
        layout = self.model.layout
        return drag_lines(layout.bodies, layout.bits, layout.surfaces, self.model.reynolds_per_m)

    @cached_property
    def thin_data(self) -> tuple[str, ...]:
        """Surfaces whose section data no opened source covers; their spread is wider."""
        return tuple(s.name for s, reynolds in self._reynolds if behaviour(s.section, reynolds).thin)

    @cached_property
    def _reynolds(self) -> tuple[tuple[Surface, float], ...]:
        per_m = self.model.reynolds_per_m
        return tuple((s, per_m * float(np.mean(s.chord_m))) for s in self.model.layout.surfaces)

    @cached_property
    def warnings(self) -> tuple[str, ...]:
        """Where the answer is outside what it was checked for, in a builder's words."""
        found = [
            f"{s.name}: Reynolds number {reynolds:.0f} lies outside 20000 to 300000, where the section data hold"
            for s, reynolds in self._reynolds
            if not 2.0e4 <= reynolds <= 3.0e5
        ]
        unsettled = self.whole_curve.unsettled_rad
        if unsettled:
            angles = ", ".join(f"{math.degrees(a):.0f}" for a in unsettled)
            found.append(
                f"the stall did not settle at {angles} degrees, where figures are rough; "
                "do surfaces overlap in one plane?"
            )
        return tuple(found)


def derivatives(layout: Layout | AirModel, condition: Condition | None = None) -> Derivatives:
    """All stability and control derivatives about a condition."""
    model, at = model_of(layout, condition)
    return derivatives_at(model, at)


def downwash(layout: Layout | AirModel, condition: Condition | None = None) -> tuple[Downwash, ...]:
    """Downwash at every lying surface."""
    return downwash_of(model_of(layout, condition)[0])


def hinge_moments(layout: Layout | AirModel, condition: Condition | None = None) -> tuple[HingeMoment, ...]:
    """Hinge moments of every control."""
    model, at = model_of(layout, condition)
    return hinge_moments_at(model, at)


def neutral_point(layout: Layout | AirModel, condition: Condition | None = None) -> float:
    """Distance of the stick-fixed neutral point behind the nose datum at the condition's thrust. [m].

    Where the pitching moment does not change with angle of attack; found from moment and normal-force slopes, which
    is exact for forces normal to x.
    """
    model, at = model_of(layout, condition)
    return _neutral(model, at)


def _neutral(model: AirModel, at: Condition) -> float:
    step = math.radians(0.5)
    up, down = (model.at(replace(at, alpha_rad=at.alpha_rad + s)) for s in (step, -step))
    normal, moment = -(up[2] - down[2]), up[4] - down[4]
    return float(model.about_m[0] - moment / normal)


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
    return AirResults(
        reference=own.reference,
        condition=at,
        foot=lift_foot(own, glide),
        neutral_point_m=_neutral(own, glide),
        model=own,
    )


def _bare(model: AirModel) -> AirModel:
    """The same model without bodies and bits; shares everything else."""
    return model.without_pieces()
