"""How long a clean and a disturbed three-view take, side by side."""

import sys
from pathlib import Path

import pytest

from sheetlark.trace import trace_picture

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "trace"))
import drawing


@pytest.mark.parametrize("state", ["clean", "disturbed"])
def test_trace(benchmark, tmp_path, state):
    plane = drawing.aeroplane(1)
    how = drawing.disturbances(1) if state == "disturbed" else {"pen": 2.0, "style": "wire"}
    file = tmp_path / "a.png"
    drawing.draw(plane, 1, **how).image.save(file)
    benchmark.pedantic(trace_picture, args=(file,), kwargs={"span_m": 0.76}, rounds=2)
