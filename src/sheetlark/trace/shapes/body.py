"""The body in the top view, what stands ahead of its nose, and lines followed or carried across where it is hidden."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.contour import crossings, crossings_each
from sheetlark.trace.shapes.edges import DrawnEdge, drawn_edge, stations
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.strip import Strip
from sheetlark.trace.shapes.surface import Surface

_STEEPEST = 0.6  # slope of a body's edge where wing or tail lies over it
_NO_FIN = 0.2  # of the body's greatest width: a fin or a rudder seen from above is narrower
_SWELLS = 1.25  # how many times as wide as at the wider end of a stretch where it is hidden a body is there at the most
_WIDEST = 0.28  # of the span, a body's width
_SLACK = 0.002  # of the length, how far both views may have one end apart
_CLOSING = 1.2  # slope of the depth from which on a stern closes
_HIDES = 0.01  # of the length, that a body's end is hidden at the least for its closing line to be looked for
_LEAST = 1.5  # pens, how far that line stands out of a fin's strip at the least
_INKED = 0.4  # how dark a drawn line is
_BOARD = 0.015  # of the span: no body is as narrow
_SECTION = 0.07  # of the chord: a wing's section, and no body is as shallow
_ROOT = 1.05  # of the wing's root, how long what is drawn as one with its section, and a fin on it, is at the most
_SHALLOW = 0.1  # of the greatest depth in the side view: less says nothing of the width there


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """Body over stations x from the nose; `low`, `high` are the two edges (-y, +y or lower, upper z). [mm]

    seen : shape (n,), true where the edge stands free in the picture, false where it was carried across.
    """

    x: Floats
    low: Floats
    high: Floats
    seen: Floats

    def ring(self) -> Floats:
        return np.vstack([np.c_[self.x, self.high], np.c_[self.x, self.low][::-1]])


def find_body_width(
    rings: tuple[Floats, ...],
    span: float,
    wing: Surface | None,
    tail: Surface | None,
    depth: Floats | None,
    ink: Ink | None,
    *,
    pen_mm: float = 0.0,
    strip: Strip | None = None,
) -> Body | None:
    """Half width of the body along x in the top view.

    depth : shape (m, 2), optional
        Body depth over x from the side view: its shape fills what wing and tail hide.
    ink : callable (x, y) -> ink strength, or None
        Where the body's own line is drawn across the wing, it is followed.
    pen_mm : stroke width to expect in it.
    strip : the fin, where it is drawn over the body; nothing of it is the body's.
    """
    start, end = extent(rings, span)
    if depth is not None and abs(float(depth[-1, 0]) / end - 1.0) < 0.09:
        end = float(depth[-1, 0]) if float(depth[-1, 0]) < end or tail is not None else end
    length = end - start
    along = stations(length)
    x = start + along
    half, seen = open_width(rings, x, span, wing, tail, strip)
    if seen.sum() < 15:
        return None
    # a propeller drawn across the nose is a short spike there
    front = seen & (x < start + 0.10 * length)
    k = np.nonzero(seen & (x < start + 0.25 * length))[0]
    if front.sum() > 15 and k.size > 36:
        usual = float(np.median(half[k]))
        seen &= ~(front & (half > 1.35 * usual) & (x < start + 0.06 * length))
    if ink is not None:
        ink = ink if strip is None else strip.taken_off(ink)
        found = followed_width(x, half, seen, ink, pen_mm=pen_mm, depth=depth)
        half, seen = found.out, found.seen & borne_out(seen, found.seen, along, found.out)
    guess = fill_between(x, half, seen, depth)
    last = int(np.nonzero(seen & (x < end - _HIDES * length))[0][-1])
    shows = x[seen & (x > x[last] + _HIDES * length)]
    # next to a tailplane's edge a silhouette's corner is round
    hides = end - x[last] > 2.0 * _HIDES * length and (not shows.size or end - shows[0] < pen_mm)
    if depth is not None:  # a stern that closes steeply in the side view is round: no line closes it
        ahead, last_depth = np.interp([end - _HIDES * length, end], depth[:, 0], depth[:, 1])
        hides &= bool(ahead - last_depth < _CLOSING * _HIDES * length)
    if ink is not None and hides:
        closes = closing_line(end, 1.1 * float(half[last]), ink, pen_mm=pen_mm, strip=strip)
        if closes is not None:
            seen[last + 1 :] = False
            half[-1], seen[-1] = closes, True
            guess[last:] = bridge(x, half, seen)[last:]
    guess = without_whiskers(x, guess, pen_mm)
    x, guess, seen = np.r_[start, x, end], np.r_[guess[0], guess, guess[-1]], np.r_[seen[0], seen, seen[-1]]
    return Body(x=x, low=-guess, high=guess, seen=seen.astype(np.float64))


def bare_wing(wing: Surface | None, width: Body | None, side: Body | None, span: float) -> bool:
    """Whether a tailless wing flies without a body: from above only a fin's board shows, from the side only a section.

    Parameters
    ----------
    width, side : what was followed as the body's edges from above and from the side.
    span : [mm]
    """
    if wing is None or (width is not None and float((width.high - width.low).max()) > _BOARD * span):
        return False
    root = float(wing.trail[0] - wing.lead[0])
    return side is None or (
        float((side.high - side.low).max()) < _SECTION * root and float(np.ptp(side.x)) < _ROOT * root
    )


def closing_line(
    end: float, most: float, ink: Ink, *, pen_mm: float, strip: Strip | None = None
) -> float | None:
    """Half the width of a line drawn across the centre line at a body's end, behind a tailplane that hides the rest; None without.

    Parameters
    ----------
    most : half the width the body may have there. A hinge or a trailing edge goes on beyond that. [mm]
    """
    y = np.arange(0.0, most + 3.0 * pen_mm, 0.1 * pen_mm)
    both = both_sides(ink)
    dark = np.max([both(end + k * pen_mm + 0.0 * y, y) for k in (-0.3, 0.0, 0.3)], axis=0) > _INKED
    covered = 0.0 if strip is None else max(float(strip.out_to(end)), 0.0)
    dark |= y < covered + 0.4 * pen_mm
    out = y[int((~dark).argmax())] - 0.5 * pen_mm
    if dark.all() or not covered + _LEAST * pen_mm < out < most:
        return None
    across = np.linspace(covered + pen_mm, out - pen_mm, 12)
    behind = ink(end + 1.6 * pen_mm + 0.0 * across, across)
    return float(out) if (behind < _INKED).mean() > 0.8 else None


def extent(rings: tuple[Floats, ...], span: float) -> tuple[float, float]:
    """How far ahead and aft the body may reach in the top view, by what lies on the centre line. [mm]"""
    every = np.concatenate([r[:, 0] for r in rings])
    end = float(every.max())
    middle = crossings(rings, 0.0008 * span, 1)  # the tailplane's tips may reach beyond the body
    if len(middle):
        end = min(end, float(middle[-1, 1]))
    return float(every.min()), end


def open_width(
    rings: tuple[Floats, ...],
    x: Floats,
    span: float,
    wing: Surface | None,
    tail: Surface | None,
    strip: Strip | None = None,
) -> tuple[Floats, Mask]:
    """Half width of the silhouette about the centre line at stations x, and where that is the body's alone; shape (n,) each. [mm]"""
    foremost, last = (float(f([f(r[:, 0]) for r in rings])) for f in (min, max))
    length = float(x[-1] - x[0])
    half = np.full(x.size, np.nan)
    within = np.clip(x, foremost + 1e-3 * length, last - 1e-3 * length)
    for i, cuts in enumerate(crossings_each(rings, within, 0)):
        mine = [c for c in cuts if c[0] < 0.003 * span and c[1] > -0.003 * span]
        if mine:
            c = max(mine, key=lambda c: c[1] - c[0])
            half[i] = 0.5 * (c[1] - c[0])
    seen = np.isfinite(half) & (x < last + _SLACK * length)  # behind the silhouette nothing is seen
    limits = [_over(s, span) for s in (wing, tail) if s is not None]
    for x0, x1 in limits:
        seen &= ~((x > x0) & (x < x1))
    seen &= half < 0.5 * _WIDEST * span
    if strip is not None:
        seen &= ~strip.covers(x, half)
    if len(limits) == 2:  # between wing and tail the body alone is seen; behind that it grows no wider
        between = seen & (x > limits[0][1]) & (x < limits[1][0])
        if between.sum() > 24:
            aft = x >= float(x[between].max())
            seen &= ~(aft & (half > 1.1 * float(np.median(half[np.nonzero(between)[0][-24:]]))))
    return half, np.asarray(seen)


