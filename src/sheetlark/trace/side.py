"""The side view: fin, body, and what is taken off the body (gear, a wing's section, a cover)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

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
    from scipy import ndimage

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
        col, row = frame.to_px(x, z)
        return np.asarray(ndimage.map_coordinates(sheet.dark, [row, col], order=1, mode="constant"))

    body = find_body_side(mm, length, fin, ink)
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
