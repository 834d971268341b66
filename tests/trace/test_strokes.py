"""Drawn lines followed through crossings, round corners, across gaps, and ended where they run against another."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely

from sheetlark.trace.shapes.strokes import Halves, Line, drawn_lines

SPAN, PEN, ROOT = 1000.0, 3.0, 40.0


def _ink(*lines: list[tuple[float, float]]) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    """The ink of polylines (x, y), the same on both halves."""
    drawn = shapely.MultiLineString([shapely.LineString(p) for p in lines]).buffer(0.5 * PEN)

    def ink(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return shapely.contains_xy(drawn, x, np.abs(y)).astype(float)

    return ink


def _lines(*drawn: list[tuple[float, float]]) -> list[Line]:
    halves = Halves.of(_ink(*drawn), (0.0, 500.0), 500.0, root=ROOT, pen=PEN, span=SPAN)
    return drawn_lines(halves)


def _nearest(lines: list[Line], wanted: list[tuple[float, float]], *, closed: bool) -> float:
    """How far the line nearest to a polyline beside the body is off it at most."""
    true = shapely.LineString(wanted).intersection(shapely.box(0.0, ROOT, 500.0, 520.0))
    return min(
        shapely.hausdorff_distance(shapely.LineString(line.points), true)
        for line in lines
        if line.closed == closed
    )


STRAIGHT = [(100.0, 0.0), (100.0, 500.0), (220.0, 500.0), (220.0, 0.0)]
SWEPT = [(130.0, 0.0), (200.0, 480.0), (290.0, 480.0), (260.0, 0.0)]


def test_two_wings_drawn_over_each_other_come_back_whole() -> None:
    lines = _lines(STRAIGHT, SWEPT)
    for wing in (STRAIGHT, SWEPT):
        assert _nearest(lines, wing, closed=True) < 0.006 * SPAN


def test_a_gap_in_the_line_is_crossed() -> None:
    lines = _lines(
        STRAIGHT[:2], [(100.0, 500.0), (220.0, 500.0), (220.0, 300.0)], [(220.0, 288.0), (220.0, 0.0)]
    )
    assert _nearest(lines, STRAIGHT, closed=True) < 0.006 * SPAN


def test_a_line_that_goes_under_a_wing_ends_there() -> None:
    behind = [(330.0, 0.0), (330.0, 460.0), (220.0, 460.0)]  # the lower wing's trailing edge and tip
    lines = _lines(STRAIGHT, behind)
    assert _nearest(lines, STRAIGHT, closed=True) < 0.006 * SPAN
    assert _nearest(lines, behind, closed=False) < 0.006 * SPAN


def test_what_is_drawn_on_one_half_alone_counts_half() -> None:
    stray = [(100.0, 45.0), (220.0, 400.0)]
    both = _ink(STRAIGHT)
    one = _ink(STRAIGHT, stray)
    halves = Halves.of(
        lambda x, y: np.where(y > 0.0, one(x, y), both(x, y)),
        (0.0, 500.0),
        500.0,
        root=ROOT,
        pen=PEN,
        span=SPAN,
    )
    on = halves.at(halves.wide, np.array([100.0, 160.0]), np.array([250.0, 45.0 + 355.0 / 2.0]))
    assert on[0] == 1.0
    assert on[1] == 0.5
    for line in drawn_lines(halves):
        off = shapely.distance(shapely.points(line.points), shapely.LineString(STRAIGHT))
        assert off.max() < 0.006 * SPAN


def test_a_hairline_is_followed_where_it_is_pale_as_well() -> None:
    """A line of a pixel's width is dark along a row of pixels and half as dark between two rows."""
    lead, rest = _ink(STRAIGHT[:2]), _ink(STRAIGHT[1:])
    halves = Halves.of(
        lambda x, y: np.maximum(0.5 * lead(x, y), rest(x, y)),
        (0.0, 500.0),
        500.0,
        root=ROOT,
        pen=0.0015 * SPAN,
        span=SPAN,
    )
    assert _nearest(drawn_lines(halves), STRAIGHT, closed=True) < 0.006 * SPAN
