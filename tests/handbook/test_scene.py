"""Line pictures: nothing shows that something nearer hides, and what shows is where it should be."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.handbook import Eye, Shown, draw
from sheetlark.handbook.pieces import Item
from sheetlark.parts import Part, Piece, RodPiece


def item(index: int, outline, matrix, *, holes=(), thickness: float = 5.0) -> Item:
    rings = tuple(np.array(h, dtype=float) for h in holes)
    part = Part(
        number=index + 1, name=f"p{index}", group="body", sheet="s", paper="both", thickness_mm=thickness,
        outline=np.array(outline, dtype=float), holes=rings,
        copies=((Piece(np.array(outline, dtype=float), rings, np.array(matrix, dtype=float)),),), mirrored=(False,),
    )  # fmt: skip
    return Item(index=index, name=part.name, part=part, rod=None)


def raised(z: float) -> np.ndarray:
    m = np.eye(4)
    m[2, 3] = z
    return m


SQUARE = [(-50, -50), (50, -50), (50, 50), (-50, 50)]
ABOVE = Eye(round_rad=0.0, above_rad=math.radians(89.999))


def length(picture, weight) -> float:
    return sum(
        float(np.linalg.norm(np.diff(s.points, axis=0), axis=1).sum())
        for s in picture.strokes
        if s.weight == weight
    )


def test_a_square_from_above_shows_its_outline_and_no_more():
    picture = draw([Shown(item=item(0, SQUARE, raised(0)), weight="new")], eye=ABOVE, labels=False)
    assert length(picture, "new") == pytest.approx(400.0, rel=0.02)
    assert picture.size_mm == pytest.approx((100.0, 100.0), abs=0.5)


def test_what_lies_under_a_larger_sheet_is_not_seen():
    small = [(-20, -20), (20, -20), (20, 20), (-20, 20)]
    shown = [
        Shown(item=item(0, small, raised(-30)), weight="there"),
        Shown(item=item(1, SQUARE, raised(0)), weight="new"),
    ]
    assert length(draw(shown, eye=ABOVE, labels=False), "there") == 0.0
    from_below = Eye(round_rad=0.0, above_rad=math.radians(-89.999))
    assert length(draw(shown, eye=from_below, labels=False), "there") == pytest.approx(160.0, rel=0.03)


def test_it_is_seen_through_a_hole():
    small = [(-20, -20), (20, -20), (20, 20), (-20, 20)]
    window = [[(-30, -30), (-30, 30), (30, 30), (30, -30)]]
    shown = [
        Shown(item=item(0, small, raised(-30)), weight="there"),
        Shown(item=item(1, SQUARE, raised(0), holes=window), weight="new"),
    ]
    assert length(draw(shown, eye=ABOVE, labels=False), "there") == pytest.approx(160.0, rel=0.03)


@settings(max_examples=25, deadline=None)
@given(st.floats(-math.pi, math.pi), st.floats(-1.4, 1.4), st.floats(5, 80), st.floats(5, 80))
def test_strokes_stay_inside_the_projected_outline(around, above, a, b):
    """Every line shown lies within the convex shape the plate covers as seen from there."""
    from shapely.geometry import LineString, MultiPoint

    outline = [(0, 0), (a, 0), (a, b), (0, b)]
    eye = Eye(round_rad=around, above_rad=above)
    picture = draw([Shown(item=item(0, outline, raised(3.0)), weight="new")], eye=eye, labels=False)
    axes = eye.axes()
    assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)
    corners = np.array([(x, y, z) for x, y in outline for z in (0.5, 5.5)]) @ axes.T
    cover = MultiPoint(corners[:, :2]).convex_hull.buffer(0.05)
    assert picture.strokes
    for stroke in picture.strokes:
        assert cover.covers(LineString(stroke.points))


@settings(max_examples=20, deadline=None)
@given(st.floats(-3.1, 3.1), st.floats(-1.3, 1.3))
def test_a_convex_block_shows_each_edge_whole_or_not_at_all(around, above):
    """Of a block's twelve edges those on a face turned to the eye show in full; the rest not at all."""
    eye = Eye(round_rad=around, above_rad=above)
    block = item(0, [(-40, -25), (40, -25), (40, 25), (-40, 25)], raised(0), thickness=30.0)
    picture = draw([Shown(item=block, weight="new")], eye=eye, labels=False)
    axes = eye.axes()
    size = np.array([40.0, 25.0, 15.0])
    expected = 0.0
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        for si in (-1, 1):
            for sj in (-1, 1):
                turned = max(si * axes[2, i], sj * axes[2, j])
                if abs(turned) < 0.05 or min(abs(axes[2, i]), abs(axes[2, j])) < 0.05:
                    return  # a face seen edge on: either is right
                if turned > 0:
                    expected += 2 * size[k] * math.hypot(axes[0, k], axes[1, k])
    assert length(picture, "new") == pytest.approx(expected, rel=0.03)


def test_labels_sit_on_their_own_part_where_it_can_be_seen():
    left, right = [(-90, -20), (-10, -20), (-10, 20), (-90, 20)], [(10, -20), (90, -20), (90, 20), (10, 20)]
    picture = draw(
        [
            Shown(item=item(0, left, raised(0)), weight="new"),
            Shown(item=item(1, right, raised(0)), weight="new"),
        ],
        eye=ABOVE,
    )
    at = {label.text: label.at for label in picture.labels}
    axes = ABOVE.axes()
    for text, outline in (("1", left), ("2", right)):
        flat = np.column_stack([np.array(outline, dtype=float), np.full(4, 2.5)]) @ axes.T
        low, high = flat[:, :2].min(axis=0), flat[:, :2].max(axis=0)
        assert (np.array(at[text]) > low + 10).all()
        assert (np.array(at[text]) < high - 10).all()


def test_a_bent_wire_is_drawn_along_its_way():
    rod = RodPiece(
        name="wire",
        key="w",
        group="gear",
        points_mm=((0, 0, 0), (0, 60, 0), (0, 60, -40)),
        width_mm=2,
        height_mm=2,
    )
    picture = draw([Shown(item=Item(index=0, name="wire", part=None, rod=rod), weight="new")], labels=False)
    assert length(picture, "new") > 180


def test_the_same_picture_twice_is_the_same():
    shown = [
        Shown(item=item(0, SQUARE, raised(0)), weight="new"),
        Shown(item=item(1, SQUARE, raised(20)), weight="there"),
    ]
    one, two = draw(shown), draw(shown)
    assert [s.points.tobytes() for s in one.strokes] == [s.points.tobytes() for s in two.strokes]
