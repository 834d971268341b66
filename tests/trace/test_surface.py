"""Both halves of a surface followed and made one."""

from __future__ import annotations

import numpy as np
import pytest

from sheetlark.trace.shapes.planform import find_wing, pointed_tip
from sheetlark.trace.shapes.surface import Surface


def test_tips_whose_outermost_points_lie_apart_leave_no_spike() -> None:
    """Of a sheet turned by a hair one tip is outermost at its leading edge, the other at its trailing edge."""
    half = np.array([[100.0, 0.0], [130.0, 379.7], [228.0, 380.0], [230.0, 380.0], [260.0, 0.0]])
    other = np.array([[230.0, -379.7], [132.0, -380.0], [130.0, -380.0]])
    wing = find_wing((np.vstack([half, other]),), 760.0)
    assert wing is not None
    true = 100.0 + 30.0 * wing.station / 379.8
    assert np.abs(wing.lead - true).max() < 0.3
    assert np.abs(wing.trail - (260.0 - 30.0 * wing.station / 379.8)).max() < 0.3


def _with_stub(chord_at_root: float, stub: float) -> tuple[np.ndarray, ...]:
    """A straight wing on a body 60 wide, `stub` standing out of both leading edges from y = 120 to 128."""
    half = [
        (0.0, 30.0),
        (100.0, 30.0),
        (100.0, 120.0),
        (100.0 - stub, 120.0),
        (100.0 - stub, 128.0),
        (100.0, 128.0),
    ]
    half += [(100.0, 380.0), (100.0 + chord_at_root, 380.0), (100.0 + chord_at_root, 30.0), (600.0, 30.0)]
    ring = np.array(half)
    return (np.vstack([ring, ring[::-1] * (1.0, -1.0)]),)


def test_an_edge_is_followed_on_over_a_stub_of_a_loose_line() -> None:
    wing = find_wing(_with_stub(150.0, 25.0), 760.0)
    assert wing is not None
    assert wing.lead_root == pytest.approx(30.0, abs=4.0)
    assert np.abs(wing.lead - 100.0).max() < 0.5


def test_behind_a_nacelle_an_edge_goes_on_in_another_direction() -> None:
    """The taper begins at the nacelle, from y = 130 to 150: inside it the edge is straight, outside swept a fifth."""
    half = [(0.0, 30.0), (100.0, 30.0), (100.0, 130.0), (50.0, 130.0), (50.0, 150.0), (102.0, 150.0)]
    half += [(148.0, 380.0), (250.0, 380.0), (250.0, 30.0), (600.0, 30.0)]
    ring = np.array(half)
    wing = find_wing((np.vstack([ring, ring[::-1] * (1.0, -1.0)]),), 760.0)
    assert wing is not None
    assert wing.lead_root == pytest.approx(30.0, abs=4.0)
    assert np.abs(wing.lead - 100.0 - 0.2 * np.maximum(wing.station - 140.0, 0.0)).max() < 0.8


def test_an_edge_that_does_not_come_back_has_met_the_body() -> None:
    wing = find_wing(_with_stub(150.0, 0.0), 760.0)
    assert wing is not None
    assert wing.lead_root == pytest.approx(30.0, abs=4.0)
    assert wing.trail_root == pytest.approx(30.0, abs=4.0)
    assert np.abs(wing.trail - 250.0).max() < 0.5


def test_a_round_stern_close_behind_a_wing_is_no_part_of_it() -> None:
    """A delta with its trailing edge at 700 on the tips, 712 on the centre line; the stern reaches to 730."""
    y = np.linspace(0.0, 60.0, 40)
    stern = np.c_[680.0 + 50.0 * np.sqrt(1.0 - (y / 60.0) ** 2), y]
    edge = 712.0 - 12.0 * y / 450.0
    half = np.vstack(
        [np.c_[np.maximum(stern[:, 0], edge), y], [(700.0, 450.0), (640.0, 450.0), (100.0, 0.0)]]
    )
    wing = find_wing((np.vstack([half, half[::-1] * (1.0, -1.0)]),), 900.0)
    assert wing is not None
    assert np.abs(wing.trail - (712.0 - 12.0 * wing.station / 450.0)).max() < 1.0
    clear = wing.station < 440.0  # of the tip
    assert np.abs(wing.lead - (100.0 + 1.2 * wing.station))[clear].max() < 1.0


@pytest.mark.parametrize("chord", [0.0, 6.0, 20.0])
def test_a_short_chord_at_the_tip_is_no_point(chord: float) -> None:
    """Half span 500 mm, edges that meet 1 mm further out for each mm of chord; the pen hides the last 4 mm of a point."""
    tip = 500.0 + chord
    y = np.linspace(0.0, 500.0 if chord else 496.0, 400)
    wing = Surface(
        station=y,
        lead=400.0 + y,
        trail=np.full(400, 400.0 + tip),
        lead_root=0.0,
        trail_root=0.0,
        asymmetry=0.0,
    )

    def ink(x: np.ndarray, across: np.ndarray) -> np.ndarray:
        out = np.abs(across)
        edges = (np.abs(x - 400.0 - out) < 2.0) | (np.abs(x - 400.0 - tip) < 2.0)
        return np.where(edges & (out < 502.0), 1.0, 0.0)

    assert pointed_tip(wing, ink) == pytest.approx(1.0 if chord else 500.0 / 496.0, abs=1e-4)
