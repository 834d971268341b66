"""The side view: fin, body, and what is taken off the body (gear, a wing's section, a cover)."""

from __future__ import annotations

from functools import partial

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.paper.search import Sheet
from sheetlark.trace.shapes.body import Body, bridge, to_nose, without_whiskers
from sheetlark.trace.shapes.cone import cone_behind, drawn_to_point, is_tailplanes
from sheetlark.trace.shapes.contour import crossings
from sheetlark.trace.shapes.covers import find_cover
from sheetlark.trace.shapes.edges import DrawnEdge, drawn_edge, stations
from sheetlark.trace.shapes.ends import Above, TopView, agreed_end
from sheetlark.trace.shapes.fin import find_fin, stern_filling, with_dorsal, with_lead
from sheetlark.trace.shapes.foot import behind_foot, below_covers, from_stern, under_fin
from sheetlark.trace.shapes.frame import Frame
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.post import Post, below_leaning_fin, closed_by, drawn_to_post, step_up, stern_post
from sheetlark.trace.shapes.silhouette import (
    body_piece,
    least_out,
    lowest_about,
    over_breaks,
    standing_over,
    without_blades,
)
from sheetlark.trace.shapes.stern import round_stern
from sheetlark.trace.shapes.strip import Strip
from sheetlark.trace.shapes.surface import Surface

_CLEAR = 1.2  # pens behind a trailing edge a silhouette is clear of its stroke
_STEEP = 0.6  # slope from which on an edge closes an end
_ON = 0.012  # of the length, how much further aft the top view has a body that goes on
_APART = 0.006  # of the span, how far both views may have the same end apart
_AHEAD = (0.2, 0.42)  # of the length: where the body is free of a fin that begins amidships
_TALL = 0.1  # of the length, how far such a fin stands above the body there, at the least


def read_side(
    sheet: Sheet,
    frame: Frame,
    mm: tuple[Floats, ...],
    top: TopView,
) -> tuple[Frame, tuple[Floats, ...], Body | None, Surface | None, Strip | None]:
    """Body and fin of the side view, z measured from the nose's middle, and the fin as the top view has it."""
    span, surfaces = top.span, tuple(s for s in (top.wing, top.tail) if s is not None)
    length = float(max(m[:, 0].max() for m in mm))
    nose_cuts = crossings(mm, 0.012 * length, 0)
    z0 = float(0.5 * (nose_cuts[0, 0] + nose_cuts[0, 1])) if len(nose_cuts) else float(np.median(mm[0][:, 1]))
    frame = frame.moved(0.0, z0)
    mm = tuple(m - (0.0, z0) for m in mm)
    fin = find_fin(mm, length, top_ahead_of_fin(mm, length)) or _long_fin(mm, length)

    ink = frame.inked(sheet.dark)
    pen = sheet.pen_px * frame.mm_per_px
    if fin is not None:
        fin = with_dorsal(with_lead(fin, ink, length, pen_mm=pen), mm, length)
    reach = max((float(s.trail.max()) for s in surfaces), default=0.0)
    others = max(reach, 0.0 if fin is None else float(fin.trail.max()))
    strip = top.strip(fin)
    above, goes_on = top.body(strip), top.goes_on(strip)
    body = find_body_side(
        mm,
        agreed_end(above, length, others=others, slack=_APART * span),
        fin,
        ink,
        pen_mm=pen,
        roots=_roots(surfaces),
        furthest=tuple(float(s.trail.max()) for s in surfaces),
        span=span,
        goes_on=goes_on if above is None else max(goes_on, above.end or 0.0),
        reach=reach,
        above=above,
    )
    return frame, mm, body, fin, strip


def _long_fin(rings: tuple[Floats, ...], length: float) -> Surface | None:
    """A fin that begins well ahead of where a body is free of it, as a short tailless aeroplane's does."""
    low_top = top_ahead_of_fin(rings, length, between=_AHEAD)
    tall = max(
        (float(r[r[:, 0] > _AHEAD[1] * length, 1].max(initial=-np.inf)) for r in rings), default=-np.inf
    )
    return find_fin(rings, length, low_top) if tall - low_top > _TALL * length else None


