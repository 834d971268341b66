"""Every part once, full size, with the dimensions a builder checks: to reprint one, or to trace by hand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sheetlark.errors import SheetError
from sheetlark.parts import Kit, Part
from sheetlark.sheets.drafting import owner_of, placed_cuts, placed_marks, placed_shape
from sheetlark.sheets.drawing import Drawing, Layer, Lettering, Line
from sheetlark.sheets.labels import label_blocks, label_inside, mark_notes, number_blocks
from sheetlark.sheets.lettering import letter_box, printable, width_mm
from sheetlark.sheets.nesting import Placed
from sheetlark.stock import Stock
from sheetlark.units import INCH_M

if TYPE_CHECKING:
    from shapely.geometry import Polygon

Floats = NDArray[np.float64]

LEFT_MM, BELOW_MM, APART_MM, EDGE_MM = 12.0, 11.0, 8.0, 10.0
TALL_TEXT_MM = 2.8
WIDE_MM = 800.0
_ROUND = 0.02  # a hole whose radius varies by less than this share is called round


def draw_patterns(kit: Kit, stock: Stock) -> Drawing:
    """All parts in rows, as patterns: seen on the marked face, with overall size and hole sizes.

    Raises
    ------
    SheetError
        If the kit has no parts.
    StockError
        If a part's material is not in stock.
    """
    if not kit.parts:
        raise SheetError("the kit has no parts, so there is nothing to draw. Add a wing or a body.")
    widest = max(part.size_mm[0] for part in kit.parts) + LEFT_MM + 2 * EDGE_MM
    room = max(WIDE_MM, widest)
    places, height = _rows(kit.parts, room - 2 * EDGE_MM)
    made: list[Line] = []
    words: list[Lettering] = []
    for part, (x, y) in zip(kit.parts, places, strict=True):
        low = part.outline.min(axis=0)
        p = Placed(
            part=part.number,
            copy=0,
            turn_deg=0,
            mirrored=False,
            dx_mm=round(EDGE_MM + x + LEFT_MM - float(low[0]), 3),
            dy_mm=round(EDGE_MM + height - y - part.size_mm[1] - float(low[1]), 3),
        )
        shape, marks = placed_shape(part, p), placed_marks(part, p, placed_shape(part, p))
        cuts = placed_cuts(part, p)
        sheet = stock.sheet(part.sheet)
        blocks = label_blocks(
            part, material=sheet.name, papered=sheet.paper_thickness_m > 0, imperial=kit.imperial
        )
        label = label_inside(shape, marks, blocks, number_blocks(part))
        notes = [
            (m, kit.lettered(m), p.move(np.asarray(m.points, dtype=np.float64).reshape(-1, 2)))
            for m in part.marks
        ]
        words += label
        beside, led = mark_notes(notes, shape, marks, label, owner_of(p))
        words += beside
        dims, figures = _overall(shape, owner_of(p), imperial=kit.imperial)
        made += [*marks, *led, *dims]
        words += figures
        words += _hole_sizes(cuts, shape, marks, [*label, *beside], imperial=kit.imperial)
        made += cuts
    rank = {layer: i for i, layer in enumerate(Layer)}
    made.sort(key=lambda line: rank[line.layer])
    return Drawing(
        name=printable(f"{kit.name}, patterns" + (", in inches" if kit.imperial else "")),
        width_mm=room,
        height_mm=height + 2 * EDGE_MM,
        lines=tuple(made),
        lettering=tuple(words),
    )


def _rows(parts: Sequence[Part], room: float) -> tuple[list[tuple[float, float]], float]:
    """Upper left corner of each part's cell, and the height of all rows. [mm]."""
    places: list[tuple[float, float]] = []
    x = y = tall = 0.0
    for part in parts:
        width = part.size_mm[0] + LEFT_MM
        height = part.size_mm[1] + BELOW_MM
        if x > 0 and x + width > room:
            x, y, tall = 0.0, y + tall + APART_MM, 0.0
        places.append((x, y))
        x += width + APART_MM
        tall = max(tall, height)
    return places, y + tall


