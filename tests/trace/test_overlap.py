"""Two wings of different shapes told apart by the lines of a top view, and what of the lower is hidden put in."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely

from sheetlark.trace.shapes.biplane import Pair, split_pair
from sheetlark.trace.shapes.sections import Section
from sheetlark.trace.shapes.surface import Surface

SPAN, PEN, ROOT = 1000.0, 3.0, 40.0
Half = list[tuple[float, float]]


def _whole(half: Half) -> shapely.Polygon:
    p = np.array(half)
    return shapely.Polygon(np.vstack([p, (p * [1.0, -1.0])[::-1]]))


def _round(lead: float, chord: float, semi: float, *, sweep: float = 0.0) -> Half:
    """A wing whose tip is half an ellipse as deep as the chord."""
    t = np.linspace(0.0, np.pi, 60)
    y = semi - 60.0 + 60.0 * np.sin(t)
    x = lead + 0.5 * chord * (1.0 - np.cos(t)) + sweep * y / semi
    return [(lead, 0.0), *zip(x.tolist(), y.tolist(), strict=True), (lead + chord, 0.0)]


def _page(upper: Half, lower: Half, *, through: bool) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    """Ink of both, the lower one drawn through the upper or hidden under it."""
    a, b = _whole(upper), _whole(lower)
    under = b.exterior if through else b.exterior.difference(a)
    drawn = shapely.union_all([a.exterior, under]).buffer(0.5 * PEN)
    return lambda x, y: shapely.contains_xy(drawn, x, y).astype(float)


def _both(upper: Half, lower: Half) -> Surface:
    """The outline of both together, as it is followed."""
    joint = _whole(upper).union(_whole(lower))
    semi = joint.bounds[3]
    y = semi * np.sin(np.linspace(0.0, np.pi / 2, 220))
    cuts = [
        joint.intersection(shapely.LineString([(-1e3, k), (1e3, k)])).bounds
        for k in np.minimum(y, semi - 0.5)
    ]
    return Surface(
        station=y,
        lead=np.array([c[0] for c in cuts]),
        trail=np.array([c[2] for c in cuts]),
        lead_root=ROOT - 12.0,
        trail_root=ROOT - 12.0,
        asymmetry=0.0,
    )


def _pair(upper: Half, lower: Half, *, through: bool, sections: tuple[Section, ...] = ()) -> Pair:
    joint = _whole(upper).union(_whole(lower))
    pair = split_pair(
        (np.array(joint.exterior.coords),),
        _both(upper, lower),
        span=SPAN,
        semi_upper=max(y for _, y in upper),
        semi_lower=max(y for _, y in lower),
        uppers=(),
        lowers=sections,
        ink=_page(upper, lower, through=through),
        pen=PEN,
    )
    assert pair is not None
    return pair


def _off(found: Surface, true: Half, hidden: shapely.Geometry | None = None) -> tuple[float, float]:
    """Mean and greatest distance of the true outline's places beside the body, where they are seen, in spans."""
    line = shapely.LineString(true)
    p = shapely.get_coordinates(shapely.line_interpolate_point(line, np.arange(0.0, line.length, 2.0)))
    p = p[p[:, 1] > ROOT]
    if hidden is not None:
        p = p[~shapely.contains_xy(hidden.buffer(0.004 * SPAN), p[:, 0], p[:, 1])]
    d = shapely.distance(shapely.points(p), shapely.LineString(found.half())) / SPAN
    return float(d.mean()), float(d.max())


SQUARE: Half = [(150.0, 0.0), (190.0, 500.0), (270.0, 500.0), (310.0, 0.0)]
SHAPES: dict[str, tuple[Half, Half]] = {
    "a round lower behind a tapered upper": (SQUARE, _round(230.0, 150.0, 460.0, sweep=50.0)),
    "a swept lower ahead of a round upper": (
        _round(200.0, 150.0, 500.0),
        [(120.0, 0.0), (150.0, 470.0), (260.0, 470.0), (270.0, 0.0)],
    ),
    "edges that cross": (
        [(150.0, 0.0), (150.0, 500.0), (300.0, 500.0), (300.0, 0.0)],
        [(110.0, 0.0), (206.0, 480.0), (326.0, 480.0), (250.0, 0.0)],
    ),
}


@pytest.mark.parametrize("through", [True, False])
@pytest.mark.parametrize("shapes", SHAPES)
def test_wings_of_different_shapes_are_told_apart(shapes: str, through: bool) -> None:
    upper, lower = SHAPES[shapes]
    pair = _pair(upper, lower, through=through)
    for found, true, hidden in (
        (pair.upper, upper, None),
        (pair.lower, lower, None if through else _whole(upper)),
    ):
        mean, worst = _off(found, true, hidden)
        assert mean < 0.006
        assert worst < 0.015


def test_a_hidden_edge_goes_to_the_section_at_the_root() -> None:
    upper, lower = SHAPES["a round lower behind a tapered upper"]
    thick = (0.1, 0.5)
    drawn = Section(lead=230.0, trail=380.0, z=-100.0, shape=thick, strength=0.95)
    pair = _pair(upper, lower, through=False, sections=(drawn,))
    assert pair.lower.lead[0] == pytest.approx(230.0, abs=0.006 * SPAN)
    assert pair.lower.trail[0] == pytest.approx(380.0, abs=0.006 * SPAN)
    assert _off(pair.lower, lower)[0] < 0.01  # all of it, what is hidden too


def test_like_wings_are_not_taken_for_one_within_the_other() -> None:
    upper = _round(150.0, 150.0, 500.0)
    lower = [
        (x + 14.0, y) for x, y in upper
    ]  # drawn through: the outer outline and the inner are loops as well
    pair = _pair(upper, lower, through=True)
    assert abs(pair.stagger_mm) == pytest.approx(14.0, abs=0.006 * SPAN)
    assert pair.upper.trail[0] - pair.upper.lead[0] == pytest.approx(150.0, abs=0.006 * SPAN)
