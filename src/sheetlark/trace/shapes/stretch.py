"""How two wings share one outline: the smaller takes the larger one's shape, stretched and moved to fit best.

Tried against all that is drawn: lines inside the outline, the sections in the side view, the half spans in the front
view, and the outline itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.inkgrid import InkGrid
from sheetlark.trace.shapes.sections import Section
from sheetlark.trace.shapes.surface import Surface

_PAST = 0.008  # of the half span: so close beyond the other's tip the outline may still be that tip's


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """One way the outline may be shared: `a` is the larger wing, `b` the other.

    lead_of, trail_of : whose edge the joint outline shows in front and behind, near the body.
    """

    lead_of: str
    trail_of: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edges:
    """Edges of both wings over stations of the larger one; b at stations y * ratio. Shape (..., n)."""

    a_lead: Floats
    a_trail: Floats
    b_lead: Floats
    b_trail: Floats


def shared_edges(
    both: Surface, y: Floats, trial: Trial, chord_a: Floats, chord_b: Floats, front_b: Floats, ratio: float
) -> Edges:
    """What the larger wing's and the other's edges must be, given both root chords and the spans' ratio."""
    lead, trail = both.edges_at(y)
    at_b = both.edges_at(y * ratio)
    k = (chord_b / chord_a)[..., None]
    x_lead, x_trail = float(both.lead[0]), float(both.trail[0])
    seen = y > both.station[-1] * (ratio + _PAST)
    a0: Floats | float = x_lead
    if (trial.lead_of, trial.trail_of) == ("a", "b"):
        b0 = (x_trail - chord_b)[..., None]
        a_lead = np.broadcast_to(lead, (*k.shape[:-1], y.size))
        a_trail = np.minimum(np.where(seen, trail, a0 + (at_b[1] - b0) / k), trail)
    elif (trial.lead_of, trial.trail_of) == ("b", "a"):
        b0 = np.broadcast_to(x_lead, chord_b.shape)[..., None]
        a0 = (x_trail - chord_a)[..., None]
        a_trail = np.broadcast_to(trail, (*k.shape[:-1], y.size))
        a_lead = np.maximum(np.where(seen, lead, a0 + (at_b[0] - b0) / k), lead)
    else:
        b0 = front_b[..., None]
        a_lead = np.broadcast_to(lead, (*k.shape[:-1], y.size))
        a_trail = np.broadcast_to(trail, (*k.shape[:-1], y.size))
    return Edges(
        a_lead=np.asarray(a_lead),
        a_trail=np.asarray(a_trail),
        b_lead=b0 + k * (a_lead - a0),
        b_trail=b0 + k * (a_trail - a0),
    )


class Evidence:
    """The top view's ink inside the joint outline, both halves at once."""

    def __init__(
        self, both: Surface, ink: Callable[[Floats, Floats], Floats], *, span: float, pen: float
    ) -> None:
        self.both, self.span, self.pen = both, span, pen
        semi = float(both.station[-1])
        low = (float(both.lead.min()) - 0.01 * span, 0.0)
        high = (float(both.trail.max()) + 0.01 * span, semi)

        def mirrored(x: Floats, y: Floats) -> Floats:
            return np.minimum(ink(x, y), ink(x, -y))

        self.grid = InkGrid.of(mirrored, low, high, 0.0012 * span)
        from scipy import ndimage

        # a line is darker than what lies beside it; hatching and filled areas are not
        k = 2 * round((1.2 * pen + 0.003 * span) / self.grid.step) + 1
        near = ndimage.maximum_filter(self.grid.fine, size=3, mode="constant")
        calm = ndimage.uniform_filter(self.grid.fine, size=(k, 1), mode="nearest")
        self.line = np.clip(near - 0.8 * calm, 0.0, 1.0)
        self._spread: dict[int, Floats] = {1: self.line}
        self.root = max(both.lead_root, both.trail_root) + 0.012 * span

    def along(
        self, x: Floats, y: Floats, others: tuple[Floats, ...], *, reach: float, first: float = 0.0
    ) -> tuple[Floats, Floats]:
        """Share of an edge that is drawn, and share of it that stands clear of the outline and of other edges."""
        from scipy import ndimage

        k = 2 * round(reach / self.grid.step) + 1
        if k not in self._spread:  # many edges are asked for with each reach
            self._spread[k] = ndimage.maximum_filter1d(self.line, k, axis=0)
        e = self.grid.at(self._spread[k], x, np.broadcast_to(y, x.shape))
        clear = 0.006 * self.span + 0.6 * self.pen
        use = (y > max(self.root, first)) & self.both.within(x, y, clear)
        for o in others:
            use = use & (np.abs(x - o) > clear)
        n = use.sum(-1)
        stations = max(int((y > self.root).sum()), 1)
        drawn = np.where(n > 0, ((e > 0.3) & use).sum(-1) / np.maximum(n, 1), 0.0)
        return np.asarray(drawn), np.asarray(n / stations)


