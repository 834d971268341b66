"""A body's upper line that only shows below the fin of a tailless aeroplane."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.foot import behind_foot, below_fin, foot_line, from_stern, under_fin
from sheetlark.trace.shapes.surface import Surface

LENGTH, START, PEN = 1000.0, 780.0, 3.0
X = np.linspace(0.0, LENGTH, 1001)
LOW = np.where(X < 400.0, -50.0, -50.0 + (X - 400.0) * 0.08)
TOP = np.where(
    X < 400.0, 60.0, 60.0 - (X - 400.0) * 0.07
)  # as drawn, but a wing's section hides it up to 700
SEEN = np.full(X.size, 60.0)  # the section's lower line, going straight on


def inked(*lines: tuple[float, float, Callable[[Floats], Floats]]) -> Callable[[Floats, Floats], Floats]:
    """Ink of lines, each from one x to another."""

    def ink(x: Floats, z: Floats) -> Floats:
        x, z = np.broadcast_arrays(x, z)
        strokes = [(x >= a) & (x <= b) & (np.abs(z - line(x)) < 0.5 * PEN) for a, b, line in lines]
        return np.any(strokes, axis=0).astype(np.float64)

    return ink


def _top(x: Floats) -> Floats:
    return np.interp(x, X, TOP)


def _low(x: Floats) -> Floats:
    return np.interp(x, X, LOW)


def found(ink: Callable[[Floats, Floats], Floats]) -> Floats | None:
    return foot_line(X, SEEN, START, ink, LENGTH, floor=LOW + 1.2 * PEN, pen_mm=PEN)


def test_the_line_below_the_fin_is_the_bodys_from_where_it_leaves_the_section() -> None:
    edge = found(inked((0.0, 1000.0, _low), (500.0, 1000.0, _top)))
    assert edge is not None
    assert np.abs(edge - TOP)[X > 520.0].max() < 3.0
    assert np.abs(edge - SEEN)[X < 450.0].max() < 1e-9


@pytest.mark.parametrize(
    "lines",
    [
        [(0.0, 1000.0, _low)],  # nothing is drawn there but the lower edge
        [(0.0, 1000.0, _low), (700.0, 900.0, _top)],  # a section's end, not to the stern
        [
            (0.0, 1000.0, _low),
            (0.0, 1000.0, lambda x: np.full(x.shape, 61.0)),
        ],  # the edge going straight on finds it
        [
            (0.0, 1000.0, _low),
            (760.0, 1000.0, lambda x: np.full(x.shape, 20.0)),
        ],  # that of a fin drawn whole, deep in the body
    ],
    ids=["merged", "section", "level", "foot"],
)
def test_no_line_is_found_where_none_runs_to_the_stern(lines: list[tuple[float, float, Callable]]) -> None:
    assert found(inked(*lines)) is None


def test_filling_is_no_line() -> None:
    assert found(lambda x, z: (np.broadcast_arrays(x, z)[1] > -60.0).astype(np.float64)) is None


@pytest.mark.parametrize("drawn", [True, False])
def test_a_round_back_goes_on_round_below_a_fin(drawn: bool) -> None:
    """An egg 1000 mm long and 160 mm deep; where its line is drawn below the fin it is followed, else it curves on."""
    egg = 80.0 * np.sqrt(np.clip(1.0 - (X / 500.0 - 1.0) ** 2, 0.0, None))
    ink = inked((0.0, 1000.0 if drawn else START, lambda x: np.interp(x, X, egg)))
    rising = np.where(X > START, np.interp(START, X, egg) + 0.3 * (X - START), egg)
    line, seen = below_fin(
        X, rising, X < START, START, ink, LENGTH, floor=np.full(X.size, -80.0), pen_mm=PEN, tailless=False
    )
    off = np.abs(line - egg)
    assert off[(960.0 if drawn else 880.0) > X].max() < (3.0 if drawn else 8.0)
    assert seen[(X > START) & (X < 940.0)].all() == drawn


def test_an_edge_that_ceases_to_bend_is_followed_straight_on_and_not_down_to_a_centre_line() -> None:
    """A back that falls ever faster ahead of the fin and evenly below it, with a centre line in the middle of the body."""
    slope = np.interp(X, [560.0, START], [0.0, -0.15])
    back = 60.0 + np.r_[0.0, np.cumsum(0.5 * (slope[1:] + slope[:-1]))]

    def top(x: Floats) -> Floats:
        return np.interp(x, X, back)

    ink = inked((0.0, 1000.0, top), (0.0, 1000.0, lambda x: np.full(np.shape(x), 4.0)))
    followed = np.where(X > START, float(top(np.array(START))) + 0.4 * (X - START), back)
    line, seen = below_fin(
        X, followed, X < START, START, ink, LENGTH, floor=np.full(X.size, -40.0), pen_mm=PEN, tailless=True
    )
    assert np.abs(line - back).max() < 3.0
    assert seen[(X > START) & (X < 960.0)].all()


def test_a_line_is_followed_forward_from_where_the_stern_stands_free() -> None:
    """Ahead of the fin the edge as followed left the body's own line for a wing section's; behind the fin it is back."""
    followed = np.where((X > 560.0) & (X < 950.0), SEEN, TOP)
    on = (X < 560.0) | (X > 950.0)
    high, drawn = from_stern(
        X, followed, on, 951.0, START, inked((0.0, 1000.0, _low), (0.0, 1000.0, _top)), LENGTH, pen_mm=PEN
    )
    assert np.abs(high - TOP).max() < 1.0
    assert drawn[(X > 600.0) & (X < 940.0)].all()


def test_without_a_line_from_the_stern_forward_the_edge_stays_and_is_not_drawn_below_the_fin() -> None:
    followed = np.where(X < 950.0, SEEN, TOP)
    on = np.ones(X.size, dtype=bool)
    high, drawn = from_stern(X, followed, on, 951.0, START, inked((0.0, 1000.0, _low)), LENGTH, pen_mm=PEN)
    assert np.abs(high - followed).max() < 1e-9
    assert not drawn[(X > START) & (X < 950.0)].any()
    assert drawn[X < START].all()


def _fin(trail: tuple[float, float]) -> Surface:
    """A fin 100 high on the body's back; trail: x of its trailing edge at its head and at its foot, at 30."""
    z = np.linspace(30.0, 150.0, 60)
    return Surface(
        station=z,
        lead=np.interp(z, [30.0, 150.0], [START, 880.0]),
        trail=np.interp(z, [30.0, 150.0], trail[::-1]),
        lead_root=30.0,
        trail_root=30.0,
        asymmetry=0.0,
    )


