"""Frames ruled round single views, and the rules of a table of views, told from figures and taken away."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sheetlark.trace.paper.border import less_band
from sheetlark.trace.paper.ink import Mask, grow, pooled, spread, unpooled

_COARSE = 950  # pixels along the longer side that frames are looked for on
_RULE = 0.05  # of the longer side, the shortest rule
_BREAK = 3  # half the widest break in a rule that is closed, coarse pixels
_MEET = 5  # how far rules may miss each other at a corner, coarse pixels
_LONG = 0.12  # of the sheet's longer side, the longer side of the smallest frame
_SLIM = 0.15  # of its longer side, the shorter one at least
_MOST = 60  # level or upright rules, the longest, that are tried
_BESIDE = 0.025  # of a frame's longer side, the strip along its rules in which a dimension or letters may lie
_VIEW = (0.5, 0.3)  # of a frame's longer and shorter side, how far the figure in it goes, at least
_CORNER = 0.1  # of a side, how near a corner no centre line ends
_BOTH = 0.05  # of a side, how far a figure goes to both sides of its centre line
_AMID = (0.25, 0.75)  # of a side, where a body's two sides run up to it
_LETTERED = 0.3  # of a side, how wide the lettering on a centre line is at the most


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rule:
    """A level or upright run of ink: its pixels, how far across it lies, and where it begins and ends."""

    mask: Mask
    at: tuple[slice, ...]
    across: float
    begin: int
    end: int

    def covers(self, begin: float, end: float) -> bool:
        return self.begin <= begin + _MEET and self.end >= end - _MEET


def without_frames(ink: Mask, *, pen_px: float) -> Mask:
    """Ink of an upright sheet without the frames ruled round its views.

    A frame is a rectangle of level and upright rules with a figure through most of it that stands free of them, but for a
    centre line's two ends; the rules end at one another. A plank wing's outline is such a rectangle too; but the body in
    it is narrow, ribs touch both its edges, and badges and letters are small. A delta between its straight trailing edge,
    its dimension line and the extension lines of that begins in two corners. A straight tailplane with its hinge line and fin
    drawn in it has the body's sides run up to it.

    Parameters
    ----------
    ink : ndarray, shape (rows, columns)
        Pen strokes.
    pen_px : float
        Usual stroke width.
    """
    q = max(1, round(max(ink.shape) / _COARSE))
    coarse = pooled(ink, q)
    level, upright = _rules(coarse, 0), _rules(coarse, 1)
    level, upright = _ended(level, upright), _ended(upright, level)
    band = np.zeros_like(coarse)
    for left, right in itertools.combinations(upright, 2):
        wide = right.across - left.across
        over = [k for k in level if k.covers(left.across, right.across)]
        for top, bottom in itertools.combinations(over, 2):
            high = bottom.across - top.across
            if max(high, wide) < _LONG * max(coarse.shape) or min(high, wide) < _SLIM * max(high, wide):
                continue
            sides = (left, right)
            rows, columns = (top.across, bottom.across), (left.across, right.across)
            within = coarse[round(rows[0]) : round(rows[1]), round(columns[0]) : round(columns[1])]
            ruled = all(k.covers(*rows) for k in sides)
            if ruled and _holds_view(within) and not _hangs_on(coarse, rows, columns):
                box = np.zeros_like(coarse)
                box[
                    max(0, round(top.across) - _MEET) : round(bottom.across) + _MEET,
                    max(0, round(left.across) - _MEET) : round(right.across) + _MEET,
                ] = True
                for k in (top, bottom, *sides):
                    band[k.at] |= k.mask & box[k.at]
    if not band.any():
        return ink
    return less_band(ink, unpooled(grow(band, int(np.ceil(pen_px / q)) + 1), q, ink.shape))


def _rules(ink: Mask, axis: int) -> list[_Rule]:
    """Long runs of ink along rows (axis 0) or columns (1), by where they lie; breaks closed; they may stray by a pixel."""
    from scipy import ndimage

    drawn = ink if axis == 0 else np.ascontiguousarray(ink.T)
    least = round(_RULE * max(ink.shape))
    half = (least - 1 - least // 2, least // 2)
    strayed = np.pad(spread(drawn, (1, 1), 0), ((0, 0), (_BREAK, _BREAK)))
    bare = ~spread(strayed, (_BREAK, _BREAK), 1)
    bare = spread(bare, (_BREAK, _BREAK), 1, beyond=True)[:, _BREAK:-_BREAK]  # less the breaks
    run = spread(~spread(bare, half, 1, beyond=True), half, 1)  # what a run so long fits into
    run &= ~spread(bare, (1, 1), 0)
    label, _ = ndimage.label(run, np.ones((3, 3)))
    out = []
    for k, s in enumerate(ndimage.find_objects(label), start=1):
        mask = label[s] == k
        at = s if axis == 0 else s[::-1]
        across = s[0].start + float(np.nonzero(mask)[0].mean())
        out.append(
            _Rule(
                mask=mask if axis == 0 else mask.T, at=at, across=across, begin=s[1].start, end=s[1].stop - 1
            )
        )
    longest = sorted(out, key=lambda r: r.begin - r.end)[:_MOST]
    return sorted(longest, key=lambda r: r.across)


def _ended(rules: list[_Rule], by: list[_Rule]) -> list[_Rule]:
    """Those that end at one of the other rules at both ends; a wing's edge goes on beyond its struts."""
    return [
        k
        for k in rules
        if all(
            any(abs(r.across - end) <= _MEET and r.covers(k.across, k.across) for r in by)
            for end in (k.begin, k.end)
        )
    ]


