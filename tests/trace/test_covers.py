"""Sections drawn across the side view's body."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.covers import find_cover
from sheetlark.trace.shapes.sections import thickness

_SPAN = 900.0


def _lines(form: str, chord: float) -> tuple[Floats, Floats, Floats]:
    """Share of the chord, upper and lower line of a section 12 % thick. [mm]"""
    t = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, 200))
    half = 0.12 * chord * (thickness(t) if form == "cambered" else np.sqrt(t * (1.0 - t)))
    mean = 0.1 * chord * t * (1.0 - t) * (form == "cambered")
    return t, mean + half, mean - half


@pytest.mark.parametrize("form", ["cambered", "ellipse"])
@pytest.mark.parametrize("chord", [170.0, 720.0])  # a wing's, and a delta's root
def test_a_section_is_found_however_long_its_chord(form: str, chord: float) -> None:
    t, up, down = _lines(form, chord)
    x = 200.0 + chord * t
    drawn = shapely.MultiLineString([np.c_[x, 13.0 + up], np.c_[x, 13.0 + down], [(0, 0), (1000, 30)]])
    shapely.prepare(drawn)

    def ink(a: Floats, b: Floats) -> Floats:
        return np.asarray(np.clip(1.5 - shapely.distance(drawn, shapely.points(a, b)), 0.0, 1.0))

    cover = find_cover(
        ink,
        lead=(192.0, 212.0),
        trail=(190.0 + chord, 211.0 + chord),
        heights=(-110.0, 120.0),
        span=_SPAN,
        pen=2.0,
    )
    assert cover is not None
    for found, true in zip(cover.lines(x), (up, down), strict=True):
        off = np.abs(found - 13.0 - true)
        assert float(np.nanmax(off[(t > 0.05) & (t < 0.95)])) < 0.006 * _SPAN
