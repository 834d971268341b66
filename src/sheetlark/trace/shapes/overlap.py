"""A biplane's two wings out of the lines of its top view: which lines are the upper's, and what shows of the lower.

The upper wing lies on top, so its whole outline is drawn: one of the lines that come back to the body. The lower one
is another such line, where the drawing shows it through the upper, or what stands out beside the upper; what is hidden
takes the upper one's shape. Of all pairs the one is taken that explains the most of the ink, all of it once, whose
edges are the least undrawn, whose shapes have no notches, and that sections and half spans bear out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.contour import crossings_each
from sheetlark.trace.shapes.hidden import Known, completed, cut_short
from sheetlark.trace.shapes.sections import Section
from sheetlark.trace.shapes.smoothing import ironed, parted
from sheetlark.trace.shapes.stretch import near, weight
from sheetlark.trace.shapes.strokes import Halves, Line
from sheetlark.trace.shapes.surface import Surface, carried_in

# a span's length of outline inked is worth 1
_UNDRAWN = 2.0  # what as much undrawn costs
_SILHOUETTE = 0.05  # what it costs that both wings are drawn without a line inside
_NOTCH = 5.0  # what a notch costs, as a share of the wing's area
_LEAP = 0.15  # what an edge costs that leaps along the chord, as the outline of both does at the shorter one's tip
_LEAPS = 0.015  # of the span, within that part of it
_BORNE = 0.3  # what a section that agrees is worth
_UNLIKE = 0.3  # what a half span costs that is 1.2 % off the front view's
_ODD = 0.1  # what chords cost that are 25 % off each other
_BENT = 0.05  # what leaving a line for another costs, a radian
_OUTLINE = 1.0  # what 0.6 % of the span costs by which the outline of both is off the one drawn
_GUESSED = 0.03  # what it costs that hidden edges of the lower wing are put in
_MOST = 7  # lines tried as wings
_DOTS = 5000  # places of ink that are asked whose they are, at the most


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Two:
    """Two wings, and how well they explain what is drawn.

    seen_upper, seen_lower : share of each one's outline that is drawn or borne out by a section, 0..1.
    """

    upper: Surface
    lower: Surface
    score: float
    seen_upper: float
    seen_lower: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Wing:
    """A line as a wing, and what of a pair's score is its own."""

    surface: Surface
    path: Floats
    distances: Callable[[Floats], Floats]  # of places from its outline
    inked: Mask
    covers: Mask  # which of the drawing's ink its outline explains
    holds: Mask  # which of it lies inside
    cost: float
    bent: float


