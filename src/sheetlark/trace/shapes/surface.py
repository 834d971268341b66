"""A lifting surface followed station by station, and its two halves made one.

A surface is followed from its middle outward to the tip and inward until its edge suddenly runs along the body:
there the surface is carried on in its own direction to the centre line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.contour import crossings_each

_BUMP = 30  # stations an edge may stand out of its direction and still come back
_ON = 5  # stations it must run on straight where it comes back in another direction
_BODY = 0.14  # of the half span, half the width of what may be a body
_STRAIGHT = 0.0015  # of the span, the most a straight edge is off its line


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """A half surface over stations (y of a wing, z of a fin), all millimetres.

    lead, trail : shape (n,), leading and trailing edge x.
    lead_root, trail_root : station where each edge meets the body.
    asymmetry : root mean square difference between both halves. [mm]
    """

    station: Floats
    lead: Floats
    trail: Floats
    lead_root: float
    trail_root: float
    asymmetry: float

    def half(self) -> Floats:
        """Centre line to centre line: leading edge out, trailing edge back; shape (m, 2) of (x, station)."""
        return np.vstack([np.c_[self.lead, self.station], np.c_[self.trail, self.station][::-1]])

    def edges_at(self, station: Floats) -> tuple[Floats, Floats]:
        """X of leading and trailing edge at stations. [mm]"""
        return np.interp(station, self.station, self.lead), np.interp(station, self.station, self.trail)

    def within(self, x: Floats, station: Floats, clear: float) -> Mask:
        """Which places lie between the edges, clear of both by so much. [mm]"""
        lead, trail = self.edges_at(station)
        return np.asarray((x > lead + clear) & (x < trail - clear))

    def area_mm2(self) -> float:
        return float(np.trapezoid(self.trail - self.lead, self.station))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """One half as it was followed: edges over stations, nan where the body hides them, and where they meet it."""

    station: Floats
    lead: Floats
    trail: Floats
    lead_root: float
    trail_root: float


def _pick(cuts: Floats, lead: float, trail: float) -> Floats | None:
    """The interval that continues the one before."""
    best, score = None, 0.0
    for c in cuts:
        lap = min(c[1], trail) - max(c[0], lead)
        if lap > score:
            best, score = c, lap
    return best


def _over_bump(
    rings: tuple[Floats, ...],
    axis: int,
    ahead: Floats,
    near: tuple[float, float],
    past: list[float],
    edge: int,
    window: int,
    most: float,
) -> tuple[list[float], list[float]] | None:
    """An edge's values from where it leaves its direction until it is back, and its last `window` values put right.

    What stands out for less than that is a loose line's stub or a nacelle, not the body: behind it the edge is back in its
    direction, or leaps back near to it and goes on in another, for a nacelle often stands where a wing's taper begins.
    None where it stays away.

    Parameters
    ----------
    ahead : ndarray, shape (n,)
        The stations from the one on at which the edge left its direction.
    near : leading and trailing edge before it.
    past : what this edge was so far.
    edge : 0 for the leading, 1 for the trailing edge.
    most : how far it may stand out, times the chord before it.
    """
    own = np.array(past[-window - 12 : -window])
    if own.size < 8 or ahead.size < 4:
        return None
    cuts = [_pick(c, *near) for c in crossings_each(rings, ahead, axis)]
    got = np.array([np.nan if c is None else c[edge] for c in cuts])
    line = np.polyfit(np.arange(own.size, dtype=np.float64), own, 1)
    on = np.polyval(line, own.size + np.arange(window + got.size, dtype=np.float64))
    step = abs(ahead[1] - ahead[0])
    off = got - on[window:]
    far = np.flatnonzero(np.abs(off) > most * (near[1] - near[0]))
    if far.size:
        got, off = got[: far[0]], off[: far[0]]
    back = np.abs(off) < 1.2 * step
    for m in range(1, got.size - 2):
        if back[m : m + 3].all():
            return on[window : window + m].tolist(), on[:window].tolist()
    for m in range(1, got.size - _ON):
        out = float(np.nanmax(np.abs(off[:m]), initial=0.0))
        inner = got[m : m + _ON]
        if out < 4.0 * step or not abs(off[m]) < 0.25 * out or not abs(got[m - 1] - got[m]) > 0.5 * out:
            continue
        further = np.polyfit(np.arange(m, m + _ON, dtype=np.float64), inner, 1)
        at = np.arange(m, dtype=np.float64)
        if not np.abs(np.polyval(further, np.arange(m, m + _ON)) - inner).max() < 0.5 * step:
            continue
        # the nearer to the own line where it meets the other behind the nacelle
        before, after = on[window : window + m], np.polyval(further, at)
        meets = int(np.abs(before - after).argmin())
        return np.where(at < meets, before, after).tolist(), on[:window].tolist()
    return None


def follow(
    rings: tuple[Floats, ...],
    axis: int,
    start: float,
    first: Floats,
    *,
    inner: float,
    tip: float,
    step: float,
    bump: float = np.inf,
) -> Track:
    """Follow one surface from `start` both ways. Stations are measured along `axis`, away from the centre line.

    bump : chords, how far something that the surface is followed across may stand out of it.
    """
    sign = 1.0 if tip >= inner else -1.0
    rows: list[tuple[float, float, float]] = [(start, first[0], first[1])]
    steps = np.arange(1.0, 4000.0)
    outward: Floats = start + sign * steps * step
    outward = outward[
        sign * (outward - tip) <= -0.05 * step
    ]  # a cut through the outermost point says nothing of the edges
    for y, cuts in zip(outward.tolist(), crossings_each(rings, outward, axis), strict=True):
        got = _pick(cuts, rows[-1][1], rows[-1][2])
        if got is None:
            break
        rows.append((y, float(got[0]), float(got[1])))
    rows.reverse()
    outer = np.array(rows[::-1])  # from start out to the tip
    slope_rows = outer[: max(4, len(outer) * 2 // 3)]
    slopes = np.array([0.0, 0.0])
    if len(slope_rows) > 4:
        slopes = np.array([abs(np.median(np.diff(slope_rows[:, j]))) / step for j in (1, 2)])
    limit = 1.6 * slopes + 1.8
    inward: list[tuple[float, float, float]] = []
    last = np.array([start, first[0], first[1]])
    roots = [inner, inner]
    done = [False, False]
    bridge: list[list[float]] = [[], []]  # what each edge is until it is back after a bump
    window = 3
    trail_of: list[list[float]] = [[first[0]], [first[1]]]
    homeward: Floats = start - sign * steps * step
    homeward = homeward[sign * (homeward - inner) >= 0.0]
    for y, cuts in zip(homeward.tolist(), crossings_each(rings, homeward, axis), strict=True):
        got = _pick(cuts, last[1], last[2])
        if got is None:
            for j in (0, 1):
                if not done[j]:
                    roots[j], done[j] = y + sign * step, True
            break
        for j in (0, 1):
            if done[j]:
                continue
            past = trail_of[j]
            if bridge[j]:
                past.append(bridge[j].pop(0))
                continue
            back = past[max(0, len(past) - window)]
            n = min(window, len(past))
            if abs(got[j] - back) / (n * step) > limit[j]:
                ahead = np.arange(_BUMP, dtype=np.float64) * (-sign * step) + y
                ahead = ahead[sign * (ahead - inner) > 0]
                over = _over_bump(rings, axis, ahead, (last[1], last[2]), past, j, window, most=bump)
                if over is not None:
                    bridge[j], past[-window:] = over
                    past.append(bridge[j].pop(0))
                    for i, row in enumerate(inward):
                        inward[i] = (row[0], past[i + 1], row[2]) if j == 0 else (row[0], row[1], past[i + 1])
                    continue
                # the edge left the surface somewhere in the window
                roots[j], done[j] = y + sign * step * n, True
            else:
                past.append(float(got[j]))
        if all(done):
            break
        last = np.array([y, trail_of[0][-1], trail_of[1][-1]])
        inward.append((y, last[1], last[2]))
    both = np.array([*inward[::-1], *outer.tolist()])
    lead, trail = both[:, 1].copy(), both[:, 2].copy()
    lead[sign * (both[:, 0] - roots[0]) < 0] = np.nan
    trail[sign * (both[:, 0] - roots[1]) < 0] = np.nan
    return Track(
        station=both[:, 0], lead=lead, trail=trail, lead_root=abs(roots[0]), trail_root=abs(roots[1])
    )


def carried_in(y: Floats, e: Floats, root: float, *, margin: float, base: float) -> Floats:
    """Extend an edge from its root station to the centre line, in its own direction.

    margin : how far beyond the root it is left out; base : how far out from there its direction is taken. [mm]
    """
    good = np.isfinite(e) & (y >= root + margin)
    if good.sum() < 4:
        good = np.isfinite(e)
    near = good & (y <= y[good].min() + base)
    if near.sum() < 4:
        near = good
    slope, at0 = np.polyfit(y[near], e[near], 1)
    return np.asarray(np.where(~good & (y < y[good].min()), slope * y + at0, e))


def _stands_out(y: Floats, out: Floats, *, span: float, semi: float) -> float:
    """Up to where from the centre line something no wider than a body stands out beyond a straight edge; 0 without.

    A round stern or nose that reaches little beyond the wing leaves its edge too gently to be met by a step.

    out : the edge's outward coordinate over stations y. [mm]
    """
    inner = y < _BODY * semi
    straight = np.isfinite(out) & ~inner & (y < 3.0 * _BODY * semi)
    if straight.sum() < 12:
        return 0.0
    line = np.polyfit(y[straight], out[straight], 1)
    off = out - np.polyval(line, y)
    if np.abs(off[straight]).max() > _STRAIGHT * span or not (off[inner] > 3.0 * _STRAIGHT * span).any():
        return 0.0
    return float(y[inner & (off > _STRAIGHT * span)].max(initial=0.0))


def joined(tracks: list[Track], *, span: float, semi: float, to_centre: bool) -> Surface:
    """Average both halves on common stations and carry the edges to the centre line."""
    y = semi * np.sin(np.linspace(0.0, np.pi / 2, 220))
    leads: list[Floats] = []
    trails: list[Floats] = []
    for t in tracks:
        s = np.abs(t.station)
        order = np.argsort(s)
        for store, e in ((leads, t.lead), (trails, t.trail)):
            ok = np.isfinite(e[order])
            if ok.sum() < 3:
                store.append(np.full(y.size, np.nan))
                continue
            store.append(np.interp(y, s[order][ok], e[order][ok], left=np.nan, right=np.nan))
    roots = (float(np.mean([t.lead_root for t in tracks])), float(np.mean([t.trail_root for t in tracks])))
    edges, apart = [], 0.0
    for values, root, out in zip((leads, trails), roots, (-1.0, 1.0), strict=True):
        v = np.array(values)
        mean = np.nanmean(np.where(np.isfinite(v).any(0), v, 0.0), axis=0) if len(v) > 1 else v[0]
        mean = np.where(np.isfinite(v).any(0), mean, np.nan)
        if len(v) > 1:
            d = v[0] - v[1]
            both = np.isfinite(d)
            if both.any():
                apart = max(apart, float(np.sqrt(np.mean(d[both] ** 2))) / 2)
                wild = both & (np.abs(d) > 0.012 * span)
                if wild.any():  # one half is damaged there: keep the calmer one
                    calm = [np.nanstd(np.diff(h[wild])) if wild.sum() > 2 else np.inf for h in v]
                    known = np.isfinite(mean) & ~wild
                    if known.sum() > 10:
                        guess = np.interp(y, y[known], mean[known])
                        pick = (
                            np.abs(v - guess).argmin(0)
                            if wild.sum() < 0.3 * y.size
                            else np.full(y.size, int(np.argmin(calm)))
                        )
                        mean = np.where(wild, np.take_along_axis(v, pick[None], 0)[0], mean)
        fine = np.isfinite(mean)
        if fine.any():
            last = int(np.nonzero(fine)[0][-1])
            mean[last + 1 :] = np.nan
        if to_centre:
            begins = max(root, _stands_out(y, mean * out, span=span, semi=semi))
            mean = carried_in(y, mean, begins, margin=0.012 * span, base=0.14 * semi + 0.012 * span)
        edges.append(mean)
    lead, trail = edges
    inside = np.isfinite(lead) & np.isfinite(trail)
    # toward a curved tip both edges meet; the last station closes it
    idx = np.nonzero(inside)[0]
    lead = np.interp(y, y[idx], lead[idx])
    trail = np.interp(y, y[idx], trail[idx])
    return Surface(
        station=y, lead=lead, trail=trail, lead_root=roots[0], trail_root=roots[1], asymmetry=apart
    )
