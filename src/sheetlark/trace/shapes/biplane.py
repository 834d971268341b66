"""Two wings from one top view.

The outline of both together shows one edge of each. The rest is found by trying, in two ways. The smaller wing takes
the larger one's shape, stretched along chord and span and moved by the stagger, and the stretch is best that agrees
with all that is drawn: lines inside the outline, the sections in the side view, the half spans in the front view, and
the outline itself; where an edge is drawn, the line is then followed. Or both are put together of lines that leave the
body and come back to it, whatever their shapes. Of both ways that is taken which explains more of the drawing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.contour import crossings, crossings_each
from sheetlark.trace.shapes.edges import strongest
from sheetlark.trace.shapes.overlap import Drawn, best_pair
from sheetlark.trace.shapes.sections import Section
from sheetlark.trace.shapes.stretch import Evidence, Fit, Trial, best_fit, near, shared_edges, weight
from sheetlark.trace.shapes.strokes import Halves, Line
from sheetlark.trace.shapes.surface import Surface, carried_in

_BESIDE = 0.12  # of the span, how far a wing may lie ahead of or behind the other one
_NESTED = 0.15  # what one wing right over the other has ahead where nothing speaks for either


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pair:
    """Upper and lower wing in the top view. stagger: upper ahead of lower is positive. [mm]

    seen_upper, seen_lower : how well the hidden edges are borne out by lines and sections, 0..1.
    second : how well it is that there are two wings.
    """

    upper: Surface
    lower: Surface
    stagger_mm: float
    seen_upper: float
    seen_lower: float
    second: float


def whole_outline(rings: tuple[Floats, ...], wing: Surface, span: float) -> Surface:
    """The joint outline of both wings: the foremost and aftmost edge at every station.

    Toward rounded tips with much stagger the two wings part, or they lie apart but for their roots, and following one
    surface keeps only one of them.
    """
    y = wing.station
    outer = np.nonzero((y > 0.5 * y[-1]) & (y < 0.9995 * y[-1]))[0]
    reach = (float(wing.lead.min()) - _BESIDE * span, float(wing.trail.max()) + _BESIDE * span)
    first = -1
    ends = np.full((y.size, 2, 2), np.nan)  # of both halves' cuts, front and rear
    both = tuple(crossings_each(rings, sign * y[outer], 1) for sign in (1.0, -1.0))
    for i, k in enumerate(outer):
        for half in (0, 1):
            cuts = [
                c for c in both[half][i] if c[0] > reach[0] and c[1] < reach[1] and c[1] - c[0] > 0.002 * span
            ]
            if len(cuts) > 1 and first < 0:
                first = int(k)  # where tips part on one half first, the other half's cut is both wings'
            if cuts:
                ends[k, half] = min(c[0] for c in cuts), max(c[1] for c in cuts)
    if first < 0:
        return wing
    begins = y[first] - 0.012 * span  # the surface was followed in steps: one may lie before the parting
    root = None
    # where an edge was carried in from where they part it is not that of the wing which was left there
    if first == outer[0] or max(wing.lead_root, wing.trail_root) > begins - 0.02 * span:
        root = _inward(rings, y, ends, first, span)
        begins = root
    # a cut of one half alone is a stroke that meets the outline there
    agree = (np.abs(ends[:, 0] - ends[:, 1]) < 0.01 * span) & (y > begins)[:, None]
    middle = ends.mean(1)
    if not agree.any(0).all():
        return wing
    lead, trail = (  # the followed one may be the shorter: beyond its tip it says nothing
        np.where(y > begins, np.interp(y, y[agree[:, k]], middle[agree[:, k], k]), edge)
        for k, edge in enumerate((wing.lead, wing.trail))
    )
    if root is None:
        return replace(wing, lead=lead, trail=trail)
    edges = []
    for e in (lead, trail):
        seen = np.where(y > root, e, np.nan)
        edges.append(carried_in(y, seen, root, margin=0.004 * span, base=0.14 * y[-1]))
    return replace(wing, lead=edges[0], trail=edges[1], lead_root=root, trail_root=root)


def _inward(rings: tuple[Floats, ...], y: Floats, ends: Floats, first: int, span: float) -> float:
    """Follow two wings that lie apart inward to the body, filling `ends`; the station where they reach it. [mm]"""
    for k in range(first - 1, -1, -1):
        for half, sign in enumerate((1.0, -1.0)):
            was = ends[k + 1, half]
            lap = [
                c
                for c in crossings(rings, sign * float(y[k]), 1)
                if c[0] < was[1] and c[1] > was[0] and c[1] - c[0] > 0.002 * span
            ]
            now = (min(c[0] for c in lap), max(c[1] for c in lap)) if lap else (np.nan, np.nan)
            if not (was[0] - now[0] < 0.02 * span and now[1] - was[1] < 0.02 * span):
                return float(y[k + 1])
            ends[k, half] = now
    return float(y[0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Both:
    """The joint planform of a biplane: what is drawn of it, and its halves laid on each other."""

    evidence: Evidence
    halves: Halves

    @classmethod
    def of(
        cls,
        rings: tuple[Floats, ...],
        wing: Surface,
        *,
        span: float,
        ink: Callable[[Floats, Floats], Floats],
        pen: float,
    ) -> Both:
        """The planform that a wing, followed as one, belongs to.

        Parameters
        ----------
        ink : callable (x, y) -> ink strength of the top view, millimetres.
        pen : width of a drawn line. [mm]
        """
        both = whole_outline(rings, wing, span)
        evidence = Evidence(both, ink, span=span, pen=pen)
        halves = Halves.of(
            ink,
            (float(both.lead.min()) - 0.03 * span, float(both.trail.max()) + 0.03 * span),
            float(both.station[-1]),
            root=evidence.root,
            pen=pen,
            span=span,
        )
        return cls(evidence=evidence, halves=halves)


def split_pair(
    of: Both,
    lines: Callable[[], list[Line]],
    *,
    semi_upper: float,
    semi_lower: float,
    uppers: tuple[Section, ...],
    lowers: tuple[Section, ...],
) -> Pair | None:
    """Part the joint planform of a biplane.

    Parameters
    ----------
    lines : gives the lines that leave the body, of `drawn_lines`.
    semi_upper, semi_lower : half spans as the front view has them. [mm]
    uppers, lowers : sections that may be the wings', from the side view, best first.
    """
    evidence, halves = of.evidence, of.halves
    both, span = evidence.both, evidence.span
    upper_larger = semi_upper >= 0.985 * semi_lower
    of_a, of_b = (uppers, lowers) if upper_larger else (lowers, uppers)
    ratio = min(semi_lower / semi_upper if upper_larger else semi_upper / semi_lower, 1.0)
    trials = (
        Trial(lead_of="a", trail_of="b"),
        Trial(lead_of="b", trail_of="a"),
        Trial(lead_of="a", trail_of="a"),
    )
    behind = _behind(of_a, of_b, both, span)
    fits = [
        replace(
            f,
            score=f.score
            + 0.8 * behind * {("a", "b"): 1.0, ("b", "a"): -1.0}.get((t.lead_of, t.trail_of), 0.0)
            # where wings stand apart the nearer one's edge is drawn inside the outline
            + (_NESTED if t.lead_of == t.trail_of else 0.0),
        )
        for t in trials
        if (f := best_fit(t, evidence, ratio, of_a, of_b)) is not None
    ]
    if not fits:
        return None
    best = max(range(len(fits)), key=lambda k: fits[k].score)
    stretched = []
    for fit in fits:
        a, b = _surfaces(evidence, fit)
        upper, lower = (a, b) if upper_larger else (b, a)
        stretched.append((_trimmed(upper, 0.004 * span), _trimmed(lower, 0.004 * span)))
    semi = float(both.station[-1])
    drawn = Drawn(
        halves,
        both,
        semis=(semi, semi * ratio) if upper_larger else (semi * ratio, semi),
        uppers=uppers,
        lowers=lowers,
    )
    two, lined = best_pair(drawn, lines(), stretched, best)
    seen_upper, seen_lower, second = two.seen_upper, two.seen_lower, two.seen_lower
    if not lined:
        fit = fits[best]
        nested = fit.trial.lead_of == fit.trial.trail_of
        seen_a = 1.0 if nested else max(fit.drawn_a, 0.8 * fit.section_a)
        seen_b = max(fit.drawn_b, 0.8 * fit.section_b)
        seen_upper, seen_lower = (seen_a, seen_b) if upper_larger else (seen_b, seen_a)
        second = max(seen_a, seen_b)
    return Pair(
        upper=two.upper,
        lower=two.lower,
        stagger_mm=float(two.lower.lead[0] - two.upper.lead[0]),
        seen_upper=seen_upper,
        seen_lower=seen_lower,
        second=second,
    )


def _behind(of_a: tuple[Section, ...], of_b: tuple[Section, ...], both: Surface, span: float) -> float:
    """Whether the sections have the other wing behind the larger one: 1 surely, -1 surely ahead of it."""
    if not of_a or not of_b:
        return 0.0
    a, b = of_a[0], of_b[0]
    if b.lead >= a.lead - 0.002 * span and b.trail <= a.trail + 0.002 * span:
        return 0.0  # within the larger one's
    off = 0.5 * (b.lead + b.trail - a.lead - a.trail)
    # together they must reach as far as the outline of both
    short = np.array([min(a.lead, b.lead) - both.lead[0], max(a.trail, b.trail) - both.trail[0]])
    sure = weight(a) * weight(b) * float(near(short, 0.02 * span).prod())
    return sure * float(np.clip(off / (0.015 * span), -1.0, 1.0))


def _surfaces(evidence: Evidence, fit: Fit) -> tuple[Surface, Surface]:
    """Both wings' edges: the outline where it is theirs, a drawn line where there is one, else the shape found."""
    both = evidence.both
    y = both.station
    one = np.array
    e = shared_edges(both, y, fit.trial, one(fit.chord_a), one(fit.chord_b), one(fit.front_b), fit.ratio)
    yb = y * fit.ratio
    a_lead, a_trail, b_lead, b_trail = e.a_lead.copy(), e.a_trail.copy(), e.b_lead.copy(), e.b_trail.copy()
    nested = fit.trial.lead_of == fit.trial.trail_of
    if not nested and fit.drawn_a > 0.5:
        if fit.trial.trail_of == "b":
            a_trail = _followed(evidence, y, a_trail)
        else:
            a_lead = _followed(evidence, y, a_lead)
    inner = yb < 0.9 * yb[-1]
    if fit.trial.trail_of == "b":
        b_trail = np.where(inner, np.interp(yb, y, both.trail), b_trail)
    elif fit.drawn_b > 0.5:
        b_trail = _followed(evidence, yb, b_trail)
    if fit.trial.lead_of == "b":
        b_lead = np.where(inner, np.interp(yb, y, both.lead), b_lead)
    elif fit.drawn_b > 0.5:
        b_lead = _followed(evidence, yb, b_lead)
    a = replace(both, lead=np.minimum(a_lead, a_trail), trail=a_trail)
    b = replace(both, station=yb, lead=np.minimum(b_lead, b_trail), trail=b_trail)
    return a, b


