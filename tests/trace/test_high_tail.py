"""A tailplane that the fin carries, in front views of known heights. All millimetres, span 1000."""

from __future__ import annotations

import numpy as np
import pytest

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.front import FrontWing
from sheetlark.trace.shapes.high_tail import tail_on_fin
from sheetlark.trace.shapes.inkgrid import Ink

WING = FrontWing(z_mm=-30.0, dihedral_deg=3.0, semi_mm=500.0)


def view(
    tail_z: float,
    *,
    thick: float = 8.0,
    wing_z: float = -30.0,
    body: tuple[float, float] = (-40.0, 40.0),
    disc: float = 0.0,
) -> Ink:
    def ink(y: Floats, z: Floats) -> Floats:
        y, z = np.broadcast_arrays(np.abs(y), z)
        tail = (y < 180.0) & (np.abs(np.abs(z - tail_z) - 0.5 * thick) < 1.5)
        wing = (y < 500.0) & (np.abs(np.abs(z - wing_z - 0.052 * y) - 5.0) < 1.5)
        middle = 0.5 * (body[0] + body[1])
        round_body = np.abs(np.hypot(y, z - middle) - 0.5 * (body[1] - body[0])) < 2.0
        fin = (y < 5.0) & (z > 0.0) & (z < 150.0)
        circle = np.abs(np.hypot(y, z) - disc) < 1.5
        return np.asarray((tail | wing | round_body | fin | (circle & (disc > 0.0))).astype(np.float64))

    return ink


def told(ink: Ink, wing: FrontWing = WING) -> float | None:
    return tail_on_fin(
        ink, semi=180.0, span=1000.0, body=(-40.0, 40.0), body_top=30.0, fin_top=150.0, wings=(wing,)
    )


@pytest.mark.parametrize("tail_z", [70.0, 100.0, 145.0])
@pytest.mark.parametrize("thick", [0.0, 8.0])
def test_a_tail_on_the_fin_is_told_with_its_height(tail_z: float, thick: float) -> None:
    assert told(view(tail_z, thick=thick)) == pytest.approx(tail_z, abs=3.0)


@pytest.mark.parametrize("tail_z", [0.0, 30.0, 44.0])
def test_a_tail_at_the_body_is_none(tail_z: float) -> None:
    assert told(view(tail_z)) is None


def test_a_wing_above_the_body_and_a_propellers_disc_are_none() -> None:
    high = FrontWing(z_mm=80.0, dihedral_deg=3.0, semi_mm=500.0)
    assert told(view(20.0, wing_z=80.0), high) is None
    assert told(view(20.0, wing_z=80.0)) is None  # also where the front view's wings were not found
    assert told(view(20.0, disc=110.0)) is None


def test_heights_that_do_not_fit_the_body_are_not_trusted() -> None:
    assert told(view(100.0, body=(-90.0, -10.0), wing_z=0.0)) is None
