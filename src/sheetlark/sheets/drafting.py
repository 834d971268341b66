"""From parts and layouts to drawings: outlines, marks, names and dimensions on their layers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sheetlark.parts import Kit, Mark, Part
from sheetlark.sheets.drawing import Drawing, Layer, Lettering, Line
from sheetlark.sheets.labels import label_beside, label_blocks, label_inside, mark_notes, number_blocks
from sheetlark.sheets.lettering import letter_box, printable
from sheetlark.sheets.nesting import Nesting, Placed, SheetLayout

if TYPE_CHECKING:
    from shapely.geometry import Polygon
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

_LAYERS = {
    "hinge": Layer.HINGE,
    "fold": Layer.FOLD,
    "score": Layer.SCORE,
    "bevel": Layer.BEVEL,
    "glue": Layer.GLUE,
    "datum": Layer.DATUM,
    "balance": Layer.BALANCE,
    "thrust": Layer.THRUST,
    "grain": Layer.GRAIN,
    "decal": Layer.DECAL,
}
_RANK = {layer: i for i, layer in enumerate(Layer)}


def mark_layer(mark: Mark) -> Layer:
    """The layer of a mark: its own, or PLACE for whatever shows where another thing sits."""
    return _LAYERS.get(mark.kind, Layer.PLACE)


def draw_sheet(layout: SheetLayout, kit: Kit, *, of: int = 0, kerf_mm: float = 0.0) -> Drawing:
    """One stock sheet with everything cut from it, full size.

    Parameters
    ----------
    layout, kit
        A sheet of a nesting, and the kit it was made from.
    of : int
        How many sheets there are in all, for the title; 0 leaves it out.
    kerf_mm : float
        Width a laser or a cutter takes away: outlines move out and holes in by half of it. [mm]

    Returns
    -------
    Drawing
        Its cuts in cutting order: the holes of a part before its outline, parts from left to right.
    """
    from shapely import unary_union
    from shapely.geometry import box

    parts = {part.number: part for part in kit.parts}
    order = sorted(layout.placed, key=lambda p: (_left(parts[p.part], p), p.part, p.copy))
    shapes = {owner_of(p): placed_shape(parts[p.part], p) for p in order}
    marks = {owner_of(p): placed_marks(parts[p.part], p, shapes[owner_of(p)]) for p in order}
    cuts = [line for p in order for line in placed_cuts(parts[p.part], p, kerf_mm)]
    free: BaseGeometry | None = None
    leaders: list[Line] = []
    words: list[Lettering] = []
    for p in order:
        part, owner = parts[p.part], owner_of(p)
        blocks = label_blocks(
            part, material=layout.name, papered=layout.papered, copy=p.copy, imperial=kit.imperial
        )
        label = label_inside(shapes[owner], marks[owner], blocks, number_blocks(part))
        if not label:
            if free is None:
                taken = unary_union([s.buffer(0.6) for s in shapes.values()])
                free = box(1, 1, layout.width_mm - 1, layout.height_mm - 1).difference(taken)
            label, leader = label_beside(shapes[owner], owner, free, number_blocks(part))
            leaders += leader
            free = free.difference(unary_union([letter_box(w) for w in label])) if label else free
        words += label
        notes = [(m, kit.lettered(m), _points(m, p)) for m in part.marks if m.note]
        beside, led = mark_notes(notes, shapes[owner], marks[owner], label, owner)
        words += beside
        leaders += led
    frame = np.array(
        [(0, 0), (layout.width_mm, 0), (layout.width_mm, layout.height_mm), (0, layout.height_mm)]
    )
    drawn = [line for p in order for line in marks[owner_of(p)]] + leaders
    drawn.sort(key=lambda line: _RANK[line.layer])
    return Drawing(
        name=printable(f"{kit.name}, sheet {layout.number}" + (f" of {of}" if of else "")),
        width_mm=layout.width_mm,
        height_mm=layout.height_mm,
        lines=(Line(layer=Layer.SHEET, points=frame, closed=True), *drawn, *cuts),
        lettering=tuple(words),
    )


def draw_nesting(nesting: Nesting, kit: Kit, *, kerf_mm: float = 0.0) -> tuple[Drawing, ...]:
    """Every sheet of a nesting."""
    return tuple(draw_sheet(s, kit, of=len(nesting.sheets), kerf_mm=kerf_mm) for s in nesting.sheets)


def owner_of(p: Placed) -> str:
    """The name by which a copy's lines are known: part and copy, "3.1"."""
    return f"{p.part}.{p.copy + 1}"


