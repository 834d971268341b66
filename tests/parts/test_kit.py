"""The kit as a whole: complete, true to its areas, the same each time, and refused by name where it cannot be."""

from __future__ import annotations

import re

import numpy as np
import pytest

from sheetlark.airframe import airframe
from sheetlark.design import loads
from sheetlark.errors import GeometryError
from sheetlark.outline import polygon, signed_area
from sheetlark.parts import make_kit, mesh, with_balance

NAMES = ("dunnock", "brambling", "turnstone", "backstagger", "canard", "v-tail", "parasol", "low-wing-bands")


def net(piece):
    return abs(signed_area(piece.outline)) - sum(abs(signed_area(h)) for h in piece.holes)


@pytest.mark.parametrize("name", NAMES)
def test_every_copy_of_a_part_has_the_area_that_is_cut(built, name):
    for part in built(name).kit.parts:
        for copy in part.copies:
            assert sum(net(p) for p in copy) == pytest.approx(part.area_mm2, rel=1e-4, abs=0.5), part.name


@pytest.mark.parametrize("name", NAMES)
def test_parts_are_numbered_named_once_and_sound(built, name):
    kit = built(name).kit
    assert [p.number for p in kit.parts] == list(range(1, len(kit.parts) + 1))
    names = [p.name for p in kit.parts]
    assert len(set(names)) == len(names)
    for part in kit.parts:
        shape = polygon(part.outline, part.name)
        for hole in part.holes:
            assert shape.contains(polygon(hole, "hole").buffer(-0.05)), part.name


@pytest.mark.parametrize("name", NAMES)
def test_pieces_lie_in_space_without_stretching(built, name):
    for part in built(name).kit.parts:
        for copy, mirrored in zip(part.copies, part.mirrored, strict=True):
            for piece in copy:
                turn = piece.matrix[:3, :3]
                assert turn.T @ turn == pytest.approx(np.eye(3), abs=1e-9), part.name
                assert np.linalg.det(turn) == pytest.approx(-1.0 if mirrored else 1.0)


@pytest.mark.parametrize("name", NAMES)
def test_joints_name_what_is_there(built, name):
    kit = built(name).kit
    known = {p.name for p in kit.parts} | {r.name for r in kit.rods}
    for joint in kit.joints:
        assert {joint.first, joint.second} <= known, joint
        assert joint.length_mm > 1.0, joint
        assert np.isfinite(np.array([p for run in joint.runs_mm for p in run])).all()


def test_a_pair_is_mirrored_through_the_centre_plane(built):
    solids = {(m.name, m.copy): m for m in mesh(built("brambling").kit)}
    starboard, port = solids["lower wing panel", 0], solids["lower wing panel", 1]
    flipped = port.vertices_mm * (1, -1, 1)
    assert np.sort(flipped, axis=0) == pytest.approx(np.sort(starboard.vertices_mm, axis=0), abs=1e-3)


def test_the_kit_of_a_biplane_holds_what_a_builder_looks_for(built):
    kit = built("brambling").kit
    have = {p.name: p.count for p in kit.parts}
    wanted = {
        "upper wing": 1, "lower wing panel": 2, "lower wing aileron": 2, "tailplane": 1, "elevator": 1, "fin": 1,
        "rudder": 1, "body side, starboard": 1, "body side, port": 1, "former 1": 1, "former 4": 1, "fore deck": 1, "aft deck": 1, "firewall": 1,
        "interplane strut": 2, "cabane strut": 2, "lower wing brace": 1, "servo tray": 1, "nose base": 1,
        "nose ring": 1, "nose front": 1,
    }  # fmt: skip
    assert wanted.items() <= have.items()
    assert {r.key for r in kit.rods} == {"carbon-strip-6x1", "wire-2"}


def test_moving_the_battery_between_two_formers_cuts_nothing_anew(text_of, stock):
    text = text_of("dunnock")
    first = make_kit(airframe(loads(text), stock), stock)
    second = make_kit(
        airframe(loads(text.replace("pack_at = [66, 0, -14]", "pack_at = [64, 0, -14]")), stock), stock
    )
    assert first.parts[0] is second.parts[0]
    side = [kit.part("body side, port") for kit in (first, second)]
    assert (side[0].outline == side[1].outline).all()
    assert side[0].marks != side[1].marks


def test_the_same_design_gives_the_same_bytes(text_of, stock):
    from sheetlark.parts import kit as room

    text = text_of("backstagger")
    kits = []
    for _ in range(2):
        room._made.cache_clear()
        kits.append(make_kit(airframe(loads(text), stock), stock))
    for a, b in zip(kits[0].parts, kits[1].parts, strict=True):
        assert a.outline.tobytes() == b.outline.tobytes()
        assert a.marks == b.marks


