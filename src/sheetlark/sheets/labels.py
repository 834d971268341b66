"""What is written on a part, and where: never across a cut, clear of marks where there is room."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sheetlark.parts import Mark, Part
from sheetlark.sheets.drawing import Layer, Lettering, Line
from sheetlark.sheets.lettering import Block, letter_box, printable, stand, upright, width_mm
from sheetlark.units import in_inches

if TYPE_CHECKING:
    from shapely.geometry import Polygon
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

CLEAR_OF_CUT_MM = 0.8
CLEAR_OF_MARK_MM = 0.6
SIZES_MM = (4.0, 3.3, 2.8, 2.4, 2.0)
SMALLEST_MM = 1.6  # about 4.5 point; smaller cannot be read at arm's length (common practice, no source)

_NOTE_SIZES_MM = (2.6, 2.2, 1.9, SMALLEST_MM)
_MUST_BE_NAMED = {"place", "slot-edge", "decal", "score", "fold", "bevel", "hinge"}
_ROOMS = {"place", "decal"}

_PAPER = {"both": "both papers on", "one": "one paper off", "none": "both papers off"}


def label_blocks(
    part: Part, *, material: str, papered: bool, copy: int | None = None, imperial: bool = False
) -> list[Block]:
    """The ways to letter a part, best first: everything, then less, at ever smaller sizes.

    Parameters
    ----------
    material : str
        Name of its sheet.
    papered : bool
        Whether the sheet has papers to keep or peel.
    copy : int, optional
        Which copy it is; without, how many to cut is said.
    imperial : bool
        Whether its size is told in inches.
    """
    head = printable(f"{part.number} · {part.name}")
    width, height = part.size_mm
    size = f"{max(width, height):.1f} × {min(width, height):.1f} mm"
    size = in_inches(size) if imperial else size
    if copy is None:
        over = sum(part.mirrored)
        count = f"cut {part.count}" + (f", {over} turned over" if over else "")
    else:
        said = (f"{copy + 1} of {part.count}" * (part.count > 1), "turned over" * part.mirrored[copy])
        count = ", ".join(word for word in said if word)
    paper = _PAPER[part.paper] if papered else ""
    peeled = paper if part.paper != "both" else ""
    face = printable(f"this face: {part.face}") if part.face else ""
    ways = [
        _way(head, (count, size), (printable(material), paper), (face,)),
        _way(head, (count, size), (paper, face)),
        _way(head, (count, size, peeled, face)),
        _way(head, (count, peeled), (size,)),
        _way(head, (count, peeled)),
        _way(head),
    ]
    blocks = [Block(words=way, size_mm=s) for s in SIZES_MM[:4] for way in ways[:2]]
    blocks += [Block(words=way, size_mm=s) for s in SIZES_MM[1:] for way in ways[2:4]]
    blocks += [Block(words=way, size_mm=s) for way in ways[4:] for s in SIZES_MM[1:]]
    blocks.append(Block(words=ways[5], size_mm=SMALLEST_MM))
    return blocks


def number_blocks(part: Part) -> list[Block]:
    """The part's number alone, ever smaller."""
    return [Block(words=(str(part.number),), size_mm=s) for s in (*SIZES_MM[1:], SMALLEST_MM)]


def _way(head: str, *rows: tuple[str, ...]) -> tuple[str, ...]:
    said = (", ".join(word for word in row if word) for row in rows)
    return (head, *(row for row in said if row))


def label_inside(
    shape: Polygon, marks: Sequence[Line], blocks: Sequence[Block], numbers: Sequence[Block]
) -> list[Lettering]:
    """A label inside a part, never across its cuts; empty if none fits.

    A block clear of the part's marks is best, then one across them, then the number alone: a builder can read a
    name across a score, but cannot guess it.
    """
    from shapely import unary_union
    from shapely.geometry import LineString
    from shapely.ops import polylabel

    inside = shape.buffer(-CLEAR_OF_CUT_MM)
    spaces: list[BaseGeometry] = [inside]
    if marks:
        ink = unary_union([LineString(m.points).buffer(CLEAR_OF_MARK_MM) for m in marks])
        spaces.insert(0, inside.difference(ink))
    wish = shape.centroid if shape.contains(shape.centroid) else polylabel(shape, 1.0)
    for space, ways in [(s, w) for w in (blocks, numbers) for s in spaces]:
        found = stand(space, ways, _directions(shape), (wish.x, wish.y))
        if found is not None:
            block, at, angle = found
            return block.set_at(at, angle)
    return []


