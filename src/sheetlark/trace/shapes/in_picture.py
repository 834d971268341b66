"""Where a view lies in the picture as it was given: its box and its axes."""

from __future__ import annotations

import numpy as np

from sheetlark.trace.model import Axes, View
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.paper.search import Sheet
from sheetlark.trace.paper.views import Candidate
from sheetlark.trace.shapes.contour import Rings
from sheetlark.trace.shapes.frame import Frame

Box = tuple[float, float, float, float]


def view_in_picture(
    kind: str,
    sheet: Sheet,
    c: Candidate,
    rings: Rings,
    frame: Frame,
    *,
    px_per_px: float,
    nose: str,
    confidence: float,
    most_px: tuple[float, float] = (0.0, 0.0),
    also: Floats | None = None,
) -> View:
    """A view as it is reported.

    Parameters
    ----------
    px_per_px : pixels of the given picture in one of the sheet's.
    most_px : of a front view, the span and the greatest height it may have, in pixels of the sheet; zeros where wings of
        single lines need not be looked for.
    also : ndarray, shape (n, 2)
        Points (column, row) of the sheet that the view reaches beyond its outline.
    """
    every = np.vstack([*rings.rings, *([] if also is None else [also])])
    return View(
        kind=kind,
        box_px=_box(sheet, c, every, px_per_px, most_px),
        scale_mm_per_px=frame.mm_per_px / px_per_px,
        nose=nose,
        confidence=confidence,
        axes=_axes(frame, sheet, px_per_px),
    )


def _box(sheet: Sheet, c: Candidate, every: Floats, px_per_px: float, most_px: tuple[float, float]) -> Box:
    """Box of a view in the given picture: the points of its outline, grown to small parts joined to it."""
    x0, y0 = every.min(0)
    x1, y1 = every.max(0)
    r = np.array(c.solid.reach, dtype=np.float64) * sheet.pool
    span, high = most_px
    wide = span > 0.0 and abs((r[2] - r[0]) / span - 1.0) < 0.04
    if wide:
        x0, x1 = float(r[0]), float(r[2])  # wings of single lines or on struts belong to the view
    w, h = x1 - x0, y1 - y0
    if wide and r[3] - r[1] < max(high, 1.1 * h):
        y0, y1 = float(r[1]), float(r[3])
    elif (
        r[0] > x0 - 0.04 * w
        and r[2] < x1 + 0.04 * w
        and r[1] > y0 - 0.9 * min(w, h)
        and r[3] < y1 + 0.9 * min(w, h)
        and r[3] - r[1] < 1.9 * h
        and min(w, h) < 0.45 * max(w, h)
    ):
        y0, y1 = min(y0, float(r[1])), max(y1, float(r[3]))
    # of a turned sheet the corners of an upright box lie far out: its figure, and the middles of its sides, tell more
    x, y = 0.5 * (x0 + x1), 0.5 * (y0 + y1)
    pts = sheet.to_given(np.vstack([every, [[x0, y], [x1, y], [x, y0], [x, y1]]]))
    lo, hi = (pts.min(0) + 0.5) * px_per_px, (pts.max(0) + 0.5) * px_per_px
    return float(lo[0]), float(lo[1]), float(hi[0]), float(hi[1])


def _axes(frame: Frame, sheet: Sheet, px_per_px: float) -> Axes:
    """A view's frame in pixels of the picture as it was given."""
    marks = frame.origin + np.array([np.zeros(2), frame.first, frame.second]) / frame.mm_per_px
    origin, first, second = ((sheet.to_given(marks) + 0.5) * px_per_px).tolist()
    return Axes(
        origin_px=(origin[0], origin[1]),
        first_px=(first[0] - origin[0], first[1] - origin[1]),
        second_px=(second[0] - origin[0], second[1] - origin[1]),
    )
