"""Push-rods and horns: each rod gets out of the body by a slot that lies on its way, each horn stands in its own."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sheetlark.outline import signed_area
from sheetlark.parts.linkages import HORN_FOOT_MM, PASSAGE_MM, sided
from sheetlark.parts.part import Joint


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


def test_each_side_has_its_own_exit(built):
    kit = built("dunnock").kit
    starboard, port = kit.part("body side, starboard"), kit.part("body side, port")
    assert (starboard.mirrored, port.mirrored) == ((False,), (True,))
    (elevator,) = places(starboard, "elevator push-rod exit")
    (rudder,) = places(port, "rudder push-rod exit")
    assert elevator[1] > 0 > rudder[1]
    assert not places(port, "elevator push-rod")
    # One hole each that the other has not, and nothing else differs.
    holes = [{tuple(np.round(h.mean(axis=0), 1)) for h in p.holes} for p in (starboard, port)]
    assert len(holes[0] - holes[1]) == len(holes[1] - holes[0]) == 1
    assert (starboard.outline == port.outline).all()


def test_an_exit_lets_the_rod_and_its_sleeve_by(built):
    side = built("dunnock").kit.part("body side, starboard")
    (mark,) = [m for m in side.marks if "push-rod exit" in m.note]
    middle = np.mean(np.array(mark.points[:-1]), axis=0)
    hole = min(side.holes, key=lambda h: float(np.linalg.norm(h.mean(axis=0) - middle)))
    size = np.ptp(hole, axis=0)
    assert size[1] >= PASSAGE_MM - 0.1
    assert PASSAGE_MM < size[0] <= 32.1


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
