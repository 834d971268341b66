"""How motion becomes air velocity at places on the layout, and forces become totals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.air.layout import Disc
from sheetlark.air.surface import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DiscPlaces:
    """Where strips and pieces lie against one propeller, ready for quick use."""

    disc: Disc
    behind_m: Floats
    aside_m: Floats
    above_m: Floats
    per_width: Floats
    grown: Floats
    swirls: Floats
    flow: Floats
    total: Floats


def smooth(share: Floats) -> Floats:
    """0 below 0, 1 above 1, smooth between."""
    t = np.minimum(np.maximum(share, 0.0), 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t), dtype=np.float64)


def flow_matrix(places: Floats, about: Floats) -> Floats:
    """Air velocity in geometry axes at places (n, 3) per unit of u v w p q r, shape (3, n, 6).

    The air comes at (u, -v, w), less the turning (-p, q, -r) x arm.
    """
    x, y, z = (places - about).T
    out = np.zeros((3, places.shape[0], 6))
    out[0, :, 0], out[1, :, 1], out[2, :, 2] = 1.0, -1.0, 1.0
    out[1, :, 3], out[2, :, 3] = -z, y
    out[0, :, 4], out[2, :, 4] = -z, x
    out[0, :, 5], out[1, :, 5] = -y, x
    return out


def moment_rows(arm: Floats, force: Floats) -> Floats:
    """Rows that turn strengths along `force` (n, 3) at `arm` (n, 3) into a total force and moment, (6, n)."""
    return np.vstack([force.T, np.cross(arm, force).T])
