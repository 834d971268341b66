"""A decal on paper: a layer of its own, told from every other in black and white, its name off the cuts."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString, Point, Polygon

import sheetlark
from sheetlark.design import loads, starter
from sheetlark.sheets.drafting import draw_nesting
from sheetlark.sheets.drawing import STYLES, Layer
from sheetlark.sheets.dxf import dxf_text
from sheetlark.sheets.lettering import letter_box
from sheetlark.sheets.nesting import nest
from sheetlark.stock import load_stock

DECAL = """
[[decal]]
name = "SL-7"
on = "body"
at = [255, -12]
size = [60, 16]
"""


@pytest.fixture(scope="module")
def sheets():
    kit = sheetlark.evaluate(loads(starter("brambling") + DECAL)).kit
    return draw_nesting(nest(kit, load_stock(), effort="quick"), kit)


def test_it_has_its_own_layer_and_its_true_size(sheets):
    runs = [line for sheet in sheets for line in sheet.on(Layer.DECAL)]
    assert len(runs) == 2  # one a side
    for line in runs:
        p = np.asarray(line.points)
        assert np.sort(np.linalg.norm(np.diff(p, axis=0), axis=1)) == pytest.approx(
            [16, 16, 60, 60], abs=1e-6
        )


def test_its_name_stands_off_every_cut(sheets):
    said = 0
    for sheet in sheets:
        cuts = [LineString(np.vstack([c.points, c.points[:1]])) for c in sheet.on(Layer.CUT)]
        for words in sheet.lettering:
            if "SL-7" in words.text:
                said += 1
                assert "other face" in words.text
                assert all(not letter_box(words).intersects(cut) for cut in cuts)
    assert said == 2


def test_its_line_differs_from_all_others_without_colour():
    mine = STYLES[Layer.DECAL]
    others = [(s.width_mm, s.dashes) for layer, s in STYLES.items() if layer != Layer.DECAL]
    assert (mine.width_mm, mine.dashes) not in others
    assert mine.dashes not in [d for _, d in others]
    assert mine.says


def test_it_is_read_back_from_dxf_where_it_was_drawn(sheets, tmp_path):
    import ezdxf

    sheet = next(s for s in sheets if s.on(Layer.DECAL))
    (tmp_path / "a.dxf").write_bytes(dxf_text(sheet).encode())
    space = ezdxf.readfile(tmp_path / "a.dxf").modelspace()
    found = sorted(
        tuple(np.round(np.array(e.get_points("xy")).mean(axis=0), 2))
        for e in space.query("LWPOLYLINE")
        if e.dxf.layer == "DECAL"
    )
    drawn = sorted(tuple(np.round(line.points.mean(axis=0), 2)) for line in sheet.on(Layer.DECAL))
    assert np.array(found) == pytest.approx(np.array(drawn), abs=0.05)


def test_no_words_stand_in_the_room_of_another_thing():
    kit = sheetlark.evaluate(loads(starter("brambling"))).kit
    drawn = draw_nesting(nest(kit, load_stock(), effort="quick"), kit)
    tried = 0
    for sheet in drawn:
        for box in sheet.on(Layer.PLACE):
            if len(box.points) != 5:
                continue
            inside = [w.text for w in sheet.lettering if Polygon(box.points).contains(Point(w.at))]
            tried += any("speed controller" in words for words in inside)
            assert not any("cover" in words for words in inside)
    assert tried == 2  # one on either side
