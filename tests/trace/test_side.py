"""What is taken off the side view's body, and lines that graze it."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from sheetlark.trace import trace_picture
from sheetlark.trace.ink import Stroke, rub_out
from sheetlark.trace.side import line_under

sys.path.insert(0, str(Path(__file__).parent))
import drawing as D  # noqa: N812
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
