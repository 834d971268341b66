"""Outlines drawn over the picture by hand: halves, whole ones, and a design of nothing else."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from sheetlark.design import loads
from sheetlark.evaluation import evaluate
from sheetlark.trace import (
    Corrections,
    DrawnOutline,
    Tracing,
    ViewBox,
    design_from,
    open_picture,
    trace_with,
)

sys.path.insert(0, str(Path(__file__).parent))
import drawing as D  # noqa: N812
import judge as J  # noqa: N812

LINE = ((400.0, 60.0), (400.0, 560.0))
WING = ((400.0, 180.0), (740.0, 200.0), (740.0, 290.0), (400.0, 300.0))
TAIL = ((400.0, 480.0), (520.0, 490.0), (520.0, 545.0), (400.0, 550.0))
SIDE = ((100.0, 690.0), (100.0, 650.0), (300.0, 620.0), (600.0, 660.0), (600.0, 680.0), (300.0, 730.0))
FIN = ((520.0, 660.0), (560.0, 580.0), (600.0, 580.0), (600.0, 662.0))


def blank(tmp_path: Path) -> Path:
    from PIL import Image

    file = tmp_path / "blank.png"
    Image.new("L", (800, 800), 255).save(file)
    return file


def drawn(part: str, view: str, points: object, name: str, *, half: bool = False) -> DrawnOutline:
    return DrawnOutline(part=part, view=view, points_px=points, name=name, half=half)  # type: ignore[arg-type]


def by_hand(tmp_path: Path, *outlines: DrawnOutline, nose: str = "left") -> Tracing:
    corrections = Corrections(
        outlines=outlines, centre_line_px=LINE, boxes=(ViewBox(kind="side", box_px=(90, 570, 610, 740), nose=nose),)
    )  # fmt: skip
    return trace_with(blank(tmp_path), corrections, span_m=0.68)


def test_a_design_of_hand_drawn_outlines_alone(tmp_path: Path) -> None:
    t = by_hand(
        tmp_path,
        drawn("wing", "top", WING, "wing", half=True),
        drawn("tail", "top", TAIL, "tailplane", half=True),
        drawn("body", "side", SIDE, "body side"),
        drawn("fin", "side", FIN, "fin"),
    )
    assert t.span_mm == pytest.approx(680.0, abs=0.5)
    assert t.proportions.length_mm == pytest.approx(500.0, abs=0.5)  # one millimetre a pixel
    body = t.outline("body", "side")
    assert body is not None
    ring = J.ring(body.path)
    assert ring[:, 0].min() == pytest.approx(0.0, abs=0.1)
    assert ring[:, 1].max() == pytest.approx(50.0, abs=0.3)  # z = 0 is the middle of the nose, at 670 px
    design = loads(design_from(t, name="By hand").toml)
    e = evaluate(design)
    assert e.airframe.reference.span_m == pytest.approx(0.68, rel=0.002)
    assert design.tailplane is not None
    assert e.weights.all_up_kg > 0.1


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_half_on_either_side_is_mirrored(tmp_path: Path, mirrored: bool) -> None:
    half = [(800 - x, y) for x, y in WING] if mirrored else list(WING)
    t = by_hand(tmp_path, drawn("wing", "top", half, "wing", half=True))
    o = t.outline("wing", "top")
    assert o is not None
    ring = J.ring(o.path)
    assert ring[:, 1].max() == pytest.approx(340.0, abs=0.2)
    assert ring[:, 1].min() == pytest.approx(-340.0, abs=0.2)
    assert o.half_path


def test_a_whole_outline_is_made_symmetric(tmp_path: Path) -> None:
    crooked = [*WING[:-1], (400.0, 300.0), (60.0, 294.0), (60.0, 204.0)]  # the port tip lies 4 px further aft
    t = by_hand(tmp_path, drawn("wing", "top", crooked, "wing"))
    o = t.outline("wing", "top")
    assert o is not None
    ring = J.ring(o.path)
    tip = ring[np.abs(ring[:, 1]) > 335.0]
    assert tip[:, 0].min() == pytest.approx(142.0, abs=0.6)  # the mean of 140 and 144
    assert tip[:, 0].max() == pytest.approx(232.0, abs=0.6)


def test_a_wing_that_stops_at_the_body_is_carried_to_the_centre(tmp_path: Path) -> None:
    panel = ((430.0, 182.0), (740.0, 200.0), (740.0, 290.0), (430.0, 299.0))
    t = by_hand(tmp_path, drawn("wing", "top", panel, "wing", half=True))
    o = t.outline("wing", "top")
    assert o is not None
    assert design_from(t).toml
    ring = J.ring(o.path)
    assert np.ptp(ring[np.abs(ring[:, 1]) < 2.0][:, 0]) == pytest.approx(117.0, abs=0.5)


@pytest.mark.parametrize("rotated", [0.0, 3.0])
def test_axes_lie_on_what_was_found(tmp_path: Path, rotated: float) -> None:
    """A found outline laid back on the picture by the view's axes, taken as drawn by hand, is the same outline."""
    plane = D.aeroplane(1)
    d = D.draw(plane, 1, rotate=rotated)
    file = tmp_path / "a.png"
    d.image.save(file)
    opened = open_picture(file)
    t = trace_with(file, Corrections(), span_m=0.76, opened=opened)
    top = t.view("top")
    assert top is not None
    assert top.axes is not None
    # A line drawn along the centre line levels the sheet by the turn that was found: the light box's Level tool.
    slope = float(np.degrees(np.arctan2(top.axes.first_px[1], top.axes.first_px[0])))
    assert slope - 90.0 * round(slope / 90.0) == pytest.approx(t.turned_deg, abs=0.05)
    marks = []
    for part, view, name in (("wing", "top", "wing"), ("body", "side", "body side")):
        o, v = t.outline(part, view), t.view(view)
        assert o is not None
        assert v is not None
        assert v.axes is not None
        ring = J.ring(o.path)
        px = np.array(v.axes.origin_px) + ring @ np.array([v.axes.first_px, v.axes.second_px])
        assert (px.min(0) >= np.array(v.box_px[:2]) - 4.0).all()
        assert (px.max(0) <= np.array(v.box_px[2:]) + 4.0).all()
        marks.append(drawn(part, view, tuple(map(tuple, px.tolist())), name))
    again = trace_with(file, Corrections(outlines=tuple(marks)), span_m=0.76, opened=opened)
    for o in (again.outline("wing", "top"), again.outline("body", "side")):
        assert o is not None
        before = t.outline(o.part, o.view)
        assert before is not None
        mean, worst = J.apart(J.ring(o.path), J.ring(before.path))
        assert mean < 0.5
        assert worst < 3.0
