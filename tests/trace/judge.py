"""Measure a tracing against the drawing's known geometry."""

from __future__ import annotations

import numpy as np
import shapely
import svg.path


def ring(path: str) -> np.ndarray:
    """Points of SVG path data."""
    pts: list[complex] = []
    for s in svg.path.parse_path(path):
        if isinstance(s, svg.path.Move):
            pts.append(s.end)
        elif isinstance(s, svg.path.Line):
            pts += [s.start + (s.end - s.start) * t for t in np.linspace(0, 1, 12)[1:]]
        else:
            pts += [s.point(t) for t in np.linspace(0, 1, 12)[1:]]
    return np.array([[p.real, p.imag] for p in pts])


def _dense(p: np.ndarray, step: float) -> np.ndarray:
    line = shapely.LinearRing(p)
    return np.array([line.interpolate(s).coords[0] for s in np.arange(0, line.length, step)])


def apart(
    traced: np.ndarray, true: np.ndarray, *, shift: bool = False, lo_x: float = -1e9
) -> tuple[float, float]:
    """Mean and worst distance between two closed outlines, both ways. [same unit]"""
    if shift:
        middle = (true[:, 1].max() + true[:, 1].min() - traced[:, 1].max() - traced[:, 1].min()) / 2
        traced = traced + np.array([0.0, middle])
    a, b = _dense(traced, 3.0), _dense(true, 3.0)
    la, lb = shapely.LinearRing(traced), shapely.LinearRing(true)
    d = np.r_[shapely.distance(shapely.points(a), lb), shapely.distance(shapely.points(b), la)]
    return float(d.mean()), float(d.max())
