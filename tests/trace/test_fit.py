"""Curves fitted to traced points."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from shapely import LineString

sys.path.insert(0, str(Path(__file__).parent))
import drawing_c as C  # noqa: N812

from sheetlark.trace import trace_picture
from sheetlark.trace.shapes.fit import _fit, fit_path
from sheetlark.trace.starting.design_parts import points_of

JOGS = (
    [(0.0, 0.0), (-3.6, -1.8), (-2.5, -4.5), (1.6, -1.7)],
    [(0.0, 0.0), (-2.0, -1.5), (-0.9, 1.0), (-2.5, -2.1), (0.7, -4.7)],
    [(0.0, 0.0), (-0.9, -3.8), (-0.3, -1.9), (0.1, -3.0), (-2.6, -5.9)],
)


@pytest.mark.parametrize("jog", JOGS)
def test_a_fitted_curve_does_not_cross_itself_where_its_points_do_not(jog: list[tuple[float, float]]) -> None:
    """A trailing edge, 2 mm a point, that steps back over a jog where another line crossed it."""
    y = np.arange(380.0, 0.0, -2.0)
    edge = np.c_[130.0 - 0.0002 * y**2, y]
    k = int(np.argmin(np.abs(y - 312.0)))
    points = np.vstack([edge[:k], edge[k] + np.array(jog), edge[k + 3 :]])
    assert LineString(points).is_simple
    assert not _fit(points, 0.9, closed=False)[1]  # at the tolerance asked for it curls
    fitted = fit_path(points, tolerance_mm=0.9, closed=False)
    assert LineString(points_of(fitted.path)).is_simple
    assert fitted.worst_mm <= 0.9


def test_a_fit_that_crosses_itself_is_known() -> None:
    loop = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (5.0, 10.0), (5.0, -5.0)])
    assert not _fit(loop, 0.5, closed=False)[1]
    assert _fit(loop[:4], 0.5, closed=False)[1]


def test_a_bodys_nose_is_not_fitted_more_closely_than_asked(tmp_path: Path) -> None:
    """Its curve touches itself by less than is written where the ring begins; that once cost 84 nodes."""
    drawn = C.draw(27, "monoplane", "clean")
    Image.fromarray(drawn.image).save(tmp_path / "three-view.png")
    found = trace_picture(tmp_path / "three-view.png", span_m=drawn.span_mm / 1000)
    assert max(o.nodes for o in found.outlines) <= 30
