"""Both halves of a surface followed and made one."""

from __future__ import annotations

import numpy as np

from sheetlark.trace.planform import find_wing


def test_tips_whose_outermost_points_lie_apart_leave_no_spike() -> None:
    """Of a sheet turned by a hair one tip is outermost at its leading edge, the other at its trailing edge."""
    half = np.array([[100.0, 0.0], [130.0, 379.7], [228.0, 380.0], [230.0, 380.0], [260.0, 0.0]])
    other = np.array([[230.0, -379.7], [132.0, -380.0], [130.0, -380.0]])
    wing = find_wing((np.vstack([half, other]),), 760.0)
    assert wing is not None
    true = 100.0 + 30.0 * wing.station / 379.8
    assert np.abs(wing.lead - true).max() < 0.3
    assert np.abs(wing.trail - (260.0 - 30.0 * wing.station / 379.8)).max() < 0.3
