"""A body's end in the side view: a stern post with a rudder behind it, or a step up to a tailplane or fin."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.inkgrid import Ink, stands_out
from sheetlark.trace.shapes.surface import Surface

_LEAVES = (
    0.14  # of the length, how far ahead of a post the lower edge leaves for the rudder's foot at the most
)
_BEHIND = 0.7  # by how much more a post must be borne out that the top view has the body taper on behind
_INKED = 0.8  # share of the body's own line from there to the post that is inked
_LEANS = np.linspace(-0.45, 0.45, 19)  # of a post that is not upright: aft for each unit up
_RIDGE = 0.25  # how much darker than beside it a line is
_LATE = 0.9  # of the length, from where on one line right across is enough, the last one
_BARE = 0.3  # share of the straight way on from the upper line that is inked, where it is not drawn on
_KEEPS = 0.65  # of its depth at a post, how deep a rudder's foot is half-way to its end
_ALIKE = 0.03  # by how much places across one stroke differ
_ONE_EDGE = (
    0.012  # of the length, how far from the fin's trailing edge a foot's, carried up, lies at the most
)
_NEAR = 0.02  # and not carried up
_LEANS_OUT = 0.1  # aft for each unit up, of a trailing edge that leans out over the stern
_ON_IT = 0.7  # share of the silhouette's lower edge just behind a stern that is such a trailing edge
_BOTH = (
    0.8  # share of a leaning line below and above the body's edge that is inked: one line from keel to fin
)


class Post(NamedTuple):
    """Where a stern post stands on the body's lower and on its upper edge. [mm]"""

    foot: float
    head: float
    drawn: bool = False  # right across the body, and on in the fin

    @property
    def end(self) -> float:
        """How far aft the body reaches."""
        return max(self.foot, self.head)


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


def below_leaning_fin(x: Floats, low: Floats, fin: Surface | None, length: float, *, pen_mm: float) -> float:
    """Where a stern ends below a fin whose trailing edge leans out over it; `length` where none does. [mm]

    There the silhouette's lower edge leaps from the body's up to that trailing edge and is the fin's from there on. An edge
    followed smoothly past the leap would leave the body ahead of it.

    Parameters
    ----------
    x, low : ndarray, shape (n,)
        Stations and the silhouette's lower edge. [mm]
    """
    if fin is None:
        return length
    z = fin.station
    lower = (z >= fin.lead_root) & (z < fin.lead_root + 0.5 * (z[-1] - fin.lead_root))
    if lower.sum() < 6:
        return length
    lean, foot = np.polyfit(z[lower], fin.trail[lower], 1)
    if lean < _LEANS_OUT:
        return length
    under = (x - foot) / lean - low  # how far below the trailing edge, carried down
    deep = np.flatnonzero((x > 0.85 * length) & (under > 1.5 * pen_mm + 0.004 * length))
    if not deep.size or deep[-1] + 4 > x.size:
        return length
    last = int(deep[-1])
    behind = (x > x[last]) & (x < x[last] + 0.025 * length) & (x < float(fin.trail.max()) - pen_mm)
    on_it = behind & (np.abs(under) < 0.6 * pen_mm + 0.003 * length)
    if behind.sum() < 4 or on_it.sum() < _ON_IT * behind.sum():
        return length
    first = int(np.flatnonzero(on_it)[0])
    leaps = x[first] - x[last] < 0.5 * pen_mm + 0.004 * length
    return float(0.5 * (x[last] + x[first])) if leaps else length


