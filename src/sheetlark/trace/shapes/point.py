"""A nose drawn to a point, which a wide pen, hatching or a filling hides from the silhouette.

The outer rims of both strokes are followed forward in the picture itself. Where they stand a pen's width apart, the
strokes' middles meet: there is the point. A round nose is told by its rims, which close ever faster.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.contour import crossings, widest
from sheetlark.trace.shapes.frame import Frame

_REACH = 0.09  # how far ahead of the silhouette a point may lie, in spans
_BEHIND = 0.03  # how far behind the silhouette's front the rims are followed from
_ROUNDER = 1.4  # how many times faster than further aft the rims of a round nose close at the tip
_SHARP = 0.6  # pens behind its tip a point is at least before it is a pen and a half wide: 100 degrees
_BLUNTER = 3.5  # and than the body behind a spinner grows
_SHAFT = 5.0  # pens from rim to rim, from which on a line along the middle is none of a nose's edges
_BENT = 1.15  # a tip that closes no faster than this, as many times as further aft, is straight: a cone however short


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Point:
    """Where a nose's edges meet, and the edges from there aft, shape (n,) each, from the point. [mm]"""

    at: float
    x: Floats
    low: Floats
    high: Floats


def find_point(
    frame: Frame, mm: tuple[Floats, ...], span: float, dark: Floats, *, pen: float
) -> Point | None:
    """The point of a nose; None where it is not drawn to one.

    Parameters
    ----------
    mm : the silhouette's rings, (x aft from its foremost point, across). [mm]
    dark : ndarray, shape (rows, columns)
        Ink strength of the full picture.
    pen : stroke width. [mm]
    """
    pen = max(pen, 2.0 * frame.mm_per_px)  # blurred, no stroke looks narrower
    step = min(0.5 * frame.mm_per_px, 0.12 * pen)
    begin, start = _BEHIND * span, _piece(mm, _BEHIND * span)
    while (start is None or start[1] - start[0] < 4.0 * pen) and begin < 0.1 * span:
        begin += 0.005 * span  # a line that runs on ahead may have been taken for the nose
        start = _piece(mm, begin)
    if start is None:
        return None
    x = np.arange(begin, -_REACH * span, -step)
    middle, reach = 0.5 * sum(start), 0.5 * (start[1] - start[0]) + 2.0 * pen
    across = np.arange(middle - reach, middle + reach, step)
    strength = frame.ink(dark, np.repeat(x[:, None], across.size, 1), np.repeat(across[None, :], x.size, 0))
    low, high, inked, bare = rims(strength, across, start, pen=pen, step=step)
    beside = _half_pen(mm, x, low, high, pen=pen)
    wide = _smooth(high - low - 2.0 * beside, pen / step)
    closed = np.flatnonzero(wide <= 0.0)
    if not closed.size or closed[0] < 8:
        return None
    k = int(closed[0])
    at = float(x[k] + step * wide[k] / (wide[k - 1] - wide[k]))
    behind = x[:k] - at
    within = (across > low[:k, None] - 0.5 * pen) & (across < high[:k, None] + 0.5 * pen)
    middles = 0.5 * (low[:k, None] + high[:k, None])  # a shaft or a centre line may lie there
    aside = (np.abs(across - middles) > pen) | ((high - low)[:k, None] < _SHAFT * pen)
    blank = np.where(within & aside, strength[:k], 0.0).max(1) < 0.5
    if (blank[:-1] & blank[1:]).any():
        return None  # paper right across: the rims were followed to a line ahead of the nose
    steady = _steady(behind, wide[:k], pen=pen)
    tip = slice(int(np.flatnonzero(wide[:k] > min(2.5 * pen, 0.5 * wide[0]))[-1]), k)
    told = inked[:k][bare[:k]]  # what a propeller crosses says nothing
    if told.size < 8 or not (bare[:k].all() or inked[k - 2 : k + 2].any()):
        return None  # hardly anything told, or a point ahead of all that crosses the nose
    at_tip = inked[tip][bare[tip]]
    if min(told.mean(), at_tip.mean() if at_tip.size else 1.0, steady.mean()) < 0.75:
        return None
    if at < _inked_from(strength, x, across - 0.5 * (low[k] + high[k]), span, pen=pen) - 0.3 * pen:
        return None  # it lies on a centre line
    if _blunt(behind, wide[:k], pen=pen) or _round(behind[steady], wide[:k][steady], pen=pen):
        return None
    order = slice(k - 1, None, -1)
    x, low, high = x[order], low[order] + beside, high[order] - beside
    tip = 0.5 * (low[0] + high[0])
    return Point(at=at, x=np.r_[at, x], low=np.r_[tip, np.minimum(low, high)], high=np.r_[tip, high])


