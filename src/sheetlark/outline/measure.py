"""Areas, centroids and checks of sampled outlines, and the mean aerodynamic chord."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sheetlark.errors import GeometryError

if TYPE_CHECKING:
    from shapely.geometry import Polygon

Floats = NDArray[np.float64]


def signed_area(points: ArrayLike) -> float:
    """Area enclosed by a closed polygon of shape (n, 2), positive anticlockwise (shoelace formula)."""
    p = np.asarray(points, dtype=np.float64)
    q = np.concatenate([p[1:], p[:1]])
    return float(0.5 * np.sum(p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]))


def polygon(points: ArrayLike, name: str) -> Polygon:
    """A shapely polygon from closed points of shape (n, 2).

    Raises
    ------
    GeometryError
        If the outline crosses itself or encloses nothing; the message names it and the place.
    """
    from shapely.geometry import Polygon
    from shapely.validation import explain_validity

    p = np.asarray(points, dtype=np.float64)
    if len(p) < 3:
        raise GeometryError(f"{name} has only {len(p)} points; an outline needs at least 3")
    shape = Polygon(p)
    if not shape.is_valid:
        reason = explain_validity(shape)
        place = reason[reason.find("[") + 1 : reason.find("]")].split()
        near = f" near ({float(place[0]):.1f}, {float(place[1]):.1f}) mm" if len(place) == 2 else ""
        raise GeometryError(f"{name} crosses itself{near}. Move the nodes so that the outline never crosses.")
    if shape.area < 1.0:
        raise GeometryError(f"{name} encloses only {shape.area:.3g} mm²; an outline must enclose a part")
    return shape


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanChord:
    """The mean aerodynamic chord of a planform, in the units of the outline it came from.

    area : planform area
    chord : length of the mean aerodynamic chord
    leading_edge_x, station_y : where its leading edge lies
    """

    area: float
    chord: float
    leading_edge_x: float
    station_y: float


def mean_chord(y: ArrayLike, leading_x: ArrayLike, chord: ArrayLike) -> MeanChord:
    """Mean aerodynamic chord of one half from stations, chord and leading edge linear between them.

    Parameters
    ----------
    y, leading_x, chord : array_like, shape (n,)
        Stations from root to tip.

    Raises
    ------
    GeometryError
        If the stations enclose no area.

    Notes
    -----
    c = (1/S) ∫ c² dy and x = (1/S) ∫ x_le c dy, both exact for piecewise linear edges (Simpson's rule is
    exact for the quadratics). Definition: e.g. E. Torenbeek, "Synthesis of Subsonic Airplane Design", 1982,
    appendix A-3.
    """
    eta, x, c = (np.asarray(v, dtype=np.float64) for v in (y, leading_x, chord))
    d = np.diff(eta)
    mid_c, mid_x, mid_y = 0.5 * (c[1:] + c[:-1]), 0.5 * (x[1:] + x[:-1]), 0.5 * (eta[1:] + eta[:-1])

    def simpson(f: Floats, middle: Floats) -> float:
        return float(np.sum(d / 6.0 * (f[:-1] + 4.0 * middle + f[1:])))

    area = simpson(c, mid_c)
    if not area > 0:
        raise GeometryError(f"the planform encloses no area (stations {eta.tolist()[:4]} ...)")
    return MeanChord(
        area=area,
        chord=simpson(c * c, mid_c * mid_c) / area,
        leading_edge_x=simpson(x * c, mid_x * mid_c) / area,
        station_y=simpson(eta * c, mid_y * mid_c) / area,
    )


def chord_stations(points: ArrayLike, name: str, count: int = 61) -> tuple[Floats, Floats, Floats]:
    """Cut a half planform (x, y) across its span: stations, leading-edge x, chord, each of shape (n,).

    The stations hold every corner of the outline, so that straight-edged planforms are cut exactly; smooth
    tips get further cosine-spaced stations. Points run from the leading edge at the centre line out to the
    tip and back; the outline must be single-valued across the span (one chord at each station).

    Raises
    ------
    GeometryError
        If the planform has no span.
    """
    p = np.asarray(points, dtype=np.float64)
    y = p[:, 1]
    low, high = float(y.min()), float(y.max())
    if not high - low > 1e-6:
        raise GeometryError(f"{name} has no span: all its points lie at y = {low:g}")
    spaced = low + (high - low) * np.sin(np.linspace(0.0, np.pi / 2, count))
    corners = y[_corner(p)]
    eta = np.unique(np.concatenate([spaced, corners, [low, high]]))
    eta = eta[np.concatenate([[True], np.diff(eta) > 1e-6 * (high - low)])]
    if high - eta[-1] > 0:
        eta[-1] = high
    q = np.roll(p, -1, axis=0)
    slanted = np.abs(q[:, 1] - y) >= 1e-12
    (x0, y0), (x1, y1) = p[slanted].T, q[slanted].T
    # Nudged inwards, so that an edge lying along the centre line or the tip is cut, not grazed.
    s = np.minimum(np.maximum(eta, low + 1e-7 * (high - low)), high - 1e-7 * (high - low))[:, None]
    crosses = (y0 - s) * (y1 - s) <= 0
    cut = x0 + (s - y0) / (y1 - y0) * (x1 - x0)
    front = np.where(crosses, cut, np.inf).min(axis=1)
    return eta, front, np.where(crosses, cut, -np.inf).max(axis=1) - front


def _corner(p: Floats) -> NDArray[np.bool_]:
    """Points where a closed polyline turns by more than 8 degrees."""
    before, after = p - np.roll(p, 1, axis=0), np.roll(p, -1, axis=0) - p
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    dot = np.sum(before * after, axis=1)
    return np.asarray(np.abs(np.arctan2(cross, dot)) > np.radians(8.0))
