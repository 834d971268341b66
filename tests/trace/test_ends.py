"""Where the top view draws a body's end, and what both views make of it."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from made import ink_of

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.ends import Above, agreed_end, seen_above
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.surface import Surface

SPAN, PEN = 900.0, 2.0
_WING_ENDS = 700.0  # the wing's trailing edge, straight across


def _width(end: float, *, round_: bool) -> Callable[[Floats], Floats]:
    """Half the width of a body of one length."""

    def half(x: Floats) -> Floats:
        straight = np.interp(x, [0.0, 60.0, 200.0, end], [0.0, 30.0, 44.0, 16.0])
        closing = np.clip(1.0 - (x / end) ** 6, 0.0, 1.0) ** 0.5
        return np.asarray(np.where(x > end, 0.0, straight * closing if round_ else straight))

    return half


def _wing(lead: float) -> Surface:
    y = np.linspace(0.0, 0.5 * SPAN, 60)
    return Surface(
        station=y,
        lead=np.interp(y, [0.0, 0.5 * SPAN], [lead, 650.0]),
        trail=np.full(60, _WING_ENDS),
        lead_root=40.0,
        trail_root=20.0,
        asymmetry=0.0,
    )


def _ink(*lines: Floats) -> Ink:
    return ink_of(lines, PEN, mirrored=True)


def _seen(
    end: float,
    *,
    round_: bool = False,
    hidden: tuple[float, float] = (0.0, 0.0),
    hinge: float = 0.0,
    rib: float = 0.0,
    more: tuple[Floats, ...] = (),
) -> Above | None:
    """What is seen of a body drawn over, or where `hidden` under, a delta's wing that ends at 700.

    rib : from where on a rib goes straight aft that touches the body's edge there.
    """
    half = _width(end, round_=round_)
    x = np.linspace(0.0, end, 1200)
    wing = _wing(250.0)
    lines = [np.c_[wing.lead, wing.station], np.array([[_WING_ENDS, 0.0], [_WING_ENDS, 0.5 * SPAN]])]
    edge = np.c_[x, half(x)]
    shown = (x < hidden[0]) | (x > hidden[1])
    lines += [
        part for part in np.split(edge, np.flatnonzero(np.diff(shown.astype(int))) + 1) if len(part) > 1
    ]
    if hidden[1] > hidden[0]:
        lines = lines[:3] + lines[4:]
    lines.append(np.array([[end, 0.0], [end, float(half(np.array([end]))[0])]]))
    if hinge:
        lines.append(np.array([[hinge, 0.0], [hinge, 0.5 * SPAN]]))
    if rib:
        lines.append(np.array([[rib, y := float(half(np.array([rib]))[0])], [_WING_ENDS, y]]))
    about = np.linspace(0.0, max(end, _WING_ENDS), 2000)
    out = half(about)
    over = (about > 250.0) & (about < _WING_ENDS)
    out[over] = np.maximum(out, np.interp(about, [250.0, 650.0], [0.0, 0.5 * SPAN]))[over]
    ring = np.vstack([np.c_[about, out], np.c_[about, -out][::-1]])
    return seen_above((ring,), _ink(*lines, *more), span=SPAN, wing=wing, tail=None, pen_mm=PEN)


@pytest.mark.parametrize("end", [640.0, 690.0, 760.0])
def test_a_body_ends_where_its_edges_are_closed_ahead_of_a_wings_trailing_edge_or_behind(end: float) -> None:
    above = _seen(end)
    assert above is not None
    assert above.end == pytest.approx(end, abs=2.0)
    assert not above.closes_from(500.0)


def test_a_hinge_line_right_across_and_the_wings_trailing_edge_are_no_end() -> None:
    above = _seen(760.0, hinge=655.0)
    assert above is not None
    assert above.end == pytest.approx(760.0, abs=2.0)


def test_a_round_stern_behind_the_wing_is_not_cut_at_the_trailing_edge() -> None:
    above = _seen(730.0, round_=True)
    assert above is not None
    assert above.end is None or above.end > 725.0
    assert above.closes_from(500.0)


def test_a_body_hidden_below_the_wing_has_no_drawn_end_there() -> None:
    above = _seen(640.0, hidden=(252.0, 641.0))
    assert above is not None
    assert above.end is None
    assert above.reach == pytest.approx(_WING_ENDS, abs=2.0)
    assert not above.closes_from(500.0)


def test_an_edge_that_went_on_along_a_rib_closes_where_the_side_view_s_depth_does() -> None:
    end = 690.0
    above = _seen(end, round_=True, rib=570.0)
    assert above is not None
    assert not above.closes_from(500.0)
    x = np.linspace(0.0, end, 300)
    assert above.closes_from(500.0, np.c_[x, 2.0 * _width(end, round_=True)(x)])
    blunt = _seen(end, round_=False, rib=570.0)  # but nothing closes that is not drawn so
    assert blunt is not None
    assert not blunt.closes_from(500.0, np.c_[x, 2.0 * _width(end, round_=True)(x)])


def test_a_line_across_a_body_that_is_as_wide_behind_it_is_no_end() -> None:
    """A delta's trailing edge close ahead of a blunt stern with round corners."""
    end = 722.0
    x = np.linspace(0.0, end, 1200)
    half = np.where(x > 700.0, 44.0 - 12.0 * ((x - 700.0) / (end - 700.0)) ** 3, 44.0)
    wing = _wing(250.0)
    lines = [np.c_[wing.lead, wing.station], np.array([[_WING_ENDS, 0.0], [_WING_ENDS, 0.5 * SPAN]])]
    lines += [np.c_[x, half], np.array([[end, 0.0], [end, 32.0]])]
    out = np.where(
        (x > 250.0) & (x < 700.0), np.maximum(half, np.interp(x, [250.0, 650.0], [0.0, 450.0])), half
    )
    ring = np.vstack([np.c_[x, out], np.c_[x, -out][::-1]])
    above = seen_above((ring,), _ink(*lines), span=SPAN, wing=wing, tail=None, pen_mm=PEN)
    assert above is not None
    assert above.end is None or above.end > 718.0


