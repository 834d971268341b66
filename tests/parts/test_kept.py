"""The memory of cuts: bounded, and no different from cutting anew."""

from __future__ import annotations

import weakref
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from sheetlark.airframe import airframe
from sheetlark.design import edited, loads, starter
from sheetlark.parts import Room, blank, facets, kept, kit, make_kit, prove, shadows, solids
from sheetlark.parts.kept import Kept, KeptOf, shape_stamp
from sheetlark.stock import load_stock

STOCK = load_stock()


def test_the_least_used_goes_first():
    memory = Kept[int](2)
    for key in ("a", "b", "a", "c"):
        memory.get(key, lambda: 1)
    assert memory.get("a", lambda: 2) == 1
    assert memory.get("b", lambda: 2) == 2
    assert len(memory) == 2


def test_results_about_things_hold_the_things_as_long_as_themselves():
    class Thing:
        pass

    memory = KeptOf[str](2)
    one, other = Thing(), Thing()
    assert memory.get(one, lambda: "one") == "one"
    assert memory.get(one, lambda: "both", also=(other,)) == "both"
    assert memory.get(one, lambda: "anew", also=(other,)) == "both"
    assert memory.peek(one) == "one"
    assert memory.get(one, lambda: "turned", by="turned") == "turned"
    assert memory.peek(one) is None  # the least used
    held = weakref.ref(other)
    del other
    assert held() is not None
    memory.get(one, lambda: "a", by="a")
    assert held() is None


def test_threads_do_not_trip_over_each_other():
    memory = Kept[int](3)
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda i: memory.get(i % 7, lambda: i % 7), range(4000)))
    assert found == [i % 7 for i in range(4000)]
    assert len(memory) <= 3


def test_a_stamp_tells_shapes_apart():
    square = Polygon([(0, 0), (10, 0), (10, 10), (0, 10)])
    nudged = Polygon([(0, 0), (10, 0), (10, 10), (0, 10 + 1e-12)])
    holed = square.difference(Polygon([(4, 4), (6, 4), (6, 6)]))
    stamps = {shape_stamp(s) for s in (square, nudged, holed, None)}
    assert len(stamps) == 4
    assert shape_stamp(square) == shape_stamp(Polygon(square.exterior.coords))


def test_memory_is_bounded_over_many_edits():
    text = starter("dunnock")
    kept.forget()
    held = []
    for i in range(24):
        span = 600 + 2 * i
        kit._made.cache_clear()
        make_kit(airframe(loads(edited(text, {("wing", 0, "span"): span})), STOCK), STOCK)
        held.append(sum(len(each) for each in kept.ALL))
    most = sum(each._most for each in kept.ALL)
    assert held[-1] <= most
    assert all(len(each) <= each._most for each in kept.ALL)


@pytest.mark.parametrize("name", ["dunnock", "turnstone"])
def test_a_part_untouched_by_a_change_is_the_same_part(name):
    kept.forget()  # else the first kit may be an old one, whose parts have made room for others since
    kit._made.cache_clear()
    text = starter(name)
    before = make_kit(airframe(loads(text), STOCK), STOCK)
    height = 1e3 * loads(text).fin[0].height
    after = make_kit(
        airframe(loads(edited(text, {("fin", 0, "height"): round(height + 3, 1)})), STOCK), STOCK
    )
    same = {p.name for p in before.parts} & {p.name for p in after.parts if any(p is q for q in before.parts)}
    assert any(name.startswith("former") for name in same)
    assert not any("rudder" in name for name in same)


def test_a_proof_after_others_finds_what_it_finds_first():
    """A kit as it is, one whose surfaces swing further than it was cut for, one with two boxes in one place."""
    text = starter("dunnock")
    frame, crowded = (
        airframe(loads(t), STOCK) for t in (text, edited(text, {("radio", "receiver_at"): [66, 0, -14]}))
    )

    def asked(case):
        place = crowded if case == 2 else frame
        made = make_kit(place, STOCK)
        if case == 1:
            made = replace(made, swings=tuple(replace(s, up_rad=1.4, down_rad=1.4) for s in made.swings))
        return prove(made, place, STOCK)

    def alone(case):
        kept.forget()
        kit._made.cache_clear()
        return asked(case)

    first = [alone(case) for case in (0, 1, 2)]
    kept.forget()
    kit._made.cache_clear()
    for _ in range(2):
        assert [asked(case) for case in (0, 1, 2)] == first
    kinds = [{f.kind for f in proof.findings} for proof in first]
    assert kinds[0] == set()
    assert "motion" in kinds[1]
    assert "equipment" in kinds[2]


def test_a_room_answers_as_each_solid_does():
    """Asked box by box, in any order and again, against the cut of the box with every solid."""
    room = Room.of(make_kit(airframe(loads(starter("dunnock")), STOCK), STOCK))
    low, high = np.array([20.0, -30.0, -40.0]), np.array([300.0, 30.0, 40.0])
    rng = np.random.default_rng(3)
    middles = rng.uniform(low, high, (80, 3))
    boxes = [(m - 6.0, m + 6.0) for m in (*middles, *middles[::-1])]
    answers = [room.free(*b) for b in boxes]
    assert answers == [not room.meets(*b) for b in boxes]
    assert {True, False} == set(answers)


