"""Where a body ends as the top view draws it: both edges run to there, a line closes them, and beyond it they are not inked.

A hinge or a panel line across a body closes nothing, for the edges go on; a wing's trailing edge neither. A fin seen from
above is a narrow strip whose edges run on forward inside the body.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.body import (
    both_sides,
    extent,
    followed_width,
    goes_on_to,
    like_depth,
    open_width,
)
from sheetlark.trace.shapes.edges import stations
from sheetlark.trace.shapes.inkgrid import Ink, stands_out
from sheetlark.trace.shapes.strip import Strip, fin_strip
from sheetlark.trace.shapes.surface import Surface

_AFT = 0.7  # of the length: an end lies further aft than that
_SURE = 0.5  # support at the least: the worse of edges and closing line, less what is inked beyond
_NEAR = 0.015  # of the length, how far apart signs of one end may lie
_THIN = 1.6  # pens of half width below which edges and closing line are one blot
_TIP = 0.01  # of the length, ahead of a round end where it is still wide
_CLOSED = 0.55  # of the width below the fin, how wide a round or pointed end is there at the most
_CLOSING = 0.7  # and at its very end, of the width there
_DRAWN = 0.8  # share of the edges up to it that is inked
_AS_WIDE = 0.5  # of the width at an end, what is no fin's strip behind it
_TAPERS = 0.02  # slope of an edge that tapers, at the least
_SLACK = 0.002  # of the length, and half a pen: how far it may be off its taper at its end
_LINE = 0.75  # pens of half width to which a stroke alone may be read
_LEAD = 0.006  # of the span, how near to a leading edge no end is looked for
_BARE = 0.3  # ink on bare paper, at the most
_BEHIND = 0.2  # of the length, how far behind the silhouette ink on the centre line is followed
_PAPER = 0.01  # of the length without ink, and it has stopped
_CROSSED = 0.25  # share of the edges' way beyond an end that a line across it may ink
_SHOWS = 0.25  # share of a closing line that a fin's strip leaves to be seen
_STANDS = 0.9  # pens, how far a body's side stands out of a fin's strip at the least
_STRIP = 0.5  # share of two lines that run forward inside the body that is inked: a fin's, seen from above
_RIDGE = 0.25  # how much darker than beside it a closing line is


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Above:
    """The body's width in the top view as far as its edges are followed, and where it is drawn to end. All millimetres.

    x, half : ndarray, shape (n,), stations and half width.
    inked : ndarray, shape (n,), where the edges are drawn on both sides.
    shown, free : ndarray, shape (n,), the silhouette's half width, and where that is the body's alone.
    ink, pen_mm : the view's ink and its stroke width.
    end : station of the drawn end; None where none is plain.
    reach : how far aft the silhouette and the ink behind it reach on the centre line, inf where that goes on and on.
    """

    x: Floats
    half: Floats
    inked: Mask
    shown: Floats
    free: Mask
    ink: Ink
    pen_mm: float
    end: float | None
    reach: float

    @property
    def tapers_to(self) -> float:
        """How far aft a stern tapers on, its edges drawn, until it is as thin as a stroke; 0 where it does not. [mm]

        However narrow it grows it is no fin's strip seen from above, which is as wide all along. Thinner than a stroke it
        cannot be told from one drawn as a line.
        """
        last = float(self.x[-1])
        share = self.x / last
        ahead, end = (share > 0.7) & (share < 0.85) & self.inked, (share > 0.96) & (share < 0.99)
        if ahead.sum() < 12 or not end.any():
            return 0.0
        if min(self.inked[m].mean() for m in (share > 0.7, end)) < _DRAWN:
            return 0.0
        taper = np.polyfit(self.x[ahead], self.half[ahead], 1)
        off = abs(float(np.median(self.half[end] - np.polyval(taper, self.x[end]))))
        if taper[0] > -_TAPERS or off > 0.5 * self.pen_mm + _SLACK * last:
            return 0.0
        return min(last, float((_LINE * self.pen_mm - taper[1]) / taper[0]))

    def as_deep(self, x: Floats, depth: Floats, known: Mask) -> Floats:
        """The body's depth in the shape of its width, nan where that is not seen or tells nothing. [mm]

        Parameters
        ----------
        x, depth, known : ndarray, shape (n,)
            Stations, the silhouette's depth in the side view, and where that is the body's alone. [mm]
        """
        told = np.interp(x, self.x, (self.inked | self.free).astype(float)) > 0.5
        shaped = like_depth(x, depth, known & told, np.c_[self.x, self.half])
        return np.full(x.size, np.nan) if shaped is None else np.where(told, shaped, np.nan)

    def closes_from(self, start: float, depth: Floats | None = None) -> bool:
        """Whether the width, drawn all the way from `start` on, comes to a round or pointed end.

        Parameters
        ----------
        depth : ndarray, shape (m, 2), optional
            The body's depth if its stern is round. Where the edges as followed do not close they are followed again with
            it, for they may have gone straight on along a rib. [mm]
        """
        if _closes(self.x, self.half, self.inked, start):
            return True
        if depth is None:
            return False
        edge = followed_width(self.x, self.shown, self.free, self.ink, pen_mm=self.pen_mm, depth=depth)
        return _closes(self.x, edge.out, edge.seen, start)


def _closes(x: Floats, half: Floats, inked: Mask, start: float) -> bool:
    last = float(x[-1])
    if start > (1.0 - 2.0 * _TIP) * last:
        return False
    aft = (x > start) & (x < (1.0 - _TIP) * last)
    at = np.array([start, (1.0 - 2.0 * _TIP) * last, (1.0 - _TIP) * last, (1.0 - 0.3 * _TIP) * last])
    begun, before, near, end = np.interp(at, x, half)
    return bool(inked[aft].mean() > _DRAWN and near < _CLOSED * begun and end < _CLOSING * before)


def seen_above(
    rings: tuple[Floats, ...],
    ink: Ink,
    *,
    span: float,
    wing: Surface | None,
    tail: Surface | None,
    pen_mm: float,
    strip: Strip | None = None,
) -> Above | None:
    """The body in the top view with its foremost drawn end; None where its width is never free.

    Parameters
    ----------
    rings : tuple of ndarray, shape (n, 2)
        The top view's outlines. [mm]
    ink : callable (x, y) -> ink strength.
    strip : the fin, where it is drawn over the body; nothing of it is the body's.
    """
    start, end = extent(rings, span)
    length = end - start
    x = start + stations(length)
    half, free = open_width(rings, x, span, wing, tail, strip)
    if free.sum() < 15:
        return None
    whole = ink
    if strip is not None:
        ink = strip.taken_off(ink)
    edge = followed_width(x, half, free, ink, pen_mm=pen_mm)
    at = np.arange(start + _AFT * length, end, 0.0008 * span)
    for surface in (wing, tail):
        if surface is not None:  # where the body goes below it, its leading edge is no end
            at = at[np.abs(at - _lead_across(surface, at, x, edge.out)) > pen_mm + _LEAD * span]
    signs = _support(at, x, edge.out, edge.seen, ink, length=length, span=span, pen_mm=pen_mm, strip=strip)
    plain = np.flatnonzero(signs >= _SURE)
    drawn_end = None
    if plain.size:
        same = plain[at[plain] < at[plain[0]] + _NEAR * length]
        drawn_end = float(at[same[signs[same].argmax()]])
    if drawn_end is not None:  # as wide behind it, clear of wing and tail, it is their edge across the body
        on = free & (x > drawn_end + pen_mm) & (half > _AS_WIDE * float(np.interp(drawn_end, x, edge.out)))
        drawn_end = None if on.sum() > 2 else drawn_end
    if drawn_end is None and strip is not None:
        drawn_end = _steps_down(x, *open_width(rings, x, span, wing, tail), strip)
    reach = _ink_stops(end, float(edge.out[-1]) + 2.0 * pen_mm, whole, length=length, pen_mm=pen_mm)
    return Above(
        x=x,
        half=edge.out,
        inked=edge.seen,
        shown=half,
        free=free,
        ink=ink,
        pen_mm=pen_mm,
        end=drawn_end,
        reach=reach,
    )


def _steps_down(x: Floats, half: Floats, free: Mask, strip: Strip) -> float | None:
    """Where a silhouette clear of wing and tail leaps down to a fin's strip: its body ends there, flat or nearly so.

    A pointed stern runs into the strip little by little.
    """
    more = half - np.interp(x, strip.x, strip.half)
    pen = strip.pen_mm
    stands = np.flatnonzero(free & (more > _STANDS * pen) & (x > strip.x[0]))
    if not stands.size:
        return None
    last = float(x[stands[-1]])
    before = float(np.interp(last - 1.5 * pen, x, np.where(free, more, np.nan)))
    behind = float(np.interp(last + 0.7 * pen, x, more, right=0.0))  # of a thin strip no paper shows
    return last if before > 1.3 * _STANDS * pen and behind < 0.4 * pen else None


def _ink_stops(end: float, half: float, ink: Ink, *, length: float, pen_mm: float) -> float:
    """Where the ink on the centre line behind a silhouette stops, such as a thin cone's or a fin's strip's; inf if it goes on.

    half : how far to both sides of the centre line it is looked for. [mm]
    """
    step = 0.25 * pen_mm
    behind = np.arange(1.5 * pen_mm, max(_BEHIND * length, 5.0 * pen_mm), step)
    dark = ink(
        end + np.repeat(behind[:, None], 25, 1),
        np.repeat(np.linspace(-half, half, 25)[None, :], behind.size, 0),
    )
    bare = (dark > _BARE).mean(1) < 0.02
    run = max(round(2.5 * pen_mm / step), round(_PAPER * length / step))
    first = (
        np.flatnonzero(np.convolve(bare, np.ones(run), mode="valid") == run) if run < bare.size else bare[:0]
    )
    if not first.size:
        return np.inf
    return end if first[0] == 0 else end + float(behind[first[0]]) - 0.5 * pen_mm


def _lead_across(surface: Surface, at: Floats, x: Floats, half: Floats) -> Floats:
    """The station nearest to each of some at which a surface's leading edge lies over the body. [mm]"""
    ends = surface.edges_at(np.zeros(at.size))[0], surface.edges_at(np.interp(at, x, half))[0]
    return np.asarray(np.clip(at, np.minimum(*ends), np.maximum(*ends)))


