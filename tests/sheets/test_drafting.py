import dataclasses
import itertools

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import LinearRing, LineString, Polygon

from sheetlark.errors import SheetError
from sheetlark.parts import Kit, Mark
from sheetlark.sheets import STYLES, Layer, Line, draw_nesting, draw_patterns, nest
from sheetlark.sheets.lettering import letter_box
from sheetlark.sheets.patterns import hole_size

from .kits import box, ellipse, make, wing_panel
from .reading import expected_rings, worst_gap


def cuts_crossed(drawing):
    rings = [LinearRing(line.points) for line in drawing.on(Layer.CUT)]
    return [
        (words.text, words.layer)
        for words in drawing.lettering
        for ring in rings
        if letter_box(words).intersects(ring)
    ]


def test_every_cut_is_drawn_where_the_part_lies(kit, nesting, drawings):
    for layout, drawing in zip(nesting.sheets, drawings, strict=True):
        worst, left = worst_gap(expected_rings(kit, layout), [line.points for line in drawing.on(Layer.CUT)])
        assert worst < 1e-9
        assert not left


def test_lettering_never_lies_across_a_cut(drawings):
    for drawing in drawings:
        assert cuts_crossed(drawing) == []
        assert len(drawing.lettering) > 3


def test_words_do_not_lie_on_words_or_marks(drawings):
    for drawing in drawings:
        frames = [letter_box(w).buffer(-0.05) for w in drawing.lettering]
        for i, a in enumerate(frames):
            for b in frames[i + 1 :]:
                assert not a.intersects(b)
        marks = [LineString(x.points) for x in drawing.lines if x.layer not in (Layer.CUT, Layer.SHEET)]
        assert not [1 for f in frames for m in marks if f.intersects(m)]


def test_every_copy_carries_its_number_and_name(kit, nesting, drawings):
    parts = {p.number: p for p in kit.parts}
    for layout, drawing in zip(nesting.sheets, drawings, strict=True):
        bold = [w for w in drawing.lettering if w.bold]
        for placed in layout.placed:
            part = parts[placed.part]
            inside = Polygon(placed.move(part.outline))
            (label,) = [w for w in bold if inside.contains(letter_box(w))]
            assert label.text == f"{part.number} · {part.name}"


def test_full_labels_tell_count_material_paper_size_and_face(drawings):
    words = {w.text for w in drawings[0].lettering}
    assert "1 of 2, 330.0 × 125.0 mm" in words
    assert "2 of 2, turned over, 330.0 × 125.0 mm" in words
    assert "economy foam board, 5 mm, both papers on" in words
    assert "economy foam board, 5 mm, one paper off" in words
    assert "this face: outside" in words


def test_holes_are_cut_before_their_outline_and_parts_from_left_to_right(drawings):
    for drawing in drawings:
        owners = [line.owner for line in drawing.on(Layer.CUT)]
        runs = [o for i, o in enumerate(owners) if i == 0 or owners[i - 1] != o]
        assert len(runs) == len(set(runs))
        lefts = []
        for owner in runs:
            mine = [Polygon(line.points) for line in drawing.on(Layer.CUT) if line.owner == owner]
            assert all(mine[-1].contains(hole) for hole in mine[:-1])
            lefts.append(mine[-1].bounds[0])
        assert lefts == sorted(lefts)


def test_cuts_come_after_all_marks(drawings):
    for drawing in drawings:
        layers = [line.layer for line in drawing.lines]
        assert layers == sorted(layers, key=list(Layer).index)


@pytest.mark.parametrize("kerf", [0.2, 1.0])
def test_kerf_moves_cuts_into_the_waste_by_half(stock, kerf):
    part = make(1, "ring", box(80, 60), holes=[box(30, 20, 20, 20), ellipse(5, 5, 65, 30)])
    kit = Kit(name="k", parts=(part,))
    (drawing,) = draw_nesting(nest(kit, stock), kit, kerf_mm=kerf)
    square, round_hole, outline = (Polygon(line.points) for line in drawing.on(Layer.CUT))
    assert outline.area == pytest.approx((80 + kerf) * (60 + kerf), rel=1e-9)
    assert square.area == pytest.approx((30 - kerf) * (20 - kerf), rel=1e-9)
    assert round_hole.area == pytest.approx(np.pi * (5 - kerf / 2) ** 2, rel=2e-3)
    # What is left after the blade took half the kerf on either side is the part itself.
    left = outline.buffer(-kerf / 2, join_style="mitre").difference(
        square.buffer(kerf / 2, join_style="mitre")
    )
    assert left.area == pytest.approx(80 * 60 - 30 * 20, rel=1e-9)


