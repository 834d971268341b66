"""The end of a thin tail cone, which the silhouette leaves out: there is too little paper inside it to be found by.

The outer rims of both strokes are followed aft from where the body's edges end. Where they stand a pen's width apart the
strokes' middles meet, and that is the cone's point. Where the ink stops before, a short line closes the cone.
"""

from __future__ import annotations

import numpy as np

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.point import rims

_THIN = 0.03  # of the span, the deepest end of a body that a silhouette may leave out
_REACH = 0.09  # of the span, the longest cone
_LEAST = 0.9  # pens, the shortest: the silhouette ends in the middle of its own stroke
_FITS = 0.8  # pens, how far a rim may lie from where the edge has it
_NARROWS = 0.75  # of its first depth, how deep a cone's end is at the most: a plank keeps its own
_INKED = 0.9  # share of its length that must be inked


def cone_behind(
    x: Floats, low: Floats, high: Floats, ink: Ink, *, span: float, pen_mm: float
) -> tuple[Floats, Floats, Floats] | None:
    """A body's stations and edges carried on along its tail cone's ink; None where it ends already.

    Parameters
    ----------
    x, low, high : ndarray, shape (n,)
        Stations and both edges. [mm]
    ink : callable (x, across) -> ink strength.
    span, pen_mm : float
        The wing's span, and the stroke width. [mm]
    """
    end, deep = float(x[-1]), float(high[-1] - low[-1])
    if not 0.0 < deep < max(_THIN * span, 2.0 * pen_mm):
        return None
    step = 0.12 * pen_mm
    at = np.arange(end, end + _REACH * span, step)
    reach = 0.5 * deep + 2.0 * pen_mm
    across = 0.5 * float(low[-1] + high[-1]) + np.arange(-reach, reach, step)
    strength = ink(np.repeat(at[:, None], across.size, 1), np.repeat(across[None, :], at.size, 0))
    start = float(low[-1]), float(high[-1])
    under, over, inked, _ = rims(np.clip(strength, 0.0, 1.0), across, start, pen=pen_mm, step=step)
    first = slice(0, max(3, round(pen_mm / step)))
    off = float(np.median(over[first])) - start[1], start[0] - float(np.median(under[first]))
    if max(abs(o - 0.5 * pen_mm) for o in off) > _FITS * pen_mm:
        return None
    half = 0.5 * (over - under) - 0.5 * pen_mm
    closed = np.flatnonzero(half <= 0.0)
    bare = np.flatnonzero(np.convolve(~inked, np.ones(first.stop), mode="valid") == first.stop)
    last = min((int(c[0]) for c in (closed, bare) if c.size), default=0)
    if bare.size and last == bare[0]:
        last -= round(0.5 * pen_mm / step)
    if last * step < _LEAST * pen_mm or inked[:last].mean() < _INKED:
        return None
    if half[:last].max() > 0.5 * deep + _FITS * pen_mm or half[last] > _NARROWS * half[2]:
        return None
    keep = np.r_[np.arange(2, last - 2, 4), last]
    middle, half = 0.5 * (under + over)[keep], np.maximum(half[keep], 0.0)
    return np.r_[x, at[keep]], np.r_[low, middle - half], np.r_[high, middle + half]
