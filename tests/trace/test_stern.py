"""A stern drawn round below a fin."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from sheetlark.trace import trace_picture
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.edges import stations
from sheetlark.trace.shapes.stern import Stern, round_stern

_END = 980.0  # of the body; the fin's foot hangs over it to 1000
_PEN = 3.0


def _half(x: Floats) -> Floats:
    """Half the depth of a body with a round stern."""
    return np.asarray(
        60.0 * np.clip(1.0 - np.clip((x - 700.0) / (_END - 700.0), 0.0, 1.0) ** 2.5, 0.0, 1.0) ** 0.4
    )


def _found(*, inked: tuple[float, float]) -> tuple[Floats, Stern | None]:
    """What is found where the upper half is drawn between two places, a fin standing from 850 to 940."""
    x = stations(1000.0)
    low = np.where(x < _END, -_half(x), 15.0)
    high = np.full(x.size, 0.0)
    ahead = x < 850.0
    high[ahead] = _half(x)[ahead]
    high[~ahead] = np.interp(850.0, x, _half(x)) - 0.2 * (x[~ahead] - 850.0)
    at = np.linspace(700.0, _END, 4000)
    line = np.c_[at, _half(at)]
    line = np.vstack([line, np.c_[np.full(50, _END), np.linspace(float(_half(at[-1:])[0]), 0.0, 50)]])
    line = line[(line[:, 0] >= inked[0]) & (line[:, 0] <= inked[1])]

    def ink(a: Floats, b: Floats) -> Floats:
        from scipy.spatial import cKDTree

        far = cKDTree(line).query(np.c_[np.ravel(a), np.ravel(b)])[0].reshape(np.shape(a))
        return np.asarray(np.clip(1.5 - far / (0.5 * _PEN), 0.0, 1.0))

    return x, round_stern(x, low, high, ahead, ink, 1000.0, start=850.0, free=940.0, pen_mm=_PEN)


@pytest.mark.parametrize("shows_from", [700.0, 935.0])
def test_a_round_stern_is_followed_below_the_fin_or_behind_it(shows_from: float) -> None:
    x, found = _found(inked=(shows_from, 1000.0))
    assert found is not None
    assert found.end[0] == pytest.approx(_END, abs=3.0)
    shown = (x > 860.0) & (x < _END - 4.0)
    assert np.abs(found.high - _half(x))[shown].max() < 2.0
    assert found.drawn[(x > 945.0) & (x < _END)].all()
    assert found.drawn[(x > 860.0) & (x < 930.0)].any() == (shows_from < 850.0)


def test_a_stern_nobody_drew_is_not_rounded() -> None:
    """The lower edge alone says nothing of the upper one: below a fin that goes on straight."""
    assert _found(inked=(700.0, 850.0))[1] is None


def _delta(file: Path) -> None:
    """A delta three-view: its section's round end lies over a straight cone stern that reaches behind the fin."""
    image = Image.new("L", (1500, 1150), 255)
    pen = ImageDraw.Draw(image)

    def line(*points: tuple[float, float]) -> None:
        pen.line([*points, points[0]], fill=0, width=3, joint="curve")

    body = [(0, 0), (40, 22), (160, 34), (400, 30), (560, 6)]
    nose = (100.0, 350.0)  # top view, nose left
    wing = [(150, 30), (520, 300), (520, 26)]
    for side in (1, -1):
        pen.line([(nose[0] + x, nose[1] + side * y) for x, y in wing], fill=0, width=3, joint="curve")
    line(*[(nose[0] + x, nose[1] + y) for x, y in [*body, *[(x, -y) for x, y in body[::-1]]]])
    at = (100.0, 950.0)  # side view
    line(*[(at[0] + x, at[1] + y) for x, y in [*body, *[(x, -y) for x, y in body[::-1]]]])
    pen.line(
        [(at[0] + x, at[1] - y) for x, y in [(380, 31), (470, 150), (525, 150), (525, 13)]],
        fill=0,
        width=3,
        joint="curve",
    )
    t = np.linspace(0.0, 2.0 * np.pi, 200)
    line(*zip(at[0] + 330 + 185 * np.cos(t), at[1] + 18 + 24 * np.sin(t), strict=True))
    ahead = (1050.0, 900.0)
    line(*zip(ahead[0] + 34 * np.cos(t), ahead[1] + 34 * np.sin(t), strict=True))
    for side in (1, -1):
        line(*[(ahead[0] + side * x, ahead[1] + y) for x, y in [(34, 4), (300, 4), (300, 12), (34, 12)]])
    pen.line([(ahead[0], ahead[1] - 34), (ahead[0], ahead[1] - 150)], fill=0, width=3)
    image.save(file)


def test_a_wing_sections_round_end_over_a_delta_s_cone_is_no_stern(tmp_path: Path) -> None:
    file = tmp_path / "delta.png"
    _delta(file)
    tracing = trace_picture(file, span_m=0.6)
    body = tracing.outline("body", "side")
    assert body is not None
    x = [float(v) for v in re.findall(r"(-?[\d.]+),", body.path)]
    assert max(x) == pytest.approx(560.0, abs=3.0)
    width = tracing.outline("body", "top")
    assert width is not None
    assert max(float(v) for v in re.findall(r"(-?[\d.]+),", width.path)) == pytest.approx(560.0, abs=3.0)