class Drawn:
    """What pairs of wings are weighed against.

    Parameters
    ----------
    both : outline of both together.
    semis : half span of the upper and of the lower wing as the front view has them. [mm]
    uppers, lowers : sections that may be theirs, from the side view.
    """

    def __init__(
        self,
        halves: Halves,
        both: Surface,
        *,
        semis: tuple[float, float],
        uppers: tuple[Section, ...],
        lowers: tuple[Section, ...],
    ) -> None:
        from scipy import ndimage

        self.halves, self.both, self.semis = halves, both, semis
        self.uppers, self.lowers = uppers, lowers
        # of each wing's sections both ends, shape (n, 2), and how sure each is
        self.told = tuple(
            (
                np.array([(q.lead, q.trail) for q in of]).reshape(-1, 2),
                np.array([weight(q, of) for q in of]),
            )
            for of in (uppers, lowers)
        )
        self.ink = ndimage.maximum_filter(halves.wide, 3)
        self.reach = 0.5 * halves.pen + 0.0027 * halves.span  # the ink to both sides of an edge
        self.each = 0.002  # between places along an outline, in spans
        self.clear = 0.006 * halves.span + 0.6 * halves.pen
        # a line is darker than what lies to both sides of it; hatching and filled areas are not
        k = 2 * round((1.2 * halves.pen + 0.003 * halves.span) / halves.step) + 1
        calm = [ndimage.uniform_filter1d(halves.wide, k, axis=a, mode="nearest") for a in (0, 1)]
        rows, columns = np.nonzero(halves.wide - 0.8 * np.minimum(*calm) > 0.3)
        p = np.c_[halves.low + halves.step * rows, halves.step * columns]
        p = p[p[:, 1] > halves.root]
        self.dots = p[:: len(p) // _DOTS + 1]
        outline = self.wing(both)  # tells how much of a stroke's length a place of ink stands for, in spans
        self.dot = self.each * float(outline.inked.sum()) / max(float(outline.covers.sum()), 1.0)

    def inked(self, p: Floats) -> Mask:
        """Which places are drawn on."""
        return np.asarray(self.halves.at(self.ink, p[:, 0], p[:, 1]) > 0.4)

    def wing(self, surface: Surface, bent: float = 0.0) -> _Wing:
        """A wing made ready for weighing."""
        from scipy.spatial import cKDTree

        half = surface.half()
        steps = np.r_[0.0, np.cumsum(np.hypot(*np.diff(half, axis=0).T))]
        at = np.arange(0.0, steps[-1], self.each * self.halves.span)
        path = np.c_[np.interp(at, steps, half[:, 0]), np.interp(at, steps, half[:, 1])]
        path = path[path[:, 1] > self.halves.root]
        tree = cKDTree(path)
        return _Wing(
            surface=surface,
            path=path,
            distances=lambda q: np.asarray(tree.query(q)[0]),
            inked=self.inked(path),
            covers=np.asarray(tree.query(self.dots, distance_upper_bound=self.reach)[0] < self.reach),
            holds=self.inside(self.dots, surface),
            cost=_NOTCH * self._notch(surface) + _LEAP * _leaps(surface, self.halves.span) + _BENT * bent,
            bent=bent,
        )

    def inside(self, p: Floats, s: Surface) -> Mask:
        """Which places lie within a wing, clear of its edges."""
        x, y = p.T
        return np.asarray(s.within(x, y, self.clear) & (y < s.station[-1] - self.clear))

    def weighed(self, upper: _Wing, lower: _Wing, *, less: float = 0.0) -> Two:
        """A pair with its score. less : what it is held against."""
        b = lower.path
        beside = upper.distances(b) > self.clear
        under = beside & self.inside(b, upper.surface)
        shows = beside & ~under
        gone = float((~lower.inked & shows).sum())
        drawn = upper.covers | (lower.covers & ~upper.holds)
        score = self._drawn_as(drawn, gone + float((~upper.inked).sum()))
        # what lies under the upper wing is drawn throughout, so that a gap costs as anywhere, or not at all
        more = lower.covers & upper.holds & ~upper.covers
        gain = self._drawn_as(more, float((~lower.inked & under).sum()))
        seen, told = float((lower.inked & shows).sum()), float(shows.sum())
        if gain > 0.0:
            score += gain
            seen += float((lower.inked & under).sum())
            told += float(under.sum())
        # or both are drawn as one silhouette, without a line inside
        drawn = (upper.covers & ~lower.holds) | (lower.covers & ~upper.holds)
        gone += float((~upper.inked & ~self.inside(upper.path, lower.surface)).sum())
        score = max(score, self._drawn_as(drawn, gone) - _SILHOUETTE)
        score -= upper.cost + lower.cost + less
        borne = self._borne(upper.surface, lower.surface)
        score += _BORNE * sum(borne)
        score -= _ODD * min(max(abs(_chords(lower.surface, upper.surface)) - 0.1, 0.0) / 0.15, 3.0)
        for w, semi in ((upper, self.semis[0]), (lower, self.semis[1])):
            score -= _UNLIKE * min(abs(float(w.surface.station[-1]) - semi) / (0.012 * semi), 1.5)
        score -= _OUTLINE * min(self._apart(upper.surface, lower.surface) / (0.006 * self.halves.span), 3.0)
        return Two(
            upper=upper.surface,
            lower=lower.surface,
            score=score,
            seen_upper=float(upper.inked.mean()),
            seen_lower=max(seen / max(told, 1.0), 0.8 * borne[1]),
        )

    def _drawn_as(self, explained: Mask, gone: float) -> float:
        """What ink that edges explain is worth, less what edges cost that are not drawn at so many places."""
        return self.dot * float(explained.sum()) - self.each * _UNDRAWN * gone

    def _apart(self, upper: Surface, lower: Surface) -> float:
        """By how much the outline both make together is off the one drawn, in the mean. [mm]"""
        y = self.both.station
        y = y[(y > self.halves.root) & (y < 0.985 * y[-1])]
        lead, trail = np.full(y.size, np.inf), np.full(y.size, -np.inf)
        for s in (upper, lower):
            there, (front, rear) = y <= s.station[-1], s.edges_at(y)
            lead = np.where(there, np.minimum(lead, front), lead)
            trail = np.where(there, np.maximum(trail, rear), trail)
        front, rear = self.both.edges_at(y)
        off = np.abs(lead - front) + np.abs(trail - rear)
        return float(np.minimum(off, 0.024 * self.halves.span).mean())

    def _notch(self, s: Surface) -> float:
        """What a wing's outline lacks of a shape without notches, as a share of its area."""
        import shapely

        keep = s.station > self.halves.root
        out = replace(s, station=s.station[keep], lead=s.lead[keep], trail=s.trail[keep])
        half = shapely.Polygon(out.half()).buffer(0.0)
        whole = half.convex_hull.area
        return float(1.0 - half.area / whole) if whole else 1.0

    def _borne(self, upper: Surface, lower: Surface) -> tuple[float, float]:
        """How well sections of the side view agree with each root chord, 0..1; it may lie a little off along x."""
        (ups, up_sure), (lows, low_sure) = self.told
        offs = np.r_[0.0, ups[:, 0] - float(upper.lead[0]), lows[:, 0] - float(lower.lead[0])]
        offs = offs[np.abs(offs) < 0.03 * self.halves.span]
        trust = near(offs, 0.012 * self.halves.span)
        both = np.c_[
            trust * self._agree(upper, ups, up_sure, offs), trust * self._agree(lower, lows, low_sure, offs)
        ]
        best = both[int(both.sum(1).argmax())]
        return float(best[0]), float(best[1])

    def _agree(self, s: Surface, ends: Floats, sure: Floats, offs: Floats) -> Floats:
        """How well the best section agrees with a root chord when all lie off by so much; shape (offs,)."""
        if not len(ends):
            return np.zeros(offs.size)
        root = np.array([s.lead[0], s.trail[0]])
        each = near(ends - offs[:, None, None] - root, 0.005 * self.halves.span)
        return np.asarray((sure * each.prod(-1)).max(-1))

    def lowers_by(self, upper: Surface) -> tuple[Section, ...]:
        """The lower wing's sections, and where the side view lies off along x, by the upper's, moved into place."""
        if not self.uppers:
            return self.lowers
        off = self.uppers[0].lead - float(upper.lead[0])
        if not 0.003 * self.halves.span < abs(off) < 0.03 * self.halves.span:
            return self.lowers
        return (
            *self.lowers,
            *(replace(q, lead=q.lead - off, trail=q.trail - off) for q in self.lowers),
        )

    def known(self, lower: Surface, upper: Surface) -> Known:
        """Where the lower wing's edges are seen: beside the upper, or drawn through it, not along its own edges."""
        y = lower.station
        clear = 0.004 * self.halves.span + 0.25 * self.halves.pen
        lead, trail = upper.edges_at(y)
        beyond = y > upper.station[-1] + clear
        out = []
        for e in (lower.lead, lower.trail):
            p = np.c_[e, y]
            inside = self.inside(p, upper)
            through = inside & self.inked(p)
            if through.sum() < 0.5 * inside.sum():
                through[:] = False
            beside = beyond | (e < lead - clear) | (e > trail + clear)
            out.append((beside | through) & (y > self.halves.root))
        return Known(lead=out[0], trail=out[1])


def _leaps(s: Surface, span: float) -> float:
    """How surely an edge leaps along the chord short of the tip, 0..1: a wing's own goes on, at worst round a corner."""
    y = np.arange(s.station[0], 0.94 * s.station[-1], 0.002 * span)
    over = 6  # steps
    if y.size < 4 * over:
        return 0.0
    most = 0.0
    for e in (s.lead, s.trail):
        x = np.interp(y, s.station, e)
        step = x[over:] - x[:-over]
        most = max(most, float(np.abs(step - np.median(step)).max()))
    return float(np.clip((most / span - _LEAPS) / (0.5 * _LEAPS), 0.0, 1.0))


def _chords(lower: Surface, upper: Surface) -> float:
    """Logarithm of the lower wing's root chord over the upper one's."""
    a, b = (max(float(s.trail[0] - s.lead[0]), 1e-3) for s in (upper, lower))
    return float(np.log(b / a))


def as_wing(line: Line, both: Surface, halves: Halves) -> Surface | None:
    """The wing a line that comes back to the body goes round; None where it goes round nothing like one."""
    p = line.points
    semi = float(p[:, 1].max())
    y = semi * np.sin(np.linspace(0.0, np.pi / 2, 220))
    lead, trail = np.full(y.size, np.nan), np.full(y.size, np.nan)
    within = np.nonzero((y > halves.root + halves.step) & (y < semi - 0.02 * halves.step))[0]
    for k, cuts in zip(within, crossings_each((p,), y[within], 1), strict=True):
        if len(cuts):
            lead[k], trail[k] = min(c[0] for c in cuts), max(c[1] for c in cuts)
    fine = np.nonzero(np.isfinite(lead))[0]
    if semi < 0.3 * halves.span or fine.size < 40:
        return None
    lead[fine[-1] + 1 :], trail[fine[-1] + 1 :] = lead[fine[-1]], trail[fine[-1]]
    edges = []
    for edge, outline, root in ((lead, both.lead, both.lead_root), (trail, both.trail, both.trail_root)):
        margin = 0.012 * halves.span
        e = carried_in(y, edge, root, margin=margin, base=0.14 * semi + margin)
        on = np.interp(y, both.station, outline)  # where it rides the outline, that is measured more finely
        fully = 0.5 * (0.003 * halves.span + 0.4 * halves.pen)
        edges.append(e + (on - e) * np.clip(2.0 - np.abs(e - on) / fully, 0.0, 1.0))
    return replace(both, station=y, lead=np.minimum(*edges), trail=np.maximum(*edges))


def _wings(drawn: Drawn, lines: list[Line]) -> list[_Wing]:
    """The likeliest wings among lines: without notches, straight on."""
    found = []
    for line in lines:
        s = as_wing(line, drawn.both, drawn.halves) if line.closed else None
        if s is not None:
            found.append(drawn.wing(s, line.bent))
    found.sort(key=lambda w: w.cost + _UNDRAWN * float((~w.inked).mean()))
    return found[:_MOST]


def _pairs(drawn: Drawn, lines: list[Line], lowers: list[_Wing]) -> Iterator[Two]:
    """Every pair worth weighing that has a drawn line for its upper wing.

    lowers : lower wings that have an upper one's shape.
    """
    wings = _wings(drawn, lines)
    for u in wings:
        for v in lowers:
            yield drawn.weighed(u, v, less=0.05)
        for v in wings:
            if v is u:
                continue
            two, w = max(_ways(drawn, u, v), key=lambda q: q[0].score)
            yield two
            known = drawn.known(two.lower, two.upper)
            for s in completed(two.lower, two.upper, known, drawn.lowers_by(two.upper), drawn.halves):
                yield drawn.weighed(w, drawn.wing(s, v.bent), less=_GUESSED)
        for s in _beside(drawn, u.surface):
            yield drawn.weighed(u, drawn.wing(s), less=_GUESSED)


def _as_wide(s: Surface, semi: float) -> Surface:
    """A wing stretched along the span."""
    return replace(s, station=s.station * (semi / s.station[-1]))


def _coincident(drawn: Drawn) -> Iterator[Two]:
    """Pairs of which one wing lies right over the other, edge on edge, with a tip of the same shape further in."""
    longer = drawn.wing(drawn.both)
    upper_longer = drawn.semis[0] >= drawn.semis[1]
    for off in (-0.006, -0.003, 0.0, 0.003, 0.006):
        s = cut_short(drawn.both, min(drawn.semis) + off * drawn.halves.span, drawn.halves.span)
        if s is not None:
            pair = (longer, drawn.wing(s))
            yield drawn.weighed(*(pair if upper_longer else pair[::-1]))


def _beside(drawn: Drawn, upper: Surface) -> list[Surface]:
    """Lower wings of which the outline of both shows what stands out beside the upper."""
    both = drawn.both
    inner = both.station <= drawn.semis[1]
    outline = replace(both, station=both.station[inner], lead=both.lead[inner], trail=both.trail[inner])
    return completed(outline, upper, drawn.known(outline, upper), drawn.lowers_by(upper), drawn.halves)


def _ways(drawn: Drawn, u: _Wing, v: _Wing) -> Iterator[tuple[Two, _Wing]]:
    """Two lines as upper and lower wing, and the upper: as followed, and straight on where they come close."""
    yield drawn.weighed(u, v), u
    upper, lower = parted(u.surface, v.surface, drawn.both, drawn.halves)
    if upper is not u.surface or lower is not v.surface:
        w = drawn.wing(upper, u.bent)
        yield drawn.weighed(w, drawn.wing(lower, v.bent)), w


def best_pair(
    drawn: Drawn, lines: list[Line], stretched: list[tuple[Surface, Surface]], likeliest: int
) -> tuple[Two, bool]:
    """The pair that explains the drawing best, and whether it is made of lines.

    Parameters
    ----------
    stretched : pairs (upper, lower) of which one takes the other's shape.
    likeliest : which of them is borne out best by their own measure.
    """
    lowers = [drawn.wing(lower) for _, lower in stretched]
    by_shape = []
    for k, ((upper, _), lower) in enumerate(zip(stretched, lowers, strict=True)):
        less = 0.0 if k == likeliest else 0.05
        u = drawn.wing(upper)
        by_shape.append(drawn.weighed(u, lower, less=less))
        by_shape += [drawn.weighed(u, drawn.wing(s), less=less + _GUESSED) for s in _beside(drawn, upper)]
    # one right under the other, of one shape
    by_shape.append(drawn.weighed(*(drawn.wing(_as_wide(drawn.both, semi)) for semi in drawn.semis)))
    by_shape += _coincident(drawn)
    shaped = max(by_shape, key=lambda t: t.score)
    best = max(_pairs(drawn, lines, lowers), key=lambda t: t.score, default=shaped)
    if best.score <= shaped.score:
        return shaped, False
    span = drawn.halves.span
    return replace(best, upper=ironed(best.upper, span), lower=ironed(best.lower, span)), True
