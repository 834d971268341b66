"""What is ink and what a speck, and how wide the pen is."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from sheetlark.trace.paper.ink import Floats, Mask, ink_mask, pen_width


def _sheet(pen: int, filling: float) -> tuple[Mask, Floats]:
    """A swept wing and a slender body, outlined or filled, and a dimension line across the sheet: the ink, how dark."""
    page = Image.new("L", (900, 700), 0)
    pencil = ImageDraw.Draw(page)
    for ring in (
        [(60, 330), (440, 150), (820, 330), (820, 345), (440, 260), (60, 345)],
        [(100, 520), (260, 500), (760, 535), (760, 545), (260, 570), (100, 550)],
    ):
        pencil.polygon(ring, fill=round(100 * filling))
        pencil.line([*ring, ring[0]], fill=100, width=pen)
    pencil.line([(60, 640), (180, 640)], fill=100, width=pen)
    dark = np.asarray(page, dtype=np.float64) / 100.0
    return dark > 0.0, dark


@pytest.mark.parametrize("filling", [0.0, 0.4])
@pytest.mark.parametrize("pen", [6, 9])
def test_a_pen_is_as_wide_as_its_lines(pen: int, filling: float) -> None:
    """Up to a pixel or two that slanted lines drawn in whole pixels lack; a pale filling's ridges are no lines."""
    assert 0.7 * pen < pen_width(*_sheet(pen, filling)) <= pen


@pytest.mark.parametrize("filling", [0.7, 1.0])
@pytest.mark.parametrize("pen", [1, 3])
def test_dark_figures_tell_no_pen(pen: int, filling: float) -> None:
    """The ridges of a swept wing and a slender body are no strokes; the few lines beside them are too little to go by."""
    assert pen_width(*_sheet(pen, filling)) == 3.0


def test_the_short_dashes_a_hard_pen_leaves_of_a_line_are_no_specks() -> None:
    """A line of one pixel that hardly slants, a pixel of paper between its steps; specks alone, beside it, and in a pair."""
    dark = np.zeros((60, 200))
    steps = np.arange(10, 190, 7)
    for k, x in enumerate(steps):
        dark[20 + k // 2, x : x + 6] = 1.0
    dark[45, 30:34] = dark[23, 150:153] = dark[50, 100:103] = dark[50, 104:107] = 1.0
    assert dark[18:24, 150:156].any()
    ink = ink_mask(dark)
    line = np.zeros_like(ink)
    for k, x in enumerate(steps[1:-1], start=1):
        line[20 + k // 2, x : x + 6] = True
    assert ink[line].all()
    assert not ink[40:].any()
    assert not ink[23, 150:153].any()
