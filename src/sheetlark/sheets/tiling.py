"""How a drawing larger than the paper is cut into pages that are glued together again.

Words: the *window* of a page is the part of it that shows the drawing; neighbouring windows share a strip,
the *overlap*, printed on both. Rows are lettered from the top, columns numbered from the left.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sheetlark.errors import SheetError
from sheetlark.sheets.drawing import Drawing, Layer
from sheetlark.sheets.lettering import letter_box
from sheetlark.sheets.papers import PaperSize, PrinterScale

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

LEFT_MM, RIGHT_MM, TOP_MM, BOTTOM_MM = 14.0, 8.0, 8.0, 21.0
OVERLAP_MM = 10.0
LEAST_OF_OVERLAP = 0.6  # an overlap may shrink to this share of what is asked where that saves pages
AROUND_MM = 1.5
MARK_MM = 2.4  # half the width of an alignment mark
_MOST_PAGES = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """One page's window on the drawing.

    row, column : from 0, from the top and the left
    x_mm, y_mm : lower left corner of the window in the drawing
    empty : whether nothing of a part shows in it, so that it is not printed
    """

    row: int
    column: int
    x_mm: float
    y_mm: float
    empty: bool

    @property
    def name(self) -> str:
        """Row letter and column number, such as "B3"."""
        return f"{row_letters(self.row)}{self.column + 1}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiling:
    """The pages of one drawing on one paper.

    page_width_mm, page_height_mm : as it lies in front of you
    window_width_mm, window_height_mm : size of a window, in millimetres of the drawing
    overlap_x_mm, overlap_y_mm : strip shared by neighbours beside and above, in millimetres of the drawing
    scale : of the printer
    tiles : row by row, empty ones too
    alignment : where alignment marks lie in the drawing, in the middle of the overlaps, clear of lettering
    """

    page_width_mm: float
    page_height_mm: float
    window_width_mm: float
    window_height_mm: float
    overlap_x_mm: float
    overlap_y_mm: float
    scale: PrinterScale
    rows: int
    columns: int
    tiles: tuple[Tile, ...]
    alignment: tuple[tuple[float, float], ...]

    @property
    def printed(self) -> tuple[Tile, ...]:
        """The tiles that are printed."""
        return tuple(tile for tile in self.tiles if not tile.empty)

    def tile(self, row: int, column: int) -> Tile | None:
        """The tile at a place, None outside the grid."""
        inside = 0 <= row < self.rows and 0 <= column < self.columns
        return self.tiles[row * self.columns + column] if inside else None

    def marks(self, tile: Tile) -> tuple[tuple[float, float], ...]:
        """The alignment marks in a window, in the drawing's millimetres: neighbours print the same ones."""
        return tuple(
            (x, y)
            for x, y in self.alignment
            if 0.0 < x - tile.x_mm < self.window_width_mm and 0.0 < y - tile.y_mm < self.window_height_mm
        )


