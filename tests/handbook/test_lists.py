"""Shopping, tools, cutting order."""

from __future__ import annotations

import math
import re

import pytest

from sheetlark.design import edited, loads, starter
from sheetlark.evaluation import evaluate
from sheetlark.handbook import cutting_order, shopping, tools
from sheetlark.handbook.settings import cards
from sheetlark.sheets import nest
from sheetlark.stock import load_stock


def test_the_cost_is_summed_from_the_stock(tmp_path):
    (tmp_path / "mine.toml").write_text(
        '[sheet.foam-board-5]\nprice = 2.5\n[servo.servo-5g]\nprice = 4\n[motor."2205-1500"]\nprice = 11\n', encoding="utf-8"
    )  # fmt: skip
    stock = load_stock(tmp_path)
    e = evaluate(loads(starter("dunnock")), stock)
    found = shopping(e, nest(e.kit, stock, effort="quick"))
    by_name = {line.name: line for line in found.lines}
    sheets = nest(e.kit, stock, effort="quick")
    count = sum(s.sheet == "foam-board-5" for s in sheets.sheets)
    assert by_name["economy foam board, 5 mm"].price == pytest.approx(2.5 * count)
    servos = sum(2 if s.pair else 1 for s in e.design.radio.servo if s.stock == "servo-5g")
    assert by_name[stock.servo("servo-5g").name].price == pytest.approx(4.0 * servos)
    motor = 11.0 if e.design.drive.motor == "2205-1500" else 0.0
    assert found.cost == pytest.approx(2.5 * count + 4.0 * servos + motor)
    assert found.without_price == sum(line.price is None for line in found.lines) > 0


def test_without_prices_there_is_no_cost(bench):
    found = shopping(bench.evaluated("dunnock"))
    assert found.cost == 0.0
    assert found.without_price == len(found.lines)


def test_lengths_of_rod_and_bead_are_those_of_the_kit(bench):
    e = bench.evaluated("brambling")
    lines = {line.name: line for line in shopping(e).lines}
    total = sum(r.length_mm for r in e.kit.rods if r.key == "carbon-strip-6x1")
    assert lines["carbon strip, 6 x 1 mm"].amount == f"{total / 1000:.2f} m"
    bead = 1.2 * sum(j.length_mm for j in e.kit.joints if j.held == "glue")
    assert lines[e.stock.glue(e.design.sheet.glue).name].amount.startswith(f"{bead / 1000:.2f} m of bead")


def test_tools_follow_what_is_built_from(bench):
    words = " ".join(tools(bench.evaluated("brambling")))
    for tool in ("carbon", "Glue gun", "Pliers for wire", "fire-proof"):
        assert tool in words


def test_every_part_is_in_the_cutting_order_of_its_sheet(bench):
    e = bench.evaluated("dunnock")
    nesting = nest(e.kit, e.stock, effort="quick")
    lines = cutting_order(e, nesting)
    for sheet in nesting.sheets:
        line = next(x for x in lines if x.startswith(f"Sheet {sheet.number} "))
        listed = {int(n) for n in line.split("): ")[1].split(".")[0].split(", ")}
        assert listed == {p.part for p in sheet.placed}
    areas = {p.number: p.area_mm2 for p in e.kit.parts}
    whole = [int(n) for n in cutting_order(e)[3].removeprefix("Small parts first: ").rstrip(".").split(", ")]
    assert whole == sorted(areas, key=lambda n: areas[n])
    assert math.isfinite(sum(areas.values()))


def test_an_imperial_design_buys_cuts_and_flies_in_inches_and_ounces():
    e = evaluate(loads(edited(starter("brambling"), {("model", "units"): "imperial"})))
    said = [words for line in shopping(e).lines for words in (line.amount, line.use)]
    said += [
        words for card in cards(e) for words in (*card.words, *(line.value for line in card.lines)) if words
    ]
    metric = re.compile(r"\d (mm|cm|m|g|kg|m/s|dm|[cd]?m²|g/dm²)(?![\w/²])")
    assert [words for words in said if metric.search(words)] == []
    spar = next(line for line in shopping(e).lines if line.name == "carbon strip, 6 x 1 mm")
    assert "(23.6 + 11.0 + 11.0 in)" in spar.use
    assert spar.amount == "3.8 ft"
