"""Drives the tests share."""

from __future__ import annotations

import pytest

from sheetlark.drive import DriveLine, propeller_of
from sheetlark.stock import Stock, load_stock


@pytest.fixture(scope="session")
def stock(tmp_path_factory) -> Stock:
    return load_stock(tmp_path_factory.mktemp("stock"))


@pytest.fixture(scope="session")
def sport_drive(stock) -> DriveLine:
    return DriveLine(
        motor=stock.motor("2212-1000"),
        propeller=propeller_of(stock.propeller("9x4.5-thin-electric")),
        pack=stock.pack("3s-1300"),
        controller=stock.controller("esc-20"),
    )