def _share(drawn: Floats, clear: Floats) -> Floats:
    return np.asarray(np.clip((drawn - 0.45) / 0.45, 0.0, 1.0) * _clear(clear))


def _clear(share: Floats) -> Floats:
    """How far an edge of which that share stands clear of others is to be heard."""
    return np.asarray(np.clip((share - 0.15) / 0.35, 0.0, 1.0))


def near(off: Floats, spread: float) -> Floats:
    """1 where `off` is nothing, falling off as a normal distribution of that spread."""
    return np.asarray(np.exp(-0.5 * (off / spread) ** 2))


def weight(s: Section, among: tuple[Section, ...] = ()) -> float:
    """How far a section is to be believed, by its ink and by how it stands against others of the same wing."""
    best = max((o.strength for o in among), default=s.strength)
    return float(np.clip((s.strength - 0.45) / 0.35, 0.0, 1.0)) * (s.strength / best) ** 4


def _sections_say(
    trial: Trial,
    both: Surface,
    chord_a: Floats,
    chord_b: Floats,
    front_b: Floats,
    of_a: tuple[Section, ...],
    of_b: tuple[Section, ...],
    span: float,
) -> tuple[Floats, Floats]:
    """How well drawn sections agree with root chords: for the larger wing and for the other, 0..1 each.

    The side view may sit a little off along x, by what a spinner or blade hid; a section's free edge tells.
    """
    x_lead, x_trail = float(both.lead[0]), float(both.trail[0])
    a_lead = np.full(chord_a.shape, x_lead) if trial.lead_of == "a" else x_trail - chord_a
    b_lead = (
        front_b
        if trial.lead_of == trial.trail_of
        else np.full(chord_b.shape, x_lead)
        if trial.lead_of == "b"
        else x_trail - chord_b
    )
    fine = 0.005 * span
    shifts: list[tuple[float, float, Section | None]] = [(0.0, 0.0, None)]
    for p in of_a:
        off = (p.lead - x_lead) if trial.lead_of == "a" else (p.trail - x_trail)
        if abs(off) < 0.03 * span:
            shifts.append((float(off), weight(p, of_a) * float(near(np.array(off), 0.012 * span)), p))
    best_a, best_b = np.zeros(chord_a.shape), np.zeros(chord_b.shape)
    best = np.full(chord_a.shape, -1.0)
    for off, trust, s in shifts:
        mine = np.zeros(chord_a.shape)
        if s is not None:
            mine = trust * near(s.lead - off - a_lead, fine) * near(s.trail - off - a_lead - chord_a, fine)
        other = np.zeros(chord_b.shape)
        for q in of_b:
            agree = near(q.lead - off - b_lead, fine) * near(q.trail - off - b_lead - chord_b, fine)
            other = np.maximum(other, weight(q, of_b) * agree)
        better = mine + other > best
        best = np.where(better, mine + other, best)
        best_a, best_b = np.where(better, mine, best_a), np.where(better, other, best_b)
    return best_a, best_b


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """A way to share the outline: root chords, where the other wing begins when inside the larger, ratio of spans. [mm]

    score : how well all agrees; drawn, section : how far lines and sections bear each wing out, 0..1; outside : how far
        the outline both make together is off the one drawn.
    """

    trial: Trial
    chord_a: float
    chord_b: float
    front_b: float
    ratio: float
    score: float
    drawn_a: float
    drawn_b: float
    section_a: float
    section_b: float
    outside: float