def row_letters(row: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    letters = ""
    row += 1
    while row:
        row, digit = divmod(row - 1, 26)
        letters = chr(65 + digit) + letters
    return letters


def tile_drawing(
    drawing: Drawing,
    paper: PaperSize,
    *,
    scale: PrinterScale | None = None,
    overlap_mm: float = OVERLAP_MM,
) -> Tiling:
    """Cut a drawing into pages, upright or lying, whichever takes fewer.

    The overlap is what is asked, or down to six tenths of it where that saves a row or a column of pages.

    Raises
    ------
    SheetError
        If the overlap leaves no room on the paper, or more than 400 pages would be needed.
    """
    printer = scale or PrinterScale()
    if not (math.isfinite(overlap_mm) and 0.0 <= overlap_mm <= 50.0):
        raise SheetError(f"the overlap is {overlap_mm:g} mm; it must lie between 0 and 50 mm")
    area = _area(drawing)
    inked = _inked(drawing)
    words = [letter_box(w) for w in drawing.lettering]
    tried = [
        _cut(area, inked, width, height, printer, overlap_mm, words)
        for width, height in _ways(paper, area, printer)
    ]
    best = min(tried, key=lambda t: (len(t.printed), len(t.tiles)))
    if len(best.printed) > _MOST_PAGES:
        raise SheetError(
            f"{drawing.name} would take {len(best.printed)} pages of {paper.name}; at most {_MOST_PAGES} are made. "
            f"Choose a larger paper or a roll."
        )
    return best


def _ways(
    paper: PaperSize, area: tuple[float, float, float, float], scale: PrinterScale
) -> list[tuple[float, float]]:
    if paper.height_mm > 0:
        return [(paper.width_mm, paper.height_mm), (paper.height_mm, paper.width_mm)]
    # A roll is as long as it must be, whichever way the drawing lies on it.
    long_x = (area[2] - area[0]) / scale.across + LEFT_MM + RIGHT_MM
    long_y = (area[3] - area[1]) / scale.along + TOP_MM + BOTTOM_MM
    return [(paper.width_mm, max(long_y, 160.0)), (max(long_x, 260.0), paper.width_mm)]


def _cut(
    area: tuple[float, float, float, float],
    inked: Sequence[BaseGeometry],
    page_width: float,
    page_height: float,
    scale: PrinterScale,
    overlap: float,
    lettering: Sequence[BaseGeometry],
) -> Tiling:
    from shapely import STRtree
    from shapely.geometry import box

    width = (page_width - LEFT_MM - RIGHT_MM) * scale.across
    height = (page_height - TOP_MM - BOTTOM_MM) * scale.along
    if min(width, height) - overlap < 20.0:
        raise SheetError(f"an overlap of {overlap:g} mm leaves no room on a page {page_width:g} mm wide")
    x0, y0, x1, y1 = area
    columns, over_x = _shared_out(x1 - x0, width, overlap)
    rows, over_y = _shared_out(y1 - y0, height, overlap)
    step_x, step_y = width - over_x, height - over_y
    # What the grid reaches beyond the drawing is shared out evenly.
    left = (x0 + x1 - (columns * step_x + over_x)) / 2
    top = (y0 + y1 + (rows * step_y + over_y)) / 2
    tree = STRtree(list(inked))
    tiles = []
    for row in range(rows):
        for column in range(columns):
            x, y = left + column * step_x, top - height - row * step_y
            # The overlap alone is no reason to print a page: a neighbour shows it too.
            own = box(
                x + (over_x if column > 0 else 0.0),
                y,
                x + width,
                y + height - (over_y if row > 0 else 0.0),
            )
            empty = not len(tree.query(own, predicate="intersects"))
            tiles.append(Tile(row=row, column=column, x_mm=x, y_mm=y, empty=empty))
    return Tiling(
        page_width_mm=page_width,
        page_height_mm=page_height,
        window_width_mm=width,
        window_height_mm=height,
        overlap_x_mm=over_x,
        overlap_y_mm=over_y,
        scale=scale,
        rows=rows,
        columns=columns,
        tiles=tuple(tiles),
        alignment=_alignment(tiles, rows, columns, (width, height), (over_x, over_y), lettering, inked),
    )


def _shared_out(span: float, window: float, asked: float) -> tuple[int, float]:
    """How many windows cover a span, and their overlap: as asked, or less where that saves a window."""
    least = LEAST_OF_OVERLAP * asked
    count = max(1, math.ceil((span - least) / (window - least) - 1e-9))
    return count, asked if count == 1 else min(asked, (count * window - span) / (count - 1))


def _alignment(
    tiles: Sequence[Tile],
    rows: int,
    columns: int,
    window: tuple[float, float],
    overlap: tuple[float, float],
    lettering: Sequence[BaseGeometry],
    inked: Sequence[BaseGeometry],
) -> tuple[tuple[float, float], ...]:
    """Two marks on each seam between printed pages, moved along it to be clear of words, of lines if they can."""
    from shapely import STRtree
    from shapely.geometry import box

    words, lines = STRtree(list(lettering)), STRtree([g.boundary if g.area else g for g in inked])
    found = []
    for tile in tiles:
        for down, right in ((0, 1), (1, 0)):
            if tile.row + down >= rows or tile.column + right >= columns or min(overlap) <= 0.0:
                continue
            beside = tiles[(tile.row + down) * columns + tile.column + right]
            if tile.empty or beside.empty:
                continue
            for wish in (0.25, 0.75):
                ranked = []
                for rank, step in enumerate((0.0, 0.05, -0.05, 0.1, -0.1, 0.15, -0.15, 0.2, -0.2)):
                    share = wish + step
                    x = tile.x_mm + (window[0] - overlap[0] / 2 if right else share * window[0])
                    y = tile.y_mm + (overlap[1] / 2 if down else share * window[1])
                    r = MARK_MM + 0.4
                    frame = box(x - r, y - r, x + r, y + r)
                    on_words = len(words.query(frame, predicate="intersects")) > 0
                    on_lines = len(lines.query(frame, predicate="intersects")) > 0
                    ranked.append((on_words, on_lines, rank, (x, y)))
                found.append(min(ranked)[3])
    return tuple(found)


def _area(drawing: Drawing) -> tuple[float, float, float, float]:
    """What has to be on paper: all lines but the sheet's own edge, with a little room around."""
    boxes = [
        (*line.points.min(axis=0), *line.points.max(axis=0))
        for line in drawing.lines
        if line.layer != Layer.SHEET
    ]
    if not boxes:
        return (0.0, 0.0, drawing.width_mm, drawing.height_mm)
    return (
        float(min(b[0] for b in boxes)) - AROUND_MM,
        float(min(b[1] for b in boxes)) - AROUND_MM,
        float(max(b[2] for b in boxes)) + AROUND_MM,
        float(max(b[3] for b in boxes)) + AROUND_MM,
    )


def _inked(drawing: Drawing) -> list[BaseGeometry]:
    """The areas of the parts, whose inside keeps pages together, and every other line."""
    from shapely.geometry import LineString, Polygon

    return [
        Polygon(line.points) if line.closed and len(line.points) > 2 else LineString(line.points)
        for line in drawing.lines
        if line.layer != Layer.SHEET
    ]
