"""How many stock sheets the parts need, against how many there are."""

from __future__ import annotations

import math

from sheetlark.evaluation import Evaluation
from sheetlark.review.check import Check

# Share of a sheet that nesting fills: brambling's first sheet 76 %, 41 parts on three sheets 77 %.
_FILLED = 0.77


def sheets_needed(e: Evaluation) -> int:
    """Sheets of the design's own board by the area of its parts; `plans` lays them out and counts truly."""
    key = e.design.sheet.stock
    sheet = e.stock.sheet(key)
    area = sum(p.area_mm2 * p.count for p in e.kit.parts if p.sheet == key) * 1e-6
    return math.ceil(area / (_FILLED * sheet.width_m * sheet.height_m))


SHEETS = Check(
    id="sheet-count",
    unit="sheets",
    measure=lambda e: float(sheets_needed(e)),
    limit=lambda e: None if e.design.sheet.most is None else float(e.design.sheet.most),
    least=False,
    says=lambda _, figure, limit: f"It needs about {figure:.0f} sheets; you have {limit:.0f}.",
    because=lambda e, *_: (
        f"By area, {100 * _FILLED:.0f} % of each {e.stock.sheet(e.design.sheet.stock).name} sheet filled; `sheetlark plans` "
        "lays the parts out and counts truly."
    ),
)
