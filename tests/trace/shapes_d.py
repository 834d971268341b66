"""Closed shapes the fourth hand makes its aeroplanes of."""

from __future__ import annotations

import numpy as np
import shapely

Points = np.ndarray


def rounded(p: Points, radius: float) -> Points:
    """Corners that stick out, rounded; straight stretches stay where they are."""
    area = shapely.Polygon(p)
    out = area.buffer(-radius, quad_segs=24, join_style="mitre").buffer(radius, quad_segs=24)
    if out.geom_type != "Polygon" or out.is_empty:
        return p
    return np.asarray(out.exterior.coords)[:-1]


def planform(
    span: float, root: float, tip: float, at_x: float, sweep: float, form: str, radius: float = 0.0
) -> Points:
    """Both halves of a wing seen from above. sweep: how far the tip's leading edge lies aft of the root's. [mm]"""
    h = span / 2
    if form == "ellipse":
        eta = np.sin(np.linspace(0, np.pi / 2, 40))
        chord = root * np.sqrt(np.clip(1 - eta**2, 0, 1))
        lead = at_x + 0.35 * (root - chord) + sweep * eta
        half = np.c_[np.r_[lead, (lead + chord)[::-1][1:]], h * np.r_[eta, eta[::-1][1:]]]
    elif form == "broken":  # straight middle, tapered outer panels
        k = 0.45 * h
        half = np.array(
            [
                (at_x, 0),
                (at_x, k),
                (at_x + sweep, h),
                (at_x + sweep + tip, h),
                (at_x + root, k),
                (at_x + root, 0),
            ]
        )
    else:
        half = np.array([(at_x, 0), (at_x + sweep, h), (at_x + sweep + tip, h), (at_x + root, 0)])
    other = half[::-1] * [1, -1]
    ring = np.r_[half, other[1:-1] if np.allclose(half[[0, -1], 1], 0) else other]
    return rounded(ring, radius) if radius > 0 else ring


def lofted(length: float, nose: float, most: float, stern: float, at: float, full: float) -> Points:
    """(x, half breadth) of a streamlined body."""
    t = (1 - np.cos(np.linspace(0, np.pi, 61))) / 2
    fore = nose + (most - nose) * np.sqrt(np.clip(1 - np.clip(1 - t / at, 0, 1) ** 2, 0, 1))
    u = np.clip((t - at) / (1 - at), 0, 1)
    aft = most - (most - stern) * u**full * (1 + (1 - u) * 0.25)
    return np.c_[t * length, np.where(t < at, fore, np.maximum(aft, stern))]


def straight(
    length: float, nose: float, most: float, stern: float, at: float, rng: np.random.Generator
) -> Points:
    till = at + rng.uniform(0.12, 0.25)
    return np.array([(0, nose), (at * length, most), (till * length, most), (length, stern)])


def band(upper: Points, lower: Points) -> Points:
    ring = np.r_[upper, lower[::-1]]
    keep = np.r_[True, np.hypot(*np.diff(ring, axis=0).T) > 1e-6]
    ring = ring[keep]
    return ring[:-1] if np.allclose(ring[0], ring[-1]) else ring


def section(chord: float, at_x: float, z: float, thick: float, form: str) -> Points:
    """A wing's section in the side view."""
    if form == "plate":
        return np.array(
            [(at_x, z), (at_x + chord, z), (at_x + chord, z + thick * chord), (at_x, z + thick * chord)]
        )
    t = (1 - np.cos(np.linspace(0, np.pi, 31))) / 2
    shape = 2.6 * (np.sqrt(t) - t) * (1 - 0.35 * t) * thick * chord
    low = z - 0.18 * shape if form == "full" else np.full_like(t, z)
    return band(np.c_[at_x + t * chord, z + shape], np.c_[at_x + t * chord, low])


def box(x0: float, z0: float, x1: float, z1: float) -> Points:
    return np.array([(x0, z0), (x1, z0), (x1, z1), (x0, z1)])


def disc(x: float, z: float, r: float) -> Points:
    a = np.linspace(0, 2 * np.pi, 49)[:-1]
    return np.c_[x + r * np.cos(a), z + r * np.sin(a)]


def front_wing(span: float, rise: float, thick: float, z: float) -> Points:
    h = span / 2
    return np.array(
        [
            (-h, z + rise),
            (0, z),
            (h, z + rise),
            (h, z + rise + 0.6 * thick),
            (0, z + thick),
            (-h, z + rise + 0.6 * thick),
        ]
    )


def z_at(line: Points, x: float) -> float:
    return float(np.interp(x, line[:, 0], line[:, 1]))
