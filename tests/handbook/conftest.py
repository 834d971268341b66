"""Starters evaluated, taken apart and written up once for all tests of the handbook."""

from __future__ import annotations

import functools
from pathlib import Path

import pytest

from sheetlark.design import loads, starter
from sheetlark.evaluation import Evaluation, evaluate
from sheetlark.handbook import Handbook, handbook, pack_bytes

HERE = Path(__file__).parent


@pytest.hookimpl(tryfirst=True)  # before the groups are written into the names
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """All on one worker: they share the starters written up, which take longer than what is asked of them."""
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.xdist_group("handbook"))


@functools.cache
def evaluated(name: str) -> Evaluation:
    return evaluate(loads(starter(name), name=f"/home/somebody/models/{name}.toml"))


@functools.cache
def written(name: str) -> Handbook:
    return handbook(evaluated(name))


@functools.cache
def packed(name: str) -> bytes:
    return pack_bytes(evaluated(name))


class Bench:
    evaluated = staticmethod(evaluated)
    written = staticmethod(written)
    packed = staticmethod(packed)


@pytest.fixture(scope="session")
def bench() -> type[Bench]:
    return Bench
