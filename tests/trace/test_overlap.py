"""Two wings of different shapes told apart by the lines of a top view, and what of the lower is hidden put in."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely

from sheetlark.trace.shapes.biplane import Both, Pair, split_pair
from sheetlark.trace.shapes.sections import Section
from sheetlark.trace.shapes.smoothing import parted
from sheetlark.trace.shapes.strokes import Halves, drawn_lines
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


def _page(
    upper: Half, lower: Half, *, through: bool, pen: float = PEN, one: bool = False
) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    """Ink of both, the lower one drawn through the upper or hidden under it, or both as one silhouette."""
    a, b = _whole(upper), _whole(lower)
    under = b.exterior if through else b.exterior.difference(a)
    lines = [a.union(b).exterior] if one else [a.exterior, under]
    drawn = shapely.union_all(lines).buffer(0.5 * pen)
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


def _pair(
    upper: Half,
    lower: Half,
    *,
    through: bool,
    pen: float = PEN,
    one: bool = False,
    sections: tuple[Section, ...] = (),
) -> Pair:
    joint = _whole(upper).union(_whole(lower))
    both = Both.of(
        (np.array(joint.exterior.coords),),
        _both(upper, lower),
        span=SPAN,
        ink=_page(upper, lower, through=through, pen=pen, one=one),
        pen=pen,
    )
    pair = split_pair(
        both,
        lambda: drawn_lines(both.halves),
        semi_upper=max(y for _, y in upper),
        semi_lower=max(y for _, y in lower),
        uppers=(),
        lowers=sections,
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


def _elliptic(lead: float, chord: float, semi: float) -> Half:
    t = np.linspace(0.0, np.pi / 2, 60)
    deep, y = np.cos(t), semi * np.sin(t)
    front = np.c_[lead + 0.35 * chord * (1.0 - deep), y]
    rear = np.c_[lead + chord - 0.65 * chord * (1.0 - deep), y]
    return [tuple(p) for p in np.vstack([front, rear[::-1]]).tolist()]


@pytest.mark.parametrize("rake", [45.0, 50.0, 60.0])
def test_edges_that_cross_at_a_small_angle_under_a_wide_pen_go_straight_on(rake: float) -> None:
    upper = _elliptic(190.0, 140.0, 500.0)
    lower: Half = [(150.0, 0.0), (150.0 + rake, 480.0), (170.0 + rake, 500.0), (324.0, 500.0), (319.0, 0.0)]
    # both are drawn whole: which of them is the lower one the side view tells
    drawn = Section(lead=150.0, trail=319.0, z=-100.0, shape=(0.1, 0.5), strength=0.95)
    pair = _pair(upper, lower, through=True, pen=6.0, sections=(drawn,))
    for found, true in ((pair.upper, upper), (pair.lower, lower)):
        mean, worst = _off(found, true)
        assert mean < 0.006
        assert worst < 0.015


def test_where_strokes_run_together_an_edge_bends_as_little_as_may_be() -> None:
    y = np.linspace(0.0, 500.0, 300)
    true = 310.0 - 0.1 * y
    other = np.full(y.size, 285.0)  # crosses it at 250
    rough = np.where(np.abs(true - other) < 8.0, np.maximum(true, other), true)  # the rim of both strokes

    def wing(trail: np.ndarray) -> Surface:
        return Surface(
            station=y,
            lead=np.full(y.size, 150.0),
            trail=trail,
            lead_root=ROOT,
            trail_root=ROOT,
            asymmetry=0.0,
        )

    page = _page(SQUARE, SQUARE, through=False)
    halves = Halves.of(page, (100.0, 360.0), 500.0, root=ROOT, pen=6.0, span=SPAN)
    found, _ = parted(wing(rough), wing(other), wing(np.maximum(true, other)), halves)
    inner = y < 465.0
    assert np.abs(rough - true)[inner].max() > 4.0
    assert np.abs(found.trail - true)[inner].max() < 1.5
    assert np.array_equal(found.lead, wing(rough).lead)


def test_wings_drawn_as_one_silhouette_have_no_step_in_their_edges() -> None:
    upper: Half = [(150.0, 0.0), (150.0, 500.0), (300.0, 500.0), (300.0, 0.0)]
    lower: Half = [(210.0, 0.0), (210.0, 420.0), (360.0, 420.0), (360.0, 0.0)]
    pair = _pair(upper, lower, through=False, one=True)
    for found, true, other in ((pair.upper, upper, lower), (pair.lower, lower, upper)):
        mean, worst = _off(found, true, _whole(other))
        assert mean < 0.006
        assert worst < 0.015


def test_a_wing_right_over_another_of_its_shape_has_the_outline_of_both() -> None:
    shape = _round(150.0, 150.0, 500.0)
    pair = _pair(shape, shape, through=False)
    for found in (pair.upper, pair.lower):
        assert _off(found, shape)[1] < 0.015


def test_a_shorter_wing_drawn_right_under_another_keeps_the_shape_of_its_tip() -> None:
    """Both edges lie under the longer one's: only its raked tip is drawn apart."""
    upper: Half = [(150.0, 0.0), (150.0, 420.0), (300.0, 500.0), (300.0, 0.0)]
    lower: Half = [(150.0, 0.0), (150.0, 320.0), (300.0, 400.0), (300.0, 0.0)]
    pair = _pair(upper, lower, through=True)
    for found, true in ((pair.upper, upper), (pair.lower, lower)):
        mean, worst = _off(found, true)
        assert mean < 0.004
        assert worst < 0.01


@pytest.mark.parametrize("chord", [150.0, 115.0])
def test_a_longer_lower_wing_goes_on_under_the_upper_as_its_tip_shows_it(chord: float) -> None:
    """Its hidden edge shows beyond the upper's tip alone; no section is drawn."""
    upper: Half = [(150.0, 0.0), (200.0, 450.0), (350.0, 450.0), (300.0, 0.0)]
    lead = 370.0 - chord
    lower: Half = [(lead, 0.0), (lead + 55.6, 500.0), (425.6, 500.0), (370.0, 0.0)]
    pair = _pair(upper, lower, through=False)
    for found, true in ((pair.upper, upper), (pair.lower, lower)):
        mean, worst = _off(found, true)
        assert mean < 0.005
        assert worst < 0.015
