"""A plate is glued to what it lies against, not to what merely stands near it."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import box

from sheetlark.parts.backing import PACKED_MM, backing
from sheetlark.parts.blank import Blank
from sheetlark.parts.facets import Facet


def upright(name, x, thickness, shape=None, tilt_deg=0.0):
    a = np.radians(tilt_deg)
    m = np.eye(4)
    m[:3, 0], m[:3, 1], m[:3, 2] = (0, 1, 0), (np.sin(a), 0, np.cos(a)), (np.cos(a), 0, -np.sin(a))
    m[:3, 3] = (x, 0, 0)
    return Blank(
        name=name, group="body", sheet="ply-2", paper="none", thickness=thickness,
        shape=shape if shape is not None else box(-15, -15, 15, 15), facets=(Facet(None, m),),
    )  # fmt: skip


FORMER = upright("former", 20.0, 5.0, box(-30, -40, 30, 40))


@pytest.mark.parametrize("gap", [0.0, 0.3, 2.0, 4.9])
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_the_gap_is_measured_face_to_face(gap, side):
    wall = upright("wall", 20.0 + side * (2.5 + gap + 1.0), 2.0)
    found = backing(wall, [FORMER])
    assert (found.least_mm, found.most_mm) == (pytest.approx(gap), pytest.approx(gap))
    assert found.touches == (gap < 0.4)


def test_a_tilt_is_a_wedge():
    found = backing(upright("wall", 14.0, 2.0, tilt_deg=3.0), [FORMER])
    assert found.most_mm - found.least_mm == pytest.approx(30.0 * np.sin(np.radians(3.0)), abs=0.01)


@pytest.mark.parametrize(
    "wall",
    [
        upright("far", 20.0 - 2.5 - 1.0 - PACKED_MM - 0.1, 2.0),
        upright("beside", 16.0, 2.0, box(31, -15, 61, 15)),
        upright("over an opening", 16.0, 2.0, box(-29.9, 39, -25, 45)),
        upright("askew", 14.0, 2.0, tilt_deg=40.0),
    ],
    ids=lambda b: b.name,
)
def test_what_does_not_lie_against_it_is_not_held(wall):
    assert backing(wall, [FORMER]) is None


def test_the_nearest_is_taken():
    behind = upright("behind", 25.5, 5.0, box(-30, -40, 30, 40))
    wall = upright("wall", 15.0, 2.0)
    assert backing(wall, [behind, FORMER]).host is FORMER


def test_the_kit_says_how_thick_the_packing_is(built):
    kit = built("dunnock").kit
    (note,) = [n for n in kit.notes if "wedge" in n]
    least, most = (
        float(v) for v in (note.split("stands ")[1].split(" to ")[0], note.split(" to ")[1].split()[0])
    )
    # The plate of 36 mm, tilted 3 degrees down and 2 to the right.
    assert most - least == pytest.approx(36.0 * (np.sin(np.radians(3.0)) + np.sin(np.radians(2.0))), abs=0.2)
