import os
import signal
import subprocess
import sys

import numpy as np
import pytest
from shapely.geometry import Polygon

from sheetlark.sheets import nesting as nesting_module
from sheetlark.sheets import packing
from sheetlark.sheets.packing import Room, Shape, Spot, fits, shelves, simpler, sound, turned

from .kits import box, ellipse

ROOM = Room(width_mm=400.0, height_mm=300.0, gap_mm=3.0)
TURNS = (0, 90, 180, 270)


def shape(points, turns=TURNS):
    points = np.asarray(points, dtype=float)
    return Shape(points=points, turns=turns, area_mm2=Polygon(points).area)


def never():
    return False


def test_simpler_shape_holds_the_outline_with_far_fewer_points():
    outline = ellipse(60, 40, points=400)
    coarse = simpler(outline)
    assert len(coarse) < 80
    assert Polygon(coarse).contains(Polygon(outline))
    assert Polygon(coarse).difference(Polygon(outline).buffer(0.4)).area < 1e-9


def test_quarter_turns_are_exact():
    assert turned(np.array([[3.0, 1.0]]), 90).tolist() == [[-1.0, 3.0]]
    assert turned(np.array([[3.0, 1.0]]), 270).tolist() == [[1.0, -3.0]]
    assert turned(np.array([[1.0, 0.0]]), 30) == pytest.approx(np.array([[np.sqrt(0.75), 0.5]]))


def test_judge_refuses_overlap_small_gap_margin_and_missing_parts():
    shapes = [shape(box(50, 50)), shape(box(50, 50))]
    good = [
        Spot(shape=0, sheet=0, turn_deg=0, dx_mm=0, dy_mm=0),
        Spot(shape=1, sheet=0, turn_deg=0, dx_mm=53, dy_mm=0),
    ]
    assert sound(good, shapes, ROOM)

    def with_second(**change):
        values = {"shape": 1, "sheet": 0, "turn_deg": 0, "dx_mm": 53.0, "dy_mm": 0.0, **change}
        return sound([good[0], Spot(**values)], shapes, ROOM)

    assert not with_second(dx_mm=20.0)
    assert not with_second(dx_mm=52.9)
    assert not with_second(dx_mm=350.5)
    assert not with_second(dy_mm=-0.1)
    assert not with_second(shape=0)
    assert not with_second(turn_deg=45)
    assert with_second(sheet=1, dx_mm=0.0)
    assert not sound(good[:1], shapes, ROOM)
    assert not sound(None, shapes, ROOM)


@pytest.mark.parametrize("way", ["one_after_another", "shelves", "squeezed"])
def test_each_way_is_sound_and_repeatable(way):
    shapes = [shape(box(90 + 7 * i, 40 + 5 * i)) for i in range(9)] + [shape(ellipse(30, 20, points=20))] * 3

    def pack():
        if way == "shelves":
            return shelves(shapes, ROOM)
        if way == "squeezed":
            return packing.squeezed(shapes, ROOM, 2, seed=3, deals=2, reports=200, stop=never)
        return packing.one_after_another(shapes, ROOM, never)

    first = pack()
    assert sound(first, shapes, ROOM)
    assert pack() == first


@pytest.mark.parametrize(
    "points",
    [
        [(0, 0), (40, 40), (40, 0), (0, 40)],  # a bow-tie
        [(0, 0), (40, 0)],
        [(0, 0), (40, 0), (float("nan"), 40)],
    ],
)
def test_bad_outlines_end_a_child_and_not_the_caller(points):
    bad = Shape(points=np.asarray(points, dtype=float), turns=TURNS, area_mm2=800.0)
    assert packing.squeezed([bad], ROOM, 1, seed=0, deals=1, reports=20, stop=never) is None


def test_a_crashing_child_gives_none(tmp_path, monkeypatch):
    worker = tmp_path / "crash.py"
    worker.write_text("import os, sys; sys.stdin.read(); os.abort()", encoding="utf-8")
    monkeypatch.setattr(packing, "_WORKER", worker)
    shapes = [shape(box(50, 50))]
    assert packing.one_after_another(shapes, ROOM, never) is None
    assert packing.squeezed(shapes, ROOM, 1, seed=0, deals=1, reports=10, stop=never) is None


def test_packing_killed_with_its_children_leaves_no_file(tmp_path):
    """The bench stops long work so; a folder of each stopped try once stayed behind."""
    worker = tmp_path / "slow.py"
    worker.write_text("import sys, time; sys.stdin.read(); time.sleep(600)", encoding="utf-8")
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    script = f"""
from pathlib import Path
from sheetlark.sheets import packing
packing._WORKER = Path({str(worker)!r})
def told():
    print("going", flush=True)
    return False
packing._children(["{{}}"], told)
"""
    going = subprocess.Popen(
        [sys.executable, "-c", script],
        stdout=subprocess.PIPE,
        env={**os.environ, "TMPDIR": str(scratch)},
        start_new_session=True,
    )
    with going:
        assert going.stdout is not None
        assert going.stdout.readline() == b"going\n"
        os.killpg(going.pid, signal.SIGKILL)
    assert list(scratch.iterdir()) == []


def test_a_lying_packer_is_passed_over(monkeypatch, kit, stock):
    """Every part in one corner: the judge must refuse it and the shelves take over."""

    def liar(shapes, room, *args, **kwargs):
        return [Spot(shape=i, sheet=0, turn_deg=0, dx_mm=0, dy_mm=0) for i in range(len(shapes))]

    monkeypatch.setattr(nesting_module, "one_after_another", liar)
    monkeypatch.setattr(nesting_module, "squeezed", liar)
    nesting = nesting_module.nest(kit, stock)
    assert {m.method for m in nesting.materials} == {"shelves"}


def test_without_the_packers_plans_still_come_out(monkeypatch, kit, stock):
    monkeypatch.setattr(sys, "executable", "/bin/false")
    nesting = nesting_module.nest(kit, stock)
    assert {m.method for m in nesting.materials} == {"shelves"}


def test_fits_looks_at_the_turns():
    tall = box(100, 350)
    assert fits(shape(tall), ROOM)
    assert not fits(shape(tall, turns=(0, 180)), ROOM)
