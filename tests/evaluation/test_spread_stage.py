"""Spreads: the quick function is the stages' own at no spread; slopes agree with draws."""

import math
import time

import numpy as np
import pytest

import sheetlark
from sheetlark.design import edited, loads, starter
from sheetlark.evaluation import FIGURES


@pytest.fixture(scope="module")
def e():
    return sheetlark.evaluate(loads(starter("brambling")))


def test_with_nothing_off_it_is_the_stages_own_figures(e):
    got = dict(zip(FIGURES, e.spreading(e.spreading.mean), strict=True))
    p = e.flight.performance
    assert got["stall_ms"] == pytest.approx(e.flight.stall_ms, rel=1e-9)
    assert got["climb_ms"] == pytest.approx(p.best_climb_ms, rel=0.01)
    assert got["top_ms"] == pytest.approx(p.top_ms, rel=0.01)
    assert got["cruise_min"] == pytest.approx(e.flight.cruise_s / 60, rel=1e-9)
    assert got["margin"] == pytest.approx(e.air.static_margin, rel=1e-9)
    assert got["thrust_to_weight"] == pytest.approx(e.drive.thrust_to_weight, rel=1e-9)
    assert got["peak_sideslip_rad"] == pytest.approx(e.controls.coordinated.peak_sideslip_rad, rel=1e-6)


@pytest.mark.parametrize(
    ("place", "figure", "sign"),
    [(0, "stall_ms", 1), (2, "climb_ms", 1), (3, "top_ms", -1), (1, "margin", -1), (6, "cruise_min", -1), (7, "peak_sideslip_rad", -1)],
)  # fmt: skip
def test_each_input_moves_its_figure_the_right_way(e, place, figure, sign):
    off = e.spreading.mean.copy()
    off[place] += e.spreading.deviation[place]
    change = e.spreading(off) - e.spreading(e.spreading.mean)
    assert sign * change[FIGURES.index(figure)] > 0


def test_stall_spread_by_hand(e):
    """Stall goes with the root of mass over greatest lift."""
    s = e.spreading
    by_hand = 0.5 * e.flight.stall_ms * math.hypot(s.deviation[0] / s.mean[0], s.deviation[5])
    assert e.spread.stall_ms.deviation == pytest.approx(by_hand, rel=0.02)


def test_slopes_agree_with_a_thousand_draws_in_time(e):
    began = time.process_time()
    draws = e.spreading.drawn(1000, seed=1)
    assert time.process_time() - began < 8.0  # 3 to 4 s on a busy machine
    assert draws.answered == 1.0
    for k, name in enumerate(FIGURES):
        slope = getattr(e.spread, name)
        assert draws.spread(k).deviation == pytest.approx(slope.deviation, rel=0.25), name
        assert draws.spread(k).mean == pytest.approx(slope.mean, abs=0.5 * slope.deviation), name
    again = e.spreading.drawn(50, seed=1)
    assert (again.values == e.spreading.drawn(50, seed=1).values).all()


def test_a_glider_has_no_thrust_to_spread():
    glider = sheetlark.evaluate(loads(edited(starter("dunnock"), {("drive",): None})))
    assert glider.spread.climb_ms is None
    assert glider.spread.thrust_to_weight is None
    assert glider.spread.stall_ms.deviation > 0
    assert np.isfinite(glider.spread.margin.deviation)


def test_findings_say_how_sure_they_are():
    slow = sheetlark.evaluate(
        loads(edited(starter("brambling"), {("drive", "propeller"): "6x4-thin-electric"}))
    )
    found = {f.id: f for f in sheetlark.findings(slow)}
    assert found["climb"].likelihood.startswith("very likely")
    assert 0.9 < found["climb"].probability <= 1.0


def test_the_document_carries_spreads(e):
    document = sheetlark.document(e, remedies=False)
    for key in ("stall_ms", "climb_ms", "top_ms", "cruise_min", "static_margin_percent", "peak_sideslip_deg"):
        assert document["spread"][key]["deviation"] > 0
    assert document["strength"]["limit_load_factor"] > 2
    assert document["strength"]["tip_deflection_mm_at_limit"] > 1
    assert {c["moves"] for c in document["controls"]} == {"elevator", "rudder", "aileron"}
    assert set(document["drive"]["thrust_angles"]) >= {"down_deg", "right_deg", "stated"}
