import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import unary_union
from shapely.geometry import LinearRing, LineString, Polygon
from shapely.geometry import box as rectangle

from sheetlark.errors import SheetError, UnitError
from sheetlark.sheets import (
    PAPERS,
    Drawing,
    Layer,
    Line,
    PrinterScale,
    paper_size,
    read_measured_bar,
    tile_drawing,
)
from sheetlark.sheets.lettering import letter_box
from sheetlark.sheets.tiling import BOTTOM_MM, LEFT_MM, MARK_MM, RIGHT_MM, TOP_MM, row_letters

from .kits import box, ellipse


def windows(tiling):
    return [
        rectangle(t.x_mm, t.y_mm, t.x_mm + tiling.window_width_mm, t.y_mm + tiling.window_height_mm)
        for t in tiling.printed
    ]


def plate(width, height, *outlines):
    lines = tuple(Line(layer=Layer.CUT, points=np.asarray(o, dtype=float), closed=True) for o in outlines)
    return Drawing(name="plate", width_mm=width, height_mm=height, lines=lines, lettering=())


@pytest.mark.parametrize("paper", PAPERS, ids=lambda p: p.key)
def test_all_that_is_drawn_is_on_some_page(drawings, paper):
    for drawing in drawings:
        tiling = tile_drawing(drawing, paper)
        shown = unary_union(windows(tiling))
        for line in drawing.lines:
            if line.layer != Layer.SHEET:
                assert shown.contains((LinearRing if line.closed else LineString)(line.points))


@pytest.mark.parametrize("paper", PAPERS, ids=lambda p: p.key)
def test_windows_fit_their_page(drawings, paper):
    tiling = tile_drawing(drawings[0], paper)
    assert tiling.window_width_mm == pytest.approx(tiling.page_width_mm - LEFT_MM - RIGHT_MM)
    assert tiling.window_height_mm == pytest.approx(tiling.page_height_mm - TOP_MM - BOTTOM_MM)
    sides = {round(tiling.page_width_mm, 3), round(tiling.page_height_mm, 3)}
    if paper.height_mm:
        assert sides == {paper.width_mm, paper.height_mm}
    else:
        assert paper.width_mm in sides


def test_neighbours_share_the_overlap(drawings):
    tiling = tile_drawing(drawings[0], paper_size("a4"), overlap_mm=12.0)
    assert min(tiling.overlap_x_mm, tiling.overlap_y_mm) >= 0.6 * 12.0
    assert max(tiling.overlap_x_mm, tiling.overlap_y_mm) <= 12.0
    for tile in tiling.tiles:
        right = tiling.tile(tile.row, tile.column + 1)
        if right is not None:
            assert tile.x_mm + tiling.window_width_mm - right.x_mm == pytest.approx(tiling.overlap_x_mm)
        below = tiling.tile(tile.row + 1, tile.column)
        if below is not None:
            assert below.y_mm + tiling.window_height_mm - tile.y_mm == pytest.approx(tiling.overlap_y_mm)


def test_pages_without_a_part_are_not_printed():
    drawing = plate(760, 500, box(60, 60, 10, 10), box(60, 60, 690, 430))
    tiling = tile_drawing(drawing, paper_size("a4"))
    assert len(tiling.tiles) > len(tiling.printed) == 2


def test_the_middle_of_a_large_part_is_printed():
    drawing = plate(760, 500, box(750, 490, 5, 5))
    tiling = tile_drawing(drawing, paper_size("a4"))
    assert len(tiling.printed) == len(tiling.tiles) == 9


def test_the_overlap_shrinks_where_that_saves_pages():
    """752 mm of parts on Letter: three columns with an overlap a little under 10 mm, or four with 10."""
    tiling = tile_drawing(plate(762, 508, box(752, 498, 5, 5)), paper_size("letter"))
    assert (tiling.rows, tiling.columns) == (3, 3)
    assert 6.0 <= tiling.overlap_x_mm < 10.0