def top_ahead_of_fin(
    rings: tuple[Floats, ...], length: float, *, between: tuple[float, float] = (0.45, 0.72)
) -> float:
    """How high the body is between wing and fin; struts may join it to a wing at many of these stations. [mm]

    between : where that is, as shares of the length.
    """
    tops = []
    for x in np.linspace(*between, 13) * length:
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
    furthest: tuple[float, ...] = (),
    span: float = 0.0,
    goes_on: float = 0.0,
    reach: float = 0.0,
    above: Above | None = None,
) -> Body | None:
    """Upper and lower line of the body in the side view, without fin, gear, struts, covers and wing sections.

    length : how far aft the body may reach; what the rings have behind that is other parts'. [mm]
    roots : leading and trailing edge of wing and tail on the centre line, where their sections may be drawn. [mm]
    furthest : how far aft each of them reaches anywhere: a tail cut out for a rudder is drawn that far in the side view. [mm]
    reach : how far aft wing and tail reach; behind that and the fin the silhouette is the stern's. [mm]
    goes_on : how far aft the top view shows the body; it ends at no stern post ahead of that. [mm]
    above : the body as the top view has it; a stern that is round there is so here.
    """
    x = stations(length)
    fin_from = length if fin is None else float(fin.lead[0]) - 0.008 * length
    found = body_piece(rings, x, length, fin_from)
    ends = length if found is None else below_leaning_fin(x, found[0], fin, length, pen_mm=pen_mm)
    if ends < length:
        x, length = stations(ends), ends
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
    free = np.zeros(x.size, dtype=bool)
    if fin is not None:
        foremost = max(reach, _behind(fin, float(low[aft].min(initial=fin.station[0]))))
        free = aft & (x > foremost + _CLEAR * pen_mm)
        stretch = x[free]
        if free.sum() < 6 or np.ptp(stretch) < pen_mm or not _level(stretch, high[free]):
            free[:] = False  # a round end closes there
    aft &= ~free
    outer = np.where((high < usual + 1.5 * deep) & ~aft & ~tip, high, np.nan)
    foot = lowest_about(x, low, length)
    if free.any():  # what hangs lower ahead of a free stern is no part of it
        stern = np.where(free, low, low[free][0])
        foot = np.where(free, lowest_about(x, stern, length), foot)
    floor = np.maximum(foot + 0.1 * deep * np.clip(4.0 * (1.0 - x / length), 0.0, 1.0), usual - 1.5 * deep)
    heights = (float(np.median(low)) - deep, float(np.median(high)) + deep)
    # a datum line is as smooth as any edge: the body reaches out further than that
    least = least_out(x, np.where(aft | free | raised, np.nan, outer), foot, length)
    slack = 0.012 * span
    sections = partial(find_cover, ink, heights=heights, span=span, pen=pen_mm)
    found_covers = [sections(lead=(a - slack, a + slack), trail=(b - slack, b + slack)) for a, b in roots]
    for k, end in enumerate(furthest[1:], 1):
        if end > roots[k][1] + 2.0 * slack:
            a, near = roots[k][0], found_covers[k]
            far = sections(lead=(a - slack, a + slack), trail=(end - slack, end + slack))
            if far is not None and (near is None or far.strength > near.strength):
                found_covers[k] = far
    margin = pen_mm + 0.003 * length
    lines = tuple(c.lines(x, beyond=margin) for c in found_covers if c is not None)
    if not np.isfinite(outer[~free]).any():
        return None  # a stern alone is no body
    outer = over_breaks(x, outer, ink, length)
    hidden = below_covers(high, lines, pen_mm=pen_mm, length=length)
    under_covers = below_covers(low, lines, pen_mm=pen_mm, length=length)
    alone = ~(aft | hidden | under_covers | raised)
    by_width = np.full(x.size, np.nan) if above is None else above.as_deep(x, high - low, alone)
    guided = np.array([hidden & ~under_covers, under_covers & ~hidden]) & np.isfinite(by_width) & ~aft
    weight = np.where(aft, 0.0, 1.0)  # below a fin nothing may draw the edge aside
    upper = drawn_edge(
        x,
        outer,
        floor,
        ink,
        length=length,
        pen_mm=pen_mm,
        missing=weight,
        covers=lines,
        least=least,
        likely=np.where(guided[0], low + by_width, np.nan),
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
        x,
        outer,
        apart - upper.out,
        mirrored,
        length=length,
        pen_mm=pen_mm,
        covers=below,
        least=least,
        likely=np.where(guided[1], by_width - upper.out, np.nan),
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
        highest=high,
        tailless=tailless,
        covers=lines,
        wing_ends=wing_ends,
        goes_on=goes_on,
        above=above,
        free=free,
        guided=guided,
        by_width=by_width,
        ended=max(float(r[:, 0].max()) for r in rings) > length,
        reach=reach,
        span=span,
    )