def test_marks_stop_at_the_edges_of_their_part(stock):
    """A score that ran on would be cut into the neighbour; one across an opening is drawn in two runs."""
    part = make(
        1,
        "deck",
        box(100, 60),
        holes=[box(20, 20, 40, 20)],
        marks=(Mark("score", ((-10, 30), (140, 30)), ""), Mark("fold", ((0, 10), (100, 10)), "")),
    )
    kit = Kit(name="k", parts=(part,))
    (drawing,) = draw_nesting(nest(kit, stock), kit)
    lengths = sorted(LineString(x.points).length for x in drawing.on(Layer.SCORE))
    assert lengths == pytest.approx([40, 40], abs=0.1)
    (fold,) = drawing.on(Layer.FOLD)
    assert LineString(fold.points).length == pytest.approx(100)


def test_a_name_is_written_across_scores_rather_than_left_out(stock):
    scores = tuple(Mark("score", ((x, 0), (x, 8)), "") for x in range(10, 260, 10))
    part = make(24, "nose ring", box(260, 8), marks=scores)
    kit = Kit(name="k", parts=(part,))
    (drawing,) = draw_nesting(nest(kit, stock), kit)
    assert [w.text for w in drawing.lettering if w.bold] == ["24 · nose ring"]
    assert cuts_crossed(drawing) == []


def test_each_kind_of_mark_has_its_own_layer(drawings):
    used = set(drawings[0].layers)
    assert {
        Layer.HINGE,
        Layer.GLUE,
        Layer.DATUM,
        Layer.FOLD,
        Layer.SCORE,
        Layer.BALANCE,
        Layer.THRUST,
    } <= used
    assert {Layer.GRAIN, Layer.CUT, Layer.TEXT, Layer.SHEET} <= used


def test_line_styles_differ_without_colour():
    """In black and white a dashed line is known by its number of marks, their length or its weight, not by hue."""
    dashed = {layer: s for layer, s in STYLES.items() if s.dashes}
    for a, b in itertools.combinations(dashed.values(), 2):
        other_rhythm = len(a.dashes) != len(b.dashes)
        long, short = max(a.dashes[0], b.dashes[0]), min(a.dashes[0], b.dashes[0])
        heavy, light = max(a.width_mm, b.width_mm), min(a.width_mm, b.width_mm)
        assert other_rhythm or long / short > 1.7 or heavy / light > 1.7, (a, b)
    plain = [layer for layer, s in STYLES.items() if s.says and not s.dashes]
    assert plain == [Layer.GRAIN, Layer.BALANCE, Layer.CUT]  # an arrow, a ringed cross, and what is cut
    for style in STYLES.values():
        red, green, blue = style.colour
        assert 0.2126 * red + 0.7152 * green + 0.0722 * blue < 0.5  # Rec. 709 luma: prints dark on white


def test_a_part_too_small_for_words_is_numbered_beside_with_a_leader(stock):
    tiny = make(12, "pin", box(2.0, 60.0))
    kit = Kit(name="k", parts=(tiny, make(13, "plate", box(80, 60))))
    (drawing,) = draw_nesting(nest(kit, stock), kit)
    (label,) = [w for w in drawing.lettering if w.text == "12"]
    assert cuts_crossed(drawing) == []
    pin = min((Polygon(x.points) for x in drawing.on(Layer.CUT)), key=lambda g: g.area)
    assert not pin.intersects(letter_box(label))
    (leader,) = [LineString(x.points) for x in drawing.on(Layer.DIMENSION) if x.owner == "12.1"] or [pin]
    assert leader.distance(pin) < 1e-6
    assert leader.distance(letter_box(label)) < 1.5


@settings(max_examples=12, deadline=None)
@given(
    span=st.floats(12, 400),
    root=st.floats(6, 140),
    taper=st.floats(0.3, 1.0),
    holes=st.integers(0, 3),
    name=st.text(min_size=1, max_size=40),
)
def test_no_words_across_a_cut_whatever_the_part(stock, span, root, taper, holes, name):
    outline = wing_panel(span, root, root * taper, sweep=0.0, bow=min(12.0, span / 4))
    cut = [ellipse(root / 12, root / 12, span * (0.2 + 0.2 * i), root * 0.4, 12) for i in range(holes)]
    assume(Polygon(outline, cut).is_valid)
    part = make(7, name, outline, holes=cut, copies=2, mirrored=(False, True))
    kit = Kit(name="k", parts=(part,))
    for drawing in (*draw_nesting(nest(kit, stock, effort="quick"), kit), draw_patterns(kit, stock)):
        assert cuts_crossed(drawing) == []


