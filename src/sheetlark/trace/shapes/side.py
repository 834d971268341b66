"""The side view: fin, body, and what is taken off the body (gear, a wing's section, a cover)."""

from __future__ import annotations

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.paper.search import Sheet
from sheetlark.trace.shapes.body import Body, bridge
from sheetlark.trace.shapes.cone import cone_behind
from sheetlark.trace.shapes.contour import crossings
from sheetlark.trace.shapes.covers import find_cover
from sheetlark.trace.shapes.edges import DrawnEdge, drawn_edge, stations
from sheetlark.trace.shapes.fin import find_fin, stern_filling, with_dorsal, with_lead
from sheetlark.trace.shapes.foot import below_fin
from sheetlark.trace.shapes.frame import Frame
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.silhouette import (
    body_piece,
    least_out,
    lowest_about,
    over_breaks,
    standing_over,
    without_blades,
)
from sheetlark.trace.shapes.stern import round_stern
from sheetlark.trace.shapes.surface import Surface


def read_side(
    sheet: Sheet,
    frame: Frame,
    mm: tuple[Floats, ...],
    surfaces: tuple[Surface, ...] = (),
    *,
    span: float,
    goes_on: float = 0.0,
) -> tuple[Frame, tuple[Floats, ...], Body | None, Surface | None]:
    """Body and fin of the side view, z measured from the nose's middle.

    surfaces : wing and tail of the top view.
    goes_on : how far aft the top view shows the body. [mm]
    """
    length = float(max(m[:, 0].max() for m in mm))
    nose_cuts = crossings(mm, 0.012 * length, 0)
    z0 = float(0.5 * (nose_cuts[0, 0] + nose_cuts[0, 1])) if len(nose_cuts) else float(np.median(mm[0][:, 1]))
    frame = frame.moved(0.0, z0)
    mm = tuple(m - (0.0, z0) for m in mm)
    fin = find_fin(mm, length, top_ahead_of_fin(mm, length))

    ink = frame.inked(sheet.dark)
    pen = sheet.pen_px * frame.mm_per_px
    if fin is not None:
        fin = with_dorsal(with_lead(fin, ink, length, pen_mm=pen), mm, length)
    body = find_body_side(
        mm, length, fin, ink, pen_mm=pen, roots=_roots(surfaces), span=span, goes_on=goes_on
    )
    return frame, mm, body, fin


def top_ahead_of_fin(rings: tuple[Floats, ...], length: float) -> float:
    """How high the body is between wing and fin; struts may join it to a wing at many of these stations. [mm]"""
    tops = []
    for x in np.linspace(0.45, 0.72, 13) * length:
        cuts = crossings(rings, float(x), 0)
        if len(cuts):
            tops.append(float(min((c[1] for c in cuts if c[1] - c[0] > 0.01 * length), default=cuts[-1, 1])))
    return float(np.quantile(tops, 0.3)) if tops else 0.0


def _roots(surfaces: tuple[Surface, ...]) -> tuple[tuple[float, float], ...]:
    """Leading and trailing edge of surfaces on the centre line."""
    return tuple((float(s.lead[0]), float(s.trail[0])) for s in surfaces)


def find_body_side(
    rings: tuple[Floats, ...],
    length: float,
    fin: Surface | None,
    ink: Ink,
    *,
    pen_mm: float,
    roots: tuple[tuple[float, float], ...] = (),
    span: float = 0.0,
    goes_on: float = 0.0,
) -> Body | None:
    """Upper and lower line of the body in the side view, without fin, gear, struts, covers and wing sections.

    roots : leading and trailing edge of wing and tail on the centre line, where their sections may be drawn. [mm]
    goes_on : how far aft the top view shows the body; it ends at no stern post ahead of that. [mm]
    """
    x = stations(length)
    fin_from = length if fin is None else float(fin.lead[0]) - 0.008 * length
    found = body_piece(rings, x, length, fin_from)
    if found is None:
        return None
    low, high = without_blades(x, *found, length)
    tip = x < min(float(r[:, 0].min()) for r in rings)  # a narrow point is pen stroke without paper inside
    raised = standing_over(x, low, high, roots[0], length) if roots else np.zeros(x.size, dtype=bool)
    fore = (x > 0.1 * length) & (x < 0.6 * length)
    fore = fore & ~raised if (fore & ~raised).sum() > 0.2 * fore.sum() else fore
    deep = float(np.median((high - low)[fore]))
    usual = float(np.median(high[fore]))
    aft = x > fin_from
    outer = np.where((high < usual + 1.5 * deep) & ~aft & ~tip, high, np.nan)
    foot = lowest_about(x, low, length)
    floor = np.maximum(foot + 0.1 * deep * np.clip(4.0 * (1.0 - x / length), 0.0, 1.0), usual - 1.5 * deep)
    heights = (float(np.median(low)) - deep, float(np.median(high)) + deep)
    # a datum line is as smooth as any edge: the body reaches out further than that
    least = least_out(x, np.where(aft | raised, np.nan, outer), foot, length)
    slack = 0.012 * span
    found_covers = (
        find_cover(
            ink,
            lead=(a - slack, a + slack),
            trail=(b - slack, b + slack),
            heights=heights,
            span=span,
            pen=pen_mm,
        )
        for a, b in roots
    )
    margin = pen_mm + 0.003 * length
    lines = tuple(c.lines(x, beyond=margin) for c in found_covers if c is not None)
    if not np.isfinite(outer).any():
        return None
    outer = over_breaks(x, outer, ink, length)
    weight = np.where(aft, 0.0, 1.0)  # below a fin nothing may draw the edge aside
    upper = drawn_edge(
        x, outer, floor, ink, length=length, pen_mm=pen_mm, missing=weight, covers=lines, least=least
    )

    def mirrored(at: Floats, down: Floats) -> Floats:
        return ink(at, -down)

    under = float(np.median(low[fore]))
    outer = np.where((low > under - 1.0 * deep) & ~tip, -low, np.nan)
    if not np.isfinite(outer).any():
        return None
    outer = over_breaks(x, outer, mirrored, length)
    below = tuple((-b, -a) for a, b in lines)
    # the upper edge's own ink is not the lower edge
    apart = 0.25 * np.maximum(upper.out - np.maximum(foot, under - deep), 0.0)
    least = least_out(x, np.where(x < 0.8 * length, outer, np.nan), -upper.out, length)
    lower = drawn_edge(
        x, outer, apart - upper.out, mirrored, length=length, pen_mm=pen_mm, covers=below, least=least
    )
    tailless = len(roots) < 2
    wing_ends = roots[0][1] if roots else length
    return _closed_up(
        x,
        upper,
        lower,
        fin,
        ink,
        length,
        pen_mm=pen_mm,
        lowest=low,
        tailless=tailless,
        covers=lines,
        wing_ends=wing_ends,
        goes_on=goes_on,
        span=span,
    )


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


