"""How the model is set up says what the evaluation computed, and nothing of its own."""

from __future__ import annotations

import math

import pytest

from sheetlark import evaluate
from sheetlark.design import edited, loads, starter
from sheetlark.handbook import linkages


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
