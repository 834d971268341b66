"""A view's own axes: millimetres on the picture, which way the nose points, and where it begins."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.trace.body import spinner_end
from sheetlark.trace.contour import Rings, crossings
from sheetlark.trace.ink import Floats
from sheetlark.trace.planform import find_tail, find_wing


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """Picture pixels (straightened) <-> model millimetres of one view: p = origin + (a * first + b * second) / scale."""

    origin: Floats
    first: Floats  # unit vector of the first model axis in the picture
    second: Floats
    mm_per_px: float

    def to_mm(self, p: Floats) -> Floats:
        d = p - self.origin
        return np.asarray(np.c_[d @ self.first, d @ self.second] * self.mm_per_px)

    def to_px(self, a: Floats, b: Floats) -> tuple[Floats, Floats]:
        a, b = np.asarray(a) / self.mm_per_px, np.asarray(b) / self.mm_per_px
        return (
            np.asarray(self.origin[0] + a * self.first[0] + b * self.second[0]),
            np.asarray(self.origin[1] + a * self.first[1] + b * self.second[1]),
        )


def nose_of_top(rings: Rings, axis: str, angle: float, point: Floats) -> tuple[str, Frame, float]:
    """Which way the nose points, the frame with x from the foremost point, and how sure."""
    cs, sn = np.cos(angle), np.sin(angle)
    along = np.array([-sn, cs]) if axis == "upright" else np.array([cs, sn])
    results = []
    every = np.vstack(rings.rings)
    for sign in (1.0, -1.0):
        aft = sign * along
        starboard = np.array([aft[1], -aft[0]])
        b = (every - point) @ starboard
        shift = 0.5 * (b.max() + b.min())
        origin = point + shift * starboard
        span_px = float(b.max() - b.min())
        a = (every - origin) @ aft
        origin = origin + a.min() * aft
        frame = Frame(origin=origin, first=aft, second=starboard, mm_per_px=1000.0 / span_px)
        mm = tuple(frame.to_mm(r) for r in rings.rings)
        length = float((a.max() - a.min()) * frame.mm_per_px)
        wing = find_wing(mm, 1000.0)
        score = 0.0
        if wing is not None:
            mid = 0.5 * (wing.lead + wing.trail)
            weight = np.maximum(wing.trail - wing.lead, 0.0)
            centre = float((mid * weight).sum() / max(weight.sum(), 1e-9)) / length
            tail = find_tail(mm, 1000.0, wing)
            if tail is not None:
                share = tail.area_mm2() / max(wing.area_mm2(), 1e-9)
                score += 2.0 if share < 0.6 else 0.5
                score += 1.5 * (0.5 - centre)
            else:
                outer = wing.station > 0.25 * wing.station[-1]
                sweep = float(np.polyfit(wing.station[outer], mid[outer], 1)[0])
                score += 1.2 * np.tanh(3.0 * sweep) + 0.8 * (centre - 0.5)
        results.append((score, sign, frame))
    results.sort(key=lambda t: -t[0])
    sure = float(np.tanh(results[0][0] - results[1][0]))
    sign = results[0][1]
    nose = ("up" if sign > 0 else "down") if axis == "upright" else ("left" if sign > 0 else "right")
    return nose, results[0][2], sure


def nose_of_side(
    rings: Rings, axis: str, angle: float, width: Callable[[Floats], Floats] | None, hint: str
) -> tuple[str, Frame]:
    """Side view: nose by the fin, the depth's likeness to the width, and how the views are laid out."""
    every = np.vstack(rings.rings)
    cs, sn = np.cos(angle), np.sin(angle)
    options = []
    level = np.array([cs, sn])
    upright = np.array([-sn, cs])
    turns = (
        [(level, -upright), (-level, -upright)]
        if axis == "level"
        else [(s * upright, t * level) for s in (1.0, -1.0) for t in (1.0, -1.0)]
    )
    for aft, up in turns:
        a, z = (every) @ aft, (every) @ up
        origin = a.min() * aft + z.min() * up
        frame = Frame(origin=origin, first=aft, second=up, mm_per_px=1.0)
        mm = tuple(frame.to_mm(r) for r in rings.rings)
        length = float(a.max() - a.min())
        xs = np.linspace(0.03, 0.97, 60) * length
        lo, hi = np.full(60, np.nan), np.full(60, np.nan)
        for i, x in enumerate(xs):
            cuts = crossings(mm, float(x), 0)
            if len(cuts):
                c = cuts[np.argmax(cuts[:, 1] - cuts[:, 0])]
                lo[i], hi[i] = c
        ok = np.isfinite(lo)
        if ok.sum() < 20:
            continue
        lo, hi = np.interp(xs, xs[ok], lo[ok]), np.interp(xs, xs[ok], hi[ok])
        middle = slice(18, 42)
        body = max(float(np.median((hi - lo)[middle])), 1.0)
        aft_rise = float(np.max(hi[48:]) - np.median(hi[middle])) / body
        fore_rise = float(np.max(hi[:12]) - np.median(hi[middle])) / body
        score = 1.2 * (aft_rise - fore_rise)
        score += 0.8 * (float(np.min(lo[44:])) - float(np.min(lo[4:20]))) / body  # deep forward, rising aft
        if width is not None:
            w = width(xs / length)
            m = np.isfinite(w)
            if m.sum() > 15:
                under = np.minimum(hi - lo, 2.0 * body)
                score += 0.8 * float(np.corrcoef(w[m], under[m])[0, 1])
        nose = {(True, True): "left", (True, False): "right", (False, True): "up", (False, False): "down"}[
            (abs(aft[0]) > 0.7, float(aft[0] if abs(aft[0]) > 0.7 else aft[1]) > 0)
        ]
        score += 0.35 if nose == hint else 0.0
        options.append((score, nose, frame))
    if not options:
        return "left", Frame(origin=np.zeros(2), first=level, second=-upright, mm_per_px=1.0)
    best = max(options, key=lambda t: t[0])
    return best[1], best[2]


def from_nose(frame: Frame, mm: tuple[Floats, ...], span: float) -> tuple[Frame, tuple[Floats, ...]]:
    """Count x from the body's own nose: a spinner or propeller blades ahead of it are cut off."""
    at = spinner_end(mm, span)
    if at <= 0.0:
        return frame, mm
    moved = tuple(np.c_[np.maximum(m[:, 0] - at, 0.0), m[:, 1]] for m in mm if m[:, 0].max() > at)
    return replace(frame, origin=frame.origin + at / frame.mm_per_px * frame.first), moved


def flipped(frame: Frame, rings: Rings) -> Frame:
    """The same top view with the nose at the other end."""
    a = (np.vstack(rings.rings) - frame.origin) @ frame.first
    return Frame(
        origin=frame.origin + a.max() * frame.first,
        first=-frame.first,
        second=-frame.second,
        mm_per_px=frame.mm_per_px,
    )


def flipped_side(frame: Frame, rings: Rings) -> Frame:
    """The same side view with the nose at the other end; up stays up."""
    a = (np.vstack(rings.rings) - frame.origin) @ frame.first
    return replace(frame, origin=frame.origin + a.max() * frame.first, first=-frame.first)
