"""One kit laid out and written once, read back by many tests."""

from __future__ import annotations

import pytest

from sheetlark.sheets import draw_nesting, nest, write_plans
from sheetlark.stock import load_stock

from .kits import biplane


@pytest.fixture(scope="session")
def stock(tmp_path_factory):
    empty = tmp_path_factory.mktemp("stock")
    return load_stock(empty)


@pytest.fixture(scope="session")
def kit():
    return biplane()


@pytest.fixture(scope="session")
def nesting(kit, stock):
    return nest(kit, stock)


@pytest.fixture(scope="session")
def drawings(kit, nesting):
    return draw_nesting(nesting, kit)


@pytest.fixture(scope="session")
def plans(kit, stock, tmp_path_factory):
    return write_plans(kit, stock, tmp_path_factory.mktemp("plans") / "biplane", papers=("a4", "letter"))
