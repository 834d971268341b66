"""Half laps: stated once, they slot both parts half-way, and the two slide home without play beyond the stated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from sheetlark.parts import prove
from sheetlark.parts.blank import Blank, Facet
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
