"""An elevator in two halves: one rod drives both, and nothing stands in its way."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sheetlark.parts import prove


def rod_of(kit):
    (rod,) = [r for r in kit.rods if r.name == "elevator joiner"]
    return rod


def test_the_joiner_reaches_into_both_halves(built):
    kit = built("canard").kit
    elevator, rod = kit.part("elevator"), rod_of(kit)
    assert elevator.count == 2
    inner = float(elevator.outline[:, 1].min())
    assert rod.length_mm == pytest.approx(2 * (inner + 30.0), abs=0.01)
    (joint,) = [j for j in kit.joints if j.second == rod.name]
    assert (joint.kind, joint.first, joint.held) == ("rod-hole", "elevator", "glue")
    assert joint.length_mm == pytest.approx(60.0, abs=0.01)
    assert any("bore" in m.note for m in elevator.marks)


def test_a_joiner_that_catches_as_it_swings_is_found(built, stock):
    b = built("canard")
    rod = rod_of(b.kit)
    ahead = replace(rod, points_mm=tuple((x - 8.0, y, z) for x, y, z in rod.points_mm))
    rods = tuple(ahead if r is rod else r for r in b.kit.rods)
    found = prove(replace(b.kit, rods=rods), b.airframe, stock).findings
    assert any(f.kind == "motion" and "elevator" in f.first and f.second == "foreplane" for f in found)


def test_halves_in_a_v_get_a_bent_wire(build_text, text_of):
    b = build_text(
        text_of("canard").replace(
            "tip_chord = 60\n[tailplane.el", "tip_chord = 60\ndihedral = 4\n[tailplane.el"
        )
    )
    assert b.proof.clean, [f.says for f in b.proof.findings]
    rod = rod_of(b.kit)
    assert rod.key.startswith("wire")
    port, middle, starboard = np.array(rod.points_mm)
    turn = math.acos(
        (middle - port)
        @ (starboard - middle)
        / np.linalg.norm(middle - port)
        / np.linalg.norm(starboard - middle)
    )
    assert math.degrees(turn) == pytest.approx(8.0, abs=0.01)


def test_halves_too_far_apart_are_told_of(build_text, text_of):
    b = build_text(
        text_of("dunnock").replace("[tailplane.elevator]\n", "[tailplane.elevator]\nstart = 0.6\n")
    )
    assert b.proof.clean
    assert any("164 mm apart" in note for note in b.kit.notes)
    assert not [r for r in b.kit.rods if "joiner" in r.name]