def label_beside(
    shape: Polygon, owner: str, free: BaseGeometry, blocks: Sequence[Block]
) -> tuple[list[Lettering], list[Line]]:
    """A label in the nearest free space, with a leader to the part's edge; empty if there is none."""
    from shapely.geometry import LineString
    from shapely.ops import nearest_points

    middle = shape.centroid
    found = stand(free, blocks, (0.0, 90.0), (middle.x, middle.y))
    if found is None:
        return [], []
    block, at, angle = found
    words = block.set_at(at, angle)
    on_words, on_part = nearest_points(letter_box(words[0]).buffer(0.4), shape)
    leader = LineString([on_words, on_part])
    if leader.length < 1.0:
        return words, []
    points = np.asarray(leader.coords, dtype=np.float64)
    return words, [Line(layer=Layer.DIMENSION, points=points, owner=owner)]


def _directions(shape: Polygon) -> list[float]:
    """Directions in which to letter: level, along the part, upright."""
    from shapely import get_coordinates

    frame = get_coordinates(shape.minimum_rotated_rectangle)
    sides = np.diff(frame[:3], axis=0)
    long = sides[int(np.argmax(np.hypot(sides[:, 0], sides[:, 1])))]
    return [0.0, upright(math.degrees(math.atan2(float(long[1]), float(long[0])))), 90.0]


def mark_notes(
    notes: Sequence[tuple[Mark, str, Floats]],
    shape: Polygon,
    marks: Sequence[Line],
    label: Sequence[Lettering],
    owner: str = "",
) -> tuple[list[Lettering], list[Line]]:
    """The few words of each mark, beside it where they fit without touching a line, a cut or other words.

    What must be found, a place, a slot or a decal, is named with a leader where there is no room beside it.

    Parameters
    ----------
    notes : sequence of (Mark, words, points)
        Each mark with what is written at it and its points as placed, shape (n, 2). [mm]

    Returns
    -------
    words, leaders
    """
    from shapely import unary_union
    from shapely.geometry import LineString, Point, Polygon

    inside = shape.buffer(-CLEAR_OF_CUT_MM)
    ink = [LineString(m.points).buffer(0.4) for m in marks]
    ink += [letter_box(words).buffer(0.5) for words in label]
    made: list[Lettering] = []
    leaders: list[Line] = []
    rooms = [(mark, Polygon(points)) for mark, _, points in notes if mark.kind in _ROOMS and _closed(points)]
    for mark, note, points in notes:
        text = printable(note)
        if not text:
            continue
        # Words in the room of another thing would name that.
        here = Point(points.mean(axis=0))
        others = [room for owner_mark, room in rooms if owner_mark is not mark and not room.contains(here)]
        blocked = unary_union([*ink, *others])
        for size in _NOTE_SIZES_MM:
            words = _beside(text, size, points, inside, blocked)
            if words is not None:
                made.append(words)
                ink.append(letter_box(words).buffer(0.5))
                break
        else:
            if mark.kind in _MUST_BE_NAMED:
                led = _led_to(text, points, shape, inside.difference(blocked), owner)
                if led is not None:
                    made.append(led[0])
                    leaders.append(led[1])
                    ink += [letter_box(led[0]).buffer(0.5), LineString(led[1].points).buffer(0.4)]
    return made, leaders


def _beside(
    text: str, size: float, points: Floats, inside: BaseGeometry, blocked: BaseGeometry
) -> Lettering | None:
    """Words along a run of points, or within a ring or along its sides; None where all that is taken."""
    if not _closed(points):
        return _along(text, size, points[0], points[-1], inside, blocked)
    corners = _box_corners(points)
    sides = np.linalg.norm(np.diff(corners, axis=0), axis=1)
    order = sorted(range(4), key=lambda k: -float(sides[k]))
    for words in _within_ring(text, size, points, corners[order[0]], corners[order[0] + 1]):
        if _free(words, inside, blocked):
            return words
    for k in order:
        found = _along(text, size, corners[k], corners[k + 1], inside, blocked)
        if found is not None:
            return found
    return None


