"""The fewest steps that clear a check: right, each asked once, and in few questions."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetlark.review.stepping import fewest_clear

SHAPES = {
    "straight": lambda k, root, _: root - k,
    "bent": lambda k, root, last: (root - k) * (1.0 + 3.0 * k / last),
    "dying away": lambda k, root, last: math.exp(-4.0 * k / last) - math.exp(-4.0 * root / last),
    "a step": lambda k, root, _: 1.0 if k < root else -1.0,
    "held from there on": lambda k, root, last: (
        40.0 * (root - k) if k < root else -1e-4 * (1 + 999 * (k == last))
    ),
}


@given(shape=st.sampled_from(sorted(SHAPES)), last=st.integers(1, 400), share=st.floats(1e-3, 1.0 - 1e-3))
def test_finds_the_first_number_of_steps_that_clears(shape, last, share):
    root, asked = share * last, []

    def shortfall(k: int) -> float:
        asked.append(k)
        return SHAPES[shape](k, root, last)

    found = fewest_clear(shortfall, last)
    assert found == math.ceil(root)
    assert len(asked) == len(set(asked))
    assert all(0 <= k <= last for k in asked)
    # halving alone takes the logarithm; the worst of these shapes takes half as much again
    assert len(asked) - 2 <= 1.5 * math.ceil(math.log2(last)) + 1.5


@pytest.mark.parametrize("last", [12, 60, 365])
def test_a_straight_shortfall_takes_three_questions_between_its_ends(last):
    for root in (0.3 * last, 0.51 * last, 0.9 * last):
        asked = []
        fewest_clear(lambda k, root=root, asked=asked: asked.append(k) or root - k, last)
        assert len(asked) - 2 <= 3


def test_a_shortfall_that_rises_again_still_gives_one_that_clears():
    shortfall = [3.0, 1.0, -1.0, 2.0, 0.5, -0.5, -2.0].__getitem__
    found = fewest_clear(shortfall, 6)
    assert shortfall(found) <= 0.0 < shortfall(found - 1)


def test_a_shortfall_of_nothing_at_all_gives_a_number():
    assert fewest_clear(lambda _: 0.0, 7) == 1


def test_what_is_known_is_a_bracket_and_not_asked_for_again_between():
    asked = []
    found = fewest_clear(lambda k: asked.append(k) or 41.5 - k, 60, known=(12, 38, 44, 52))
    assert found == 42
    assert set(asked) <= {12, 38, 39, 40, 41, 42, 43, 44, 52}
