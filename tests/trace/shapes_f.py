"""Closed shapes the sixth hand makes its aeroplanes of."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.interpolate import PchipInterpolator
from shapely.geometry import LineString, Polygon

Points = np.ndarray
Line = tuple[Points, Points]  # stations, values


def polygon(points: Points) -> Polygon:
    """A polygon of points, without those that fall on the one before or, the last, on the first."""
    keep = [points[0]]
    for p in points[1:]:
        if np.hypot(*(p - keep[-1])) > 1e-6:
            keep.append(p)
    if np.hypot(*(keep[0] - keep[-1])) < 1e-6:
        keep.pop()
    return Polygon(keep)


def between(upper: Line, lower: Line) -> Polygon:
    return polygon(np.r_[np.c_[upper], np.c_[lower][::-1]])


def oval(x: float, y: float, rx: float, ry: float, n: int) -> Points:
    """n points of an ellipse, the last on the first."""
    t = np.linspace(0, 2 * np.pi, n)
    return np.c_[x + rx * np.cos(t), y + ry * np.sin(t)]


def ellipse(x: float, y: float, rx: float, ry: float, n: int) -> Polygon:
    return Polygon(oval(x, y, rx, ry, n))


def lifting(
    rng: np.random.Generator, span: float, chord: float, taper: float, sweep: float, tip: str, lead: float
) -> Polygon:
    """A wing or tail from above. chord, lead: at the root; sweep: slope of the leading edge; tip: its form."""
    half = span / 2
    blunt = 0.5 * chord * taper / half * rng.uniform(0.5, 1.2)
    long = rng.uniform(0.3, 0.6)
    share = {"round": blunt, "long": long, "ellipse": 1.0}.get(tip, 0.0)  # of the half span that is curved
    y = np.linspace(0, half, 7)
    if share > 0:
        inner = half * (1 - share)
        bow = inner + half * share * np.sin(np.linspace(0, np.pi / 2, 60))
        y = np.unique(np.r_[0, np.linspace(0, inner, 5), bow])
    chords = chord * np.ones_like(y) if tip == "ellipse" else chord * (1 - (1 - taper) * y / half)
    ahead = lead + sweep * y
    behind = ahead + chords
    if share > 0:
        out = np.clip((y - half * (1 - share)) / (half * share), 0, 1)
        left = np.sqrt(np.maximum(0, 1 - out * out))  # what the bow leaves of the chord
        at = 0.5 if tip != "ellipse" else rng.choice([0.25, 0.35, 0.5])
        middle = ahead + at * chords
        ahead, behind = middle - at * chords * left, middle + (1 - at) * chords * left
    edge = np.c_[ahead, y]
    if tip == "slant":
        edge[-1] = ahead[-1] + rng.uniform(0.1, 0.35) * chords[-1], half
    right = np.r_[edge, np.c_[behind, y][::-1]]
    return polygon(np.r_[right, right[::-1] * [1, -1]])


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """Seen from above and from the side. blunt: the nose's share of the greatest width, 0 where it is pointed. [mm]"""

    style: str
    blunt: float
    top: Polygon
    side: Polygon
    upper: Line
    lower: Line
    half_width: Points

    def crown(self, x: float) -> float:
        return float(np.interp(x, *self.upper))

    def keel(self, x: float) -> float:
        return float(np.interp(x, *self.lower))


def body(rng: np.random.Generator, length: float, width: float, height: float) -> Body:
    style = str(rng.choice(["box", "spline", "ellipse", "teardrop"], p=[0.38, 0.34, 0.12, 0.16]))
    stern_width = rng.choice([0.0, 0.06, 0.15, 0.3]) * width / 2
    stern_height = rng.choice([0.08, 0.15, 0.3]) * height
    lift = rng.uniform(0.05, 0.35) * height  # of the stern above the datum
    blunt = 0.0
    if style in {"box", "spline"}:
        blunt = rng.choice([0.45, 0.6, 0.75, 0.9])
        at, w, h = rng.uniform(0.18, 0.4), width / 2, height / 2
        full = 0.97 if style == "spline" else 1
        half = [(0, blunt * w), (at * 0.5, w * full), (at + 0.1, w), (1, max(stern_width, 0.01 * width))]
        high = [(0, blunt * h), (at * 0.5, h * 0.95), (at + 0.1, h), (1, lift + stern_height / 2)]
        low = [(0, -blunt * h), (at * 0.5, -h * 0.97), (at + 0.1, -h), (1, lift - stern_height / 2)]
        if style == "spline" and rng.random() < 0.5:
            for line, size in ((half, w), (high, h), (low, -h)):
                line[:1] = [(0, 0.0), (0.02, 0.3 * size)]
        lines = [_along(style, length, np.array(line)) for line in (half, high, low)]
    else:
        x = length * (1 - np.cos(np.linspace(0, np.pi, 90))) / 2
        if style == "ellipse":
            bow, rise = np.sin(np.linspace(0, np.pi, 90)), 0.0 * x
        else:
            t = x / length
            bow = np.sqrt(np.maximum(t, 0)) * (1 - t) ** rng.uniform(0.6, 1.0)
            bow, rise = bow / bow.max(), lift * 0.6 * t
        lines = [(x, width / 2 * bow), (x, height / 2 * bow + rise), (x, -height / 2 * bow + rise)]
    (x, half_width), upper, lower = lines
    return Body(
        style=style,
        blunt=blunt,
        top=between((x, half_width), (x, -half_width)),
        side=between(upper, lower),
        upper=upper,
        lower=lower,
        half_width=half_width,
    )


def _along(style: str, length: float, stations: Points) -> Line:
    at, value = stations[:, 0] * length, stations[:, 1]
    if style == "box":
        return at, value
    x = np.linspace(0, length, 80)
    return x, PchipInterpolator(at, value)(x)


def section(x: float, z: float, chord: float, form: str, thick: float) -> shapely.Geometry:
    """A wing end on. thick: a share of the chord."""
    deep = thick * chord / 2
    if form == "line":
        return LineString([(x, z), (x + chord, z)])
    if form == "rect":
        return shapely.box(x, z - deep, x + chord, z + deep)
    if form == "lens":
        t = np.linspace(0, np.pi, 30)
        at, out = x + chord * (1 - np.cos(t)) / 2, deep * np.sin(t)
        return Polygon(np.r_[np.c_[at, z + out], np.c_[at, z - out][::-1][1:-1]])
    u = (1 - np.cos(np.linspace(0, np.pi, 40))) / 2
    # four-digit thickness form (Jacobs, Ward, Pinkerton, NACA report 460, 1933), its trailing edge closed
    out = 0.2969 * np.sqrt(u) - 0.126 * u - 0.3516 * u**2 + 0.2843 * u**3 - 0.1036 * u**4
    out = 5 * thick * out * chord
    camber = 0.04 * chord * 4 * u * (1 - u) * 0.7
    upper, lower = np.c_[x + u * chord, z + camber + out], np.c_[x + u * chord, z + camber - out]
    return Polygon(np.r_[upper, lower[::-1][1:-1]])


def strip(
    rng: np.random.Generator, span: float, z: float, chord: float, thick: float, dihedral: float
) -> Polygon:
    """A wing from ahead."""
    thick, half = chord * thick, span / 2
    at_tip = rng.choice([1, 0.5])
    rise = z + half * np.tan(dihedral)
    up = [(-half, rise + thick / 2 * at_tip), (0, z + thick / 2), (half, rise + thick / 2 * at_tip)]
    low = [(half, rise - thick / 2 * at_tip), (0, z - thick / 2), (-half, rise - thick / 2 * at_tip)]
    return Polygon(up + low)
