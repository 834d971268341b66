"""The handbook's words, lists and pages."""

from __future__ import annotations

import io
import re

import pytest

from sheetlark.design import STARTERS, loads, starter
from sheetlark.evaluation import evaluate
from sheetlark.handbook import handbook, handbook_pdf, shopping
from sheetlark.handbook.leaf import spread, wrapped
from sheetlark.sheets.lettering import width_mm


@pytest.mark.parametrize("name", STARTERS)
def test_numbers_in_the_steps_are_those_of_the_sheets(bench, name):
    book = bench.written(name)
    parts = {p.number: p for p in book.evaluation.kit.parts}
    used: dict[int, set[int]] = {}
    for step in book.build.steps:
        for number, called, _ in step.parts:
            if number:
                assert parts[number].name == called
        for index in (*step.items, *step.onto):
            item = book.build.model.items[index]
            if item.number:
                used.setdefault(item.number, set()).add(item.copy)
        shown = {label.text for label in step.picture.labels}
        there = {str(book.build.model.items[i].number) for i in (*step.items, *step.onto)}
        if step.chapter != "Strapped on":
            assert shown <= there
    assert {n: len(c) for n, c in used.items()} == {n: p.count for n, p in parts.items()}


@pytest.mark.parametrize("name", STARTERS)
def test_every_glue_line_is_named_once(bench, name):
    book = bench.written(name)
    total = 0.0
    for step in book.build.steps:
        for found in re.findall(r"bead: ([\d.]+) mm", step.glue):
            total += float(found)
    kit = book.evaluation.kit
    names = {(c.joint, c.host, c.guest) for c in book.build.model.contacts}
    drawn = sum(c.length_mm for c in book.build.model.contacts if c.held == "glue" and c.joint is not None)
    assert names
    assert total == pytest.approx(drawn, abs=len(book.build.steps))
    assert drawn <= sum(j.length_mm for j in kit.joints if j.held == "glue") + 1e-6


def test_cautions_stand_where_they_belong(bench):
    book = bench.written("brambling")
    spar = next(s for s in book.build.steps if "spar" in s.title)
    assert any("Carbon dust" in c for c in spar.cautions)
    wire = next(s for s in book.build.steps if "undercarriage" in s.title)
    assert any("glasses" in c for c in wire.cautions)
    first = next(s for s in book.build.steps if "glue" in s.glue)
    assert any("Hot glue burns" in c for c in first.cautions)
    rules = " ".join(w for c in book.cards for w in c.words)
    assert "registration" in rules
    assert "yours to check" in rules


def test_checks_name_squareness_and_gauges(bench):
    book = bench.written("brambling")
    checks = {s.title: " ".join(s.checks) for s in book.build.steps}
    assert "90°" in next(c for t, c in checks.items() if "former" in t)
    assert "Incidence +0.5°" in checks["Put on the upper wing"]
    assert "22° one way and 14° the other" in next(c for t, c in checks.items() if "aileron" in t)


def test_the_body_is_fitted_out_before_it_closes(bench):
    steps = bench.written("brambling").build.steps
    words = [" ".join(s.does) for s in steps]
    warned = next(i for i, w in enumerate(words) if "Before the body closes" in w)
    first = next(i for i, s in enumerate(steps) if "cover" in s.title or "deck" in s.title)
    assert warned == first
    assert sum("Before the body closes" in w for w in words) == 1
    assert sum("as a hatch" in w for w in words) == 1


