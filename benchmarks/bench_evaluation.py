"""How long a whole design takes: a battery move within 150 ms, 1,000 draws within 5 s, a first flight of 60 s within 2 s.

Times are of the processor, so that a busy machine does not count.
"""

from __future__ import annotations

import itertools
import time

import pytest

import sheetlark
from sheetlark.design import edited, loads, starter
from sheetlark.evaluation import maiden

STARTERS = ("dunnock", "brambling", "turnstone")


@pytest.fixture(scope="module", params=STARTERS)
def named(request):
    return request.param


@pytest.fixture(scope="module")
def evaluation(named):
    return sheetlark.evaluate(loads(starter(named)))


def test_a_battery_move(benchmark, named, evaluation):
    x, y, z = (1e3 * v for v in evaluation.design.drive.pack_at)
    # A tenth of a millimetre a time: no two alike, and the battery's tray stays between the same formers.
    steps = itertools.count(1)

    def fresh():
        at = [round(x + 0.1 * next(steps), 2), y, z]
        return (loads(edited(starter(named), {("drive", "pack_at"): at})),), {}

    benchmark.extra_info["limit_s"] = 0.150
    benchmark.pedantic(sheetlark.evaluate, setup=fresh, rounds=20, warmup_rounds=1)


def test_findings_and_spreads(benchmark, evaluation):
    benchmark.extra_info["limit_s"] = 0.150
    benchmark(lambda: (evaluation.spreading.linear(), sheetlark.findings(evaluation)))


def test_a_thousand_draws(benchmark, evaluation):
    benchmark.extra_info["limit_s"] = 5.0
    benchmark.pedantic(evaluation.spreading.drawn, args=(1000,), rounds=1)


def test_a_first_flight(benchmark, evaluation):
    benchmark.extra_info["limit_s"] = 2.0
    took: list[float] = []

    def flown():
        began = time.process_time()
        story = maiden(evaluation, seed=1)
        took.append((time.process_time() - began) * 60.0 / float(story.history.time_s[-1]))

    benchmark.pedantic(flown, rounds=2)
    benchmark.extra_info["seconds_for_sixty"] = min(took)
