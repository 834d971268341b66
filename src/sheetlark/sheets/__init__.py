"""Flat parts -> sheets to cut: nesting, tiling, drawing formats."""

from sheetlark.sheets.drafting import draw_nesting, draw_sheet
from sheetlark.sheets.drawing import ACCENT, INK, SOFT, STYLES, Drawing, Layer, Lettering, Line, Style
from sheetlark.sheets.dxf import dxf_text
from sheetlark.sheets.lettering import printable, width_mm
from sheetlark.sheets.nesting import Effort, MaterialUse, Nesting, Placed, SheetLayout, nest
from sheetlark.sheets.pages import tiled_pdf, whole_pdf
from sheetlark.sheets.papers import PAPERS, PaperSize, PrinterScale, paper_size, read_measured_bar
from sheetlark.sheets.partslist import PartRow, csv_text, markdown_text, part_rows
from sheetlark.sheets.patterns import draw_patterns
from sheetlark.sheets.pdf_pen import Pen
from sheetlark.sheets.plans import PlanFiles, file_name, write_plans
from sheetlark.sheets.svg import svg_text
from sheetlark.sheets.tiling import Tile, Tiling, tile_drawing

__all__ = [
    "ACCENT",
    "INK",
    "PAPERS",
    "SOFT",
    "STYLES",
    "Drawing",
    "Effort",
    "Layer",
    "Lettering",
    "Line",
    "MaterialUse",
    "Nesting",
    "PaperSize",
    "PartRow",
    "Pen",
    "Placed",
    "PlanFiles",
    "PrinterScale",
    "SheetLayout",
    "Style",
    "Tile",
    "Tiling",
    "csv_text",
    "draw_nesting",
    "draw_patterns",
    "draw_sheet",
    "dxf_text",
    "file_name",
    "markdown_text",
    "nest",
    "paper_size",
    "part_rows",
    "printable",
    "read_measured_bar",
    "svg_text",
    "tile_drawing",
    "tiled_pdf",
    "whole_pdf",
    "width_mm",
    "write_plans",
]
