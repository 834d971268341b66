"""Starters evaluated once for all tests of the logbook."""

from __future__ import annotations

import functools

import pytest

from sheetlark.design import loads, starter
from sheetlark.evaluation import Evaluation, evaluate


@functools.cache
def evaluated(name: str) -> Evaluation:
    return evaluate(loads(starter(name), name=f"{name}.toml"))


@pytest.fixture(scope="session")
def starters():
    return evaluated


@pytest.fixture(scope="session")
def dunnock() -> Evaluation:
    return evaluated("dunnock")


@pytest.fixture(scope="session")
def brambling() -> Evaluation:
    return evaluated("brambling")
