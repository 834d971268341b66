"""A tail cone that the silhouette leaves out."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.cone import cone_behind

sys.path.insert(0, str(Path(__file__).parent))
from made import ink_of

_PEN = 6.0


def _carried(strokes: list[list[tuple[float, float]]]) -> tuple[Floats, Floats, Floats] | None:
    """What is behind a body 700 long, 10 deep there, its edges going on to a point at x = 740."""
    x = np.linspace(0.0, 700.0, 300)
    half = np.interp(x, [0.0, 400.0, 740.0], [30.0, 60.0, 0.0])
    half *= 5.0 / half[-1]
    return cone_behind(x, -half, half, ink_of(strokes, _PEN), span=600.0, pen_mm=_PEN)


def test_a_cone_that_a_wide_pen_fills_reaches_its_point() -> None:
    found = _carried([[(600, 17.5), (740, 0)], [(600, -17.5), (740, 0)]])
    assert found is not None
    x, low, high = found
    assert x[-1] == pytest.approx(740.0, abs=2.0)
    behind = x > 700.0
    true = (740.0 - x[behind]) / 8.0
    assert np.abs(high[behind] - true).max() < 1.0
    assert np.abs(low[behind] + true).max() < 1.0


def test_a_cone_is_closed_where_its_ink_stops() -> None:
    found = _carried([[(600, 17.5), (720, 2.5)], [(600, -17.5), (720, -2.5)], [(720, 2.5), (720, -2.5)]])
    assert found is not None
    assert found[0][-1] == pytest.approx(720.0, abs=2.0)
    assert found[2][-1] == pytest.approx(2.5, abs=1.0)


@pytest.mark.parametrize(
    "behind",
    [
        [[(700, 5), (700, -5)]],  # closed there
        [[(700, 5), (700, -5)], [(700, 0), (790, 0)]],  # and a centre line runs on
        [[(700, 5), (760, 25)], [(700, -5), (760, -25)]],  # something else opens behind it
        [[(700, 5), (740, 5)], [(700, -5), (740, -5)], [(740, 5), (740, -5)]],  # or a plank
    ],
)
def test_what_is_no_cone_is_not_followed(behind: list[list[tuple[float, float]]]) -> None:
    assert _carried([[(600, 17.5), (700, 5)], [(600, -17.5), (700, -5)], *behind]) is None