def _between(seen: Mask) -> Mask:
    """From the first to the last station where an edge is seen."""
    return np.asarray(np.logical_or.accumulate(seen) & np.logical_or.accumulate(seen[::-1])[::-1])


def _behind(fin: Surface, foot: float) -> float:
    """How far aft a fin reaches whose trailing edge goes on down to a foot within the body. [mm]"""
    z = fin.station
    lower = (z >= fin.lead_root) & (z < fin.lead_root + 0.6 * (z[-1] - fin.lead_root))
    most = float(fin.trail.max())
    if lower.sum() < 4:
        return most
    return max(most, float(np.polyval(np.polyfit(z[lower], fin.trail[lower], 1), foot)))


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
    highest: Floats,
    tailless: bool,
    covers: tuple[tuple[Floats, Floats], ...],
    wing_ends: float,
    goes_on: float,
    above: Above | None,
    free: Mask,
    guided: Mask,
    by_width: Floats,
    ended: bool,
    reach: float,
    span: float,
) -> Body | None:
    """Both edges as a body: hidden stretches carried across, cut off at a stern post.

    free : ndarray, shape (n,)
        Behind all other parts, where the silhouette is the body's.
    guided : ndarray, shape (2, n)
        Where the upper and the lower edge, hidden, were led by the width seen from above.
    by_width : ndarray, shape (n,)
        How deep the body is by its width from above, nan where that is not seen. [mm]
    ended : whether the silhouette goes on behind `length`, and the body does not.
    reach : how far aft wing and tail reach. [mm]
    lowest, highest : ndarray, shape (n,)
        The silhouette's edges; where the lower one steps up to a tailplane or fin the body ends as well. [mm]
    """
    if min(upper.seen.sum(), lower.seen.sum()) < 30:
        return None
    high, low = (
        bridge(x, v, e.seen | (on & ~_between(e.seen)))
        for v, e, on in ((upper.out, upper, guided[0]), (-lower.out, lower, guided[1]))
    )
    first = [int(np.nonzero(e.seen)[0][0]) for e in (lower, upper)]
    middle = 0.5 * float(low[max(first)] + high[max(first)])
    low, high = (to_nose(x, v, k, middle) for v, k in zip((low, high), first, strict=True))
    seen = upper.seen & lower.seen
    drawn, stern, meets, followed = upper.seen, None, None, False
    ink = stern_filling(x, low, high, fin, ink).lines_alone(ink)
    start = length if fin is None else float(fin.lead[0]) - 0.008 * length
    as_followed = high
    if fin is not None:
        floor = low + 1.2 * pen_mm
        behind = behind_foot(x, lowest, highest, fin, length, covers, pen_mm=pen_mm)
        if behind.any():
            meets = float(x[behind][0]), float(highest[behind][0])
        high, drawn, followed = under_fin(
            x,
            high,
            drawn,
            start,
            ink,
            length,
            floor=floor,
            pen_mm=pen_mm,
            tailless=tailless,
            stern=np.where(behind, highest, np.nan),
        )
    stands_free = free & upper.seen
    missed = stands_free & (np.abs(high - as_followed) > 1.5 * pen_mm + 0.002 * length)
    # a line below the fin that misses the stern where it stands free is another part's
    if stands_free.sum() > 5 and missed.any() and _level(x[stands_free], as_followed[stands_free]):
        stands = float(x[stands_free][0])
        high, drawn = from_stern(x, as_followed, upper.seen, stands, start, ink, length, pen_mm=pen_mm)
        high = bridge(x, high, drawn)
    # where a section hides the lower edge to the end
    lost = np.isfinite(by_width) & (x > x[lower.seen | guided[1]][-1])
    low = np.where(lost, np.maximum(high - by_width, lowest), low)
    # a wing section's end below the body's own edge is no step
    # where a tailplane's section lies over the stern the upper edge as followed is its
    ends = step_up(x, np.maximum(lowest, low), high if tailless else upper.out, length, overhung=tailless)
    tapered = x, low, high, np.array([lower.seen, drawn])
    if fin is not None and not followed:
        stern = round_stern(
            x,
            low,
            high,
            drawn,
            ink,
            length,
            start=start,
            free=float(fin.trail[0]),
            pen_mm=pen_mm,
            closes=None if above is None else partial(above.closes_from, float(fin.lead[0])),
            tailless=tailless,
            through=meets,
        )
    if stern is not None:
        high, drawn, ends = stern.high, stern.drawn, length
    # behind where all that is there stands above the body's upper edge a fin leans out over the stern
    clear = np.flatnonzero(lowest <= high + pen_mm)
    high = np.maximum(high, low)
    post = stern_post(
        x,
        low,
        high,
        np.minimum(lowest, low),
        drawn,
        fin,
        ink,
        length,
        pen_mm=pen_mm,
        wing_ends=wing_ends,
        covers=covers,
        tapers_to=0.0 if above is None else above.tapers_to,
    )
    if goes_on > post.end + _ON * length:  # a rudder's hinge where a body goes on is no post
        post = Post(length, length)
    if ends < post.end:
        post = Post(ends, ends)
    thin = False  # a thin cone may go on behind
    if post.end < length and goes_on < post.end + _ON * length:
        low = drawn_to_post(x, low, post.foot, ink, length, pen_mm=pen_mm)
        cut = closed_by(post, x, low, high, length)
        if cut is not None:
            kept = cut[0].size - len({post.foot, post.head})
            seen = np.r_[seen[:kept], np.ones(cut[0].size - kept, dtype=bool)]
            x, low, high = cut
            thin = post.end == ends and not ended
    elif stern is not None:
        keep = x < stern.end[0]
        low, high = (np.r_[v[keep], stern.end[1]] for v in (low, high))
        x, seen = np.r_[x[keep], stern.end[0]], np.r_[seen[keep], True]
    else:
        last = int(clear[-1]) + 1 if fin is not None and clear.size else x.size
        reaches = length if last == x.size else float(x[last])
        x, low, high, seen = (np.r_[v[:last], v[last - 1]] for v in (x, low, high, seen))
        x[-1] = reaches
        thin = not ended and reaches == length
    tip = None if fin is None else drawn_to_point(*tapered, ink, float(x[-1]), length, pen_mm=pen_mm)
    cone = cone_behind(x, low, high, ink, span=span, pen_mm=pen_mm) if thin else None
    if cone is not None and is_tailplanes(cone, float(x[-1]), reach, length, pen_mm=pen_mm):
        cone = None
    if tip is not None:
        keep = x < tip.begins
        x, seen = np.r_[x[keep], tip.begins, tip.x], np.r_[seen[keep], True, True]
        low, high = (
            np.r_[v[keep], np.polyval(line, tip.begins), tip.z]
            for v, line in ((low, tip.low), (high, tip.high))
        )
    elif cone is not None:
        x, low, high = cone
        seen = np.r_[seen, np.ones(x.size - seen.size, dtype=bool)]
    high = without_whiskers(x, high, pen_mm)
    low = np.minimum(-without_whiskers(x, -low, pen_mm), high)
    x, low, high, seen = np.r_[0.0, x], np.r_[low[0], low], np.r_[high[0], high], np.r_[seen[0], seen]
    return Body(x=x, low=low, high=high, seen=seen.astype(np.float64))


def _level(x: Floats, edge: Floats) -> bool:
    """Whether an edge goes on lengthwise, and does not close a round end."""
    return bool(np.ptp(edge) < _STEEP * np.ptp(x))