def _left(part: Part, p: Placed) -> float:
    return float(p.move(part.outline)[:, 0].min())


def placed_shape(part: Part, p: Placed) -> Polygon:
    """The material of a placed copy, its holes taken out."""
    from shapely import get_parts, make_valid
    from shapely.geometry import Polygon

    shape = Polygon(p.move(part.outline), [p.move(h) for h in part.holes])
    if shape.is_valid:
        return shape
    # Holes that meet each other or the edge: what is left of the material still has to be lettered.
    left = [g for g in get_parts(make_valid(shape)) if isinstance(g, Polygon)]
    return max(left, key=lambda g: g.area)


def placed_cuts(part: Part, p: Placed, kerf_mm: float = 0.0) -> list[Line]:
    """The cuts of a copy, holes first; moved into the waste by half the kerf."""
    from shapely import get_parts
    from shapely.geometry import Polygon

    rings = [p.move(h) for h in part.holes]
    outline = p.move(part.outline)
    if kerf_mm:
        shrunk = [Polygon(h).buffer(-kerf_mm / 2, join_style="mitre") for h in rings]
        rings = [_ring(g) for s in shrunk for g in get_parts(s) if isinstance(g, Polygon) and not g.is_empty]
        outline = _ring(Polygon(outline).buffer(kerf_mm / 2, join_style="mitre"))
    return [Line(layer=Layer.CUT, points=r, closed=True, owner=owner_of(p)) for r in (*rings, outline)]


def _ring(shape: BaseGeometry) -> Floats:
    from shapely import get_coordinates, get_exterior_ring

    return np.asarray(get_coordinates(get_exterior_ring(shape))[:-1], dtype=np.float64)


def _points(mark: Mark, p: Placed) -> Floats:
    return p.move(np.asarray(mark.points, dtype=np.float64).reshape(-1, 2))


def placed_marks(part: Part, p: Placed, shape: Polygon) -> list[Line]:
    """The marks of a copy. Lines stop at its edges: a score that ran on would be cut into its neighbour."""
    made: list[Line] = []
    for mark in part.marks:
        layer, points, owner = mark_layer(mark), _points(mark, p), owner_of(p)
        if layer == Layer.BALANCE:
            made += _balance(points, owner)
        elif len(points) == 1:
            made += _cross(points[0], layer, owner)
        else:
            made += [Line(layer=layer, points=run, owner=owner) for run in _within(points, shape)]
            if layer == Layer.GRAIN:
                made += _arrow_heads(points, owner)
    return made


def _within(points: Floats, shape: Polygon) -> list[Floats]:
    from shapely import get_parts, line_merge
    from shapely.geometry import LineString

    run = LineString(points)
    if run.length == 0.0:
        return []
    if shape.contains(run):
        return [points]
    kept = run.intersection(shape.buffer(0.02))
    if kept.geom_type in ("MultiLineString", "GeometryCollection"):
        kept = line_merge(kept)
    pieces = [g for g in get_parts(kept) if isinstance(g, LineString) and g.length > 0.1]
    return [np.asarray(g.coords, dtype=np.float64) for g in pieces]


def _cross(at: Floats, layer: Layer, owner: str, reach: float = 2.5) -> list[Line]:
    return [
        Line(layer=layer, points=np.array([at - step, at + step]), owner=owner)
        for step in (np.array([reach, 0.0]), np.array([0.0, reach]))
    ]


def _balance(points: Floats, owner: str, radius: float = 2.6) -> list[Line]:
    """The line itself, and a ring with a cross on its middle."""
    made = [Line(layer=Layer.BALANCE, points=points, owner=owner)] if len(points) > 1 else []
    middle = points.mean(axis=0)
    t = np.linspace(0, 2 * np.pi, 33)[:-1]
    ring = middle + radius * np.column_stack([np.cos(t), np.sin(t)])
    made.append(Line(layer=Layer.BALANCE, points=ring, closed=True, owner=owner))
    return made + _cross(middle, Layer.BALANCE, owner, reach=radius)


def _arrow_heads(points: Floats, owner: str) -> list[Line]:
    made = []
    for tip, before in ((points[0], points[1]), (points[-1], points[-2])):
        along = (before - tip) / max(float(np.hypot(*(before - tip))), 1e-9)
        across = np.array([-along[1], along[0]])
        head = np.array([tip + 3 * along + across, tip, tip + 3 * along - across])
        made.append(Line(layer=Layer.GRAIN, points=head, owner=owner))
    return made
