"""How the model is set up says what the evaluation computed, and nothing of its own."""

from __future__ import annotations

import math
import re

import pytest

from sheetlark import evaluate
from sheetlark.design import edited, loads, starter
from sheetlark.handbook import handbook, linkages


@pytest.mark.parametrize("name", ["dunnock", "brambling", "turnstone"])
def test_linkages_are_those_of_the_evaluation(name: str) -> None:
    e = evaluate(loads(starter(name)))
    rows = linkages(e)
    assert [row.moves for row in rows] == [c.moves for c in e.controls.servos]
    for row, c in zip(rows, e.controls.servos, strict=True):
        assert row.travel_mm == pytest.approx((1e3 * c.up_m, 1e3 * c.down_m))
        assert c.servo_up_rad is not None
        assert row.up_servo_deg == pytest.approx(math.degrees(c.servo_up_rad))
        assert c.best is not None
        assert f"the arm at {1e3 * c.best.arm_m:.1f} mm" in row.says


def test_a_linkage_that_does_not_reach_says_so() -> None:
    text = edited(starter("dunnock"), {("radio", "servo", 0, "arm"): 4, ("radio", "servo", 0, "horn"): 16})
    row = linkages(evaluate(loads(text)))[0]
    assert row.up_servo_deg is None
    assert "cannot give" in row.says
    assert "least load with" in row.says


def test_an_imperial_model_tells_travel_and_rods_in_inches_on_card_table_and_gauge() -> None:
    book = handbook(evaluate(loads(edited(starter("brambling"), {("model", "units"): "imperial"}))))
    card = next(card for card in book.cards if card.title == "Throws and trims")
    for row in book.linkages:
        cells = row.cells(book.evaluation.design.model.imperial)
        inches = [f"{mm / 25.4:.{2 if mm < 25.4 else 1}f} in" for mm in row.travel_mm]
        assert cells[4] == " and ".join(inches)
        assert re.search(r", [\d.]+ in(,|$)", cells[6])
        value = next(line.value for line in card.lines if line.what == row.moves)
        assert value == ", ".join(f"{far} {way}" for far, way in zip(inches, row.ways, strict=True))
    fans = [g for g in book.gauges if g.name.startswith(("Throw", "Dihedral"))]
    assert fans
    for fan in fans:
        assert " mm" not in " ".join((fan.says, *(word[0] for word in fan.words)))
