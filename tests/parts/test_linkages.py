"""Push-rods and horns: each rod gets out of the body by a slot that lies on its way, each horn stands in its own."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from sheetlark.outline import signed_area
from sheetlark.parts import prove
from sheetlark.parts.exits import LONGEST_MM, PASSAGE_MM, sided
from sheetlark.parts.horns import HORN_FOOT_MM
from sheetlark.parts.part import Joint, PushRod
from sheetlark.parts.push_rods import arm_turn, positions


def places(part, words):
    """Middles in space of the marks of a part whose note holds some words, one for each copy."""
    found = []
    for mark in part.marks:
        if words in mark.note:
            at = np.mean(np.array(mark.points[:-1]), axis=0)
            for copy in part.copies:
                piece = min(
                    copy,
                    key=lambda p: np.linalg.norm(
                        np.clip(at, p.outline.min(axis=0), p.outline.max(axis=0)) - at
                    ),
                )
                found.append((piece.matrix @ np.array([*at, 0.0, 1.0]))[:3])
    return found


def test_what_is_cut_on_one_side_alone_is_a_pattern_of_its_own(built):
    kit = built("dunnock").kit
    starboard, port = kit.part("body side, starboard"), kit.part("body side, port")
    assert (starboard.mirrored, port.mirrored) == ((False,), (True,))
    (elevator,) = places(starboard, "elevator push-rod exit")
    assert elevator[1] > 0
    assert not places(port, "push-rod")
    # One hole that the other has not, and nothing else differs.
    holes = [{tuple(np.round(h.mean(axis=0), 1)) for h in p.holes} for p in (starboard, port)]
    assert len(holes[0] - holes[1]) == 1
    assert not holes[1] - holes[0]
    edges = [Polygon(p.outline) for p in (starboard, port)]
    assert edges[0].symmetric_difference(edges[1]).area < 0.5  # a cut tidies its part by hundredths


def test_an_exit_lets_the_rod_by_through_its_whole_travel(built):
    side = built("dunnock").kit.part("body side, starboard")
    (mark,) = [m for m in side.marks if "push-rod exit" in m.note]
    middle = np.mean(np.array(mark.points[:-1]), axis=0)
    hole = min(side.holes, key=lambda h: float(np.linalg.norm(h.mean(axis=0) - middle)))
    size = np.ptp(hole, axis=0)
    assert size[1] >= PASSAGE_MM - 0.1
    assert PASSAGE_MM < size[0] <= LONGEST_MM


ROD = PushRod(
    name="elevator push-rod", servo="elevator servo", moves="elevator", copy=0,
    shaft_mm=(0.0, 0.0, 0.0), arm_mm=(0.0, 10.0, 0.0), horn_mm=(200.0, 14.0, 6.0),
    axis_mm=((200.0, 0.0, -6.0), (0.0, 1.0, 0.0)), up_rad=0.4, down_rad=0.3,
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(
    y=st.floats(-40.0, 40.0), z=st.floats(-30.0, 30.0), arm=st.floats(6.0, 16.0), horn=st.floats(7.0, 20.0),
    throw=st.floats(0.05, 0.5), side=st.sampled_from([-1.0, 1.0]),
)  # fmt: skip
def test_a_rod_keeps_its_length_and_turns_its_arm_smoothly(y, z, arm, horn, throw, side):
    rod = replace(
        ROD, arm_mm=(0.0, side * arm, 0.0), horn_mm=(200.0, y, z + horn), axis_mm=((200.0, 0.0, z), (0.0, 1.0, 0.0)),
        up_rad=throw, down_rad=throw,
    )  # fmt: skip
    found = positions(rod, 21)
    turns = []
    for angle, start, end in found:
        assert np.linalg.norm(end - start) == pytest.approx(rod.length_mm, abs=1e-9)
        assert np.linalg.norm(start) == pytest.approx(arm, abs=1e-9)
        assert start[2] == pytest.approx(0.0, abs=1e-12)  # the shaft stands upright
        assert np.linalg.norm(end - np.array([200.0, end[1], z])) == pytest.approx(horn, abs=1e-9)
        if abs(angle) < 1e-12:
            assert (start, end) == (pytest.approx(np.array(rod.arm_mm)), pytest.approx(np.array(rod.horn_mm)))
        turns.append(arm_turn(rod, end))
    if len(found) == 21:
        steps = np.diff(turns)
        assert (steps > 0).all() or (steps < 0).all()


def test_a_throw_beyond_the_dead_point_is_left_out():
    short = replace(ROD, arm_mm=(0.0, 3.0, 0.0), up_rad=0.9, down_rad=0.9)
    assert len(positions(short, 9)) < 9


@pytest.mark.parametrize("name", ["dunnock", "brambling", "turnstone", "backstagger"])
def test_every_servo_has_a_rod_that_runs_straight_and_clear(built, name):
    b = built(name)
    servos = [e for e in b.airframe.equipment if e.kind == "servo"]
    assert {r.servo for r in b.kit.push_rods} == {e.name for e in servos if b.kit.push_rods}
    assert not [f for f in b.proof.findings if f.kind == "push-rod"]
    assert b.proof.rod_positions == 9 * len(b.kit.push_rods)
    for rod in b.kit.push_rods:
        servo = next(e for e in servos if e.name == rod.servo)
        point, axis = (np.asarray(v) for v in rod.axis_mm)
        off = np.asarray(rod.horn_mm) - point
        t = 0.5 * b.kit.part(rod.moves).thickness_mm
        stated = 1e3 * servo.horn_m
        # From the hinge line, on the taped face, to the hole: the horn stands square on the sheet.
        assert stated - 2 * t - 0.1 < np.linalg.norm(off - (off @ axis) * axis) < stated + 2 * t + 0.1
        assert math.dist(rod.shaft_mm, rod.arm_mm) <= 1e3 * servo.arm_m + 0.01


def test_horn_and_arm_are_those_stated(build_text, text_of):
    text = text_of("dunnock").replace('moves = "elevator"\n', 'moves = "elevator"\narm = 8\nhorn = 16\n')
    rod = next(r for r in build_text(text).kit.push_rods if r.moves == "elevator")
    plain = next(r for r in build_text(text_of("dunnock")).kit.push_rods if r.moves == "elevator")
    assert math.dist(rod.shaft_mm, rod.arm_mm) == pytest.approx(8.0, abs=0.01)
    assert abs(rod.horn_mm[2] - plain.horn_mm[2]) == pytest.approx(4.0, abs=0.05)


@pytest.mark.parametrize("spoil", ["exit filled", "servo moved", "former filled"])
def test_a_rod_that_does_not_pass_is_named_with_what_it_runs_into(built, stock, spoil):
    b = built("dunnock")
    kit, expected = b.kit, ""
    if spoil == "exit filled":
        side = kit.part("body side, starboard")
        expected = side.name
        (mark,) = [m for m in side.marks if "push-rod exit" in m.note]
        middle = np.mean(np.array(mark.points[:-1]), axis=0)

        def filled(holes):
            return tuple(h for h in holes if np.linalg.norm(h.mean(axis=0) - middle) > 30.0)

        pieces = tuple(replace(p, holes=filled(p.holes)) for p in side.copies[0])
        kit = _with(kit, replace(side, holes=filled(side.holes), copies=(pieces,)))
    elif spoil == "former filled":
        former = kit.part("former 3")
        expected = former.name
        pieces = tuple(replace(p, holes=()) for p in former.copies[0])
        kit = _with(kit, replace(former, holes=(), copies=(pieces,)))
    else:
        rods = tuple(
            replace(r, arm_mm=(r.arm_mm[0], r.arm_mm[1], -30.0), shaft_mm=(*r.shaft_mm[:2], -30.0))
            for r in kit.push_rods
        )
        kit = replace(kit, push_rods=rods)
    found = [f for f in prove(kit, b.airframe, stock).findings if f.kind == "push-rod"]
    assert found
    for clash in found:
        assert clash.first in {"elevator push-rod", "rudder push-rod"}
        assert clash.second in clash.says
        assert "straight from its arm to its horn" in clash.says
        assert clash.amount > 0
        assert "in a tube" in clash.cure
    assert not expected or expected in {f.second for f in found}


def _with(kit, part):
    return replace(kit, parts=tuple(part if p.name == part.name else p for p in kit.parts))


def test_a_receiver_in_the_way_of_a_rod_is_named(build_text, text_of):
    text = text_of("dunnock").replace("receiver_at = [175, 0, -25]", "receiver_at = [350, 20, 8]")
    found = [f for f in build_text(text).proof.findings if f.kind == "push-rod"]
    assert any(f.second == "receiver" for f in found)


def test_a_wire_in_a_tube_need_not_be_straight(build_text, text_of):
    text = text_of("dunnock").replace(
        'moves = "elevator"\n', 'moves = "elevator"\npush_rod = "push-rod-tube"\n'
    )
    b = build_text(text)
    assert b.proof.rod_positions == 9  # the rudder's alone


@pytest.mark.parametrize(
    ("name", "moving"),
    [
        ("dunnock", "elevator"),
        ("dunnock", "rudder"),
        ("brambling", "lower wing aileron"),
        ("turnstone", "wing elevon"),
    ],
)
def test_a_horn_has_its_slot_near_its_servo_and_behind_the_bevel(built, name, moving):
    b = built(name)
    part = b.kit.part(moving)
    slots = [h for h in part.holes if abs(signed_area(h)) == pytest.approx(math.prod(HORN_FOOT_MM), abs=0.1)]
    assert len(slots) == 1
    bevel = part.bevels[0]
    a, run = np.asarray(bevel.start), np.subtract(bevel.end, bevel.start)
    inwards = np.array([-run[1], run[0]]) / np.linalg.norm(run)
    depths = (slots[0] - a) @ inwards
    assert depths.min() >= bevel.setback_mm + 1.5
    assert np.ptp(depths) == pytest.approx(HORN_FOOT_MM[0], abs=0.01)
    servo = next(e for e in b.airframe.equipment if e.kind == "servo" and e.name.split(" servo")[0] in moving)
    if "aileron" in moving or "elevon" in moving:
        (_, y, _), *_ = places(part, "horn")
        assert abs(y) == pytest.approx(abs(1e3 * servo.at_m[1]), abs=12.0)


def test_sided_joints_share_the_length():
    runs = (((0.0, 20.0, 0.0), (10.0, 20.0, 0.0)), ((0.0, -20.0, 0.0), (10.0, -20.0, 0.0)))
    joint = Joint(kind="butt", first="body side", second="tray", held="glue", runs_mm=runs)
    across = replace(joint, kind="dowel", runs_mm=(((5.0, -30.0, 1.0), (5.0, 30.0, 1.0)),))
    found = sided([joint, across], "body side")
    assert [j.first for j in found] == ["body side, starboard", "body side, port"] * 2
    assert [j.length_mm for j in found] == pytest.approx([10.0, 10.0, 30.0, 30.0])
