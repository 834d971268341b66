"""The sixth and the seventh hand's drawings: their truth lies on the ink, and the tracing of a few is as good as is said.

The few are quick to read, over kinds, styles, files and disturbances; `rates_files.py` gives the rates over many,
failures among them.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
import drawing_f
import drawing_g
import examiner

DRAW = {"f": drawing_f.draw, "g": drawing_g.draw}


@pytest.mark.parametrize(
    ("hand", "seed"),
    [
        ("f", 28),  # delta, rotated
        ("f", 72),  # monoplane, wires
        ("f", 39),  # biplane, dimensions, JPEG
        ("g", 1),  # biplane
        ("g", 17),  # delta
        ("g", 36),  # biplane, rotated
        ("g", 57),  # delta, one silhouette, noisy
    ],
)
def test_truth_lies_on_the_ink(hand: str, seed: int) -> None:
    assert examiner.truths_off_the_ink(DRAW[hand](seed)) == []


@pytest.mark.parametrize("hand", DRAW)
def test_same_seed_same_drawing(hand: str) -> None:
    a, b = (DRAW[hand](5) for _ in range(2))
    assert np.array_equal(np.asarray(a.image), np.asarray(b.image))


@pytest.mark.parametrize(
    ("hand", "seed"),
    [
        ("f", 5),  # monoplane, grey, JPEG
        ("f", 28),  # delta, rotated
        ("f", 39),  # biplane, dimensions, JPEG
        ("f", 63),  # delta, wires, SVG
        ("g", 7),  # delta, hatching
        ("g", 45),  # monoplane, one silhouette
        ("g", 76),  # biplane
        ("g", 14),  # biplane, a scratch along a wing of the front view
        ("g", 26),  # biplane, its upper wing hangs free in side and front view
        ("g", 222),  # delta, its fin a line in the front view; scratches
        ("g", 232),  # delta, breaks open half of the top view
        ("g", 235),  # monoplane, a scratch across all three views
        ("f", 7),  # monoplane, gaps, PDF: its spinner has lost its paper in one view
        ("f", 24),  # biplane, noisy: edges that cross at a small angle
        ("f", 10003),  # delta, a scratch in the front view as long as a second wing
        ("f", 11024),  # biplane, one wing right over the other
    ],
)
def test_a_quick_drawing_is_read_within_the_stated_bounds(hand: str, seed: int) -> None:
    examiner.assert_within_bounds(examiner.judge_one(DRAW[hand](seed)))
