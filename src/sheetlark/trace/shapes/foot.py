"""A body's upper line below a fin, whose foot is often left undrawn."""

from __future__ import annotations

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.body import bridge
from sheetlark.trace.shapes.edges import strongest
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.surface import Surface

_INKED = 0.85  # share of a line that must be inked
_CURVED = 0.0015  # of the length, how far an edge is off a straight line at least where it is plainly curved
_BARE = 0.3  # share of an edge below a fin that is inked where it is left undrawn
_MISSES = 0.003  # of the length, and a pen: how far an edge may miss the foot of the fin's trailing edge
_FOOT, _DEEP = (
    0.8,
    2.0,
)  # pens behind that foot the stern's edge is clear of it, and how deep it is there at the least
_NEXT = (
    0.04  # of the length ahead of a fin, where an edge's direction is taken from if it is odd further ahead
)
_ODD = 0.006  # of the length, how far off a straight line that is
_JUTS = 0.008  # of the length, by which a trailing edge leaps where a section lies across it
_EITHER = np.array([-1.0, 0.0, 1.0])
_LEGS = 5  # straight stretches a line below a fin is followed by at the most
_MEETS = 0.025  # of the length: nearer to the edge than that the line begins, where a section or a break hides the rest
_AS_FAR = (
    0.95  # of the way of the one that finds ink furthest: of those that come so far the straightest is taken
)
_APART = 0.012  # of the length: nearer to the edge going straight on, that edge finds the line by itself


def under_fin(
    x: Floats,
    high: Floats,
    drawn: Mask,
    start: float,
    ink: Ink,
    length: float,
    *,
    floor: Floats,
    pen_mm: float,
    tailless: bool,
    stern: Floats,
) -> tuple[Floats, Mask, bool]:
    """The upper edge below the fin from `start` on, where it is drawn, and whether it is drawn all the way to the stern.

    Where the fin's trailing edge comes down there is the body's edge. A line drawn to there is it, and what is left undrawn
    runs smoothly to there.

    Parameters
    ----------
    x, high, drawn : ndarray, shape (n,)
        Stations, the upper edge as followed, and where it is drawn. [mm]
    stern : ndarray, shape (n,)
        The upper edge behind the foot of the fin's trailing edge, nan ahead of that and where none is seen. [mm]
    """
    below, inked = below_fin(
        x, high, drawn, start, ink, length, floor=floor, pen_mm=pen_mm, tailless=tailless
    )
    behind = np.isfinite(stern)
    if not behind.any():
        return below, inked, False
    first = int(behind.argmax())
    covered = (x > start) & (x < x[first])
    if not covered.any():
        return below, inked, False
    for edge, on in ((high, drawn), (below, inked)):
        meets = abs(float(edge[first] - stern[first])) < pen_mm + _MISSES * length
        if meets and on[covered].mean() > _INKED:
            return np.where(behind, stern, edge), on | behind, True
    if inked[covered].mean() > _BARE:
        return below, inked, False
    sure = behind | (drawn & (x < start))
    return bridge(x, np.where(behind, stern, high), sure), sure, False


def below_fin(
    x: Floats,
    high: Floats,
    drawn: Mask,
    start: float,
    ink: Ink,
    length: float,
    *,
    floor: Floats,
    pen_mm: float,
    tailless: bool,
) -> tuple[Floats, Mask]:
    """The upper edge with what it is below the fin from `start` on, and where it is drawn."""
    below, seen = _straight_on(x, high, drawn, start, ink, length, floor=floor)
    reached = start
    for _ in range(_LEGS):  # a curved line leaves the straight one: on from there in its new direction
        last = float(x[seen & (x > start)].max(initial=start))
        if last < reached + 0.02 * length or last > 0.97 * length:
            break
        reached = last
        below, seen = _straight_on(x, below, seen, reached, ink, length, floor=floor)
    along = np.gradient(x) * (x > start)  # stations lie closer together toward the end
    if tailless and float(along[seen].sum()) < 0.6 * float(along.sum()):
        line = foot_line(x, high, start, ink, length, floor=floor, pen_mm=pen_mm)
        if line is not None:
            return line, drawn | (x > start)
    return below, seen


def _straight_on(
    x: Floats, high: Floats, drawn: Mask, start: float, ink: Ink, length: float, *, floor: Floats
) -> tuple[Floats, Mask]:
    """The upper edge below a fin: on in its own direction, along ink where it is drawn close by, above the `floor`.

    A fin's foot is often left undrawn; then the tailplane's section and other lines must not draw the edge aside.
    """
    near = drawn & (x > start - 0.12 * length) & (x < start - 0.004 * length)
    under = x > start
    if near.sum() < 9 or not under.any():
        return high, drawn
    xs = np.arange(start, length, 0.002 * length)
    ways = _directions(x, high, drawn & (x < start - 0.004 * length), start, length)
    tried = [_along_ink(xs, way, start, ink, length, floor=np.interp(xs, x, floor)) for way in ways]
    furthest = max(k for _, k, _ in tried)
    z, k, _ = min((t for t in tried if t[1] >= _AS_FAR * furthest), key=lambda t: t[2])
    seen = np.where(under, x < (xs[k - 1] if k else start), drawn)
    return np.where(under, np.interp(x, xs, z), high), seen


