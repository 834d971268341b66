"""What is added fits the design it joins."""

from __future__ import annotations

from typing import Any

import pytest

from sheetlark.airframe import airframe
from sheetlark.bench.additions import addition
from sheetlark.design import edited, loads, starter
from sheetlark.errors import DesignError
from sheetlark.stock import load_stock

CASES = [
    ("dunnock", ("wing",)),
    ("dunnock", ("wing", 0, "spar")),
    ("dunnock", ("wing", 0, "aileron")),
    ("turnstone", ("tailplane",)),
    ("turnstone", ("gear",)),
    ("dunnock", ("fin",)),
    ("dunnock", ("body", "former")),
    ("dunnock", ("body", "fore_deck")),
    ("dunnock", ("body", "aft_deck")),
    ("brambling", ("strut",)),
    ("dunnock", ("radio", "servo")),
    ("dunnock", ("ballast",)),
]


@pytest.mark.parametrize(("name", "where"), CASES)
def test_an_addition_makes_a_design_that_can_be(name: str, where: Any) -> None:
    stock = load_stock()
    text = starter(name)
    added = edited(text, addition(loads(text), where, stock))
    design = loads(added)
    airframe(design, stock)
    assert added.count("#") == text.count("#")


@pytest.mark.parametrize("table", ["drive", "radio", "body"])
def test_a_missing_table_comes_back_valid(table: str) -> None:
    stock = load_stock()
    text = edited(starter("dunnock"), {(table,): None})
    assert getattr(loads(text), table) is None
    again = edited(text, addition(loads(text), (table,), stock))
    assert getattr(loads(again), table) is not None


def test_a_second_wing_gets_a_name_of_its_own() -> None:
    stock = load_stock()
    text = starter("dunnock")
    for _ in range(3):
        text = edited(text, addition(loads(text), ("wing",), stock))
    names = [wing.name for wing in loads(text).wing]
    assert len(set(names)) == 4


def test_what_cannot_be_added_is_refused() -> None:
    with pytest.raises(DesignError, match=r"nothing can be added at model\.name"):
        addition(loads(starter("dunnock")), ("model", "name"), load_stock())
