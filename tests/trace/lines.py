"""What stands in a drawing beside its outlines, and how much of it was found: hinge lines, struts, wheels and legs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import planes_c
import shapely
import svg.path

from sheetlark.trace import Outline, Tracing

Points = np.ndarray
HINGE_ENDS, HINGE_OFF = 0.03, 0.01  # shares of the span: how far the ends and the line may be off
NEAR = 0.008  # share of the span a strut, leg or wheel may stand off


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """A true line or figure of one view: a hinge (2, 2), or the outline of a strut, leg or wheel. [mm]"""

    part: str
    name: str
    view: str
    points: Points


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A true thing and the error of what was found for it, as a share of the span; None: not found."""

    thing: Thing
    error: float | None


def things_of_c(seed: int, kind: str) -> list[Thing]:
    """Hinges, struts, legs and wheels of a plane of hand c; of mirrored ones the starboard one."""
    m = planes_c.plane(seed, kind)
    out = [
        Thing(
            part="hinge", name={"wing": "aileron", "tail": "elevator", "fin": "rudder"}[p], view=v, points=s
        )
        for p, v, s in m.hinges
        if s[:, 1].sum() > 0 or v == "side"
    ]
    out = [t for k, t in enumerate(out) if not any(np.allclose(t.points, o.points) for o in out[:k])]
    for view in ("side", "front"):
        for s in m.shapes[view]:
            ring = np.array(s.poly.exterior.coords)[:-1]
            if view == "front" and ring[:, 0].mean() < 0:
                continue
            if s.part == "strut":
                part, name = ("gear", "leg") if s.name == "gear" else ("strut", s.name)
                out.append(Thing(part=part, name=name, view=view, points=ring))
            elif s.part == "wheel" and s.name != "hub":
                out.append(Thing(part="gear", name="wheel", view=view, points=ring))
    return out


def _pieces(o: Outline) -> list[Points]:
    """Each closed or open piece of an outline as points, the starboard half alone where it has one."""
    pieces: list[list[complex]] = []
    for s in svg.path.parse_path(o.half_path or o.path):
        if isinstance(s, svg.path.Move):
            pieces.append([s.end])
        elif isinstance(s, (svg.path.Line, svg.path.Close)):
            pieces[-1].append(s.end)
        else:
            pieces[-1] += [s.point(t) for t in np.linspace(0, 1, 9)[1:]]
    return [np.array([[p.real, p.imag] for p in q]) for q in pieces]


def _hinge_error(got: Points, true: Points, span: float) -> float | None:
    """Mean distance of the found line from the true one; None where it is another line."""
    line = shapely.LineString(true)
    t = np.linspace(0, 1, 21)[:, None]
    d = shapely.distance(shapely.points(got[0] + t * (got[-1] - got[0])), line)
    ends = max(
        float(np.hypot(*(a - b))) for a, b in zip(got[[0, -1]], true[np.argsort(true[:, 1])], strict=True)
    )
    return float(d.mean()) / span if d.mean() < HINGE_OFF * span and ends < 2 * HINGE_ENDS * span else None


def _figure_error(got: Points, thing: Thing, span: float) -> float | None:
    """How far a found figure stands off the true one; None where it is another."""
    true, mine = shapely.Polygon(thing.points).buffer(0), shapely.Polygon(got).buffer(0)
    if mine.is_empty:
        return None
    if thing.name == "wheel":
        off = true.centroid.distance(mine.centroid) / span
        same = 0.7 < np.sqrt(mine.area / true.area) < 1.4
        return off if off < NEAR and same else None
    stray = mine.difference(true.buffer(NEAR * span)).area / max(mine.area, 1e-9)
    if stray > 0.1 or mine.length < 0.3 * true.length:
        return None
    return (
        shapely.hausdorff_distance(mine.intersection(true.buffer(NEAR * span)).centroid, mine.centroid) / span
    )


def found_things(
    things: list[Thing], t: Tracing, shift: Points, span: float
) -> tuple[list[Found], list[str]]:
    """Each true thing with what was found for it, and what was found that is not there.

    Parameters
    ----------
    shift : move (x, z) of the side view onto the truth's datum; the front view moves along z alone. [mm]
    """
    pool = []
    for o in t.outlines:
        if o.part not in {"hinge", "strut", "gear"}:
            continue
        move = {"top": (0.0, 0.0), "side": shift, "front": (0.0, shift[1])}[o.view]
        pool.append((o, [p + move for p in _pieces(o)]))
    used: set[int] = set()
    out = []
    for thing in things:
        best: tuple[float, int] | None = None
        for k, (o, pieces) in enumerate(pool):
            if (o.part, o.view) != (thing.part, thing.view) or k in used:
                continue
            if thing.part == "gear" and ("wheel" in o.name) != (thing.name == "wheel"):
                continue
            for p in pieces:
                e = (
                    _hinge_error(p, thing.points, span)
                    if thing.part == "hinge"
                    else _figure_error(p, thing, span)
                )
                if e is not None and (best is None or e < best[0]):
                    best = (e, k)
        if best is not None:
            used.add(best[1])
        out.append(Found(thing=thing, error=best[0] if best is not None else None))
    return out, [f"{o.part} {o.name} {o.view}" for k, (o, _) in enumerate(pool) if k not in used]
