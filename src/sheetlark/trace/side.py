"""The side view: fin, body, and what is taken off the body (gear, a wing's section, a cover)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from sheetlark.trace.body import Body, bridge, follow_lines
from sheetlark.trace.contour import crossings
from sheetlark.trace.frame import Frame
from sheetlark.trace.ink import Floats, Mask
from sheetlark.trace.search import Sheet
from sheetlark.trace.surface import Surface, follow


def read_side(
    sheet: Sheet, frame: Frame, mm: tuple[Floats, ...]
) -> tuple[Frame, tuple[Floats, ...], Body | None, Surface | None]:
    """Body and fin of the side view, z measured from the nose's middle."""
    length = float(max(m[:, 0].max() for m in mm))
    nose_cuts = crossings(mm, 0.012 * length, 0)
    z0 = float(0.5 * (nose_cuts[0, 0] + nose_cuts[0, 1])) if len(nose_cuts) else float(np.median(mm[0][:, 1]))
    frame = replace(frame, origin=frame.origin + z0 / frame.mm_per_px * frame.second)
    mm = tuple(m - (0.0, z0) for m in mm)
    tops = []
    for x in np.linspace(0.45, 0.62, 9) * length:
        cuts = crossings(mm, float(x), 0)
        if len(cuts):
            tops.append(float(min((c[1] for c in cuts if c[1] - c[0] > 0.01 * length), default=cuts[-1, 1])))
    low_top = float(np.median(tops)) if tops else 0.0
    fin = find_fin(mm, length, low_top)

    def ink(x: Floats, z: Floats) -> Floats:
        return frame.ink(sheet.dark, x, z)

    body = find_body_side(mm, length, fin, ink, pen_mm=sheet.pen_px * frame.mm_per_px)
    return frame, mm, body, fin


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
    track = follow(rings, 1, start, first, inner=start - 1.2 * (top - low_top), tip=top, step=step)
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


def find_body_side(
    rings: tuple[Floats, ...], length: float, fin: Surface | None, ink: object, *, pen_mm: float
) -> Body | None:
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
    thick = high - low
    deep = float(np.median(thick[(x > 0.1 * length) & (x < 0.6 * length)]))
    # gear: a short hump below; struts, a wing's section or a cover likewise above
    for sign, edge, seen in ((-1.0, low, seen_low), (1.0, high, seen_high)):
        e = np.interp(even, x, sign * edge)
        if sign > 0 and fin is not None:
            e[even > float(fin.lead[0])] = np.interp(float(fin.lead[0]), even, e)
        proud = e - ndimage.grey_opening(e, size=(160,), mode="nearest")
        short = e - ndimage.grey_opening(e, size=(68,), mode="nearest")
        label, count = ndimage.label(proud > 0.004 * length)
        for k in range(1, count + 1):
            mine = ndimage.binary_dilation(label == k, iterations=5)
            under = line_under(even, e, mine, ink, length, pen_mm=pen_mm, sign=sign)
            at = np.interp(x, even, mine.astype(float)) > 0.3
            if under is not None:  # the body's own line is drawn on below it
                edge[at] = sign * np.interp(x[at], even, under)
        if sign > 0:  # without such a line a cabin is the body's own; what stands up like a mast is not
            hump = ndimage.binary_dilation(proud > 0.9 * deep, iterations=8)
        else:
            hump = ndimage.binary_dilation(short > 0.014 * length, iterations=6)
            hump &= ndimage.binary_dilation(short > 0.002 * length, iterations=4)
        e = np.interp(even, x, sign * edge)
        still = e - ndimage.grey_opening(e, size=(160 if sign > 0 else 68,), mode="nearest")
        hump &= ndimage.binary_dilation(still > 0.002 * length, iterations=6)
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
    low = bridge(x, low, seen_low)
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
            high, _ = follow_lines(x, high, ~tail, ink, length, symmetric=False)
        seen_high |= tail
    high = bridge(x, high, seen_high)
    first = [int(np.nonzero(seen)[0][0]) for seen in (seen_low, seen_high)]
    middle = 0.5 * float(low[max(first)] + high[max(first)])
    low, high = (_to_nose(x, v, k, middle) for v, k in zip((low, high), first, strict=True))
    post = stern_post(x, low, high, fin, ink, length, pen_mm=pen_mm)
    if post < length:
        keep = x < post - 0.002 * length
        aft = keep & (x > post - 0.08 * length) & (x < post - 0.006 * length)
        if aft.sum() > 3:
            ends = [float(np.polyval(np.polyfit(x[aft], v[aft], 1), post)) for v in (low, high)]
            low, high = np.r_[low[keep], ends[0]], np.r_[high[keep], max(ends[1], ends[0])]
            x = np.r_[x[keep], post]
            seen_low, seen_high = np.r_[seen_low[keep], True], np.r_[seen_high[keep], True]
    return Body(x=x, low=low, high=high, seen=(seen_low & seen_high).astype(np.float64))


