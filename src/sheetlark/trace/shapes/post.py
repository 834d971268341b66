"""A body's end in the side view: a stern post with a rudder behind it, or a step up to a tailplane or fin."""

from __future__ import annotations

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.surface import Surface

_LEAVES = (
    0.14  # of the length, how far ahead of a post the lower edge leaves for the rudder's foot at the most
)
_BEHIND = 0.7  # by how much more a post must be borne out that the top view has the body taper on behind
_INKED = 0.8  # share of the body's own line from there to the post that is inked


def step_up(x: Floats, low: Floats, high: Floats, length: float, *, overhung: bool = False) -> float:
    """Where the silhouette's lower edge steps up to a tailplane or fin that reaches on behind the body. [mm]

    The step takes half the body's depth or more within 0.8 % of the length; nearer to the end than 1.2 %, where a round
    stern rises as fast, all that lies behind it is above the body. `length` where there is none.

    overhung : only a fin can lie behind, and `high` is the body's own edge: a stern ends where it meets the fin's foot.
    """
    at = np.arange(0.85 * length, 0.998 * length, 0.0005 * length)
    before = np.interp(at - 0.002 * length, x, low)
    begins = np.minimum(at + 0.006 * length, 0.5 * (at + length))
    behind = np.array([np.interp(np.linspace(a, length, 30), x, low).min() for a in begins])
    depth = np.maximum(np.interp(at - 0.002 * length, x, high) - before, 0.004 * length)
    steps = np.nonzero(behind - before > np.where(at < 0.988 * length, 0.5, 1.5) * depth)[0]
    if not steps.size:
        return length
    first = int(steps[0])
    aft = x > at[first] - 0.002 * length
    over = np.nonzero(aft & (low > high))[0]
    further = np.interp(min(at[first] + 0.02 * length, length), x, low)
    if overhung and over.size and further > high[over[0]]:  # a round stern rises all the way to there
        return float(x[over[0]])
    near = np.linspace(at[first] - 0.002 * length, min(at[first] + 0.008 * length, length), 41)
    rise = np.diff(np.interp(near, x, low))
    return float(near[int(rise.argmax())])


def stern_post(
    x: Floats,
    low: Floats,
    high: Floats,
    drawn: Mask,
    own: Mask,
    fin: Surface | None,
    ink: Ink,
    length: float,
    *,
    pen_mm: float,
    wing_ends: float,
    tapers_to: float = 0.0,
) -> float:
    """Where the body ends before a rudder that reaches down behind it; `length` where there is no such post. [mm]

    Four signs, of which two must agree: an upright line in the body, one above it inside the fin, a lower edge that
    turns outward there into the rudder's foot, and an upper line that is drawn to there and no further. A panel line
    in the body or a rudder's hinge above it is one sign only, and an upper line drawn on speaks against a post.

    Parameters
    ----------
    drawn, own : ndarray, shape (n,)
        Where the upper edge is drawn, and where by a line that is no other part's.
    wing_ends : float
        The wing's trailing edge: an upright line there, where the lower edge leaves it, ends the wing's section. [mm]
    tapers_to : float
        How far aft the body's edges taper on in the top view: a post ahead of that takes nearly three signs. By chance a fin's
        strip behind a body lies where the taper comes by. [mm]
    """
    from scipy import ndimage

    if fin is None:
        return length
    top = float(fin.station[-1])
    at = np.arange(max(0.86 * length, float(fin.lead[0])), 0.985 * length, 0.0008 * length)
    if at.size < 8:
        return length
    foot, head = np.interp(at, x, low), np.interp(at, x, high)

    def cover(z0: Floats, z1: Floats) -> Floats:
        share = np.linspace(0.0, 1.0, 40)
        z = z0[:, None] + share[None, :] * (z1 - z0)[:, None]
        reach = 1.3 * pen_mm + 0.002 * length
        here, *beside = (
            ndimage.uniform_filter1d(np.clip(ink(at[:, None] + dx + 0.0 * z, z), 0.0, 1.0), 5, axis=1)
            for dx in (0.0, reach, -reach)
        )
        return np.asarray((here - np.maximum(*beside) > 0.25).mean(1))

    edge = 0.9 * pen_mm + 0.001 * length
    deep = head - foot > 3.0 * edge  # elsewhere both edges and the post are one blot: fewer signs must do
    body = np.where(deep, cover(foot + edge, np.maximum(head - edge, foot + edge)), 0.0)
    above = cover(head + edge, head + 0.55 * (top - head))
    ends = np.interp(head + 0.3 * (top - head), fin.station, fin.trail)
    above[at > ends - 1.5 * pen_mm - 0.004 * length] = (
        0.0  # the fin's own trailing edge: no rudder lies behind
    )
    # nor does one begin where the fin does: below a fin the upper line is often left undrawn
    begins = at < np.interp(head + 0.3 * (top - head), fin.station, fin.lead) + 1.5 * pen_mm + 0.004 * length
    above[begins] = 0.0
    turned = _sign(_turned_out(x, low, at, length), 0.03, 0.07)
    turned *= np.clip((0.016 - pen_mm / length) / 0.006, 0.0, 1.0)  # a wide pen's edge wavers as much
    pens = 2 * round(0.7 * pen_mm / (0.0008 * length)) + 1
    turned = ndimage.maximum_filter1d(turned, pens)  # the post's line and the turn are a stroke apart
    section = np.abs(at - wing_ends) < pen_mm + 0.01 * length
    body[section], turned[section] = 0.0, 0.0
    signs = _sign(body, 0.5, 0.8) + _sign(above, 0.5, 0.8) + turned
    before, behind = _drawn_about(x, drawn, at, length)
    own_before, on = _drawn_about(x, own, at, length)
    stops = np.maximum(before - behind, own_before - on)  # another part's line may go on
    stops[at < float(fin.lead[0]) + 1.5 * pen_mm + 0.004 * length] = 0.0
    signs += _sign(stops, 0.5, 0.9) - 0.7 * _sign(on, 0.5, 0.9)
    best = int((signs + 0.01 * (body + above)).argmax())
    least = (1.8 if deep[best] else 1.5) + (_BEHIND if tapers_to > at[best] + 0.012 * length else 0.0)
    return float(at[best]) if signs[best] >= least else length


