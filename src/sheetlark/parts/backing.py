"""What a plate is glued flat against, and how thick the packing between them has to be.

A firewall tilted to its thrust line cannot lie flat on an upright former: it touches at an edge and is packed with a
wedge. A plate is held by whatever upright part lies behind or ahead of it, no further off than a sheet is thick.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.parts.blank import Blank

PACKED_MM = 5.0  # the thickest packing: a piece of the sheet itself; common practice, no source
TOUCHES_MM = 0.4  # nearer than this the glue itself fills
_LEAST_MM2 = 100.0  # of the plate must lie over material


@dataclass(frozen=True, slots=True, eq=False)
class Backing:
    """An upright part a plate is glued to, and the least and the greatest gap between their faces. [mm]."""

    host: Blank
    least_mm: float
    most_mm: float

    @property
    def touches(self) -> bool:
        """Whether they meet without packing."""
        return self.most_mm <= TOUCHES_MM


def backing(plate: Blank, hosts: list[Blank]) -> Backing | None:
    """The nearest upright part that a plate can be glued flat to; None where none is near enough."""
    found = [b for host in hosts if (b := _against(plate, host)) is not None]
    return min(found, key=lambda b: b.most_mm, default=None)


def _against(plate: Blank, host: Blank) -> Backing | None:
    from shapely.geometry import Polygon

    to_host = np.linalg.inv(host.matrix)
    if len(host.facets) > 1 or abs(float(plate.matrix[:3, 2] @ host.matrix[:3, 2])) < 0.9:
        return None
    ring = np.asarray(plate.shape.exterior.coords)
    faces = [
        (np.column_stack([plate.to_space(ring, w), np.ones(len(ring))]) @ to_host.T)[:, :3]
        for w in (-plate.thickness / 2, plate.thickness / 2)
    ]
    # The plate's face that looks at the host, and how far it stands off the host's.
    heights = [f[:, 2] for f in faces]
    below = float(np.mean(heights[0] + heights[1])) < 0
    near = np.maximum(*heights) if below else np.minimum(*heights)
    gaps = (-near if below else near) - host.thickness / 2
    least, most = float(gaps.min()), float(gaps.max())
    if least > PACKED_MM or least < -host.thickness:
        return None
    over = Polygon(faces[0][:, :2]).buffer(0).intersection(host.shape)
    return Backing(host, max(least, 0.0), max(most, 0.0)) if over.area >= _LEAST_MM2 else None
