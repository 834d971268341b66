"""A sphere in gores: widths, edges and bulge against spherical geometry.

Source: I. N. Bronshtein, K. A. Semendyayev, Handbook of Mathematics, chapters on solids and the circle (formulas from
memory): a chord of angle a is 2 r sin(a/2) long, its arc stands r (1 - cos(a/2)) over it; a parallel at latitude b has
the radius R cos b.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from sheetlark.parts.planking import fewest_planks, planked

SOURCE = "Bronshtein & Semendyayev, Handbook of Mathematics (formulas from memory)"
pytestmark = pytest.mark.published


def sphere(radius, turn, stations=61, across=721):
    lat = np.linspace(0.0, math.radians(80.0), stations)[:, None]
    lon = np.linspace(0.0, turn, across)[None, :]
    return radius * np.stack(
        [np.sin(lat) * np.ones_like(lon), np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon)], axis=2
    )


@pytest.mark.parametrize(("radius", "count"), [(44.0, 8), (44.0, 12), (70.0, 16)])
def test_gores_of_a_sphere(record_error, radius, count):
    found = planked(sphere(radius, 2 * math.pi), count)
    assert len(found.planks) == count
    angle = 2 * math.pi / count
    record_error(
        case=f"sphere of {radius:.0f} mm in {count} gores: bulge over a gore",
        got=found.deviation_mm,
        published=radius * (1 - math.cos(angle / 2)),
        tolerance=0.01,  # mm
        source=SOURCE,
        relative=False,
    )
    gore = found.planks[0]
    n = len(gore.outline) // 2
    right, left = gore.outline[:n], gore.outline[n:][::-1]
    lat = np.linspace(0.0, math.radians(80.0), n)
    record_error(
        case=f"sphere of {radius:.0f} mm in {count} gores: width at every parallel",
        got=np.linalg.norm(right - left, axis=1),
        published=2 * radius * np.cos(lat) * math.sin(angle / 2),
        tolerance=0.01,
        source=SOURCE,
        relative=False,
    )
    record_error(
        case=f"sphere of {radius:.0f} mm in {count} gores: its edge is the meridian",
        got=float(np.linalg.norm(np.diff(right, axis=0), axis=1).sum()),
        published=radius * math.radians(80.0),
        tolerance=0.1,
        source=SOURCE,
        relative=False,
    )


def test_fewest_planks(record_error):
    """Within d of a circle of radius r: the least n with r (1 - cos(a / 2 n)) under d."""
    radius, turn, allowed = 50.0, math.pi, 0.5
    published = math.ceil(turn / (2 * math.acos(1 - allowed / radius)))
    record_error(
        case="half a sphere of 50 mm within 0.5 mm: number of planks",
        got=len(fewest_planks(sphere(radius, turn), allowed).planks),
        published=published,
        tolerance=0.0,
        source=SOURCE,
        relative=False,
    )
