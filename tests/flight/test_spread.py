import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetlark.errors import SolveError
from sheetlark.flight import Spread, drawn, likelihood, propagated


@pytest.mark.parametrize(
    ("probability", "words"),
    [
        (1.0, "very likely (> 99 %)"),
        (0.93, "very likely (93 %)"),
        (0.78, "likely (78 %)"),
        (0.5, "even chance (50 %)"),
        (0.2, "unlikely (20 %)"),
        (0.05, "very unlikely (5 %)"),
        (0.001, "very unlikely (< 1 %)"),
    ],
)
def test_words(probability, words):
    assert likelihood(probability) == words


def test_words_refuse_what_is_no_probability():
    with pytest.raises(SolveError, match=r"between 0 and 1, got 1.2"):
        likelihood(1.2)


@given(st.floats(-5, 5), st.floats(0.01, 3), st.floats(-6, 6))
def test_normal_chances(mean, deviation, limit):
    spread = Spread(mean=mean, deviation=deviation)
    assert 0.0 <= spread.probability_below(limit) <= 1.0
    assert spread.probability_below(limit) + spread.probability_above(limit) == pytest.approx(1.0)
    assert spread.probability_between(mean - deviation, mean + deviation) == pytest.approx(0.6827, abs=1e-4)


def test_a_sure_figure():
    sure = Spread(mean=2.0, deviation=0.0)
    assert (sure.probability_below(3.0), sure.probability_below(1.0), sure.probability_below(2.0)) == (
        1.0,
        0.0,
        0.5,
    )


MEAN, DEVIATION = np.array([2.0, 3.0, 5.0]), np.array([0.02, 0.03, 0.0])


def figures(x):
    return np.array([x[0] * x[1], x[0] + 2 * x[1] - x[2], x[2] ** 2])


def test_linear_propagation_by_hand():
    got = propagated(figures, MEAN, DEVIATION)
    assert got[0].deviation == pytest.approx(np.hypot(3 * 0.02, 2 * 0.03), rel=1e-9)
    assert got[1].deviation == pytest.approx(np.hypot(0.02, 0.06), rel=1e-9)
    assert got[2] == Spread(mean=25.0, deviation=0.0)


def test_draws_agree_with_slopes_and_repeat():
    got = drawn(figures, MEAN, DEVIATION, draws=4000, seed=3)
    slope = propagated(figures, MEAN, DEVIATION)
    for k in range(2):
        assert got.spread(k).mean == pytest.approx(slope[k].mean, abs=4 * slope[k].deviation / 60)
        assert got.spread(k).deviation == pytest.approx(slope[k].deviation, rel=0.05)
        assert got.probability_below(k, slope[k].mean) == pytest.approx(0.5, abs=0.03)
        assert got.quantile(k, 0.5) == pytest.approx(slope[k].mean, abs=0.1 * slope[k].deviation)
    again = drawn(figures, MEAN, DEVIATION, draws=4000, seed=3)
    assert (again.values == got.values).all()
    assert got.answered == 1.0


def test_draws_without_an_answer():
    def picky(x):
        if x[0] > 2.0:
            raise SolveError("no")
        return np.array([x[0]])

    got = drawn(picky, np.array([2.0]), np.array([0.1]), draws=400)
    assert got.answered == pytest.approx(0.5, abs=0.1)
    assert got.probability_below(0, 5.0) == got.answered

    def never(_x):
        raise SolveError("no")

    with pytest.raises(SolveError, match="none of 10 draws"):
        drawn(never, np.array([2.0]), np.array([0.1]), draws=10)
    with pytest.raises(SolveError, match="two or more draws"):
        drawn(picky, np.array([2.0]), np.array([0.1]), draws=1)
