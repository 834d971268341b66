"""Lines that are no part of a figure: a scratch found in pieces, and one that joins two figures."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy import ndimage

from sheetlark.trace.paper.ink import Mask
from sheetlark.trace.paper.meant import Inks, inks_meant
from sheetlark.trace.paper.straight import Stroke, straight_strokes
from sheetlark.trace.paper.strays import in_whole, joining, with_breaks

_PEN = 3.0
_BRIDGE = (62, 160, 600, 110)


def _stroke(
    a: tuple[float, float], b: tuple[float, float], free: tuple[bool, bool] = (False, False)
) -> Stroke:
    return Stroke(a=a, b=b, width_px=2.0, free_a=free[0], free_b=free[1])


def _sheet(*lines: tuple[float, ...]) -> Mask:
    """Two closed figures side by side, with lines drawn over them."""
    page = Image.new("L", (800, 300), 0)
    pen = ImageDraw.Draw(page)
    pen.polygon([(60, 80), (340, 80), (300, 220), (60, 220)], outline=255, width=3)
    pen.polygon([(440, 150), (560, 90), (740, 150), (560, 210)], outline=255, width=3)
    for line in lines:
        pen.line(line, fill=255, width=1)
    return np.asarray(page) > 127


def test_two_pieces_of_a_scratch_are_one_with_both_its_ends_free() -> None:
    ink = _sheet((20, 20, 780, 280))
    along = np.array([20.0, 20.0]), np.array([760.0, 260.0])
    at = [tuple((along[0] + t * along[1]).tolist()) for t in (0.0, 0.45, 0.55, 1.0)]
    first, second = _stroke(at[0], at[2], (True, False)), _stroke(at[3], at[1], (True, False))
    edge = _stroke((60.0, 80.0), (340.0, 80.0))
    whole = in_whole(ink, (first, edge, second), pen_px=_PEN)
    assert len(whole) == 2
    scratch = max(whole, key=lambda k: k.length_px)
    assert scratch.free_a
    assert scratch.free_b
    assert scratch.length_px == pytest.approx(np.hypot(*along[1]), abs=1.0)
    assert edge in whole


def test_pieces_with_paper_between_them_or_at_an_angle_stay_two() -> None:
    ink = _sheet((20, 20, 380, 20), (420, 20, 780, 20), (20, 280, 400, 280), (400, 280, 780, 250))
    apart = (_stroke((20, 20), (380, 20), (True, True)), _stroke((420, 20), (780, 20), (True, True)))
    bent = (_stroke((20, 280), (400, 280), (True, False)), _stroke((400, 280), (780, 250), (False, True)))
    assert len(in_whole(ink, (*apart, *bent), pen_px=_PEN)) == 4


def test_of_a_line_from_figure_to_figure_what_lies_between_them_joins_them() -> None:
    """It begins at a far edge of one and ends at a far edge of the other, so neither end of it runs free."""
    ink = _sheet(_BRIDGE)
    strokes = straight_strokes(ink, pen_px=_PEN, shortest_px=32.0)
    assert not any(k.free_a or k.free_b for k in strokes if k.length_px > 400.0)
    found = joining(ink, strokes, pen_px=_PEN, pool=1)
    between = [k for k in found if abs(k.a[1] - k.b[1]) < 0.12 * k.length_px and k.length_px > 100.0]
    (bridge,) = between
    assert sorted((bridge.a[0], bridge.b[0])) == pytest.approx([328.0, 500.0], abs=15.0)
    assert not joining(_sheet(), strokes, pen_px=_PEN, pool=1)


def test_ink_meant_otherwise_has_the_figures_apart_or_a_dimension_line_back() -> None:
    page = Image.fromarray(_sheet(_BRIDGE).astype(np.uint8) * 255)
    pen = ImageDraw.Draw(page)
    for x in (61, 340):
        pen.line((x, 230, x, 280), fill=255, width=3)
    pen.line((61, 270, 340, 270), fill=255, width=3)
    ink = np.asarray(page) > 127
    meant = inks_meant(ink, pen_px=_PEN, pool=1)
    assert not meant.coarse[2][270, 70:330].any()
    assert meant.besides[270, 70:330].all()
    assert _figures(meant) == 1
    others = list(meant.otherwise())
    back = [m for m in others if m.coarse[2][270, 70:330].all()]
    assert len(back) == 1
    assert not back[0].besides[270, 70:330].any()
    assert any(_figures(m) == 2 for m in others)


def _figures(meant: Inks) -> int:
    """How many figures the ink makes."""
    label, _ = ndimage.label(meant.coarse[2], np.ones((3, 3)))
    return sum(max(s.stop - s.start for s in place) > 100 for place in ndimage.find_objects(label))


def test_a_piece_of_an_outline_between_two_breaks_does_not_end_free_and_a_scratch_or_a_dash_does() -> None:
    """Behind the breaks the outline goes on as it came; from a scratch's ends nothing does, from a dash's another dash."""
    page = Image.new("L", (800, 300), 0)
    pen = ImageDraw.Draw(page)
    pen.line([(300, 80), (340, 80), (300, 220), (60, 220), (60, 80), (100, 80)], fill=255, width=3)
    pen.line([(112, 80), (288, 80)], fill=255, width=3)  # its edge's middle, breaks of 12 px on both sides
    pen.line([(20, 20), (780, 40)], fill=255, width=2)
    for x in (400, 500, 600):
        pen.line([(x, 150), (x + 88, 150)], fill=255, width=2)
    ink = np.asarray(page) > 127
    piece = _stroke((112, 80), (288, 80), (True, True))
    scratch = _stroke((20, 20), (780, 40), (True, True))
    dash = _stroke((500, 150), (588, 150), (True, True))
    found = with_breaks(ink, (piece, scratch, dash), pen_px=_PEN, reach_px=20.0)
    assert [(k.free_a, k.free_b) for k in found] == [(False, False), (True, True), (True, True)]
    off_sheet = _stroke((200, -2), (260, 302), (True, True))
    crossed = np.array(_sheet((200, -2, 260, 302)))
    assert with_breaks(crossed, (off_sheet,), pen_px=_PEN, reach_px=20.0) == (off_sheet,)
    short = with_breaks(ink, (piece,), pen_px=_PEN, reach_px=8.0)
    assert (short[0].free_a, short[0].free_b) == (True, True)


def test_a_loose_line_across_the_sheet_is_out_of_every_reading_but_one_tried_where_a_view_is_missing() -> (
    None
):
    ink = _sheet((20, 120, 780, 180))
    meant = inks_meant(ink, pen_px=_PEN, pool=1)
    line = ink & ~_sheet()
    assert not meant.besides[line].any()  # a centre line may run together with a nose's tip
    assert all(coarse[line].mean() < 0.05 for coarse in meant.coarse)
    assert next(meant.otherwise()).coarse[2][line].all()
    assert not (meant.besides & _sheet()).any()
