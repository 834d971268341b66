"""The proof in plain lines, in the units a design is shown in."""

import pytest

from sheetlark.design import edited, loads, starter
from sheetlark.evaluation import evaluate
from sheetlark.parts import Clash, Proof
from sheetlark.review import proof_lines


@pytest.mark.parametrize(
    ("imperial", "said"),
    [
        (False, "Deck and side overlap by 500 mm³, 2.5 mm deep, at x 100, y 0, z 12 mm: cut 2.6 mm away."),
        (True, "Deck and side overlap by 0.031 in³, 0.10 in deep, at x 3.94, y 0.00, z 0.47 in: cut 0.10 in away."),
    ],
)  # fmt: skip
def test_a_clash_is_told_in_the_shown_units(imperial, said):
    clash = Clash(
        kind="overlap",
        first="deck",
        second="side",
        at_mm=(100.0, 0.0, 12.0),
        amount=500.0,
        says="deck and side overlap by 500 mm³, 2.5 mm deep, at x 100, y 0, z 12 mm",
        cure="cut 2.6 mm away",
    )
    tried = {
        **dict.fromkeys(("pairs", "slots", "positions", "items", "rod_positions"), 1),
        "least_gap_mm": (("elevator", 1.27),),
    }
    assert list(proof_lines(Proof(findings=(clash,), **tried), imperial))[-1] == f"✗ {said}"
    kept = list(proof_lines(Proof(findings=(), **tried), imperial))[-1]
    assert kept.endswith("keeps 0.05 in." if imperial else "keeps 1.3 mm.")


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_plans_are_lettered_in_the_units_of_the_design(units):
    text = edited(starter("dunnock"), {("model", "units"): units})
    kit = evaluate(loads(text)).plan_kit
    assert kit.imperial == (units == "imperial")