def agreed_end(above: Above | None, length: float, *, others: float, slack: float) -> float:
    """How long the body is, by both views: as far as the top view has it where only other parts lie behind that. [mm]

    Parameters
    ----------
    length, others : float
        How far aft the side view reaches, and how far wing, tail and fin do. [mm]
    slack : float
        How far their ends may be read apart. [mm]
    """
    if above is None or others < length - slack:
        return length
    ends = above.reach if above.end is None else above.end
    return length if ends > length - slack else ends


def _support(
    at: Floats,
    x: Floats,
    half: Floats,
    inked: Mask,
    ink: Ink,
    *,
    length: float,
    span: float,
    pen_mm: float,
    strip: Strip | None,
) -> Floats:
    """How well a body's end is borne out at stations, shape (m,): its edges inked up to there, closed, and not beyond; -1 to 1."""
    support = np.full(at.size, -1.0)
    lines = [_edge_before(a, x, half, inked, length=length, pen_mm=pen_mm) for a in at]
    left = np.array([k for k, (_, width) in enumerate(lines) if width >= _THIN * pen_mm], dtype=int)
    if not left.size:
        return support
    rise, width = np.array(lines)[left].T[..., None]
    at = at[left, None]
    both, aside = both_sides(ink), 1.3 * pen_mm + 0.0005 * span
    ahead = at - np.linspace(0.01, 0.12, 40) * length
    within = np.interp(ahead, x, half) > width + 2.5 * pen_mm
    lined = (stands_out(both, ahead, width, 0.0, aside) > _RIDGE) & within
    some = within.sum(1)
    open_ = (some <= 7) | (lined.sum(1) <= _STRIP * some)  # else a fin's lines run forward inside the body
    y = np.linspace(-1.0, 1.0, 41) * np.maximum(width - 0.8 * pen_mm, 0.3 * width)
    shows = np.ones(y.shape, dtype=bool)
    if strip is not None:  # nobody sees what it covers
        y = np.linspace(y[:, 0], y[:, -1], 201, axis=1)
        shows = ~strip.covers(at, y)
        open_ &= (shows.sum(1) >= _SHOWS * 201) & (width >= strip.out_to(at) + pen_mm)[:, 0]
    left, at, rise, width, y, shows = (v[open_] for v in (left, at, rise, width, y, shows))
    row, across = np.nonzero(shows)[0], y[shows]
    moves = ((k * pen_mm, 1.3 * pen_mm + off * span) for k in (-0.3, 0.0, 0.3) for off in (0.0005, 0.002))
    closed = np.max([stands_out(ink, at[row, 0] + k, across, beside, 0.0) for k, beside in moves], axis=0)
    beyond = 1.5 * pen_mm + np.linspace(0.0, 0.025 * length, 12)
    on = np.maximum(width + rise * beyond, 0.0)
    edges = [stands_out(both, at + beyond, on + k * pen_mm, 0.0, aside) for k in (-0.7, 0.0, 0.7)]
    after = np.max(edges, axis=0) > _RIDGE  # what lies across is no edge
    for i, k in enumerate(left):
        a, line = float(at[i, 0]), closed[row == i]
        # a round stern's edges turn inward
        turns = np.interp(a + beyond, x, (inked & (half > 0.5 * width[i])).astype(float), right=0.0)
        goes_on = np.clip((max(after[i].mean(), turns.mean()) - _CROSSED) / _CROSSED, 0.0, 1.0)
        before = (x > a - 0.03 * length) & (x < a - 0.003 * length)
        drawn = min(inked[before].mean(), (line > _RIDGE).mean()) - goes_on
        support[k] = drawn + 0.01 * line.mean()  # of the stations across a wide stroke its middle
    return support