def both_sides(ink: Ink) -> Ink:
    """The top view's ink where it is drawn on both sides of the centre line, hardly any where on one alone."""

    def both(x: Floats, y: Floats) -> Floats:
        sides = ink(x, y), ink(x, -y)
        return np.asarray(0.7 * np.minimum(*sides) + 0.3 * np.maximum(*sides))

    return both


def followed_width(
    x: Floats, half: Floats, seen: Mask, ink: Ink, *, pen_mm: float, depth: Floats | None = None
) -> DrawnEdge:
    """The body's edge in the top view followed from nose to end, also where wing and tail lie over it.

    Parameters
    ----------
    x, half, seen : ndarray, shape (n,)
        Stations, the silhouette's half width, and where that is the body's. [mm]
    depth : ndarray, shape (m, 2), optional
        Body depth over x from the side view.
    """
    start, end = float(x[0]), float(x[-1])
    # a centre line is as smooth as any edge: the body is wider than that, wherever it stands free
    least = np.interp(x, x[seen], 0.4 * half[seen])
    last = float(x[seen].max())
    least *= np.clip((end - x) / max(end - last, 1e-6), 0.0, 1.0)
    both = both_sides(ink)
    likely = None if depth is None else like_depth(x, half, seen, depth)
    return drawn_edge(
        x - start,
        np.where(seen, half, np.nan),
        least,
        lambda at, y: both(at + start, y),
        length=end - start,
        pen_mm=pen_mm,
        missing=0.5,
        likely=None if likely is None else np.where(seen, np.nan, likely),
    )