def _within_ring(text: str, size: float, points: Floats, start: Floats, end: Floats) -> Iterator[Lettering]:
    """Places inside a ring: its middle, and along its own long edges, where a strip bends."""
    from shapely.geometry import Polygon

    ring = Polygon(points)
    if not ring.is_valid:
        return
    room = ring.buffer(-0.3)
    middle = ring.centroid
    runs = [(start, end, np.array([middle.x, middle.y]))]
    for a, b in itertools.pairwise(points):
        length = float(np.hypot(*(b - a)))
        if length > width_mm(text, size) + 2.0:
            inwards = np.array([-(b - a)[1], (b - a)[0]]) / length * (1.0 if ring.exterior.is_ccw else -1.0)
            runs += [
                (a, b, a + share * (b - a) + off * size * inwards)
                for share in (0.5, 0.3, 0.7)
                for off in (0.75, 1.0)
            ]
    for a, b, at in runs:
        words = _words(
            text, size, at, upright(math.degrees(math.atan2(float((b - a)[1]), float((b - a)[0]))))
        )
        if room.contains(letter_box(words)):
            yield words


def _closed(points: Floats) -> bool:
    return len(points) > 3 and bool(np.hypot(*(points[-1] - points[0])) < 1e-6)


def _box_corners(points: Floats) -> Floats:
    """The five points of the rectangle round a ring."""
    from shapely import get_coordinates
    from shapely.geometry import Polygon

    return np.asarray(get_coordinates(Polygon(points).minimum_rotated_rectangle), dtype=np.float64)


def _free(words: Lettering, inside: BaseGeometry, blocked: BaseGeometry) -> bool:
    frame = letter_box(words)
    return bool(inside.contains(frame) and not frame.intersects(blocked))


def _along(
    text: str, size: float, start: Floats, end: Floats, inside: BaseGeometry, blocked: BaseGeometry
) -> Lettering | None:
    """Words along a line, on one side or the other, towards its middle or its ends."""
    ends = end - start
    length = float(np.hypot(*ends))
    angle = upright(math.degrees(math.atan2(float(ends[1]), float(ends[0])))) if length > 0 else 0.0
    middle = 0.5 * (start + end)
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    along, across = np.array([c, s]), np.array([-s, c])
    reach = max(0.0, 0.5 * (length - width_mm(text, size)))
    half = 0.5 * width_mm(text, size)
    places = [
        middle + across * off * size + along * share * reach
        for off in (0.95, -1.05, 1.7, -1.8)
        for share in (0.0, -0.5, 0.5, -0.9, 0.9)
    ]
    # Past one end, for marks shorter than their words.
    places += [middle + side * along * (0.5 * length + half + 1.5) for side in (1.0, -1.0)]
    for at in places:
        words = _words(text, size, at, angle)
        if _free(words, inside, blocked):
            return words
    return None


def _led_to(
    text: str, points: Floats, shape: Polygon, free: BaseGeometry, owner: str
) -> tuple[Lettering, Line] | None:
    """Words in the nearest free place of a part, and the leader from them to a mark; None where none can be drawn."""
    from shapely.geometry import LineString
    from shapely.ops import nearest_points

    middle = points[:-1].mean(axis=0) if len(points) > 1 else points[0]
    blocks = [Block(words=(text,), size_mm=size / 1.25) for size in _NOTE_SIZES_MM[1:]]
    found = stand(free, blocks, (0.0, 90.0), (float(middle[0]), float(middle[1])))
    if found is None:
        return None
    block, at, angle = found
    words = _words(text, block.size_mm * 1.25, np.array(at), angle)
    leader = LineString(nearest_points(letter_box(words).buffer(0.4), LineString(points)))
    if leader.length < 1.0 or not shape.buffer(0.01).contains(leader):
        return None
    line = Line(layer=Layer.DIMENSION, points=np.asarray(leader.coords, dtype=np.float64), owner=owner)
    return words, line


def _words(text: str, size: float, at: Floats, angle: float) -> Lettering:
    return Lettering(
        layer=Layer.TEXT, text=text, at=(float(at[0]), float(at[1])), size_mm=size, angle_deg=angle
    )
