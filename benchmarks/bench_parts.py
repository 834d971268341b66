"""How long a kit and its proof take; the warm call is what a live screen feels."""

from __future__ import annotations

import pytest

from sheetlark.airframe import airframe
from sheetlark.design import loads, starter
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
    assert benchmark(prove, kit, frame, STOCK).clean


def bench_mesh(benchmark):
    frame = airframe(loads(starter("brambling")), STOCK)
    assert benchmark(mesh, make_kit(frame, STOCK))
