"""The starters as a builder gets them: their sheets, their words, their outlines."""

import pytest

import sheetlark
from sheetlark.design import STARTERS, loads, starter
from sheetlark.sheets import draw_nesting, draw_patterns, nest, svg_text

from .reading import expected_rings, svg_rings, worst_gap
from .test_drafting import cuts_crossed
from .test_nesting import assert_sound


@pytest.mark.parametrize("name", STARTERS)
def test_starter(name, stock):
    kit = sheetlark.evaluate(loads(starter(name)), stock).kit
    nesting = nest(kit, stock)
    assert_sound(kit, nesting)
    assert all(m.sheets <= m.bound + 1 for m in nesting.materials)
    drawings = draw_nesting(nesting, kit)
    for layout, drawing in zip(nesting.sheets, drawings, strict=True):
        assert cuts_crossed(drawing) == []
        worst, left = worst_gap(expected_rings(kit, layout), svg_rings(svg_text(drawing)))
        assert worst < 0.05
        assert not left
        numbers = {w.text.split(" ")[0] for w in drawing.lettering if w.bold}
        assert {str(p.part) for p in layout.placed} <= numbers
    assert cuts_crossed(draw_patterns(kit, stock)) == []
