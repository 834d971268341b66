"""The surfaces of a top view where the body lies over them."""

from __future__ import annotations

import numpy as np
import pytest

from sheetlark.trace.shapes.body import Body, bare_wing
from sheetlark.trace.shapes.planform import through_body
from sheetlark.trace.shapes.surface import Surface


def _tail(stern: float) -> tuple[Surface, Body]:
    """A tailplane from x = 800 to 900, swept, and a body 30 mm to each side that ends round at `stern`."""
    y = np.linspace(0.0, 170.0, 200)
    lead, trail = 800.0 + 0.2 * y, 900.0 + 0.1 * y
    round_ = stern - 30.0 + np.sqrt(np.maximum(30.0**2 - y**2, 0.0))
    shown = np.where(y < 30.0, np.maximum(trail, round_), trail)
    x = np.linspace(0.0, stern, 400)
    half = np.where(x < stern - 30.0, 30.0, np.sqrt(np.maximum(30.0**2 - (x - stern + 30.0) ** 2, 0.0)))
    body = Body(x=x, low=-half, high=half, seen=np.ones(x.size))
    tail = Surface(station=y, lead=lead, trail=shown, lead_root=0.0, trail_root=0.0, asymmetry=0.0)
    return tail, body


def test_a_tailplane_goes_straight_on_through_a_stern_close_behind_it() -> None:
    tail, body = _tail(930.0)
    found = through_body(tail, body, 1000.0)
    assert found.trail == pytest.approx(900.0 + 0.1 * tail.station, abs=0.5)
    assert (found.lead == tail.lead).all()


def test_a_tailplane_without_a_stern_behind_it_stays_as_it_is() -> None:
    tail, body = _tail(895.0)
    assert through_body(tail, body, 1000.0) is tail


def _slab(x: np.ndarray, full: float) -> Body:
    return Body(x=x, low=np.full(x.size, -0.5 * full), high=np.full(x.size, 0.5 * full), seen=np.ones(x.size))


@pytest.mark.parametrize(
    ("wide", "deep", "long", "bare"),
    [
        (None, 20.0, 445.0, True),  # a section 4.5 % deep, a fin's overhang behind it
        (6.0, 20.0, 445.0, True),  # and the fin's board from above
        (None, None, 445.0, True),
        (60.0, 20.0, 445.0, False),
        (None, 45.0, 445.0, False),  # as deep as a body
        (None, 20.0, 520.0, False),  # a nose ahead of the wing
    ],
)
def test_a_wing_without_a_body_is_told_by_how_narrow_shallow_and_short_what_is_drawn_is(
    wide: float | None, deep: float | None, long: float, bare: bool
) -> None:
    y = np.linspace(0.0, 380.0, 100)
    wing = Surface(
        station=y, lead=0.9 * y, trail=440.0 - 0.1 * y, lead_root=0.0, trail_root=0.0, asymmetry=0.0
    )
    x = np.linspace(0.0, long, 50)
    width, side = (None if d is None else _slab(x, d) for d in (wide, deep))
    assert bare_wing(wing, width, side, 760.0) is bare
