"""A fin seen from above, drawn over the body's end, and where the body ends beside it."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.body import closing_line, goes_on_to
from sheetlark.trace.shapes.edges import stations
from sheetlark.trace.shapes.ends import Above, TopView, seen_above
from sheetlark.trace.shapes.strip import Strip, fin_strip
from sheetlark.trace.shapes.surface import Surface

sys.path.insert(0, str(Path(__file__).parent))
from made import fin_of, ink_of

SPAN, PEN = 1300.0, 4.0
_FOOT, _ENDS = 820.0, 1000.0  # of the fin
_X = stations(1000.0)


def _body(end: float, width: float) -> Floats:
    """A body's starboard edge and its closing line, half so wide at its end."""
    return np.array([(0.0, 0.0), (60.0, 40.0), (300.0, 50.0), (end, width), (end, 0.0)])


def _foil(foot: float = _FOOT, ends: float = _ENDS, half: float = 9.0) -> Floats:
    """The starboard half of a thin section."""
    share = np.linspace(0.0, 1.0, 60)
    return np.c_[foot + share * (ends - foot), half * 2.6 * np.sqrt(share) * (1.0 - share)]


def _fin() -> Surface:
    return fin_of(np.linspace(20.0, 140.0, 30), np.linspace(_FOOT, 900.0, 30), _ENDS)


def _strip(*lines: Floats, half: Floats) -> Strip | None:
    return fin_strip(_X, half, _X < 800.0, ink_of(lines, PEN, mirrored=True), _fin(), pen_mm=PEN)


def _shown(end: float, width: float) -> Floats:
    return np.interp(_X, *_body(end, width)[:4].T, right=0.0)


@pytest.mark.parametrize("half", [2.0, 9.0])
def test_a_fin_drawn_over_the_body_begins_with_a_nose_of_its_own(half: float) -> None:
    found = _strip(_body(930.0, 20.0), _foil(half=half), half=_shown(930.0, 20.0))
    assert found is not None
    assert found.x[0] == pytest.approx(_FOOT, abs=4.0)
    at = np.linspace(850.0, 960.0, 12)
    assert np.interp(at, found.x, found.half) == pytest.approx(np.interp(at, *_foil(half=half).T), abs=1.2)


def test_a_thin_stern_and_a_centre_line_are_no_fin() -> None:
    stern = _body(1000.0, 2.0)
    assert _strip(stern, half=_shown(1000.0, 2.0)) is None
    line = np.array([(-50.0, 0.0), (1050.0, 0.0)])
    assert _strip(_body(930.0, 20.0), line, half=_shown(930.0, 20.0)) is None
    # beside a centre line a fin's own stroke tells
    assert _strip(_body(930.0, 20.0), line, _foil(half=11.0), half=_shown(930.0, 20.0)) is not None


def test_what_a_fin_draws_is_taken_off_and_the_body_s_own_lines_stay() -> None:
    found = _strip(_body(930.0, 20.0), _foil(), half=_shown(930.0, 20.0))
    assert found is not None
    rest = found.taken_off(ink_of([_body(930.0, 20.0), _foil()], PEN, mirrored=True))
    at = np.linspace(825.0, 990.0, 40)
    assert rest(at, np.interp(at, *_foil().T)).max() == 0.0
    on = np.linspace(825.0, 925.0, 40)
    assert rest(on, np.interp(on, *_body(930.0, 20.0)[:4].T)).min() > 0.9