@pytest.mark.parametrize("name", STARTERS)
def test_the_shopping_list_holds_what_the_design_names(bench, name):
    e = bench.evaluated(name)
    lines = shopping(e).lines
    counts = {line.name: line.amount for line in lines}
    for rod in {r.key for r in e.kit.rods}:
        assert e.stock.rod(rod).name in counts
    servos = sum(2 if s.pair else 1 for s in e.design.radio.servo)
    names = {e.stock.servo(s.stock).name for s in e.design.radio.servo}
    assert sum(int(counts[n]) for n in names) == servos
    assert e.stock.motor(e.design.drive.motor).name in counts


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_pages_are_whole_and_gauges_are_full_size(bench, paper):
    import pdfplumber

    raw = handbook_pdf(bench.written("brambling"), paper=paper)
    with pdfplumber.open(io.BytesIO(raw)) as pdf:
        text = "\n".join(page.extract_text() or "" for page in pdf.pages)
        for word in (
            "Brambling",
            "What you need",
            "Linkages",
            "Gauges, full size",
            "Your duty",
            "must measure 100 mm",
        ):
            assert word in text
        for step in bench.written("brambling").build.steps:
            assert step.title.replace("  ", " ") in text.replace("\n", " ")
        page = next(p for p in pdf.pages if "Gauges, full size" in (p.extract_text() or ""))
        bars = [
            (line["x1"] - line["x0"]) / 72 * 25.4
            for line in page.lines
            if abs(line["top"] - line["bottom"]) < 0.01
        ]
        assert any(abs(b - 100.0) < 0.01 for b in bars)
        for page in pdf.pages:
            for c in page.chars:
                assert c["x0"] >= -0.5, (page.page_number, c["text"])
                assert c["x1"] <= page.width + 0.5, (page.page_number, c["text"])
                assert c["top"] >= -0.5, page.page_number
                assert c["bottom"] <= page.height + 0.5, page.page_number


def test_no_words_cross_each_other(bench):
    import pdfplumber

    raw = handbook_pdf(bench.written("brambling"))
    with pdfplumber.open(io.BytesIO(raw)) as pdf:
        for page in pdf.pages[:-1]:
            # words set aslant on a gauge have boxes far larger than themselves
            words = page.filter(lambda o: abs(o.get("matrix", (1, 0))[1]) < 1e-6).extract_words()
            for i, a in enumerate(words):
                for b in words[:i]:
                    dx = min(a["x1"], b["x1"]) - max(a["x0"], b["x0"])
                    dy = min(a["bottom"], b["bottom"]) - max(a["top"], b["top"])
                    crossing = dx > 1.5 and dy > 0.45 * min(a["bottom"] - a["top"], b["bottom"] - b["top"])
                    assert not crossing, (page.page_number, a["text"], b["text"])


def test_the_same_book_twice_is_the_same_bytes(bench):
    book = bench.written("dunnock")
    assert handbook_pdf(book) == handbook_pdf(book)


def test_wrapping_loses_no_word_and_keeps_the_width():
    text = "a bb ccc " * 40
    lines = wrapped(text, 3.0, 40.0)
    assert " ".join(lines).split() == text.split()
    assert all(width_mm(line, 3.0) <= 40.0 for line in lines)


def test_rings_are_pushed_apart():
    import numpy as np

    places = spread([np.array([0.0, 0.0]), np.array([0.5, 0.0]), np.array([0.0, 0.0]), np.array([30.0, 0.0])])
    for i, a in enumerate(places):
        for b in places[:i]:
            assert np.hypot(*(a - b)) > 4.4
    assert places[3].tolist() == [30.0, 0.0]


def without(text: str, *tables: str) -> str:
    """A design's text with some tables left out."""
    kept, skip = [], False
    for line in text.splitlines():
        head = re.match(r"\s*\[\[?([a-z._]+)", line)
        if head:
            skip = any(head[1] == t or head[1].startswith(f"{t}.") for t in tables)
        if not skip:
            kept.append(line)
    return "\n".join(kept)


@pytest.mark.parametrize(
    ("left_out", "gone"),
    [
        (("drive",), ("Motor and battery", "Thrust line:")),
        (("drive", "radio", "gear"), ("Linkages", "Wiring", "undercarriage")),
    ],
)
def test_a_model_without_motor_or_radio_has_a_handbook_without_them(left_out, gone):
    import pdfplumber

    book = handbook(evaluate(loads(without(starter("dunnock"), *left_out))))
    with pdfplumber.open(io.BytesIO(handbook_pdf(book))) as pdf:
        text = "\n".join(page.extract_text() or "" for page in pdf.pages)
    assert "Put on the fin" in text
    for words in gone:
        assert words not in text


def test_inches_are_kept_throughout(bench):
    book = handbook(evaluate(loads(starter("dunnock").replace('units = "metric"', 'units = "imperial"'))))
    assert book.evaluation.design.model.units == "imperial"
    units = [found[1] for s in book.build.steps if (found := re.search(r": [\d.]+ (mm|in)$", s.glue))]
    assert len(units) > 5
    assert set(units) == {"in"}
