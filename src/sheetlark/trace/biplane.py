"""Two wings from one top view: the edge that shows under the other, and the stagger from the side view."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.trace.body import Body
from sheetlark.trace.contour import crossings
from sheetlark.trace.ink import Floats
from sheetlark.trace.surface import Surface


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pair:
    """Upper and lower wing in the top view. stagger: upper ahead of lower is positive. [mm]

    seen : how much of the upper wing's inner edge was found drawn, 0..1.
    """

    upper: Surface
    lower: Surface
    stagger_mm: float
    seen: float


def upper_section(
    side: tuple[Floats, ...], body: Body, gap: float, length: float, ink: Callable[[Floats, Floats], Floats]
) -> tuple[float, float] | None:
    """X of the upper wing's leading and trailing edge in the side view: the widest figure well above the body.

    The thin trailing edge is followed in the ink, beyond where the silhouette still has paper inside.
    """
    best: tuple[float, float] | None = None
    height = 0.0
    top = float(np.median(body.high[(body.x > 0.1 * length) & (body.x < 0.5 * length)]))
    for z in np.arange(0.25, 1.6, 0.02) * gap + top:
        cuts = [c for c in crossings(side, float(z), 1) if c[1] < 0.72 * length]
        for c in cuts:
            if best is None or c[1] - c[0] > best[1] - best[0]:
                best = (float(c[0]), float(c[1]))
                height = float(z)
    if best is None:
        return None
    ends = []
    zs = height + np.arange(-0.03, 0.0301, 0.001) * length
    for start, sign in ((best[0], -1.0), (best[1], 1.0)):
        xs = start + sign * np.arange(0.0, 0.12 * length, 0.001 * length)
        on = (ink(np.repeat(xs[:, None], zs.size, 1), np.repeat(zs[None, :], xs.size, 0)) > 0.42).any(1)
        off = np.nonzero(~(on | np.roll(on, -1) | np.roll(on, -2) | np.roll(on, -3)))[0]
        k = int(off[0]) if off.size else 0
        ends.append(float(xs[max(k - 1, 0)]))
    return ends[0], ends[1]


def split_pair(
    both: Surface,
    *,
    span: float,
    semi_upper: float,
    semi_lower: float,
    section: tuple[float, float] | None,
    ink: Callable[[Floats, Floats], Floats],
) -> Pair | None:
    """Part the joint planform of a biplane.

    Whichever wing is ahead shows its whole leading edge, the other its whole trailing edge. The upper wing's
    other edge is drawn across the lower one; it is looked for near where the side view puts it. What is hidden
    takes the shape of what is seen, moved by the stagger.
    """
    y = both.station
    trust = 0.0
    candidates: list[tuple[float, str, Floats]] = []
    semi = float(y[-1])
    low_semi = min(semi_lower, semi)
    short = low_semi < 0.985 * semi_upper
    ratio = low_semi / semi if short else 1.0
    for ahead in ("upper", "lower"):
        seen_edge, other = (both.trail, both.lead) if ahead == "upper" else (both.lead, both.trail)
        shifts = np.arange(0.012, 0.115, 0.004) * span
        guess_shift = None
        if section is not None:
            guess_shift = seen_edge[0] - section[1] if ahead == "upper" else section[0] - seen_edge[0]
            if not 0.006 * span < guess_shift < 0.14 * span:
                continue
            shifts = np.array([guess_shift])
        for shift in shifts:
            whole = np.interp(y * ratio, y, seen_edge)  # the other wing has its shape, on its own span
            inner = whole - shift if ahead == "upper" else whole + shift
            edge, strength = _drawn_edge(
                y, inner, both, ink, span, reach=0.02 if section is not None else 0.006
            )
            score = strength + (0.3 if guess_shift is not None else 0.0)
            if section is not None:  # the other edge of the section must agree with the outline
                miss = abs((section[0] if ahead == "upper" else section[1]) - other[0])
                score += 1.2 * float(np.exp(-0.5 * (miss / (0.012 * span)) ** 2))
            candidates.append((score, ahead, edge if strength > 0.55 else inner))
            if strength > 0.55:
                trust = max(trust, strength)
    if not candidates:
        return None
    score, ahead, inner = max(candidates, key=lambda t: t[0])
    if score < 0.75:
        return None
    middle = (y > 0.2 * semi) & (y < 0.6 * semi)
    beyond = y > low_semi + 0.004 * span if short else np.zeros(y.size, dtype=bool)
    if ahead == "upper":
        trail = np.clip(np.where(beyond, both.trail, inner), both.lead, both.trail)
        upper = replace(both, trail=trail)
        moved = float(np.median((np.interp(y * ratio, y, both.trail) - inner)[middle]))
    else:
        lead = np.clip(np.where(beyond, both.lead, inner), both.lead, both.trail)
        upper = replace(both, lead=lead)
        moved = -float(np.median((inner - np.interp(y * ratio, y, both.lead))[middle]))
    # the lower wing: the upper one's shape on its own span, moved; its free edge as it is seen
    low_y = y * ratio
    lead, trail = upper.lead + moved, upper.trail + moved
    near_tip = y > 0.92 * semi
    if ahead == "upper":
        seen_trail = np.interp(low_y, y, both.trail)
        trail = np.where(near_tip & short, np.minimum(trail, seen_trail), seen_trail)
    else:
        seen_lead = np.interp(low_y, y, both.lead)
        lead = np.where(near_tip & short, np.maximum(lead, seen_lead), seen_lead)
    lower = replace(both, station=low_y, lead=np.minimum(lead, trail), trail=trail)
    upper, lower = _trimmed(upper, 0.004 * span), _trimmed(lower, 0.004 * span)
    return Pair(upper=upper, lower=lower, stagger_mm=moved, seen=trust)


def _trimmed(s: Surface, least: float) -> Surface:
    """Close the tip where the chord has gone, so that the outline cannot cross itself."""
    full = np.nonzero(s.trail - s.lead > least)[0]
    if not full.size or full[-1] == s.station.size - 1:
        return s
    k = int(full[-1]) + 1
    mid = 0.5 * (s.lead[k - 1] + s.trail[k - 1])
    station = np.r_[s.station[:k], max(float(s.station[-1]), float(s.station[k - 1]) + 0.1)]
    return replace(s, station=station, lead=np.r_[s.lead[:k], mid - 0.1], trail=np.r_[s.trail[:k], mid + 0.1])


def _drawn_edge(
    y: Floats,
    guess: Floats,
    both: Surface,
    ink: Callable[[Floats, Floats], Floats],
    span: float,
    *,
    reach: float,
) -> tuple[Floats, float]:
    """Follow a line drawn near a guessed edge, from the body out to near the tip; its share that is inked."""
    lo = max(both.lead_root, both.trail_root) + 0.01 * span
    ys = np.linspace(lo, 0.86 * y[-1], 150)
    g = np.interp(ys, y, guess)
    d = np.arange(-reach, reach + 1e-9, 0.001) * span
    x = g[:, None] + d[None, :]
    yy = np.repeat(ys[:, None], d.size, 1)
    e = np.clip(np.minimum(ink(x, yy), ink(x, -yy)), 0.0, 1.0)
    inside = (x > np.interp(ys, y, both.lead)[:, None] + 0.006 * span) & (
        x < np.interp(ys, y, both.trail)[:, None] - 0.006 * span
    )
    e = np.where(inside, e, 0.0) - 0.05 * (d / (reach * span)) ** 2
    total = e.copy()
    came = np.zeros(e.shape, dtype=np.int64)
    for i in range(1, len(ys)):
        prev = np.stack([np.roll(total[i - 1], k) - (0.05 if k else 0.0) for k in (-1, 0, 1)])
        prev[0, -1] = prev[2, 0] = -1e9
        k = prev.argmax(0)
        total[i] += np.take_along_axis(prev, k[None], 0)[0]
        came[i] = np.arange(d.size) - (k - 1)
    j = int(total[-1].argmax())
    path = np.empty(len(ys), dtype=np.int64)
    for i in range(len(ys) - 1, -1, -1):
        path[i] = j
        j = int(np.clip(came[i, j], 0, d.size - 1))
    strength = float((e[np.arange(len(ys)), path] > 0.35).mean())
    off = d[path]
    out = guess + np.interp(y, ys, np.convolve(np.pad(off, 4, mode="edge"), np.ones(9) / 9, mode="valid"))
    return np.asarray(out), strength