def stern_post(
    x: Floats,
    low: Floats,
    high: Floats,
    lowest: Floats,
    drawn: Mask,
    fin: Surface | None,
    ink: Ink,
    length: float,
    *,
    pen_mm: float,
    wing_ends: float,
    covers: tuple[tuple[Floats, Floats], ...] = (),
    tapers_to: float = 0.0,
) -> Post:
    """Where the body ends before a rudder that reaches down behind it; at `length` where there is no such post. [mm]

    Four signs, of which two must agree: an upright line in the body, one above it inside the fin, a lower edge that
    turns outward there into the rudder's foot, and an upper line that is drawn to there and no further. A panel line
    in the body or a rudder's hinge above it is one sign only, and an upper line drawn on speaks against a post. Close to
    the end, where a tailplane's section may hide the upper line, the last line right across is enough if a foot lies behind
    that does not narrow as a stern does. A post may lean: then it and the hinge are one straight line.

    Parameters
    ----------
    lowest, drawn : ndarray, shape (n,)
        The silhouette's lower edge, and where the body's upper edge is drawn. [mm]
    covers : tuple of (ndarray, ndarray), shape (n,) each
        Upper and lower line of wing and tail sections, nan where there is none. What is drawn on behind a post may be
        theirs, a section that leaves the lower edge turns outward as a foot does, and one may hide the post's head. [mm]
    wing_ends : float
        The wing's trailing edge: an upright line there, where the lower edge leaves it, ends the wing's section. [mm]
    tapers_to : float
        How far aft the body's edges taper on in the top view: a post ahead of that takes nearly three signs. By chance a fin's
        strip behind a body lies where the taper comes by. [mm]
    """
    from scipy import ndimage

    nowhere = Post(length, length)
    if fin is None:
        return nowhere
    tol = 0.6 * pen_mm + 0.0025 * length
    own, own_low = (drawn & ~_on_lines(high, covers, tol)), ~_on_lines(low, covers, tol)
    for upper, lower in covers:
        high = np.where((high > lower - tol) & (high < upper + tol), np.minimum(high, lower), high)
    high = np.maximum(high, low)
    top = float(fin.station[-1])
    at = np.arange(max(0.86 * length, float(fin.lead[0])), 0.985 * length, 0.0008 * length)
    if at.size < 8:
        return nowhere
    foot, head = np.interp(at, x, low), np.interp(at, x, high)

    def ridge(z0: Floats, z1: Floats, lean: float) -> Floats:
        share = np.linspace(0.0, 1.0, 40)
        z = z0[:, None] + share[None, :] * (z1 - z0)[:, None]
        reach = 1.3 * pen_mm + 0.002 * length
        along = at[:, None] + lean * (z - head[:, None])
        here, *beside = (
            ndimage.uniform_filter1d(np.clip(ink(along + dx, z), 0.0, 1.0), 5, axis=1)
            for dx in (0.0, reach, -reach)
        )
        return np.asarray(here - np.maximum(*beside))

    edge = 0.9 * pen_mm + 0.001 * length
    deep = (
        head - foot > 2.0 * edge + 0.6 * pen_mm
    )  # elsewhere both edges and the post are one blot: fewer signs must do
    turned = _sign(_turned_out(x, low, at, length), 0.03, 0.07)
    turned[_drawn_about(x, own_low, at, length)[1] < 0.5] = 0.0
    turned *= np.clip((0.016 - pen_mm / length) / 0.006, 0.0, 1.0)  # a wide pen's edge wavers as much
    pens = 2 * round(0.7 * pen_mm / (0.0008 * length)) + 1
    turned = ndimage.maximum_filter1d(turned, pens)  # the post's line and the turn are a stroke apart
    section = np.abs(at - wing_ends) < pen_mm + 0.01 * length
    turned[section] = 0.0
    before, behind = _drawn_about(x, drawn, at, length)
    own_before, on = _drawn_about(x, own, at, length)
    stops = np.maximum(before - behind, own_before - on)  # another part's line may go on
    stops[at < float(fin.lead[0]) + 1.5 * pen_mm + 0.004 * length] = 0.0
    on = np.minimum(
        on, _straight_on(x, high, at, ink, length, pen_mm=pen_mm)
    )  # a rudder's own edge turns away
    aside = turned + _sign(stops, 0.5, 0.9) - 0.7 * _sign(on, 0.5, 0.9)
    late = (at > _LATE * length) & (on < _BARE) & _foot_behind(x, lowest, at, foot, head, fin, length)
    late &= np.interp(head, fin.station, fin.trail) > at + 1.5 * pen_mm + 0.004 * length

    def last(body: Floats) -> Mask:
        """Where a line right across a body is the last one: no other closes a flat stern behind it."""
        out = np.zeros(at.size, dtype=bool)
        for i in np.flatnonzero(late & (body > _BOTH)):
            z = np.linspace(foot[i] + edge, head[i] - edge, 24)
            behind = np.arange(at[i] + 2.5 * pen_mm + 0.004 * length, length + pen_mm, 0.0008 * length)[
                :, None
            ]
            across = stands_out(ink, behind + 0.0 * z, z + 0.0 * behind, 1.3 * pen_mm + 0.002 * length, 0.0)
            out[i] = not ((across > _RIDGE).mean(1) > _BOTH).any()
        return out

    def lines(lean: float) -> tuple[Floats, Floats, Floats]:
        """Share of a line below the upper edge and of one above it, in the fin, that is inked; and how dark both are."""
        body = ridge(foot + edge, np.maximum(head - edge, foot + edge), lean)
        body[section | ~deep] = 0.0
        above = ridge(head + edge, head + 0.55 * (top - head), lean)
        z = head + 0.3 * (top - head)
        here, clear = at + lean * (z - head), 1.5 * pen_mm + 0.004 * length
        ends, begins = (np.interp(z, fin.station, e) for e in (fin.trail, fin.lead))
        # its own trailing edge: no rudder lies behind. Nor does one begin where the fin does: below a fin the upper
        # line is often left undrawn
        above[(here > ends - clear) | (here < begins + clear)] = 0.0
        return (body > _RIDGE).mean(1), (above > _RIDGE).mean(1), body.mean(1) + above.mean(1)

    found = []
    for lean in _LEANS:
        body, above, dark = lines(float(lean))
        both = np.where(deep, np.minimum(body, above), above)
        signs = _sign(body, 0.5, 0.8) + _sign(above, 0.5, 0.8) + aside
        if abs(lean) < 0.01:
            signs += last(body) * _sign(body, _BOTH, 0.9)
        else:
            signs[both < _BOTH] = 0.0
        found.append(np.array([signs, dark, both]))
    signs, dark, both = np.moveaxis(np.array(found), 1, 0)
    upright = _LEANS.size // 2
    best = int((signs[upright] + 0.1 * dark[upright]).argmax())
    lean = upright if signs[upright, best] > signs.max() - 0.3 else int(signs.max(1).argmax())
    best = best if lean == upright else int((signs[lean] + 0.1 * dark[lean]).argmax())
    enough = 1.8 if deep[best] else 1.5
    if signs[lean, best] < enough:
        return nowhere
    up = float(at[best])
    # of the places across a wide stroke its middle, of the ways it may lean the darkest
    same = (signs > signs[lean, best] - 0.3) & (np.abs(at - at[best]) < 1.2 * pen_mm + 0.004 * length)
    if dark[same].max() > _RIDGE:
        same &= dark > dark[same].max() - _ALIKE
        lean = int(same.sum(1).argmax())
        up = float(at[same[lean]].mean())
    right = bool(deep[best] and np.interp(up, at, both[lean]) > _BOTH)
    if tapers_to > up + 0.012 * length and not right and signs[lean].max() < enough + _BEHIND:
        return nowhere
    return Post(up - float(_LEANS[lean] * np.interp(up, at, head - foot)), up, drawn=right)


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


