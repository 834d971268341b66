"""How long a kit and its proof take; the warm call is what a live screen feels."""

from __future__ import annotations

import itertools

import pytest

from sheetlark.airframe import airframe
from sheetlark.design import edited, loads, starter
from sheetlark.parts import kept, make_kit, mesh, prove
from sheetlark.parts import kit as room
from sheetlark.stock import load_stock

STOCK = load_stock()


@pytest.mark.parametrize("name", ["dunnock", "brambling", "turnstone"])
def bench_kit_cold(benchmark, name):
    frame = airframe(loads(starter(name)), STOCK)

    def cold():
        kept.forget()
        room._made.cache_clear()  # noqa: SLF001 - the memo is what is timed
        return make_kit(frame, STOCK)

    assert benchmark(cold).parts


def bench_kit_warm(benchmark):
    frame = airframe(loads(starter("brambling")), STOCK)
    assert benchmark(make_kit, frame, STOCK).parts


@pytest.mark.parametrize("name", ["dunnock", "brambling", "turnstone"])
def bench_proof(benchmark, name):
    frame = airframe(loads(starter(name)), STOCK)
    kit = make_kit(frame, STOCK)

    def cold():
        kept.forget()
        return prove(kit, frame, STOCK)

    assert benchmark(cold).clean


def bench_proof_after_a_servo_moved(benchmark):
    """What mending a starting design asks again and again: nothing that moves has another way than before."""
    text = starter("dunnock")
    x, y, z = (1e3 * v for v in loads(text).radio.servo[0].at)
    steps = itertools.count()

    def moved():
        at = [round(x + 0.1 * (next(steps) % 100), 1), y, z]
        frame = airframe(loads(edited(text, {("radio", "servo", 0, "at"): at})), STOCK)
        return (make_kit(frame, STOCK), frame, STOCK), {}

    assert benchmark.pedantic(prove, setup=moved, rounds=10).positions


def bench_mesh(benchmark):
    frame = airframe(loads(starter("brambling")), STOCK)
    assert benchmark(mesh, make_kit(frame, STOCK))