def _along_ink(
    xs: Floats, line: Floats, start: float, ink: Ink, length: float, *, floor: Floats
) -> tuple[Floats, int, float]:
    """An edge along the ink close to a line, for how many stations there is some, and how much it turns; from there on straight."""
    from scipy import ndimage

    straight = np.polyval(line, xs)
    off = np.linspace(-1.0, 1.0, 25) * (0.003 * length + 0.05 * (xs - start))[:, None]
    dark = np.clip(ink(np.repeat(xs[:, None], 25, 1), straight[:, None] + off), 0.0, 1.0)
    dark = ndimage.uniform_filter1d(dark, 5, axis=0, mode="nearest")  # noise is no line
    dark[straight[:, None] + off < floor[:, None]] = 0.0
    path = strongest(dark - 0.3 * np.linspace(-1.0, 1.0, 25) ** 2)
    on = dark[np.arange(xs.size), path] > 0.4
    ahead = np.convolve(np.r_[on, np.zeros(10)], np.ones(10) / 10, mode="valid")[: xs.size]  # of the next 2 %
    stops = np.nonzero(ahead < 0.3)[0]
    k = int(stops[0]) if stops.size else xs.size
    k = k if k > 8 and on[:k].mean() > 0.75 else 0
    z = straight.copy()
    if k:
        z[:k] += ndimage.gaussian_filter1d(off[np.arange(k), path[:k]], 2.0, mode="nearest")
        tail = slice(max(0, k - 30), k)
        rise = (
            float(np.polyfit(xs[tail], z[tail], 1)[0])
            if k > 12
            else float(np.polyval(np.polyder(line), start))
        )
        z[k:] = z[k - 1] + rise * (xs[k:] - xs[k - 1])
    return np.asarray(z, dtype=np.float64), k, float(np.abs(np.diff(z[:k], 2)).sum())


def _directions(x: Floats, high: Floats, ahead: Mask, start: float, length: float) -> tuple[Floats, ...]:
    """Coefficients of how an edge may go on from `start`: straight, and before that curved down where it is plainly so ahead."""
    near, wide = ahead & (x > start - 0.12 * length), ahead & (x > start - 0.22 * length)
    fits = [np.polyfit(x[wide], high[wide], n) for n in (1, 2)]
    off = [float(np.abs(np.polyval(f, x[wide]) - high[wide]).max()) for f in fits]
    curved = off[0] > _CURVED * length and off[1] < 0.3 * off[0] and fits[1][0] < 0.0
    straight = np.polyfit(x[near], high[near], 1)
    last = near & (x > start - _NEXT * length)
    if last.sum() > 8 and np.abs(np.polyval(straight, x[near]) - high[near]).max() > _ODD * length:
        straight = np.polyfit(x[last], high[last], 1)  # a cockpit's end lies ahead of that
    return (fits[1], straight) if curved else (straight,)


def foot_line(
    x: Floats, high: Floats, start: float, ink: Ink, length: float, *, floor: Floats, pen_mm: float
) -> Floats | None:
    """The upper edge with the straight line in it that is inked from a fin's foot to the stern; None where none is.

    On a tailless aeroplane nothing else is drawn there: with a tail, its section is.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Stations. [mm]
    high, floor : ndarray, shape (n,)
        The upper edge as far as it is known, going straight on below the fin; and what the line stays above. [mm]
    start : float
        Where the fin's leading edge comes down. [mm]
    """
    xs = np.arange(start, 0.985 * length, 0.002 * length)
    if xs.size < 12:
        return None
    before = float(np.interp(start - 0.005 * length, x, high))
    step = max(0.4 * pen_mm, 0.0015 * length)
    clear = 1.5 * pen_mm + 2.0 * step  # the lower edge is no line above it
    lowest = float(np.interp(start, x, floor)) + clear, float(np.interp(xs[-1], x, floor)) + clear
    if before < max(lowest):
        return None
    first = np.arange(lowest[0], before + 0.5 * step, step)
    last = np.arange(lowest[1], before + 0.02 * length, step)
    a, b = (m.ravel()[:, None] for m in np.meshgrid(first, last, indexing="ij"))
    share = ((xs - xs[0]) / (xs[-1] - xs[0]))[None, :]
    z = a + share * (b - a)
    inked = _inked(ink, xs + 0.0 * z, z, 0.5 * step * np.array([-1.0, 0.0, 1.0])).mean(1)
    k = int(inked.argmax())
    if inked[k] < _INKED:
        return None
    (left,), (right,) = a[k], b[k]
    slope = (right - left) / (xs[-1] - xs[0])
    line = left + slope * (x - xs[0])
    away = np.interp(xs, x, high) - z[k]
    beside = 2.0 * pen_mm + 2.0 * step
    if np.abs(away).max() < _APART * length:
        return None
    if _inked(ink, xs, z[k], np.array([-beside, beside])).mean() > 0.5:
        return None  # filling, or a hatched band
    # forward along the line as far as it is drawn below the edge
    ahead = np.arange(start, 0.3 * length, -0.002 * length)
    on = _inked(ink, ahead, np.interp(ahead, x, line), 0.5 * step * np.arange(-2.0, 3.0))
    lost = np.nonzero((np.convolve(on, np.ones(5), "same") < 2.5) | (np.interp(ahead, x, line - high) > 0.0))[
        0
    ]
    begins = float(ahead[lost[0]]) if lost.size else float(ahead[-1])
    if float(np.interp(begins, x, high - line)) > _MEETS * length:
        return None  # a wing section's lower line, or the foot of a fin drawn whole
    blend = np.clip((x - begins) / (0.03 * length) + 1.0, 0.0, 1.0)
    return np.asarray((1.0 - blend) * high + blend * line)


