"""What the tests of single steps are made of: the ink of a few strokes, a fin of straight edges."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from scipy.ndimage import map_coordinates

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.surface import Surface

PIXEL_MM = 0.5
Stroke = Floats | Sequence[tuple[float, float]]


def ink_of(strokes: Iterable[Stroke], pen_mm: float, *, mirrored: bool = False) -> Ink:
    """The ink of strokes, each a line's points, shape (n, 2); mirrored, also with the second coordinate turned round. [mm]

    As a scanned page would hold it, with pixels of half a millimetre: a tracer asks it thousands of times.
    """
    lines = [np.asarray(s, dtype=np.float64) for s in strokes if len(s)]
    lines = [line for line in lines if np.ptp(line, axis=0).any()]
    if mirrored:
        lines += [line * (1.0, -1.0) for line in lines]
    drawn = shapely.segmentize(shapely.MultiLineString(lines).simplify(0.005), 20.0)
    pieces = [line for whole in shapely.get_parts(drawn) for line in itertools.pairwise(whole.coords)]
    reach = 0.5 * pen_mm + 0.5
    low = np.floor(np.array(drawn.bounds[:2]) - reach - 1.0)
    page = np.zeros(np.ceil((np.array(drawn.bounds[2:]) + reach + 1.0 - low) / PIXEL_MM).astype(int) + 1)
    for p, q in np.array(pieces)[:, :, :2]:
        first = ((np.minimum(p, q) - reach - low) / PIXEL_MM).astype(int)
        last = ((np.maximum(p, q) + reach - low) / PIXEL_MM).astype(int) + 2
        box = np.s_[first[0] : last[0], first[1] : last[1]]
        at = low + PIXEL_MM * (first + np.moveaxis(np.indices(page[box].shape), 0, -1))
        along = np.clip((at - p) @ (q - p) / max(float((q - p) @ (q - p)), 1e-12), 0.0, 1.0)
        off = np.linalg.norm(at - p - along[..., None] * (q - p), axis=-1)
        page[box] = np.maximum(page[box], np.clip(reach - off, 0.0, 1.0))

    def ink(a: Floats, b: Floats) -> Floats:
        at = np.broadcast_arrays((np.asarray(a) - low[0]) / PIXEL_MM, (np.asarray(b) - low[1]) / PIXEL_MM)
        return np.asarray(map_coordinates(page, at, order=1, cval=0.0))

    return ink


def fin_of(z: Floats, lead: Floats | float, trail: Floats | float, *, root: float | None = None) -> Surface:
    """A fin whose edges are drawn down to its lowest station, or to `root`. [mm]"""
    lead, trail = (np.array(np.broadcast_to(e, z.shape), dtype=float) for e in (lead, trail))
    foot = float(z[0]) if root is None else root
    return Surface(station=z, lead=lead, trail=trail, lead_root=foot, trail_root=foot, asymmetry=0.0)
