"""Stability and control derivatives, by small steps of the whole model about a condition.

Coefficients use the layout's reference area, mean chord and span. Angles are per radian, rates per pb/2V, qc/2V,
rb/2V. Lift and drag are across and along the stream; X and Z would mix them, so they are not used here. Rolling,
pitching and yawing moments are about the balance point in body axes (x forward, y starboard, z down).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.air.lattice import Integers
from sheetlark.air.layout import Condition
from sheetlark.air.model import AirModel
from sheetlark.air.surface import Floats

ANGLE_STEP = math.radians(0.5)
RATE_STEP = 0.01
DEFLECTION_STEP = math.radians(2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Coefficients:
    """Lift, drag, side force, and the three moments, at one condition."""

    lift: float
    drag: float
    side: float
    roll: float
    pitch: float
    yaw: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlDerivatives:
    """Change of every coefficient per radian of one control."""

    control: str
    lift: float
    drag: float
    side: float
    roll: float
    pitch: float
    yaw: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Derivatives:
    """All derivatives about one condition.

    Names read numerator_denominator: `pitch_alpha` is dCm/dalpha, `roll_p` is dCl/d(pb/2V). The lag of the downwash
    gives `lift_alpha_rate` and `pitch_alpha_rate`, per (d alpha/dt) c/2V.
    """

    lift_alpha: float
    drag_alpha: float
    pitch_alpha: float
    lift_q: float
    drag_q: float
    pitch_q: float
    lift_alpha_rate: float
    pitch_alpha_rate: float
    lift_speed: float
    drag_speed: float
    pitch_speed: float
    side_beta: float
    roll_beta: float
    yaw_beta: float
    side_p: float
    roll_p: float
    yaw_p: float
    side_r: float
    roll_r: float
    yaw_r: float
    controls: tuple[ControlDerivatives, ...]

    def control(self, name: str) -> ControlDerivatives:
        """Derivatives of one control by name; KeyError if there is none."""
        for item in self.controls:
            if item.control == name:
                return item
        raise KeyError(name)


def coefficients_at(model: AirModel, condition: Condition) -> Coefficients:
    """Coefficients of a condition."""
    lift, drag, side, roll, pitch, yaw = six_of(model, condition, model.at(condition))
    return Coefficients(lift=lift, drag=drag, side=side, roll=roll, pitch=pitch, yaw=yaw)


def six_of(
    model: AirModel, condition: Condition, total: Floats
) -> tuple[float, float, float, float, float, float]:
    """Lift, drag, side force and moments as coefficients, from force and moment in flight axes, shape (6,)."""
    x, y, z, roll, pitch, yaw = total.tolist()
    a, b = condition.alpha_rad, condition.beta_rad
    ref = model.reference
    qs = 0.5 * condition.density_kg_m3 * condition.speed_ms**2 * ref.area_m2
    lift = x * math.sin(a) - z * math.cos(a)
    ahead = x * math.cos(a) + z * math.sin(a)
    drag = -(ahead * math.cos(b) + y * math.sin(b))
    return (
        lift / qs,
        drag / qs,
        y / qs,
        roll / (qs * ref.span_m),
        pitch / (qs * ref.chord_m),
        yaw / (qs * ref.span_m),
    )


def derivatives_at(
    model: AirModel, condition: Condition, pairs: tuple[LiftPair, ...] | None = None
) -> Derivatives:
    """All derivatives about a condition, by central differences.

    Parameters
    ----------
    model : AirModel
    condition : Condition
        The state to step about; thrust is held, so `*_speed` holds what the slipstream does as speed changes.
    pairs : tuple of LiftPair, optional
        From `lift_pairs`, when the caller has them already.

    Notes
    -----
    Steps: 0.5 deg in angles, 0.01 in rate coefficients, 2 deg in deflections, 2 % in speed.
    """
    v, ref = condition.speed_ms, model.reference

    def step(change: Callable[[float], Condition], size: float) -> Floats:
        up, down = (np.array(six_of(model, c, model.at(c))) for c in (change(size), change(-size)))
        return np.asarray((up - down) / (2.0 * size), dtype=np.float64)

    def turned(axis: int, length: float) -> Callable[[float], Condition]:
        def change(size: float) -> Condition:
            rates = list(condition.rates_rad_s)
            rates[axis] += size * 2.0 * v / length
            return replace(condition, rates_rad_s=(rates[0], rates[1], rates[2]))

        return change

    def deflected(name: str) -> Callable[[float], Condition]:
        def change(size: float) -> Condition:
            now = dict(condition.deflections_rad)
            now[name] = now.get(name, 0.0) + size
            return replace(condition, deflections_rad=now)

        return change

    alpha = step(lambda s: replace(condition, alpha_rad=condition.alpha_rad + s), ANGLE_STEP)
    beta = step(lambda s: replace(condition, beta_rad=condition.beta_rad + s), ANGLE_STEP)
    speed = step(lambda s: replace(condition, speed_ms=v * (1.0 + s)), 0.02)
    p = step(turned(0, ref.span_m), RATE_STEP)
    q = step(turned(1, ref.chord_m), RATE_STEP)
    r = step(turned(2, ref.span_m), RATE_STEP)
    controls = []
    for name in model.drives:
        d = step(deflected(name), DEFLECTION_STEP).tolist()
        controls.append(
            ControlDerivatives(control=name, lift=d[0], drag=d[1], side=d[2], roll=d[3], pitch=d[4], yaw=d[5])
        )
    lag_lift, lag_pitch = downwash_lag(model, condition, pairs)
    return Derivatives(
        lift_alpha=float(alpha[0]),
        drag_alpha=float(alpha[1]),
        pitch_alpha=float(alpha[4]),
        lift_q=float(q[0]),
        drag_q=float(q[1]),
        pitch_q=float(q[4]),
        lift_alpha_rate=lag_lift,
        pitch_alpha_rate=lag_pitch,
        lift_speed=float(speed[0]),
        drag_speed=float(speed[1]),
        pitch_speed=float(speed[4]),
        side_beta=float(beta[2]),
        roll_beta=float(beta[3]),
        yaw_beta=float(beta[5]),
        side_p=float(p[2]),
        roll_p=float(p[3]),
        yaw_p=float(p[5]),
        side_r=float(r[2]),
        roll_r=float(r[3]),
        yaw_r=float(r[5]),
        controls=tuple(controls),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Downwash:
    """What the other surfaces do to one lying surface.

    slope : float
        d epsilon / d alpha: the share of its own lift slope that the others take away.
    at_zero_rad : float
        Downwash angle at zero angle of attack, from twist and camber of the others. [rad]
    """

    surface: str
    slope: float
    at_zero_rad: float


def downwash_of(model: AirModel, pairs: tuple[LiftPair, ...] | None = None) -> tuple[Downwash, ...]:
    """Mean downwash at every lying surface, weighted as its own lift feels it, one entry each.

    The lift of the surface amid the others against its lift alone, both from the lattice, attached flow: so a wing
    shows the tail's small upwash and a biplane's wings what they do to each other.
    """
    return tuple(
        Downwash(
            surface=p.surface,
            slope=1.0 - p.amid_per_w / p.alone_per_w,
            at_zero_rad=-(p.amid_per_u - p.alone_per_u) / p.alone_per_w,
        )
        for p in pairs or lift_pairs(model)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftPair:
    """Lift of one lying surface amid the others and alone, per unit upward and per unit aft air velocity.

    All four are areas under the circulation, over air density and speed. [m²]
    quarter_x_m : float
        Quarter point of its mean chord. [m]
    """

    surface: str
    amid_per_w: float
    amid_per_u: float
    alone_per_w: float
    alone_per_u: float
    quarter_x_m: float


def lift_pairs(model: AirModel) -> tuple[LiftPair, ...]:
    """What every lying surface lifts amid the others and alone, attached flow."""
    lattice = model.lattice
    out = []
    for index, surface in enumerate(lattice.surfaces):
        if surface.upright:
            continue
        strips = np.flatnonzero(lattice.strip_surface == index)
        panels = np.flatnonzero(lattice.strip_surface[lattice.strip_of] == index)
        width = lattice.strip_width_m[strips]
        amid = width @ model.gain[strips][:, [2, 0]]
        alone = width @ _alone(model, index, panels, strips)
        chord, edge = surface.mean_chord()
        out.append(
            LiftPair(
                surface=surface.name,
                amid_per_w=float(amid[0]),
                amid_per_u=float(amid[1]),
                alone_per_w=float(alone[0]),
                alone_per_u=float(alone[1]),
                quarter_x_m=float(edge[0]) + 0.25 * chord,
            )
        )
    return tuple(out)


def _alone(model: AirModel, index: int, panels: Integers, strips: Integers) -> Floats:
    """Strip circulations of one surface with the others gone, per unit w and u, shape (strips, 2)."""
    lattice = model.lattice
    surface = lattice.surfaces[index]
    if lattice.symmetric and surface.mirrored:
        lying = [k for k, h in enumerate(lattice.halves[: lattice.stated]) if h.surface.mirrored]
        sizes = [lattice.halves[k].points_m[..., 0].size for k in lying]
        start = int(np.sum(sizes[: lying.index(index)]))
        own = lattice.systems[0][start : start + sizes[lying.index(index)]][
            :, start : start + sizes[lying.index(index)]
        ]
        half = lattice.halves[index]
        rows, count = half.points_m[..., 0].size, half.eta.size
    else:
        own = lattice.systems[-1][np.ix_(panels, panels)]
        half = lattice.halves[index]
        rows, count = panels.size, strips.size
    halves = [h for h in lattice.halves if h.surface is surface]
    slope = np.concatenate([h.slope_rad.ravel() for h in halves])[:rows]
    normal = lattice.normals[panels][:rows]
    inflow = np.stack([normal[:, 2] * np.cos(slope), np.sin(slope)], axis=1)
    gamma = np.linalg.solve(own, -inflow)
    per_strip = gamma.reshape(count, half.points_m.shape[1], 2).sum(axis=1)
    if count != strips.size:
        per_strip = np.vstack([per_strip, per_strip])
    # The same loss of slope as amid the others, without the neighbours' share: a few parts in a hundred.
    response = model.response[np.ix_(strips, strips)]
    loss = ((1.0 - model.slope) / (model.slope * math.pi * model.chord))[strips]
    return np.asarray(per_strip - response @ (loss[:, None] * per_strip), dtype=np.float64)


def downwash_lag(
    model: AirModel, condition: Condition, pairs: tuple[LiftPair, ...] | None = None
) -> tuple[float, float]:
    """Lift and pitching moment per (d alpha/dt) c/2V from downwash that arrives late, two floats.

    A surface more than a mean chord behind the wings feels the downwash of l/V ago [1]_.

    References
    ----------
    .. [1] W. R. Cowley and H. Glauert, "The effect of the lag of the downwash on the longitudinal stability of an
       aeroplane", ARC R&M 718, 1921.
    """
    ref = model.reference
    quarter = ref.leading_edge_m[0] + 0.25 * ref.chord_m
    lift = pitch = 0.0
    for pair in pairs or lift_pairs(model):
        arm = pair.quarter_x_m - quarter
        if arm < ref.chord_m:
            continue
        lost = (
            2.0 * (pair.alone_per_w - pair.amid_per_w) / ref.area_m2
        )  # lift slope taken by downwash, per radian
        part = lost * 2.0 * arm / ref.chord_m * math.cos(condition.alpha_rad)
        lift += part
        pitch -= part * (pair.quarter_x_m - float(model.about_m[0])) / ref.chord_m
    return lift, pitch