def drawn_to_post(x: Floats, low: Floats, post: float, ink: Ink, length: float, *, pen_mm: float) -> Floats:
    """The lower edge on to a stern post as it is drawn, where as followed it goes down to the foot of the rudder behind that.

    Where a rudder reaches further down than the body, the edge as followed leaves the body's line ahead of the post, for
    a smooth way down; the body's own line goes on to the post.

    Parameters
    ----------
    x, low : ndarray, shape (n,)
        Stations and the lower edge as followed. [mm]

    Returns
    -------
    ndarray, shape (n,)
        The lower edge; as it was where it does not go down, or nothing is drawn above it. [mm]
    """
    foot = float(np.interp(post - 0.5 * pen_mm, x, low))
    for leaves in np.arange(post - 0.02 * length, post - _LEAVES * length, -0.003 * length):
        before = (x > leaves - 0.09 * length) & (x < leaves)
        if before.sum() < 12:
            break
        line = np.polyfit(x[before], low[before], 1)
        if np.abs(np.polyval(line, x[before]) - low[before]).max() > 0.3 * pen_mm + 0.0012 * length:
            continue
        if float(np.polyval(line, post)) - foot < pen_mm + 0.006 * length:
            return low
        on = np.linspace(leaves, post - 1.5 * pen_mm, 60)
        own = np.asarray(np.polyval(line, on), dtype=np.float64)
        dark = np.max([ink(on, own + k * pen_mm) for k in (-0.8, -0.4, 0.0, 0.4, 0.8)], axis=0)
        if (dark > 0.4).mean() > _INKED:
            return np.where(x > leaves, np.maximum(np.polyval(line, x), low), low)
    return low


def _sign(value: Floats, none: float, sure: float) -> Floats:
    return np.asarray(np.clip((value - none) / (sure - none), 0.0, 1.0))


def _turned_out(x: Floats, low: Floats, at: Floats, length: float) -> Floats:
    """How much less a lower edge rises behind a station than before it."""
    out = np.zeros(at.size)
    for i, a in enumerate(at):
        before = np.linspace(a - 0.08 * length, a - 0.006 * length, 16)
        behind = np.linspace(a + 0.005 * length, min(a + 0.035 * length, length - 0.004 * length), 8)
        if behind[-1] - behind[0] > 0.008 * length:
            rises = [float(np.polyfit(s, np.interp(s, x, low), 1)[0]) for s in (before, behind)]
            out[i] = rises[0] - rises[1]
    return out


def _drawn_about(x: Floats, drawn: Mask, at: Floats, length: float) -> tuple[Floats, Floats]:
    """Share of an edge that is drawn just before stations, and just behind them."""
    even = np.linspace(0.0, length, 1000)
    total = np.cumsum(np.interp(even, x, drawn.astype(float))) * (even[1] - even[0])

    def share(a: Floats, b: Floats) -> Floats:
        return np.asarray((np.interp(b, even, total) - np.interp(a, even, total)) / np.maximum(b - a, 1e-9))

    return (
        share(at - 0.03 * length, at - 0.002 * length),
        share(at + 0.004 * length, np.minimum(at + 0.03 * length, 0.998 * length)),
    )
