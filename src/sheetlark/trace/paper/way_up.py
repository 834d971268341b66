"""Sheets that lie on their side or upside down: a scan or a PDF page turned by a right angle or two.

A view's nose is told as it points in the picture as it was given; every step between counts it on the sheet set upright.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sheetlark.trace.model import Corrections, Tracing
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.paper.search import Sheet, read_sheet
from sheetlark.trace.paper.views import Reading

_SURELY = 0.03  # by which another way up must show more
_FIN = 0.1  # what a fin counts beside that
_ENDS, _UP = 0.15, 0.9  # shares of the length looked at, and of the reach down

_CLOCKWISE = ("up", "right", "down", "left")


def quarters(sheet: Sheet) -> int:
    """Right angles by which the picture was turned anticlockwise to set it upright."""
    return round(sheet.turned_rad / (np.pi / 2.0))


def _turned(nose: str, steps: int) -> str:
    return _CLOCKWISE[(_CLOCKWISE.index(nose) + steps) % 4] if nose in _CLOCKWISE else nose


def as_upright(corrections: Corrections, sheet: Sheet) -> Corrections:
    """Corrections whose noses, said of the picture as given, are said of the upright sheet."""
    steps = -quarters(sheet)
    return replace(
        corrections, boxes=tuple(replace(b, nose=_turned(b.nose, steps)) for b in corrections.boxes)
    )


def as_given(tracing: Tracing, sheet: Sheet) -> Tracing:
    """A tracing whose noses are said of the picture as given."""
    steps = quarters(sheet)
    return replace(tracing, views=tuple(replace(v, nose=_turned(v.nose, steps)) for v in tracing.views))


def set_upright(
    grey: Floats, sheet: Sheet, reading: Reading, traced: Callable[[Sheet, Reading], Tracing | None]
) -> tuple[Sheet, Reading, Tracing | None]:
    """The sheet and its reading the right way up: as they are, or read anew where another way shows more.

    With what was traced of them to tell that; None where nothing was.

    Parameters
    ----------
    traced : callable
        Traces a reading at some span; None where that cannot be done.
    """
    on_its_side = _lies_on_its_side(reading)
    if not on_its_side and not _hangs_head_down(reading):
        return sheet, reading, None
    as_it_lies = traced(sheet, reading)
    best, most = (sheet, reading, as_it_lies), _shown(as_it_lies) + _SURELY
    if not on_its_side and _on_its_wheels(as_it_lies):
        return best
    for turn in (-np.pi / 2.0, np.pi / 2.0) if on_its_side else (np.pi,):
        other = read_sheet(grey, turned_rad=sheet.turned_rad + turn)
        if on_its_side and other[1].front is None:
            continue
        tracing = traced(*other)
        shown = _shown(tracing)
        if shown > most:
            best, most = (*other, tracing), shown
            if _on_its_wheels(tracing):  # what is left to try would set it on its head
                break
    return best


def _on_its_wheels(tracing: Tracing | None) -> bool:
    """Whether a fin stands up and wheels hang down, so that no other way is worth a try."""
    return tracing is not None and tracing.outline("gear", "side") is not None and _finned(tracing)


def _finned(tracing: Tracing) -> bool:
    """Whether a fin stands up, further above the middle of the nose than it reaches below; one read upside down hangs."""
    import svg.path

    fin = tracing.outline("fin", "side")
    if fin is None:
        return False
    high = [s.end.imag for s in svg.path.parse_path(fin.path)]
    return max(high) > -min(high)


def _shown(tracing: Tracing | None) -> float:
    """How much a picture shows: upside down its fin, wheels and legs are not found, on its side its front view is not."""
    if tracing is None:
        return 0.0
    return tracing.confidence + 0.02 * len(tracing.outlines) + (_FIN if _finned(tracing) else 0.0)


def _lies_on_its_side(reading: Reading) -> bool:
    """Whether the side view stands on end and no front view was found beside it: on an upright sheet that is rare."""
    return reading.side is not None and reading.side_axis == "upright" and reading.front is None


def _hangs_head_down(reading: Reading) -> bool:
    """Whether a side view reaches further down than up at its ends, where a fin stands up.

    A skid or a propeller may look alike, so this only says that the other way is worth a try.
    """
    if reading.side is None or reading.side_axis != "level":
        return False
    mask = reading.side.solid.mask
    mask = mask[:, mask.any(0)]
    rows, columns = mask.shape
    top, bottom = mask.argmax(0), rows - 1 - mask[::-1].argmax(0)
    middle = float(np.median(top + bottom)) / 2.0
    ends = np.r_[: round(_ENDS * columns), round((1.0 - _ENDS) * columns) : columns]
    return middle - float(top[ends].min()) < _UP * (float(bottom[ends].max()) - middle)
