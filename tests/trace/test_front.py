"""The middle of a front view."""

from __future__ import annotations

import numpy as np
import pytest

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.front import front_wings, mirror_line


@pytest.mark.parametrize("off", [-18.0, 0.0, 13.0])
def test_the_middle_is_where_the_ink_is_mirrored(off: float) -> None:
    """An extension line at one tip moves the silhouette's middle, and not the mirror line. Span 1000 mm."""

    def ink(y: Floats, z: Floats) -> Floats:
        wing = (np.abs(y - off) < 500.0) & (np.abs(z - 100.0 - 0.05 * np.abs(y - off)) < 6.0)
        body = np.abs(np.hypot(y - off, z - 80.0) - 60.0) < 4.0
        extension = (y < off - 480.0) & (y > off - 545.0) & (np.abs(z - 130.0) < 3.0)
        return np.asarray((wing | body | extension).astype(np.float64))

    assert mirror_line(ink, span=1000.0, high=200.0) == pytest.approx(off, abs=1.5)


@pytest.mark.parametrize("faint", [False, True])
def test_a_wing_of_which_one_face_is_faint_is_a_wing_and_a_dimension_line_below_is_none(faint: bool) -> None:
    def ink(y: Floats, z: Floats) -> Floats:
        within = np.abs(y) < 490.0
        upper = within & (np.minimum(np.abs(z - 290.0), np.abs(z - 305.0)) < 2.0)
        lower = within & (np.minimum(np.abs(z - 120.0), np.abs(z - 135.0) + (9.0 if faint else 0.0)) < 2.0)
        dimension = within & (np.abs(z + 40.0) < 2.0)
        return np.asarray((upper | lower | dimension).astype(np.float64))

    found = front_wings(ink, semi=500.0, low=-120.0, high=330.0 + 120.0, pen=4.0)
    assert [w.z_mm for w in found] == pytest.approx([127.5, 297.5], abs=9.0)


def test_a_centre_line_is_no_wing_and_specks_beyond_a_tip_do_not_lengthen_it() -> None:
    """The centre line goes on beyond the span, 36 mm above the lower wing; the specks lie level with that wing."""

    def ink(y: Floats, z: Floats) -> Floats:
        upper = (np.abs(y) < 490.0) & (np.minimum(np.abs(z - 290.0), np.abs(z - 305.0)) < 2.0)
        lower = (np.abs(y) < 360.0) & (np.minimum(np.abs(z - 120.0), np.abs(z - 130.0)) < 2.0)
        centre = (np.abs(y) < 545.0) & (np.abs(z - 166.0) < 2.0) & (np.abs(y) % 60.0 < 45.0)
        specks = (np.hypot(y - 440.0, z - 124.0) < 6.0) | (np.hypot(y + 470.0, z - 128.0) < 5.0)
        return np.asarray((upper | lower | centre | specks).astype(np.float64))

    found = front_wings(ink, semi=500.0, low=-120.0, high=330.0 + 120.0, pen=4.0)
    assert [w.z_mm for w in found] == pytest.approx([125.0, 297.5], abs=4.0)
    assert [w.semi_mm for w in found] == pytest.approx(
        [358.0, 488.0], abs=1.0
    )  # the ink ends half a pen beyond


def test_two_thick_wings_are_two_although_each_shows_two_faces_far_apart() -> None:
    """Faces 36 mm apart are told apart from station to station; two of one wing are not two wings."""

    def ink(y: Floats, z: Floats) -> Floats:
        upper = (np.abs(y) < 490.0) & (np.minimum(np.abs(z - 280.0), np.abs(z - 316.0)) < 2.0)
        lower = (np.abs(y) < 430.0) & (np.minimum(np.abs(z - 100.0), np.abs(z - 132.0)) < 2.0)
        return np.asarray((upper | lower).astype(np.float64))

    found = front_wings(ink, semi=500.0, low=-120.0, high=330.0 + 120.0, pen=4.0)
    assert [w.z_mm for w in found] == pytest.approx([116.0, 298.0], abs=4.0)
    assert [w.semi_mm for w in found] == pytest.approx([430.0, 490.0], abs=6.0)


def test_wings_drawn_with_hairlines_that_taper_are_found() -> None:
    """Strokes of less than a pixel, nowhere darker than 0.4; 16 mm thick at the middle of a span of 800 mm."""

    def ink(y: Floats, z: Floats) -> Floats:
        out = np.zeros(np.broadcast(y, z).shape)
        for height, semi, rise in ((240.0, 400.0, 0.0), (60.0, 340.0, 0.05)):
            at = height + rise * np.abs(y)
            half = 8.0 - 4.0 * np.abs(y) / 400.0
            faces = np.minimum(np.abs(z - at - half), np.abs(z - at + half))
            out = np.maximum(out, np.where((np.abs(y) < semi) & (faces < 0.9), 0.4, 0.0))
        return out

    found = front_wings(ink, semi=400.0, low=-96.0, high=350.0, pen=1.2)
    assert [w.z_mm for w in found] == pytest.approx([60.0, 240.0], abs=4.0)
    assert [w.semi_mm for w in found] == pytest.approx([340.0, 400.0], abs=4.0)


