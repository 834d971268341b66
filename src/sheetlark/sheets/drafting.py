"""From parts and layouts to drawings: outlines, marks, names and dimensions on their layers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sheetlark.parts import Kit, Mark, Part
from sheetlark.sheets.drawing import Drawing, Layer, Lettering, Line
from sheetlark.sheets.lettering import Block, letter_box, printable, stand, upright, width_mm
from sheetlark.sheets.nesting import Nesting, Placed, SheetLayout

if TYPE_CHECKING:
    from shapely.geometry import Polygon
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

CLEAR_OF_CUT_MM = 0.8
CLEAR_OF_MARK_MM = 0.6
SIZES_MM = (4.2, 3.4, 2.8, 2.3, 1.9)
SMALLEST_MM = 1.6  # about 4.5 point; smaller cannot be read at arm's length (common practice, no source)

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
}
_PAPER = {"both": "both papers on", "one": "one paper off", "none": "no paper"}


def mark_layer(mark: Mark) -> Layer:
    """The layer of a mark: its own, or PLACE for whatever shows where another thing sits."""
    return _LAYERS.get(mark.kind, Layer.PLACE)


def draw_sheet(
    layout: SheetLayout, kit: Kit, *, of: int = 0, title: str = "", kerf_mm: float = 0.0
) -> Drawing:
    """One stock sheet with everything cut from it, full size.

    Parameters
    ----------
    layout, kit
        A sheet of a nesting, and the kit it was made from.
    of : int
        How many sheets there are in all, for the title; 0 leaves it out.
    title : str
        Name of the model; the kit's where empty.
    kerf_mm : float
        Width a laser or a cutter takes away: outlines move out and holes in by half of it. [mm]

    Returns
    -------
    Drawing
        Its cuts in cutting order: the holes of a part before its outline, parts from left to right.
    """
    parts = {part.number: part for part in kit.parts}
    order = sorted(layout.placed, key=lambda p: (_left(parts[p.part], p), p.part, p.copy))
    marks: list[Line] = []
    cuts: list[Line] = []
    words: list[Lettering] = []
    shapes = {_owner(p): _shape(parts[p.part], p) for p in order}
    taken: list[BaseGeometry] = list(shapes.values())
    for p in order:
        part = parts[p.part]
        marks += _marks(part, p)
        cuts += _cuts(part, p, kerf_mm)
    for p in order:
        mine = [line for line in marks if line.owner == _owner(p)]
        label, leader = _label(parts[p.part], p, shapes[_owner(p)], mine, taken, layout)
        words += label
        words += _mark_notes(parts[p.part], p, shapes[_owner(p)], mine, label)
        cuts_free = leader
        marks += cuts_free
    frame = Line(
        layer=Layer.SHEET,
        points=np.array(
            [(0, 0), (layout.width_mm, 0), (layout.width_mm, layout.height_mm), (0, layout.height_mm)]
        ),
        closed=True,
    )
    name = printable(f"{title or kit.name}, sheet {layout.number}" + (f" of {of}" if of else ""))
    rank = {layer: i for i, layer in enumerate(Layer)}
    marks.sort(key=lambda line: rank[line.layer])
    return Drawing(
        name=name,
        width_mm=layout.width_mm,
        height_mm=layout.height_mm,
        lines=(frame, *marks, *cuts),
        lettering=tuple(words),
    )


def draw_nesting(nesting: Nesting, kit: Kit, *, kerf_mm: float = 0.0) -> tuple[Drawing, ...]:
    """Every sheet of a nesting."""
    return tuple(draw_sheet(s, kit, of=len(nesting.sheets), kerf_mm=kerf_mm) for s in nesting.sheets)


def _owner(p: Placed) -> str:
    return f"{p.part}.{p.copy + 1}"


def _left(part: Part, p: Placed) -> float:
    return float(p.move(part.outline)[:, 0].min())


def _shape(part: Part, p: Placed) -> Polygon:
    from shapely.geometry import Polygon

    return Polygon(p.move(part.outline), [p.move(h) for h in part.holes])


def _cuts(part: Part, p: Placed, kerf_mm: float) -> list[Line]:
    rings = [p.move(h) for h in part.holes]
    outline = p.move(part.outline)
    if kerf_mm:
        from shapely.geometry import Polygon

        rings = [
            np.asarray(inner.exterior.coords)[:-1]
            for h in rings
            for inner in _polygons(Polygon(h).buffer(-kerf_mm / 2, join_style="mitre"))
        ]
        grown = Polygon(outline).buffer(kerf_mm / 2, join_style="mitre")
        outline = np.asarray(grown.exterior.coords)[:-1]
    return [Line(layer=Layer.CUT, points=r, closed=True, owner=_owner(p)) for r in (*rings, outline)]


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    from shapely import get_parts

    return [g for g in get_parts(shape) if g.geom_type == "Polygon" and not g.is_empty]


def _marks(part: Part, p: Placed) -> list[Line]:
    made = []
    for mark in part.marks:
        layer = mark_layer(mark)
        points = p.move(np.asarray(mark.points, dtype=np.float64).reshape(-1, 2))
        if layer == Layer.BALANCE:
            made += _balance(points, _owner(p))
        elif len(points) == 1:
            made += _cross(points[0], layer, _owner(p))
        else:
            made.append(Line(layer=layer, points=points, owner=_owner(p)))
            if layer == Layer.GRAIN:
                made += _arrow_heads(points, _owner(p))
    return made


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


def part_words(part: Part, copy: int | None = None) -> tuple[str, ...]:
    """What is written on a part: number and name, then what to know of it, the most useful first."""
    head = printable(f"{part.number}  {part.name}")
    width, height = part.size_mm
    size = f"{max(width, height):.1f} × {min(width, height):.1f} mm"
    if copy is None:
        count = f"cut {part.count}"
        turned = sum(part.mirrored)
        if 0 < turned < part.count:
            count += f", {turned} turned over"
    else:
        count = f"{copy + 1} of {part.count}" if part.count > 1 else ""
        if part.mirrored[copy]:
            count = f"{count}, turned over" if count else "turned over"
    facts = ", ".join(w for w in (count, _PAPER.get(part.paper, "")) if w)
    return head, facts, size, printable(f"this face: {part.face}")


def _blocks(part: Part, copy: int | None) -> list[Block]:
    """The ways to letter a part, best first: everything, then less, at ever smaller sizes."""
    head, facts, size, face = part_words(part, copy)
    number = str(part.number)
    ways = [
        (head, facts, f"{size}, {face}"),
        (head, facts, size, face),
        (head, f"{facts}, {size}, {face}"),
        (head, facts, size),
        (head, facts),
        (head,),
    ]
    blocks = [Block(words=way, size_mm=s) for s in SIZES_MM[:4] for way in ways[:3]]
    blocks += [Block(words=way, size_mm=s) for way in ways[3:5] for s in SIZES_MM[1:]]
    blocks += [Block(words=ways[5], size_mm=s) for s in SIZES_MM[1:]]
    blocks += [Block(words=(number,), size_mm=s) for s in (*SIZES_MM, SMALLEST_MM)]
    return blocks


def _label(
    part: Part,
    p: Placed,
    shape: Polygon,
    marks: Sequence[Line],
    taken: Sequence[BaseGeometry],
    layout: SheetLayout,
) -> tuple[list[Lettering], list[Line]]:
    """Number and name inside the part, clear of cuts and marks; else beside it with a leader."""
    from shapely import unary_union
    from shapely.geometry import LineString, Point, box
    from shapely.ops import polylabel

    angles = _angles(shape)
    inside = shape.buffer(-CLEAR_OF_CUT_MM)
    if marks:
        ink = unary_union([LineString(m.points).buffer(CLEAR_OF_MARK_MM) for m in marks])
        blank = inside.difference(ink)
    else:
        blank = inside
    wish = shape.centroid if shape.contains(shape.centroid) else polylabel(shape, 1.0)
    blocks = _blocks(part, p.copy)
    for space in (blank, inside):
        found = stand(space, blocks, angles, (wish.x, wish.y))
        if found is not None:
            block, at, angle = found
            return block.set_at(at, angle), []
    free = box(1, 1, layout.width_mm - 1, layout.height_mm - 1).difference(
        unary_union([t.buffer(0.6) for t in taken])
    )
    outside = [Block(words=(str(part.number),), size_mm=s) for s in (*SIZES_MM[1:], SMALLEST_MM)]
    found = stand(free, outside, (0.0, 90.0), (wish.x, wish.y))
    if found is None:
        return [], []
    block, at, angle = found
    edge = shape.exterior
    touch = edge.interpolate(edge.project(Point(at)))
    toward = math.hypot(at[0] - touch.x, at[1] - touch.y)
    stop = max(block.box_mm) / 2 + 0.4
    leader = []
    if toward > stop + 0.5:
        end = (at[0] + (touch.x - at[0]) * stop / toward, at[1] + (touch.y - at[1]) * stop / toward)
        leader = [Line(layer=Layer.DIMENSION, points=np.array([(touch.x, touch.y), end]), owner=_owner(p))]
    return block.set_at(at, angle), leader


def _angles(shape: Polygon) -> list[float]:
    """Directions in which to letter: level, upright, along the part."""
    from shapely import get_coordinates

    frame = get_coordinates(shape.minimum_rotated_rectangle)
    sides = np.diff(frame[:3], axis=0)
    long = sides[int(np.argmax(np.hypot(sides[:, 0], sides[:, 1])))]
    along = upright(math.degrees(math.atan2(float(long[1]), float(long[0]))))
    return [0.0, along, 90.0]


def _mark_notes(
    part: Part, p: Placed, shape: Polygon, marks: Sequence[Line], label: Sequence[Lettering]
) -> list[Lettering]:
    """The few words of each mark, beside it where they fit without touching a line, a cut or other words."""
    from shapely import unary_union
    from shapely.geometry import LineString

    inside = shape.buffer(-CLEAR_OF_CUT_MM)
    ink = [LineString(m.points).buffer(0.4) for m in marks]
    ink += [letter_box(words).buffer(0.6) for words in label]
    made: list[Lettering] = []
    for mark in part.marks:
        text = printable(mark.note)
        if not text or len(mark.points) < 1:
            continue
        points = p.move(np.asarray(mark.points, dtype=np.float64).reshape(-1, 2))
        run = points[-1] - points[0]
        length = float(np.hypot(*run))
        angle = upright(math.degrees(math.atan2(float(run[1]), float(run[0])))) if length > 0 else 0.0
        middle = points.mean(axis=0) if length == 0 else 0.5 * (points[0] + points[-1])
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        across, along = np.array([-s, c]), np.array([c, s])
        blocked = unary_union(ink)
        for size in (2.6, 2.2, 1.9, SMALLEST_MM):
            if (
                words := _beside(text, size, middle, along, across, length, angle, inside, blocked)
            ) is not None:
                made.append(words)
                ink.append(letter_box(words).buffer(0.5))
                break
    return made


def _beside(
    text: str,
    size: float,
    middle: Floats,
    along: Floats,
    across: Floats,
    length: float,
    angle: float,
    inside: BaseGeometry,
    blocked: BaseGeometry,
) -> Lettering | None:
    reach = max(0.0, 0.5 * (length - width_mm(text, size)))
    for off in (0.95, -1.05, 1.6, -1.7):
        for share in (0.0, -0.5, 0.5, -0.9, 0.9):
            at = middle + across * off * size + along * share * reach
            words = Lettering(
                layer=Layer.TEXT, text=text, at=(float(at[0]), float(at[1])), size_mm=size, angle_deg=angle
            )
            frame = letter_box(words)
            if inside.contains(frame) and not frame.intersects(blocked):
                return words
    return None