def _hangs_on(ink: Mask, rows: tuple[float, float], columns: tuple[float, float]) -> bool:
    """Whether a body's two sides run up to a rectangle from outside: a straight tailplane, its fin and hinge drawn in it."""
    for drawn, across, along in ((ink, rows, columns), (ink.T, columns, rows)):
        begin, end = round(along[0]) + _MEET, round(along[1]) - _MEET
        for line, way in zip(across, (-1, 1), strict=True):
            outward = round(line) + way * np.arange(_MEET + 4)
            if outward.min() < 0 or outward.max() >= drawn.shape[0]:
                continue
            ends = _runs_out(drawn[outward, begin:end]) / max(end - begin, 1)
            if ends.size > 1 and ends.min() > _AMID[0] and ends.max() < _AMID[1]:
                return True
    return False


def _runs_out(strip: Mask) -> npt.NDArray[np.float64]:
    """Where lines run from a strip's first row to its last, shape (n,)."""
    from scipy import ndimage

    label, _ = ndimage.label(strip, np.ones((3, 3)))
    joined = strip[-1] & np.isin(label[-1], label[0][strip[0]])
    runs, n = ndimage.label(joined)
    return np.array([float(np.nonzero(runs == k)[0].mean()) for k in range(1, n + 1)])


def _holds_view(ink: Mask) -> bool:
    """Whether a figure goes through most of a rectangle and stands free of its sides."""
    from scipy import ndimage

    beside = max(_MEET, round(_BESIDE * max(ink.shape)))
    inner = ink[beside:-beside, beside:-beside]
    label, _ = ndimage.label(inner, np.ones((3, 3)))
    for j, t in enumerate(ndimage.find_objects(label), start=1):
        share = np.array([s.stop - s.start for s in t]) / ink.shape
        long_, short = share if ink.shape[0] > ink.shape[1] else share[::-1]
        if long_ > _VIEW[0] and short > _VIEW[1]:
            return _free(label == j)
    return False


def _free(figure: npt.NDArray[np.bool_]) -> bool:
    """Whether a figure reaches the rim of its rectangle as a centre line does, with lettering on it or without."""
    sides = 0
    for edge, axis in ((figure[0], 0), (figure[-1], 0), (figure[:, 0], 1), (figure[:, -1], 1)):
        at = np.nonzero(edge)[0] / edge.size
        if not at.size:
            continue
        if at[0] < _CORNER or at[-1] > 1.0 - _CORNER or at[-1] - at[0] > _LETTERED:
            return False
        across = np.nonzero(figure.any(axis))[0] / edge.size
        if at[0] - across[0] < _BOTH or across[-1] - at[-1] < _BOTH:
            return False  # a wing's edge, with the body on one side of it
        sides += 1
    return sides <= 2
