"""Bent sheet lies flat at its true size."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.errors import GeometryError
from sheetlark.outline import signed_area
from sheetlark.parts.bending import Bend, arc_length, arc_points, offset_line, ruled

sizes = st.floats(20.0, 300.0)


@settings(max_examples=40, deadline=None)
@given(width=sizes, share=st.floats(0.05, 0.5), length=sizes, taper=st.floats(0.2, 1.0))
def test_a_deck_folds_back_without_stretching(width, share, length, taper):
    arc = arc_points(width, share * width, 12)
    first = np.column_stack([np.zeros(13), arc])
    second = np.column_stack([np.full(13, length), taper * arc[:, 0], 30.0 + taper * arc[:, 1]])
    outline, facets, rulings = ruled(first, second)
    flat = np.linalg.norm(np.diff(rulings, axis=0), axis=2)
    assert flat[:, 0] == pytest.approx(np.linalg.norm(np.diff(first, axis=0), axis=1), rel=1e-9)
    assert flat[:, 1] == pytest.approx(np.linalg.norm(np.diff(second, axis=0), axis=1), rel=1e-9)
    for i, facet in enumerate(facets):
        for end, points in ((0, first), (1, second)):
            at = facet.matrix @ np.array([*rulings[i, end], 0.0, 1.0])
            assert at[:3] == pytest.approx(points[i], abs=1e-6)
    assert abs(signed_area(outline)) > 0


@settings(max_examples=40, deadline=None)
@given(width=sizes, share=st.floats(0.02, 0.5), count=st.integers(4, 30))
def test_facets_of_an_arc_are_as_long_as_the_arc(width, share, count):
    points = arc_points(width, share * width, count)
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    assert steps.sum() == pytest.approx(arc_length(width, share * width), rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(5, 60), st.floats(-20, 20)), min_size=2, max_size=8))
def test_a_bent_side_is_as_long_as_its_line(steps):
    line = np.cumsum(np.array([(0.0, 0.0), *steps]), axis=0)
    bend = Bend.along(line)
    assert bend.s[-1] - bend.s[0] == pytest.approx(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())
    flat = bend.developed(np.array([[0.0, 0.0], [line[-1, 0], 0.0], [line[-1, 0], 30.0], [0.0, 30.0]]))
    assert abs(signed_area(flat)) == pytest.approx(30.0 * (bend.s[-1] - bend.s[0]))
    x, y, z = np.eye(3)
    for facet, a, s in zip(bend.facets(x, y, z), line[:-1], bend.s[:-1], strict=True):
        at = facet.matrix @ np.array([s, 0.0, 0.0, 1.0])
        assert at[:3] == pytest.approx([a[0], a[1], 0.0], abs=1e-9)


def test_an_offset_line_keeps_its_distance():
    line = np.array([[0.0, 0.0], [100.0, 10.0], [200.0, 10.0], [300.0, -5.0]])
    moved = offset_line(line, -2.5)
    for a, b, p, q in zip(line[:-1], line[1:], moved[:-1], moved[1:], strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        for point in (p, q):
            assert along[0] * (point - a)[1] - along[1] * (point - a)[0] == pytest.approx(-2.5)


def test_what_is_twisted_is_refused():
    a = np.array([[0, -30, 0], [0, 30, 0.0]])
    b = np.array([[100, -30, 0], [100, 30, 25.0]])
    with pytest.raises(GeometryError, match=r"twisted by .* cannot be made from one flat sheet"):
        ruled(a, b)


def test_a_line_that_turns_back_is_refused():
    with pytest.raises(GeometryError, match="turns back"):
        Bend.along(np.array([[0.0, 0.0], [50.0, 0.0], [40.0, 10.0]]))


def test_a_deck_higher_than_half_round_is_refused():
    with pytest.raises(GeometryError, match=r"at most 40\.0 mm high"):
        arc_points(80.0, 45.0, 8)


def test_the_nose_ring_closes(built):
    ring = built("brambling").kit.part("nose ring")
    base = built("brambling").kit.part("nose front")
    diameter = np.ptp(base.outline[:, 0])
    assert ring.size_mm[0] == pytest.approx(math.pi * (diameter - ring.thickness_mm), abs=0.1)
    pieces = ring.copies[0]
    ends = [
        pieces[0].matrix @ np.array([0.0, 0.0, 0.0, 1.0]),
        pieces[-1].matrix @ np.array([ring.outline[:, 0].max(), 0.0, 0.0, 1.0]),
    ]
    assert ends[0][:3] == pytest.approx(ends[1][:3], abs=1e-6)
