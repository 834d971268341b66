"""One wing's edges freed of what other strokes did to them: small waves, and stretches along the other wing's edge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.strokes import Halves
from sheetlark.trace.shapes.surface import Surface

_TIP = 0.03  # of the span, where an edge bends toward the tip
_STEP = 0.002  # between stations an edge is smoothed at, in spans
_STIFF = 32.0  # what bends cost: where an edge is sure nothing longer than 3 % of the span is smoothed away
_UNSURE = 0.0002  # what a place is worth where two strokes run together


def ironed(s: Surface, span: float) -> Surface:
    """The wing with small waves of its edges smoothed, where two strokes ran together or it came off the outline.

    Its tip, where edges bend, stays as it is.
    """
    from scipy import ndimage, signal

    step = _STEP * span
    last = float(s.station[-1]) - 0.06 * span
    y = np.arange(0.0, last, step)
    if y.size < 60:
        return s
    edges = []
    for e in (s.lead, s.trail):
        raw = np.interp(y, s.station, e)
        smooth = signal.savgol_filter(ndimage.median_filter(raw, 15, mode="nearest"), 25, 1)
        smooth[:8], smooth[-8:] = raw[:8], raw[-8:]  # a median is none at an end
        share = np.clip((last - s.station) / (10.0 * step), 0.0, 1.0)
        edges.append(share * np.interp(s.station, y, smooth) + (1.0 - share) * e)
    return replace(s, lead=edges[0], trail=edges[1])


def parted(a: Surface, b: Surface, both: Surface, halves: Halves) -> tuple[Surface, Surface]:
    """Two wings with their edges going straight on where they come so close that their strokes run together.

    There the middle of the ink is neither's. What each edge does to both sides of the place tells, and the outer one of
    them is the outline of both.

    Parameters
    ----------
    both : outline of both wings together.
    """
    straight = _straight(a, b, halves), _straight(b, a, halves)
    if straight[0] is a and straight[1] is b:
        return a, b
    return _outer(*straight, both, halves), _outer(*straight[::-1], both, halves)


def _close(halves: Halves) -> float:
    """How near each other two edges' strokes run together. [mm]"""
    return 1.1 * halves.pen + 0.003 * halves.span


def _straight(s: Surface, other: Surface, halves: Halves) -> Surface:
    """The wing with as few bends as may be where an edge lies close to the other wing's; its tip stays."""
    close = _close(halves)
    y = np.arange(0.0, float(s.station[-1]) - _TIP * halves.span, _STEP * halves.span)
    edges = []
    for e in (s.lead, s.trail):
        x = np.interp(y, s.station, e)
        run = np.zeros(y.size, dtype=bool)
        for o in other.edges_at(y):
            run |= (np.abs(x - o) < close) & (y < other.station[-1] + close)
        if not run.any() or run.mean() > 0.8:
            edges.append(e)
            continue
        at = np.interp(s.station, y, run) > 0.5
        edges.append(np.where(at & (s.station <= y[-1]), np.interp(s.station, y, _smooth(x, run)), e))
    if edges[0] is s.lead and edges[1] is s.trail:
        return s
    return replace(s, lead=np.minimum(*edges), trail=np.maximum(*edges))


def _outer(s: Surface, other: Surface, both: Surface, halves: Halves) -> Surface:
    """The wing on the outline of both where one of its edges lies close to the other wing's and outside it."""
    close, y = _close(halves), s.station
    inner = y < min(s.station[-1], other.station[-1]) - _TIP * halves.span
    edges = []
    for e, o, on, out in zip(
        (s.lead, s.trail), other.edges_at(y), both.edges_at(y), (-1.0, 1.0), strict=True
    ):
        off = out * (e - o)
        edges.append(np.where(inner & (off > 0.0) & (off < close) & (np.abs(on - e) < close), on, e))
    return replace(s, lead=np.minimum(*edges), trail=np.maximum(*edges))


def _smooth(x: Floats, unsure: Mask) -> Floats:
    """Values at even steps that bend as little as may be where they are unsure, and elsewhere stay what they are."""
    from scipy.linalg import solveh_banded

    n = x.size
    weight = np.where(unsure, _UNSURE, 1.0)
    bands = np.zeros((3, n))  # of the squared second difference
    for k, c in enumerate((1.0, -2.0, 1.0)):
        bands[0, k : n - 2 + k] += c * c
    bands[1, : n - 2] -= 2.0
    bands[1, 1 : n - 1] -= 2.0
    bands[2, : n - 2] += 1.0
    bands *= _STIFF
    bands[0] += weight
    return np.asarray(solveh_banded(bands, weight * x, lower=True))
