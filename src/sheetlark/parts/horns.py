"""Horns: the slot each stands in, behind the hinge line, as near as may be to its push-rod."""

from __future__ import annotations

from typing import Any

import numpy as np

from sheetlark.outline import Floats
from sheetlark.parts.facets import MITRE
from sheetlark.parts.panels import Hinge, edge_run

# Of a horn for a 5 to 9 g servo, from memory.
HORN_FOOT_MM = (10.0, 1.8)  # of the horn's tongue through the sheet: along the chord, across it
_HORN_BEHIND_MM = 2.0  # from the end of the hinge's bevel to the horn's tongue; common practice, no source
_RIM_MM = 3.0  # left between the slot and any other edge; common practice, no source


def span_of(hinge: Hinge) -> tuple[Floats, Floats]:
    """Both ends of a moving part's own hinge edge on the geometry axes, the inner or lower one first."""
    along = (hinge.end - hinge.start) / np.linalg.norm(hinge.end - hinge.start)
    low, high = edge_run(hinge.moving.shape, hinge.start + 0.3 * np.array([along[1], -along[0]]), along)
    if hinge.moving.sides == "one" and hinge.moving.group != "fin":
        low = max(low, float(-hinge.start @ along))  # one piece across the middle: its starboard half
    ends = [hinge.start + s * along for s in (low, high)]
    a, b = ((hinge.frame @ np.array([*e, 0.0, 1.0]))[:3] for e in ends)
    return a, b


def cut_horn(hinge: Hinge, at: Floats) -> bool:
    """A slot across the hinge line for the horn's tongue, as near to a place as the part allows."""
    from shapely.affinity import scale
    from shapely.geometry import Polygon

    moving = hinge.moving
    along = (hinge.end - hinge.start) / np.linalg.norm(hinge.end - hinge.start)
    aft = np.array([along[1], -along[0]])
    starboard = at * (1.0, -1.0, 1.0) if at[1] < 0 and moving.group != "fin" else at
    local = (np.linalg.inv(hinge.frame) @ np.array([*starboard, 1.0]))[:2]
    want = float((local - hinge.start) @ along)
    length, width = HORN_FOOT_MM
    setback = max((b.setback_mm for b in moving.bevels), default=0.0)
    back = 0.25 + setback + _HORN_BEHIND_MM
    across = moving.sides == "one" and moving.group != "fin"
    for step in (0.0, 2.0, -2.0, 4.0, -4.0, 7.0, -7.0, 10.0, -10.0, 14.0, 18.0, 24.0):
        foot = hinge.start + (want + step) * along
        corners = [
            foot + u * aft + v * along
            for u, v in (
                (back, -width / 2),
                (back + length, -width / 2),
                (back + length, width / 2),
                (back, width / 2),
            )
        ]
        slot: Any = Polygon(corners)
        if across and at[1] < 0:
            slot = scale(slot, 1.0, -1.0, origin=(0, 0))
        if not moving.shape.contains(slot.buffer(_RIM_MM)):
            continue
        moving.take(slot)
        which = "" if moving.sides == "one" or moving.group == "wing" else ", one half only"
        ring = [(float(u), float(v)) for u, v in slot.buffer(1.0, join_style=MITRE).exterior.coords]
        moving.mark("place", ring, f"horn{which}")
        return True
    return False
