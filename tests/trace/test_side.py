"""What is taken off the side view's body, and lines that graze it."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sheetlark.trace import trace_picture
from sheetlark.trace.body import fill_between
from sheetlark.trace.ink import Stroke, rub_out
from sheetlark.trace.side import line_under, stern_post
from sheetlark.trace.surface import Surface

sys.path.insert(0, str(Path(__file__).parent))
import drawing as D  # noqa: N812
import drawing_b as B  # noqa: N812
import drawing_c as C  # noqa: N812
import judge as J  # noqa: N812


def test_a_line_that_grazes_another_leaves_it_whole() -> None:
    """At 4 degrees both are one for some 50 pixels; rubbing one out must not open the other."""
    ink = np.zeros((200, 600), dtype=bool)
    ink[99:102] = True  # an outline's edge
    x = np.arange(20, 580)
    for k in (-1, 0, 1):
        ink[np.round(100 + (x - 300) * np.tan(np.radians(4.0)) + k).astype(int), x] = True
    a, b = ((float(t), 100 + (t - 300) * np.tan(np.radians(4.0))) for t in (20, 579))
    left = rub_out(ink, (Stroke(a=a, b=b, width_px=3.0, free_a=True, free_b=True),), pen_px=3.0)
    assert left[98:103].any(0).all()
    assert not left[:85].any()


def _bump(*, kinked: bool) -> np.ndarray | None:
    """A body line z = 0 under a cover 30 high from x = 300 to 500; kinked: a cabin with a section drawn in it."""
    x = np.linspace(0.0, 1000.0, 400)
    cabin = np.interp(x, [270, 330, 520], [0.0, 45.0, 0.0])
    cover = 30.0 * np.sin(np.pi * np.clip((x - 300) / 200, 0, 1))
    edge = cabin if kinked else cover

    def ink(at: np.ndarray, z: np.ndarray) -> np.ndarray:
        low = -14.0 * np.sqrt(np.clip((at - 310) / 180, 0, 1) * np.clip((490 - at) / 180, 0, 1))
        on = (np.abs(z - low) < 1.5) & (at > 310) & (at < 490) if kinked else np.abs(z) < 1.5
        return np.asarray((on | (np.abs(z - np.interp(at, x, edge)) < 1.5)).astype(float))

    hump = (x > 255) & (x < 535)
    return line_under(x, edge, hump, ink, 1000.0, pen_mm=3.0, sign=1.0)


def test_a_line_drawn_on_under_a_cover_is_the_body() -> None:
    got = _bump(kinked=False)
    assert got is not None
    x = np.linspace(0.0, 1000.0, 400)
    assert np.abs(got[(x > 300) & (x < 500)]).max() < 7.5
    assert np.abs(got[(x > 320) & (x < 480)]).max() < 1.5


def test_a_sections_lower_line_is_not() -> None:
    assert _bump(kinked=True) is None


@pytest.mark.parametrize("seed", [1, 2])
def test_a_biplanes_struts_are_no_part_of_the_body(tmp_path: Path, seed: int) -> None:
    plane = D.aeroplane(seed, "bi")
    file = tmp_path / "three-view.png"
    D.draw(plane, seed, pen=2.0, style="painter").image.save(file)
    o = trace_picture(file, span_m=0.76).outline("body", "side")
    assert o is not None
    mean, worst = J.apart(J.ring(o.path), plane.side["body"], shift=True)
    assert mean < 0.006 * 760.0
    assert worst < 0.015 * 760.0


def test_a_pen_round_a_grey_filling_does_not_widen_the_scale(tmp_path: Path) -> None:
    m = B.model(1204, "mono")
    how = B.habits(1204, "clean") | {"style": "shaded", "pen": 6.0, "width_px": 1400.0}
    page = B.draw(m, 1204, **how)
    file = tmp_path / "page.png"
    page.image.save(file)
    top = trace_picture(file, span_m=1.0).view("top")
    assert top is not None
    assert top.scale_mm_per_px == pytest.approx(page.mm_per_px, rel=0.005)


def _aft(*, post: bool) -> float:
    """The stern post of a body tapering from 100 to 40 at x = 1000, with a fin, its hinge at x = 950."""
    x = np.linspace(0.0, 1000.0, 200)
    low, high = -60.0 + 0.03 * x, 40.0 - 0.03 * x
    fin = Surface(
        station=np.array([12.0, 150.0]),
        lead=np.array([850.0, 900.0]),
        trail=np.array([1000.0, 1000.0]),
        lead_root=12.0,
        trail_root=12.0,
        asymmetry=0.0,
    )

    def ink(at: np.ndarray, z: np.ndarray) -> np.ndarray:
        lines = (np.abs(at - 950.0) < 1.5) & (z < 140) & (z > (-40.0 if post else 20.0))
        return np.asarray((lines | ((np.abs(at - 900.0) < 1.5) & (np.abs(z) < 12.0))).astype(float))

    return stern_post(x, low, high, fin, ink, 1000.0, pen_mm=3.0)


def test_the_body_ends_at_the_stern_post() -> None:
    assert _aft(post=True) == pytest.approx(950.0, abs=2.0)
    assert _aft(post=False) == 1000.0  # a hinge above the body, and a former in it, are no post


def test_hidden_width_is_never_blown_up() -> None:
    """A depth that is next to nothing where the width is last seen once gave widths of kilometres."""
    x = np.linspace(0.0, 800.0, 60)
    seen = np.asarray(x < 600.0, dtype=float)
    depth = np.c_[[0.0, 590.0, 591.0, 610.0, 800.0], [60.0, 50.0, 0.0, 0.0, 80.0]]
    got = fill_between(x, np.full(60, 30.0), seen, depth)
    assert got.max() < 40.0


@pytest.mark.parametrize(("seed", "wear"), [(11, "clean"), (14, "mild")])
def test_x_begins_at_a_pointed_nose_and_behind_a_spinner(tmp_path: Path, seed: int, wear: str) -> None:
    d = C.draw(seed, "monoplane", wear)
    file = tmp_path / "page.png"
    Image.fromarray(d.image).save(file)
    o = trace_picture(file, span_m=d.span_mm / 1000.0).outline("wing", "top")
    assert o is not None
    true = next(t for t in d.outlines if t.part == "wing" and t.view == "top").points
    assert J.ring(o.path)[:, 0].max() == pytest.approx(float(true[:, 0].max()), abs=0.004 * d.span_mm)
