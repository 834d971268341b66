"""Which faces behind a line drawn right across a figure are paper."""

from __future__ import annotations

import numpy as np

from sheetlark.trace.regions import _even


def test_a_rudder_is_as_deep_everywhere_and_a_figure_behind_a_dimension_line_is_not() -> None:
    rudder = np.zeros((40, 120), dtype=bool)
    rudder[4:34, 3:117] = True
    assert _even(rudder, 4)
    behind = rudder.copy()
    behind[20:, 52:68] = False  # a body reaches into it
    assert not _even(behind, 4)
    swept = np.arange(40)[:, None] < 12 + 0.2 * np.arange(120)[None, :]
    assert not _even(swept, 4)
