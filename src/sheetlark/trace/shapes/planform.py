"""The surfaces of a top view: the wing, a wing drawn to a point, and the tailplane."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.body import Body
from sheetlark.trace.shapes.contour import crossings, crossings_each, widest
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.surface import Surface, follow, joined


def find_wing(rings: tuple[Floats, ...], span: float) -> Surface | None:
    """The main wing of a top view; rings in mm, (x aft, y), centre line at y = 0."""
    y_all = np.concatenate([r[:, 1] for r in rings])
    tracks = []
    for sign in (1.0, -1.0):
        tip = float(y_all.max() if sign > 0 else y_all.min())
        start = 0.58 * tip
        cuts = crossings(rings, start, 1)
        if not len(cuts):
            continue
        first = widest(cuts)
        tracks.append(follow(rings, 1, start, first, inner=0.0, tip=tip, step=span / 500.0))
    if not tracks:
        return None
    return joined(tracks, span=span, semi=span / 2.0, to_centre=True)


def _point(wing: Surface) -> tuple[float, float] | None:
    """Station and x where straight edges of a wing meet beyond its rounded-off tip; None for a tip with a chord."""
    y, semi = wing.station, float(wing.station[-1])
    use = (y > 0.6 * semi) & (y < 0.93 * semi)
    if use.sum() < 12:
        return None
    lead, trail = np.polyfit(y[use], wing.lead[use], 1), np.polyfit(y[use], wing.trail[use], 1)
    for line, edge in ((lead, wing.lead), (trail, wing.trail)):
        if np.abs(np.polyval(line, y[use]) - edge[use]).max() > 0.006 * semi:
            return None
    if abs(lead[0] - trail[0]) < 0.2:
        return None
    at = float((trail[1] - lead[1]) / (lead[0] - trail[0]))
    return (at, float(np.polyval(trail, at))) if semi < at < 1.05 * semi else None


def pointed_tip(wing: Surface | None, ink: Ink) -> float:
    """How much further a wing drawn to a point reaches than its pen stroke shows; 1 for any other wing.

    The strokes meet in the point: where a short chord cuts it off, nothing is drawn there.
    """
    met = _point(wing) if wing is not None else None
    if met is None or wing is None:
        return 1.0
    at, x = met
    near = 0.0004 * at * np.array([[0.0, 0.0], [1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
    drawn = max(float(ink(x + near[:, 0], side * (at + near[:, 1])).max()) for side in (1.0, -1.0))
    return at / float(wing.station[-1]) if drawn > 0.4 else 1.0


def with_point(wing: Surface, beyond: float) -> Surface:
    """The wing drawn out to the point where its edges meet."""
    met = _point(wing)
    if met is None:
        return wing
    keep = wing.station < 0.93 * wing.station[-1]
    at = float(wing.station[-1]) * beyond
    return Surface(
        station=np.r_[wing.station[keep], at],
        lead=np.r_[wing.lead[keep], met[1]],
        trail=np.r_[wing.trail[keep], met[1]],
        lead_root=wing.lead_root,
        trail_root=wing.trail_root,
        asymmetry=wing.asymmetry,
    )


def find_tail(rings: tuple[Floats, ...], span: float, wing: Surface) -> Surface | None:
    """The tailplane: what lies behind the wing's trailing edge, away from the body."""
    tracks = []
    tips = []
    for sign in (1.0, -1.0):
        rows = []
        stations = np.arange(0.01, 0.40, 0.004) * span
        for y, cuts in zip(stations, crossings_each(rings, sign * stations, 1), strict=True):
            te = float(np.interp(y, wing.station, wing.trail))
            aft = [c for c in cuts if c[0] > te + 0.004 * span and c[1] - c[0] > 0.004 * span]
            if aft:
                rows.append((y, max(aft, key=lambda c: c[1] - c[0])))
        if len(rows) < 8:
            continue
        ys = np.array([r[0] for r in rows])
        runs = np.split(np.arange(ys.size), np.nonzero(np.diff(ys) > 0.0061 * span)[0] + 1)
        run = max(runs, key=len)
        if len(run) < 8:
            continue
        k = int(run[len(run) // 2])
        tip = float(ys[run[-1]] + 0.005 * span)
        track = follow(rings, 1, sign * ys[k], rows[k][1], inner=0.0, tip=sign * tip, step=span / 600.0)
        tracks.append(track)
        tips.append(float(np.abs(track.station).max()) + 0.4 * span / 600.0)
    if not tracks or max(tips) < 0.085 * span:
        return None  # no wider than a body
    semi = float(np.mean(tips))
    if len(tips) == 2 and abs(tips[0] - tips[1]) > 0.02 * span:
        keep = int(np.argmax(tips))
        tracks, semi = [tracks[keep]], tips[keep]
    return joined(tracks, span=span, semi=semi, to_centre=True)


def through_body(tail: Surface, body: Body, span: float) -> Surface:
    """The tailplane with its edges going straight on through the body, not round a short stern or a fillet.

    A stern that ends close behind the trailing edge leaves it at no sharp angle.
    """
    edges = []
    for edge in (tail.lead, tail.trail):
        outside = tail.station > 1.3 * float(np.interp(edge[-1], body.x, body.high))
        at = float(edge[outside][0]) if outside.any() else float(edge[0])
        half = float(np.interp(at, body.x, body.high)) + 0.006 * span
        near = (tail.station > half) & (tail.station < half + 0.06 * span)
        if near.sum() < 6 or half > 0.5 * tail.station[-1]:
            return tail
        line = np.polyfit(tail.station[near], edge[near], 1)
        straight = np.where(tail.station <= half, np.polyval(line, tail.station), edge)
        steady = np.abs(np.polyval(line, tail.station[near]) - edge[near]).max() < 0.002 * span
        edges.append(straight if steady and np.abs(straight - edge).max() > 0.004 * span else edge)
    if edges[0] is tail.lead and edges[1] is tail.trail:
        return tail
    return replace(tail, lead=edges[0], trail=edges[1])


def reversed_surface(s: Surface, length: float) -> Surface:
    """The same surface with x counted from the other end of a view `length` long."""
    return replace(
        s, lead=length - s.trail, trail=length - s.lead, lead_root=s.trail_root, trail_root=s.lead_root
    )


def find_foreplane(rings: tuple[Floats, ...], span: float, wing: Surface) -> Surface | None:
    """The foreplane: what lies ahead of the wing's leading edge, away from the body."""
    length = float(max(r[:, 0].max() for r in rings))
    turned = tuple(np.c_[length - r[:, 0], r[:, 1]] for r in rings)
    found = find_tail(turned, span, reversed_surface(wing, length))
    return reversed_surface(found, length) if found is not None else None
