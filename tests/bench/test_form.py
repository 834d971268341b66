"""Controls: one for each value of the models, and what a person types."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import BaseModel

from sheetlark.bench.faults import placed_faults
from sheetlark.bench.form import Control, control_at, controls, shelves, typed
from sheetlark.design import STARTERS, Design, loads, starter
from sheetlark.errors import DesignError
from sheetlark.stock import load_stock


def leaves(level: tuple[Control, ...], at: tuple[str, ...] = ()) -> list[tuple[tuple[str, ...], Control]]:
    found = []
    for control in level:
        here = (*at, control.key)
        found.append((here, control))
        found.extend(leaves(control.inside, here))
    return found


def stated(value: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    if isinstance(value, BaseModel):
        return [w for name in type(value).model_fields for w in stated(getattr(value, name), (*at, name))]
    if isinstance(value, tuple) and value and isinstance(value[0], BaseModel):
        return [w for i, inner in enumerate(value) for w in stated(inner, (*at, i))]
    return [at]


@pytest.mark.parametrize("name", STARTERS)
def test_every_value_of_a_design_has_a_control_with_a_label(name: str) -> None:
    for where in stated(loads(starter(name))):
        control = control_at(where)
        assert control is not None, where
        assert control.label
        assert "_" not in control.label


def test_no_control_is_of_a_kind_the_page_does_not_draw() -> None:
    known = {
        "table", "list", "length", "mass", "angle", "speed", "fraction", "altitude", "temperature",
        "choice", "count", "stock", "text", "flag", "point", "pairs", "path", "names", "several",
    }  # fmt: skip
    assert {control.kind for _, control in leaves(controls())} <= known


def test_numbers_stay_out_of_text_controls() -> None:
    texts = {at[-1] for at, control in leaves(controls()) if control.kind == "text"}
    assert texts == {"name", "designer", "licence", "notes", "on"}


def test_every_stock_control_names_a_shelf_that_is_filled() -> None:
    filled = shelves(load_stock())
    named = {control.choices[0] for _, control in leaves(controls()) if control.kind == "stock"}
    assert named <= set(filled)
    assert all(filled[name] for name in named)


@pytest.mark.parametrize(
    ("where", "text", "imperial", "wanted"),
    [
        (("wing", 0, "span"), "700", False, 700),
        (("wing", 0, "span"), "12,5", False, 12.5),
        (("wing", 0, "span"), "28", True, "28 in"),
        (("wing", 0, "span"), "2 ft 4 in", False, "2 ft 4 in"),
        (("wing", 0, "tip_chord"), "  ", False, None),
        (("wing", 0, "incidence"), "−1.5", True, -1.5),
        (("model", "target_mass"), "12", True, "12 oz"),
        (("flying", "altitude"), "300", False, "300 m"),
        (("flying", "altitude"), "900", True, "900 ft"),
        (("flying", "temperature"), "68", True, "68 F"),
        (("drive", "pack_at"), ["2", 0, "-0.5"], True, ["2 in", 0, "-0.5 in"]),
        (("drive", "twin"), True, False, True),
        (("model", "name"), "12", True, "12"),
    ],
)
def test_what_is_typed_becomes_what_belongs_in_the_file(
    where: Any, text: Any, imperial: bool, wanted: Any
) -> None:
    assert typed(where, text, imperial=imperial) == wanted


def test_a_place_that_no_design_has_is_refused() -> None:
    with pytest.raises(DesignError, match=r"there is no wing\.0\.flavour in a design"):
        typed(("wing", 0, "flavour"), "1", imperial=False)


def test_faults_stand_at_their_controls() -> None:
    text = starter("dunnock").replace("dihedral = 6", "dihedral = 600")
    with pytest.raises(DesignError) as caught:
        loads(text, name="mine.toml")
    fault = next(f for f in placed_faults(text, str(caught.value)) if f["where"])
    line = next(n for n, row in enumerate(text.splitlines(), 1) if "dihedral" in row and "=" in row)
    assert fault["where"] == ["wing", 0, "dihedral"]
    assert fault["line"] == line
    assert fault["says"].startswith("expected an angle")
    assert Design.model_fields  # the models are what the controls are made from
