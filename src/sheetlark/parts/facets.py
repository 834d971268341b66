"""Where the flat stretches of a part lie in space, and what guests cover of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from sheetlark.outline import Floats
from sheetlark.parts.kept import Kept, Stamp, digest, keep, shape_stamp
from sheetlark.parts.shadows import shadow_of_all
from sheetlark.parts.solids import Solid, mirrored_from, solid_stamp

MITRE: Literal["mitre"] = "mitre"  # corners stay sharp


@dataclass(frozen=True, slots=True, eq=False)
class Facet:
    """A flat stretch of a bent part.

    region : what of the sheet it holds; None for a part that stays flat
    matrix : shape (4, 4), from (u, v, w) on the sheet to the geometry axes [mm]
    """

    region: Any
    matrix: Floats

    def covered(self, guests: list[Solid], thickness: float, clearance: float) -> Any:
        """What a guest, in one or more solids, covers of a sheet here, grown by a clearance; None where it passes by."""
        marks = tuple(solid_stamp(g) for g in guests)
        key = (marks, self.matrix.tobytes(), shape_stamp(self.region), thickness, clearance)
        return _COVERS.get(key, lambda: self._covered(guests, thickness, clearance))

    def _covered(self, guests: list[Solid], thickness: float, clearance: float) -> Any:
        bare = self._shadow(guests, thickness + 2 * clearance)
        return None if bare is None else self._grown(bare, clearance)

    def _shadow(self, guests: list[Solid], thickness: float) -> Any:
        """What the guests cover; what stands to port covers the mirror image of what its twin covers."""
        import shapely

        over = self._over
        twins = {} if over is None else {id(g): t for g in guests if (t := mirrored_from(g)) is not None}
        starboard = [g for g in guests if id(g) not in twins]
        port = list(twins.values())
        if not port:
            return shadow_of_all(starboard, self.matrix, thickness)
        alike = [id(g) for g in port] == [id(g) for g in starboard]
        twin = shadow_of_all(port, self.matrix, thickness)
        own = twin if alike else shadow_of_all(starboard, self.matrix, thickness) if starboard else None
        if twin is None:
            return own
        sign = np.array(over)
        image = shapely.transform(twin, lambda corners: corners * sign)
        return image if own is None else own.union(image)

    @property
    def _over(self) -> tuple[float, float] | None:
        """What turns a place of the sheet into its mirror image to port; None where that lies on another sheet."""
        m = self.matrix
        if m[1, 3] == 0.0 and m[1, 2] == 0.0:
            if m[1, 0] == 0.0 and m[0, 1] == m[2, 1] == 0.0:
                return (1.0, -1.0)
            if m[1, 1] == 0.0 and m[0, 0] == m[2, 0] == 0.0:
                return (-1.0, 1.0)
        return None

    def _grown(self, cover: Any, clearance: float) -> Any:
        if clearance:
            cover = cover.buffer(clearance, join_style=MITRE)
        if self.region is not None:
            cover = cover.intersection(self.region)
        return None if cover.is_empty else cover


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Where the facets of a part lie.

    matrices : shape (n, 3, 4), from each facet to the geometry axes [mm]
    inverse : shape (n, 4, 4), from the geometry axes to each facet [mm]
    bounds : shape (n, 4), of each facet's region on the sheet: u and v, least then most; without end where it has none
    """

    facets: tuple[Facet, ...]
    stamp: Stamp
    matrices: Floats
    inverse: Floats
    bounds: Floats

    @classmethod
    def of(cls, facets: tuple[Facet, ...]) -> Places:
        """Of these facets."""
        free = (-np.inf, -np.inf, np.inf, np.inf)
        return cls(
            facets=facets,
            stamp=digest(*(m for f in facets for m in (shape_stamp(f.region), f.matrix.tobytes()))),
            matrices=np.stack([f.matrix[:3] for f in facets]),
            inverse=np.linalg.inv(np.stack([f.matrix for f in facets])),
            bounds=np.array([free if f.region is None else f.region.bounds for f in facets]),
        )


_COVERS: Kept[Any] = keep(500)  # three kits' worth or more


def flat_at(origin: Floats, u: Floats, v: Floats) -> Floats:
    """A matrix, shape (4, 4), for a plane through an origin with axes u and v made square to each other."""
    m = np.eye(4)
    a = np.asarray(u, dtype=np.float64) / np.linalg.norm(u)
    b = np.asarray(v, dtype=np.float64) - np.dot(v, a) * a
    b /= np.linalg.norm(b)
    (a0, a1, a2), (b0, b1, b2) = a.tolist(), b.tolist()
    m[:3, 0], m[:3, 1], m[:3, 3] = a, b, origin
    m[:3, 2] = a1 * b2 - a2 * b1, a2 * b0 - a0 * b2, a0 * b1 - a1 * b0
    return m
