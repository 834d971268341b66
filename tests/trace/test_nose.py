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
from sheetlark.trace.nose import spinner_end


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


def test_a_wheel_or_a_strut_is_no_spinner() -> None:
    """The piece followed forward from aft may be a wheel, or a body that struts have joined to a wing."""
    body = np.array([(0.0, -20.0), (300.0, -20.0), (300.0, 20.0), (0.0, 20.0)])
    turn = np.linspace(0.0, 2.0 * np.pi, 60, endpoint=False)
    wheel = np.c_[85.0 + 25.0 * np.cos(turn), -60.0 + 25.0 * np.sin(turn)]
    assert spinner_end((body, wheel), 1000.0) == 0.0
    joined = np.array(
        [(0, -20), (300, -20), (300, 20), (95, 20), (95, 120), (75, 120), (75, 20), (0, 20)], dtype=float
    )
    assert spinner_end((joined,), 1000.0) == 0.0
    cowl = np.array([(0, -6), (25, -6), (25, -20), (300, -20), (300, 20), (25, 20), (25, 6), (0, 6)], float)
    assert spinner_end((cowl,), 1000.0) == pytest.approx(25.0, abs=1.5)