def _narrowing(s: Surface, least: float) -> Surface:
    """The wing without a chord that grows again at the very tip, where the outline is the other wing's."""
    lead, trail = s.lead.copy(), s.trail.copy()
    for k in np.nonzero(s.station > 0.97 * s.station[-1])[0]:
        if trail[k] - lead[k] > trail[k - 1] - lead[k - 1] + least:
            lead[k], trail[k] = lead[k - 1], trail[k - 1]
    return replace(s, lead=lead, trail=trail)


def _trimmed(s: Surface, least: float) -> Surface:
    """Close the tip where the chord has gone, so that the outline cannot cross itself."""
    s = _narrowing(s, least)
    full = np.nonzero(s.trail - s.lead > least)[0]
    if not full.size or full[-1] == s.station.size - 1:
        return s
    k = int(full[-1]) + 1
    mid = 0.5 * (s.lead[k - 1] + s.trail[k - 1])
    station = np.r_[s.station[:k], max(float(s.station[-1]), float(s.station[k - 1]) + 0.1)]
    return replace(s, station=station, lead=np.r_[s.lead[:k], mid - 0.1], trail=np.r_[s.trail[:k], mid + 0.1])


def _followed(evidence: Evidence, y: Floats, guess: Floats) -> Floats:
    """Follow a line drawn near a guessed edge, from the body out to near the tip; the guess where none is."""
    span, both = evidence.span, evidence.both
    reach = 0.007 * span
    ys = np.linspace(evidence.root, 0.88 * float(y[-1]), 150)
    g = np.interp(ys, y, guess)
    d = np.arange(-reach, reach + 1e-9, 0.001 * span)
    x = g[:, None] + d[None, :]
    yy = np.repeat(ys[:, None], d.size, 1)
    e = evidence.grid.at(evidence.grid.fine, x, yy)
    e = np.where(both.within(x, yy, 0.005 * span), e, 0.0) - 0.05 * (d / reach) ** 2
    path = strongest(e, (0.05, 0.0, 0.05))
    on: Mask = e[np.arange(ys.size), path] > 0.35
    if on.mean() < 0.55:
        return guess
    # to a fraction of a sample, and smooth
    k = np.clip(path[:, None] + np.arange(-2, 3)[None, :], 0, d.size - 1)
    w = np.maximum(e[np.arange(ys.size)[:, None], k], 1e-3)
    off = (w * d[k]).sum(1) / w.sum(1)
    off = np.interp(ys, ys[on], off[on])
    off = np.convolve(np.pad(off, 6, mode="edge"), np.ones(13) / 13, mode="valid")
    return np.asarray(guess + np.interp(y, ys, off))
