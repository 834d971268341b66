"""`review` of brambling: cold from the shell, and warm in process after a battery move and after a shape change.

.venv/bin/python -m pytest benchmarks/bench_review.py --benchmark-enable -p no:xdist
"""

from __future__ import annotations

import itertools
import subprocess
import sys

import pytest

import sheetlark
from sheetlark.design import edited, loads, starter

TEXT = starter("brambling")
_place = itertools.count()


@pytest.mark.benchmark(group="review")
def test_cold_from_the_shell(benchmark, tmp_path):
    """Ceiling: 2.5 s."""
    file = tmp_path / "brambling.toml"
    file.write_text(TEXT, encoding="utf-8")

    def run():
        subprocess.run(
            [sys.executable, "-m", "sheetlark", "review", str(file)], check=True, capture_output=True
        )

    benchmark.pedantic(run, rounds=3)


@pytest.mark.benchmark(group="review")
def test_warm_after_a_battery_move(benchmark):
    """Ceiling: 150 ms. Every round moves the battery to a new place, so that no cache has the answer."""
    sheetlark.evaluate(loads(TEXT))

    def move():
        x = 45.0 + 0.01 * next(_place)
        return sheetlark.findings(
            sheetlark.evaluate(loads(edited(TEXT, {("drive", "pack_at"): [x, 0, -20]})))
        )

    benchmark.pedantic(move, rounds=20)


@pytest.mark.benchmark(group="review")
def test_warm_after_a_change_of_shape(benchmark):
    """Parts, lattice and all: every round widens the tailplane by a hundredth of a millimetre."""
    sheetlark.evaluate(loads(TEXT))

    def widen():
        span = 300.0 + 0.01 * next(_place)
        return sheetlark.findings(sheetlark.evaluate(loads(edited(TEXT, {("tailplane", "span"): span}))))

    benchmark.pedantic(widen, rounds=10)
