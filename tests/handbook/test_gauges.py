"""Gauges have the angles they are for."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sheetlark.design import STARTERS
from sheetlark.handbook import gauges
from sheetlark.handbook.gauges import LARGEST_MM, shim_heights_mm


def slope(a, b) -> float:
    return math.atan2(b[1] - a[1], b[0] - a[0])


@pytest.mark.parametrize("name", STARTERS)
def test_every_gauge_fits_a_page_and_is_a_shape(bench, name):
    from shapely.geometry import Polygon

    for gauge in gauges(bench.evaluated(name)):
        x0, y0, x1, y1 = gauge.box_mm
        assert x1 - x0 <= LARGEST_MM[0] + 1e-6, gauge.name
        assert y1 - y0 <= LARGEST_MM[1] + 1e-6, gauge.name
        for cut in gauge.cuts:
            assert Polygon(cut).is_valid, gauge.name


@pytest.mark.parametrize("name", STARTERS)
def test_incidence_gauges_slope_by_the_incidence(bench, name):
    e = bench.evaluated(name)
    found = {g.name: g for g in gauges(e)}
    for surface in e.airframe.surfaces:
        if surface.role == "fin":
            continue
        gauge = next(g for n, g in found.items() if n.startswith(f"Incidence of the {surface.name}:"))
        low_front, low_back, top_back, top_front = gauge.cuts[0]
        assert slope(low_front, low_back) == 0.0
        assert abs(slope(top_front, top_back)) == pytest.approx(abs(surface.incidence_rad), abs=1e-9)


def test_the_upper_wings_gauge_reaches_from_thrust_line_to_underside(bench):
    e = bench.evaluated("brambling")
    gauge = next(g for g in gauges(e) if g.name.startswith("Incidence of the upper wing"))
    wing = next(s for s in e.airframe.surfaces if s.name == "upper wing")
    face = 1e3 * wing.at_m[2] - 0.5e3 * wing.thickness_m - 1e3 * e.design.drive.motor_at[2]
    assert gauge.cuts[0][3][1] == pytest.approx(face, abs=0.5)
    # nose up: less height behind
    assert gauge.cuts[0][2][1] < gauge.cuts[0][3][1]


def test_dihedral_gauge(bench):
    e = bench.evaluated("brambling")
    gauge = next(g for g in gauges(e) if g.name.startswith("Dihedral"))
    wing = next(s for s in e.airframe.surfaces if abs(s.dihedral_rad) > 1e-3 and s.role == "wing")
    outline = gauge.cuts[0]
    assert slope(outline[3], outline[2]) == pytest.approx(abs(wing.dihedral_rad))


def test_throw_gauges_show_the_throws(bench):
    e = bench.evaluated("brambling")
    for surface in e.airframe.surfaces:
        if surface.control is None:
            continue
        gauge = next(
            g
            for g in gauges(e)
            if g.name.startswith(f"Throw of the {surface.control.moves} ({surface.name})")
        )
        angles = sorted(slope(line[0], line[-1]) for line in gauge.lines[1:3])
        assert angles == pytest.approx([-surface.control.down_rad, surface.control.up_rad])


def test_thrust_gauges_and_shim_agree(bench):
    e = bench.evaluated("brambling")
    drive = e.design.drive
    gauge = next(g for g in gauges(e) if g.name.startswith("Thrust line"))
    for cut, angle in zip(gauge.cuts, (drive.down, drive.right), strict=True):
        assert -slope(cut[0], cut[1]) == pytest.approx(angle)
        foot = cut[0] - cut[5]
        assert foot[0] == pytest.approx(0.0)  # the short leg stands square
    top, bottom, left, right = shim_heights_mm(e)
    circle = 1e3 * e.stock.motor(drive.motor).mount_circle_m
    assert (top, left) == pytest.approx((circle * math.tan(drive.down), circle * math.tan(drive.right)))
    assert (bottom, right) == (0.0, 0.0)


def test_no_motor_no_shim(bench):
    e = bench.evaluated("brambling")
    names = [g.name for g in gauges(e)]
    assert len(names) == len(set(names))
    assert np.isfinite([v for g in gauges(e) for v in g.box_mm]).all()
