"""Which way the nose points: canards, tailed and tailless aeroplanes, whichever way round they are drawn."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

sys.path.insert(0, str(Path(__file__).parent))
import drawing_c as C  # noqa: N812
import judge

from sheetlark.trace import Corrections, Tracing, ViewBox, open_picture, trace_picture, trace_with
from sheetlark.trace.shapes.contour import Rings
from sheetlark.trace.shapes.frame import Frame
from sheetlark.trace.shapes.heading import STATIONS, _finned, _projected, _side_way, _without_blade


def traced(tmp_path: Path, seed: int, kind: str, wear: str = "clean") -> tuple[C.Drawing, Tracing]:
    drawn = C.draw(seed, kind, wear)
    Image.fromarray(drawn.image).save(tmp_path / "three-view.png")
    return drawn, trace_picture(tmp_path / "three-view.png", span_m=drawn.span_mm / 1000)


def noses(t: Tracing) -> dict[str, str]:
    return {v.kind: v.nose for v in t.views}


@pytest.mark.parametrize("seed", [7000, 7001, 7003])
def test_a_canards_smaller_surface_is_its_foreplane(tmp_path: Path, seed: int) -> None:
    drawn, t = traced(tmp_path, seed, "canard")
    assert noses(t) == drawn.noses
    fore = t.outline("tail", "top", "foreplane")
    wing = t.outline("wing", "top")
    assert fore is not None
    assert wing is not None
    assert judge.ring(fore.path)[:, 0].max() < judge.ring(wing.path)[:, 0].min()
    true = next(o.points for o in drawn.outlines if (o.part, o.view) == ("tail", "top"))
    mean, worst = judge.apart(judge.ring(fore.path), true)
    assert mean < 0.006 * drawn.span_mm
    assert worst < 0.015 * drawn.span_mm


@pytest.mark.parametrize(("seed", "kind"), [(7001, "monoplane"), (7001, "biplane"), (7002, "delta")])
def test_others_keep_their_tails_behind(tmp_path: Path, seed: int, kind: str) -> None:
    drawn, t = traced(tmp_path, seed, kind)
    assert noses(t) == drawn.noses
    assert t.outline("tail", "top", "foreplane") is None


def test_a_fin_that_would_hang_below_the_nose_speaks_against_that_way_round() -> None:
    """What rises behind it is no tail: by more than views may chance to share."""
    low = 0.7 * np.clip((STATIONS - 0.4) / 0.6, 0.0, 1.0)
    high = 1.0 + 1.0 * (STATIONS > 0.76)
    frame = Frame(origin=np.zeros(2), first=np.array([0.0, 1.0]), second=np.array([1.0, 0.0]), mm_per_px=1.0)
    none = np.zeros(STATIONS.size)
    right = _side_way(frame, low, high, none)
    over = _side_way(frame, (2.0 - high)[::-1], (2.0 - low)[::-1], none)
    assert right.score > over.score + 0.6


def test_a_nose_said_by_hand_is_believed(tmp_path: Path) -> None:
    drawn = C.draw(7001, "canard", "clean")
    file, span = tmp_path / "three-view.png", drawn.span_mm / 1000
    Image.fromarray(drawn.image).save(file)
    opened = open_picture(file)
    t = trace_with(file, Corrections(), span_m=span, opened=opened)
    top = t.view("top")
    assert top is not None
    other = {"up": "down", "down": "up", "left": "right", "right": "left"}[top.nose]
    box = ViewBox(kind="top", box_px=top.box_px, nose=other)
    turned = trace_with(file, Corrections(boxes=(box,)), span_m=span, opened=opened)
    assert noses(turned)["top"] == other
    assert turned.outline("tail", "top", "tailplane") is not None
    assert np.isclose(turned.span_mm, t.span_mm, rtol=0.01)


def test_views_are_projected_where_nose_and_tail_lie_at_the_same_places_of_the_sheet() -> None:
    def view(left: float, right: float, y: float) -> Rings:
        ring = np.array([(left, y), (right, y), (right, y + 60.0), (left, y + 60.0)])
        return Rings(rings=(ring,), pen_px=2.0)

    top = view(100.0, 500.0, 50.0)
    assert _projected(top, view(102.0, 497.0, 300.0), "level")
    assert not _projected(top, view(140.0, 540.0, 300.0), "level")
    assert not _projected(top, view(100.0, 470.0, 300.0), "level")


def test_a_fin_tells_which_way_up_a_side_view_on_its_tail_stands_under_a_tall_wing() -> None:
    """A biplane's upper wing, on struts close behind the nose, rises as high ahead as the fin does behind."""
    low = 0.15 * np.clip((STATIONS - 0.4) / 0.6, 0.0, 1.0) - 0.1 * ((STATIONS > 0.15) & (STATIONS < 0.35))
    high = 1.0 + 0.6 * (STATIONS > 0.8) + 0.9 * ((STATIONS > 0.15) & (STATIONS < 0.35))
    on_its_back = (1.9 - high), (1.9 - low)
    assert _finned(low, high) > 0.5
    assert _finned(*on_its_back) < -0.5


def test_wheels_ahead_are_told_from_a_body_that_rises_aft() -> None:
    """A canard's hang below its wing, behind the middle: read tail first they would seem to be ahead."""
    frame = Frame(origin=np.zeros(2), first=np.array([1.0, 0.0]), second=np.array([0.0, 1.0]), mm_per_px=1.0)
    none = np.zeros(STATIONS.size)
    low = 1.0 + 0.3 * np.clip((STATIONS - 0.4) / 0.6, 0.0, 1.0)
    wheel = np.abs(STATIONS - 0.25) < 0.03
    bare = _side_way(frame, low, np.full(STATIONS.size, 2.0), none)
    wheeled = _side_way(frame, low - 0.8 * wheel, np.full(STATIONS.size, 2.0), none)
    assert wheeled.score > bare.score + 0.4
    assert wheeled.score - wheeled.hung == pytest.approx(bare.score, abs=0.1)


def test_a_propellers_blade_at_the_nose_is_no_fin() -> None:
    """It reaches as far down as up; a fin over a tail wheel stands wider than the wheel."""
    low, high = np.zeros(STATIONS.size), np.ones(STATIONS.size)
    blade, fin, wheel = STATIONS < 0.02, STATIONS > 0.85, np.abs(STATIONS - 0.97) < 0.01
    with_fin = np.where(fin, 1.8, high)
    bare = _without_blade(np.where(blade, -0.9, low), np.where(blade, 1.9, with_fin))
    assert np.array_equal(bare, (low, with_fin))
    tailwheel = np.where(wheel, -0.5, low), with_fin
    assert np.array_equal(_without_blade(*tailwheel), tailwheel)
