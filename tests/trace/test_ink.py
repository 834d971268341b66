"""How wide the pen is, from the ink alone."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from sheetlark.trace.paper.ink import Floats, Mask, pen_width


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
