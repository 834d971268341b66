"""Half laps: stated once, they slot both parts half-way, and the two slide home without play beyond the stated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from sheetlark.errors import GeometryError
from sheetlark.parts import prove
from sheetlark.parts.blank import Blank
from sheetlark.parts.facets import Facet
from sheetlark.parts.fits import SLOT_FIT_MM
from sheetlark.parts.laps import half_lap, runs_through


def plate(name, shape, axes, thickness=5.0):
    matrix = np.eye(4)
    matrix[:3, :3] = np.column_stack(axes)
    return Blank(
        name=name, group="tail", sheet="foam-board-5", paper="both", thickness=thickness, shape=shape,
        facets=(Facet(None, matrix),),
    )  # fmt: skip


X, Y, Z = np.eye(3)


def crossed(lean_deg=90.0, thickness=5.0):
    a = np.radians(lean_deg)
    lying = plate("lying", box(0, -60, 100, 60), (X, Y, Z))
    v = np.cos(a) * Y + np.sin(a) * Z
    upright = plate("upright", box(10, -40, 120, 50), (X, v, np.cross(X, v)), thickness)
    return lying, upright


@pytest.mark.parametrize("thickness", [3.0, 5.0])
def test_each_loses_half_of_the_line_they_share(thickness):
    lying, upright = crossed(thickness=thickness)
    before = [b.shape.area for b in (lying, upright)]
    assert runs_through(upright, lying)
    joint = half_lap(upright, lying)
    assert joint.kind == "half-lap"
    assert joint.length_mm == pytest.approx(90.0)  # from x 10 to x 100
    lost = [b - blank.shape.area for b, blank in zip(before, (lying, upright), strict=True)]
    # From the middle, x 55, out through the nearer of each part's edges, as wide as the other is thick; and the play.
    assert lost[0] == pytest.approx((45.0 + SLOT_FIT_MM / 2) * (thickness + SLOT_FIT_MM), rel=1e-3)
    assert lost[1] == pytest.approx((45.0 + SLOT_FIT_MM / 2) * (5.0 + SLOT_FIT_MM), rel=1e-3)
    assert (lying.solid() ^ upright.solid()).volume() == pytest.approx(0.0, abs=1e-6)


def test_the_last_millimetre_slides_home():
    """Drawn apart along the line by any way, the two never touch: the slots face each other."""
    lying, upright = crossed()
    half_lap(upright, lying)
    for way in (0.5, 5.0, 20.0, 60.0, 120.0):
        # The upright's slot opens aft or forward: it leaves in one of the two directions.
        hits = [(lying.solid() ^ upright.solid().translate((s * way, 0, 0))).volume() for s in (1.0, -1.0)]
        assert min(hits) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("lean", [60.0, 75.0, 120.0])
def test_plates_that_lean_get_wider_slots(lean):
    lying, upright = crossed(lean)
    assert half_lap(upright, lying) is not None
    assert (lying.solid() ^ upright.solid()).volume() == pytest.approx(0.0, abs=1e-6)


def test_plates_that_do_not_cross_are_left_alone():
    lying, _ = crossed()
    above = plate("above", box(10, 5, 90, 50), (X, Z, -Y))
    assert half_lap(above, lying) is None
    assert not runs_through(above, lying)


def lapped(text):
    return text.replace("at = [448, 24]", "at = [448, -20]")


def test_a_fin_that_runs_on_below_is_lapped_with_the_tailplane(build_text, text_of, stock):
    b = build_text(lapped(text_of("dunnock")))
    assert b.proof.clean, [f.says for f in b.proof.findings]
    (joint,) = [j for j in b.kit.joints if j.kind == "half-lap"]
    assert {joint.first, joint.second} == {"fin", "tailplane"}
    fin = b.kit.part("fin")
    assert fin.size_mm[1] == pytest.approx(105.0, abs=0.1)  # all of it, above and below
    glue = sum(
        j.length_mm for j in b.kit.joints if {j.first, j.second} == {"fin", "tailplane"} and j.held == "glue"
    )
    assert glue == pytest.approx(joint.length_mm, abs=4.0)
    # Moved 2 mm up, the fin no longer finds its slot.
    up = np.eye(4)
    up[2, 3] = 2.0
    copies = tuple(tuple(replace(p, matrix=up @ p.matrix) for p in copy) for copy in fin.copies)
    spoilt = tuple(replace(fin, copies=copies) if p is fin else p for p in b.kit.parts)
    found = prove(replace(b.kit, parts=spoilt), b.airframe, stock).findings
    assert any(f.kind == "overlap" and {f.first, f.second} == {"fin", "tailplane"} for f in found)


def braced(text, feet_mm):
    assert "y = 250\nplace = 0.45\nchord = 40" in text
    return text.replace(
        "y = 250\nplace = 0.45\nchord = 40", f"y = 250\nplace = 0.45\nchord = 40\ncrossed = {feet_mm}"
    )


@pytest.mark.parametrize("feet", [40, 130])
def test_two_braces_cross_and_are_slotted_half_and_half(build_text, text_of, feet):
    b = build_text(braced(text_of("brambling"), feet))
    assert b.proof.clean, [f.says for f in b.proof.findings]
    out, back = (b.kit.part(f"cross brace, {w}") for w in ("outwards", "inwards"))
    assert out.count == back.count == 2
    (joint,) = [j for j in b.kit.joints if j.kind == "half-lap"]
    assert {joint.first, joint.second} == {out.name, back.name}
    starboard, port = (np.array(r) for r in joint.runs_mm)
    assert starboard * (1, -1, 1) == pytest.approx(port)
    # They cross half-way between their feet, over one half of the wing.
    assert starboard[:, 1] == pytest.approx(250.0, abs=4.0)
    assert np.ptp(starboard[:, 0]) == pytest.approx(40.0, abs=1.0)
    # Feet and heads stand as far apart as stated, on the wings' middle surfaces.
    for part, sign in ((out, 1.0), (back, -1.0)):
        piece = part.copies[0][0]
        ends = (
            piece.matrix
            @ np.column_stack([piece.outline, np.zeros(len(piece.outline)), np.ones(len(piece.outline))]).T
        )
        lowest, highest = ends[1][np.argmin(ends[2])], ends[1][np.argmax(ends[2])]
        assert highest - lowest == pytest.approx(sign * feet, abs=0.06 * feet + 1.0)
    # The glue runs where they cross.
    glue = sum(
        j.length_mm for j in b.kit.joints if {j.first, j.second} == {out.name, back.name} and j.held == "glue"
    )
    assert glue == pytest.approx(joint.length_mm, abs=8.0)


@pytest.mark.parametrize(("thinner", "found"), [(0.05, False), (0.4, True), (2.0, True)])
def test_a_brace_that_rattles_in_its_slot_is_found(build_text, text_of, stock, thinner, found):
    """The same slots, thinner sheet than they were cut for."""
    b = build_text(braced(text_of("brambling"), 130))
    part = b.kit.part("cross brace, outwards")
    wrong = replace(part, thickness_mm=part.thickness_mm - thinner)
    kit = replace(b.kit, parts=tuple(wrong if p is part else p for p in b.kit.parts))
    rattles = [f for f in prove(kit, b.airframe, stock).findings if "rattles" in f.says]
    assert bool(rattles) == found
    assert all(f.kind == "fit" and f.second == part.name for f in rattles)


@pytest.mark.parametrize("spoil", ["moved", "one slot filled", "thicker"])
def test_a_spoilt_crossing_is_caught(build_text, text_of, stock, spoil):
    b = build_text(braced(text_of("brambling"), 130))
    part = b.kit.part("cross brace, outwards")
    if spoil == "moved":
        aside = np.eye(4)
        aside[1, 3] = 2.0
        wrong = replace(
            part, copies=tuple(tuple(replace(q, matrix=aside @ q.matrix) for q in c) for c in part.copies)
        )
    elif spoil == "thicker":
        wrong = replace(part, thickness_mm=6.0)
    else:
        from shapely.geometry import Polygon

        whole = np.asarray(Polygon(part.outline).convex_hull.exterior.coords)[:-1]
        wrong = replace(
            part,
            outline=whole,
            copies=tuple(tuple(replace(q, outline=whole) for q in c) for c in part.copies),
        )
    kit = replace(b.kit, parts=tuple(wrong if p is part else p for p in b.kit.parts))
    found = prove(kit, b.airframe, stock).findings
    assert any(
        f.kind == "overlap"
        and {f.first.removesuffix(", port"), f.second.removesuffix(", port")}
        == {"cross brace, outwards", "cross brace, inwards"}
        for f in found
    ), [f.says for f in found]


def test_braces_that_cannot_cross_are_refused(build_text, text_of):
    with pytest.raises(GeometryError, match="would cross the centre line"):
        build_text(braced(text_of("brambling"), 520))
    with pytest.raises(GeometryError, match="set their feet further apart"):
        build_text(braced(text_of("brambling"), 2))
    cabane = text_of("brambling").replace("y = 34\n", "y = 34\ncrossed = 20\n")
    with pytest.raises(GeometryError, match="join two wings, not the body"):
        build_text(cabane)
