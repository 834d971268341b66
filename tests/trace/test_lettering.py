"""Rows of lettering told from pieces of an outline."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont
from scipy import ndimage

from sheetlark.trace.paper.lettering import lettering


def _page(word: str = "", *, turned: bool = False, spaced: int = 0) -> np.ndarray:
    """A wing in outline, with a word beside it, letters `spaced` pixels wider apart than usual."""
    page = Image.new("L", (700, 500), 0)
    pen = ImageDraw.Draw(page)
    pen.line([(100, 100), (600, 130), (600, 190), (100, 220), (100, 100)], fill=255, width=3)
    font = ImageFont.load_default(20)
    at = 260.0
    for letter in word:
        pen.text((at, 270), letter, fill=255, font=font)
        at += font.getlength(letter) + spaced
    ink = np.asarray(page) > 127
    return ink.T if turned else ink


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(("word", "spaced"), [("PLAN", 2), ("1180", 2), ("680", -3)])
def test_a_word_is_found_and_the_figure_is_not(word: str, spaced: int, turned: bool) -> None:
    """Also where its letters run together."""
    ink, figure = _page(word, turned=turned, spaced=spaced), _page(turned=turned)
    assert (lettering(ink, pen_px=3.0) == (ink & ~figure)).all()


def test_lettering_drawn_with_a_much_finer_pen_than_the_figure_is_found() -> None:
    ink, figure = _page("PLAN VIEW", spaced=2), _page()
    thick = ndimage.binary_dilation(figure, iterations=2)
    written = ink & ~figure
    assert (lettering(thick | written, pen_px=7.0) == written).all()


def test_dashes_and_hatching_strokes_are_no_lettering() -> None:
    page = Image.new("L", (700, 500), 0)
    pen = ImageDraw.Draw(page)
    for x in range(100, 400, 14):
        pen.line([(x, 300), (x + 9, 300)], fill=255, width=3)
        pen.line([(x, 380), (x + 15, 365)], fill=255, width=3)
    assert not lettering(np.asarray(page) > 127, pen_px=3.0).any()


def test_a_nose_worn_off_its_wing_is_no_word() -> None:
    """A thin round piece of outline with ragged rims: one line along it crosses it many times."""
    page = Image.new("L", (2000, 500), 0)
    nose = [(260, 200), (280, 217), (400, 221), (420, 232), (400, 264)]
    ImageDraw.Draw(page).line(nose, fill=255, width=1)
    ink = np.asarray(page) > 127
    shallow = np.nonzero(ink[219])[0]
    assert shallow.size > 11
    ink[219, shallow[1:-1:2]] = False
    ink[220, shallow[1:-1:2]] = True
    assert not lettering(ink, pen_px=1.0).any()


def test_a_long_piece_of_outline_beside_a_round_one_is_no_row() -> None:
    """A wing's edge with the side of a body, worn off the rest, and a spinner from ahead, as high and level with it."""
    page = Image.new("L", (2200, 900), 0)
    pen = ImageDraw.Draw(page)
    pen.line([(400, 422), (760, 422), (760, 478), (760, 462), (730, 462)], fill=255, width=3)
    pen.ellipse((775, 428, 819, 472), outline=255, width=3)
    assert not lettering(np.asarray(page) > 127, pen_px=3.0).any()