def test_the_balance_point_is_drawn_where_it_is_stated(built):
    frame = built("dunnock").airframe
    kit = with_balance(built("dunnock").kit, frame, 170.0)
    assert all(
        any(m.kind == "balance" for m in kit.part(f"body side, {word}").marks)
        for word in ("starboard", "port")
    )
    side = kit.part("body side, starboard")
    (mark,) = [m for m in side.marks if m.kind == "balance"]
    u = mark.points[0][0]
    piece = min(
        side.copies[0], key=lambda p: abs(np.clip(u, p.outline[:, 0].min(), p.outline[:, 0].max()) - u)
    )
    assert (piece.matrix @ np.array([u, 0, 0, 1]))[0] == pytest.approx(170.0, abs=1e-6)
    (mark,) = [m for m in kit.part("wing panel").marks if m.kind == "balance"]
    matrix = kit.part("wing panel").copies[0][0].matrix
    assert (matrix @ np.array([*mark.points[0], 0, 1]))[0] == pytest.approx(170.0, abs=1e-6)


def test_a_wing_longer_than_the_sheet_is_cut_in_halves(text_of, stock):
    text = text_of("brambling").replace("span = 720", "span = 780")
    kit = make_kit(airframe(loads(text), stock), stock)
    assert kit.part("upper wing panel").count == 2


@pytest.mark.parametrize(
    ("old", "new", "words", "where"),
    [
        ("height = 14", "height = 70", "at most 46.0 mm|can stand at most", ("body", "fore_deck")),
        ("height = 12", "height = 1", "is flat", ("body", "aft_deck")),
        ("span = 680", "span = 1700", "Shorten the span", ("wing", 1)),
        ('nose = "round"', 'nose = "round"\nnose_length = "8 mm"', "too short", ("body", "nose_length")),
    ],
)
def test_what_cannot_be_built_is_refused_by_name(text_of, stock, old, new, words, where):
    text = text_of("brambling")
    assert old in text
    with pytest.raises(GeometryError, match=words) as caught:
        make_kit(airframe(loads(text.replace(old, new, 1)), stock), stock)
    assert caught.value.where[: len(where)] == where


def test_a_fin_on_a_moving_surface_is_refused(text_of, stock):
    text = text_of("turnstone").replace("at = [358, -4]\ny = 258 ", "at = [436, -4]\ny = 150 ")
    assert "y = 150" in text
    with pytest.raises(GeometryError, match="moving surface"):
        make_kit(airframe(loads(text), stock), stock)


@pytest.mark.parametrize("name", ["dunnock", "brambling"])
def test_a_tail_skid_stands_in_the_bottom_cover(build_text, text_of, name):
    b = build_text(text_of(name).replace("mount_z", "skid = true\nmount_z", 1))
    assert b.proof.clean, [f.says for f in b.proof.findings]
    skid = b.kit.part("tail skid")
    joint = next(j for j in b.kit.joints if j.second == "tail skid" and j.kind == "tab-and-slot")
    assert joint.first.startswith("bottom cover")
    corners = [(p.matrix @ np.array([*v, 0.0, 1.0]))[:3] for p in skid.copies[0] for v in p.outline]
    foot = min(corners, key=lambda c: (c[2], -c[0]))
    low, _ = b.airframe.body.heights_m(1e-3 * foot[0])
    assert foot[2] == pytest.approx(1e3 * low - 14.0, abs=1.0)


def test_a_skids_tab_has_the_cover_all_round_it(build_text, text_of):
    """The bottom cover ends where the body grows too narrow for one."""
    text = text_of("dunnock").replace("mount_z", "skid = true\nmount_z", 1)
    narrow = text.replace("[280, 60], [562, 14]", "[280, 60], [478, 18], [562, 14]")
    assert narrow != text
    b = build_text(narrow)
    assert b.proof.clean, [f.says for f in b.proof.findings]
    assert any(j.second == "tail skid" and j.kind == "tab-and-slot" for j in b.kit.joints)


def test_a_rudder_over_a_pushers_plate_swings_clear_of_it(build_text, text_of):
    text = re.sub(r"(?m)^y = 258.*\n", "", text_of("turnstone")).replace("at = [358, -4]", "at = [390, 13]")
    rudder = "[fin.rudder]\nchord = 0.45\nup = 28\ndown = 28\n"
    b = build_text(text.replace("\n[body]", f"{rudder}\n[body]", 1))
    (piece,) = b.kit.part("rudder").copies[0]
    aft = (piece.matrix[0, :2] @ piece.outline.T + piece.matrix[0, 3]).max()
    assert aft > b.kit.part("firewall").copies[0][0].matrix[0, 3] + 5.0  # it reaches over it
    assert not [f.says for f in b.proof.findings if "firewall" in (f.first, f.second)]