def _overall(shape: Polygon, owner: str, *, imperial: bool) -> tuple[list[Line], list[Lettering]]:
    """Length and height over all, below and at the left."""
    x0, y0, x1, y1 = shape.bounds
    below, beside = y0 - 5.0, x0 - 5.0
    runs = [
        [(x0, below), (x1, below)],
        [(x0, y0 - 1.0), (x0, below - 1.5)],
        [(x1, y0 - 1.0), (x1, below - 1.5)],
        [(beside, y0), (beside, y1)],
        [(x0 - 1.0, y0), (beside - 1.5, y0)],
        [(x0 - 1.0, y1), (beside - 1.5, y1)],
        *(
            [(x - 0.8, y - 0.8), (x + 0.8, y + 0.8)]
            for x, y in ((x0, below), (x1, below), (beside, y0), (beside, y1))
        ),
    ]
    made = [Line(layer=Layer.DIMENSION, points=np.array(run), owner=owner) for run in runs]
    figures = [
        _figure(_length(x1 - x0, imperial), ((x0 + x1) / 2, below - 2.4), 0.0, x1 - x0),
        _figure(_length(y1 - y0, imperial), (beside - 2.4, (y0 + y1) / 2), 90.0, y1 - y0),
    ]
    return made, figures


def _length(mm: float, imperial: bool, places: int = 2) -> str:
    return f"{1e-3 * mm / INCH_M:.{places}f}" if imperial else f"{mm:.1f}"


def _figure(text: str, at: tuple[float, float], angle: float, room: float) -> Lettering:
    size = TALL_TEXT_MM
    long = width_mm(text, size)
    if long > room + 6.0:
        size *= (room + 6.0) / long
    return Lettering(layer=Layer.DIMENSION, text=text, at=at, size_mm=size, angle_deg=angle)


def hole_size(hole: Floats, imperial: bool = False) -> str:
    """What to call a hole: its diameter when round, its sides when square-cornered, else its size over all.

    In mm, or in thousandths of an inch, for a wire's hole is small.
    """
    middle = 0.5 * (hole.min(axis=0) + hole.max(axis=0))
    radius = np.hypot(*(hole - middle).T)
    x, y = hole[:, 0], hole[:, 1]
    area = 0.5 * abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))
    circle = float(np.pi * radius.max() ** 2)  # the corners of a box lie on a circle too, but do not fill it
    if len(hole) >= 8 and float(np.ptp(radius)) < _ROUND * float(radius.max()) and area > 0.88 * circle:
        return f"⌀{_length(2 * float(radius.max()), imperial, 3)}"
    if len(hole) == 4:
        sides = np.hypot(*(np.roll(hole, -1, axis=0) - hole).T)
        pairs = sorted((float(sides[0]), float(sides[1])), reverse=True)
    else:
        pairs = sorted(np.ptp(hole, axis=0).tolist(), reverse=True)
    return " × ".join(_length(side, imperial, 3) for side in pairs)


def _hole_sizes(
    cuts: Sequence[Line], shape: Polygon, marks: Sequence[Line], words: Sequence[Lettering], *, imperial: bool
) -> list[Lettering]:
    """The size of each hole, in it where it fits, else beside it inside the part, else not at all."""
    from shapely import unary_union
    from shapely.geometry import LinearRing, LineString, Polygon

    made: list[Lettering] = []
    inside = shape.buffer(-0.6)
    for hole in (line.points for line in cuts[:-1]):  # the last is the outline
        text = hole_size(hole, imperial)
        low, high = hole.min(axis=0), hole.max(axis=0)
        middle = 0.5 * (low + high)
        ink = unary_union(
            [LineString(m.points).buffer(0.3) for m in marks]
            + [LinearRing(line.points).buffer(0.3) for line in cuts]
            + [letter_box(w).buffer(0.4) for w in (*words, *made)]
        )
        within = Polygon(hole).buffer(-0.6)
        for size in (2.6, 2.2, 1.9):
            aside = 0.5 * width_mm(text, size) + 1.2
            spots = [
                (within, middle),
                (inside, (middle[0], high[1] + size)),
                (inside, (middle[0], low[1] - size)),
                (inside, (high[0] + aside, middle[1])),
                (inside, (low[0] - aside, middle[1])),
            ]
            fit = next(
                (
                    w
                    for space, at in spots
                    if space.contains(letter_box(w := _at(text, at, size)))
                    and not letter_box(w).intersects(ink)
                ),
                None,
            )
            if fit is not None:
                made.append(fit)
                break
    return made


def _at(text: str, at: Sequence[float] | Floats, size: float) -> Lettering:
    return Lettering(layer=Layer.DIMENSION, text=text, at=(float(at[0]), float(at[1])), size_mm=size)
