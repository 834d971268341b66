"""The lattice's stored answers: strip circulations for unit velocities, rates, controls and losses."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from sheetlark.air.lattice import Lattice
from sheetlark.air.motion import flow_matrix
from sheetlark.air.potential import turned_by
from sheetlark.air.surface import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answers:
    """What each strip answers, with the sections' own loss of lift slope already taken.

    A mode is one of six motions (u v w p q r, flight axes) or one control times forward speed.

    quarter_m : shape (n, 3), quarter point at mid-strip. [m]
    gain : shape (n, modes), circulation per unit mode.
    response : shape (n, n), circulation per unit loss on each strip. [m]
    gain_x, response_x : the same times how far behind the quarter point it sits.
    panel_gamma : shape (panels, modes), circulation per unit mode by the lattice alone.
    """

    quarter_m: Floats
    gain: Floats
    response: Floats
    gain_x: Floats
    response_x: Floats
    panel_gamma: Floats


def answers_of(lattice: Lattice, about_m: Floats, drives: tuple[str, ...], section_slope: Floats) -> Answers:
    """Ask the lattice everything once.

    Parameters
    ----------
    lattice : Lattice
    about_m : ndarray, shape (3,)
        Point the layout turns about. [m]
    drives : tuple of str
    section_slope : ndarray, shape (n,)
        Lift slope of each strip's section over 2 pi.
    """
    found = _about_origin(lattice, drives, section_slope.tobytes())
    turn = _moved(about_m, len(drives))
    return replace(
        found,
        quarter_m=found.quarter_m.copy(),
        gain=found.gain @ turn,
        gain_x=found.gain_x @ turn,
        panel_gamma=found.panel_gamma @ turn,
    )


def _moved(about_m: Floats, drives: int) -> Floats:
    """What turning about another point than the origin is made of: the same turn, and straight motion with it."""
    x, y, z = about_m.tolist()
    made = np.eye(6 + drives)
    made[1:3, 3] = -z, -y
    made[[0, 2], 4] = z, -x
    made[0:2, 5] = y, x
    return made


@lru_cache(maxsize=6)
def _about_origin(lattice: Lattice, drives: tuple[str, ...], slopes: bytes) -> Answers:
    """The answers for turns about the nose datum: a balance point that moves asks the lattice nothing new."""
    section_slope = np.frombuffer(slopes)
    modes = 6 + len(drives)
    slope = np.concatenate([h.slope_rad.ravel() for h in lattice.halves])
    axes = flow_matrix(lattice.points_m, np.zeros(3))  # (3, panels, 6)
    through = np.einsum("kpm,pk->pm", axes, lattice.normals) * np.cos(slope)[:, None]
    through += axes[0] * np.sin(slope)[:, None]
    turned = [turned_by(lattice, d) for d in drives]
    gamma = _circulations(lattice, np.hstack([through, *[t[:, None] for t in turned]]))
    quarter = np.concatenate([h.leading_edge_m for h in lattice.halves])
    quarter[:, 0] += 0.25 * lattice.strip_chord_m
    behind = lattice.bound_at_m[:, 0] - quarter[lattice.strip_of, 0]
    total = lattice.strip_circulation(gamma)
    moment = lattice.strip_circulation(gamma * behind[:, None])
    raw, response = total[:, :modes], total[:, modes:]
    raw_x, response_x = moment[:, :modes], moment[:, modes:]
    # Sections whose slope is below 2 pi lose incidence in proportion: folded into the stored answers.
    loss = (1.0 - section_slope) / (section_slope * math.pi * lattice.strip_chord_m)
    inverse = np.linalg.inv(np.eye(lattice.strips) + response * loss)
    gain, own_response = inverse @ raw, inverse @ response
    return Answers(
        quarter_m=quarter,
        gain=gain,
        response=own_response,
        gain_x=raw_x - (response_x * loss) @ gain,
        response_x=response_x - (response_x * loss) @ own_response,
        panel_gamma=gamma[:, :modes],
    )


def _circulations(lattice: Lattice, inflow: Floats) -> Floats:
    """Circulations for `inflow` (panels, modes) and for a unit loss on each strip, shape (panels, modes + n)."""
    # On a symmetric layout what a port strip does is the mirror image of what its starboard twin does.
    asked = lattice.stated_strips if lattice.symmetric else lattice.strips
    strips = np.zeros((lattice.panels, asked))
    own = np.flatnonzero(lattice.strip_of < asked)
    strips[own, lattice.strip_of[own]] = 1.0
    gamma = lattice.circulation(np.hstack([inflow, strips]))
    if not lattice.symmetric:
        return gamma
    strip_image, panel_image = lattice.images()
    turns = np.concatenate(
        [np.full(h.points_m[..., 0].size, -1.0 if h.centred else 1.0) for h in lattice.halves]
    )
    port = turns[:, None] * gamma[panel_image][:, inflow.shape[1] + strip_image[asked:]]
    return np.hstack([gamma, port])
