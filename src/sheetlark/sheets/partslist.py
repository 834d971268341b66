"""The parts list: every part with its count, material, size and sheet, as a table to read or to sort."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

from sheetlark.parts import Kit
from sheetlark.sheets.nesting import Nesting
from sheetlark.units import INCH_M


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """One part of the list. Sizes in mm, area of one copy in cm²."""

    number: int
    name: str
    group: str
    count: int
    turned_over: int
    material: str
    paper: str
    thickness_mm: float
    length_mm: float
    width_mm: float
    area_cm2: float
    sheets: str


_HEAD = (
    "number", "name", "group", "count", "turned over", "material", "paper",
    "thickness mm", "length mm", "width mm", "area cm2", "on sheets",
)  # fmt: skip
_HEAD_IN = tuple({"area cm2": "area in2"}.get(word, word.replace(" mm", " in")) for word in _HEAD)


def part_rows(kit: Kit, nesting: Nesting) -> tuple[PartRow, ...]:
    """The list, by part number."""
    names = {use.sheet: use.name for use in nesting.materials}
    rows = []
    for part in sorted(kit.parts, key=lambda p: p.number):
        where = sorted({s.number for s in nesting.sheets for p in s.placed if p.part == part.number})
        sides = sorted(part.size_mm, reverse=True)
        rows.append(
            PartRow(
                number=part.number,
                name=part.name,
                group=part.group,
                count=part.count,
                turned_over=sum(part.mirrored),
                material=names[part.sheet],
                paper=part.paper,
                thickness_mm=part.thickness_mm,
                length_mm=sides[0],
                width_mm=sides[1],
                area_cm2=part.area_mm2 / 100,
                sheets=" ".join(str(n) for n in where),
            )
        )
    return tuple(rows)


def _cells(row: PartRow, imperial: bool) -> tuple[str, ...]:
    sides = (row.thickness_mm, row.length_mm, row.width_mm)
    measures = [f"{sides[0]:g}", f"{sides[1]:.1f}", f"{sides[2]:.1f}", f"{row.area_cm2:.1f}"]
    if imperial:
        inch = 1e3 * INCH_M
        measures = [f"{sides[0] / inch:.3f}", *(f"{v / inch:.2f}" for v in sides[1:])]
        measures.append(f"{100 * row.area_cm2 / inch**2:.2f}")
    return (
        str(row.number), row.name, row.group, str(row.count), str(row.turned_over), row.material, row.paper,
        *measures, row.sheets,
    )  # fmt: skip


def csv_text(rows: tuple[PartRow, ...], *, imperial: bool = False) -> str:
    """The list as comma-separated values (RFC 4180), in mm and cm², or in inches and square inches.

    A name that a spreadsheet would take for a formula is written with an apostrophe before it.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_HEAD_IN if imperial else _HEAD)
    for row in rows:
        writer.writerow(
            ["'" + c if c[:1] in ("=", "+", "-", "@", "\t", "\r") else c for c in _cells(row, imperial)]
        )
    return out.getvalue()


def markdown_text(rows: tuple[PartRow, ...], nesting: Nesting, kit: Kit) -> str:
    """The list and the sheets as a table to read, and what no part shows, in plain text."""
    table = [_HEAD_IN if kit.imperial else _HEAD, *(_cells(row, kit.imperial) for row in rows)]
    table = [tuple(c.replace("|", "/").replace("\n", " ") for c in cells) for cells in table]
    widths = [max(len(cells[i]) for cells in table) for i in range(len(_HEAD))]
    shown = [
        "| " + " | ".join(c.ljust(w) for c, w in zip(cells, widths, strict=True)) + " |" for cells in table
    ]
    shown.insert(1, "|" + "|".join("-" * (w + 2) for w in widths) + "|")
    sheets = [
        f"- sheet {s.number}: {s.name}, {kit.shown(f'{s.width_mm:.0f} x {s.height_mm:.0f} mm')}, "
        f"{100 * s.utilisation:.0f} % used" + (f"; {s.paper_note}" if s.paper_note else "")
        for s in nesting.sheets
    ]
    told = ["## Notes", "", *(f"- {kit.shown(note)}" for note in kit.notes), ""] if kit.notes else []
    return "\n".join([f"# Parts of {nesting.kit}", "", *shown, "", "## Sheets", "", *sheets, "", *told])
