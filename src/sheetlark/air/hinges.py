"""Hinge moments: what a servo feels.

From the lattice's pressures behind the hinge line, attached flow; real flaps ask for 0.6 to 0.8 of it at 20 to 30
degrees (from memory), so the figure is a safe one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.air.layout import Condition
from sheetlark.air.model import AirModel
from sheetlark.air.panels import Half
from sheetlark.air.potential import senses
from sheetlark.air.surface import Control, Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class HingeMoment:
    """Hinge moment of one half's control, trailing edge down positive.

    half : str
        "starboard", "port" or "single".
    area_m2, chord_m : float
        Area and mean chord behind the hinge line of this half.
    moment_nm : float
        At the condition. [N m]
    at_zero, per_alpha, per_deflection : float
        Coefficient over q, area and chord: at zero angles, per radian of angle of attack (sideslip on a fin), and
        per radian of its own deflection (theory, before any loss of flap effect).
    spread : float
        Relative standard deviation (judgement).
    """

    control: str
    surface: str
    half: str
    area_m2: float
    chord_m: float
    moment_nm: float
    at_zero: float
    per_alpha: float
    per_deflection: float
    spread: float = 0.3


def hinge_moments_at(model: AirModel, condition: Condition) -> tuple[HingeMoment, ...]:
    """Hinge moments of every control at a condition, one entry for each half.

    Parameters
    ----------
    model : AirModel
    condition : Condition

    Notes
    -----
    Linear lattice loads, so past the stall they are those of the attached flow: too large, never too small.
    """
    motion, turn = model.motion(condition), model.effective(model.deflections(condition.deflections_rad))
    drive = np.concatenate([motion, turn * motion[0]])
    out: list[HingeMoment] = []
    first = 0
    for index, half in enumerate(model.lattice.halves):
        m, n = half.points_m.shape[:2]
        panels = slice(first, first + m * n)
        first += m * n
        for c, control in enumerate(half.surface.controls):
            arm, area, chord = _geometry(control, half, half.turned[c])
            if area <= 0.0:
                continue
            weight = (
                -arm * half.turned[c] * half.width_m[:, None]
            )  # upward load behind the hinge lifts the edge
            per_mode = weight.ravel() @ model.panel_gamma[panels]
            scale = 0.5 * area * chord  # over density u²
            wing_side = "single"
            if half.surface.mirrored:
                wing_side = "port" if index >= model.lattice.stated else "starboard"
            own = next(k for k, d in enumerate(model.drives) if d == control.name)
            sense = senses(control, apart=False, mirrored=half.surface.mirrored)
            sign = sense[index >= model.lattice.stated]
            sideways = half.surface.upright
            per_alpha = float(per_mode[1] if sideways else per_mode[2]) / scale
            out.append(
                HingeMoment(
                    control=control.name,
                    surface=half.surface.name,
                    half=wing_side,
                    area_m2=area,
                    chord_m=chord,
                    moment_nm=condition.density_kg_m3 * float(motion[0]) * float(per_mode @ drive),
                    at_zero=float(per_mode[0]) / scale,
                    per_alpha=per_alpha,
                    per_deflection=sign * float(per_mode[6 + own]) / scale,
                )
            )
    return tuple(out)


def _geometry(control: Control, half: Half, turned: Floats) -> tuple[Floats, float, float]:
    """Arms of the bound pieces behind the hinge (m, n), area and mean chord of the control."""
    hinge = control.hinge_at(half.eta)
    middle = 0.5 * (half.vertices_m[1:, :, 0] + half.vertices_m[:-1, :, 0])
    hinge_x = half.leading_edge_m[:, 0] + hinge * half.chord_m
    # A vortex stands for load spread over its panel. Taking it 0.08 of a panel further aft brings flaps of 25 to 50 %
    # cut into two to ten panels within 5 % of thin-aerofoil theory (own fit; H. Glauert, ARC R&M 1095, 1927).
    panel = np.diff(half.fraction, axis=1) * half.chord_m[:, None]
    arm = middle - hinge_x[:, None] + 0.08 * panel
    cover = turned.max(axis=1)
    behind = (1.0 - hinge) * half.chord_m
    area = float((behind * half.true_width_m * cover).sum())
    weight = float((half.true_width_m * cover).sum())
    chord = area / weight if weight > 0.0 else 0.0
    return np.asarray(arm, dtype=np.float64), area, chord
