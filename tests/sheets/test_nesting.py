import dataclasses
import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

import sheetlark
from sheetlark.design import loads, starter
from sheetlark.errors import SheetError, StockError
from sheetlark.parts import Kit, Mark
from sheetlark.sheets import nest

from .kits import biplane, box, ellipse, make


def placed_polygons(kit, layout):
    parts = {p.number: p for p in kit.parts}
    return [Polygon(p.move(parts[p.part].outline)) for p in layout.placed]


def assert_sound(kit, nesting):
    copies = sorted((p.part, p.copy) for s in nesting.sheets for p in s.placed)
    assert copies == sorted((p.number, c) for p in kit.parts for c in range(p.count))
    for layout in nesting.sheets:
        polygons = placed_polygons(kit, layout)
        m = nesting.margin_mm
        for polygon in polygons:
            x0, y0, x1, y1 = polygon.bounds
            assert min(x0, y0) >= m - 0.003
            assert x1 <= layout.width_mm - m + 0.003
            assert y1 <= layout.height_mm - m + 0.003
        for a, b in itertools.combinations(polygons, 2):
            assert a.distance(b) >= nesting.gap_mm - 0.004


def test_copies_lie_apart_within_margins(kit, nesting):
    assert_sound(kit, nesting)


def test_one_sheet_of_foam_is_enough_for_the_biplane(nesting):
    foam = next(m for m in nesting.materials if m.sheet == "foam-board-5")
    assert (foam.sheets, foam.bound) == (1, 1)
    assert foam.utilisation > 0.75


@pytest.mark.parametrize("effort", ["quick", "normal", "thorough"])
def test_sheets_used_at_most_one_above_the_area_bound(kit, stock, effort):
    nesting = nest(kit, stock, effort=effort)
    assert_sound(kit, nesting)
    assert all(m.bound <= m.sheets <= m.bound + 1 for m in nesting.materials)


def test_materials_do_not_share_a_sheet(kit, nesting):
    parts = {p.number: p for p in kit.parts}
    for layout in nesting.sheets:
        assert {parts[p.part].sheet for p in layout.placed} == {layout.sheet}


def test_same_seed_same_layout_other_seed_other_layout(kit, stock, nesting):
    again = nest(kit, stock)
    assert again == nesting
    assert nest(kit, stock, seed=7) != nesting


def test_mirrored_copies_lie_turned_over(kit, nesting):
    parts = {p.number: p for p in kit.parts}
    for placed in (p for s in nesting.sheets for p in s.placed):
        part = parts[placed.part]
        assert placed.mirrored == part.mirrored[placed.copy]
        moved = placed.move(part.outline)
        turn = np.sum(moved[:, 0] * np.roll(moved[:, 1], -1) - np.roll(moved[:, 0], -1) * moved[:, 1])
        assert (turn < 0) == placed.mirrored


def test_parts_that_may_not_turn_are_level(kit, nesting):
    parts = {p.number: p for p in kit.parts}
    held = [p for s in nesting.sheets for p in s.placed if not parts[p.part].may_turn]
    assert held
    assert all(p.turn_deg in (0, 180) for p in held)


def test_area_in_equals_area_out(kit, nesting):
    whole = sum(p.area_mm2 * p.count for p in kit.parts)
    assert sum(s.used_mm2 for s in nesting.sheets) == pytest.approx(whole, rel=1e-12)


def test_paper_note_names_the_parts_to_peel(nesting):
    notes = {s.sheet: s.paper_note for s in nesting.sheets}
    assert notes["foam-board-5"] == "peel one paper off 3; peel both papers off 10, 11"
    assert notes["ply-2"] == ""


def test_too_large_a_part_is_named_with_its_size_and_a_cure(stock):
    kit = Kit(name="big", parts=(make(1, "wing", box(900, 120)),))
    with pytest.raises(
        SheetError, match=r"part 1 'wing' is 900 x 120 mm; .* holds 752 x 498 mm .* Split the part"
    ):
        nest(kit, stock)


def test_a_part_that_fits_only_turned_is_refused_when_it_may_not_turn(stock):
    tall = make(1, "deck", box(100, 700))
    assert nest(Kit(name="k", parts=(tall,)), stock).sheets[0].placed[0].turn_deg in (90, 270)
    held = dataclasses.replace(tall, may_turn=False)
    with pytest.raises(SheetError, match="may not be turned"):
        nest(Kit(name="k", parts=(held,)), stock)


