"""Which silhouette is which, on sheets where every view is what it is and says where its nose is."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from PIL import Image

sys.path.insert(0, str(Path(__file__).parent))
import drawing_c as C  # noqa: N812

from sheetlark.trace import trace_picture


@pytest.mark.parametrize(("kind", "seed"), [("monoplane", 10), ("biplane", 13), ("delta", 2)])
def test_a_side_view_may_stand_on_its_tail_beside_the_top_view(tmp_path: Path, kind: str, seed: int) -> None:
    drawn = C.draw(seed, kind, "clean")
    assert drawn.noses["top"] == drawn.noses["side"] == "up"
    Image.fromarray(drawn.image).save(tmp_path / "three-view.png")
    found = trace_picture(tmp_path / "three-view.png", span_m=drawn.span_mm / 1000)
    assert {v.kind: v.nose for v in found.views} == drawn.noses
    for view in found.views:
        x0, y0, x1, y1 = view.box_px
        u0, v0, u1, v1 = drawn.boxes_px[view.kind]
        assert u0 < 0.5 * (x0 + x1) < u1
        assert v0 < 0.5 * (y0 + y1) < v1


def test_a_plank_wing_ahead_of_another_is_no_dimension_line(tmp_path: Path) -> None:
    """Its leading edge runs right across, as a dimension line does; but the nose stands ahead of it."""
    drawn = C.draw(26, "biplane", "clean")
    assert drawn.traits["form"] == "rectangular"
    Image.fromarray(drawn.image).save(tmp_path / "three-view.png")
    found = trace_picture(tmp_path / "three-view.png", span_m=drawn.span_mm / 1000)
    assert {v.kind for v in found.views} == {"top", "side", "front"}
    wings = [o for o in found.outlines if o.part == "wing"]
    assert len(wings) == 2


def test_a_dimension_line_under_the_front_view_is_no_second_wing(tmp_path: Path) -> None:
    drawn = C.draw(19, "monoplane", "heavy")
    Image.fromarray(drawn.image).save(tmp_path / "three-view.png")
    found = trace_picture(tmp_path / "three-view.png", span_m=drawn.span_mm / 1000)
    assert [o.name for o in found.outlines if o.part == "wing"] == ["wing"]