@pytest.mark.parametrize("trail", [(960.0, 960.0), (990.0, 950.0)])  # upright, and leaning aft over the stern
def test_behind_the_foot_of_a_fins_trailing_edge_the_silhouette_is_the_stern(
    trail: tuple[float, float],
) -> None:
    foot = float(np.interp(_top(np.array(trail[1])), [30.0, 150.0], trail[::-1]))
    high = np.where(foot > X, np.maximum(TOP, 100.0), TOP)  # the fin's, and then the body's
    behind = behind_foot(X, LOW, high, _fin(trail), LENGTH, (), pen_mm=PEN)
    assert behind.any()
    assert X[behind][0] == pytest.approx(foot + PEN, abs=3.0)
    assert behind[foot + 2.0 * PEN < X].all()
    thin = np.where(foot < X, LOW + PEN, high)  # a section's end, or the rudder's own foot
    assert not behind_foot(X, LOW, thin, _fin(trail), LENGTH, (), pen_mm=PEN).any()


def test_an_edge_left_undrawn_below_a_fin_runs_to_where_its_trailing_edge_comes_down() -> None:
    """Straight on it would end 20 mm above the stern."""
    ahead = START > X
    rising = np.where(ahead, TOP, float(_top(np.array(START))) - 0.01 * (X - START))
    stern = np.where(X > 955.0, TOP - 8.0, np.nan)
    high, drawn, through = under_fin(
        X,
        rising,
        ahead,
        START,
        inked((0.0, 1000.0, _low)),
        LENGTH,
        floor=LOW + 1.2 * PEN,
        pen_mm=PEN,
        tailless=False,
        stern=stern,
    )
    assert not through
    assert not drawn[(X > START) & (X < 950.0)].any()
    assert high[X > 960.0] == pytest.approx(TOP[X > 960.0] - 8.0)
    between = (X > START) & (X < 955.0)
    assert np.abs(high - np.interp(X, [START, 955.0], [TOP[780], TOP[955] - 8.0]))[between].max() < 3.0


def test_a_line_that_meets_the_stern_is_the_edge_and_one_that_misses_it_another_parts() -> None:
    """A fin's root drawn inside the body runs along its edge, a little lower."""

    def root(x: Floats) -> Floats:
        return _top(x) - 12.0

    ink = inked((0.0, 1000.0, _low), (0.0, 1000.0, _top), (700.0, 950.0, root))
    stern = np.where(X > 955.0, TOP, np.nan)
    how = {"floor": LOW + 1.2 * PEN, "pen_mm": PEN, "tailless": True, "stern": stern}
    on = np.ones(X.size, dtype=bool)
    high, drawn, through = under_fin(X, TOP, on, START, ink, LENGTH, **how)
    assert through
    assert drawn.all()
    assert np.abs(high - TOP).max() < 1e-9
    lower = np.where(X > START, root(X), TOP)
    high, _, _ = under_fin(X, lower, on, START, ink, LENGTH, **how)
    assert np.abs(high - lower)[X > 960.0].min() > 5.0
