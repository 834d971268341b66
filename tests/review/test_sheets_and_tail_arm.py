"""The sheets there are, and a tail drawn further out."""

import math

import pytest

import sheetlark
from sheetlark.design import edited, loads, starter
from sheetlark.review import applied, proved, remedies_for
from sheetlark.review.sheet_checks import sheets_needed
from sheetlark.review.stretching import TAIL_ARM, tail_arm_m


def changed(name, changes):
    return sheetlark.evaluate(loads(edited(starter(name), changes), "mine.toml"))


def test_sheets_are_counted_by_area():
    e = changed("brambling", {})
    sheet = e.stock.sheet("foam-board-5")
    area = sum(p.area_mm2 * p.count for p in e.kit.parts if p.sheet == sheet.key) * 1e-6
    share = area / (sheet.width_m * sheet.height_m)
    assert math.ceil(share) <= sheets_needed(e) <= math.ceil(share) + 1
    assert not [f for f in sheetlark.findings(e) if f.id == "sheet-count"]


def test_too_few_sheets_are_told_and_a_shorter_wing_saves_one():
    e = changed("dunnock", {("wing", 0, "span"): 1000, ("wing", 0, "spar"): None, ("sheet", "most"): 1})
    finding = next(f for f in sheetlark.findings(e) if f.id == "sheet-count")
    assert "you have 1" in finding.says
    remedies = remedies_for(e, finding)
    assert remedies
    after = sheetlark.evaluate(loads(applied(e, remedies[0])))
    assert sheets_needed(after) == 1


@pytest.mark.parametrize("name", ["dunnock", "brambling"])
def test_a_longer_tail_arm_is_as_long_as_it_says(name):
    before = changed(name, {})
    after = changed(name, dict(TAIL_ARM.changes(before.design, 60.0)))
    assert tail_arm_m(after) - tail_arm_m(before) == pytest.approx(0.060, abs=1e-4)
    assert after.airframe.body.tail_m - before.airframe.body.tail_m == pytest.approx(0.060, abs=1e-4)
    assert after.flight.derivatives.Cn_beta > before.flight.derivatives.Cn_beta
    assert proved(after).clean, proved(after).findings


def test_a_tail_arm_clears_a_small_tail_volume():
    e = changed("brambling", {("tailplane", "span"): 200})
    finding = next(f for f in sheetlark.findings(e) if f.id == "tail-volume")
    assert any("Move the tail" in r.says for r in remedies_for(e, finding))
