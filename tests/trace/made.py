"""What the tests of single steps are made of: the ink of a few strokes, a fin of straight edges."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.surface import Surface

Stroke = Floats | Sequence[tuple[float, float]]


def ink_of(strokes: Iterable[Stroke], pen_mm: float, *, mirrored: bool = False) -> Ink:
    """The ink of strokes, each a line's points, shape (n, 2); mirrored, also with the second coordinate turned round. [mm]"""
    lines = [np.asarray(s, dtype=np.float64) for s in strokes if len(s)]
    if mirrored:
        lines += [line * (1.0, -1.0) for line in lines]
    drawn = shapely.MultiLineString(lines)
    shapely.prepare(drawn)

    def ink(a: Floats, b: Floats) -> Floats:
        return np.asarray(
            np.clip(0.5 * pen_mm + 0.5 - shapely.distance(drawn, shapely.points(a, b)), 0.0, 1.0)
        )

    return ink


def fin_of(z: Floats, lead: Floats | float, trail: Floats | float, *, root: float | None = None) -> Surface:
    """A fin whose edges are drawn down to its lowest station, or to `root`. [mm]"""
    lead, trail = (np.array(np.broadcast_to(e, z.shape), dtype=float) for e in (lead, trail))
    foot = float(z[0]) if root is None else root
    return Surface(station=z, lead=lead, trail=trail, lead_root=foot, trail_root=foot, asymmetry=0.0)