def test_a_line_across_one_tip_does_not_lengthen_a_wing() -> None:
    """A scratch runs on from the lower wing's tip at a small angle, in one half alone; a break is in the other."""

    def ink(y: Floats, z: Floats) -> Floats:
        upper = (np.abs(y) < 490.0) & (np.minimum(np.abs(z - 290.0), np.abs(z - 305.0)) < 2.0)
        lower = (np.abs(y) < 390.0) & (np.minimum(np.abs(z - 50.0), np.abs(z - 62.0)) < 2.0)
        scratch = (y > 200.0) & (np.abs(z - 10.0 - 0.12 * y) < 2.0)
        broken = (y < -150.0) & (y > -170.0)
        return np.asarray(((upper | lower | scratch) & ~broken).astype(np.float64))

    found = front_wings(ink, semi=500.0, low=-120.0, high=425.0, pen=4.0)
    assert [w.z_mm for w in found] == pytest.approx([56.0, 297.5], abs=3.0)
    assert [w.semi_mm for w in found] == pytest.approx([388.0, 488.0], abs=3.0)


def test_a_wing_whose_faces_come_together_toward_its_tips_is_one() -> None:
    """28 mm apart at the root, 21 at the tip: about as far as strokes of one wing were told from those of two."""

    def ink(y: Floats, z: Floats) -> Floats:
        half = 14.0 - 3.5 * np.abs(y) / 490.0
        upper = (np.abs(y) < 490.0) & (np.abs(np.abs(z - 306.0) - half) < 1.0)
        lower = (np.abs(y) < 420.0) & (np.abs(np.abs(z - 73.0 - 0.047 * np.abs(y)) - 10.0) < 1.0)
        return np.asarray((upper | lower).astype(np.float64))

    found = front_wings(ink, semi=500.0, low=-120.0, high=440.0, pen=2.0)
    assert [w.z_mm for w in found] == pytest.approx([73.0, 306.0], abs=1.5)
    assert [w.dihedral_deg for w in found] == pytest.approx([2.7, 0.0], abs=0.2)


def test_a_slanting_line_across_both_halves_is_no_wing() -> None:
    """Seen in both halves at once it lies level: as far up on one side as down on the other."""

    def ink(y: Floats, z: Floats) -> Floats:
        wing = (np.abs(y) < 495.0) & (np.minimum(np.abs(z - 190.0), np.abs(z - 205.0)) < 2.0)
        line = np.abs(z - 270.0 - 0.028 * y) < 1.5
        return np.asarray((wing | line).astype(np.float64))

    assert [w.z_mm for w in front_wings(ink, semi=500.0, low=-120.0, high=320.0, pen=4.0)] == pytest.approx(
        [197.5], abs=2.0
    )


def test_a_wing_broken_in_one_half_is_a_wing() -> None:
    def ink(y: Floats, z: Floats) -> Floats:
        upper = (np.abs(y) < 495.0) & (np.minimum(np.abs(z - 290.0), np.abs(z - 305.0)) < 2.0)
        lower = (np.abs(y) < 400.0) & (np.minimum(np.abs(z - 120.0), np.abs(z - 135.0)) < 2.0)
        torn = (y > 180.0) & (y < 320.0) & (z < 200.0)
        return np.asarray(((upper | lower) & ~torn).astype(np.float64))

    found = front_wings(ink, semi=500.0, low=-120.0, high=420.0, pen=4.0)
    assert [w.z_mm for w in found] == pytest.approx([127.5, 297.5], abs=2.0)


def test_a_line_across_the_sheet_a_little_askew_is_no_wing() -> None:
    """It goes on beyond both tips, nearly level, through the middle of the view."""

    def ink(y: Floats, z: Floats) -> Floats:
        wing = (np.abs(y) < 495.0) & (np.minimum(np.abs(z - 290.0), np.abs(z - 305.0)) < 3.0)
        line = np.abs(z - 125.0 - 0.005 * y) < 1.0
        return np.asarray((wing | line).astype(np.float64))

    found = front_wings(ink, semi=500.0, low=-120.0, high=420.0, pen=6.0)
    assert [w.z_mm for w in found] == pytest.approx([297.5], abs=2.0)
