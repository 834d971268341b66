"""Hinge lines told from spars, ribs and centre lines, on strokes laid down by formula."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely

from sheetlark.trace.hinges import control_outlines, find_hinge
from sheetlark.trace.surface import Surface

PEN = 3.0
Stroke = tuple[tuple[float, float], tuple[float, float]]


def wing() -> Surface:
    """Half a wing of 500 mm, 200 mm chord at the root, 120 at the tip, trailing edge straight across."""
    y = np.linspace(0.0, 500.0, 120)
    return Surface(
        station=y,
        lead=100.0 + 80.0 * y / 500.0,
        trail=np.full(y.size, 300.0),
        lead_root=40.0,
        trail_root=40.0,
        asymmetry=0.0,
    )


def inked(*strokes: Stroke) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    """Ink of the wing's outline and some strokes, all on both halves."""
    ring = [(100, 0), (180, 500), (300, 500), (300, 0)]
    lines = shapely.union_all(
        [shapely.LineString([(x, s * y) for x, y in line]) for line in (ring, *strokes) for s in (1, -1)]
    )
    shapely.prepare(lines)

    def ink(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        d = shapely.distance(shapely.points(np.asarray(x, float), np.asarray(y, float)), lines)
        return np.clip(PEN / 2 + 0.5 - d, 0.0, 1.0)

    return ink


AILERON: tuple[Stroke, ...] = (
    ((250.0, 240.0), (262.0, 460.0)),
    ((250.0, 240.0), (300.0, 240.0)),
    ((262.0, 460.0), (300.0, 460.0)),
)
RIBS: tuple[Stroke, ...] = tuple(((100.0 + 0.16 * y, y), (300.0, y)) for y in (120.0, 200.0, 310.0, 390.0))
SPAR: Stroke = ((210.0, 0.0), (222.0, 495.0))
CENTRE: Stroke = ((90.0, 0.0), (310.0, 0.0))


def found(*strokes: Stroke) -> list[str]:
    out = control_outlines(
        (("wing", wing()),), None, None, inked(*strokes), None, pen=PEN, post=None, trust=1.0
    )
    return [o.name for o in out]


@pytest.mark.parametrize("more", [(), RIBS, (SPAR,), (CENTRE,)])
def test_an_aileron_is_found_among_other_lines(more: tuple[Stroke, ...]) -> None:
    hinge = find_hinge(wing(), inked(*AILERON, *more), pen=PEN, root=40.0, least=0.14)
    assert hinge is not None
    assert np.hypot(*np.subtract(hinge.inner, AILERON[0][0])) < 4.0
    assert np.hypot(*np.subtract(hinge.outer, AILERON[0][1])) < 4.0
    assert hinge.cut == (True, True)
    assert hinge.confidence > 0.8


@pytest.mark.parametrize("strokes", [(), RIBS, (SPAR,), (SPAR, CENTRE), (SPAR, CENTRE, *RIBS)])
def test_no_aileron_is_found_where_none_is_drawn(strokes: tuple[Stroke, ...]) -> None:
    assert found(*strokes) == []


def test_an_aileron_without_cuts_is_less_sure() -> None:
    cut = find_hinge(wing(), inked(*AILERON), pen=PEN, root=40.0, least=0.14)
    bare = find_hinge(wing(), inked(AILERON[0]), pen=PEN, root=40.0, least=0.14)
    assert cut is not None
    assert bare is not None
    assert 0.4 < bare.confidence < cut.confidence - 0.2