def with_point(mm: tuple[Floats, ...], point: Point, *, pen: float) -> tuple[Floats, ...]:
    """The rings drawn on to the point, x still counted from where it was."""
    first = min(range(len(mm)), key=lambda i: float(mm[i][:, 0].min()))
    ring = mm[first]
    for x, low, high in zip(point.x, point.low, point.high, strict=True):
        piece = _piece((ring,), float(x)) if x > 0.0 else None
        if piece is not None and max(abs(piece[0] - low), abs(piece[1] - high)) < 0.3 * pen:
            break
    else:
        return mm
    ahead = ring[:, 0] < x
    k = int(ring[:, 0].argmin())
    turned, ahead = np.roll(ring, -k, axis=0), np.roll(ahead, -k)
    kept = turned[int(np.argmin(ahead)) : ahead.size - int(np.argmin(ahead[::-1]))]
    edge = point.x < x
    upper, lower = np.c_[point.x, point.high][edge], np.c_[point.x, point.low][edge]
    back, forth = (lower, upper) if kept[0, 1] > kept[-1, 1] else (upper, lower)
    nose = np.vstack([back[::-1], forth])
    return (*mm[:first], np.vstack([nose, kept]), *mm[first + 1 :])


def _piece(mm: tuple[Floats, ...], x: float) -> tuple[float, float] | None:
    """Both ends of the widest piece cut at x."""
    cuts = crossings(mm, x, 0)
    if not len(cuts):
        return None
    low, high = widest(cuts)
    return float(low), float(high)


def rims(
    strength: Floats, across: Floats, start: tuple[float, float], *, pen: float, step: float
) -> tuple[Floats, Floats, Mask, Mask]:
    """Outer ends of the ink row by row forward, which rows have any, and in which both stand free."""
    high = _rim(strength, across, start[1] + 0.5 * pen, pen=pen, step=step)
    low = _rim(strength[:, ::-1], -across[::-1], -start[0] + 0.5 * pen, pen=pen, step=step)
    return -low[0], high[0], low[1] & high[1], low[2] & high[2]


def _rim(strength: Floats, out: Floats, at: float, *, pen: float, step: float) -> tuple[Floats, Mask, Mask]:
    """Outer end of the ink, row by row from the place `at` of the first, which rows have any, and in which it is free.

    Where the ink is broken, or a propeller or another line crosses it, the rim goes on as it went.
    """
    rim = np.empty(len(strength))
    has, free = (np.ones(len(strength), dtype=bool) for _ in range(2))
    blur = int(np.ceil(0.7 * pen / step))
    drift, full, crossed = 0.0, 1.0, 0
    for i, row in enumerate(strength):
        near = np.flatnonzero((out < at + 2.0 * step + 0.3 * pen) & (out > at - 0.7 * pen - 4.0 * step))
        inked = near[row[near] > 0.5 * full] if near.size else near
        beyond = row[(out > at + 0.3 * pen) & (out < at + 1.5 * pen)]
        if beyond.size and beyond.min() > 0.5 * full:
            if not crossed:  # the blur of the line across has drawn the rim aside already
                back = max(i - blur, 0)
                so_far = np.arange(max(back - 3 * blur, 0), back)
                if so_far.size > 4:
                    line = np.polyfit(so_far, rim[so_far], 1)
                    drift, at = float(line[0]), float(np.polyval(line, i - 1))
                    rim[back:i] = np.polyval(line, np.arange(back, i))
                free[back:i] = False
            crossed = blur
        if crossed:
            crossed -= 1
            at += drift
            free[i] = False
        elif inked.size:
            j = int(inked[-1])
            new = float(out[j])
            if j + 1 < out.size and row[j + 1] < row[j]:  # to a fraction of a sample
                new += step * float(np.clip((row[j] - 0.5 * full) / (row[j] - row[j + 1]), 0.0, 1.0))
            drift = 0.9 * drift + 0.1 * float(np.clip(new - at, -4.0 * step, step)) if i else 0.0
            at = new
            full = 0.95 * full + 0.05 * float(np.clip(row[near].max(), 0.5, 1.2))
        else:
            at += drift
            has[i] = False
        rim[i] = at
    return rim, has, free