def from_stern(
    x: Floats,
    high: Floats,
    drawn: Mask,
    stern: float,
    start: float,
    ink: Ink,
    length: float,
    *,
    pen_mm: float,
) -> tuple[Floats, Mask]:
    """The upper edge with the straight line in it that is inked forward from where the stern stands free, if there is one.

    Parameters
    ----------
    x, high, drawn : ndarray, shape (n,)
        Stations, the upper edge, which may have left for a wing section's line, and where it is drawn. [mm]
    stern, start : float
        From where on the stern stands free behind the fin, and where the fin's leading edge comes down. [mm]

    Returns
    -------
    high, drawn : ndarray, shape (n,)
        The edge, and where it is drawn; without such a line below the fin only the free stern is.
    """
    foot = float(np.interp(stern, x, high))
    share = np.linspace(0.0, 1.0, 80)
    best, begins = _INKED, 0
    for i in np.flatnonzero(drawn & (x > 0.3 * length) & (x < start))[::4]:
        z = high[i] + share * (foot - high[i])
        on = float(_inked(ink, x[i] + share * (stern - x[i]), z, 0.4 * pen_mm * _EITHER).mean())
        if on >= best:  # of those inked alike the one nearest to the fin
            best, begins = on, int(i)
    between = (x > (x[begins] if begins else start)) & (x < stern)
    if not begins:
        return high, drawn & ~between
    line = high[begins] + (x - x[begins]) / (stern - x[begins]) * (foot - high[begins])
    return np.where(between, line, high), drawn | between


def _inked(ink: Ink, x: Floats, z: Floats, offsets: Floats) -> Mask:
    """Where there is ink at any of some distances above z."""
    return np.asarray(np.max([ink(x, z + off) for off in offsets], axis=0) > 0.4)


def below_covers(
    edge: Floats, covers: tuple[tuple[Floats, Floats], ...], *, pen_mm: float, length: float
) -> Mask:
    """Where a silhouette's edge is a cover's, over stations: the body's may lie below that."""
    tol = 0.6 * pen_mm + 0.0025 * length
    on = [(edge > bottom - tol) & (edge < top + tol) for top, bottom in covers]
    return np.asarray(np.any(on, axis=0)) if on else np.zeros(edge.size, dtype=bool)


def behind_foot(
    x: Floats,
    low: Floats,
    high: Floats,
    fin: Surface,
    length: float,
    covers: tuple[tuple[Floats, Floats], ...],
    *,
    pen_mm: float,
) -> Mask:
    """Where the silhouette behind the foot of a fin's trailing edge is the stern's: the fin comes down on the body's edge there.

    Nowhere, if it is no deeper than a stroke or two: that is a section's end, or the rudder's own foot.
    """
    z = fin.station  # below the root lies a strip along the body's back, which has no trailing edge
    low_part = (z >= fin.lead_root) & (z < fin.lead_root + 0.4 * (z[-1] - fin.lead_root))
    juts = np.abs(np.diff(fin.trail, prepend=fin.trail[0])) > _JUTS * length
    low_part &= ~np.logical_or.accumulate(juts & low_part)
    if low_part.sum() < 4:
        return np.zeros(x.size, dtype=bool)
    trail = np.polyval(np.polyfit(z[low_part], fin.trail[low_part], 1), high)
    stern = (x > np.maximum(trail, float(fin.lead[-1])) + _FOOT * pen_mm) & (x > 0.8 * length)
    stern &= (high - low > _DEEP * pen_mm) & ~below_covers(high, covers, pen_mm=pen_mm, length=length)
    stern &= high < fin.lead_root + 2.0 * pen_mm
    return stern if stern.sum() > 2 else np.zeros(x.size, dtype=bool)