def closed_by(
    post: Post, x: Floats, low: Floats, high: Floats, length: float
) -> tuple[Floats, Floats, Floats] | None:
    """A body's stations and edges up to a post, both going straight on to it; None where too little is left of them. [mm]

    Close ahead of a post an edge may have swerved.
    """
    first, last = min(post.foot, post.head), post.end
    keep = x < first - 0.01 * length
    aft = keep & (x > first - 0.08 * length)
    if aft.sum() < 10:
        return None
    lines = [np.polyfit(x[aft], v[aft], 1) for v in (low, high)]
    foot, head = (float(np.polyval(line, at)) for line, at in zip(lines, (post.foot, post.head), strict=True))
    ends = np.unique([first, last])
    under, over = (np.asarray(np.polyval(line, ends)) for line in lines)
    if post.foot < last:
        under[-1] = head
    elif post.head < last:
        over[-1] = foot
    over = np.maximum(over, under)
    return np.r_[x[keep], ends], np.r_[low[keep], under], np.r_[high[keep], over]


def _on_lines(edge: Floats, covers: tuple[tuple[Floats, Floats], ...], tol: float) -> Mask:
    """Where an edge runs along a section's upper or lower line."""
    out = np.zeros(edge.size, dtype=bool)
    for lines in covers:
        out |= np.min([np.abs(edge - line) for line in lines], axis=0) < tol
    return out


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


def _foot_behind(
    x: Floats, lowest: Floats, at: Floats, foot: Floats, head: Floats, fin: Surface, length: float
) -> Mask:
    """Whether what lies behind stations is a rudder's foot: it does not narrow as a stern does, and its edge is the fin's."""
    out = np.zeros(at.size, dtype=bool)
    for i, a in enumerate(at):
        z = head[i] - 0.3 * (head[i] - foot[i])
        over, level = ((x > a) & (lowest > height) for height in (head[i], z))
        ends, back = (float(x[m][0]) if m.any() else length for m in (over, level))
        middle = float(np.interp(0.5 * (a + ends), x, lowest))
        deep = head[i] - middle > _KEEPS * (head[i] - foot[i])
        up = max(z, float(fin.station[0]))
        edge = float(np.interp(up, fin.station, fin.trail))
        carried = back + (ends - back) * (up - z) / (0.3 * (head[i] - foot[i]) + 1e-9)
        out[i] = deep and abs(carried - edge) < _ONE_EDGE * length and abs(back - edge) < _NEAR * length
    return out


def _straight_on(x: Floats, high: Floats, at: Floats, ink: Ink, length: float, *, pen_mm: float) -> Floats:
    """Share of the straight way on from an upper edge that is inked just behind stations."""
    before = np.linspace(at - 0.06 * length, at - 0.006 * length, 24, axis=1)
    ends = at + 0.004 * length + 0.5 * pen_mm, np.minimum(at + 0.03 * length, 0.998 * length)
    behind = np.linspace(*ends, 16, axis=1)
    z = np.zeros(behind.shape)
    for i, (ahead, back) in enumerate(zip(before, behind, strict=True)):
        z[i] = np.polyval(np.polyfit(ahead, np.interp(ahead, x, high), 1), back)
    wide = 0.5 * pen_mm + 0.05 * (behind - at[:, None])
    near = z[:, None, :] + np.linspace(-1.0, 1.0, 7)[:, None] * wide[:, None, :]
    stroke = stands_out(ink, behind[:, None, :] + 0.0 * near, near, 0.0, 1.5 * pen_mm + 0.002 * length)
    return np.asarray((stroke.max(1) > _RIDGE).mean(1))


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