def _over(surface: Surface, span: float) -> tuple[float, float]:
    """The stretch of the body that a surface lies over. [mm]"""
    s, pad = surface, 0.006 * span
    lead, trail = np.interp(s.lead_root, s.station, s.lead), np.interp(s.trail_root, s.station, s.trail)
    return float(lead) - pad, float(trail) + pad


def goes_on_to(
    rings: tuple[Floats, ...],
    span: float,
    surfaces: tuple[Surface, ...],
    *,
    pen_mm: float,
    strip: Strip | None = None,
) -> float:
    """How far aft the top view shows the body, wider than a fin is; 0 where it shows none. [mm]

    Parameters
    ----------
    rings : tuple of ndarray, shape (n, 2)
        The top view's outlines. [mm]
    surfaces : tuple of Surface
        Wing and tail; where they lie over the body it is not seen.
    pen_mm : float
        Stroke width. [mm]
    strip : Strip, optional
        The fin, where it is drawn over the body.
    """
    ends = np.concatenate([r[:, 0] for r in rings])
    x = np.linspace(float(ends.min()), float(ends.max()), 400)[1:-1]
    cuts = crossings_each(rings, x, 0)
    width = np.array([max((c[1] - c[0] for c in cut if c[0] < 0.0 < c[1]), default=0.0) for cut in cuts])
    width[width > _WIDEST * span] = 0.0
    for x0, x1 in (_over(s, span) for s in surfaces):
        width[(x > x0) & (x < x1)] = 0.0
    shown = width > max(_NO_FIN * float(width.max()), 2.5 * pen_mm)
    if strip is not None:
        shown &= ~strip.covers(x, 0.5 * width)
    return float(x[shown].max(initial=0.0))


