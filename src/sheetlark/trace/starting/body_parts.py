"""The body of a starting design: profile and width by few stations, laid where the drawing bends."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from sheetlark.trace.model import Tracing
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.starting.design_parts import edges_at, points_of

# All of common practice, no source.
LEAST_WIDTH_MM = 15.5  # of a body, two sides and a fin between
PLATE_WIDE_MM, PLATE_HALF_MM = 40.0, 15.0  # of an end that holds a motor: its width, half its height
NEAR = 0.002  # of the span, how near the profile keeps to the drawing, where stations suffice
CLOSE = 0.02  # of the length, the least between two stations
FLAT_OFF = (
    0.1  # of its greatest width, the most a body with flat sides departs where a third bend can help it
)
STERN = 0.06  # of the length, in which a blunt end is made a face

NOSE_STATIONS = (0.0, 0.04, 0.1)  # always there: a motor's plate, and what widens behind it
MOST_STATIONS = 11
MOST_WIDTHS = 9
BENDS = (*np.arange(0.05, 0.9, 0.05), *np.arange(0.9, 0.98, 0.02))  # where flat sides may bend, of the length
_FINE = np.linspace(0.0, 1.0, 161)


def faced(x: Floats, high: Floats) -> Floats:
    """A line with its last end no steeper than 45 degrees: what falls off faster is a face, cut square."""
    out = high.copy()
    for k in range(1, len(x)):
        if x[k] > (1.0 - STERN) * x[-1]:
            out[k] = max(out[k], out[k - 1] - (x[k] - x[k - 1]))
    return out


def fewest(x: Floats, lines: Floats, first: list[int], near: float, most: int) -> list[int]:
    """Indices of the stations between which straight lines keep within `near` of `lines`, shape (n, k).

    Those of `first` are among them; then one at a time where it is furthest off, until it is near enough or there are
    `most`.
    """
    kept = sorted(first)
    free = np.ones(len(x), bool)
    while True:
        for k in kept:
            free &= np.abs(x - x[k]) >= CLOSE * x[-1]
        off = np.max([np.abs(np.interp(x, x[kept], line[kept]) - line) for line in lines.T], axis=0)
        worst = int(np.argmax(np.where(free, off, -1.0)))
        if len(kept) >= most or not free[worst] or off[worst] <= near:
            return kept
        kept = sorted([*kept, worst])


@dataclass(frozen=True, slots=True)
class Widths:
    """Full widths of the body along x, as drawn but wide enough to be built. [mm]"""

    x: Floats
    full: Floats

    @classmethod
    def of(cls, tracing: Tracing, length: float, *, pusher: bool) -> Widths:
        """From the view from above; without one, a usual body's."""
        top = tracing.outline("body", "top")
        x = _FINE * length
        if top is not None:
            p = points_of(top.path)
            edges = np.array([edges_at(p, float(at)) for at in x])
            full = np.maximum(2.0 * faced(x, 0.5 * (edges[:, 1] - edges[:, 0])), LEAST_WIDTH_MM)
        else:
            full = LEAST_WIDTH_MM + 0.07 * tracing.span_mm * np.sin(np.pi * np.minimum(0.95, _FINE + 0.15))
        plate = _FINE >= 0.8 if pusher else _FINE <= 0.05
        full[plate] = np.maximum(full[plate], PLATE_WIDE_MM)
        return cls(x, full)

    def curved(self, near: float) -> list[int]:
        """Stations that follow the drawing."""
        first = [_nearest(self.x, share) for share in (0.0, 0.05, 1.0)]
        return fewest(self.x, self.full[:, None], first, near, MOST_WIDTHS)

    def flat(self) -> list[int]:
        """Stations flat sides end and are bent at: two bends where that follows the width, else three."""
        last = len(self.x) - 1
        places = sorted({_nearest(self.x, share) for share in BENDS})
        best: tuple[float, list[int]] = (np.inf, [0, last])
        for bends in (2, 3):
            for inner in itertools.combinations(places, bends):
                off = self.off([0, *inner, last])
                if off < best[0]:
                    best = off, [0, *inner, last]
            if best[0] <= FLAT_OFF * float(self.full.max()):
                break
        return best[1]

    def off(self, kept: list[int]) -> float:
        """How far straight lines between stations depart from the width at most. [mm]"""
        return float(np.abs(np.interp(self.x, self.x[kept], self.full[kept]) - self.full).max())


def _nearest(x: Floats, share: float) -> int:
    return int(np.argmin(np.abs(x - share * x[-1])))


def flat_sides(tracing: Tracing, ring: Floats, *, pusher: bool) -> tuple[int, float]:
    """How many bends flat sides have, and how far the body's width departs at most. [mm]"""
    widths = Widths.of(tracing, float(ring[:, 0].max()), pusher=pusher)
    kept = widths.flat()
    return len(kept) - 2, widths.off(kept)


def profile_of(ring: Floats, span: float, *, pusher: bool) -> Floats:
    """Stations of the body's profile with the lowest and highest point at each, shape (n, 3). [mm]

    One end is tall enough for a motor's plate, the other blunt.
    """
    x = _FINE * float(ring[:, 0].max())
    edges = np.array([edges_at(ring, float(at)) for at in x])
    edges = np.stack([-faced(x, -edges[:, 0]), faced(x, edges[:, 1])], axis=1)
    first = [_nearest(x, share) for share in (*NOSE_STATIONS, *((0.96,) if pusher else ()), 1.0)]
    kept = fewest(x, edges, first, NEAR * span, MOST_STATIONS)
    xs, edges = x[kept], edges[kept]
    plate = (
        ((-1, PLATE_HALF_MM), (-2, PLATE_HALF_MM + 1.0))
        if pusher
        else ((0, PLATE_HALF_MM), (1, PLATE_HALF_MM + 1.0))
    )
    for k, least in (*plate, (0, 9.0), (-1, 5.0)):
        mid = float(edges[k].mean())
        edges[k] = min(edges[k, 0], mid - least), max(edges[k, 1], mid + least)
    return np.column_stack([xs, edges])


def body_lines(tracing: Tracing, ring: Floats, *, flat: bool, pusher: bool = False) -> list[str]:
    """The body's profile, width stations and formers."""
    length = float(ring[:, 0].max())
    widths = Widths.of(tracing, length, pusher=pusher)
    kept = widths.flat() if flat else widths.curved(2.0 * NEAR * tracing.span_mm)
    across = zip(widths.x[kept], widths.full[kept], strict=True)
    profile = profile_of(ring, tracing.span_mm, pusher=pusher)
    points = [*profile[:, [0, 2]], *profile[::-1, :2]]
    lines = [
        "",
        "[body]",
        'profile = "M ' + " L ".join(f"{x:.1f} {z:.1f}" for x, z in points) + ' Z"',
        "width = [" + ", ".join(f"[{x:.1f}, {w:.1f}]" for x, w in across) + "]",
        'covered = ["top", "bottom"]',
    ]
    shares = (0.06, 0.3, 0.6) if pusher else (0.025, 0.2, 0.46, 0.72)
    openings = (0.4, 0.6, 0.6, 0.3) if pusher else (0.3, 0.6, 0.6, 0.5)
    at = [max(11.0, share * length) for share in shares] + ([length - 8.0] if pusher else [])
    for x, opening in zip(at, openings, strict=True):
        lines += ["[[body.former]]", f"at = {x:.1f}", f"opening = {opening}"]
    return lines
