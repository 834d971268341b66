"""Path data: read, sampled, written back."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.errors import GeometryError
from sheetlark.outline import half_planform, polygon, polyline, read_path, signed_area

number = st.floats(-900, 900, allow_nan=False).map(lambda v: round(v, 3))
point = st.tuples(number, number)


@given(st.lists(point, min_size=3, max_size=8, unique=True))
def test_lines_come_back(points):
    path = polyline(points, closed=True)
    assert np.allclose(read_path(path.text(6)).sample(), path.sample(), atol=1e-5)


@settings(max_examples=60)
@given(point, point, point, point, st.sampled_from([0.5, 0.05, 0.01]))
def test_chord_error_is_kept(a, b, c, d, tolerance):
    if math.dist(a, d) < 1:
        return
    curve = read_path(f"M {a[0]} {a[1]} C {b[0]} {b[1]} {c[0]} {c[1]} {d[0]} {d[1]}")
    coarse, fine = curve.sample(tolerance), curve.sample(tolerance / 400)
    # Distance of every fine point from the coarse polyline.
    from shapely import LineString, points

    assert LineString(coarse).distance(points(fine)).max() <= tolerance * 1.01


def test_an_arc_keeps_its_radius():
    circle = read_path("M 50 0 A 50 50 0 0 1 -50 0 A 50 50 0 0 1 50 0 Z").sample(1e-3)
    radius = np.hypot(*circle.T)
    assert abs(radius - 50).max() < 2e-6 * 50
    assert signed_area(circle) == pytest.approx(math.pi * 2500, rel=1e-4)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ("", "holds no line"),
        ("M 0 0", "holds no line"),
        ("rubbish", "cannot be read as an SVG path"),
        ("M 0 0 L 1e12 3 Z", "leaves the range"),
        ("M 0 0 L nan 3 Z", "cannot be read|leaves the range"),
        ("M 0 0 L 1 1 M 3 3 L 4 4", "one continuous run"),
        ("M 0 0 L 1 1 " * 60_000, "at most 400000"),
    ],
)
def test_refused_in_words(data, words):
    with pytest.raises(GeometryError, match=words):
        read_path(data)


def test_self_crossing_names_the_place():
    with pytest.raises(GeometryError, match=r"bow-tie crosses itself near \(50\.0, 50\.0\) mm"):
        polygon([(0, 0), (100, 100), (100, 0), (0, 100)], "bow-tie")


@given(
    st.floats(30, 2000),
    st.floats(20, 600),
    st.floats(0.05, 1.5),
    st.floats(-50, 60),
    st.floats(0, 1),
)
def test_planforms_are_sound(half_span, root, taper, sweep, roundness):
    path = half_planform(
        half_span_mm=half_span,
        root_chord_mm=root,
        tip_chord_mm=root * taper,
        sweep_rad=math.radians(sweep),
        tip_roundness=roundness,
    )
    assert path.start == (0.0, 0.0)
    assert path.end == pytest.approx((root, 0.0))
    area = polygon(path.sample(), "planform").area
    assert 0.4 * half_span * root * min(1, taper) < area <= half_span * root * (1 + taper) / 2 * (1 + 1e-9)
    assert path.sample()[:, 1].max() == pytest.approx(half_span)


def test_a_planform_without_chord_is_refused():
    with pytest.raises(GeometryError, match="must be positive"):
        half_planform(half_span_mm=100, root_chord_mm=0, tip_chord_mm=10)
