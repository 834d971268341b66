"""Half laps: two flat parts that cross, each slotted half-way from opposite edges, so that one slides on the other."""

from __future__ import annotations

from typing import Any

import numpy as np

from sheetlark.outline import Floats
from sheetlark.parts.blank import Blank
from sheetlark.parts.fits import SLOT_FIT_MM
from sheetlark.parts.part import Joint, Point3, to_port
from sheetlark.parts.solids import polygons

_FAR_MM = 2000.0
_RUNS_ON_MM = 15.0  # beyond the other plate; less than this is a foot to be cut off, not a crossing


def half_lap(first: Blank, second: Blank) -> Joint | None:
    """Slot two flat parts into one another where they cross.

    Parameters
    ----------
    first, second : Blank
        Both flat, and both there once or both in pairs. Each loses half of the line they share; which of the two opens forward is chosen so
        that the least is cut.

    Returns
    -------
    Joint or None
        None where they do not cross, or where the halves left would not hold.
    """
    ends = _crossing(first, second)
    if ends is None:
        return None
    a, b = ends
    middle = 0.5 * (a + b)
    plans = []
    for one, two in ((a, b), (b, a)):
        cuts = [_slot(first, second, middle, one), _slot(second, first, middle, two)]
        left = [blank.shape.difference(cut) for blank, cut in zip((first, second), cuts, strict=True)]
        # A slot that parts its plate in two is none.
        if all(len([p for p in polygons(shape) if p.area > 4.0]) == 1 for shape in left):
            lost = sum(c.intersection(x.shape).area for c, x in zip(cuts, (first, second), strict=True))
            plans.append((lost, cuts))
    if not plans:
        return None
    _, (mine, yours) = min(plans, key=lambda plan: plan[0])
    first.take(mine)
    second.take(yours)
    return Joint(
        kind="half-lap",
        first=first.name,
        second=second.name,
        held="loose",  # it locates; the glue along the line is the butt joint's
        runs_mm=tuple(_both(first, second, (_point(a), _point(b)))),
        fit_mm=SLOT_FIT_MM,
    )


def _both(first: Blank, second: Blank, run: tuple[Point3, Point3]) -> list[tuple[Point3, ...]]:
    """The run, and its mirror image where both parts are pairs."""
    pair = first.sides == second.sides == "pair"
    return [run, (to_port(run[0]), to_port(run[1]))] if pair else [run]


def runs_through(first: Blank, second: Blank) -> bool:
    """Whether a flat part goes on beyond both faces of another that it crosses."""
    if len(first.facets) > 1 or len(second.facets) > 1 or _crossing(first, second) is None:
        return False
    ring = first.to_space(np.asarray(first.shape.exterior.coords))
    heights = (ring - second.matrix[:3, 3]) @ second.matrix[:3, 2]
    return float(heights.min()) < -_RUNS_ON_MM and float(heights.max()) > _RUNS_ON_MM


def _crossing(first: Blank, second: Blank) -> tuple[Floats, Floats] | None:
    """Both ends, in space, of the line along which two plates' middle planes cross inside both."""
    from shapely.geometry import LineString

    n = np.cross(first.matrix[:3, 2], second.matrix[:3, 2])
    if float(np.linalg.norm(n)) < 0.2:
        return None
    n /= np.linalg.norm(n)
    planes = np.array([first.matrix[:3, 2], second.matrix[:3, 2], n])
    at = np.linalg.solve(
        planes, [planes[0] @ first.matrix[:3, 3], planes[1] @ second.matrix[:3, 3], n @ first.matrix[:3, 3]]
    )
    spans = []
    for blank in (first, second):
        p, q = (_local(blank, at + s * n) for s in (-_FAR_MM, _FAR_MM))
        run = LineString([p, q]).intersection(blank.shape)
        pieces = [g for g in getattr(run, "geoms", [run]) if g.geom_type == "LineString" and not g.is_empty]
        if not pieces:
            return None
        longest = np.asarray(max(pieces, key=lambda g: g.length).coords)
        t = sorted(float((blank.to_space(e)[0] - at) @ n) for e in longest[[0, -1]])
        spans.append(t)
    low, high = max(s[0] for s in spans), min(s[1] for s in spans)
    if high - low < 10.0:
        return None
    return at + low * n, at + high * n


def _slot(blank: Blank, guest: Blank, middle: Floats, end: Floats) -> Any:
    """A slot from the middle of the crossing out through the edge, as wide as the guest is thick, and its play."""
    from shapely.geometry import Polygon

    a, b = _local(blank, middle), _local(blank, end)
    e = (b - a) / np.linalg.norm(b - a)
    side = np.array([-e[1], e[0]])
    cosine = abs(float(blank.matrix[:3, 2] @ guest.matrix[:3, 2]))
    sine = float(np.sqrt(1.0 - cosine**2))
    half = 0.5 * (guest.thickness / sine + blank.thickness * cosine / sine + SLOT_FIT_MM)
    start = a - 0.5 * SLOT_FIT_MM * e
    far = a + e * _reach(blank, a, e)
    return Polygon([start - half * side, far - half * side, far + half * side, start + half * side])


def _reach(blank: Blank, a: Floats, e: Floats) -> float:
    """How far a slot must run from a place to leave the part."""
    from shapely.geometry import LineString

    run = LineString([a, a + _FAR_MM * e]).intersection(blank.shape)
    pieces = [g for g in getattr(run, "geoms", [run]) if g.geom_type == "LineString"]
    first = min(pieces, key=lambda g: float(np.linalg.norm(np.asarray(g.coords)[0] - a)), default=None)
    # Beyond the edge by its own width: an edge that slants must not leave a barb.
    return (float(first.length) if first is not None else 0.0) + 12.0


def _local(blank: Blank, p: Floats) -> Floats:
    return np.asarray((np.linalg.inv(blank.matrix) @ np.array([*p, 1.0]))[:2], dtype=np.float64)


def _point(p: Floats) -> Point3:
    return (float(p[0]), float(p[1]), float(p[2]))
