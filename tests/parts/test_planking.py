"""Planks: they lie flat without stretching, stand where the surface is, and say how far off they are."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from sheetlark.errors import GeometryError
from sheetlark.parts.bending import ruled
from sheetlark.parts.planking import fewest_planks, planked


def turtle(stations=15, across=121):
    """A deck that bulges along as well as across."""
    t = np.linspace(0.0, 1.0, stations)[:, None]
    a = np.linspace(-1.2, 1.2, across)[None, :]
    r = 30.0 * (1 - 0.5 * t**2)
    return np.stack([200.0 * t * np.ones_like(a), r * np.sin(a), r * np.cos(a)], axis=2)


def test_planks_stand_on_the_surface_and_share_their_edges():
    grid = turtle()
    found = planked(grid, 5)
    corners = []
    for plank in found.planks:
        n = len(plank.outline) // 2
        placed = []
        for at in plank.outline:
            facet = min(plank.facets, key=lambda f, p=at: f.region.distance(_place(p)))
            turn = facet.matrix[:3, :3]
            assert turn.T @ turn == pytest.approx(np.eye(3), abs=1e-9)
            placed.append((facet.matrix @ np.array([*at, 0.0, 1.0]))[:3])
        corners.append((np.array(placed[:n]), np.array(placed[n:])[::-1]))
    for (right, _), (_, left) in itertools.pairwise(corners):
        assert right == pytest.approx(left, abs=1e-3)  # a facet's region is grown by a hair
    assert corners[0][1][0] == pytest.approx(grid[0, 0], abs=1e-3)
    assert corners[-1][0][-1] == pytest.approx(grid[-1, -1], abs=1e-3)


def _place(p):
    from shapely.geometry import Point

    return Point(float(p[0]), float(p[1]))


def test_more_planks_come_nearer():
    off = [planked(turtle(), n).deviation_mm for n in (2, 4, 8)]
    assert off[0] > 3.5 * off[1] > 12.0 * off[2]  # the bulge over a chord falls with its square


def test_what_cannot_be_split_so_is_refused():
    with pytest.raises(GeometryError, match="1 to 60 planks"):
        planked(turtle(), 0)
    with pytest.raises(GeometryError, match="at least 41 points"):
        planked(turtle(across=21), 20)
    with pytest.raises(GeometryError, match="still stand"):
        fewest_planks(turtle(across=9), 0.001)


def test_a_twisted_surface_is_refused_with_the_split_that_can():
    first = np.array([[0.0, -20.0, 0.0], [0.0, 20.0, 0.0]])
    second = np.array([[100.0, -20.0, -6.0], [100.0, 20.0, 6.0]])
    with pytest.raises(GeometryError, match="two planks stand"):
        ruled(first, second)