def test_alignment_marks_lie_in_the_overlap_of_two_printed_pages_clear_of_words(drawings):
    for paper in ("a4", "letter", "a3"):
        for drawing in drawings:
            tiling = tile_drawing(drawing, paper_size(paper))
            shown = windows(tiling)
            words = [letter_box(w) for w in drawing.lettering]
            for x, y in tiling.alignment:
                mark = rectangle(x - MARK_MM, y - MARK_MM, x + MARK_MM, y + MARK_MM)
                assert sum(w.contains(mark) for w in shown) >= 2
                assert not [1 for w in words if w.intersects(mark)]


def test_each_seam_has_two_marks(drawings):
    tiling = tile_drawing(drawings[0], paper_size("a4"))
    assert len(tiling.printed) == 9
    assert len(tiling.alignment) == 2 * 12
    for tile in tiling.printed:
        assert len(tiling.marks(tile)) >= 4


def test_page_names_count_rows_from_the_top_and_columns_from_the_left(drawings):
    tiling = tile_drawing(drawings[0], paper_size("a4"))
    named = {t.name: t for t in tiling.tiles}
    assert named["A1"].y_mm > named["B1"].y_mm
    assert named["A1"].x_mm < named["A2"].x_mm
    assert [row_letters(i) for i in (0, 25, 26, 27, 701, 702)] == ["A", "Z", "AA", "AB", "ZZ", "AAA"]


@settings(max_examples=40, deadline=None)
@given(
    width=st.floats(30, 1500),
    height=st.floats(30, 1500),
    paper=st.sampled_from(PAPERS),
    overlap=st.floats(0, 30),
    across=st.floats(0.9, 1.1),
)
def test_any_plate_is_covered(width, height, paper, overlap, across):
    drawing = plate(width + 10, height + 10, ellipse(width / 2, height / 2, width / 2 + 5, height / 2 + 5))
    tiling = tile_drawing(drawing, paper, overlap_mm=overlap, scale=PrinterScale(across=across, along=1.0))
    part = Polygon(drawing.lines[0].points)
    assert unary_union(windows(tiling)).buffer(1e-6).contains(part)
    assert all(w.buffer(1e-6).intersects(part) for w in windows(tiling))


def test_too_many_pages_are_refused():
    with pytest.raises(SheetError, match=r"would take \d+ pages of A4; at most 400"):
        tile_drawing(plate(9000, 9000, box(8900, 8900)), paper_size("a4"))


@pytest.mark.parametrize("overlap", [-1.0, 60.0, float("nan")])
def test_senseless_overlap(drawings, overlap):
    with pytest.raises(SheetError, match="between 0 and 50 mm"):
        tile_drawing(drawings[0], paper_size("a4"), overlap_mm=overlap)


def test_a_misspelt_paper_gets_the_nearest():
    with pytest.raises(SheetError, match="did you mean 'letter'"):
        paper_size("leter")
    assert paper_size(" A4 ").key == "a4"
    assert paper_size("Roll 36").width_mm == pytest.approx(914.4)


@pytest.mark.parametrize(
    ("text", "across", "along"),
    [
        ("98.6mm", 0.986, 0.986),
        ("98.6mm x 99.1mm", 0.986, 0.991),
        ("98.6 × 99.1", 0.986, 0.991),
        ("3.9 in", 0.9906, 0.9906),
        ("100", 1.0, 1.0),
    ],
)
def test_measured_bar(text, across, along):
    scale = read_measured_bar(text)
    assert (scale.across, scale.along) == pytest.approx((across, along))


@pytest.mark.parametrize("text", ["94 in", "50mm", "0", "-98 mm"])
def test_a_bar_far_off_points_at_fit_to_page(text):
    with pytest.raises(SheetError, match="fit to page"):
        read_measured_bar(text)


@pytest.mark.parametrize("text", ["", "1x2x3", "x"])
def test_a_bar_that_cannot_be_read(text):
    with pytest.raises(SheetError, match=r"reads '98\.6mm'"):
        read_measured_bar(text)
    with pytest.raises(UnitError, match="furlong"):
        read_measured_bar("98 furlong")
