"""The end of a thin tail cone, which the silhouette leaves out: there is too little paper inside it to be found by.

A stern drawn to a point goes on to it however early a fin's foot, a rudder's hinge or a tailplane seemed to end it.

The outer rims of both strokes are followed aft from where the body's edges end. Where they stand a pen's width apart the
strokes' middles meet, and that is the cone's point. Where the ink stops before, a short line closes the cone.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.point import rims

_THIN = 0.03  # of the span, the deepest end of a body that a silhouette may leave out
_REACH = 0.09  # of the span, the longest cone
_LEAST = 0.9  # pens, the shortest: the silhouette ends in the middle of its own stroke
_FITS = 0.8  # pens, how far a rim may lie from where the edge has it
_NARROWS = 0.75  # of its first depth, how deep a cone's end is at the most: a plank keeps its own
_INKED = 0.9  # share of its length that must be inked
_STROKE = 0.12  # pens, how far from its middle the rims of a stroke may seem to lie beside its own half width
_THINNER = 0.6  # of how far apart the edges would be half-way, a tip of a section is at the most
_AFT = (
    0.14,
    0.09,
)  # of the length, the stretch ahead of a seeming end whose edges point to where they meet, long or short
_SHORT = 0.004  # of the length, how far behind a seeming end they meet at the least
_FAR = 0.07  # and at the most
_TAPERS = 0.03  # how fast the depth lessens with the length, at the least
_CURVES = 0.015  # of the length, how far ahead of there edges that curve have met


class Point(NamedTuple):
    """Where a stern's edges meet, and both edges ahead of that as coefficients of straight lines, from `begins` on. [mm]"""

    x: float
    z: float
    begins: float
    low: Floats
    high: Floats


def drawn_to_point(
    x: Floats, low: Floats, high: Floats, sure: Mask, ink: Ink, end: float, length: float, *, pen_mm: float
) -> Point | None:
    """Where both edges of a stern meet that are drawn straight on past where it seemed to end; None where they do not.

    Parameters
    ----------
    x, low, high : ndarray, shape (n,)
        Stations and both edges as followed. [mm]
    sure : ndarray, shape (2, n)
        Where the lower and the upper one is drawn.
    end, length : float
        Where the body seems to end, and the side view's length. [mm]
    """
    begins = end - 0.02 * length
    tol = 0.3 * pen_mm + 0.0012 * length
    lines: list[Floats] = []
    for edge, on in ((low, sure[0]), (high, sure[1])):
        for aft in _AFT:
            near = on & (x > end - aft * length) & (x < begins)
            line = np.polyfit(x[near], edge[near], 1) if near.sum() > 9 else np.array([np.nan, np.nan])
            if np.abs(np.polyval(line, x[near]) - edge[near]).max(initial=0.0) < tol:
                break
        else:
            return None
        lines.append(line)
    under, over = lines
    if not under[0] - over[0] > _TAPERS:
        return None
    at = float((over[1] - under[1]) / (under[0] - over[0]))
    if not _SHORT * length + 0.5 * pen_mm < at - end < _FAR * length:
        return None
    step = 0.25 * pen_mm
    s = np.arange(begins, at + 0.012 * length + 2.0 * pen_mm, step)
    z = np.array([np.polyval(line, np.minimum(s, at)) for line in lines])
    band = z[0] + np.linspace(0.0, 1.0, 9)[:, None] * (z[1] - z[0]) + step * np.arange(-2, 3)[:, None, None]
    bare = np.flatnonzero((ink(np.broadcast_to(s, band.shape), band).max((0, 1)) < 0.4) & (s > end))
    if not bare.size or not at - _CURVES * length < s[bare[0]] - 0.5 * pen_mm < at + 0.005 * length + pen_mm:
        return None  # something goes on behind, or they end before
    tip = min(float(s[bare[0]]) - 0.5 * pen_mm, at)
    if tip < end + _SHORT * length:
        return None
    on = s < tip
    for edge, out in zip(z[:, on], (-1.0, 1.0), strict=True):
        drawn = np.max([ink(s[on], edge + k * pen_mm) for k in (-0.4, 0.0, 0.4)], axis=0) > 0.4
        if drawn.mean() < _INKED:
            return None
        if out < 0.0 and (ink(s[on], edge - 1.5 * pen_mm - 0.002 * length) > 0.4).mean() > 0.2:
            return None  # filling, or a section's lower line
    return Point(tip, float(np.polyval(0.5 * (under + over), tip)), begins, under, over)


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
    last = min(last, _closes_at(half, pen_mm=pen_mm))
    if last * step < _LEAST * pen_mm or inked[:last].mean() < _INKED:
        return None
    if half[:last].max() > 0.5 * deep + _FITS * pen_mm or half[last] > _NARROWS * half[2]:
        return None
    keep = np.r_[np.arange(2, last - 2, 4), last]
    middle, half = 0.5 * (under + over)[keep], np.maximum(half[keep], 0.0)
    return np.r_[x, at[keep]], np.r_[low, middle - half], np.r_[high, middle + half]


def _closes_at(half: Floats, *, pen_mm: float) -> int:
    """The sample at which a cone's edges meet, drawn on as they narrowed so far; behind it a stroke as wide as a pen may go on.

    half : ndarray, shape (n,)
        How far each edge is from the middle. [mm]
    """
    wide = np.flatnonzero(half > _STROKE * pen_mm)
    if not wide.size or wide[-1] == half.size - 1:
        return half.size - 1 if wide.size else 0
    k = int(wide[-1]) + 1
    narrows = float(half[0] - half[k]) / k
    return k + int(max(half[k], 0.0) / narrows) if narrows > 0.0 else k


def is_tailplanes(
    cone: tuple[Floats, Floats, Floats], end: float, reach: float, length: float, *, pen_mm: float
) -> bool:
    """Whether what goes on behind a body is the tip of a tailplane's section, which pokes out behind a thin stern.

    It ends at the tailplane's trailing edge, and half-way there is far thinner than the body's own edges, going on, are apart.

    Parameters
    ----------
    cone : three ndarrays, shape (n,)
        Stations and both edges with what goes on behind the body. [mm]
    end, reach, length : float
        Where the body ended before, how far aft wing and tail reach, and the side view's length. [mm]
    """
    x, low, high = cone
    near = (x > end - _AFT[1] * length) & (x < end - 0.01 * length)
    if abs(float(x[-1]) - reach) > pen_mm + 0.003 * length or near.sum() < 6:
        return False
    taper = np.polyfit(x[near], (high - low)[near], 1)
    half_way = 0.5 * (end + float(x[-1]))
    return float(np.interp(half_way, x, high - low)) < _THINNER * float(np.polyval(taper, half_way))
