from xml.etree import ElementTree as ET

import numpy as np
import pytest

from sheetlark.parts import Kit
from sheetlark.sheets import Layer, draw_nesting, nest, svg_text
from sheetlark.sheets.lettering import width_mm

from .kits import box, make
from .reading import expected_rings, run, svg_rings, tool, worst_gap

NS = {"s": "http://www.w3.org/2000/svg"}


def test_every_outline_comes_back_in_cutting_order(kit, nesting, plans, drawings):
    for file, layout, drawing in zip(plans.svg, nesting.sheets, drawings, strict=True):
        found = svg_rings(file.read_text("utf-8"))
        worst, left = worst_gap(expected_rings(kit, layout), found)
        assert worst < 0.05
        assert not left
        for ring, line in zip(found, drawing.on(Layer.CUT), strict=True):
            assert np.abs(ring - line.points).max() < 6e-4


def test_it_says_its_size_in_millimetres(plans, nesting):
    for file, layout in zip(plans.svg, nesting.sheets, strict=True):
        root = ET.parse(file).getroot()
        assert root.get("width") == f"{layout.width_mm:g}mm"
        assert root.get("height") == f"{layout.height_mm:g}mm"
        assert root.get("viewBox") == f"0 0 {layout.width_mm:g} {layout.height_mm:g}"


def test_one_named_group_a_layer_cuts_last(plans, drawings):
    for file, drawing in zip(plans.svg, drawings, strict=True):
        groups = ET.parse(file).getroot().findall("s:g", NS)
        names = [g.get("id") for g in groups]
        assert names == [layer.value for layer in drawing.layers]
        assert names[-1] == "CUT"
        label = "{http://www.inkscape.org/namespaces/inkscape}label"
        assert [g.get(label) for g in groups] == names


def test_words_are_held_to_their_drawn_length(plans, drawings):
    texts = ET.parse(plans.svg[0]).getroot().findall(".//s:text", NS)
    words = [w for layer in drawings[0].layers for w in drawings[0].lettering if w.layer == layer]
    assert len(texts) == len(words)
    for text, w in zip(texts, words, strict=True):
        assert text.text == w.text
        assert float(text.get("textLength")) == pytest.approx(
            width_mm(w.text, w.size_mm, bold=w.bold), abs=1e-3
        )
        assert text.get("lengthAdjust") == "spacingAndGlyphs"


def test_parts_of_it_for_a_screen(drawings):
    text = svg_text(drawings[0], without=(Layer.TEXT, Layer.SHEET), sized=False)
    root = ET.fromstring(text)
    assert root.get("width") is None
    assert {g.get("id") for g in root.findall("s:g", NS)}.isdisjoint({"TEXT", "SHEET"})


def test_hostile_names_are_only_words(stock):
    kit = Kit(name="<b>&", parts=(make(1, '<script>alert("x")</script>&', box(200, 80)),))
    (drawing,) = draw_nesting(nest(kit, stock, effort="quick"), kit)
    root = ET.fromstring(svg_text(drawing))
    assert not [e for e in root.iter() if "script" in e.tag]
    assert any("<script>" in (t.text or "") for t in root.iter())


def test_poppler_turns_the_pdf_into_the_same_size(plans, tmp_path):
    """An SVG that is not ours: poppler's, made from the PDF of the same sheet."""
    out = tmp_path / "p.svg"
    run(tool("pdftocairo"), "-svg", "-f", "1", "-l", "1", str(plans.whole[0]), str(out))
    root = ET.parse(out).getroot()
    ours = ET.parse(plans.svg[0]).getroot()
    width = float(root.get("viewBox").split()[2]) * 25.4 / 72
    assert width == pytest.approx(float(ours.get("viewBox").split()[2]), abs=0.02)