def _to_nose(x: Floats, edge: Floats, first: int, middle: float) -> Floats:
    """An edge carried forward from the first station where it is seen: as the power of x its slope there says."""
    start = float(x[first])
    near = (x >= start) & (x <= 2.0 * start + 1e-9)
    high = np.abs(edge - middle)
    if first < 3 or near.sum() < 4 or high[near].min() <= 0.0:
        return edge
    power = float(np.clip(np.polyfit(np.log(x[near]), np.log(high[near]), 1)[0], 0.0, 1.0))
    ahead = x < start
    out = edge.copy()
    out[ahead] = middle + (edge[first] - middle) * (x[ahead] / start) ** power
    return out


def stern_post(
    x: Floats, low: Floats, high: Floats, fin: Surface | None, ink: object, length: float, *, pen_mm: float
) -> float:
    """Where the body ends before a rudder that reaches down behind it; `length` where there is no such post. [mm]

    The post is a line drawn upright from the body's lower edge to well up in the fin. A panel line in the body
    or a rudder's hinge above it does one of both only.
    """
    if fin is None or not callable(ink):
        return length
    top = float(fin.station[-1])
    at = np.arange(max(0.86 * length, float(fin.lead[0])), 0.985 * length, 0.0008 * length)
    if at.size < 8:
        return length
    foot, head = np.interp(at, x, low), np.interp(at, x, high)

    def cover(z0: Floats, z1: Floats) -> Floats:
        share = np.linspace(0.0, 1.0, 40)
        z = z0[:, None] + share[None, :] * (z1 - z0)[:, None]

        def drawn(shift: float) -> Floats:
            return np.asarray(np.clip(ink(np.repeat(at[:, None] + shift, 40, 1), z), 0.0, 1.0))

        reach = 1.3 * pen_mm + 0.002 * length
        ridge = drawn(0.0) - np.maximum(drawn(reach), drawn(-reach))
        return np.asarray((ridge > 0.25).mean(1))

    edge = 0.9 * pen_mm + 0.001 * length
    body = np.where(head - foot > 3.0 * edge, cover(foot + edge, np.maximum(head - edge, foot + edge)), 0.0)
    above = cover(head + edge, head + 0.55 * (top - head))
    both = np.where((body > 0.75) & (above > 0.75), body + above, 0.0)
    return float(at[int(both.argmax())]) if both.any() else length


