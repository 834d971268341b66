"""Hand h's drawings: their truth lies on the ink, and the tracing of a few quick ones is as good as is said."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
import drawing_h
import examiner


@pytest.mark.parametrize(
    "seed",
    [
        3,  # monoplane, mid wing
        24,  # biplane
        22,  # delta, drawn through, dimensions, noisy
        36,  # canard
        31,  # biplane, one hatched silhouette
        56,  # T-tail, drawn through, panel lines
    ],
)
def test_truth_lies_on_the_ink(seed: int) -> None:
    assert examiner.truths_off_the_ink(drawing_h.draw(seed)) == []


def test_same_seed_same_drawing() -> None:
    a, b = (drawing_h.draw(48) for _ in range(2))
    assert np.array_equal(np.asarray(a.image), np.asarray(b.image))


def test_a_rounded_tip_reaches_as_far_out_as_the_span_says() -> None:
    for seed in (0, 10, 16, 28):  # raked and square tips
        d = drawing_h.draw(seed)
        wing = next(t for t in d.truth if t.part == "wing")
        assert np.ptp(wing.points[:, 1]) == pytest.approx(d.span_mm, rel=1e-9)


@pytest.mark.parametrize(
    "seed",
    [
        22,  # delta, drawn through, dimensions, noisy
        30,  # monoplane, hard pixels, drawn through
        32,  # tailless, dashed, title block, yellowed
        56,  # T-tail, drawn through, panel lines
        96,  # canard on wheels, its wing not drawn in the side view
        91,  # biplane, drawn through: a cockpit and the lower wing across its cut-out
    ],
)
def test_a_quick_drawing_is_read_within_the_stated_bounds(seed: int) -> None:
    examiner.assert_within_bounds(examiner.judge_one(drawing_h.draw(seed)))
