"""Sheets that lie on their side: a scan or a PDF page turned by a right angle or two.

A view's nose is told as it points in the picture as it was given; every step between counts it on the sheet set upright.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from sheetlark.trace.ink import Floats
from sheetlark.trace.model import Corrections, Tracing
from sheetlark.trace.search import Sheet, read_sheet
from sheetlark.trace.views import Reading

_CLOCKWISE = ("up", "right", "down", "left")


def quarters(sheet: Sheet) -> int:
    """Right angles by which the picture was turned anticlockwise to set it upright."""
    return round(sheet.turned_rad / (np.pi / 2.0))


def _turned(nose: str, steps: int) -> str:
    return _CLOCKWISE[(_CLOCKWISE.index(nose) + steps) % 4] if nose in _CLOCKWISE else nose


def on_sheet(corrections: Corrections, sheet: Sheet) -> Corrections:
    """Corrections whose noses, said of the picture as given, are said of the upright sheet."""
    steps = -quarters(sheet)
    return replace(
        corrections, boxes=tuple(replace(b, nose=_turned(b.nose, steps)) for b in corrections.boxes)
    )


def in_picture(tracing: Tracing, sheet: Sheet) -> Tracing:
    """A tracing whose noses are said of the picture as given."""
    steps = quarters(sheet)
    return replace(tracing, views=tuple(replace(v, nose=_turned(v.nose, steps)) for v in tracing.views))


def lies_on_its_side(reading: Reading) -> bool:
    """Whether the side view stands on end and no front view was found beside it: on an upright sheet that is rare."""
    return reading.side is not None and reading.side_axis == "upright" and reading.front is None


def set_upright(grey: Floats, sheet: Sheet, reading: Reading) -> Iterator[tuple[Sheet, Reading]]:
    """Readings of the sheet turned a quarter either way, of those that show a front view more than this one does."""
    for turn in (-np.pi / 2.0, np.pi / 2.0):
        other, read = read_sheet(grey, turned_rad=sheet.turned_rad + turn)
        if read.front is not None and read.confidence > reading.confidence:
            yield other, read