def test_a_thin_stern_tapers_on_and_a_fins_strip_behind_one_does_not() -> None:
    x = np.linspace(0.0, 700.0, 700)
    on = np.ones(x.size, dtype=bool)
    taper = np.interp(x, [0.0, 700.0], [40.0, 3.0])
    stern = replace(_above(None), x=x, half=taper, inked=on, free=on, shown=taper)
    assert stern.tapers_to == pytest.approx(700.0)
    assert replace(stern, inked=x < 620.0).tapers_to == 0.0  # not drawn to its end
    strip = np.maximum(np.interp(x, [0.0, 630.0], [40.0, 3.0]), 8.0)
    assert replace(stern, half=strip).tapers_to == 0.0
    assert replace(stern, half=np.full(x.size, 8.0)).tapers_to == 0.0  # a boom


def test_a_hidden_depth_has_the_shape_of_the_width() -> None:
    x = np.linspace(0.0, 700.0, 700)
    half = np.interp(x, [0.0, 300.0, 700.0], [30.0, 40.0, 10.0])
    on = np.ones(x.size, dtype=bool)
    above = replace(_above(None), x=x, half=half, inked=x < 650.0, free=~on, shown=half)
    deep = above.as_deep(x, np.where(x < 400.0, 2.5 * half, 500.0), x < 400.0)
    assert deep[x < 650.0] == pytest.approx(2.5 * half[x < 650.0], rel=0.02)
    assert np.isnan(deep[x > 651.0]).all()
    assert np.isnan(above.as_deep(x, half, ~on)).all()


@pytest.mark.parametrize("strip", [0.0, 25.0, np.inf])
def test_ink_behind_the_silhouette_reaches_as_far_as_it_is_drawn(strip: float) -> None:
    """A fin's strip on the centre line stops; a datum line goes on and on."""
    line = np.array([[760.0, 0.0], [760.0 + min(strip, 400.0), 0.0]])
    above = _seen(760.0, more=(line,) if strip else ())
    assert above is not None
    assert above.reach == pytest.approx(760.0 + strip, abs=4.0)


def _above(end: float | None, reach: float = 700.0) -> Above:
    x = np.linspace(0.0, 700.0, 50)
    half, all_of_it = np.full(50, 20.0), np.ones(50, dtype=bool)
    return Above(
        x=x,
        half=half,
        inked=all_of_it,
        shown=half,
        free=all_of_it,
        ink=_ink(np.c_[x, half]),
        pen_mm=PEN,
        end=end,
        reach=reach,
    )


def test_both_views_agree_on_the_top_views_end_where_only_other_parts_lie_behind_it() -> None:
    assert agreed_end(_above(640.0), 720.0, others=719.0, slack=5.0) == 640.0
    assert agreed_end(_above(None), 720.0, others=719.0, slack=5.0) == 700.0  # as far as its silhouette


def test_the_side_view_keeps_a_length_no_other_part_explains() -> None:
    assert agreed_end(_above(640.0), 720.0, others=690.0, slack=5.0) == 720.0
    assert agreed_end(_above(717.0), 720.0, others=719.0, slack=5.0) == 720.0  # the same end, read apart
    assert agreed_end(_above(None, np.inf), 720.0, others=719.0, slack=5.0) == 720.0
    assert agreed_end(None, 720.0, others=719.0, slack=5.0) == 720.0
