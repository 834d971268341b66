"""Hinge lines read where they are drawn: a straight stroke inside a wing, tail or fin, ahead of its trailing edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.inkgrid import Ink, stands_out
from sheetlark.trace.shapes.surface import Surface

RIDGE = 0.27  # how much a stroke is darker than what lies on both sides of it
ROWS = 120
NARROWEST, WIDEST = 0.055, 0.62  # shares of the chord a hinged part may have


@dataclass(frozen=True, slots=True, kw_only=True)
class Hinge:
    """One hinge line, of the starboard half where there are two.

    inner, outer : (x, station) of its ends; the station is y, or z of a fin. [mm]
    cut : whether a line is drawn from each end to the trailing edge.
    """

    inner: tuple[float, float]
    outer: tuple[float, float]
    cut: tuple[bool, bool]
    confidence: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """A straight run of ink: x at both end stations, share of it that is inked, and how well both halves agree."""

    stations: tuple[float, float]
    x: tuple[float, float]
    inked: float
    both: float


def find_hinge(
    surface: Surface,
    ink: Ink,
    *,
    pen: float,
    root: float,
    least: float,
    mirrored: bool = True,
    others: tuple[Surface, ...] = (),
    widest: float = WIDEST,
) -> Hinge | None:
    """The hinge line drawn in a surface, the outermost where several follow each other; None where none is.

    Parameters
    ----------
    surface : the wing, tail or fin, as traced. [mm]
    ink : callable (x, station) -> ink strength.
    pen : stroke width. [mm]
    root : station up to which the body may cover the surface. [mm]
    least : shortest hinge as a share of the free half.
    mirrored : whether the other half lies at negative stations.
    others : surfaces whose edges may show through; what runs along them is no hinge.
    widest : the largest share of the chord that may be hinged.

    Notes
    -----
    Strokes are looked for on straight lines counted from a line through the trailing edge; along each the longest
    run of ink on both halves is taken. An end counts as sound where a line cuts from it to the trailing edge, where
    it runs into the outline, or where it goes under the body.
    """
    semi = float(surface.station[-1])
    first = max(float(surface.station[0]), 0.0)
    y = np.linspace(first + 0.3 * max(root - first, 0.0), first + 0.995 * (semi - first), ROWS)
    lead, trail = surface.edges_at(y)
    free = semi - max(root, first)
    if free <= 0.0 or float((trail - lead).max()) < 8.0 * pen:
        return None
    found = None
    for run in _runs(y, lead, trail, ink, pen=pen, mirrored=mirrored, others=others):
        if run.stations[1] - run.stations[0] < least * free:
            continue
        hinge = _weighed(
            run, surface, ink, pen=pen, root=root, least=least * free, mirrored=mirrored, widest=widest
        )
        if hinge is not None and (found is None or hinge.confidence > found.confidence + 0.02):
            found = hinge
    return found if found is not None and found.confidence > 0.4 else None


def _edge(ink: Ink, x: Floats, s: Floats, dx: float) -> Floats:
    """By how much the ink at (x, s) is stronger than on the lighter side of it."""
    beside = np.minimum(np.clip(ink(x + dx, s), 0.0, 1.0), np.clip(ink(x - dx, s), 0.0, 1.0))
    return np.asarray(np.clip(ink(x, s), 0.0, 1.0) - beside)


def _runs(
    y: Floats,
    lead: Floats,
    trail: Floats,
    ink: Ink,
    *,
    pen: float,
    mirrored: bool,
    others: tuple[Surface, ...],
) -> list[_Run]:
    """The few straight lines about parallel to the trailing edge with the longest runs of ink."""
    chord = trail - lead
    middle = (y > y[0] + 0.1 * np.ptp(y)) & (y < y[0] + 0.85 * np.ptp(y))
    base = np.polyfit(y[middle], trail[middle], 1)
    flat = np.asarray(np.polyval(base, y))
    step = max(0.5 * pen, 0.003 * float(np.ptp(y)))
    bend = float(np.maximum(trail - flat, 0.0).max())
    d = np.arange(-bend, WIDEST * float(chord.max()) + step, step)
    x = flat[:, None] - d[None, :]
    reach = 1.3 * pen + 0.5 * step
    s = np.repeat(y[:, None], d.size, 1)
    halves = [stands_out(ink, x, s, reach, 0.0)]
    if mirrored:
        halves.append(stands_out(ink, x, -s, reach, 0.0))
    marks = np.sum([h > RIDGE for h in halves], axis=0)
    worth = np.where(marks == len(halves), 1.0, np.where(marks > 0, 0.25, -0.8))
    margin = 1.2 * pen + 0.012 * chord
    outside = (x < (lead - margin)[:, None]) | (x > (trail + margin)[:, None])
    edge = (np.abs(x - lead[:, None]) < margin[:, None]) | (np.abs(x - trail[:, None]) < margin[:, None])
    for o in others:
        for e in (o.lead, o.trail):
            near = np.interp(y, o.station, e, left=np.nan, right=np.nan)
            edge |= np.abs(x - near[:, None]) < 1.5 * pen + 0.004 * float(np.ptp(y))
    worth = np.where(outside, -1.0, np.where(edge, -0.3, worth))
    slopes = np.arange(-0.42, 0.421, 0.02)
    turn = slopes[:, None] * (y - y.mean())[None, :] / step
    k = np.rint(np.arange(d.size)[None, :, None] + turn[:, None, :]).astype(np.int32)
    padded = np.pad(worth.astype(np.float32), ((0, 0), (1, 1)), constant_values=-1.0)
    k = np.clip(k + 1, 0, d.size + 1) + (np.arange(y.size, dtype=np.int32) * padded.shape[1])[None, None, :]
    lines = padded.ravel()[k]
    sums = np.cumsum(lines, axis=-1)
    gain = sums - np.minimum(np.minimum.accumulate(sums, axis=-1), 0.0)
    best = gain.max(-1)
    out: list[_Run] = []
    for _ in range(4):
        i, j = (int(v) for v in np.unravel_index(int(best.argmax()), best.shape))
        if best[i, j] < 0.1 * y.size:
            break
        b = int(gain[i, j].argmax())
        before = np.r_[0.0, sums[i, j, :b]]
        a = b - int(before[::-1].argmin())
        run = lines[i, j, a : b + 1]
        ends = [float(flat[n] - (d[j] + slopes[i] * (y[n] - y.mean()))) for n in (a, b)]
        out.append(
            _Run(
                stations=(float(y[a]), float(y[b])),
                x=(ends[0], ends[1]),
                inked=float((run > 0.0).mean()),
                both=float((run > 0.5).mean()),
            )
        )
        mid = 0.5 * (y[a] + y[b])  # what runs within a few pens of it is the same line
        place = d[None, :] + slopes[:, None] * (mid - y.mean())
        best[np.abs(place - (d[j] + slopes[i] * (mid - y.mean()))) < 3.0 * pen + 2.0 * step] = -1.0
    return out


def _weighed(
    run: _Run,
    surface: Surface,
    ink: Ink,
    *,
    pen: float,
    root: float,
    least: float,
    mirrored: bool,
    widest: float,
) -> Hinge | None:
    """A run followed exactly, ended at the lines that cut to the trailing edge, and how sure it is a hinge."""
    y0, y1 = run.stations
    y, x, slope, start = _exact(run, ink, pen=pen, mirrored=mirrored)
    semi = float(surface.station[-1])
    y0, y1 = _walked(surface, ink, (slope, start), (y0, y1), pen=pen, mirrored=mirrored)
    lead, trail = surface.edges_at(y)
    share = (trail - x) / np.maximum(trail - lead, 1e-9)
    inner = share[: max(2, int(0.8 * share.size))]
    if inner.min() < NARROWEST or np.median(share) > widest - 0.02 or float((trail - x).max()) < 3.0 * pen:
        return None
    strokes = _cuts(
        surface, ink, (slope, start), (y0, y1), pen=pen, mirrored=mirrored, near=0.02 * semi + 2.0 * pen
    )
    cuts = [c for c, _ in strokes]
    parted = [c for c, rib in strokes if not rib and y0 + 0.02 * semi < c < y1 - least]
    if parted and any(abs(c - y1) < 0.03 * semi + 2.0 * pen for c in cuts):
        y0 = max(parted)  # a flap inside the aileron, or two tabs: the outermost piece counts
    near = 0.03 * semi + 2.0 * pen
    ends = []
    sound = []
    for at, inner_end in ((y0, True), (y1, False)):
        cut = min(cuts, key=lambda c: abs(c - at), default=np.inf)
        if abs(cut - at) < near:
            ends.append(float(cut))
            sound.append(1.0)
            continue
        ends.append(at)
        e0, e1 = np.interp(at, surface.station, surface.lead), np.interp(at, surface.station, surface.trail)
        here = slope * at + start
        out = min(abs(here - e0), abs(e1 - here)) < 3.0 * pen + 0.05 * (e1 - e0) or at > semi - near
        under = inner_end and at < root + near
        sound.append(0.8 if out or under else 0.3)
    cover = min(1.0, run.inked / 0.9) * (0.75 + 0.25 * run.both)
    confidence = cover * (0.3 + 0.34 * sum(sound))
    return Hinge(
        inner=(slope * ends[0] + start, ends[0]),
        outer=(slope * ends[1] + start, ends[1]),
        cut=(sound[0] == 1.0, sound[1] == 1.0),
        confidence=float(np.clip(confidence, 0.02, 0.95)),
    )


def _exact(run: _Run, ink: Ink, *, pen: float, mirrored: bool) -> tuple[Floats, Floats, float, float]:
    """Stations and x of a run on the middle of its ink, and the straight line through it (slope, x at 0)."""
    (y0, y1), (x0, x1) = run.stations, run.x
    y = np.linspace(y0, y1, 60)
    coarse = np.interp(y, [y0, y1], [x0, x1])
    off = np.linspace(-1.6, 1.6, 25) * pen
    xs = coarse[:, None] + off[None, :]
    ys = np.repeat(y[:, None], off.size, 1)
    e = np.clip(ink(xs, ys), 0.0, 1.0)
    if mirrored:
        e = np.maximum(e, np.clip(ink(xs, -ys), 0.0, 1.0))
    e = np.clip(e - np.percentile(e, 20), 0.0, None)
    weight = e.sum(1)
    x = coarse + (e * off).sum(1) / np.maximum(weight, 1e-9)
    ok = weight >= 0.3 * np.median(
        weight
    )  # a line that fills the whole width looked at has no middle of its own
    slope, start = (float(v) for v in np.polyfit(y[ok], x[ok], 1))
    near = ok & (np.abs(x - slope * y - start) < 0.5 * pen)
    if near.sum() > 10:
        slope, start = (float(v) for v in np.polyfit(y[near], x[near], 1))
    return y, slope * y + start, slope, start


def _walked(
    surface: Surface,
    ink: Ink,
    line: tuple[float, float],
    stations: tuple[float, float],
    *,
    pen: float,
    mirrored: bool,
) -> tuple[float, float]:
    """How far the ink goes on along the exact line beyond the ends of a run; breaks of two pens are stepped over."""
    slope, start = line
    step = 0.5 * pen
    reach = 0.12 * float(surface.station[-1])
    lowest, highest = max(0.0, float(surface.station[0])), float(surface.station[-1])
    ends = []
    for at, sign in ((stations[0], -1.0), (stations[1], 1.0)):
        y = at + sign * np.arange(0.0, reach, step)
        y = y[(y >= lowest) & (y <= highest)]
        x = slope * y + start
        inside = surface.within(x, y, pen)
        # here another line may run into it at a small angle, so paper on one side is enough
        drawn = _edge(ink, x, y, 1.6 * pen) > RIDGE
        if mirrored:
            drawn |= _edge(ink, x, -y, 1.6 * pen) > RIDGE
        last = at
        missed = 0
        for k in range(y.size):
            if not inside[k] or missed > 4:
                break
            missed = 0 if drawn[k] else missed + 1
            last = float(y[k]) if drawn[k] else last
        ends.append(last)
    return ends[0], ends[1]


def _cuts(
    surface: Surface,
    ink: Ink,
    line: tuple[float, float],
    stations: tuple[float, float],
    *,
    pen: float,
    mirrored: bool,
    near: float,
) -> list[tuple[float, bool]]:
    """Stations at which a stroke is drawn from the hinge line to the trailing edge, and whether it comes from ahead."""
    slope, start = line
    y = np.arange(stations[0] - near, min(stations[1] + near, float(surface.station[-1])), 0.4 * pen)
    y = y[y > 0.0] if mirrored else y
    if y.size < 3:
        return []
    x0 = slope * y + start + 1.2 * pen
    x1 = np.interp(y, surface.station, surface.trail) - 1.2 * pen
    share = np.linspace(0.0, 1.0, 11)
    xs = x0[:, None] + share[None, :] * np.maximum(x1 - x0, 0.0)[:, None]
    deep = x1 - x0 > 1.5 * pen
    cover, ahead = np.zeros(y.size), np.zeros(y.size)
    halves = (1.0, -1.0) if mirrored else (1.0,)
    for lean in (-0.3, -0.15, 0.0, 0.15, 0.3):
        ys = y[:, None] + lean * (xs - x0[:, None])
        ys = np.maximum(ys, 0.0) if mirrored else ys
        drawn: list[Mask] = [stands_out(ink, xs, half * ys, 0.0, 1.4 * pen) > RIDGE for half in halves]
        cover = np.maximum(cover, np.mean([m.mean(1) for m in drawn], axis=0))
        before = 2.0 * x0[:, None] - xs - 2.4 * pen
        drawn = [
            stands_out(ink, before, half * (2.0 * y[:, None] - ys), 0.0, 1.4 * pen) > RIDGE for half in halves
        ]
        ahead = np.maximum(ahead, np.mean([m.mean(1) for m in drawn], axis=0))
    strong = np.where(deep, cover, 0.0) > 0.72
    found = []
    edges = np.flatnonzero(np.diff(np.r_[False, strong, False].astype(np.int8)))
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        best = cover[a:b]
        at = float(y[a:b][best >= best.max() - 1e-9].mean())
        found.append((at, float(ahead[max(0, a - 2) : b + 2].max()) > 0.6))
    return found