def _best(
    trial: Trial,
    evidence: Evidence,
    chord_a: Floats,
    chord_b: Floats,
    front_b: Floats,
    ratios: Floats,
    of_a: tuple[Section, ...],
    of_b: tuple[Section, ...],
    wanted_ratio: float,
    *,
    reach: float,
    points: int,
) -> Fit | None:
    """The best of all the given chords, places and ratios of span."""
    both, span = evidence.both, evidence.span
    semi = float(both.station[-1])
    y = np.linspace(0.02 * semi, 0.992 * semi, points)
    best: Fit | None = None
    part_a, part_b = _sections_say(trial, both, chord_a, chord_b, front_b, of_a, of_b, span)
    for ratio in ratios:
        e = shared_edges(both, y, trial, chord_a, chord_b, front_b, float(ratio))
        yb = y * float(ratio)
        # edges of each wing at the other's stations are compared on the other's own
        if trial.lead_of == trial.trail_of:
            drawn_a = np.zeros(chord_a.shape)
            on_a = [
                np.interp(yb, y, v)
                for v in (e.a_lead.reshape(-1, y.size)[0], e.a_trail.reshape(-1, y.size)[0])
            ]
            d0, c0 = evidence.along(e.b_lead, yb, tuple(on_a), reach=reach)
            d1, c1 = evidence.along(e.b_trail, yb, tuple(on_a), reach=reach)
            # an edge that lies on the larger wing's cannot be told from it: the other one alone speaks
            told = np.maximum(_clear(c0) + _clear(c1), 1.0)
            drawn_b = (_share(d0, c0) + _share(d1, c1)) / told
        else:
            inner_a = e.a_trail if trial.trail_of == "b" else e.a_lead
            inner_b = e.b_lead if trial.lead_of == "a" else e.b_trail
            drawn_a = _share(*evidence.along(inner_a, y, (), reach=reach))
            at_b = _shifted(inner_a, y, yb)
            drawn_b = _share(*evidence.along(inner_b, yb, (at_b,), reach=reach))
        # the outline both make together must be the one drawn
        lead_b, trail_b = _shifted(e.b_lead, yb, y), _shifted(e.b_trail, yb, y)
        there = y <= yb[-1]
        front = np.where(there, np.minimum(e.a_lead, lead_b), e.a_lead)
        rear = np.where(there, np.maximum(e.a_trail, trail_b), e.a_trail)
        lead, trail = both.edges_at(y)
        off = np.abs(front - lead) + np.abs(rear - trail)
        outside = np.minimum(off / (0.006 * span), 4.0).mean(-1)
        stretch = chord_b / chord_a
        if trial.lead_of == trial.trail_of:
            stagger = np.zeros(chord_a.shape)
        elif trial.lead_of == "a":
            stagger = float(both.trail[0] - both.lead[0]) - chord_b
        else:
            stagger = float(both.trail[0] - both.lead[0]) - chord_a
        score = (
            1.2 * drawn_a
            + 0.9 * drawn_b
            + 1.0 * part_a
            + 1.1 * part_b
            - 1.2 * outside
            - 3.0 * np.clip(stagger / chord_a - 0.45, 0.0, 1.0)
            - 0.3 * np.minimum(np.abs(stretch - 1.0) / 0.15, 3.0)
            - 0.3 * min(abs(float(ratio) - wanted_ratio) / 0.012, 2.0)
        )
        i = int(score.argmax())
        if best is None or score.flat[i] > best.score:
            best = Fit(
                trial=trial,
                chord_a=float(chord_a.flat[i]),
                chord_b=float(chord_b.flat[i]),
                front_b=float(front_b.flat[i]),
                ratio=float(ratio),
                score=float(score.flat[i]),
                drawn_a=float(drawn_a.flat[i]),
                drawn_b=float(drawn_b.flat[i]),
                section_a=float(part_a.flat[i]),
                section_b=float(part_b.flat[i]),
                outside=float(outside.flat[i]),
            )
    return best


