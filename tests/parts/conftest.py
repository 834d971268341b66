"""Kits made once for all tests of the room."""

from __future__ import annotations

import runpy
from functools import lru_cache
from pathlib import Path
from types import SimpleNamespace

import pytest

from sheetlark.airframe import airframe
from sheetlark.design import loads
from sheetlark.parts import make_kit, prove
from sheetlark.stock import load_stock

design = runpy.run_path(str(Path(__file__).parents[1] / "odd_designs.py"))["design"]


@lru_cache(maxsize=1)
def _stock():
    return load_stock()


@lru_cache(maxsize=32)
def _built(name):
    frame = airframe(design(name), _stock())
    kit = make_kit(frame, _stock())
    return SimpleNamespace(airframe=frame, kit=kit, proof=prove(kit, frame, _stock()))


@pytest.fixture(scope="session")
def stock():
    return _stock()


@pytest.fixture(scope="session")
def built():
    """built(name) -> airframe, kit and proof of a starter or of an odd design."""
    return _built


@pytest.fixture(scope="session")
def build_text():
    """build_text(toml) -> airframe, kit and proof of a design's text."""

    def build(text):
        frame = airframe(loads(text), _stock())
        kit = make_kit(frame, _stock())
        return SimpleNamespace(airframe=frame, kit=kit, proof=prove(kit, frame, _stock()))

    return build


@pytest.fixture(scope="session")
def text_of():
    """text_of(name): the design file of a starter or of an odd design."""
    from sheetlark.design import starter

    odd = runpy.run_path(str(Path(__file__).parents[1] / "odd_designs.py"))["ODD"]
    return lambda name: odd[name] if name in odd else starter(name)
