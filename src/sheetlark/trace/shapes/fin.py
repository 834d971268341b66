"""The fin of the side view: followed from the middle up and down, its leading edge, its foot on the body and behind it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.body import Body
from sheetlark.trace.shapes.contour import crossings, crossings_each
from sheetlark.trace.shapes.edges import strongest
from sheetlark.trace.shapes.inkgrid import Filling, Ink
from sheetlark.trace.shapes.surface import Surface, follow

_STRAIGHT = (
    0.003  # of the length, the most a dorsal strip's edge and the body's ahead of it are off a straight line
)
_RISES, _TURNS = 0.05, 0.08  # slope of a dorsal strip at the least, and by how much more than the body's
_FILLET = (
    0.01  # of the length, how far above the back going straight on a curved one's upper end is at the least
)
_SMOOTH = 0.0015  # of the length, the most a curved one or the back ahead of it is off its curve or line
_BENT = 0.04  # or of its height
_SLOPES = 0.2  # of a body's back ahead of a fin, at the most
_WALL = 0.5  # slope of a cockpit's or a canopy's end, at the least
_FLAT = 1.2  # slope up to which a fin's leading edge may be a fillet's
_FOOT = 0.15  # and how much steeper it is there
_BENDS = 1.5, 2.0, 3.0  # powers of the way along a curved one as which it may rise
_ROOTED = 0.9  # share of a root's line inside the body, and of both edges down to it, that is inked
_DEEPEST = 0.08  # of the span, the deepest root inside the body
_LEAP = 0.02  # of the length, from one station to the next: a fin's leading edge leaps aft nowhere on its way down
_BUMP = 1.5  # chords that what a fin is followed across may stand out of it: the body reaches further
_BEHIND = 0.008  # of the span, how far behind the body's end a rudder reaches at the least
_LOWEST = 0.06  # of the span, how far below the body's end its foot may reach
_STEP = 0.0015  # of the span, between heights at which it is followed
_LEAPS = 0.012  # of the span: where its edge leaps further from one to the next, something else begins
_HEAD = 0.4  # share of a fin's head that is inked at the least, a break in it or not


def find_fin(rings: tuple[Floats, ...], length: float, low_top: float) -> Surface | None:
    """The fin of a side view; rings in mm, (x aft, z up). Stations are heights."""
    rings = tuple(r for r in rings if r[:, 1].min() < low_top + 0.03 * length)  # lettering stands clear above
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
    inner = start - 1.2 * (top - low_top)
    # a thin stern, with a rudder's foot below it, stands out of the fin's leading edge for a short way, but far
    track = follow(rings, 1, start, first, inner=inner, tip=top, step=step, bump=_BUMP)
    # lower end of the leading edge: where it turned into the body's upper line
    ok = np.isfinite(track.lead)
    if ok.sum() < 4:
        return None
    stations = track.station
    # below a thin stern a rudder's own front edge comes after the body: a fin's edge leaps aft nowhere
    below = ok & (stations < start) & (np.r_[np.diff(track.lead), 0.0] < -_LEAP * length)
    ok &= stations > stations[below].max(initial=-np.inf)
    base = float(stations[ok].min())
    lead = np.where(ok, track.lead, np.nan)
    known = np.isfinite(track.trail)
    trail = np.interp(stations, stations[known], track.trail[known])
    # below a section across it the trailing edge goes on as it came down
    near = known & (stations < stations[known].min() + 0.3 * (top - stations[known].min()))
    if near.sum() > 8:
        down = np.polyfit(stations[near], track.trail[near], 1)
        trail = np.where(stations < stations[known].min(), np.polyval(down, stations), trail)
    use = stations >= base
    s = np.r_[stations[use], top]
    found = Surface(
        station=s,
        lead=np.r_[lead[use], lead[use][-1]],
        trail=np.r_[trail[use], trail[use][-1]],
        lead_root=base,
        trail_root=base,
        asymmetry=0.0,
    )
    return without_tailplane(found, length)


def without_tailplane(fin: Surface, length: float) -> Surface:
    """The fin without a tailplane's section drawn across its head, up to that section's middle.

    Going up, a fin's edges come together; a section's ends jump out ahead of one or behind the other, over no more
    than the height of a section.
    """
    z, top = fin.station, float(fin.station[-1])
    jump, near = 0.012 * length, 0.012 * length
    for i in np.nonzero((z > z[0] + 0.4 * (top - z[0])) & (z > top - 0.06 * length))[0]:
        below = (z < z[i] - near) & (z > z[i] - near - 0.1 * length)
        if below.sum() < 6:
            continue
        above = z[i] + np.array([0.0, 0.3, 0.6]) * (top - z[i])
        edges = [np.polyfit(z[below], e[below], 1) for e in (fin.lead, fin.trail)]
        ahead = np.polyval(edges[0], above) - np.interp(above, z, fin.lead)
        behind = np.interp(above, z, fin.trail) - np.polyval(edges[1], above)
        # an edge that only grows steeper, as above a fillet, still leans the same way
        lead_at, trail_at = (float(np.interp(z[i] - near, z, e)) for e in (fin.lead, fin.trail))
        ahead = np.minimum(ahead, jump + lead_at - np.interp(above, z, fin.lead))
        behind = np.minimum(behind, jump + np.interp(above, z, fin.trail) - trail_at)
        if max(ahead.min(), behind.min()) < jump:
            continue
        head = z[i] + 0.5 * (top - z[i])
        keep = z < z[i] - near
        lead, trail = (float(np.polyval(e, head)) for e in edges)
        if trail - lead < 0.01 * length:
            return fin
        return replace(
            fin,
            station=np.r_[z[keep], head],
            lead=np.r_[fin.lead[keep], lead],
            trail=np.r_[fin.trail[keep], trail],
        )
    return fin


def with_lead(fin: Surface, ink: Ink, length: float, *, pen_mm: float) -> Surface:
    """The fin with the leading edge drawn ahead of what was found, if there is one.

    Where a break opens the face between leading edge and hinge, the silhouette begins at the hinge. An edge drawn
    ahead of it ends where the fin does; an extension line goes on above.
    """
    low, top = float(fin.station[0]), float(fin.station[-1])
    z = np.arange(low + 0.008 * length, top - 0.012 * length, 0.002 * length)
    if z.size < 15:
        return fin
    hinge = np.interp(z, fin.station, fin.lead)
    ahead = np.arange(0.015 * length, 0.2 * length, 0.001 * length)
    x, up = hinge[:, None] - ahead, np.repeat(z[:, None], ahead.size, 1)
    reach = 1.3 * pen_mm + 0.0015 * length
    dark = np.clip(ink(x, up), 0.0, 1.0)
    ridge = np.clip((dark - 0.5 * (ink(x - reach, up) + ink(x + reach, up))) / 0.42, 0.0, 1.0)
    path = strongest(ridge)
    got = x[np.arange(z.size), path]
    on = ridge[np.arange(z.size), path] > 0.5
    rise = np.polyfit(z[-12:], got[-12:], 1)
    above = top + np.linspace(0.015, 0.05, 12) * length
    on_line = np.asarray(np.polyval(rise, above), dtype=np.float64)
    beyond = np.max([ink(on_line + k * pen_mm, above) for k in (-1.0, 0.0, 1.0)], axis=0)
    if on.mean() < 0.75 or min(on[:10].mean(), on[-10:].mean()) < 0.4 or (beyond > 0.4).mean() > 0.5:
        return fin
    own = max(float(np.median(ink(np.interp(z, fin.station, e), z))) for e in (fin.lead, fin.trail))
    if float(np.median(dark[np.arange(z.size), path])) < 0.5 * own:
        return fin  # the paper's fold
    # a strut to an upper wing ends as high, but nothing joins it to the fin's head
    head = np.linspace(float(np.polyval(rise, top)), float(fin.lead[-1]), 60)
    heights = top + np.arange(-0.012, 0.0121, 0.001)[:, None] * length
    joins = ink(np.repeat(head[None, :], heights.size, 0), np.repeat(heights, head.size, 1)).max(0)
    if (joins > 0.4).mean() < _HEAD:
        return fin
    s = np.r_[low, z, top]
    lead = np.r_[got[0] - (z[0] - low) * (got[5] - got[0]) / (z[5] - z[0]), got, np.polyval(rise, top)]
    return replace(fin, station=s, lead=lead, trail=np.asarray(np.interp(s, fin.station, fin.trail)))


def with_dorsal(fin: Surface, rings: tuple[Floats, ...], length: float) -> Surface:
    """The fin with the strip that runs forward from its foot along the body's back, straight or curved, where there is one.

    A straight one's upper edge rises towards the fin, and meets the body's upper line at a bend the wrong way round for
    a body; a curved one, a fillet, leaves it smoothly. Its stations lie below `lead_root`.
    """
    foot, height = float(fin.lead[0]), float(fin.station[0])
    step = 0.002 * length
    x = np.arange(foot - 0.006 * length, foot - 0.28 * length, -step)
    top = np.full(x.size, np.nan)
    last = height
    for i, cuts in enumerate(crossings_each(rings, x, 0)):
        if not len(cuts):
            break
        top[i] = cuts[int(np.abs(cuts[:, 1] - last).argmin()), 1]
        if abs(top[i] - last) > 0.02 * length:  # a canopy, or a wing's strut
            break
        last = float(top[i])
    whole = int(np.isfinite(top).sum())
    reach = round(0.06 * length / step)
    best: tuple[float, int, float] | None = None
    for k in range(round(0.035 * length / step), whole - reach):
        strip, ahead = slice(0, k + 1), slice(k, k + reach)
        lines = [np.polyfit(x[s], top[s], 1) for s in (strip, ahead)]
        fits = zip(lines, (strip, ahead), strict=True)
        off = [float(np.abs(np.polyval(line, x[s]) - top[s]).max()) for line, s in fits]
        rise, level = (float(line[0]) for line in lines)
        if max(off) > _STRAIGHT * length or rise < _RISES or rise - level < _TURNS:
            continue
        if best is None or sum(off) < best[0]:
            best = (sum(off), k, rise)
    # the lower part of the leading edge is a fillet's too
    flat = int(np.r_[np.diff(fin.station) > _FLAT * np.diff(fin.lead), True].argmax()) + 1
    up = np.arange(fin.lead[flat - 1], foot, -step)
    risen = np.interp(up, fin.lead[:flat], fin.station[:flat])
    begun = _fillet(np.r_[up, x[:whole]], np.r_[risen, top[:whole]], foot, reach, length) - up.size
    if begun > 0:
        low = min(float(top[begun]), height - 0.1 * step)
        back = np.maximum.accumulate(np.r_[top[begun::-1], height]), np.r_[x[begun::-1], foot]
    elif best is not None and abs(top[0] + best[2] * 0.006 * length - height) <= 0.012 * length:
        low = float(top[best[1]])
        back = np.array([low, height]), np.array([float(x[best[1]]), foot])
    else:
        return fin
    s = np.linspace(low, height, 24, endpoint=False)
    edge = np.interp(s, *back)
    return replace(
        fin,
        station=np.r_[s, fin.station],
        lead=np.r_[edge, fin.lead],
        trail=np.r_[np.full(s.size, fin.trail[0]), fin.trail],
    )


def _fillet(x: Floats, top: Floats, foot: float, reach: int, length: float) -> int:
    """Where a curved strip begins that rises along the body's back to a fin's foot, as an index; 0 where none does.

    A body's back is straight or bends down towards the tail. What bends up, ever more, up to the fin's foot is a fillet.

    Parameters
    ----------
    x, top : ndarray, shape (n,)
        Stations from the flatter part of the fin's leading edge forward, and the upper line there. [mm]
    foot : float
        Where the fin's leading edge, as followed, comes down. [mm]
    reach : int
        Over how many stations ahead of a strip the back is straight.
    """
    best, begun = np.inf, 0
    walls = np.flatnonzero(np.abs(top[4:] - top[:-4]) > _WALL * np.abs(x[4:] - x[:-4]))
    beyond = walls[x[walls] < foot]
    end = int(beyond[0]) if beyond.size else x.size
    for k in range(reach // 2, end - reach):
        back = slice(k, k + reach)
        line = np.polyfit(x[back], top[back], 1)
        off = top[: k + 1] - np.polyval(line, x[: k + 1])
        out = float(np.abs(np.polyval(line, x[back]) - top[back]).max())
        if off[0] < _FILLET * length or out > _SMOOTH * length or abs(line[0]) > _SLOPES:
            continue
        along = x[: k + 1] - x[k]
        for power in _BENDS:
            bend = along**power
            steep = float(bend @ off / (bend @ bend))
            missed = float(np.abs(steep * bend - off).max())
            if (
                missed > max(_SMOOTH * length, _BENT * off[0])
                or power * steep * along[0] ** (power - 1.0) < _FOOT
            ):
                continue
            if (missed + out) / off[0] < best:  # a part of a curve is one too: by its height
                best, begun = (missed + out) / off[0], k
    return begun


def drawn_root(fin: Surface, body: Body, ink: Ink, *, span: float, pen_mm: float) -> Floats | None:
    """A fin's straight root drawn inside the body, where all lines are drawn: its two ends; None where there is none. [mm]

    Both edges go on below the body's upper line, and end at the root's. A filling is no line, and may hide all of them.

    Returns
    -------
    ndarray, shape (2, 2)
        (x, z) of the leading and of the trailing edge's lower end.
    """
    if _stripped(fin):
        return None
    filling = stern_filling(body.x, body.low, body.high, fin, ink)
    if filling.there and filling.hides:
        return None
    ink = filling.lines_alone(ink)
    step = 0.35 * pen_mm
    ends = []
    for edge in (fin.lead, fin.trail):
        near = _lower_part(fin)
        if near.sum() < 4:
            return None
        lean = np.polyfit(fin.station[near], edge[near], 1)
        z = float(fin.station[0]) + 0.01 * span - np.arange(0.0, (_DEEPEST + 0.03) * span, step)
        x = np.asarray(np.polyval(lean, z), dtype=np.float64)
        on = np.max([ink(x + k * pen_mm, z) for k in (-1.0, -0.5, 0.0, 0.5, 1.0)], axis=0) > 0.4
        below = np.interp(x, body.x, body.high) - z
        inside = below > max(2.5 * pen_mm, 0.008 * span)
        if not inside.any():
            return None
        # from the body's own line on: close below it a section's line alone would be all of a short edge
        first = int((below > pen_mm).argmax())
        share = np.cumsum(on[first:]) / np.arange(1, on.size - first + 1)
        ends.append(np.c_[x, z][first + np.flatnonzero((share >= _ROOTED) & (on & inside)[first:])])
    if not ends[0].size or not ends[1].size:
        return None
    best, found = 0.0, None
    for a in ends[0]:
        line = np.linspace(0.0, 1.0, 60)[None, :, None]
        places = a + line * (ends[1][:, None, :] - a)
        dark = np.max([ink(places[..., 0], places[..., 1] + k * pen_mm) for k in (-0.3, 0.0, 0.3)], axis=0)
        inked = (dark > 0.4).mean(1) + 0.05 * np.clip(dark, 0.0, 1.0).mean(1)
        k = int(inked.argmax())
        if inked[k] > best:
            best, found = float(inked[k]), np.array([a, ends[1][k]])
    return found if best >= _ROOTED + 0.04 else None


def stern_filling(x: Floats, low: Floats, high: Floats, fin: Surface | None, ink: Ink) -> Filling:
    """How dark the stern or the fin is between its lines, from the body's edges over x. [mm]"""
    share = np.array([0.3, 0.5, 0.7])[:, None]
    aft = slice(x.size // 2, -x.size // 12)
    places = [(np.tile(x[aft], 3), (low + share * (high - low))[:, aft].ravel())]
    if fin is not None:
        places.append(((fin.lead + share * (fin.trail - fin.lead)).ravel(), np.tile(fin.station, 3)))
    return Filling(
        dark=max(float(np.percentile(ink(a, b), 30)) for a, b in places),
        lines=float(np.median(np.r_[ink(x[aft], low[aft]), ink(x[aft], high[aft])])),
    )


def _stripped(fin: Surface) -> bool:
    """Whether a strip runs forward from the fin's foot."""
    return bool((fin.station < fin.lead_root).sum() > 3)


def _lower_part(fin: Surface) -> Mask:
    """Stations of the fin's lower part, clear of its foot."""
    z = fin.station
    above = fin.lead_root if _stripped(fin) else float(z[0])
    tall = float(z[-1]) - above
    return np.asarray((z > above + 0.06 * tall) & (z < above + 0.36 * tall))


def fin_ring(
    fin: Surface, body: Body | None, span: float, root: Floats | None = None, foot: Floats | None = None
) -> Floats:
    """A fin's closed outline: its leading edge carried down to the body's upper line, a rudder's foot behind the body.

    root : ndarray, shape (2, 2), optional
        Both ends of a root that is drawn inside the body. [mm]
    foot : ndarray, shape (n, 2), optional
        The rudder's outline behind the body, from the trailing edge round to the stern post's upper end. [mm]
    """
    z, lead = fin.station, fin.lead.copy()
    above = fin.lead_root if _stripped(fin) else float(z[0])
    tall = float(z[-1]) - above
    near = _lower_part(fin)
    lean = np.polyfit(z[near], lead[near], 1) if near.sum() > 3 else None
    if lean is not None:  # just above a section across its foot the edge may have swerved
        lowest = (z >= above) & (z < above + 0.06 * tall)
        swerved = lowest & (np.abs(lead - np.polyval(lean, z)) > 0.002 * span)
        lead[swerved] = np.polyval(lean, z[swerved])
    ring = np.vstack([np.c_[lead, z], np.c_[fin.trail, z][::-1]])
    if root is not None:
        return np.vstack([ring, root[::-1]])
    if body is None:
        return ring
    down = np.linspace(0.0, 0.06 * span, 120)
    reached = lead[0] - (0.0 if lean is None else lean[0]) * down
    gap = z[0] - down - np.interp(reached, body.x, body.high)
    front = ring[:1]
    if gap[0] > 0.0 and (gap <= 0.0).any():
        k = int((gap <= 0.0).argmax())
        front = np.array([[reached[k], z[0] - down[k]]])
    begins = float(ring[-1, 0] if foot is None else foot[-1, 0])
    xs = np.linspace(begins, front[0, 0], 12)
    along = np.c_[xs, np.interp(xs, body.x, body.high)]
    return np.vstack([ring, along] if foot is None else [ring, foot, along])


def rudder_foot(rings: tuple[Floats, ...], fin: Surface, body: Body, *, span: float) -> Floats | None:
    """The rudder's outline below the fin's lowest station; None where none reaches down behind the body.

    Parameters
    ----------
    rings : tuple of ndarray, shape (n, 2)
        The side view's outlines. [mm]

    Returns
    -------
    ndarray, shape (m, 2)
        (x, z) down its trailing edge, along its foot and up to the body's upper corner. [mm]
    """
    begins = float(fin.station[0])
    if float(fin.trail[0]) < float(body.x[-1]) + _BEHIND * span:
        return None
    low, high = float(body.low[-1]), float(body.high[-1])
    heights = np.arange(begins - 0.5 * _STEP * span, min(low, begins) - _LOWEST * span, -_STEP * span)
    front: list[tuple[float, float]] = []
    back: list[tuple[float, float]] = []
    last = float(fin.trail[0])
    for z in heights:
        cuts = [c for c in crossings(rings, float(z), 1) if c[1] > body.x[-1]]
        cut = min(cuts, key=lambda c: abs(c[1] - last), default=None)
        if cut is None or (abs(float(cut[1]) - last) > _LEAPS * span and len(back) > 2):
            break
        last = float(cut[1])
        inside = body.x[(body.low <= z) & (body.high >= z)]
        at = float(inside.max()) if inside.size else float(cut[0])
        front.append((max(at, float(cut[0])), float(z)))
        back.append((last, float(z)))
    if len(back) < 3:
        return None
    shown = [p for p in front if p[1] <= high]
    return np.array([*back, *(shown or front[-1:])[::-1]])