def _shifted(values: Floats, at: Floats, wanted: Floats) -> Floats:
    """Rows of `values`, given at stations `at`, read at other evenly spaced stations."""
    if np.array_equal(at, wanted):
        return values
    i = np.clip(np.searchsorted(at, wanted) - 1, 0, at.size - 2)
    f = np.clip((wanted - at[i]) / (at[i + 1] - at[i]), 0.0, 1.0)
    return np.asarray(values[..., i] * (1.0 - f) + values[..., i + 1] * f)


def best_fit(
    trial: Trial,
    evidence: Evidence,
    ratio: float,
    of_a: tuple[Section, ...],
    of_b: tuple[Section, ...],
) -> Fit | None:
    """The best fit of one trial: a search over chords, then smaller steps about the best; None where none is possible.

    ratio : the other's span over the larger one's, from the front view. of_a, of_b : sections that may be theirs.
    """
    both, span = evidence.both, evidence.span
    x0, x1 = float(both.lead[0]), float(both.trail[0])
    whole = x1 - x0
    step = 0.004 * span
    ratios = np.unique(np.clip(ratio + np.array([-0.012, -0.006, 0.0, 0.006, 0.012]), 0.5, 1.0))
    ratios = ratios[ratios > 0.985] if ratio > 0.988 else ratios
    if trial.lead_of == trial.trail_of:
        front, chord = np.arange(x0, x0 + 0.35 * whole, step), np.arange(0.62 * whole, 1.005 * whole, step)
        a, b = np.meshgrid(np.r_[x0, front], np.r_[whole, chord], indexing="ij")
        keep = a + b < x1 + 0.004 * span
        front_b, chord_b = a[keep], b[keep]
        chord_a = np.full(chord_b.shape, whole)
    else:
        chord = np.arange(0.5 * whole, 0.995 * whole, step)
        chord_a, chord_b = (m.ravel() for m in np.meshgrid(chord, chord, indexing="ij"))
        keep = (chord_b / chord_a > 0.62) & (chord_b / chord_a < 1.25) & (chord_a + chord_b > 0.97 * whole)
        chord_a, chord_b = chord_a[keep], chord_b[keep]
        front_b = np.zeros(chord_b.shape)
    if not chord_b.size:
        return None
    found = _best(
        trial, evidence, chord_a, chord_b, front_b, ratios, of_a, of_b, ratio, reach=0.5 * step, points=70
    )
    if found is None:
        return None
    if found.outside > 0.12:  # the outline disagrees: the front view may not have told the spans apart
        some = slice(None, None, 4)
        wide = np.r_[np.arange(0.72, 0.985, 0.012), 1.0]
        other = _best(
            trial,
            evidence,
            chord_a[some],
            chord_b[some],
            front_b[some],
            wide,
            of_a,
            of_b,
            ratio,
            reach=step,
            points=70,
        )
        found = other if other is not None and other.score > found.score else found
    # where nothing is drawn of the other's chord the coarse search may have gone astray: it is like the larger's
    like = replace(found, chord_b=found.chord_a)
    starts = [
        found,
        replace(like, chord_a=whole, chord_b=whole, front_b=x0) if trial.lead_of == trial.trail_of else like,
    ]
    fits = [_refined(f, evidence, ratio, of_a, of_b, step) for f in starts]
    return max(fits, key=lambda f: f.score)


def _refined(
    found: Fit,
    evidence: Evidence,
    ratio: float,
    of_a: tuple[Section, ...],
    of_b: tuple[Section, ...],
    step: float,
) -> Fit:
    """The best near a fit, chords, place and ratio of spans moved in ever smaller steps."""
    trial = found.trial
    for k in (0.9, 0.4, 0.2):
        move = k * step * np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
        nested = trial.lead_of == trial.trail_of
        ca, cb, fb = (
            m.ravel()
            for m in np.meshgrid(
                found.chord_a + (0.0 * move[:1] if nested else move),
                found.chord_b + move,
                found.front_b + (move if nested else 0.0 * move[:1]),
                indexing="ij",
            )
        )
        rs = np.unique(np.clip(found.ratio + 0.006 * k * np.array([-1.0, -0.5, 0.0, 0.5, 1.0]), 0.5, 1.0))
        finer = _best(trial, evidence, ca, cb, fb, rs, of_a, of_b, ratio, reach=0.3 * k * step, points=110)
        found = finer or found
    return found
