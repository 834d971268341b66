"""Splitting a silhouette into wing, tailplane, body, fin: following edges and noticing where they turn into body.

A lifting surface is followed station by station from its middle outward to the tip and inward until its edge
suddenly runs along the body: there the surface is carried on in its own direction to the centre line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.contour import crossings
from sheetlark.trace.ink import Floats, Mask


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

    def area_mm2(self) -> float:
        return float(np.trapezoid(self.trail - self.lead, self.station))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Track:
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


def _follow(
    rings: tuple[Floats, ...],
    axis: int,
    start: float,
    first: Floats,
    *,
    inner: float,
    tip: float,
    step: float,
) -> _Track:
    """Follow one surface from `start` both ways. Stations are measured along `axis`, away from the centre line."""
    sign = 1.0 if tip >= inner else -1.0
    rows: list[tuple[float, float, float]] = [(start, first[0], first[1])]
    for k in range(1, 4000):
        y = start + sign * k * step
        if sign * (y - tip) > 0:
            break
        fine = crossings(rings, y, axis)
        got = _pick(fine, rows[-1][1], rows[-1][2])
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
    window = 3
    trail_of: list[list[float]] = [[first[0]], [first[1]]]
    for k in range(1, 4000):
        y = start - sign * k * step
        if sign * (y - inner) < 0:
            break
        got = _pick(crossings(rings, y, axis), last[1], last[2])
        if got is None:
            for j in (0, 1):
                if not done[j]:
                    roots[j], done[j] = y + sign * step, True
            break
        for j in (0, 1):
            if done[j]:
                continue
            past = trail_of[j]
            back = past[max(0, len(past) - window)]
            n = min(window, len(past))
            if abs(got[j] - back) / (n * step) > limit[j]:
                # the edge left the surface somewhere in the window
                roots[j], done[j] = y + sign * step * n, True
            else:
                past.append(float(got[j]))
        if all(done):
            break
        last = np.array(
            [y, got[0] if not done[0] else trail_of[0][-1], got[1] if not done[1] else trail_of[1][-1]]
        )
        inward.append((y, last[1], last[2]))
    both = np.array([*inward[::-1], *outer.tolist()])
    lead, trail = both[:, 1].copy(), both[:, 2].copy()
    lead[sign * (both[:, 0] - roots[0]) < 0] = np.nan
    trail[sign * (both[:, 0] - roots[1]) < 0] = np.nan
    return _Track(
        station=both[:, 0], lead=lead, trail=trail, lead_root=abs(roots[0]), trail_root=abs(roots[1])
    )


def _carry_in(y: Floats, e: Floats, root: float, *, margin: float, base: float) -> tuple[Floats, float]:
    """Extend an edge from its root station to the centre line, in its own direction."""
    good = np.isfinite(e) & (y >= root + margin)
    if good.sum() < 4:
        good = np.isfinite(e)
    near = good & (y <= y[good].min() + base)
    if near.sum() < 4:
        near = good
    slope, at0 = np.polyfit(y[near], e[near], 1)
    out = np.where(~good & (y < y[good].min()), slope * y + at0, e)
    return out, float(at0)


def _join(tracks: list[_Track], *, span: float, semi: float, to_centre: bool) -> Surface:
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
    for values, root in zip((leads, trails), roots, strict=True):
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
            mean, _ = _carry_in(y, mean, root, margin=0.012 * span, base=0.14 * semi + 0.012 * span)
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


def find_wing(rings: tuple[Floats, ...], span: float) -> Surface | None:
    """The main wing of a top view; rings in mm, (x aft, y), centre line at y = 0."""
    y_all = np.concatenate([r[:, 1] for r in rings])
    tracks = []
    for sign in (1.0, -1.0):
        tip = float(y_all.max() if sign > 0 else y_all.min())
        start = 0.58 * tip
        cuts = crossings(rings, start, 1)
        if not len(cuts):
            continue
        first = cuts[np.argmax(cuts[:, 1] - cuts[:, 0])]
        tracks.append(_follow(rings, 1, start, first, inner=0.0, tip=tip, step=span / 500.0))
    if not tracks:
        return None
    return _join(tracks, span=span, semi=span / 2.0, to_centre=True)


def _point(wing: Surface) -> tuple[float, float] | None:
    """Station and x where straight edges of a wing meet beyond its rounded-off tip; None for a tip with a chord."""
    y, semi = wing.station, float(wing.station[-1])
    use = (y > 0.6 * semi) & (y < 0.93 * semi)
    if use.sum() < 12:
        return None
    lead, trail = np.polyfit(y[use], wing.lead[use], 1), np.polyfit(y[use], wing.trail[use], 1)
    for line, edge in ((lead, wing.lead), (trail, wing.trail)):
        if np.abs(np.polyval(line, y[use]) - edge[use]).max() > 0.006 * semi:
            return None
    if abs(lead[0] - trail[0]) < 0.2:
        return None
    at = float((trail[1] - lead[1]) / (lead[0] - trail[0]))
    return (at, float(np.polyval(trail, at))) if semi < at < 1.05 * semi else None


def pointed_tip(rings: tuple[Floats, ...], span: float) -> float:
    """How much further a wing drawn to a point reaches than its pen stroke shows; 1 for any other wing."""
    wing = find_wing(rings, span)
    met = _point(wing) if wing is not None else None
    return met[0] / float(wing.station[-1]) if met is not None and wing is not None else 1.0


def with_point(wing: Surface, beyond: float) -> Surface:
    """The wing drawn out to the point where its edges meet."""
    met = _point(wing)
    if met is None:
        return wing
    keep = wing.station < 0.93 * wing.station[-1]
    at = float(wing.station[-1]) * beyond
    return Surface(
        station=np.r_[wing.station[keep], at],
        lead=np.r_[wing.lead[keep], met[1]],
        trail=np.r_[wing.trail[keep], met[1]],
        lead_root=wing.lead_root,
        trail_root=wing.trail_root,
        asymmetry=wing.asymmetry,
    )


def find_tail(rings: tuple[Floats, ...], span: float, wing: Surface) -> Surface | None:
    """The tailplane: what lies behind the wing's trailing edge, away from the body."""
    tracks = []
    tips = []
    for sign in (1.0, -1.0):
        rows = []
        for y in np.arange(0.01, 0.40, 0.004) * span:
            te = float(np.interp(y, wing.station, wing.trail))
            cuts = crossings(rings, sign * y, 1)
            aft = [c for c in cuts if c[0] > te + 0.004 * span and c[1] - c[0] > 0.004 * span]
            if aft:
                rows.append((y, max(aft, key=lambda c: c[1] - c[0])))
        if len(rows) < 8:
            continue
        ys = np.array([r[0] for r in rows])
        runs = np.split(np.arange(ys.size), np.nonzero(np.diff(ys) > 0.0061 * span)[0] + 1)
        run = max(runs, key=len)
        if len(run) < 8:
            continue
        k = int(run[len(run) // 2])
        tip = float(ys[run[-1]] + 0.005 * span)
        track = _follow(rings, 1, sign * ys[k], rows[k][1], inner=0.0, tip=sign * tip, step=span / 600.0)
        tracks.append(track)
        tips.append(float(np.abs(track.station).max()) + 0.4 * span / 600.0)
    if not tracks or max(tips) < 0.085 * span:
        return None  # no wider than a body
    semi = float(np.mean(tips))
    if len(tips) == 2 and abs(tips[0] - tips[1]) > 0.02 * span:
        keep = int(np.argmax(tips))
        tracks, semi = [tracks[keep]], tips[keep]
    return _join(tracks, span=span, semi=semi, to_centre=True)


def spinner_end(rings: tuple[Floats, ...], span: float) -> float:
    """How far a spinner or propeller stands ahead of the body's front; 0 where there is none. [same unit]

    Rings have x aft from the foremost point. Blades are a short spike in width; a spinner is narrow and the body
    behind it begins with a step.
    """
    step = 0.001 * span
    x = np.arange(0.5, 90.0) * step
    wide = np.zeros(x.size)
    aim = 0.0
    for k in range(x.size - 1, -1, -1):
        cuts = crossings(rings, float(x[k]), 0)
        if not len(cuts):
            break
        if k == x.size - 1:
            c = cuts[np.argmax(cuts[:, 1] - cuts[:, 0])]
        else:
            holds = [c for c in cuts if c[0] - step <= aim <= c[1] + step]
            if not holds:  # only what is not the body's stands ahead of here
                return float(x[k] + 0.5 * step) if k > 3 else 0.0
            c = max(holds, key=lambda c: c[1] - c[0])
        wide[k] = c[1] - c[0]
        aim = 0.5 * (c[0] + c[1]) if k == x.size - 1 else 0.7 * aim + 0.15 * (c[0] + c[1])
    body = float(np.median(wide[60:]))
    front = x < 0.055 * span
    blade = np.nonzero(front & (wide > 1.4 * body))[0]
    if blade.size and blade.size < 25:
        return float(x[blade[-1]] + step)
    lag = 6
    for k in range(int(front.sum()) - 1, 12, -1):
        ahead, behind = wide[k - lag : k - lag + 2].mean(), wide[k + lag]
        flat = wide[max(0, k - 2 * lag) : k - lag].mean()
        if behind > 0.45 * body and ahead > 0 and behind > 1.7 * ahead and flat > 0.55 * ahead:
            steep = np.diff(wide[k - lag : k + lag])
            if steep.max() > 0.12 * behind:
                return float(x[k - lag + int(steep.argmax())] + 0.5 * step)
    return 0.0


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
    ink: object,
) -> Body | None:
    """Half width of the body along x in the top view.

    depth : shape (m, 2), optional
        Body depth over x from the side view: its shape fills what wing and tail hide.
    ink : callable (x, y) -> ink strength, or None
        Where the body's own line is drawn across the wing, it is followed.
    """
    x_all = np.concatenate([r[:, 0] for r in rings])
    end = float(x_all.max())
    middle = crossings(rings, 0.0008 * span, 1)  # the tailplane's tips may reach beyond the body
    if len(middle):
        end = min(end, float(middle[-1, 1]))
    if depth is not None and abs(float(depth[-1, 0]) / end - 1.0) < 0.09:
        end = float(depth[-1, 0]) if float(depth[-1, 0]) < end or tail is not None else end
    length = float(end - x_all.min())
    n = 260
    x = x_all.min() + length * (0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, n)))
    half = np.full(n, np.nan)
    for i, xi in enumerate(np.clip(x, x_all.min() + 1e-3 * length, x_all.max() - 1e-3 * length)):
        cuts = crossings(rings, float(xi), 0)
        mine = [c for c in cuts if c[0] < 0.003 * span and c[1] > -0.003 * span]
        if mine:
            c = max(mine, key=lambda c: c[1] - c[0])
            half[i] = 0.5 * (c[1] - c[0])
    seen = np.isfinite(half)
    pad = 0.006 * span
    limits = []
    for s in (wing, tail):
        if s is None:
            continue
        x0 = float(np.interp(s.lead_root, s.station, s.lead)) - pad
        x1 = float(np.interp(s.trail_root, s.station, s.trail)) + pad
        seen &= ~((x > x0) & (x < x1))
        limits.append((x0, x1))
    widest = 0.14 * span
    seen &= half < widest
    if len(limits) == 2:  # between wing and tail the body alone is seen; behind that it grows no wider
        between = seen & (x > limits[0][1]) & (x < limits[1][0])
        if between.sum() > 8:
            aft = x >= float(x[between].max())
            seen &= ~(aft & (half > 1.1 * float(np.median(half[np.nonzero(between)[0][-8:]]))))
    if seen.sum() < 5:
        return None
    # a propeller drawn across the nose is a short spike there
    front = seen & (x < x_all.min() + 0.10 * length)
    k = np.nonzero(seen & (x < x_all.min() + 0.25 * length))[0]
    if front.sum() > 5 and k.size > 12:
        usual = float(np.median(half[k]))
        seen &= ~(front & (half > 1.35 * usual) & (x < x_all.min() + 0.06 * length))
    guess = _fill_between(x, half, seen, depth)
    if callable(ink) and limits:
        guess, seen = _follow_lines(x, guess, seen, ink, span, symmetric=True)
    return Body(x=x, low=-guess, high=guess, seen=seen.astype(np.float64))


