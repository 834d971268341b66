"""What is bought for a starting design stands what it is asked, by the drive's own figures."""

from __future__ import annotations

import pytest

from sheetlark.drive import DriveLine, equilibrium, propeller_of
from sheetlark.stock import load_stock
from sheetlark.trace.starting.equipping import SIZES, Size, size_for


@pytest.mark.parametrize("size", SIZES, ids=lambda s: s.motor)
def test_full_throttle_standing_still_overloads_nothing(size: Size) -> None:
    stock = load_stock()
    controller = stock.controller(size.controller)
    line = DriveLine(
        motor=stock.motor(size.motor),
        propeller=propeller_of(stock.propeller(size.propeller)),
        pack=stock.pack(size.pack),
        controller=controller,
        motors=1,
        pusher=False,
    )
    point = equilibrium(line)
    assert point.motor_current_a <= line.motor.max_current_a
    assert 1.1 * point.motor_current_a <= controller.max_current_a
    lightest = max((s.most_g for s in SIZES if s.most_g < size.most_g), default=100.0)
    assert point.thrust_n > 0.7 * 9.81e-3 * lightest  # enough to climb away


def test_sizes_rise_with_mass() -> None:
    assert [size_for(m) for m in (50.0, 250.0, 300.0, 400.0, 2000.0)] == [0, 1, 2, 3, 4]