def borne_out(free: Mask, drawn: Mask, x: Floats, edge: Floats) -> Mask:
    """Where an edge stands free, or is drawn for most of the stretch between two free ones and runs into both.

    Less than that may be a canopy's line, with the body's own hidden under the wing. A line that only a sharp step joins
    to the free edges is a rib's; a round stern is as steep behind the wing as below it.
    """
    out = free.copy()
    hidden = np.nonzero(~free)[0]
    reach = 0.006 * float(x[-1] - x[0])
    slope = (np.interp(x + reach, x, edge) - np.interp(x - reach, x, edge)) / (2.0 * reach)
    steep = np.abs(slope) > _STEEPEST
    for run in np.split(hidden, np.nonzero(np.diff(hidden) > 1)[0] + 1):
        if run.size:
            between = free[: run[0]].any() and free[run[-1] :].any()
            sharp = steep[run]
            behind = free & (x > x[run[-1]]) & (x < x[run[-1]] + 2.0 * reach)
            if behind.any() and (slope[behind] < -_STEEPEST).all():
                closing = np.logical_and.accumulate(slope[run][::-1] < -_STEEPEST)[::-1]
                sharp = sharp & ~closing
            out[run] = drawn[run].mean() > 0.7 and not (between and sharp.any())
    return out


def like_depth(x: Floats, half: Floats, seen: Mask, depth: Floats) -> Floats | None:
    """A half width in the shape of the side view's depth, as wide as it is where it is seen; None where that tells nothing.

    Where a stern closes steeply or its depth is next to nothing both views' ends may lie a little apart, and the ratio of
    width to depth is no shape's.
    """
    d = np.maximum(np.interp(x, depth[:, 0], depth[:, 1]), 1e-3)
    told = seen & (d > _SHALLOW * d.max()) & (np.abs(np.gradient(d, x)) < _CLOSING)
    if not told.any():
        return None
    return np.asarray(np.interp(x, x[told], np.clip(half[told] / d[told], 0.02, 20.0)) * d)


