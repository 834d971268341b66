"""Decks in planks: they follow the body where one sheet cannot, meet edge to edge, and lie flat exactly."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.design import loads
from sheetlark.errors import DesignError
from sheetlark.outline import signed_area
from sheetlark.parts import ONE_SHEET_OFF_MM, PLANK_OFF_MM, deck_fits, prove


def decked(text, aft="", fore=""):
    """Brambling with more said of its decks."""
    assert "end = 400\nheight = 12" in text
    return text.replace("end = 400\nheight = 12", f"end = 400\nheight = 12\n{aft}").replace(
        "end = 95\nheight = 14", f"end = 95\nheight = 14\n{fore}"
    )


def planks_of(kit, deck="aft deck"):
    return [p for p in kit.parts if p.name.startswith(f"{deck} plank")]


@pytest.mark.parametrize(("planks", "patterns"), [(2, 1), (3, 2), (5, 3), (6, 3)])
def test_planks_that_mirror_each_other_are_one_pattern(build_text, text_of, planks, patterns):
    b = build_text(decked(text_of("brambling"), f"planks = {planks}"))
    found = planks_of(b.kit)
    assert sum(p.count for p in found) == planks
    names = {p.name.split(",")[0] for p in found}
    assert names == {f"aft deck plank {k + 1}" for k in range(patterns)}
    assert b.proof.clean, [f.says for f in b.proof.findings]
    assert any(f"{planks} planks" in n for n in b.kit.notes)


@settings(max_examples=12, deadline=None)
@given(
    planks=st.integers(2, 8),
    height=st.floats(9.0, 20.0),
    end=st.one_of(st.none(), st.floats(0.0, 13.0)),
)
def test_planks_lie_flat_exactly_and_go_together(build_text, text_of, planks, height, end):
    more = f"planks = {planks}" + ("" if end is None else f"\nend_height = {end:.2f}")
    text = decked(text_of("brambling"), more).replace("400\nheight = 12", f"400\nheight = {height:.2f}")
    b = build_text(text)
    for part in planks_of(b.kit):
        flat = sum(signed_area(p.outline) + sum(signed_area(h) for h in p.holes) for p in part.copies[0])
        assert abs(flat) == pytest.approx(part.area_mm2, abs=1.0)
        for piece in part.copies[0]:
            assert piece.matrix[:3, :3].T @ piece.matrix[:3, :3] == pytest.approx(np.eye(3), abs=1e-9)
    assert b.proof.clean, [f.says for f in b.proof.findings]


def test_neighbours_are_glued_along_the_edge_they_share(build_text, text_of):
    b = build_text(decked(text_of("brambling"), fore="planks = 5"))
    seams = [j for j in b.kit.joints if "plank" in j.first and "plank" in j.second]
    assert {frozenset((j.first, j.second)) for j in seams} == {
        frozenset(("fore deck plank 2", "fore deck plank 1")),
        frozenset(("fore deck plank 3", "fore deck plank 2")),
    }
    for joint in seams:
        starboard, port = (np.array(r) for r in joint.runs_mm)
        assert starboard * (1, -1, 1) == pytest.approx(port)
        assert joint.length_mm == pytest.approx(2 * 87.7, abs=1.0)
        # Each point of the seam lies on the middle surface of both planks, less half the glue's hair.
        for name, at in itertools.product((joint.first, joint.second), starboard):
            pieces = [q for copy in b.kit.part(name).copies for q in copy]
            heights = [(np.linalg.inv(q.matrix) @ np.array([*at, 1.0])) for q in pieces]
            near = [abs(h[2]) for h, q in zip(heights, pieces, strict=True) if _inside(q, h[:2], 0.3)]
            assert min(near) < 0.05, name
    alone = build_text(decked(text_of("brambling"), fore="planks = 4")).kit
    assert any(j.first == j.second == "fore deck plank 2" for j in alone.joints)


def _inside(piece, at, reach):
    from shapely.geometry import Point, Polygon

    return Polygon(piece.outline).distance(Point(float(at[0]), float(at[1]))) < reach


def test_edges_are_marked_with_the_neighbour_and_the_slant(build_text, text_of):
    kit = build_text(decked(text_of("brambling"), "planks = 5")).kit
    notes = [m.note for m in kit.part("aft deck plank 2").marks if m.kind == "glue"]
    assert any(n.startswith("to plank 1, edge slanted") for n in notes)
    assert any(n.startswith("to plank 3, edge slanted") for n in notes)


def test_square_edges_and_moved_planks_are_caught(build_text, text_of, stock):
    """A plank whose edges are left square, or that lies 1 mm off, does not fit between its neighbours."""
    b = build_text(decked(text_of("brambling"), "planks = 5"))
    plank = b.kit.part("aft deck plank 2")
    square = replace(plank, bevels=())
    aside = np.eye(4)
    aside[1, 3] = 1.0
    moved = replace(
        plank, copies=tuple(tuple(replace(q, matrix=aside @ q.matrix) for q in c) for c in plank.copies)
    )
    for wrong in (square, moved):
        kit = replace(b.kit, parts=tuple(wrong if p is plank else p for p in b.kit.parts))
        found = prove(kit, b.airframe, stock).findings
        assert any(
            f.kind == "overlap" and "aft deck plank 2" in f.first + f.second and "plank" in f.second
            for f in found
        )


def test_one_sheet_cannot_follow_a_crown_that_falls_but_planks_can(build_text, text_of):
    b = build_text(decked(text_of("brambling"), "end_height = 2"))
    (fit,) = [f for f in deck_fits(b.airframe.body) if f.key == "aft_deck"]
    # The bent deck keeps its arcs alike over the sides' middles, so it still rises at its end, where the stated crown
    # lies flat on them.
    ends = 1e3 * b.airframe.body.width_m(np.array([0.215, 0.4])) - 5.0
    foot = 2.2  # about half the sheet, by the cosine of the arc's slope
    assert fit.off_mm == pytest.approx((12.0 - foot) * ends[1] / ends[0] + foot - 2.5, abs=0.15)
    assert fit.at_mm == pytest.approx(400.0)
    assert fit.planks is not None
    cured = build_text(decked(text_of("brambling"), f"end_height = 2\nplanks = {fit.planks}"))
    assert cured.proof.clean
    note = next(n for n in cured.kit.notes if "planks" in n)
    assert float(note.split("at most ")[1].split()[0]) <= PLANK_OFF_MM + 0.051


@pytest.mark.parametrize("name", ["brambling"])
def test_the_starters_decks_bend_from_one_sheet(built, name):
    fits = deck_fits(built(name).airframe.body)
    assert [f.key for f in fits] == ["fore_deck", "aft_deck"]
    assert all(f.off_mm <= ONE_SHEET_OFF_MM for f in fits)


def test_a_straight_deck_lies_where_it_is_stated(build_text, text_of):
    """Straight top, straight sides: the cone is the stated shape."""
    text = text_of("brambling").replace("L 220 42 C 320 34, 440 24, 546 20", "L 220 42 L 546 20")
    fit = next(f for f in deck_fits(build_text(text).airframe.body) if f.key == "aft_deck")
    assert fit.off_mm < 0.3  # a kink of the top edge at 220 mm, five behind the deck's start


@pytest.mark.parametrize("bad", ["0", "17", '"many"', "2.5"])
def test_a_count_that_is_none_is_refused(text_of, bad):
    with pytest.raises(DesignError, match=r"aft_deck, planks"):
        loads(decked(text_of("brambling"), f"planks = {bad}"))


def test_auto_takes_as_many_as_follow_the_shape(build_text, text_of):
    b = build_text(decked(text_of("brambling"), 'planks = "auto"', 'planks = "auto"'))
    for deck in ("fore deck", "aft deck"):
        note = next(n for n in b.kit.notes if deck in n)
        assert float(note.split("at most ")[1].split()[0]) <= PLANK_OFF_MM
    assert b.proof.clean


def test_a_bent_deck_says_how_it_is_scored(built):
    """How many, how far apart, how deep, on which face, to what radius."""
    deck = built("brambling").kit.part("aft deck")
    scores = [m for m in deck.marks if m.kind == "score"]
    (note,) = [m.note for m in scores if m.note]
    assert note.startswith(f"{len(scores)} scores")
    assert "2.5 mm deep through the inner paper, other face" in note  # marked outside
    a, b = (np.array(m.points) for m in scores[:2])
    spacing = float(note.split("scores, ")[1].split()[0])
    assert max(np.linalg.norm(a - b, axis=1)) == pytest.approx(spacing, abs=0.06)
    # An arc over 35.9 mm that rises 12 - 2.2 mm times the share of the width: r = w²/8h + h/2.
    ends = 1e3 * built("brambling").airframe.body.width_m(np.array([0.215, 0.4])) - 5.0
    rise = (12.0 - 2.2) * ends[1] / ends[0]
    assert float(note.split("bend to ")[1].split()[0]) == pytest.approx(
        ends[1] ** 2 / (8 * rise) + rise / 2, abs=1.5
    )
