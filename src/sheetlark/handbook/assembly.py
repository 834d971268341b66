"""The assembly drawing: three views, an exploded view with numbers in balloons, and the list of parts, on one page.

Set on A3, lying. Its lettering is large enough to be read when the page is printed on A4. It is looked at, not cut
from, so nothing on it is full size: it may be printed to fit, and carries a scale bar.
"""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from sheetlark.errors import SheetError
from sheetlark.evaluation import Evaluation
from sheetlark.handbook.balloons import EDGE_MM, ExplodedView, Pieces
from sheetlark.handbook.board import Board, Box
from sheetlark.handbook.measures import Measures, measures
from sheetlark.handbook.pieces import Item, Model, take_apart
from sheetlark.handbook.threeview import (
    CAPTION_MM,
    ThreeView,
    degrees,
    figure,
    from_above,
    from_ahead,
    from_port,
)
from sheetlark.sheets import Drawing, Layer, Pen, file_name, paper_size, svg_text, width_mm
from sheetlark.units import INCH_M, show_length, show_mass
from sheetlark.writing import write_whole

_A3 = paper_size("a3")
WIDE_MM, TALL_MM = _A3.height_mm, _A3.width_mm
MARGIN_MM = 9.0
ROW_MM, ROW_TEXT_MM = 4.0, 2.9
LIST_COLUMNS = 4
LEAST_MM = 2.5  # printed on A4 that is 1.8 mm, 5 points
TITLE_WIDE_MM = 92.0
TITLE_TALL_MM = 48.0
# ISO 5455 names 1:2, 1:5, 1:10, 1:20; those between are usual on model plans. From memory.
SCALES = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ListRow:
    """One line of the list of parts: a numbered part, or a rod with a letter."""

    mark: str
    name: str
    amount: int
    material: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assembly:
    """The drawing and what is on it.

    one_to : the three views are this many times smaller than the model
    """

    drawing: Drawing
    measures: Measures
    rows: tuple[ListRow, ...]
    exploded: ExplodedView
    one_to: float


def assembly_drawing(evaluation: Evaluation) -> Drawing:
    """The page itself.

    Raises
    ------
    SheetError
        If the model is too large to be shown at 1:50.
    """
    return assembly(evaluation).drawing


def assembly(evaluation: Evaluation) -> Assembly:
    """The page with what is on it."""
    model = take_apart(evaluation.kit)
    found = measures(evaluation, model)
    marks, rows = _listed(evaluation, model)
    board = Board(f"{evaluation.design.model.name}: assembly", WIDE_MM, TALL_MM)
    views = ThreeView(board, evaluation, model, found)
    pieces = Pieces(model)
    plan = _Layout(views, found, len(rows), pieces.size_mm)
    views.above(from_above(plan.above_origin, plan.scale), plan.above)
    views.ahead(from_ahead(plan.ahead_origin, plan.scale), plan.ahead)
    views.port(from_port(plan.port_origin, plan.scale), plan.port)
    _list(board, rows, plan.list)
    exploded = pieces.set_on(board, marks, plan.exploded)
    board.write(
        "In pieces", (plan.exploded[0] + 1.0, plan.exploded[3] - 2.4), CAPTION_MM, bold=True, start=True
    )
    _title(board, evaluation, found, plan.title, plan.one_to, exploded.scale)
    return Assembly(drawing=board.drawing(), measures=found, rows=rows, exploded=exploded, one_to=plan.one_to)


