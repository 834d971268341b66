"""Sections drawn across the side view's body."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.covers import find_cover
from sheetlark.trace.shapes.section_figures import thickness

sys.path.insert(0, str(Path(__file__).parent))
from made import ink_of

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
    ink = ink_of([np.c_[x, 13.0 + up], np.c_[x, 13.0 + down], [(0, 0), (1000, 30)]], 2.0)
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


@pytest.mark.parametrize("broken", [False, True])
def test_a_thick_plank_is_found_also_where_a_break_lies_across_one_end(broken: bool) -> None:
    chord, deep = 300.0, 45.0
    lead = [(200.0, 20.0), (200.0, 26.0)] if broken else [(200.0, 20.0), (200.0, 20.0 + deep)]
    ink = ink_of(
        [
            lead,
            [(200.0, 20.0), (200.0 + chord, 20.0)],
            [(200.0, 20.0 + deep), (200.0 + chord, 20.0 + deep)],
            [(200.0 + chord, 20.0), (200.0 + chord, 20.0 + deep)],
        ],
        2.0,
    )
    cover = find_cover(
        ink, lead=(190.0, 210.0), trail=(490.0, 510.0), heights=(-60.0, 120.0), span=_SPAN, pen=2.0
    )
    assert cover is not None
    assert cover.shape.form == "plank"
    up, down = (float(v[0]) for v in cover.lines(np.array([350.0])))
    assert (down, up) == pytest.approx((20.0, 20.0 + deep), abs=2.0)


@pytest.mark.parametrize("deep", [80.0, 30.0], ids=["lines inside", "its own edges"])
def test_in_a_filled_figure_there_is_no_section(deep: float) -> None:
    """Every line is inked there, also one along the figure's lower edge with the other inside it."""
    filled = ink_of([[(150.0, 60.0), (450.0, 60.0)]], deep)
    cover = find_cover(
        filled, lead=(190.0, 210.0), trail=(360.0, 380.0), heights=(-60.0, 120.0), span=_SPAN, pen=2.0
    )
    assert cover is None