def test_a_banded_wing_has_dowels_doublers_and_comes_off(built):
    b = built("low-wing-bands")
    assert {r.name for r in b.kit.rods} == {"wing dowel, front", "wing dowel, rear"}
    assert {p.name for p in b.kit.parts} >= {"dowel doubler, front", "dowel doubler, rear", "wing brace"}
    (removal,) = b.kit.removals
    assert removal.parts == ("wing panel", "wing aileron", "wing brace")
    holes = sorted(h.mean(axis=0)[0] for h in b.kit.part("body side").holes if np.ptp(h[:, 0]) < 5)
    assert len(holes) == 2


def test_a_bolted_wing_has_plates_with_the_wings_own_holes(built):
    kit = built("v-tail").kit
    plates = [p for p in kit.parts if "bolt plate" in p.name]
    assert len(plates) == 2
    wing = kit.part("wing panel")
    drilled = [h for h in wing.holes if np.ptp(h[:, 0]) < 6 and abs(np.ptp(h[:, 0]) - np.ptp(h[:, 1])) < 0.1]
    assert len(drilled) == 2
    for plate in plates:
        bolts = [(plate.copies[0][0].matrix @ np.array([*h.mean(axis=0), 0, 1]))[:2] for h in plate.holes]
        assert len(bolts) == 2
        starboard = next(b for b in bolts if b[1] > 0)
        through = [(wing.copies[0][0].matrix @ np.array([*h.mean(axis=0), 0, 1]))[:2] for h in drilled]
        assert min(np.linalg.norm(t - starboard) for t in through) < 0.4


def test_a_strut_sets_stagger_gap_and_incidence(built):
    """The strut's two shoulders lie on the wings' faces, wherever those stand and however they are tilted."""
    b = built("backstagger")
    strut = b.kit.part("interplane strut")
    piece = strut.copies[0][0]
    corners = [(piece.matrix @ np.array([*p, 0.0, 1.0]))[:3] for p in piece.outline]
    for wing, face in ((b.airframe.wings[0], -1), (b.airframe.wings[1], 1)):
        to_wing = np.linalg.inv(wing.matrix())
        w = [float((to_wing @ np.array([*c, 1.0]))[2]) for c in corners]
        on_face = [v for v in w if abs(v - face * 2.5) < 0.3]
        assert len(on_face) >= 4  # both shoulders and both roots of the tab
    assert piece.outline[:, 0].max() - piece.outline[:, 0].min() > 36 + 20  # it leans by the stagger


def glue(kit, first, second):
    return sum(
        j.length_mm
        for j in kit.joints
        if (j.first, j.second, j.kind, j.held) == (first, second, "butt", "glue")
    )


def test_glue_lines_are_as_long_as_the_edges_they_hold(built):
    kit = built("brambling").kit
    former = kit.part("former 2")
    straight = [
        abs(a[1] - b[1])
        for a, b in zip(former.outline, np.roll(former.outline, -1, axis=0), strict=True)
        if abs(a[0] - b[0]) < 0.1
    ]
    sides = [glue(kit, f"body side, {word}", "former 2") for word in ("starboard", "port")]
    assert sum(sides) == pytest.approx(sum(straight), abs=4.0)
    assert sides[0] == pytest.approx(sides[1], abs=0.1)
    ring = kit.part("nose ring")
    assert glue(kit, "nose front", "nose ring") == pytest.approx(ring.size_mm[0], rel=0.02)
    brace = kit.part("lower wing brace")
    assert glue(kit, "lower wing panel", "lower wing brace") == pytest.approx(brace.size_mm[0], abs=2.0)
    # The fin's foot from the tailplane's leading edge to its own hinge line, whose share is that of the root.
    assert glue(built("dunnock").kit, "tailplane", "fin") == pytest.approx(448 + 0.55 * 114 - 452, abs=1.5)


@pytest.mark.parametrize("name", NAMES)
def test_no_bead_of_glue_is_counted_twice(built, name):
    """No two beads lie on one another: neither between the same two parts nor with the two named the other way."""
    beads = [
        (frozenset((j.first, j.second)), np.array(run))
        for j in built(name).kit.joints
        if j.held == "glue"
        for run in j.runs_mm
    ]
    for i, (pair, a) in enumerate(beads):
        for other, b in beads[i + 1 :]:
            if pair == other and len(a) == len(b) == 2:
                middle = 0.5 * (a[0] + a[1])
                along = b[1] - b[0]
                t = float(np.clip((middle - b[0]) @ along / (along @ along), 0.0, 1.0))
                assert np.linalg.norm(b[0] + t * along - middle) > 2.0, (pair, a, b)


@pytest.mark.parametrize("name", ["dunnock", "brambling"])
def test_a_skid_is_glued_along_its_edge_once(build_text, text_of, name):
    kit = build_text(text_of(name).replace("mount_z", "skid = true\nmount_z", 1)).kit
    beads = [j for j in kit.joints if j.second == "tail skid" and j.held == "glue"]
    # 40 mm long where it leaves the body, less what the cover's slope cuts off at its ends.
    assert 30.0 < sum(j.length_mm for j in beads) <= 42.0
