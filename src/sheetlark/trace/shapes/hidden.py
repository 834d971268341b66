"""A lower wing's hidden edges: carried on from where they are seen, in the upper wing's shape or their own direction."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.sections import Section
from sheetlark.trace.shapes.stretch import weight
from sheetlark.trace.shapes.strokes import Halves
from sheetlark.trace.shapes.surface import Surface

_FEW = 6  # stations an edge must be seen at to be known
_AT_ODDS = (
    0.02  # of the span, how far off an edge seen beside the body a section ends that is not this wing's
)
_SHORT = 0.05  # of the span, over which no edge shows alone
_ALIKE = 0.002  # of the span, roots no further apart are one
_STRAIGHT = (0.35, 0.75)  # of the half span, where a wing's edges say how they run


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Known:
    """At which stations each edge is seen; shape (n,)."""

    lead: Mask
    trail: Mask


def completed(
    lower: Surface, upper: Surface, known: Known, sections: tuple[Section, ...], halves: Halves
) -> list[Surface]:
    """The lower wing with its hidden edges put in, once for each likely root: a section's, or none told.

    Parameters
    ----------
    lower : edges that are right where `known` says so.
    sections : what may be the lower wing's in the side view, best first.
    """
    y = lower.station
    known = Known(lead=_in_runs(known.lead, y, halves), trail=_in_runs(known.trail, y, halves))
    if known.lead.sum() + known.trail.sum() < _FEW + 2:
        return []
    known = Known(lead=_inner(known.lead, y, halves), trail=_inner(known.trail, y, halves))
    chord = float(upper.trail[0] - upper.lead[0])
    if chord <= 0.0:  # a line there and back again is no wing
        return []
    roots = _roots(lower, known, [q for q in sections if weight(q, sections) > 0.3], halves)
    tries: list[tuple[float, tuple[float, float] | None, bool]] = [(1.0, None, False), (1.0, None, True)]
    tries += [((b - a) / chord, (a, b), False) for a, b in roots]
    out: list[Surface] = []
    for k, at, straight in tries:
        edges = _edges(lower, upper, known, k, at, straight, halves) if 0.5 < k < 1.3 else None
        if edges is None:
            continue
        lead, trail = np.minimum(*edges), np.maximum(*edges)
        if not any(np.array_equal(lead, s.lead) and np.array_equal(trail, s.trail) for s in out):
            out.append(replace(lower, lead=lead, trail=trail))
    return out


def _in_runs(on: Mask, y: Floats, halves: Halves) -> Mask:
    """Less what shows for a short way: a wheel ahead of a leading edge, a tip that both wings share."""
    out = on.copy()
    ends = np.nonzero(np.diff(np.r_[False, on, False]))[0].reshape(-1, 2)
    for first, past in ends:
        least = 0.2 * _SHORT if past > y.size - 2 else _SHORT
        if y[first] > halves.root + 0.02 * halves.span and y[past - 1] - y[first] < least * halves.span:
            out[first:past] = False
    return out


def _inner(on: Mask, y: Floats, halves: Halves) -> Mask:
    """Less what lies close to where an edge goes under: there two strokes run together."""
    out = on.copy()
    for k in np.nonzero(on[1:] != on[:-1])[0]:
        if y[k] > halves.root + 0.02 * halves.span:
            out &= np.abs(y - y[k]) > 0.008 * halves.span + halves.pen
    return out if out.sum() >= _FEW else on


def _roots(
    lower: Surface, known: Known, sections: list[Section], halves: Halves
) -> list[tuple[float, float]]:
    """Where both edges may lie at the centre line: as they run beside the body, the hidden one as a section has it."""
    lines = [
        _beside(lower.station, e, on, halves)
        for e, on in ((lower.lead, known.lead), (lower.trail, known.trail))
    ]
    seen = [None if line is None else float(line[1]) for line in lines]
    roots: list[tuple[float, float]] = []
    for q in sections:
        ends = [(q.lead, seen[0]), (q.trail, seen[1])]
        if any(s is not None and abs(s - end) > _AT_ODDS * halves.span for end, s in ends):
            continue
        lead, trail = (end if s is None else s for end, s in ends)
        if all(max(abs(lead - a), abs(trail - b)) > _ALIKE * halves.span for a, b in roots):
            roots.append((lead, trail))
    return roots


def _beside(y: Floats, e: Floats, on: Mask, halves: Halves) -> Floats | None:
    """The line (slope, x at the centre line) along which an edge runs beside the body; None where it is hidden there."""
    if on.sum() < _FEW:
        return None
    first = float(y[on][0])
    near_by = on & (y < first + 0.1 * halves.span) & (y < 0.9 * y[-1])
    if first > halves.root + 0.03 * halves.span or near_by.sum() < _FEW:
        return None
    return np.asarray(np.polyfit(y[near_by], e[near_by], 1))


def _edges(
    lower: Surface,
    upper: Surface,
    known: Known,
    k: float,
    at: tuple[float, float] | None,
    straight: bool,
    halves: Halves,
) -> tuple[Floats, Floats] | None:
    """Both edges: as drawn where known, else the upper wing's, `k` times as deep, moved to where it is known.

    at : where both edges lie at the centre line. straight : go on from where an edge is seen in its own direction.
    None where too little is seen.
    """
    y, span = lower.station, halves.span
    out = y * float(upper.station[-1] / y[-1])
    like = [k * (e - upper.lead[0]) for e in upper.edges_at(out)]
    drawn, seen = (lower.lead, lower.trail), (known.lead, known.trail)
    off: list[Floats | None] = [None, None]
    hidden = [np.ones(y.size, dtype=bool), np.ones(y.size, dtype=bool)]
    for j, (e, on) in enumerate(zip(drawn, seen, strict=True)):
        if on.sum() < _FEW:
            continue
        first = float(y[on][0])
        beside = first < halves.root + 0.03 * span
        ys, moved = y[on], e[on] - like[j][on]
        if at is not None and not beside:
            ys, moved = np.r_[0.0, ys], np.r_[at[j] - like[j][0], moved]
        by = np.interp(y, ys, moved)
        near_by = on & (y < first + 0.1 * span) & (y < 0.9 * y[-1])
        if (beside or (at is None and straight)) and near_by.sum() >= _FEW:
            line = np.polyfit(y[near_by], e[near_by], 1)
            by = np.where(y < first, np.polyval(line, y) - like[j], by)
            if beside:
                hidden[j] = y > first
        off[j] = by
    for j in (0, 1):
        other = off[1 - j]
        # hidden all along: it goes as the other edge goes, but for the tip
        if off[j] is None and other is not None:
            inner = seen[1 - j] & (y < 0.85 * y[-1])
            inner = inner if inner.sum() >= _FEW else seen[1 - j]
            off[j] = np.asarray(np.polyval(np.polyfit(y[inner], other[inner], 1), y), dtype=np.float64)
    under = upper.edges_at(
        y
    )  # what is hidden lies under it; close to its tip, where its edges meet, they tell nothing
    within = y <= upper.station[-1] - 0.004 * span - 0.5 * halves.pen
    edges = []
    for e, on, shape, by_j, gone in zip(drawn, seen, like, off, hidden, strict=True):
        if by_j is None:
            return None
        x = shape + by_j
        x = np.where(gone & within, np.clip(x, *under), x)
        edges.append(np.where(on, e, x))
    return edges[0], edges[1]


def cut_short(s: Surface, semi: float, span: float) -> Surface | None:
    """A wing of the same edges with less span, its tip of the same shape; None where the edges are not straight. [mm]"""
    y, whole = s.station, float(s.station[-1])
    inner = (y > _STRAIGHT[0] * whole) & (y < _STRAIGHT[1] * whole)
    if semi > 0.995 * whole or inner.sum() < _FEW:
        return None
    lines = [np.polyfit(y[inner], e[inner], 1) for e in (s.lead, s.trail)]
    off = np.max(
        [np.abs(np.polyval(line, y) - e) for line, e in zip(lines, (s.lead, s.trail), strict=True)], axis=0
    )
    bent = (off > 0.003 * span) & (y > _STRAIGHT[0] * whole)
    tip = y >= (y[bent][0] if bent.any() else whole)
    at = y[tip] - (whole - semi)
    if y[tip][0] < _STRAIGHT[1] * whole or at[0] <= 0.0:
        return None
    lead, trail = (np.polyval(line, at) for line in lines)
    was_lead, was_trail = (np.polyval(line, y[tip]) for line in lines)
    k = (trail - lead) / np.maximum(was_trail - was_lead, 1e-6)
    keep = y < at[0] - 1e-6
    return replace(
        s,
        station=np.r_[y[keep], at],
        lead=np.r_[s.lead[keep], lead + k * (s.lead[tip] - was_lead)],
        trail=np.r_[s.trail[keep], lead + k * (s.trail[tip] - was_lead)],
    )
