"""Control surfaces of a starting design, from the hinge lines that were read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.model import Outline, Tracing
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.contour import crossings
from sheetlark.trace.starting.design_parts import points_of

LEAST, MOST = 0.08, 0.6  # shares of the chord a flat sheet can be hinged at and still be steered by
TO_TIP = 0.97  # a hinge line read this far out goes on to the tip


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """A control's share of the chord and where it begins and ends, as shares of the half span or the height."""

    chord: float
    start: float
    end: float


def hinge_line(tracing: Tracing, name: str) -> Floats | None:
    """Both ends of a hinge line that was read, inner or lower one first, shape (2, 2); None where none was."""
    o = next((o for o in tracing.outlines if o.part == "hinge" and o.name == name), None)
    return _ends(o) if o is not None else None


def _ends(o: Outline) -> Floats:
    points = points_of(o.half_path or o.path)
    ends = points[[0, -1]]
    return np.asarray(ends[np.argsort(ends[:, 1])])


def wing_control(tracing: Tracing, wing: Outline, half: Floats) -> Control | None:
    """Aileron or elevon of a wing as drawn, or None where its hinge line was not read.

    Parameters
    ----------
    half : ndarray, shape (n, 2)
        The wing's half outline in the top view. [mm]
    """
    line = None
    for what in ("aileron", "elevon"):
        name = what if wing.name == "wing" else f"{wing.name} {what}"
        line = line if line is not None else hinge_line(tracing, name)
    if line is None:
        return None
    semi = float(half[:, 1].max())
    (x0, y0), (x1, y1) = line.tolist()
    start, end = y0 / semi, y1 / semi
    end = 1.0 if end > TO_TIP else end
    # the design's hinge keeps its share at the inner end and at three quarters of the way out
    at = [y0, y0 + 0.75 * (y1 - y0)]
    shares = [_share(half, y, float(np.interp(y, [y0, y1], [x0, x1]))) for y in at]
    return _control(float(np.mean(shares)), start, end)


def elevator_control(tracing: Tracing, half: Floats, body_half: float) -> Control | None:
    """The elevator as drawn, or None where its hinge line was not read.

    A flat elevator is one piece across the centre line unless it was drawn to begin well out from the body; its hinge
    is straight across at the mean place of the drawn one.
    """
    line = hinge_line(tracing, "elevator")
    if line is None:
        return None
    semi = float(half[:, 1].max())
    (x0, y0), (x1, y1) = line.tolist()
    start = y0 / semi if y0 > body_half + 0.08 * semi else 0.0
    end = 1.0 if y1 / semi > TO_TIP else y1 / semi
    inner = max(start * semi, 0.002 * semi)
    return _control(_share(half, inner, 0.5 * (x0 + x1)), start, end)


def rudder_control(tracing: Tracing, foot: float) -> Control | None:
    """The rudder as drawn, or None where its hinge line was not read.

    Parameters
    ----------
    foot : z of the foot of the fin that a design makes of the drawn one. [mm]
    """
    line, fin = hinge_line(tracing, "rudder"), tracing.outline("fin", "side")
    if line is None or fin is None:
        return None
    ring = points_of(fin.path)
    height = float(ring[:, 1].max()) - foot
    if height <= 0.0:
        return None
    shares = []
    for up in (0.15, 0.75):
        z = foot + up * height
        shares.append(_share(ring, z, float(np.interp(z, line[:, 1], line[:, 0]))))
    start, end = ((z - foot) / height for z in line[:, 1].tolist())
    start = 0.0 if start < 0.15 else start
    return _control(float(np.mean(shares)), start, 1.0 if end > 0.85 else end)


def _share(half: Floats, y: float, x: float) -> float:
    """How much of the chord at y lies behind x."""
    cuts = crossings((half,), y, 1)
    if not len(cuts):
        return 0.0
    lead, trail = float(cuts[0, 0]), float(cuts[-1, 1])
    return (trail - x) / max(trail - lead, 1e-9)


def _control(share: float, start: float, end: float) -> Control | None:
    if not (0.5 * LEAST < share < 1.3 * MOST and end - start >= 0.1):
        return None  # what was read does not make a control
    return Control(
        chord=float(np.clip(share, LEAST, MOST)),
        start=float(np.clip(start, 0.0, 0.9)),
        end=float(np.clip(end, 0.1, 1.0)),
    )
