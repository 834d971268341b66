"""The pages of a plan: tiles with their furniture, an overview before them, and whole sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sheetlark.sheets.drawing import INK, SOFT, STYLES, Drawing, Layer, Style
from sheetlark.sheets.papers import PaperSize, PrinterScale
from sheetlark.sheets.pdf_pen import Pen
from sheetlark.sheets.tiling import (
    BOTTOM_MM,
    LEFT_MM,
    MARK_MM,
    OVERLAP_MM,
    RIGHT_MM,
    TOP_MM,
    Tile,
    Tiling,
    tile_drawing,
)
from sheetlark.units import show_length

RULE = Style(width_mm=0.20)
FINE = Style(width_mm=0.13, colour=SOFT)
INCH_MM = 25.4
WHITE = (1.0, 1.0, 1.0)
BAR_ROOM_MM = 4.6


def tiled_pdf(
    drawings: Sequence[Drawing],
    paper: PaperSize,
    *,
    title: str,
    notes: Sequence[tuple[str, ...]] = (),
    scale: PrinterScale | None = None,
    overlap_mm: float = OVERLAP_MM,
    imperial: bool = False,
) -> tuple[bytes, int]:
    """Every drawing on pages of one paper, an overview page before each.

    Parameters
    ----------
    notes : sequence of tuple of str
        For each drawing the lines printed on its overview: its material, its parts.
    imperial : bool
        Whether the overview tells the overlap in inches.

    Returns
    -------
    tuple of bytes and int
        The PDF, and how many pages it has.

    Raises
    ------
    SheetError
        As `tile_drawing`.
    """
    pen = Pen(title)
    printer = scale or PrinterScale()
    pages = 0
    for number, drawing in enumerate(drawings, start=1):
        tiling = tile_drawing(drawing, paper, scale=printer, overlap_mm=overlap_mm)
        form = f"sheet{number}"
        pen.form(form, drawing)
        lines = notes[number - 1] if number <= len(notes) else ()
        pen.form(f"small{number}", _miniature(drawing))
        _overview(pen, f"small{number}", drawing, tiling, number, lines, paper, imperial=imperial)
        pages += 1
        for tile in tiling.printed:
            _tile_page(pen, form, drawing, tiling, tile, number)
            pages += 1
    used = {layer for drawing in drawings for layer in drawing.layers} | {Layer.ALIGN}
    return pen.finish([layer for layer in Layer if layer in used]), pages


def whole_pdf(drawings: Sequence[Drawing], *, title: str, scale: PrinterScale | None = None) -> bytes:
    """Each drawing on one page of its own size, for a plotter or a print shop.

    The check bars and the title lie in the margin along the lower and left edge, where no part is; where the
    margin is too narrow for them, the page grows by a strip on these two sides.
    """
    pen = Pen(title)
    printer = scale or PrinterScale()
    fx, fy = 1 / printer.across, 1 / printer.along
    for number, drawing in enumerate(drawings, start=1):
        form = f"whole{number}"
        pen.form(form, drawing)
        strip = 0.0 if _margin(drawing) >= BAR_ROOM_MM else BAR_ROOM_MM
        pen.begin_page((drawing.width_mm + strip) * fx, (drawing.height_mm + strip) * fy)
        pen.canvas.saveState()
        pen.canvas.transform(fx, 0, 0, fy, 0, 0)
        pen.canvas.saveState()
        pen.canvas.translate(strip, strip)
        pen.canvas.doForm(form)
        pen.canvas.restoreState()
        _level_bar(pen, 8.0, 2.2, 100.0, 10.0, "100 mm", size=1.9)
        _level_bar(pen, 128.0, 2.2, 4 * INCH_MM, INCH_MM / 2, "4 in", size=1.9)
        _upright_bar(pen, 2.6, 12.0, 100.0, 10.0, "100 mm", size=1.9)
        _upright_bar(pen, 2.6, 132.0, 4 * INCH_MM, INCH_MM / 2, "4 in", size=1.9)
        pen.write(f"{drawing.name}. Print at 100 %; measure the bars.", 250.0, 1.4, 2.2)
        pen.canvas.restoreState()
        pen.end_page()
    used = {layer for drawing in drawings for layer in drawing.layers}
    return pen.finish([layer for layer in Layer if layer in used])


def _margin(drawing: Drawing) -> float:
    """How far the lines keep from the left and the lower edge. [mm]."""
    lows = [line.points.min() for line in drawing.lines if line.layer != Layer.SHEET]
    return float(min(lows, default=0.0))


def _tile_page(pen: Pen, form: str, drawing: Drawing, tiling: Tiling, tile: Tile, number: int) -> None:
    fx, fy = 1 / tiling.scale.across, 1 / tiling.scale.along
    width, height = tiling.window_width_mm * fx, tiling.window_height_mm * fy
    pen.begin_page(tiling.page_width_mm, tiling.page_height_mm)
    c = pen.canvas
    c.saveState()
    clip = c.beginPath()
    clip.rect(LEFT_MM, BOTTOM_MM, width, height)
    c.clipPath(clip, stroke=0, fill=0)
    c.transform(fx, 0, 0, fy, LEFT_MM - tile.x_mm * fx, BOTTOM_MM - tile.y_mm * fy)
    pen.open_layer(Layer.ALIGN)
    for x, y in tiling.marks(tile):
        _diamond(pen, x, y)
    pen.close_layer()
    c.doForm(form)
    c.restoreState()
    _window_frame(pen, tiling, tile, width, height)
    _furniture(pen, drawing, tiling, tile, number)
    pen.end_page()


def _diamond(pen: Pen, x: float, y: float, reach: float = MARK_MM) -> None:
    style = STYLES[Layer.ALIGN]
    pen.stroke([(x - reach, y), (x, y + reach), (x + reach, y), (x, y - reach)], style, closed=True)
    pen.stroke([(x - reach, y), (x + reach, y)], style)
    pen.stroke([(x, y - reach), (x, y + reach)], style)


def _window_frame(pen: Pen, tiling: Tiling, tile: Tile, width: float, height: float) -> None:
    """The edge to trim to, ticks where the overlap ends, and which page goes on where."""
    x0, y0 = LEFT_MM, BOTTOM_MM
    x1, y1 = x0 + width, y0 + height
    pen.stroke([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], FINE, closed=True)
    over_x = tiling.overlap_x_mm / tiling.scale.across
    over_y = tiling.overlap_y_mm / tiling.scale.along
    sides = (
        (0, -1, x0 - 1.2, (y0 + y1) / 2, 90.0),
        (0, 1, x1 + 2.6, (y0 + y1) / 2, 90.0),
        (-1, 0, (x0 + x1) / 2, y1 + 1.2, 0.0),
        (1, 0, (x0 + x1) / 2, y0 - 2.6, 0.0),
    )
    for down, right, x, y, angle in sides:
        beside = tiling.tile(tile.row + down, tile.column + right)
        if beside is None or beside.empty:
            continue
        pen.write(f"to {beside.name}", x, y, 2.0, colour=SOFT, angle_deg=angle, middle=True)
        if right:
            at = x0 + over_x if right < 0 else x1 - over_x
            pen.stroke([(at, y1), (at, y1 + 2)], RULE)
            pen.stroke([(at, y0 - 2), (at, y0)], RULE)
        else:
            at = y1 - over_y if down < 0 else y0 + over_y
            pen.stroke([(x0 - 2, at), (x0, at)], RULE)
            pen.stroke([(x1, at), (x1 + 2, at)], RULE)


def _furniture(pen: Pen, drawing: Drawing, tiling: Tiling, tile: Tile | None, number: int) -> None:
    """Check bars at the left and below, the name of the page, a small map of all pages."""
    _bars(pen, tiling.scale)
    right = tiling.page_width_mm - RIGHT_MM
    map_left = _map(pen, tiling, tile, right, 6.0, 11.0)
    x = LEFT_MM + 4 * INCH_MM / tiling.scale.across + 17.0
    room = map_left - 3.0 - x
    here = f"{number}-{tile.name}" if tile is not None else f"{number}"
    pen.write(here, x, 12.6, 5.2, bold=True)
    pen.write(drawing.name, x, 8.9, 2.6, most_mm=room)
    says = "Print at 100 %: the bars must measure true."
    if not tiling.scale.true:
        says = (
            f"Drawn for a printer of {100 * tiling.scale.across:.1f} % across, "
            f"{100 * tiling.scale.along:.1f} % along."
        )
    pen.write(says, x, 5.8, 2.2, colour=SOFT, most_mm=room)


def _bars(pen: Pen, scale: PrinterScale) -> None:
    fx, fy = 1 / scale.across, 1 / scale.along
    c = pen.canvas
    c.saveState()
    c.transform(fx, 0, 0, 1, LEFT_MM, 0)
    _level_bar(pen, 0.0, 12.8, 100.0, 10.0, "100 mm")
    _level_bar(pen, 0.0, 6.6, 4 * INCH_MM, INCH_MM / 2, "4 in")
    c.restoreState()
    c.saveState()
    c.transform(1, 0, 0, fy, 0, BOTTOM_MM)
    _upright_bar(pen, 9.4, 0.0, 100.0, 10.0, "100 mm")
    _upright_bar(pen, 6.0, 0.0, 4 * INCH_MM, INCH_MM / 2, "4 in")
    c.restoreState()


def _level_bar(
    pen: Pen, x: float, y: float, length: float, step: float, says: str, size: float = 2.4
) -> None:
    pen.stroke([(x, y), (x + length, y)], RULE)
    for i in range(round(length / step) + 1):
        end = i in (0, round(length / step))
        reach = 1.5 if end else 0.8
        pen.stroke([(x + i * step, y), (x + i * step, y + reach)], RULE)
    pen.write(says, x + length + 1.5, y, size)


def _upright_bar(
    pen: Pen, x: float, y: float, length: float, step: float, says: str, size: float = 2.0
) -> None:
    pen.stroke([(x, y), (x, y + length)], RULE)
    for i in range(round(length / step) + 1):
        end = i in (0, round(length / step))
        reach = 1.5 if end else 0.8
        pen.stroke([(x, y + i * step), (x - reach, y + i * step)], RULE)
    pen.write(says, x, y + length + 1.5, size, angle_deg=90.0)


def _map(pen: Pen, tiling: Tiling, here: Tile | None, right: float, bottom: float, tall: float) -> float:
    """A small map of the pages, this one filled, those not printed left out; returns its left edge."""
    cell_h = tall / tiling.rows
    cell_w = cell_h * tiling.window_width_mm / tiling.window_height_mm
    if cell_w * tiling.columns > 26.0:
        cell_h *= 26.0 / (cell_w * tiling.columns)
        cell_w = 26.0 / tiling.columns
    left = right - cell_w * tiling.columns
    for tile in tiling.printed:
        x, y = left + tile.column * cell_w, bottom + (tiling.rows - 1 - tile.row) * cell_h
        if here is not None and tile.name == here.name:
            pen.fill_box(x, y, cell_w, cell_h, INK)
        pen.stroke([(x, y), (x + cell_w, y), (x + cell_w, y + cell_h), (x, y + cell_h)], FINE, closed=True)
    return left


def _overview(
    pen: Pen,
    form: str,
    drawing: Drawing,
    tiling: Tiling,
    number: int,
    lines: Sequence[str],
    paper: PaperSize,
    *,
    imperial: bool,
) -> None:
    """The map of the pages over the small sheet, what the lines mean, how to join, what is on the sheet."""
    pen.begin_page(tiling.page_width_mm, tiling.page_height_mm)
    left, right = LEFT_MM + 2, tiling.page_width_mm - RIGHT_MM
    top = tiling.page_height_mm - TOP_MM
    pen.write(drawing.name, left, top - 5, 5.2, bold=True, most_mm=right - left)
    count = len(tiling.printed)
    pages = f"{count} page{'s' if count != 1 else ''} of {paper.name}"
    pen.write(
        f"Map of {pages}, {tiling.rows} by {tiling.columns}{_overlaps(tiling, imperial)}",
        left,
        top - 10,
        2.8,
    )
    wide = tiling.page_width_mm > tiling.page_height_mm
    map_right = left + (right - left) * (0.62 if wide else 1.0)
    map_top = top - 14
    map_bottom = BOTTOM_MM + 4 if wide else map_top - 0.42 * (map_top - BOTTOM_MM)
    bottom = _map_of_pages(pen, form, drawing, tiling, (left, map_bottom, map_right, map_top))
    if wide:
        column, y = map_right + 6, map_top - 3
        y = _legend(pen, drawing, column, y)
        y = _sayings(pen, column, y - 3, right - column)
        _listing(pen, lines, column, y - 3, right - column, BOTTOM_MM + 2)
    else:
        y = bottom - 6
        half = (right - left) / 2
        a = _legend(pen, drawing, left, y)
        b = _sayings(pen, left + half, y, half)
        _listing(pen, lines, left, min(a, b) - 3, right - left, BOTTOM_MM + 2)
    _furniture(pen, drawing, tiling, None, number)
    pen.end_page()


def _overlaps(tiling: Tiling, imperial: bool) -> str:
    said = []
    if tiling.columns > 1:
        said.append(f"{show_length(1e-3 * tiling.overlap_x_mm, imperial)} beside")
    if tiling.rows > 1:
        said.append(f"{show_length(1e-3 * tiling.overlap_y_mm, imperial)} above")
    return f"; overlap {' and '.join(said)}" if said else ""


def _map_of_pages(
    pen: Pen, form: str, drawing: Drawing, tiling: Tiling, frame: tuple[float, float, float, float]
) -> float:
    x0 = min(0.0, *(t.x_mm for t in tiling.tiles))
    y0 = min(0.0, *(t.y_mm for t in tiling.tiles))
    x1 = max(drawing.width_mm, max(t.x_mm for t in tiling.tiles) + tiling.window_width_mm)
    y1 = max(drawing.height_mm, max(t.y_mm for t in tiling.tiles) + tiling.window_height_mm)
    factor = min((frame[2] - frame[0]) / (x1 - x0), (frame[3] - frame[1]) / (y1 - y0))
    bottom = frame[3] - factor * (y1 - y0)
    c = pen.canvas
    c.saveState()
    c.transform(factor, 0, 0, factor, frame[0] - factor * x0, bottom - factor * y0)
    c.doForm(form)
    bold = Style(width_mm=0.3 / factor, colour=SOFT, dashes=(2.4 / factor, 1.2 / factor))
    w, h = tiling.window_width_mm, tiling.window_height_mm
    over_x, over_y = tiling.overlap_x_mm, tiling.overlap_y_mm
    for tile in tiling.printed:
        # Cells meet in the middle of the overlap, so the map shows each page once.
        x, y = tile.x_mm + over_x / 2, tile.y_mm + over_y / 2
        run = np.array([(x, y), (x + w - over_x, y), (x + w - over_x, y + h - over_y), (x, y + h - over_y)])
        pen.stroke(run, bold, closed=True)
        big = 4.6 / factor
        pen.fill_box(
            x + 0.8 / factor, y + h - over_y - 1.15 * big, (1.0 + 2.9 * len(tile.name)) / factor, big, WHITE
        )
        pen.write(
            tile.name,
            x + 1.2 / factor,
            y + h - over_y - big,
            big,
            bold=True,
            colour=STYLES[Layer.HINGE].colour,
        )
    _numbers(pen, drawing, factor)
    c.restoreState()
    return bottom


def _miniature(drawing: Drawing) -> Drawing:
    """The cuts alone, without lettering, which nobody could read so small."""
    kept = tuple(line for line in drawing.lines if line.layer in (Layer.CUT, Layer.SHEET))
    return replace(drawing, lines=kept, lettering=())


def _numbers(pen: Pen, drawing: Drawing, factor: float) -> None:
    """The number of each part in its middle; its outline is the last of its cuts."""
    from shapely.geometry import Polygon
    from shapely.ops import polylabel

    outlines = {line.owner: line.points for line in drawing.on(Layer.CUT)}
    for owner, points in outlines.items():
        middle = polylabel(Polygon(points), 2.0)
        size = 2.4 / factor
        pen.write(owner.split(".")[0], middle.x, middle.y - 0.36 * size, size, middle=True)


def _legend(pen: Pen, drawing: Drawing, x: float, y: float) -> float:
    pen.write("Lines", x, y, 3.0, bold=True)
    for layer in reversed(Layer):
        style = STYLES[layer]
        if layer in drawing.layers and style.says:
            y -= 4.6
            pen.stroke([(x, y + 0.9), (x + 22, y + 0.9)], style)
            pen.write(style.says, x + 25, y, 2.5)
    return y - 4.0


_SAYINGS = (
    "Print at 100 % (actual size), never fit to page.",
    "Measure a level and an upright bar before cutting.",
    "Trim a page at the fine frame on the sides that go",
    "on top of a neighbour, and lay it on the neighbour",
    "so that the diamonds meet.",
    "A fresh blade cuts foam clean. Cut away from your",
    "hand, on a mat, in several light strokes. Hot glue",
    "burns skin and melts foam: try it on scrap first.",
)


def _sayings(pen: Pen, x: float, y: float, room: float) -> float:
    pen.write("Printing, joining, cutting", x, y, 3.0, bold=True)
    for says in _SAYINGS:
        y -= 3.7
        pen.write(says, x, y, 2.5, most_mm=room)
    return y - 4.0


def _listing(pen: Pen, lines: Sequence[str], x: float, y: float, room: float, lowest: float) -> None:
    """The parts of the sheet, in as many columns as it takes."""
    if not lines:
        return
    pen.write("On this sheet", x, y, 3.0, bold=True)
    rows = max(1, int((y - lowest) / 3.6) - 1)
    columns = -(-len(lines) // rows)
    wide = room / columns
    for i, text in enumerate(lines):
        column, row = divmod(i, rows)
        pen.write(text, x + column * wide, y - 3.8 - 3.6 * row, 2.5, most_mm=wide - 2)
