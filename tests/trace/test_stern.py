"""A stern drawn round below a fin."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy.spatial import cKDTree

from sheetlark.trace import trace_picture
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.edges import stations
from sheetlark.trace.shapes.inkgrid import Ink
from sheetlark.trace.shapes.stern import Stern, round_stern

_END = 980.0  # of the body; the fin's foot hangs over it to 1000
_PEN = 3.0
_RISING = [
    (0, -20),
    (200, -43),
    (250, -40),
    (327, -33),
    (414, -20),
    (463, -11),
    (493, -4),
    (510, 0),
    (545, 8),
]


def _half(x: Floats) -> Floats:
    """Half the depth of a body with a round stern."""
    return np.asarray(
        60.0 * np.clip(1.0 - np.clip((x - 700.0) / (_END - 700.0), 0.0, 1.0) ** 2.5, 0.0, 1.0) ** 0.4
    )


def _inked(points: Floats, pen: float) -> Ink:
    """The ink of a stroke through closely set points."""
    tree = cKDTree(points)

    def ink(a: Floats, b: Floats) -> Floats:
        far = tree.query(np.c_[np.ravel(a), np.ravel(b)])[0].reshape(np.shape(a))
        return np.asarray(np.clip(1.5 - far / (0.5 * pen), 0.0, 1.0))

    return ink


def _found(*, inked: tuple[float, float], closes: bool = False) -> tuple[Floats, Stern | None]:
    """What is found where the upper half is drawn between two places, a fin standing from 850 to 940.

    closes : whether the top view has the body come to a round end.
    """
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

    ink = _inked(line, _PEN)
    return x, round_stern(
        x, low, high, ahead, ink, 1000.0, start=850.0, free=940.0, pen_mm=_PEN, closes=lambda _: closes
    )


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


def test_a_stern_nobody_drew_is_round_where_the_top_view_has_it_round() -> None:
    x, found = _found(inked=(700.0, 850.0), closes=True)
    assert found is not None
    assert found.end[0] == pytest.approx(_END, abs=3.0)
    below = (x > 860.0) & (x < _END - 4.0)
    assert np.abs(found.high - _half(x))[below].max() < 4.0
    assert not found.drawn[below].any()


def test_a_stern_with_its_upper_edge_drawn_straight_on_is_not_round() -> None:
    """The lower edge rises in a curve; the ink where the upper one would close in a curve is the lower edge's own."""
    x = stations(545.0)
    low = np.interp(x, *zip(*_RISING, strict=True))
    high = np.interp(x, [0.0, 200.0, 336.0, 545.0], [40.0, 46.0, 40.9, 24.0])
    line = np.vstack([np.c_[x, low], np.c_[x, high], np.c_[np.full(40, 544.5), np.linspace(8.0, 24.0, 40)]])
    ink = _inked(line, 5.2)
    drawn = x > 312.0  # ahead of that the wing's section hides the edge
    assert round_stern(x, low, high, drawn, ink, 545.0, start=336.4, free=536.2, pen_mm=5.2) is None


def _delta(file: Path, *, hinge: bool = False) -> None:
    """A delta three-view: its section's round end lies over a straight cone stern that reaches behind the fin.

    hinge : the fin is drawn over the body, whose edge stops below it; a rudder's hinge goes on as a panel line.
    """
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
    if hinge:
        fin = [(380, 31), (470, 150), (525, 150), (525, 13), (524, 5), (378, 22)]
        pen.polygon([(at[0] + x, at[1] - y) for x, y in fin], fill=255)
        pen.line([(at[0] + 500, at[1] - 150), (at[0] + 500, at[1] + 16)], fill=0, width=3)
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


@pytest.mark.parametrize("hinge", [False, True])
def test_a_body_goes_on_behind_a_delta_s_wing_as_far_as_the_top_view_shows(
    tmp_path: Path, hinge: bool
) -> None:
    """The section's round end over its cone is no stern, nor is a line through fin and body a stern post."""
    file = tmp_path / "delta.png"
    _delta(file, hinge=hinge)
    tracing = trace_picture(file, span_m=0.6)
    body = tracing.outline("body", "side")
    assert body is not None
    x = [float(v) for v in re.findall(r"(-?[\d.]+),", body.path)]
    assert max(x) == pytest.approx(560.0, abs=3.0)
    width = tracing.outline("body", "top")
    assert width is not None
    assert max(float(v) for v in re.findall(r"(-?[\d.]+),", width.path)) == pytest.approx(560.0, abs=3.0)
