"""Starters evaluated, taken apart and written up once for all tests of the handbook."""

from __future__ import annotations

import functools

import pytest

from sheetlark.design import loads, starter
from sheetlark.evaluation import Evaluation, evaluate
from sheetlark.handbook import Handbook, handbook, pack_bytes


@functools.cache
def evaluated(name: str) -> Evaluation:
    return evaluate(loads(starter(name), name=f"/home/somebody/models/{name}.toml"))


@functools.cache
def written(name: str) -> Handbook:
    return handbook(evaluated(name))


@functools.cache
def packed(name: str) -> bytes:
    return pack_bytes(evaluated(name), papers=("a4",))


class Bench:
    evaluated = staticmethod(evaluated)
    written = staticmethod(written)
    packed = staticmethod(packed)


@pytest.fixture(scope="session")
def bench() -> type[Bench]:
    return Bench