class _Layout:
    """Which cell of the page holds what. Boxes are x0, y0, x1, y1. [mm].

    Two arrangements are tried at every scale: the exploded view beside the view from above with the title below
    it, or in a column of its own with the title above the view from port. The one in which views and exploded
    view come out largest is taken.
    """

    def __init__(self, views: ThreeView, found: Measures, rows: int, pieces_mm: tuple[float, float]) -> None:
        low, high = views.reach_mm()
        lines = math.ceil(rows / LIST_COLUMNS)
        list_tall = lines * ROW_MM + 7.0
        wide, tall = WIDE_MM - 2 * MARGIN_MM, TALL_MM - 2 * MARGIN_MM - list_tall - 3.0
        # Rows of dimensions under and over the views, and the caption.
        below_above, over_above = 4.5 + 6.0 * views.rows_ahead, 6.0 + 6.0 * views.rows_behind
        below_port, over_port = 5.0 + 6.0 * views.rows_below, 9.0 + 6.0 * views.rows_over
        title_tall = TITLE_TALL_MM + 3.9 * len(found.surfaces)
        best: tuple[float, float, bool] | None = None
        for one_to in SCALES:
            length, span, height = (float(high[k] - low[k]) / one_to for k in range(3))
            left, right = span + 12.0, length + 40.0
            upper, lower = length + below_above + over_above, height + below_port + over_port
            if upper + lower > tall:
                continue
            for beside in (True, False):
                if beside:
                    if upper + max(lower, title_tall) > tall:
                        continue
                    room = (wide - left - 4.0, tall - max(lower, title_tall))
                    fits = left + right + TITLE_WIDE_MM + 4.0 <= wide
                else:
                    room = (wide - left - max(right, TITLE_WIDE_MM) - 8.0, tall)
                    fits = tall - lower >= title_tall
                free = (room[0] - 2 * EDGE_MM, room[1] - 2 * EDGE_MM)
                if not fits or min(free) < 40.0:
                    continue
                pieces = max(pieces_mm[0] / free[0], pieces_mm[1] / free[1])
                cost = 1.6 * math.log(one_to) + math.log(pieces)
                if best is None or cost < best[0] - 1e-9:
                    best = (cost, one_to, beside)
        if best is None:
            raise SheetError(
                f"the model is {1e3 * found.span_m:.0f} by {1e3 * found.length_m:.0f} mm, too large for an assembly "
                f"drawing at 1:{SCALES[-1]:.0f} on A3"
            )
        _, self.one_to, beside = best
        self.scale = s = 1.0 / self.one_to
        length, span, height = (s * float(high[k] - low[k]) for k in range(3))
        left, right = span + 12.0, length + 40.0
        upper, lower = length + below_above + over_above, height + below_port + over_port
        x, y, top = MARGIN_MM, MARGIN_MM, TALL_MM - MARGIN_MM
        self.list: Box = (x, y, x + wide, y + list_tall)
        y += list_tall + 3.0
        if beside:
            middle = y + max(lower, title_tall)
            self.port: Box = (x + left, y, x + left + right, middle)
            self.title: Box = (x + left + right + 4.0, y, x + wide, middle)
            self.exploded: Box = (x + left + 4.0, middle, x + wide, top)
        else:
            middle = y + lower + 0.4 * (tall - upper - lower)
            right = max(right, TITLE_WIDE_MM)
            self.port = (x + left, y, x + left + right, middle)
            self.title = (x + left + 8.0, middle, x + left + right, top)
            self.exploded = (x + left + right + 4.0, y, x + wide, top)
        self.ahead: Box = (x, y, x + left, middle)
        self.above: Box = (x, middle, x + left, top)
        across = x + 0.5 * left + s * 0.5 * float(high[1] + low[1])
        base = y + 0.5 * (middle - y - lower) + below_port - s * float(low[2])
        self.ahead_origin = (across, base)
        self.port_origin = (self.port[0] + 20.0 - s * float(low[0]), base)
        spare = 0.5 * (top - middle - upper)
        self.above_origin = (across, middle + spare + below_above - s * float(low[0]))


def _listed(evaluation: Evaluation, model: Model) -> tuple[dict[int, str], tuple[ListRow, ...]]:
    """What each item's balloon says, and the rows of the list."""
    marks: dict[int, str] = {}
    rows: list[ListRow] = []
    stock = evaluation.stock
    for part in evaluation.kit.parts:
        sheet = stock.sheet(part.sheet)
        paper = {"both": "", "one": ", one paper off", "none": ", papers off"}[part.paper]
        rows.append(
            ListRow(
                mark=str(part.number),
                name=part.name,
                amount=part.count,
                material=sheet.name + (paper if sheet.paper_thickness_m > 0 else ""),
            )
        )
    imperial = evaluation.design.model.imperial
    letters = (_letter(n) for n in count())
    alike: dict[tuple[str, str, int], list[Item]] = {}
    for item in model.items:
        if item.part is not None:
            marks[item.index] = str(item.number)
            continue
        assert item.rod is not None
        name = item.name.removesuffix(", starboard").removesuffix(", port")
        alike.setdefault((name, item.rod.key, round(item.rod.length_mm)), []).append(item)
    for (name, key, _), items in alike.items():
        letter = next(letters)
        for item in items:
            marks[item.index] = letter
        assert items[0].rod is not None
        length = show_length(1e-3 * items[0].rod.length_mm, imperial)
        rows.append(
            ListRow(mark=letter, name=name, amount=len(items), material=f"{stock.rod(key).name}, {length}")
        )
    return marks, tuple(rows)


