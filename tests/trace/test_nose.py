"""Where x begins: a nose drawn to a point, and one with propeller blades drawn across it."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

sys.path.insert(0, str(Path(__file__).parent))
import drawing_c as C  # noqa: N812

from sheetlark.trace import trace_picture


@pytest.mark.parametrize(
    ("seed", "nose", "propeller"),
    [(23, "pointed", "none"), (26, "pointed", "blades"), (27, "round", "blades"), (31, "blunt", "blades")],
)
def test_x_begins_at_the_bodys_own_nose(tmp_path: Path, seed: int, nose: str, propeller: str) -> None:
    drawn = C.draw(seed, "monoplane", "clean")
    assert (drawn.traits["nose"], drawn.traits["propeller"]) == (nose, propeller)
    Image.fromarray(drawn.image).save(tmp_path / "three-view.png")
    found = trace_picture(tmp_path / "three-view.png", span_m=drawn.span_mm / 1000)
    for view in ("top", "side"):
        axes = next(v.axes for v in found.views if v.kind == view)
        true = drawn.to_px[view][:, 2]
        along = np.asarray(axes.first_px) / np.linalg.norm(axes.first_px)
        off_mm = abs(float((np.asarray(axes.origin_px) - true) @ along)) * drawn.scale_mm_per_px
        assert off_mm < 0.0015 * drawn.span_mm
