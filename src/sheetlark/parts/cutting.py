"""How blanks give way, and what the pieces are called."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np

from sheetlark.errors import GeometryError
from sheetlark.parts.blank import Blank, Guest
from sheetlark.parts.fits import SWEEP_MM
from sheetlark.parts.kept import Kept, keep
from sheetlark.parts.panels import Hinge
from sheetlark.parts.solids import Solid, solid_stamp, turn_about


def way_clear(blank: Blank, sweep: Solid) -> Any:
    """What a moving surface's way takes of an upright blank, with all that would be left hanging behind it."""
    from shapely.affinity import translate
    from shapely.ops import unary_union

    cover = blank.shadow(sweep, SWEEP_MM)
    if cover is None or not cover.intersects(blank.shape):
        return None
    return unary_union([cover, translate(cover, 20.0, 0.0)]).convex_hull


def relieve(hinge: Hinge, solid: Solid) -> None:
    """Cut a rudder's foot free of an elevator's whole way, or of a tailplane, wherever the rudder stands.

    A raked hinge line lowers the foot as the rudder swings, so the cut is found at every angle and turned back.
    """
    point, axis = hinge.axis()
    throws = (hinge.up_rad, hinge.down_rad)
    key = (hinge.moving.stamp, point.tobytes(), axis.tobytes(), throws, solid_stamp(solid))
    cover = _RELIEFS.get(key, lambda: _relief(hinge, solid))
    if cover is not None:
        hinge.moving.take(cover)


_RELIEFS: Kept[Any] = keep(60)


def _relief(hinge: Hinge, solid: Solid) -> Any:
    """All that a solid covers of a rudder on its way; None where it meets nothing."""
    from shapely.ops import unary_union

    covers = []
    for share in np.linspace(-1.0, 1.0, 9):
        angle = float(share) * (hinge.up_rad if share > 0 else hinge.down_rad)
        turned = solid.transform(turn_about(*hinge.axis(), -angle)[:3])
        cover = way_clear(hinge.moving, turned)
        if cover is not None:
            covers.append(cover)
    return unary_union(covers) if covers else None


def yielding(pieces: list[Blank], guest: Guest, free: float) -> list[Blank]:
    """Pieces of a blank that give way to a guest, cut into more where it parts them."""
    found = []
    for piece in pieces:
        try:
            more = piece.yield_to(guest, free)
        except GeometryError:
            continue  # the guest takes its whole place
        found += [piece, *[m for m in more if m.shape.area > 200.0]]
    return found


def straight_edge(blank: Blank, u: float) -> tuple[float, float] | None:
    """The longest run of a blank's outline along u = const."""
    p = np.asarray(blank.shape.exterior.coords)
    best = None
    for a, b in itertools.pairwise(p):
        if abs(a[0] - u) < 0.05 and abs(b[0] - u) < 0.05:
            low, high = sorted((float(a[1]), float(b[1])))
            if best is None or high - low > best[1] - best[0]:
                best = (low, high)
    return best


def without_range(pieces: list[Blank], x0: float, x1: float) -> list[Blank]:
    """Covers with the stretch from x0 to x1 of the body taken out."""
    from shapely.geometry import box as rectangle

    found = []
    for blank in pieces:
        s = [developed_at(blank, x) for x in (x0, x1)]
        try:
            rest = blank.take(rectangle(s[0], -1e4, s[1], 1e4))
        except GeometryError:
            continue
        found += [blank, *rest]
    return found


def developed_at(blank: Blank, x: float) -> float:
    """Where a station of the body lies along a bent cover's sheet."""
    best = (np.inf, 0.0)
    for facet in blank.facets:
        u = float((x - facet.matrix[0, 3]) / facet.matrix[0, 0])
        low, high = (-1e9, 1e9) if facet.region is None else (facet.region.bounds[0], facet.region.bounds[2])
        best = min(best, (max(low - u, u - high, 0.0), u))
    return best[1]


def named(pieces: list[Blank], name: str) -> list[Blank]:
    """Pieces of one blank with names that tell them apart, fore to aft, or low to high."""
    pieces = [p for p in pieces if p.shape.area > 200.0]
    if len(pieces) == 1:
        pieces[0].name = name
        return pieces
    former = name.startswith("former")
    pieces.sort(key=lambda p: p.shape.bounds[1] if former else p.shape.bounds[0])
    two = ["lower", "upper"] if former else ["front", "rear"]
    words = two if len(pieces) == 2 else [str(i + 1) for i in range(len(pieces))]
    for piece, word in zip(pieces, words, strict=True):
        piece.name = f"{name}, {word}"
    return pieces