def _fill_between(x: Floats, v: Floats, seen: Floats, depth: Floats | None) -> Floats:
    """Carry a width over stretches where it is hidden, in the shape the other view gives if there is one."""
    from scipy.interpolate import PchipInterpolator

    out = v.copy()
    ks = np.nonzero(seen)[0]
    if depth is not None:
        d = np.maximum(np.interp(x, depth[:, 0], depth[:, 1]), 1e-3)
        ratio = np.interp(x, x[ks], np.clip(v[ks] / d[ks], 0.02, 20.0))
        shaped = ratio * d
    else:
        shaped = None
    inner = (x > x[ks[0]]) & (x < x[ks[-1]]) & ~seen.astype(bool)
    if ks.size > 3:
        # thin the supports so that noise at a break does not tilt the bridge
        smooth = np.convolve(np.pad(v[ks], 2, mode="edge"), np.ones(5) / 5, mode="valid")
        bridge = PchipInterpolator(x[ks], smooth)(x)
    else:
        bridge = np.interp(x, x[ks], v[ks])
    out[inner] = bridge[inner] if shaped is None else 0.6 * bridge[inner] + 0.4 * shaped[inner]
    before, after = x <= x[ks[0]], x >= x[ks[-1]]
    for side, k in ((before, ks[0]), (after, ks[-1])):
        hidden = side & ~seen.astype(bool)
        if not hidden.any():
            continue
        if shaped is not None:
            out[hidden] = shaped[hidden] * v[k] / max(shaped[k], 1e-6)
        else:
            near = ks[-max(8, ks.size // 10) :] if side is after else ks[: max(8, ks.size // 10)]
            slope = np.polyfit(x[near], v[near], 1)[0]
            out[hidden] = np.clip(v[k] + slope * (x[hidden] - x[k]), 0.12 * v[k], 1.2 * v[k])
    return np.asarray(np.where(seen.astype(bool), v, out))


def _follow_lines(
    x: Floats, guess: Floats, seen: Floats, ink: object, span: float, *, symmetric: bool
) -> tuple[Floats, Floats]:
    """Where ink runs near the guessed edge across a hidden stretch, follow it by dynamic programming."""
    out, now_seen = guess.copy(), np.asarray(seen, dtype=bool).copy()
    hidden = np.nonzero(~now_seen)[0]
    if not hidden.size or not callable(ink):
        return out, now_seen
    for run in np.split(hidden, np.nonzero(np.diff(hidden) > 1)[0] + 1):
        x0, x1 = float(x[run[0]]), float(x[run[-1]])
        if x1 - x0 < 0.01 * span:
            continue
        xs = np.linspace(x0, x1, max(12, int((x1 - x0) / (span / 450.0))))
        g = np.interp(xs, x, guess)
        dy = np.arange(-0.022, 0.0221, 0.0011) * span
        ys = g[:, None] + dy[None, :]
        grid_x = np.repeat(xs[:, None], dy.size, 1)
        e = np.minimum(ink(grid_x, ys), ink(grid_x, -ys)) if symmetric else ink(grid_x, ys)
        e = np.clip(np.asarray(e), 0.0, 1.0)
        e[ys < 0.15 * g[:, None] if symmetric else np.zeros_like(e, dtype=bool)] = 0.0
        cost = e - 0.06 * (dy / (0.022 * span)) ** 2
        far = np.abs(dy) > 0.005 * span
        if run[0] > 0:  # both ends are known where the edge stands free
            cost[:2, far] = -1e3
        if run[-1] < x.size - 1:
            cost[-2:, far] = -1e3
        total = cost.copy()
        came = np.zeros(cost.shape, dtype=np.int64)
        for i in range(1, len(xs)):
            prev = np.stack([np.roll(total[i - 1], s) - (0.04 if s else 0.0) for s in (-1, 0, 1)])
            prev[0, -1] = prev[2, 0] = -1e9
            k = prev.argmax(0)
            total[i] += np.take_along_axis(prev, k[None], 0)[0]
            came[i] = np.arange(dy.size) - (k - 1)
        j = int(total[-1].argmax())
        path = np.empty(len(xs), dtype=np.int64)
        for i in range(len(xs) - 1, -1, -1):
            path[i] = j
            j = int(np.clip(came[i, j], 0, dy.size - 1))
        strength = e[np.arange(len(xs)), path]
        if (strength > 0.4).mean() > 0.7:
            out[run] = np.interp(x[run], xs, g + dy[path])
            now_seen[run] = True
    return out, now_seen


def find_fin(rings: tuple[Floats, ...], length: float, low_top: float) -> Surface | None:
    """The fin of a side view; rings in mm, (x aft, z up). Stations are heights."""
    aft = [r[r[:, 0] > 0.72 * length] for r in rings]
    z = np.concatenate([a[:, 1] for a in aft]) if aft else np.zeros(0)
    if not z.size:
        return None
    top = float(z.max())
    if top - low_top < 0.02 * length:
        return None
    start = low_top + 0.6 * (top - low_top)
    cuts = [c for c in crossings(rings, start, 1) if c[1] > 0.72 * length]
    if not cuts:
        return None
    first = cuts[-1]
    step = length / 500.0
    track = _follow(rings, 1, start, first, inner=start - 1.2 * (top - low_top), tip=top, step=step)
    # lower end of the leading edge: where it turned into the body's upper line
    ok = np.isfinite(track.lead)
    if ok.sum() < 4:
        return None
    stations = track.station
    base = float(stations[ok].min())
    lead = np.where(ok, track.lead, np.nan)
    trail = np.interp(stations, stations[np.isfinite(track.trail)], track.trail[np.isfinite(track.trail)])
    use = stations >= base
    s = np.r_[stations[use], top]
    return Surface(
        station=s,
        lead=np.r_[lead[use], lead[use][-1]],
        trail=np.r_[trail[use], trail[use][-1]],
        lead_root=base,
        trail_root=base,
        asymmetry=0.0,
    )


def find_body_side(rings: tuple[Floats, ...], length: float, fin: Surface | None, ink: object) -> Body | None:
    """Upper and lower line of the body in the side view, fin and gear taken off."""
    from scipy import ndimage

    n = 260
    x = length * (0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, n)))
    low, high = np.full(n, np.nan), np.full(n, np.nan)
    main = rings[0]
    mid = float(np.median(main[:, 1]))
    # the axis: middle of the interval that goes on from station to station, starting where the body is deep
    order = np.argsort(np.abs(x - 0.45 * length))
    centre = np.full(n, np.nan)
    for i in order:
        near = [j for j in (i - 1, i + 1) if 0 <= j < n and np.isfinite(centre[j])]
        aim = centre[near[0]] if near else mid
        cuts = crossings(rings, float(np.clip(x[i], 1e-3 * length, (1 - 1e-3) * length)), 0)
        if not len(cuts):
            continue
        holds = [c for c in cuts if c[0] - 0.005 * length <= aim <= c[1] + 0.005 * length]
        c = (
            max(holds, key=lambda c: c[1] - c[0])
            if holds
            else min(cuts, key=lambda c: abs(0.5 * (c[0] + c[1]) - aim))
        )
        low[i], high[i] = c
        if near:
            j = near[0]
            width = high[j] - low[j]
            # follow the body, not the fin: let the axis move slowly
            want = 0.5 * (low[i] + min(high[i], low[i] + 1.15 * width if np.isfinite(width) else high[i]))
            slope = 0.35 * abs(x[i] - x[j])
            centre[i] = np.clip(want, aim - slope, aim + slope)
        else:
            centre[i] = 0.5 * (low[i] + high[i])
    good = np.isfinite(low)
    if good.sum() < 20:
        return None
    low, high = np.interp(x, x[good], low[good]), np.interp(x, x[good], high[good])
    even = np.linspace(0.0, length, 400)
    seen_high, seen_low = np.ones(n, dtype=bool), np.ones(n, dtype=bool)
    # gear: a short hump below; struts and a wing section on top likewise
    for sign, edge, seen, wide in ((-1.0, low, seen_low, 0.17), (1.0, high, seen_high, 0.40)):
        e = np.interp(even, x, sign * edge)
        if sign > 0 and fin is not None:
            e[even > float(fin.lead[0])] = np.interp(float(fin.lead[0]), even, e)
        flat = ndimage.grey_opening(e, size=(int(wide * 400),), mode="nearest")
        proud = e - flat
        if sign > 0:  # a cabin is the body's own line; a wing or cover has the body's line drawn under it
            label, count = ndimage.label(proud > 0.004 * length)
            hump = np.zeros(even.size, dtype=bool)
            for k in range(1, count + 1):
                mine = ndimage.binary_dilation(label == k, iterations=4)
                if _drawn_under(even, e, mine, ink, length):
                    hump |= mine
        else:
            hump = ndimage.binary_dilation(proud > 0.014 * length, iterations=6)
            hump &= ndimage.binary_dilation(proud > 0.002 * length, iterations=4)
        seen[np.interp(x, even, hump.astype(float)) > 0.3] = False
    if fin is not None:
        start = float(fin.lead[0]) - 0.008 * length
        seen_high &= x < start
    # a propeller drawn as a thin lens at the very nose
    for seen in (seen_low, seen_high):
        if seen.sum() < 10:
            return None
    deep = high - low
    nose = x < 0.03 * length
    usual = float(np.median(deep[(x > 0.05 * length) & (x < 0.15 * length)]))
    spike = nose & (deep > 1.3 * usual)
    seen_low &= ~spike
    seen_high &= ~spike
    low = _bridge(x, low, seen_low)
    end_low = float(low[-1])
    if fin is not None:
        ks = np.nonzero(seen_high)[0]
        near = ks[x[ks] > x[ks[-1]] - 0.12 * length]
        slope = float(np.polyfit(x[near], high[near], 1)[0]) if near.size > 3 else 0.0
        at = float(high[ks[-1]])
        thick = at - float(np.interp(x[ks[-1]], x, low))
        end = at + slope * (length - x[ks[-1]])
        end = float(np.clip(end, end_low + 0.12 * thick, end_low + 1.0 * thick))
        tail = ~seen_high & (x > x[ks[-1]])
        high = np.where(tail, np.interp(x, [x[ks[-1]], length], [at, end]), high)
        if callable(ink):
            high, _ = _follow_lines(x, high, ~tail, ink, length, symmetric=False)
        seen_high |= tail
    high = _bridge(x, high, seen_high)
    return Body(x=x, low=low, high=high, seen=(seen_low & seen_high).astype(np.float64))