def line_under(
    x: Floats, edge: Floats, hump: Mask, ink: object, length: float, *, pen_mm: float, sign: float
) -> Floats | None:
    """The line drawn on below a hump of an edge, from end to end, or None.

    Parameters
    ----------
    x, edge : ndarray, shape (n,)
        The edge counted outward (z of an upper edge, -z of a lower one), evenly spaced. [mm]
    hump : where it is looked for; the edge's own line may be followed at its ends.
    pen_mm : stroke width to expect.

    Notes
    -----
    The strongest path of pen strokes that stays on or within the edge, no steeper than 0.8. It counts only where
    it runs well within the edge, is drawn nearly throughout, and leaves and joins the edge without a kink: a wing's
    section under a cabin does not, nor do hatching and windows.
    """
    ks = np.nonzero(hump)[0]
    if ks.size < 8 or not callable(ink):
        return None
    step = 0.0025 * length
    xs = np.arange(float(x[ks[0]]), float(x[ks[-1]]) + 0.5 * step, step)
    top = np.interp(xs, x, edge)
    lift = 0.001 * length
    z = np.arange(min(top[0], top[-1]) - 0.035 * length, float(top.max()) + 2.0 * lift, lift)
    xx, zz = np.repeat(xs[:, None], z.size, 1), np.repeat(z[None, :], xs.size, 0)
    reach = 1.3 * pen_mm + 1.2 * lift

    def drawn(shift: float) -> Floats:
        return np.asarray(np.clip(ink(xx, sign * (zz + shift)), 0.0, 1.0))

    ridge = drawn(0.0) - 0.5 * (drawn(reach) + drawn(-reach))
    ridge = np.clip(ridge / 0.45, 0.0, 1.0)
    own = np.abs(zz - top[:, None]) < 0.004 * length
    e = np.where(own, 0.8, ridge)  # the edge itself is drawn; what runs within it is preferred
    e[zz > top[:, None] + 0.004 * length] = -2.0
    for end, level in ((0, top[0]), (-1, top[-1])):
        e[end, np.abs(z - level) > 0.006 * length] = -50.0
    path = _strongest(e)
    got = z[path]
    inner = got < top - 0.007 * length
    if inner.sum() < 0.03 * length / step:
        return None
    first, last = np.nonzero(inner)[0][[0, -1]]
    strength = ridge[np.arange(len(xs)), path][first : last + 1] > 0.5
    ends = max(5, strength.size // 6)
    if strength.mean() < 0.85 or strength[:ends].mean() < 0.5 or strength[-ends:].mean() < 0.5:
        return None
    if max(_kink(got, int(first), -1), _kink(got, int(last), 1)) > 0.2 * step:
        return None
    from scipy import ndimage

    got = np.where(inner, got, top)
    return np.asarray(np.interp(x, xs, ndimage.gaussian_filter1d(got, 1.5)))


def _kink(path: Floats, at: int, out: int) -> float:
    """By how much a path's rise a step changes where it leaves the edge; 0 where too little of the edge is there."""
    within = path[at : at + 10] if out < 0 else path[max(0, at - 9) : at + 1]
    without = path[max(0, at - 14) : max(0, at - 4)] if out < 0 else path[at + 5 : at + 15]
    if len(without) < 5 or len(within) < 5:
        return 0.0
    rise = [float(np.polyfit(np.arange(len(p)), p, 1)[0]) for p in (within, without)]
    return abs(rise[0] - rise[1])


def _strongest(e: Floats) -> npt.NDArray[np.int64]:
    """Columns' path of most ink that moves two rows a column at most, each move costing a little."""
    total = e.copy()
    came = np.zeros(e.shape, dtype=np.int64)
    rows = np.arange(e.shape[1])
    moves = (-2, -1, 0, 1, 2)
    cost = (0.15, 0.06, 0.0, 0.06, 0.15)
    for i in range(1, len(e)):
        last = np.pad(total[i - 1], 2, constant_values=-1e9)
        prev = np.stack([last[2 - k : 2 - k + rows.size] - c for k, c in zip(moves, cost, strict=True)])
        k = prev.argmax(0)
        total[i] += np.take_along_axis(prev, k[None], 0)[0]
        came[i] = np.clip(rows - (k - 2), 0, rows.size - 1)
    path = np.empty(len(e), dtype=np.int64)
    path[-1] = int(total[-1].argmax())
    for i in range(len(e) - 1, 0, -1):
        path[i - 1] = came[i, path[i]]
    return path
