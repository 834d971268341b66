"""How long a handbook takes, stage by stage: order, pictures, pages. Brambling must stay under 8 s in all."""

from __future__ import annotations

import functools
import time

from sheetlark.design import loads, starter
from sheetlark.evaluation import Evaluation, evaluate
from sheetlark.handbook import (
    Access,
    Shown,
    build_order,
    build_steps,
    draw,
    handbook,
    handbook_html,
    handbook_pdf,
    take_apart,
)


@functools.cache
def brambling() -> Evaluation:
    return evaluate(loads(starter("brambling")))


def test_order(benchmark):
    model = take_apart(brambling().kit)
    benchmark.pedantic(lambda: build_order(model, Access(model)), rounds=3)


def test_one_picture_of_the_whole(benchmark):
    model = take_apart(brambling().kit)
    benchmark.pedantic(lambda: draw([Shown(item=i, weight="new") for i in model.items]), rounds=3)


def test_steps(benchmark):
    benchmark.pedantic(lambda: build_steps(brambling()), rounds=2)


def test_whole_handbook(benchmark):
    def whole() -> None:
        book = handbook(brambling())
        handbook_pdf(book)
        handbook_html(book)

    brambling()
    benchmark.pedantic(whole, rounds=2)
    began = time.process_time()
    whole()
    # the limit is for a machine that does nothing else: what this process itself took
    assert time.process_time() - began < 8.0
