"""The third hand's drawings: what is called true lies on the ink, and nothing hangs on chance."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
import drawing_c as C  # noqa: N812
import planes_c


def off_ink(d: C.Drawing, o: C.TrueOutline, moved_mm: float = 0.0) -> np.ndarray:
    """Distances of the drawn points of a true outline from the nearest inked pixel; 9 where none is near. [px]"""
    ink = np.pad((d.image if d.image.ndim == 2 else d.image.min(-1)) < 170, 4)
    m = d.to_px[o.view]
    at = np.floor((o.drawn + moved_mm) @ m[:, :2].T + m[:, 2]).astype(int) + 4
    off = np.full(len(at), 9.0)
    for dx, dy in np.ndindex(7, 7):
        near = ink[at[:, 1] + dy - 3, at[:, 0] + dx - 3]
        off[near] = np.minimum(off[near], np.hypot(dx - 3, dy - 3))
    return off


@pytest.mark.parametrize("kind", planes_c.KINDS)
@pytest.mark.parametrize("seed", [4, 7])
def test_truth_lies_on_the_ink(kind: str, seed: int) -> None:
    d = C.draw(seed, kind, "clean")
    assert {(o.part, o.view) for o in d.outlines} >= {
        ("wing", "top"),
        ("body", "top"),
        ("body", "side"),
        ("fin", "side"),
    }
    for o in d.outlines:
        if len(o.drawn) > 10:
            off = off_ink(d, o)
            # a hairline of one pixel may fall to either side of the line it stands for
            assert np.mean(off == 0) > (0.97 if d.pen_px > 2 else 0.75), (o.part, o.name, o.view)
            assert np.mean(off <= 1.0) > 0.99, (o.part, o.name, o.view)
            assert off.max() <= 2.0, (o.part, o.name, o.view)


def test_a_moved_outline_leaves_the_ink() -> None:
    d = C.draw(4, "monoplane", "clean")
    wing = next(o for o in d.outlines if o.part == "wing")
    assert np.mean(off_ink(d, wing, 3 * d.pen_px * d.scale_mm_per_px) == 0) < 0.5


@pytest.mark.parametrize("wear", C.WEARS)
def test_same_seed_same_drawing(wear: str) -> None:
    a, b = (C.draw(9, "biplane", wear) for _ in range(2))
    assert np.array_equal(a.image, b.image)
    assert a.image.dtype == np.uint8


def test_the_wing_spans_what_is_said() -> None:
    for kind in planes_c.KINDS:
        d = C.draw(5, kind, "clean")
        wide = max(np.ptp(o.points[:, 1]) for o in d.outlines if o.part == "wing")
        assert wide == pytest.approx(d.span_mm, rel=1e-6)
        left, top, right, bottom = d.boxes_px["front"]
        assert (right - left) * d.scale_mm_per_px == pytest.approx(d.span_mm, rel=1e-6)
        assert 0 <= left < right <= d.image.shape[1]
        assert 0 <= top < bottom <= d.image.shape[0]


def test_hinges_lie_inside_their_parts() -> None:
    import shapely

    for kind in planes_c.KINDS:
        for seed in range(6):
            p = planes_c.plane(seed, kind)
            for part, view, segment in p.hinges:
                whole = shapely.union_all([s.poly for s in p.shapes[view] if s.part == part])
                assert whole.buffer(p.span_mm * 1e-3).covers(shapely.LineString(segment)), (kind, seed, part)
