"""Hinge lines, struts, wheels and legs read from pictures, and none where none is drawn."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
import drawing as D  # noqa: N812
import lines
import rates

from sheetlark.trace import Tracing, trace_picture
from sheetlark.trace.shapes.hinges import find_hinge
from sheetlark.trace.shapes.surface import Surface


def found(
    tmp_path: Path, seed: int, kind: str, wear: str = "clean"
) -> tuple[list[lines.Found], list[str], Tracing, float]:
    case = rates.HANDS["c"](seed, kind, wear)
    case.image.save(tmp_path / "three-view.png")
    t = trace_picture(tmp_path / "three-view.png", span_m=case.span_mm / 1000)
    got, strays = lines.found_things(list(case.things), t, rates.side_shift(case, t), case.span_mm)
    return got, strays, t, case.span_mm


@pytest.mark.parametrize("wide", [1.0, 3.0])
def test_a_hinge_line_three_times_as_wide_as_the_pen_is_read(wide: float) -> None:
    """The pen may be taken for finer than it is."""
    z = np.linspace(0.0, 400.0, 80)
    wing = Surface(
        station=z,
        lead=np.full(80, 100.0),
        trail=np.full(80, 250.0),
        lead_root=0.0,
        trail_root=0.0,
        asymmetry=0.0,
    )

    def ink(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        along = (np.abs(x - 210.0) < 0.5 * wide) & (np.abs(y) > 200.0) & (np.abs(y) < 380.0)
        return np.asarray(along.astype(float))

    hinge = find_hinge(wing, ink, pen=1.0, root=30.0, least=0.15)
    assert hinge is not None
    assert (*hinge.inner, *hinge.outer) == pytest.approx((210.0, 200.0, 210.0, 380.0), abs=5.0)


@pytest.mark.parametrize(
    ("seed", "kind", "wear"),
    [(7001, "monoplane", "clean"), (7000, "canard", "heavy")],
)
def test_hinge_lines_are_read_where_they_are_drawn(tmp_path: Path, seed: int, kind: str, wear: str) -> None:
    got, strays, t, span = found(tmp_path, seed, kind, wear)
    hinges = [f for f in got if f.thing.part == "hinge"]
    assert {f.thing.name for f in hinges} == {"aileron", "elevator", "rudder"}
    assert all(f.error is not None and f.error < 0.005 for f in hinges)
    assert not [s for s in strays if s.startswith("hinge")]
    aileron = next(f.thing.points for f in hinges if f.thing.name == "aileron")
    o = t.outline("hinge", "top", "aileron")
    assert o is not None
    ends = np.array([[float(v) for v in p.split(",")] for p in o.half_path.split() if "," in p])
    assert np.abs(ends[:, 1] - aileron[:, 1]).max() < 0.01 * span
    assert o.path.count("M") == 2  # both halves
    said = next(n.says for n in t.notes if n.id == "hinges")
    assert "aileron" in said


@pytest.mark.parametrize("seed", [0, 3])
def test_no_hinge_is_read_where_none_is_drawn(tmp_path: Path, seed: int) -> None:
    """Ribs, a painted-over lower wing and a canopy are in these pictures, hinge lines are not."""
    plane = D.aeroplane(seed, "delta")
    D.draw(plane, seed).image.save(tmp_path / "three-view.png")
    t = trace_picture(tmp_path / "three-view.png", span_m=0.76)
    assert not [o for o in t.outlines if o.part == "hinge"]


def test_struts_and_undercarriage_of_a_biplane(tmp_path: Path) -> None:
    got, _, t, _ = found(tmp_path, 7001, "biplane", "heavy")
    for part, name, view in (
        ("gear", "wheel", "side"),
        ("gear", "wheel", "front"),
        ("gear", "leg", "front"),
        ("strut", "interplane", "side"),
        ("strut", "interplane", "front"),
        ("strut", "cabane", "front"),
    ):
        mine = [f for f in got if (f.thing.part, f.thing.name, f.thing.view) == (part, name, view)]
        assert mine, (part, name, view)
        assert all(f.error is not None for f in mine), (part, name, view)
    told = json.loads(t.to_json())
    assert {"strut", "gear"} <= {o["part"] for o in told["outlines"]}
    assert all(0.0 < o["confidence"] < 1.0 for o in told["outlines"])