def fill_between(x: Floats, v: Floats, seen: Floats | Mask, depth: Floats | None) -> Floats:
    """Carry a width over stretches where it is hidden, in the shape the other view gives if there is one."""
    out, on = v.copy(), seen.astype(bool)
    ks = np.nonzero(on)[0]
    shaped = None if depth is None else like_depth(x, v, on, depth)
    inner = (x > x[ks[0]]) & (x < x[ks[-1]]) & ~on
    across = bridge(x, v, on) if ks.size > 3 else np.interp(x, x[ks], v[ks])
    out[inner] = across[inner] if shaped is None else 0.6 * across[inner] + 0.4 * shaped[inner]
    aft = np.clip(np.searchsorted(ks, np.arange(x.size)), 1, ks.size - 1)  # the next of those seen
    wider = np.maximum(v[ks[aft - 1]], v[ks[aft]])
    out[inner] = np.minimum(out, _SWELLS * wider)[inner]  # a depth next to nothing must not blow it up
    before, after = x <= x[ks[0]], x >= x[ks[-1]]
    for side, k in ((before, ks[0]), (after, ks[-1])):
        hidden = side & ~on
        if not hidden.any():
            continue
        if shaped is not None:
            out[hidden] = shaped[hidden] * v[k] / max(shaped[k], 1e-6)
        else:
            near = ks[-max(8, ks.size // 10) :] if side is after else ks[: max(8, ks.size // 10)]
            slope = np.polyfit(x[near], v[near], 1)[0]
            out[hidden] = np.clip(v[k] + slope * (x[hidden] - x[k]), 0.12 * v[k], 1.2 * v[k])
    return np.asarray(np.where(on, v, np.clip(out, 0.0, 1.25 * float(v[ks].max()))))


def without_whiskers(x: Floats, edge: Floats, pen_mm: float) -> Floats:
    """An edge that within a pen's width of either end reaches no further out than it does next to that.

    What stands out there is the stroke of a propeller or a fin that the body's end touches.

    Parameters
    ----------
    x, edge : ndarray, shape (n,)
        Stations in order, and how far out the edge lies. [mm]
    """
    out = edge.copy()
    for depth in (x - x[0], x[-1] - x):
        end, beside = depth < pen_mm, (depth >= pen_mm) & (depth < 2.0 * pen_mm)
        if beside.any():
            out[end] = np.minimum(out[end], float(edge[beside].max()))
    return out


def with_tail_end(body: Body, depth: Floats) -> Body:
    """Carry a body on to the length the side view has, in the shape of its depth.

    The end of a thin tail cone is all pen stroke in a small drawing, with no paper inside to be found by.
    """
    x0, x1 = float(body.x[-1]), float(depth[-1, 0])
    reach = x1 - x0
    if not 0.01 * x1 < reach < 0.12 * x1:
        return body
    x = np.linspace(x0, x1, 24)[1:]
    d = np.maximum(np.interp(np.r_[x0, x], depth[:, 0], depth[:, 1]), 1e-6)
    half = body.high[-1] * np.minimum(
        d[1:] / d[0], 1.0
    )  # a depth next to nothing at its start tells no shape
    return Body(
        x=np.r_[body.x, x],
        low=np.r_[body.low, -half],
        high=np.r_[body.high, half],
        seen=np.r_[body.seen, np.zeros(x.size)],
    )


def bridge(x: Floats, v: Floats, seen: Mask) -> Floats:
    """Carry one edge over hidden stretches, each on in the edge's own direction at both ends; level beyond the last."""
    ks = np.nonzero(np.asarray(seen, dtype=bool))[0]
    if ks.size < 4:
        return v
    out = np.where(x < x[ks[0]], v[ks[0]], np.where(x > x[ks[-1]], v[ks[-1]], v))
    reach = 0.04 * float(x[-1] - x[0])
    for i, j in itertools.pairwise(ks):
        if j == i + 1:
            continue
        ends = []
        for k, side in ((i, ks[ks <= i]), (j, ks[ks >= j])):
            near = side[np.abs(x[side] - x[k]) < reach]
            straight = near.size > 4 and np.ptp(x[near]) > 0.3 * reach
            line = np.polyfit(x[near] - x[k], v[near], 1) if straight else None
            ends.append((x[k], v[k], float("nan") if line is None else float(line[0])))
        (x0, v0, s0), (x1, v1, s1) = ends
        chord = (v1 - v0) / (x1 - x0)
        slopes = [s if np.isfinite(s) and abs(s - chord) < 0.35 else chord for s in (s0, s1)]
        inner = slice(i + 1, j)
        # Hermite's cubic. `scipy.interpolate` has it, but importing that takes as long as reading a whole body does.
        t = (x[inner] - x0) / (x1 - x0)
        bends = t * (1.0 - t) ** 2 * (slopes[0] - chord) - t**2 * (1.0 - t) * (slopes[1] - chord)
        out[inner] = v0 + (v1 - v0) * t + (x1 - x0) * bends
    return np.asarray(out)


def to_nose(x: Floats, edge: Floats, first: int, middle: float) -> Floats:
    """An edge carried forward from the first station where it is seen: as the power of x its slope there says."""
    start = float(x[first])
    near = (x >= start) & (x <= 2.0 * start + 1e-9)
    high = np.abs(edge - middle)
    if first < 9 or near.sum() < 12 or high[near].min() <= 0.0:
        return edge
    power = float(np.clip(np.polyfit(np.log(x[near]), np.log(high[near]), 1)[0], 0.0, 1.0))
    ahead = x < start
    out = edge.copy()
    out[ahead] = middle + (edge[first] - middle) * (x[ahead] / start) ** power
    return out