def _letter(n: int) -> str:
    """A, B, ... Z, AA, AB ... without I and O, which read as figures."""
    signs = "ABCDEFGHJKLMNPQRSTUVWXYZ"
    return signs[n] if n < len(signs) else _letter(n // len(signs) - 1) + signs[n % len(signs)]


def _fitted(text: str, size: float, most: float, *, bold: bool = False) -> tuple[str, float]:
    """Words no longer than a length: a little smaller first, then cut short."""
    long = width_mm(text, size, bold=bold)
    if long <= most:
        return text, size
    size = max(min(size, LEAST_MM), size * most / long)
    while len(text) > 1 and width_mm(text, size, bold=bold) > most:
        text = text[:-2].rstrip() + "…"
    return text, size


def _list(board: Board, rows: Sequence[ListRow], box: Box) -> None:
    """Number, name, how many, of what; in columns, filled downwards."""
    lines = math.ceil(len(rows) / LIST_COLUMNS)
    gap = 5.0
    wide = (box[2] - box[0] - gap * (LIST_COLUMNS - 1)) / LIST_COLUMNS
    for column in range(math.ceil(len(rows) / lines)):
        x = box[0] + column * (wide + gap)
        y = box[3] - 2.2
        for text, at in (("No.", 0.0), ("Part", 8.0), ("Count", 43.0), ("Material", 53.0)):
            board.write(text, (x + at, y), 2.5, start=True, layer=Layer.NOTE)
        board.line(Layer.NOTE, [(x, y - 2.2), (x + wide, y - 2.2)])
        for row in rows[column * lines : (column + 1) * lines]:
            y -= ROW_MM
            for text, at, room, bold in (
                (row.mark, 0.0, 7.0, True),
                (row.name, 8.0, 35.0, False),
                (str(row.amount), 45.0, 6.0, False),
                (row.material, 53.0, wide - 53.0, False),
            ):
                said, size = _fitted(text, ROW_TEXT_MM, room, bold=bold)
                board.write(said, (x + at, y - 0.4), size, start=True, bold=bold)


def _title(
    board: Board, evaluation: Evaluation, found: Measures, box: Box, one_to: float, exploded: float
) -> None:
    """Name, scale with its bar, the lifting surfaces, and what the lines mean."""
    imperial = evaluation.design.model.imperial
    x0, _, x1, y = box
    wide = x1 - x0
    y -= 5.0
    name, size = _fitted(evaluation.design.model.name, 7.0, wide, bold=True)
    board.write(name, (x0, y), size, bold=True, start=True)
    y -= 6.6
    mass = show_mass(evaluation.weights.all_up_kg, imperial)
    board.write(f"Assembly. All-up {mass}, computed.", (x0, y), 3.2, start=True)
    y -= 4.4
    board.write(f"Views 1:{one_to:g} on A3; in pieces 1:{1 / exploded:.1f}.", (x0, y), 3.2, start=True)
    y -= 6.8
    _bar(board, (x0, y), one_to, imperial=imperial)
    y -= 6.2
    y = _surfaces(board, found, (x0, y), wide, imperial=imperial)
    y -= 1.6
    for words in (
        *_set_in(evaluation, found, imperial=imperial),
        f"Lengths in {'inches' if imperial else 'mm'}; spans level, tip to tip; chords along the sheet.",
        "Ringed cross: balance. Dashed: bought items. Grey: the way a part goes on.",
        "Incidence is to the datum line; nose datum: x = 0 of the design.",
    ):
        said, size = _fitted(words, 2.7, wide)
        board.write(said, (x0, y), size, start=True)
        y -= 3.7


def _set_in(evaluation: Evaluation, found: Measures, *, imperial: bool) -> list[str]:
    """What the views show without a figure: battery and thrust line."""
    drive = evaluation.design.drive

    def length(metres: float) -> str:
        return figure(metres, imperial=imperial)

    words = [f"Balance {length(found.balance_m)} behind the nose datum."]
    if drive is not None:
        travel = f", moves ±{length(drive.pack_travel)}" if drive.pack_travel > 0 else ""
        side = "right" if drive.right >= 0 else "left"
        words[0] += f" Battery: its middle {length(drive.pack_at[0])}{travel}."
        tilt = f"{degrees(drive.down)} down, {degrees(abs(drive.right))} {side} of the datum line"
        level = degrees(drive.down) == degrees(drive.right) == "0°"
        words.append(f"Thrust line {'along the datum line' if level else tilt}.")
    return words


def _bar(board: Board, at: tuple[float, float], one_to: float, *, imperial: bool) -> None:
    """A bar to read lengths off with, whatever size the page is printed at."""
    unit_mm, name = (1e3 * INCH_M, "in") if imperial else (1.0, "mm")
    steps = (1, 2, 4, 8, 16, 24) if imperial else (20, 50, 100, 200, 500, 1000)
    whole = max((s for s in steps if s * unit_mm / one_to <= 52.0), default=steps[0])
    long = whole * unit_mm / one_to
    x, y = at
    board.line(Layer.NOTE, [(x, y), (x + long, y)])
    for k in range(5):
        board.line(Layer.NOTE, [(x + k * long / 4, y), (x + k * long / 4, y + (2.0 if k in (0, 4) else 1.2))])
    board.write(f"{whole} {name} on the model", (x + long + 2.0, y + 0.8), 2.9, start=True)


def _surfaces(
    board: Board, found: Measures, at: tuple[float, float], wide: float, *, imperial: bool
) -> float:
    x, y = at
    stops = [0.0, *(wide - w for w in (62.0, 48.0, 33.0, 19.0, 3.5))]
    heads = ("", "span", "root", "mean", "inc.", "dih.")
    for text, stop in zip(heads, stops, strict=True):
        if text:
            board.write(text, (x + stop, y), 2.5, layer=Layer.NOTE)
    board.write("Surface (chords)", (x, y), 2.5, start=True, layer=Layer.NOTE)
    board.line(Layer.NOTE, [(x, y - 2.0), (x + wide, y - 2.0)])
    for row in found.surfaces:
        y -= 3.9
        said, size = _fitted(row.name, 2.8, wide - 70.0)
        board.write(said, (x, y), size, start=True)
        cells = [figure(v, imperial=imperial) for v in (row.span_m, row.root_chord_m, row.mean_chord_m)]
        cells += (
            ["", ""] if row.upright else [degrees(row.incidence_rad, signed=True), degrees(row.dihedral_rad)]
        )
        for text, stop in zip(cells, stops[1:], strict=True):
            if text:
                board.write(text, (x + stop, y), 2.8)
    return y - 4.4


def assembly_pdf(drawing: Drawing) -> bytes:
    """The drawing as one page; it may be printed to fit, for nothing on it is full size."""
    import io

    import pikepdf

    pen = Pen(drawing.name)
    pen.canvas.setSubject("Assembly drawing. Not full size; may be printed to fit the page.")
    pen.form("assembly", drawing)
    pen.begin_page(drawing.width_mm, drawing.height_mm)
    pen.canvas.doForm("assembly")
    pen.end_page()
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(pen.finish(drawing.layers))) as pdf:
        del pdf.Root.ViewerPreferences  # it asks for 100 %, as a plan must
        pdf.save(out, deterministic_id=True)
    return out.getvalue()


def write_assembly(evaluation: Evaluation, folder: str | os.PathLike[str]) -> tuple[Path, Path]:
    """Write NAME-assembly.pdf and NAME-assembly.svg; each whole or not at all.

    Raises
    ------
    SheetError
        If the folder cannot be written to.
    """
    drawing = assembly_drawing(evaluation)
    name = file_name(evaluation.design.model.name)
    target = Path(folder)
    made = {
        target / f"{name}-assembly.pdf": assembly_pdf(drawing),
        target / f"{name}-assembly.svg": svg_text(drawing).encode("utf-8"),
    }
    try:
        target.mkdir(parents=True, exist_ok=True)
        for file, content in made.items():
            write_whole(file, content)
    except OSError as error:
        raise SheetError(
            f"the assembly drawing cannot be written to {folder}: {error.strerror or error}"
        ) from error
    pdf, svg = made
    return pdf, svg
