"""All files of a plan, written whole or not at all."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from sheetlark.errors import SheetError
from sheetlark.parts import Kit
from sheetlark.sheets.drafting import draw_nesting
from sheetlark.sheets.dxf import dxf_text
from sheetlark.sheets.nesting import Effort, Nesting, Progress, nest
from sheetlark.sheets.pages import tiled_pdf, whole_pdf
from sheetlark.sheets.papers import PrinterScale, paper_size
from sheetlark.sheets.partslist import csv_text, markdown_text, part_rows
from sheetlark.sheets.patterns import draw_patterns
from sheetlark.sheets.svg import svg_text
from sheetlark.sheets.tiling import OVERLAP_MM
from sheetlark.stock import Stock


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFiles:
    """What was written.

    folder : where
    tiled, whole, patterns, dxf, svg, lists : the files of each kind
    nesting : the layout they show; `nesting.sheets[i].utilisation` for each sheet
    pages : for each tiled file, how many pages it has
    """

    folder: Path
    tiled: tuple[Path, ...]
    whole: tuple[Path, ...]
    patterns: tuple[Path, ...]
    dxf: tuple[Path, ...]
    svg: tuple[Path, ...]
    lists: tuple[Path, ...]
    nesting: Nesting
    pages: tuple[int, ...]

    @property
    def files(self) -> tuple[Path, ...]:
        """All of them."""
        return (*self.tiled, *self.whole, *self.patterns, *self.dxf, *self.svg, *self.lists)

    @property
    def sheets_used(self) -> int:
        """How many stock sheets are needed."""
        return len(self.nesting.sheets)


def write_plans(
    kit: Kit,
    stock: Stock,
    folder: str | os.PathLike[str],
    *,
    papers: Sequence[str] = ("a4", "letter"),
    seed: int = 0,
    effort: Effort = "normal",
    margin_mm: float = 5.0,
    gap_mm: float = 3.0,
    overlap_mm: float = OVERLAP_MM,
    kerf_mm: float = 0.0,
    scale: PrinterScale | None = None,
    progress: Progress | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> PlanFiles:
    """Lay out a kit and write tiled PDFs, a whole-sheet PDF, DXF, SVG and the parts list into a folder.

    Parameters
    ----------
    papers : sequence of str
        Keys of `PAPERS`; a tiled PDF is made for each.
    seed, effort, margin_mm, gap_mm, should_stop
        As for `nest`.
    overlap_mm : float
        Strip printed on both of two neighbouring pages. [mm]
    kerf_mm : float
        Width a cutting machine takes away; moves the cuts of DXF and SVG, never those on paper. [mm]
    scale : PrinterScale, optional
        From `read_measured_bar`; corrects the PDFs alone.
    progress : callable, optional
        Called with a fraction and a few words.

    Returns
    -------
    PlanFiles
        The same kit, stock and options give the same bytes.

    Raises
    ------
    SheetError
        As `nest` and `tile_drawing`, or if the folder cannot be written to.
    """
    if not 0.0 <= kerf_mm <= 5.0:
        raise SheetError(f"the kerf is {kerf_mm:g} mm; it must lie between 0 and 5 mm")
    target = _open_folder(Path(folder))
    sizes = [paper_size(key) for key in dict.fromkeys(papers)]
    tell = progress or (lambda _fraction, _words: None)
    nesting = nest(
        kit,
        stock,
        seed=seed,
        effort=effort,
        margin_mm=margin_mm,
        gap_mm=gap_mm,
        progress=lambda fraction, words: tell(0.5 * fraction, words),
        should_stop=should_stop,
    )
    tell(0.55, "drawing")
    drawings = draw_nesting(nesting, kit)
    machine = draw_nesting(nesting, kit, kerf_mm=kerf_mm) if kerf_mm else drawings
    notes = [_notes(nesting, kit, i) for i in range(len(nesting.sheets))]
    name = file_name(kit.name)
    made: dict[str, bytes] = {}
    pages = []
    for i, size in enumerate(sizes):
        tell(0.6 + 0.3 * i / max(1, len(sizes)), f"pages for {size.name}")
        pdf, count = tiled_pdf(
            drawings,
            size,
            title=f"{kit.name}: plan on {size.name}",
            notes=notes,
            scale=scale,
            overlap_mm=overlap_mm,
            imperial=kit.imperial,
        )
        made[f"{name}-{size.key}.pdf"] = pdf
        pages.append(count)
    tell(0.9, "whole sheets")
    made[f"{name}-sheets.pdf"] = whole_pdf(drawings, title=f"{kit.name}: whole sheets", scale=scale)
    patterns = draw_patterns(kit, stock)
    made[f"{name}-patterns.pdf"] = whole_pdf([patterns], title=f"{kit.name}: patterns", scale=scale)
    made[f"{name}-patterns.svg"] = svg_text(patterns).encode("utf-8")
    numbers = [s.number for s in nesting.sheets]
    for number, drawing in zip(numbers, machine, strict=True):
        made[f"{name}-sheet-{number}.dxf"] = dxf_text(drawing).encode("utf-8")
        made[f"{name}-sheet-{number}.svg"] = svg_text(drawing).encode("utf-8")
    rows = part_rows(kit, nesting)
    made[f"{name}-parts.csv"] = csv_text(rows, imperial=kit.imperial).encode("utf-8-sig")
    made[f"{name}-parts.md"] = markdown_text(rows, nesting, kit).encode("utf-8")
    _write_all(target, made)
    tell(1.0, f"{len(made)} files in {target}")

    def ending(words: str) -> tuple[Path, ...]:
        return tuple(target / file for file in made if file.endswith(words))

    tiled = tuple(target / f"{name}-{size.key}.pdf" for size in sizes)
    return PlanFiles(
        folder=target,
        tiled=tiled,
        whole=(target / f"{name}-sheets.pdf",),
        patterns=(target / f"{name}-patterns.pdf", target / f"{name}-patterns.svg"),
        dxf=ending(".dxf"),
        svg=tuple(target / f"{name}-sheet-{n}.svg" for n in numbers),
        lists=(*ending(".csv"), *ending(".md")),
        nesting=nesting,
        pages=tuple(pages),
    )


def _notes(nesting: Nesting, kit: Kit, index: int) -> tuple[str, ...]:
    """What is on a sheet, for its overview."""
    layout = nesting.sheets[index]
    parts = {part.number: part for part in kit.parts}
    size = kit.shown(f"{layout.width_mm:.0f} × {layout.height_mm:.0f} mm")
    lines = [f"{layout.name}, {size}, {100 * layout.utilisation:.0f} % used"]
    if layout.paper_note:
        lines.append(f"After cutting: {layout.paper_note}.")
    for number in sorted({p.part for p in layout.placed}):
        here = sum(p.part == number for p in layout.placed)
        part = parts[number]
        of = f" (of {part.count})" if here != part.count else ""
        lines.append(f"{number}  {part.name}: {here}{of}")
    return tuple(lines)


def file_name(name: str) -> str:
    """A name that every file system takes: letters, digits and hyphens."""
    plain = re.sub(r"[^\w]+", "-", name.strip().lower()).strip("-_")[:60]
    return plain or "model"


def _open_folder(folder: Path) -> Path:
    if folder.exists() and not folder.is_dir():
        raise SheetError(f"{folder} is a file; plans go into a folder. Choose another name.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SheetError(f"the folder {folder} cannot be made: {error.strerror or error}") from error
    return folder


def _write_all(folder: Path, made: dict[str, bytes]) -> None:
    """Write beside, then put in place: a reader never meets half a file."""
    try:
        with tempfile.TemporaryDirectory(prefix=".writing-", dir=folder) as beside:
            for name, content in made.items():
                Path(beside, name).write_bytes(content)
            for name in made:
                Path(beside, name).replace(folder / name)
    except OSError as error:
        raise SheetError(
            f"the plans cannot be written to {folder}: {error.strerror or error}. "
            f"Make room, close the files elsewhere, or choose another folder."
        ) from error
