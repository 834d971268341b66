"""Grain: parts of a sheet that splits are cut with it along their length, and may not be turned across it."""

from __future__ import annotations

import numpy as np

from sheetlark.parts.making import Assembly

_SHARE = 0.3  # of a part's length that its arrow takes


def follow_grain(made: Assembly) -> None:
    """Draw the grain's arrow along each part that is cut from a grained sheet, and keep it from being turned."""
    for blank in made.blanks():
        if not made.stock.sheet(blank.sheet).grain:
            continue
        blank.may_turn = False
        u0, v0, u1, v1 = blank.shape.bounds
        along = np.array([1.0, 0.0]) if u1 - u0 >= v1 - v0 else np.array([0.0, 1.0])
        middle = np.asarray(blank.shape.representative_point().coords[0])
        reach = 0.5 * _SHARE * max(u1 - u0, v1 - v0) * along
        a, b = middle - reach, middle + reach
        blank.mark("grain", [(float(a[0]), float(a[1])), (float(b[0]), float(b[1]))], "grain")