def _drawn_under(x: Floats, edge: Floats, hump: Mask, ink: object, length: float) -> bool:
    """Whether a line is drawn across below a hump of an upper edge, near the straight line joining its ends."""
    ks = np.nonzero(hump)[0]
    if ks.size < 4 or not callable(ink):
        return False
    xs = np.linspace(float(x[ks[0]]), float(x[ks[-1]]), 60)[4:-4]
    top = np.interp(xs, x, edge)
    bridge = np.interp(xs, [x[ks[0]], x[ks[-1]]], [edge[ks[0]], edge[ks[-1]]])
    dz = np.arange(-0.022, 0.0121, 0.001) * length
    z = bridge[:, None] + dz[None, :]
    e = np.asarray(ink(np.repeat(xs[:, None], dz.size, 1), z))
    clear = z < top[:, None] - 0.006 * length
    on = ((e > 0.42) & clear).any(1)
    counted = top - bridge > 0.003 * length
    return bool(counted.sum() > 5 and on[counted].mean() > 0.8)


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
    half = body.high[-1] * d[1:] / d[0]
    return Body(
        x=np.r_[body.x, x],
        low=np.r_[body.low, -half],
        high=np.r_[body.high, half],
        seen=np.r_[body.seen, np.zeros(x.size)],
    )


def _bridge(x: Floats, v: Floats, seen: Floats) -> Floats:
    """Carry one edge (of either sign) over hidden stretches; straight beyond the last seen station."""
    from scipy.interpolate import PchipInterpolator

    ks = np.nonzero(np.asarray(seen, dtype=bool))[0]
    if ks.size < 4:
        return v
    smooth = np.convolve(np.pad(v[ks], 2, mode="edge"), np.ones(5) / 5, mode="valid")
    out = np.where(
        np.asarray(seen, dtype=bool), v, PchipInterpolator(x[ks], smooth)(np.clip(x, x[ks[0]], x[ks[-1]]))
    )
    return np.asarray(out)