def _closed_up(
    x: Floats,
    upper: DrawnEdge,
    lower: DrawnEdge,
    fin: Surface | None,
    ink: Ink,
    length: float,
    *,
    pen_mm: float,
    lowest: Floats,
    tailless: bool,
    covers: tuple[tuple[Floats, Floats], ...],
    wing_ends: float,
    goes_on: float,
    span: float,
) -> Body | None:
    """Both edges as a body: hidden stretches carried across, cut off at a stern post.

    lowest : ndarray, shape (n,)
        The silhouette's lower edge; where it steps up to a tailplane or fin the body ends as well. [mm]
    """
    if min(upper.seen.sum(), lower.seen.sum()) < 30:
        return None
    high, low = bridge(x, upper.out, upper.seen), bridge(x, -lower.out, lower.seen)
    first = [int(np.nonzero(e.seen)[0][0]) for e in (lower, upper)]
    middle = 0.5 * float(low[max(first)] + high[max(first)])
    low, high = (_to_nose(x, v, k, middle) for v, k in zip((low, high), first, strict=True))
    seen = upper.seen & lower.seen
    drawn, stern = upper.seen, None
    ink = stern_filling(x, low, high, fin, ink).lines_alone(ink)
    start = length if fin is None else float(fin.lead[0]) - 0.008 * length
    if fin is not None:
        floor = low + 1.2 * pen_mm
        high, drawn = below_fin(
            x, high, drawn, start, ink, length, floor=floor, pen_mm=pen_mm, tailless=tailless
        )
    # a wing section's end below the body's own edge is no step
    # where a tailplane's section lies over the stern the upper edge as followed is its
    ends = step_up(x, np.maximum(lowest, low), high if tailless else upper.out, length, overhung=tailless)
    if fin is not None and not tailless:  # there a wing section's end lies over the stern, round as well
        stern = round_stern(
            x, low, high, drawn, ink, length, start=start, free=float(fin.trail[0]), pen_mm=pen_mm
        )
    if stern is not None:
        high, drawn, ends = stern.high, stern.drawn, length
    high = np.maximum(high, low)
    # what is drawn on behind a post may be the tailplane's section, which hides the post's head
    shown, own, tol = high, drawn, 0.6 * pen_mm + 0.0025 * length
    for top, bottom in covers:
        own = own & ~(np.minimum(np.abs(high - top), np.abs(high - bottom)) < tol)
        shown = np.where((high > bottom - tol) & (high < top + tol), np.minimum(high, bottom), shown)
    shown = np.maximum(shown, low)
    post = stern_post(x, low, shown, drawn, own, fin, ink, length, pen_mm=pen_mm, wing_ends=wing_ends)
    post = min(ends, post)
    if post < length and goes_on < post + 0.012 * length:  # a rudder's hinge where a body goes on is no post
        keep = x < post - 0.01 * length
        aft = keep & (x > post - 0.08 * length)
        if aft.sum() > 9:
            foot, head = (float(np.polyval(np.polyfit(x[aft], v[aft], 1), post)) for v in (low, high))
            low, high = np.r_[low[keep], foot], np.r_[high[keep], max(head, foot)]
            x, seen = np.r_[x[keep], post], np.r_[seen[keep], True]
    elif stern is not None:
        keep = x < stern.end[0]
        low, high = (np.r_[v[keep], stern.end[1]] for v in (low, high))
        x, seen = np.r_[x[keep], stern.end[0]], np.r_[seen[keep], True]
    else:
        x, low, high, seen = (np.r_[v, v[-1]] for v in (x, low, high, seen))
        x[-1] = length
        cone = cone_behind(x, low, high, ink, span=span, pen_mm=pen_mm)
        if cone is not None:
            x, low, high = cone
            seen = np.r_[seen, np.ones(x.size - seen.size, dtype=bool)]
    x, low, high, seen = np.r_[0.0, x], np.r_[low[0], low], np.r_[high[0], high], np.r_[seen[0], seen]
    return Body(x=x, low=low, high=high, seen=seen.astype(np.float64))


def _to_nose(x: Floats, edge: Floats, first: int, middle: float) -> Floats:
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
    signs += _sign(stops, 0.5, 0.9) - 0.7 * _sign(on, 0.5, 0.9)
    best = int((signs + 0.01 * (body + above)).argmax())
    return float(at[best]) if signs[best] >= (1.8 if deep[best] else 1.5) else length


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
