"""Two wings from one top view: the edge that shows under the other, and the stagger from the side view."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.trace.contour import crossings
from sheetlark.trace.ink import Floats
from sheetlark.trace.split import Body, Surface


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pair:
    """Upper and lower wing in the top view. stagger: upper ahead of lower is positive. [mm]

    seen : how much of the upper wing's inner edge was found drawn, 0..1.
    """

    upper: Surface
    lower: Surface
    stagger_mm: float
    seen: float


def upper_section(side: tuple[Floats, ...], body: Body, gap: float, length: float) -> tuple[float, float] | None:
    """x of the upper wing's leading and trailing edge in the side view: the widest figure well above the body."""
    best: tuple[float, float] | None = None
    top = float(np.median(body.high[(body.x > 0.1 * length) & (body.x < 0.5 * length)]))
    for z in np.arange(0.25, 1.6, 0.02) * gap + top:
        cuts = [c for c in crossings(side, float(z), 1) if c[1] < 0.72 * length]
        for c in cuts:
            if best is None or c[1] - c[0] > best[1] - best[0]:
                best = (float(c[0]), float(c[1]))
    return best


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
            inner = seen_edge - shift if ahead == "upper" else seen_edge + shift
            edge, strength = _drawn_edge(y, inner, both, ink, span, reach=0.02 if section is not None else 0.006)
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
    semi = float(y[-1])
    low_semi = min(semi_lower, semi)
    short = low_semi < 0.985 * semi_upper
    if ahead == "upper":
        trail = np.where(y > low_semi + 0.004 * span, both.trail, inner) if short else inner
        trail = np.clip(trail, both.lead, both.trail)
        upper = replace(both, trail=trail)
        moved = float(np.median((both.trail - inner)[(y > 0.2 * semi) & (y < 0.6 * semi)]))
        lead = both.lead + moved
        lower = _shortened(both, np.minimum(lead, both.trail), both.trail, low_semi, short=short)
        stagger = moved
    else:
        lead = np.where(y > low_semi + 0.004 * span, both.lead, inner) if short else inner
        lead = np.clip(lead, both.lead, both.trail)
        upper = replace(both, lead=lead)
        moved = float(np.median((inner - both.lead)[(y > 0.2 * semi) & (y < 0.6 * semi)]))
        lower = _shortened(both, both.lead, np.maximum(both.trail - moved, both.lead), low_semi, short=short)
        stagger = -moved
    return Pair(upper=upper, lower=lower, stagger_mm=stagger, seen=trust)


def _shortened(both: Surface, lead: Floats, trail: Floats, semi: float, *, short: bool) -> Surface:
    """The lower wing on its own span; its tip takes the tip shape of the wing above."""
    if not short:
        return replace(both, lead=lead, trail=trail)
    y = both.station * (semi / both.station[-1])
    # shape over the fraction of span, so that a rounded tip keeps its rounding
    return replace(both, station=y, lead=np.interp(y, both.station, lead), trail=np.interp(y, both.station, trail))


def _drawn_edge(
    y: Floats, guess: Floats, both: Surface, ink: Callable[[Floats, Floats], Floats], span: float, *, reach: float
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