def test_holes_that_meet_do_not_stop_the_drawing(stock):
    part = make(
        1, "former", box(80, 60), holes=[box(30, 20, 10, 20), box(30, 20, 30, 30), box(30, 10, 60, 5)]
    )
    kit = Kit(name="k", parts=(part,))
    for drawing in (*draw_nesting(nest(kit, stock), kit), draw_patterns(kit, stock)):
        assert len(drawing.on(Layer.CUT)) == 4
        assert cuts_crossed(drawing) == []


def test_patterns_show_each_part_once_with_its_size(kit, stock):
    drawing = draw_patterns(kit, stock)
    rings = sum(1 + len(p.holes) for p in kit.parts)
    assert len(drawing.on(Layer.CUT)) == rings
    words = [w.text for w in drawing.lettering]
    for part in kit.parts:
        assert f"{part.size_mm[0]:.1f}" in words
        assert f"{part.size_mm[1]:.1f}" in words
    assert "cut 2, 1 turned over, 330.0 × 125.0 mm" in words
    assert cuts_crossed(drawing) == []
    everything = np.vstack([line.points for line in drawing.lines])
    assert everything.min() > 0
    assert (everything.max(axis=0) < (drawing.width_mm, drawing.height_mm)).all()


def test_patterns_do_not_touch_each_other(kit, stock):
    drawing = draw_patterns(kit, stock)
    by_owner = {}
    for line in drawing.lines:
        by_owner.setdefault(line.owner, []).extend(line.points.tolist())
    frames = [LineString(points).envelope for points in by_owner.values()]
    assert not [1 for i, a in enumerate(frames) for b in frames[i + 1 :] if a.intersects(b)]


@pytest.mark.parametrize(
    ("hole", "says"),
    [
        (ellipse(1.6, 1.6), "⌀3.2"),
        (box(110, 6), "110.0 × 6.0"),
        (np.array(Polygon(box(20, 20)).buffer(1.0, quad_segs=4).exterior.coords)[:-1], "22.0 × 22.0"),
        (ellipse(14, 10, points=90), "28.0 × 20.0"),
        (np.array(box(30, 5)) @ np.array([[0.8, 0.6], [-0.6, 0.8]]), "30.0 × 5.0"),
    ],
)
def test_hole_sizes_are_those_a_builder_measures(hole, says):
    assert hole_size(np.asarray(hole, dtype=float)) == says


def test_whoever_measures_in_inches_is_lettered_in_inches(stock):
    mark = Mark(
        kind="place", points=((10.0, 20.0), (110.0, 20.0)), note="groove 1.5 mm deep: strip, 6 x 1 mm"
    )
    part = make(1, "plate", box(254, 127), holes=(box(25.4, 12.7, 50, 60),), marks=(mark,))
    kit = Kit(name="k", parts=(part,), imperial=True)
    (drawing,) = draw_nesting(nest(kit, stock, effort="quick"), kit)
    said = [w.text for w in drawing.lettering]
    assert any("10.00 × 5.00 in" in words for words in said)
    assert "groove 0.06 in deep: strip, 6 x 1 mm" in said
    patterns = draw_patterns(kit, stock)
    figures = {w.text for w in patterns.lettering if w.layer is Layer.DIMENSION}
    assert figures == {"10.00", "5.00", "1.000 × 0.500"}
    assert patterns.name == "k, patterns, in inches"
    assert not [words for words in said if " mm" in words and "board" not in words and "strip" not in words]


def test_a_line_with_a_point_that_is_not_a_number_is_refused():
    with pytest.raises(SheetError, match="not a number"):
        Line(layer=Layer.CUT, points=np.array([(0, 0), (np.nan, 1)]))
    with pytest.raises(SheetError, match="at least 2"):
        Line(layer=Layer.CUT, points=np.array([(0, 0)]))


def test_drawings_stay_still(drawings):
    with pytest.raises(dataclasses.FrozenInstanceError):
        drawings[0].name = "other"
    with pytest.raises(ValueError, match="read-only"):
        drawings[0].lines[0].points[0, 0] = 5.0
