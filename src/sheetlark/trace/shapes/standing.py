"""What stands between and below wings and body: struts and undercarriage of the side and the front view."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.model import Outline
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.paper.search import Sheet
from sheetlark.trace.paper.views import Candidate, Reading
from sheetlark.trace.shapes.body import Body
from sheetlark.trace.shapes.frame import Frame
from sheetlark.trace.shapes.front import FrontView
from sheetlark.trace.shapes.inkgrid import InkGrid
from sheetlark.trace.shapes.struts import Members, biplane_struts, wing_struts
from sheetlark.trace.shapes.surface import Surface
from sheetlark.trace.shapes.undercarriage import gear_outlines


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SideView:
    """The side view's frame, its outlines in millimetres, and the body in it."""

    frame: Frame
    rings: tuple[Floats, ...]
    body: Body


def standing_outlines(
    sheet: Sheet,
    reading: Reading,
    side: SideView,
    ahead: FrontView | None,
    wings: tuple[Surface, ...],
    body: Body | None,
    *,
    span: float,
) -> list[Outline]:
    """Struts, wheels and legs, from the views they are drawn in.

    Parameters
    ----------
    wings : the wing, or the upper and the lower one.
    body : the body's width over x, where it was found.
    """
    assert reading.side is not None
    pen = sheet.pen_px * side.frame.mm_per_px
    side_grid = _grid(sheet, reading.side, side.frame, pen=pen, span=span)
    front_grid = None
    if ahead is not None and reading.front is not None:
        front_grid = _grid(sheet, reading.front, ahead.frame, pen=pen, span=span)
    trust = reading.confidence
    line = side.body
    under = float(0.5 * (wings[0].lead[0] + wings[0].trail[0]))
    half = float(np.interp(under, body.x, body.high)) if body is not None else 0.04 * span
    low, high = float(np.interp(under, line.x, line.low)), _top_of(line, wings[0])
    out = gear_outlines(
        side_grid, front_grid, line.x, line.low, half_body=half, pen=pen, span=span, trust=trust
    )
    found = ahead.wings if ahead is not None else ()
    slope = float(np.mean([np.tan(np.radians(w.dihedral_deg)) for w in found])) if found else 0.0
    if len(wings) == 2 and len(found) == 2:
        upper, lower = wings
        members = Members(
            low=found[0].z_mm,
            high=found[1].z_mm,
            slope=slope,
            semi=float(min(upper.station[-1], lower.station[-1])),
            lower=(float(lower.lead[0]), float(lower.trail[0])),
            upper=(float(upper.lead[0]), float(upper.trail[0])),
            body=(half, high),
        )
        out += biplane_struts(members, front_grid, side_grid, pen=pen, span=span, trust=trust)
    elif len(wings) == 1 and len(found) == 1 and front_grid is not None:
        out += wing_struts(
            front_grid,
            body=(half, low, high),
            wing=(found[0].z_mm, slope),
            semi=float(wings[0].station[-1]),
            pen=pen,
            span=span,
            trust=trust,
        )
    return out


def _top_of(line: Body, wing: Surface) -> float:
    """Height of the body under a wing, from just ahead of it and behind it: struts and sections hide it there. [mm]"""
    lead, trail = float(wing.lead[0]), float(wing.trail[0])
    chord = trail - lead
    ahead = np.interp(np.linspace(lead - 0.4 * chord, lead - 0.1 * chord, 9), line.x, line.high)
    behind = np.interp(np.linspace(trail + 0.1 * chord, trail + 0.4 * chord, 9), line.x, line.high)
    return 0.5 * float(np.median(ahead) + np.median(behind))


def _grid(sheet: Sheet, c: Candidate, frame: Frame, *, pen: float, span: float) -> InkGrid:
    """The ink of a view and of all that is joined to it, sampled once."""
    x0, y0, x1, y1 = (v * sheet.pool for v in c.solid.reach)
    corners = frame.to_mm(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=np.float64))
    low, high = corners.min(0) - 2.0 * pen, corners.max(0) + 2.0 * pen

    corner, far = (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))
    return InkGrid.of(frame.inked(sheet.dark), corner, far, max(0.4 * pen, span / 900.0))