def test_a_part_as_large_as_the_sheet_allows_fits_alone(stock):
    kit = Kit(name="k", parts=(make(1, "a", box(752, 498)), make(2, "b", box(752, 498))))
    nesting = nest(kit, stock)
    assert_sound(kit, nesting)
    assert len(nesting.sheets) == 2


def test_no_parts(stock):
    with pytest.raises(SheetError, match="no parts"):
        nest(Kit(name="empty", parts=()), stock)


def test_two_parts_of_one_number(stock):
    kit = Kit(name="k", parts=(make(1, "a", box(20, 20)), make(1, "b", box(30, 20))))
    with pytest.raises(SheetError, match="'a' and 'b' all have the number 1"):
        nest(kit, stock)


@pytest.mark.parametrize("where", ["outline", "mark"])
def test_a_point_that_is_not_a_number(stock, where):
    part = make(
        1, "a", box(20, 20), marks=(Mark("datum", ((0.0, 1.0), (10.0, math.nan))),) * (where == "mark")
    )
    if where == "outline":
        object.__setattr__(part, "outline", np.array([(0, 0), (math.inf, 0), (20, 20)]))
    with pytest.raises(SheetError, match="part 1 'a' has a point that is not a number"):
        nest(Kit(name="k", parts=(part,)), stock)


def test_unknown_material(stock):
    kit = Kit(name="k", parts=(make(1, "a", box(20, 20), sheet="foam-bord-5"),))
    with pytest.raises(StockError, match="foam-board-5"):
        nest(kit, stock)


@pytest.mark.parametrize(("name", "value"), [("margin_mm", -1.0), ("gap_mm", math.nan), ("gap_mm", 1e9)])
def test_senseless_spacing(kit, stock, name, value):
    with pytest.raises(SheetError, match="must lie between 0 and 100 mm"):
        nest(kit, stock, **{name: value})


def test_a_gap_of_nothing_is_allowed(kit, stock):
    nesting = nest(kit, stock, gap_mm=0.0, margin_mm=0.0, effort="quick")
    assert_sound(kit, nesting)


def test_stopping_at_once_still_gives_a_sound_layout(kit, stock):
    nesting = nest(kit, stock, should_stop=lambda: True)
    assert_sound(kit, nesting)
    assert {m.method for m in nesting.materials} == {"shelves"}


def test_progress_rises_to_one(kit, stock):
    seen = []
    nest(kit, stock, effort="quick", progress=lambda fraction, words: seen.append((fraction, words)))
    fractions = [f for f, _ in seen]
    assert fractions == sorted(fractions)
    assert fractions[-1] == 1.0
    assert "foam board" in seen[0][1]


@settings(max_examples=8, deadline=None)
@given(
    sizes=st.lists(st.tuples(st.integers(8, 300), st.integers(8, 300)), min_size=1, max_size=14),
    gap=st.sampled_from([0.0, 1.0, 3.0, 12.0]),
)
def test_any_mix_of_plates_is_laid_out_soundly(stock, sizes, gap):
    parts = tuple(
        make(i, f"plate {i}", box(w, h) if i % 2 else ellipse(w / 2, h / 2, points=24), copies=1 + i % 2)
        for i, (w, h) in enumerate(sizes, start=1)
    )
    kit = Kit(name="plates", parts=parts)
    assert_sound(kit, nest(kit, stock, gap_mm=gap, effort="quick"))


def test_a_starter_wants_the_strip_packer_alone_however_little_one_looks(stock):
    """Half-full sheets, which the plain way took most of a minute for, are closed at the second deal."""
    brambling = sheetlark.evaluate(loads(starter("brambling"))).kit
    foam = next(m for m in nest(brambling, stock, effort="quick").materials if m.sheet == "foam-board-5")
    assert (foam.sheets, foam.method) == (2, "strip")


def test_biplane_is_laid_out_within_seconds(kit, stock):
    import time

    start = time.perf_counter()
    nest(biplane(), stock)
    assert time.perf_counter() - start < 8.0  # 0.6 s on an idle machine
