import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from sheetlark.sheets import Layer, Lettering
from sheetlark.sheets.lettering import Block, FreeSpace, letter_box, printable, stand, upright, width_mm

from .kits import box, ellipse


def test_width_is_the_fonts_own():
    """The advance widths in the font file, read by another library."""
    from fontTools.ttLib import TTFont

    from sheetlark.sheets.lettering import REGULAR

    font = TTFont(REGULAR)
    glyphs, metrics = font.getBestCmap(), font["hmtx"]
    text = "12 · former, Ø 3.2 × 40"
    units = sum(metrics[glyphs[ord(c)]][0] for c in text)
    assert width_mm(text, 4.0) == pytest.approx(4.0 * units / font["head"].unitsPerEm, abs=0.02)
    assert font["glyf"][glyphs[ord("H")]].yMax / font["head"].unitsPerEm == pytest.approx(0.729, abs=0.001)


@pytest.mark.parametrize(
    ("given_text", "shown"),
    [
        ("flügel\n links", "flügel links"),
        ("a\x00b\u202ec", "abc"),
        ("飛行機", "???"),
        ("крыло", "крыло"),
        ("🛩 wing", "? wing"),
    ],
)
def test_printable(given_text, shown):
    assert printable(given_text) == shown


@pytest.mark.parametrize(
    ("angle", "shown"),
    [(0, 0), (180, 0), (90, 90), (-90, 90), (135, -45), (-170, 10), (-87, 93), (-50, -50), (120, 120)],
)
def test_words_read_upright(angle, shown):
    assert upright(angle) == pytest.approx(shown)


@settings(max_examples=30, deadline=None)
@given(
    a=st.floats(5, 200),
    b=st.floats(5, 200),
    w=st.floats(2, 80),
    h=st.floats(2, 20),
    angle=st.sampled_from([0.0, 30.0, 90.0, -45.0]),
)
def test_a_place_found_lies_inside(a, b, w, h, angle):
    space = Polygon(ellipse(a, b, 300, -40)).difference(Polygon(box(a / 3, b / 3, 300, -40)))
    found = FreeSpace(space, angle).place((w, h), (300.0, -40.0))
    if found is None:
        return
    (x, y), _ = found
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    corners = np.array([(-w / 2, -h / 2), (w / 2, -h / 2), (w / 2, h / 2), (-w / 2, h / 2)])
    assert space.contains(Polygon(corners @ np.array([[c, s], [-s, c]]) + (x, y)).buffer(-1e-6))


def test_a_box_that_plainly_fits_is_placed_at_its_wish():
    space = Polygon(box(100, 60))
    (x, y), off = FreeSpace(space, 0.0).place((40, 10), (50.0, 30.0))
    assert off < 1.0
    assert (x, y) == pytest.approx((50, 30), abs=1.0)
    assert FreeSpace(space, 0.0).place((99.9, 10), (50.0, 30.0)) is None
    assert FreeSpace(space, 0.0).place((10, 70), (50.0, 30.0)) is None


def test_every_letter_of_a_block_lies_in_its_box():
    block = Block(words=("7 · Ångström Ğ", "gjpqy, 40 × 20", "x"), size_mm=3.0)
    w, h = block.box_mm
    frame = Polygon(box(w, h, 10 - w / 2, 20 - h / 2)).buffer(1e-6)
    for words in block.set_at((10.0, 20.0), 0.0):
        assert frame.contains(letter_box(words))


def test_blocks_are_taken_in_their_order():
    blocks = [
        Block(words=("a very long name for a small part",), size_mm=4.0),
        Block(words=("7",), size_mm=4.0),
    ]
    block, _, _ = stand(Polygon(box(20, 8)), blocks, (0.0,), (10.0, 4.0))
    assert block.words == ("7",)
    assert stand(Polygon(box(1, 1)), blocks, (0.0, 90.0), (0.5, 0.5)) is None


def test_letter_box_turns_with_its_words():
    words = Lettering(layer=Layer.TEXT, text="wing", at=(5.0, 6.0), size_mm=4.0, angle_deg=90.0)
    x0, y0, x1, y1 = letter_box(words).bounds
    assert y1 - y0 == pytest.approx(width_mm("wing", 4.0))
    assert x1 - x0 == pytest.approx(4.0 * 1.05)