def _edge_before(
    at: float, x: Floats, half: Floats, inked: Mask, *, length: float, pen_mm: float
) -> tuple[float, float]:
    """The slope of a body's edge just ahead of a station and the half width it comes to there; no width where it is not inked."""
    near = inked & (x > at - 0.04 * length) & (x < at - 0.006 * length - 0.5 * pen_mm)
    if near.sum() < 4:
        return 0.0, -np.inf
    rise, width = np.polyfit(x[near] - at, half[near], 1)
    return float(rise), float(width)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TopView:
    """What the side view may ask of the top view once it knows its fin. All millimetres.

    rings, ink, pen_mm : the view's outlines, its ink and its stroke width.
    span : of the wing.
    """

    rings: tuple[Floats, ...]
    ink: Ink
    pen_mm: float
    span: float
    wing: Surface | None
    tail: Surface | None

    def strip(self, fin: Surface | None) -> Strip | None:
        """The side view's fin where it is drawn over the body here."""
        if fin is None:
            return None
        start, end = extent(self.rings, self.span)
        x = start + stations(end - start)
        half, free = open_width(self.rings, x, self.span, self.wing, self.tail)
        return fin_strip(x, half, free, self.ink, fin, pen_mm=self.pen_mm)

    def body(self, strip: Strip | None) -> Above | None:
        """The body, of which a fin's strip is no part."""
        return seen_above(
            self.rings,
            self.ink,
            span=self.span,
            wing=self.wing,
            tail=self.tail,
            pen_mm=self.pen_mm,
            strip=strip,
        )

    def goes_on(self, strip: Strip | None) -> float:
        """How far aft the body is shown, wider than a fin."""
        surfaces = tuple(s for s in (self.wing, self.tail) if s is not None)
        return goes_on_to(self.rings, self.span, surfaces, pen_mm=self.pen_mm, strip=strip)
