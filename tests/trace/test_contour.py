"""Outlines moved to the middle of their own stroke."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw
from scipy import ndimage

from sheetlark.trace.shapes.contour import crossings, crossings_each, trace_rings


def test_a_line_close_outside_an_outline_does_not_draw_it_there() -> None:
    """A propeller seen edge on five pixels ahead of a flat nose, in a picture its silhouette is half as fine as."""
    picture = Image.new("L", (400, 300), 0)
    pencil = ImageDraw.Draw(picture)
    pencil.rectangle((100, 100, 300, 200), outline=255, width=2)
    pencil.line([(95, 40), (95, 260)], fill=255, width=2)
    dark = ndimage.gaussian_filter(np.asarray(picture, dtype=np.float64) / 255.0, 0.6)
    found = trace_rings(np.ones((51, 101), dtype=bool), (50, 50), pool=2, dark=dark, pen_px=2.0)
    ring = found.rings[0]
    side = ring[(ring[:, 1] > 115) & (ring[:, 1] < 185) & (ring[:, 0] < 200), 0]
    assert np.abs(side - 100.5).max() < 0.5


def test_many_lines_cut_at_once_are_cut_as_each_alone() -> None:
    """In any order, through corners, along sides and beside both figures; of a crescent two pieces a line."""
    turn = np.linspace(0.0, 2.0 * np.pi, 41)[:-1]
    crescent = np.c_[np.cos(turn) + 1.2 * np.sin(turn) ** 2, np.sin(turn)]
    rings = (crescent, np.array([[2.0, 0.0], [3.0, 0.0], [3.0, 1.0], [2.0, 1.0]]))
    levels = np.r_[1.0, np.linspace(-1.5, 3.5, 57)[::-1], 0.0, crescent[7], 2.0, 3.0, 9.0]
    for axis in (0, 1):
        alone = [crossings(rings, float(level), axis) for level in levels]
        assert {len(cuts) for cuts in alone} >= {0, 1, 2}
        for found, cuts in zip(crossings_each(rings, levels, axis), alone, strict=True):
            np.testing.assert_array_equal(found, cuts)