def _inked_from(strength: Floats, x: Floats, off: Floats, span: float, *, pen: float) -> float:
    """The foremost place with ink about a nose's middle that is no centre line's; rows from aft forward."""
    line = np.percentile(strength[x < -0.02 * span], 70, axis=0)
    if line.max() < 0.35:
        return float(x[-1])
    own = (strength - line)[:, np.abs(off) < pen].max(1) > 0.4
    return float(x[own].min()) if own.any() else float(x[-1])


def _half_pen(mm: tuple[Floats, ...], x: Floats, low: Floats, high: Floats, *, pen: float) -> float:
    """How far the rims lie outside the strokes' middles, measured across the nose. [mm]"""
    off = []
    for i in np.flatnonzero(x > 0.3 * x[0])[::3]:
        piece = _piece(mm, float(x[i]))
        if piece is not None:
            off.append(0.5 * (high[i] - low[i] - piece[1] + piece[0]))
    return float(np.clip(np.median(off), 0.35 * pen, 0.8 * pen)) if off else 0.5 * pen


def _smooth(v: Floats, samples: float) -> Floats:
    from scipy import ndimage

    return np.asarray(ndimage.gaussian_filter1d(v, max(1.0, 0.25 * samples), mode="nearest"))


def _steady(behind: Floats, wide: Floats, *, pen: float) -> Mask:
    """Where the width grows steadily: not behind the step of a spinner, nor at a break in one of the strokes."""
    keep = np.ones(wide.size, dtype=bool)
    for _ in range(3):
        off = np.abs(np.polyval(np.polyfit(behind[keep], wide[keep], 2), behind) - wide)
        keep = off <= max(0.4 * pen, float(np.median(off)))
    return np.asarray(off < 0.5 * pen + 0.01 * float(behind[0]))


def _blunt(behind: Floats, wide: Floats, *, pen: float) -> bool:
    """Whether the nose opens so wide at its tip that no pen can hide a point of it."""
    enough = np.flatnonzero(wide > 1.5 * pen)
    return not enough.size or float(behind[enough[-1]]) < _SHARP * pen


def _round(behind: Floats, wide: Floats, *, pen: float) -> bool:
    """Whether the width grows ever slower behind the tip, as a circle's does."""
    enough = np.flatnonzero(wide > 1.5 * pen)
    if not enough.size:
        return True
    near = float(behind[enough[-1]])
    tip, later = behind < near, (behind > near) & (behind < 3.0 * near)
    if tip.sum() < 4 or later.sum() < 4:
        return True
    first, then = (float(np.polyfit(behind[m], wide[m], 1)[0]) for m in (tip, later))
    last = behind > 0.6 * behind.max()
    body = float(np.polyfit(behind[last], wide[last], 1)[0])  # a spinner grows far faster than this
    return then < 0.05 or first > _ROUNDER * then or (first > _BLUNTER * body and first > _BENT * then)