def test_what_lies_between_two_heights_is_what_cutting_the_solid_leaves():
    """The shadow, found without cutting, against the solid cut at both faces and looked at from above."""
    import manifold3d as m3

    rng = np.random.default_rng(5)
    for k in range(60):
        turned = m3.Manifold.cube((30.0, 20.0, 9.0)).rotate(tuple(rng.uniform(-180, 180, 3)))
        guest = turned + m3.Manifold.cylinder(25.0, 4.0, 6.0, 20).translate(tuple(rng.uniform(-8, 8, 3)))
        thick = float(rng.uniform(2.0, 12.0))
        half = thick / 2 - shadows.SKIN_MM
        cut = guest.trim_by_plane((0.0, 0.0, 1.0), -half).trim_by_plane((0.0, 0.0, -1.0), -half)
        whole = shadows._joined(cut.project().to_polygons()) if not cut.is_empty() else None
        port = k % 3 == 0  # a frame mirrored to port, as a port part has
        found = shadows.shadow(
            guest.mirror((0, 1, 0)) if port else guest, solids.PORT if port else np.eye(4), thick
        )
        if whole is None:
            assert found is None or found.area < 1e-3
            continue
        assert found is not None
        assert found.symmetric_difference(whole).area < 1e-4 * whole.length


def test_what_stands_to_port_covers_the_mirror_image_of_what_its_twin_covers():
    """The short cut by mirror image against the same solid looked at for itself."""
    import manifold3d as m3

    lying = blank.Blank(
        name="cover",
        group="body",
        sheet="foamboard-5mm",
        paper="both",
        thickness=5.0,
        shape=Polygon([(0, -60), (200, -60), (200, 60), (0, 60)]),
        facets=(
            facets.Facet(None, facets.flat_at(np.zeros(3), np.array([1.0, 0, 0.2]), np.array([0, 1.0, 0]))),
        ),
    )
    standing = blank.Blank(
        name="former",
        group="body",
        sheet="foamboard-5mm",
        paper="both",
        thickness=5.0,
        shape=Polygon([(-60, -40), (60, -40), (60, 80), (-60, 80)]),
        facets=(
            facets.Facet(
                None, facets.flat_at(np.array([50.0, 0, 0]), np.array([0, 1.0, 0]), np.array([0, 0, 1.0]))
            ),
        ),
    )
    rng = np.random.default_rng(8)
    tried = 0
    for _ in range(20):
        guest = (
            m3.Manifold.cube((150.0, 6.0, 50.0))
            .rotate(tuple(rng.uniform(-12, 12, 3)))
            .translate((5, 25, -20))
        )
        image = solids.to_port(guest)
        assert solids.mirrored_from(image) is guest
        assert solids.mirrored_from(guest) is None
        for host in (lying, standing):
            quick = host.shadow(image, 0.3)
            direct = host.shadow(guest.transform(solids.PORT[:3]), 0.3)
            assert quick.symmetric_difference(direct).area < 1e-4
            assert quick.symmetric_difference(host.shadow(guest, 0.3)).area > 100.0
            tried += 1
        assert solids.bounds(image) == pytest.approx(image.bounding_box(), abs=1e-9)
    assert tried == 40


def test_a_union_reaches_as_far_as_its_solids():
    import manifold3d as m3

    pieces = [m3.Manifold.cube((10.0, 4.0, 3.0)).translate((7.0 * i, i, -i)) for i in range(4)]
    whole = solids.union(pieces)
    solids.lies_within(whole, pieces)
    assert solids.bounds(whole) == pytest.approx(whole.bounding_box(), abs=1e-9)


def test_a_part_cut_smaller_is_still_found_where_it_lies():
    """The box kept from before a cut may be too large, never too small."""
    matrix = np.eye(4)
    part = blank.Blank(
        name="part",
        group="body",
        sheet="foamboard-5mm",
        paper="both",
        thickness=5.0,
        shape=Polygon([(0, 0), (100, 0), (100, 50), (0, 50)]),
        facets=(facets.Facet(None, matrix),),
    )
    assert part.yield_to(solids.box(np.array([60.0, -1, -9]), np.array([101.0, 51, 9]))) == []
    assert part.shadow(solids.box(np.array([10.0, 10, -9]), np.array([20.0, 20, 9]))).area == pytest.approx(
        100.0
    )
    assert part.shadow(solids.box(np.array([80.0, 10, -9]), np.array([90.0, 20, 9]))) is None
    assert part.shadow(solids.box(np.array([10.0, 10, 2.9]), np.array([20.0, 20, 9]))) is None
    assert (
        part.thicker(1.0).shadow(solids.box(np.array([10.0, 10, 2.9]), np.array([20.0, 20, 9]))) is not None
    )
