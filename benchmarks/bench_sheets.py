"""Laying parts on sheets: ours beside plain boxes on shelves and a general box packer, in one run.

Run `make bench`. The sheets each needs are printed in the `extra_info` of the report: time alone would praise
whoever fills the most sheets.
"""

from __future__ import annotations

import importlib.util
import math
from pathlib import Path

import numpy as np
import pytest

from sheetlark.sheets import draw_nesting, nest, write_plans
from sheetlark.sheets.packing import Room, shelves
from sheetlark.stock import load_stock

SCALE = 100  # the box packer counts in whole units; hundredths of a millimetre


def _kit():
    file = Path(__file__).parents[1] / "tests" / "sheets" / "kits.py"
    spec = importlib.util.spec_from_file_location("sheet_kits", file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.biplane()


@pytest.fixture(scope="module")
def stock():
    return load_stock()


@pytest.fixture(scope="module")
def kit():
    return _kit()


def _shapes(kit, stock, sheet):
    from sheetlark.sheets.nesting import _shape

    board = stock.sheet(sheet)
    room = Room(width_mm=1e3 * board.width_m - 10, height_mm=1e3 * board.height_m - 10, gap_mm=3.0)
    parts = [p for p in kit.parts if p.sheet == sheet]
    return [_shape(p, c, board, room) for p in parts for c in range(p.count)], room


@pytest.mark.benchmark(group="foam board of the test biplane onto sheets")
@pytest.mark.parametrize("effort", ["quick", "normal"])
def test_ours(benchmark, kit, stock, effort):
    nesting = benchmark.pedantic(lambda: nest(kit, stock, effort=effort), rounds=3)
    use = next(m for m in nesting.materials if m.sheet == "foam-board-5")
    benchmark.extra_info.update(sheets=use.sheets, bound=use.bound, used=f"{100 * use.utilisation:.0f} %")
    print(f"\n    {effort}: {use.sheets} sheets (area bound {use.bound}), {100 * use.utilisation:.0f} % used")
    assert use.sheets <= use.bound + 1


@pytest.mark.benchmark(group="foam board of the test biplane onto sheets")
def test_our_shelves(benchmark, kit, stock):
    shapes, room = _shapes(kit, stock, "foam-board-5")
    spots = benchmark(lambda: shelves(shapes, room))
    sheets = 1 + max(s.sheet for s in spots)
    benchmark.extra_info.update(sheets=sheets)
    print(f"\n    own shelves: {sheets} sheets")


@pytest.mark.benchmark(group="foam board of the test biplane onto sheets")
def test_rectpack(benchmark, kit, stock):
    rectpack = pytest.importorskip("rectpack")
    shapes, room = _shapes(kit, stock, "foam-board-5")
    sizes = [np.ptp(s.points, axis=0) + room.gap_mm for s in shapes]
    width = math.floor(SCALE * (room.width_mm + room.gap_mm))
    height = math.floor(SCALE * (room.height_mm + room.gap_mm))

    def pack():
        packer = rectpack.newPacker(rotation=True)
        for i, (w, h) in enumerate(sizes):
            packer.add_rect(math.ceil(SCALE * w), math.ceil(SCALE * h), i)
        packer.add_bin(width, height, count=20)
        packer.pack()
        return packer

    packer = benchmark(pack)
    assert sum(len(b) for b in packer) == len(sizes)
    benchmark.extra_info.update(sheets=len(packer))
    print(f"\n    rectpack: {len(packer)} sheets")


@pytest.mark.benchmark(group="files of the test biplane")
def test_drawing(benchmark, kit, stock):
    nesting = nest(kit, stock, effort="quick")
    benchmark.pedantic(lambda: draw_nesting(nesting, kit), rounds=3)


@pytest.mark.benchmark(group="files of the test biplane")
def test_all_files(benchmark, kit, stock, tmp_path):
    done = benchmark.pedantic(lambda: write_plans(kit, stock, tmp_path), rounds=2)
    benchmark.extra_info.update(files=len(done.files), sheets=done.sheets_used)


@pytest.mark.benchmark(group="files of a starter")
@pytest.mark.parametrize("name", ["dunnock", "brambling", "turnstone"])
def test_starter_files(benchmark, stock, tmp_path, name):
    import sheetlark
    from sheetlark.design import loads, starter

    kit = sheetlark.evaluate(loads(starter(name)), stock).kit
    done = benchmark.pedantic(lambda: write_plans(kit, stock, tmp_path), rounds=1)
    shown = "; ".join(
        f"{m.name}: {m.sheets} (bound {m.bound}), {100 * m.utilisation:.0f} %" for m in done.nesting.materials
    )
    benchmark.extra_info.update(sheets=shown)
    print(f"\n    {name}: {shown}")
    assert all(m.sheets <= m.bound + 1 for m in done.nesting.materials)
