"""The middle of a front view."""

from __future__ import annotations

import numpy as np
import pytest

from sheetlark.trace.front import mirror_line
from sheetlark.trace.ink import Floats


@pytest.mark.parametrize("off", [-18.0, 0.0, 13.0])
def test_the_middle_is_where_the_ink_is_mirrored(off: float) -> None:
    """An extension line at one tip moves the silhouette's middle, and not the mirror line. Span 1000 mm."""

    def ink(y: Floats, z: Floats) -> Floats:
        wing = (np.abs(y - off) < 500.0) & (np.abs(z - 100.0 - 0.05 * np.abs(y - off)) < 6.0)
        body = np.abs(np.hypot(y - off, z - 80.0) - 60.0) < 4.0
        extension = (y < off - 480.0) & (y > off - 545.0) & (np.abs(z - 130.0) < 3.0)
        return np.asarray((wing | body | extension).astype(np.float64))

    assert mirror_line(ink, span=1000.0, high=200.0) == pytest.approx(off, abs=1.5)
