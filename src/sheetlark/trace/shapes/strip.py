"""A fin as the top view shows it: a strip or a thin section along the centre line, drawn over the body's end.

Behind the tailplane it may stand alone, and then it looks like a thin stern. But forward it begins with a nose of its own
inside the body: ahead of that there is paper on the centre line, as far as the body's edges.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.surface import Surface

_NARROW = 0.55  # of the body's width where it begins, how wide a strip is at the most
_RIM = 0.65  # as far as that its outer rim is looked for
_INSIDE = 0.85  # share of stations behind its nose that have ink so near to the centre line
_BARE = 0.25  # and ahead of its nose, at the most
_BEHIND, _AHEAD = 0.3, 0.2  # of the fin's chord, how far behind and ahead of its nose that is looked at
_APART = 0.04  # of the length, how far a strip may begin from where the fin does in the side view
_WIDE = 2.5  # pens, half the width of the body where the strip begins, at the least: else both are one blot
_BESIDE = 1.3  # pens from the middle of its stroke that may be dark with it
_FEWEST = 9  # stations at which its edge must be seen
_STEP = 0.0015  # of the length


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strip:
    """Half the width of a fin seen from above over stations, to the middle of its stroke. [mm]

    whole : whether nothing is seen of the body behind it.
    """

    x: Floats
    half: Floats
    pen_mm: float
    whole: bool = True

    def out_to(self, x: Floats | float) -> Floats:
        """How far from the centre line a strip's stroke reaches at stations, and a little more; below 0 ahead of it. [mm]"""
        half = np.interp(x, self.x, self.half) + _BESIDE * self.pen_mm
        there = np.asarray(x > self.x[0] - _BESIDE * self.pen_mm)
        if not self.whole:
            there &= np.asarray(x < self.x[-1] + _BESIDE * self.pen_mm)
        return np.asarray(np.where(there, half, -1.0))

    def covers(self, x: Floats, y: Floats) -> Mask:
        """Which places lie within the strip or next to it."""
        return np.asarray(np.abs(y) <= self.out_to(x))

    def taken_off(self, ink: Ink) -> Ink:
        """The top view's ink without what the strip draws."""

        def rest(x: Floats, y: Floats) -> Floats:
            return np.asarray(np.where(self.covers(x, y), 0.0, ink(x, y)))

        return rest


def fin_strip(x: Floats, half: Floats, free: Mask, ink: Ink, fin: Surface, *, pen_mm: float) -> Strip | None:
    """The fin in the top view; None where it is not plainly drawn there.

    Parameters
    ----------
    x, half : ndarray, shape (n,)
        Stations and the silhouette's half width. [mm]
    free : ndarray, shape (n,)
        Where that is the body's alone.
    ink : callable (x, y) -> ink strength of the top view.
    fin : the fin as the side view has it, its edges over heights; x counts alike in both views.
    """
    length, foot, ends = float(x[-1]), float(fin.lead.min()), float(fin.trail.max())
    chord = ends - foot
    ahead = free & (x < foot) & (x > foot - 0.2 * length)
    if chord < 0.02 * length or ahead.sum() < 12:
        return None
    taper = np.polyfit(x[ahead], half[ahead], 1)
    taper[0] = min(float(taper[0]), 0.0)
    at = np.arange(foot - (_APART + _AHEAD) * length, min(ends, length) + 2.0 * pen_mm, _STEP * length)
    wide = np.interp(at, x[free], half[free])
    beyond = at > float(x[ahead][-1])
    body = np.where(beyond, np.maximum(np.polyval(taper, at), 0.3 * half[ahead][-1]), wide)
    y = np.arange(0.0, float(body.max()) + pen_mm, 0.2 * pen_mm)
    xx, yy = np.broadcast_arrays(at[:, None], y[None, :])
    sides = [ink(xx, s * yy) for s in (1.0, -1.0)]
    dark = np.minimum(*sides) > 0.4
    for centre in (0.0, 1.1):  # pens beside the centre line that a line along it may take
        within = (y[None, :] >= centre * pen_mm) & (y[None, :] < _NARROW * body[:, None])
        inside = (dark & within).any(1)
        begins = _nose(at, inside, foot, chord, length)
        if begins is not None:
            break
    else:
        return None
    begun = float(np.interp(begins, at, body))
    if begun < _WIDE * pen_mm:
        return None
    near = (y >= centre * pen_mm) & (y < _RIM * begun)
    edge = np.array([_rim(y[near], row[near]) for row in dark]) - 0.5 * pen_mm
    on = (at >= begins) & np.isfinite(edge)
    if on.sum() < _FEWEST:
        return None
    half_width = _smooth(np.maximum(edge[on], 0.0))
    # where it leaps outward it has ended, and what is drawn behind it are the body's own edges
    leaps = np.flatnonzero(half_width[_FEWEST:] - half_width[:-_FEWEST] > pen_mm) + _FEWEST
    leaps = leaps[at[on][leaps] > begins + 0.5 * (float(at[-1]) - begins)]
    stop = int(leaps[0]) if leaps.size else int(on.sum())
    return Strip(x=at[on][:stop], half=half_width[:stop], pen_mm=pen_mm, whole=not leaps.size)


def _nose(at: Floats, inside: Mask, foot: float, chord: float, length: float) -> float | None:
    """Where ink near the centre line begins and goes on, about where the fin begins; None where it does nowhere."""
    step = float(at[1] - at[0])
    behind, ahead = max(6, round(_BEHIND * chord / step)), max(4, round(_AHEAD * chord / step))
    total = np.r_[0.0, np.cumsum(inside)]
    best, found = 0.0, None
    for i in np.flatnonzero(np.abs(at - foot) < _APART * length):
        if i < ahead + 1 or i + behind > at.size or not inside[i]:
            continue
        on = (total[i + behind] - total[i]) / behind
        bare = (total[i - 1] - total[i - 1 - ahead]) / ahead
        if on > _INSIDE and bare < _BARE and on - bare > best:
            best, found = on - bare, float(at[i])
    return found


def _rim(y: Floats, dark: Mask) -> float:
    """How far from the centre line the ink nearest to it reaches; nan where there is none."""
    first = int(dark.argmax())
    if not dark[first]:
        return float("nan")
    ends = np.flatnonzero(~dark[first:])
    return float(y[first + ends[0] - 1]) if ends.size else float("nan")  # a line right across


def _smooth(half: Floats) -> Floats:
    from scipy import ndimage

    return np.asarray(ndimage.median_filter(half, size=_FEWEST, mode="nearest"))