def _top(end: float, width: float, *, foil: bool = True, tail: bool = False) -> TopView:
    """A body with a fin over its end; a tailplane lies over it from 860 to 930, where there is one."""
    lines = [_body(end, width)] + [_foil()] * foil
    surface = None
    about = np.linspace(0.0, 999.0, 1500)
    out = np.interp(about, *_body(end, width)[:4].T, right=0.0)
    out = np.maximum(out, np.interp(about, *_foil().T, left=0.0, right=0.0) * foil)
    if tail:
        y = np.linspace(0.0, 200.0, 40)
        surface = Surface(
            station=y,
            lead=np.full(40, 860.0),
            trail=np.full(40, 930.0),
            lead_root=30.0,
            trail_root=30.0,
            asymmetry=0.0,
        )
        lines += [np.array([(a, 0.0), (a, 200.0)]) for a in (860.0, 930.0)]
        out[(about > 860.0) & (about < 930.0)] = 200.0
    ring = np.vstack([np.c_[about, out], np.c_[about, -out][::-1]])
    return TopView(
        rings=(ring,), ink=ink_of(lines, PEN, mirrored=True), pen_mm=PEN, span=SPAN, wing=None, tail=surface
    )


def _read(top: TopView) -> tuple[Strip, Above]:
    """The fin and the body of a view that shows both."""
    strip = top.strip(_fin())
    assert strip is not None
    above = top.body(strip)
    assert above is not None
    return strip, above


def test_a_body_ends_where_it_does_beside_its_fin() -> None:
    """Behind it the fin alone is as wide as a thin stern, and closed by a line of its own."""
    _, above = _read(_top(930.0, 16.0))
    assert above.end == pytest.approx(930.0, abs=4.0)
    assert above.tapers_to == 0.0
    plank = np.array([(0.0, 0.0), (60.0, 40.0), (300.0, 50.0), (930.0, 20.0), (930.0, 12.0), (1000.0, 12.0)])
    ring = np.vstack([plank, plank[::-1] * (1.0, -1.0)])
    wide = Strip(x=np.array([_FOOT, _ENDS]), half=np.array([12.0, 12.0]), pen_mm=PEN)
    assert goes_on_to((ring,), SPAN, (), pen_mm=PEN) > 990.0
    assert goes_on_to((ring,), SPAN, (), pen_mm=PEN, strip=wide) == pytest.approx(930.0, abs=4.0)


def test_a_flat_end_little_wider_than_the_fin_shows_in_the_silhouette() -> None:
    strip, above = _read(_top(930.0, 12.5))
    assert above.end == pytest.approx(930.0, abs=4.0)
    pointed = _top(990.0, 0.0).body(strip)
    assert pointed is not None
    assert pointed.end is None


def test_a_line_across_behind_a_tailplane_is_as_wide_as_the_body_s_end() -> None:
    top = _top(936.0, 26.0, tail=True)
    strip = Strip(x=np.array([_FOOT, _ENDS]), half=np.array([9.0, 2.0]), pen_mm=PEN)
    assert closing_line(936.0, 40.0, top.ink, pen_mm=PEN, strip=strip) == pytest.approx(26.0, abs=1.0)
    assert closing_line(936.0, 40.0, strip.taken_off(top.ink), pen_mm=PEN, strip=strip) == pytest.approx(
        26.0, abs=1.0
    )
    assert closing_line(930.0, 40.0, top.ink, pen_mm=PEN, strip=strip) is None  # the tailplane's own edge
    assert closing_line(970.0, 40.0, top.ink, pen_mm=PEN, strip=strip) is None  # nothing but the fin


def test_without_a_fin_nothing_is_taken_off() -> None:
    top = _top(930.0, 16.0, foil=False)
    assert top.strip(None) is None
    above = top.body(None)
    alone = seen_above(top.rings, top.ink, span=SPAN, wing=None, tail=None, pen_mm=PEN)
    assert above is not None
    assert alone is not None
    assert above.end == alone.end == pytest.approx(930.0, abs=3.0)


def test_a_stern_that_goes_on_behind_a_fin_is_no_part_of_it() -> None:
    box = np.array([(_FOOT, 0.0), (_FOOT, 5.0), (940.0, 5.0), (940.0, 0.0)])
    body = _body(1000.0, 13.0)
    found = _strip(body, box, half=_shown(1000.0, 13.0))
    assert found is not None
    assert found.x[-1] == pytest.approx(940.0, abs=8.0)
    assert not found.covers(np.array([970.0]), np.array([14.0])).any()
