"""The side view's silhouette, as the body has it: without struts, gear, blades, and over breaks."""

from __future__ import annotations

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.body import bridge
from sheetlark.trace.shapes.contour import crossings, crossings_each, widest
from sheetlark.trace.shapes.inkgrid import Ink

_POCKET = 0.008  # of the length, how deep a wide pocket of paper is at the least
_BESIDE = 0.004  # of the length, how far beside the edge's own direction it may be drawn over one
_DRAWN = 0.6  # share of it that is
_NARROW = 0.25  # of the length, the widest hump of a silhouette that is told from a body by its width alone


def body_piece(
    rings: tuple[Floats, ...], x: Floats, length: float, fin_from: float
) -> tuple[Floats, Floats] | None:
    """Lower and upper end of the piece cut out of the silhouette that goes on from station to station.

    It begins near the nose, where the body stands alone: further aft struts may join it to a wing above. Of several
    pieces the one is taken that shares most with the body so far, whose ends are let move slowly, and under a fin
    not upward: struts, gear and fin jump out of it. There a piece counts the less the higher it begins above the lower edge.
    """
    low, high = np.full(x.size, np.nan), np.full(x.size, np.nan)
    cuts_at = crossings_each(rings, np.clip(x, 1e-3 * length, (1 - 1e-3) * length), 0)
    start = int(np.argmin(np.abs(x - _alone(rings, x, length))))
    for order in (range(start, x.size), range(start - 1, -1, -1)):
        foot, head, last = np.nan, np.nan, float(x[start])
        if order.step < 0 and np.isfinite(low[start]):
            foot, head = float(low[start]), float(high[start])
        for i in order:
            cuts = cuts_at[i]
            if not len(cuts):
                continue
            if not np.isfinite(foot):
                first = widest(cuts)
                foot, head = float(first[0]), float(first[1])
            shared = np.minimum(cuts[:, 1], head) - np.maximum(cuts[:, 0], foot)
            if last >= fin_from:  # the back falls away: what begins above the lower edge is the fin's
                shared = shared - np.maximum(cuts[:, 0] - foot, 0.0)
            low[i], high[i] = cuts[int(shared.argmax())]
            slack = 0.15 * abs(float(x[i]) - last)
            last = float(x[i])
            foot = float(np.clip(low[i], foot - slack, foot + slack))
            head = float(np.clip(high[i], head - slack, head + (slack if last < fin_from else 0.0)))
    good = np.isfinite(low)
    if good.sum() < 60:
        return None
    return np.interp(x, x[good], low[good]), np.interp(x, x[good], high[good])


def over_breaks(x: Floats, outer: Floats, ink: Ink, length: float) -> Floats:
    """The silhouette's outward coordinate over pockets of paper that breaks let it into.

    Those narrower than 4 % of the length; and those up to a quarter of it over which the edge is drawn, going on in its
    own direction from both sides.
    """
    from scipy import ndimage

    known = np.isfinite(outer)
    even = np.linspace(x[known][0], x[known][-1], 501)

    def closed(size: int) -> Floats:
        sampled = np.interp(even, x[known], outer[known])
        return np.asarray(np.interp(x, even, ndimage.grey_closing(sampled, size=(size,), mode="nearest")))

    middle = known & (x > 0.06 * length) & (x < 0.95 * length)
    out = np.where(middle, np.maximum(outer, closed(21)), outer)
    pocket = np.nonzero(middle & (closed(127) > out + _POCKET * length))[0]
    for run in np.split(pocket, np.nonzero(np.diff(pocket) > 1)[0] + 1):
        if run.size < 4:
            continue
        beside = known.copy()
        beside[max(run[0] - 3, 0) : run[-1] + 4] = False  # the pocket's own rims
        over = bridge(x, out, beside)
        drawn = [ink(x[run], over[run] + k * _BESIDE * length) for k in (-1.0, -0.5, 0.0, 0.5, 1.0)]
        if (np.max(drawn, axis=0) > 0.4).mean() > _DRAWN:
            out[run] = np.maximum(out[run], over[run])
    return out


def least_out(x: Floats, outer: Floats, base: Floats, length: float) -> Floats:
    """How far out an edge lies at the least: at 0.66 of the way from `base` to the silhouette without its narrow humps.

    What is drawn along the body within that (a datum line, a stripe) is not its edge. nan where `outer` is.
    """
    from scipy import ndimage

    known = np.isfinite(outer)
    if known.sum() < 60:
        return np.full(x.size, np.nan)
    even = np.linspace(x[known][0], x[known][-1], 501)
    width = max(3, round(_NARROW * length / (even[1] - even[0])) | 1)
    body = ndimage.grey_opening(np.interp(even, x[known], outer[known]), size=(width,), mode="nearest")
    depth = np.interp(x, even, body) - base
    middle = known & (x > 0.1 * length) & (x < 0.6 * length)
    # a hump at the nose is not narrowed away
    usual = float(np.median(depth[middle])) if middle.any() else np.inf
    least = base + 0.66 * np.minimum(depth, usual)
    return np.where(known & (x > 0.004 * length), least, np.nan)


def standing_over(x: Floats, low: Floats, high: Floats, root: tuple[float, float], length: float) -> Mask:
    """Where a wing on struts stands over a good part of the body, one silhouette with it: far higher than beside it.

    Nowhere, if it is narrow enough to be told by that.

    root : leading and trailing edge of the wing on the centre line. Struts may begin and end a little beyond them.
    """
    slack = 0.04 * length
    begin, end = root[0] - slack, root[1] + slack
    before, behind = (x > begin - slack) & (x < begin), (x > end) & (x < end + slack)
    if not before.any() or not behind.any():
        return np.zeros(x.size, dtype=bool)
    tops = [float(np.median(high[m])) for m in (before, behind)]
    deep = max(float(np.median((high - low)[m])) for m in (before, behind))
    inside = (x > begin) & (x < end)
    over = x[inside & (high > max(tops) + 0.6 * deep)]
    if not over.size or np.ptp(over) <= _NARROW * length:
        return np.zeros(x.size, dtype=bool)
    beside = np.where(x < over[0], tops[0], tops[1])  # the struts' flanks
    return np.asarray(inside & (high > beside + 0.1 * deep))


def without_blades(x: Floats, low: Floats, high: Floats, length: float) -> tuple[Floats, Floats]:
    """The silhouette's ends without a propeller seen edge on, of which half a stroke is left at the nose."""
    behind = int(np.searchsorted(x, 0.035 * length))
    ahead = np.arange(x.size) < behind
    wide = ahead & (high - low > 1.2 * (high[behind] - low[behind]))
    return np.where(wide, low[behind], low), np.where(wide, high[behind], high)


def lowest_about(x: Floats, low: Floats, length: float) -> Floats:
    """The lowest within 2 % of the length either way, so that a fin or tailplane behind the stern lifts nothing."""
    from scipy import ndimage

    even = np.linspace(0.0, length, 1001)
    return np.asarray(
        np.interp(x, even, ndimage.minimum_filter1d(np.interp(even, x, low), 41, mode="nearest"))
    )


def _alone(rings: tuple[Floats, ...], x: Floats, length: float) -> float:
    """The first station behind the nose's tip where one piece alone is cut out of the silhouette."""
    for at in x[(x > 0.04 * length) & (x < 0.45 * length)]:
        if len(crossings(rings, float(at), 0)) == 1:
            return float(at)
    return 0.45 * length
