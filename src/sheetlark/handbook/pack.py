"""One zip with everything a builder needs, the same bytes each time."""

from __future__ import annotations

import hashlib
import io
import math
import os
import stat
import tempfile
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from sheetlark.errors import PackError
from sheetlark.evaluation import Evaluation
from sheetlark.handbook.book import handbook
from sheetlark.handbook.on_paper import gauges_pdf, handbook_pdf
from sheetlark.handbook.pack_changes import changelog
from sheetlark.handbook.page import handbook_html, svg_picture
from sheetlark.handbook.pieces import Model
from sheetlark.handbook.scene import Eye, Shown, draw
from sheetlark.logbook import Log
from sheetlark.sheets import file_name, write_plans
from sheetlark.writing import write_whole

Progress = Callable[[float, str], None]

_DATE = (1980, 1, 1, 0, 0, 0)  # the earliest a zip can hold: the same every time, and tells nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class HandbookFiles:
    """What `write_handbook` wrote."""

    pdf: tuple[Path, ...]
    page: Path
    gauges: tuple[Path, ...]


def write_handbook(
    evaluation: Evaluation, folder: str | os.PathLike[str], *, papers: Sequence[str] = ("a4", "letter")
) -> HandbookFiles:
    """Write the handbook as PDF for each paper, as a page for a browser, and the gauges alone.

    Raises
    ------
    SheetError
        If there is no such paper.
    PackError
        If the folder cannot be written to.
    """
    book = handbook(evaluation)
    name = file_name(book.name)
    target = Path(folder)
    made: dict[str, bytes] = {}
    for paper in dict.fromkeys(papers):
        made[f"{name}-handbook-{paper}.pdf"] = handbook_pdf(book, paper=paper)
        gauges = gauges_pdf(book, paper=paper)
        if gauges:
            made[f"{name}-gauges-{paper}.pdf"] = gauges
    made[f"{name}-handbook.html"] = handbook_html(book).encode("utf-8")
    try:
        target.mkdir(parents=True, exist_ok=True)
        for file, content in made.items():
            write_whole(target / file, content)
    except OSError as error:
        raise PackError(f"the handbook cannot be written to {target}: {error.strerror or error}") from None
    return HandbookFiles(
        pdf=tuple(target / f for f in made if "-handbook-" in f),
        page=target / f"{name}-handbook.html",
        gauges=tuple(target / f for f in made if "-gauges-" in f),
    )


def pack_bytes(
    evaluation: Evaluation,
    *,
    log: Log | None = None,
    before: str = "",
    changes: str = "",
    papers: Sequence[str] = ("a4", "letter"),
    seed: int = 0,
    progress: Progress | None = None,
) -> bytes:
    """Everything a builder needs as the bytes of a zip; the same design gives the same bytes.

    Parameters
    ----------
    log : Log, optional
        What happened to the author's own model: its weights, flights and corrections go into the changelog, without
        notes, which may be private.
    before : str
        Text of the design this one began from; what differs is listed in the changelog.
    changes : str
        Changelog so far, kept below the new part.
    """
    tell = progress or (lambda _share, _words: None)
    design = evaluation.design
    name = file_name(design.model.name)
    made: dict[str, bytes] = {}
    with tempfile.TemporaryDirectory() as folder:
        plans = write_plans(
            evaluation.plan_kit,
            evaluation.stock,
            folder,
            papers=papers,
            seed=seed,
            progress=lambda share, words: tell(0.6 * share, words),
        )
        # imported here, for the drawing names its files as a pack does
        from sheetlark.handbook.assembly import write_assembly

        for file in (*plans.files, *write_assembly(evaluation, folder)):
            made[f"plans/{file.name}"] = file.read_bytes()
        nesting = plans.nesting
    tell(0.65, "handbook")
    book = handbook(evaluation, nesting)
    for paper in dict.fromkeys(papers):
        made[f"{name}-handbook-{paper}.pdf"] = handbook_pdf(book, paper=paper)
        gauges = gauges_pdf(book, paper=paper)
        if gauges:
            made[f"plans/{name}-gauges-{paper}.pdf"] = gauges
    made[f"{name}-handbook.html"] = handbook_html(book).encode("utf-8")
    tell(0.9, "pictures")
    for title, text in _pictures(book.build.model):
        made[f"pictures/{name}-{title}.svg"] = text.encode("utf-8")
    text = design.source.text
    made[f"{name}.toml"] = text.encode("utf-8")
    made["LICENCE.txt"] = _licence(evaluation).encode("utf-8")
    made["CHANGES.md"] = changelog(evaluation, log, before=before, changes=changes).encode("utf-8")
    made["CONTENTS.txt"] = _contents(evaluation, made).encode("utf-8")
    tell(1.0, f"{len(made)} files")
    return _zipped(made)


def _zipped(made: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as pack:
        for file in sorted(made):
            entry = zipfile.ZipInfo(file, date_time=_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 3
            entry.external_attr = (stat.S_IFREG | 0o644) << 16
            pack.writestr(entry, made[file])
    return out.getvalue()


def write_pack(
    evaluation: Evaluation,
    out: str | os.PathLike[str],
    *,
    log: Log | None = None,
    papers: Sequence[str] = ("a4", "letter"),
    seed: int = 0,
    progress: Progress | None = None,
) -> Path:
    """Write a pack, whole or not at all.

    Where the design began from another pack, what lies beside it (``.before.toml``, ``.changes.md``) goes into the
    changelog.

    Raises
    ------
    PackError
        If the file cannot be written.
    """
    target = Path(out)
    before, changes = "", ""
    if evaluation.design.source.name:
        home = Path(evaluation.design.source.name)
        before = _beside(home.with_name(f"{home.stem}.before.toml"))
        changes = _beside(home.with_name(f"{home.stem}.changes.md"))
    content = pack_bytes(
        evaluation, log=log, before=before, changes=changes, papers=papers, seed=seed, progress=progress
    )
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        write_whole(target, content)
    except OSError as error:
        raise PackError(f"the pack cannot be written to {target}: {error.strerror or error}") from None
    return target


def _beside(file: Path) -> str:
    try:
        return file.read_text("utf-8") if file.stat().st_size < 1_000_000 else ""
    except (OSError, UnicodeDecodeError):
        return ""


def _pictures(model: Model) -> list[tuple[str, str]]:
    shown = [Shown(item=i, weight="new", labelled=False) for i in model.items]
    views = (
        ("whole", Eye(round_rad=math.radians(38.0), above_rad=math.radians(24.0))),
        ("side", Eye(round_rad=0.0, above_rad=0.0)),
        ("front", Eye(round_rad=math.pi / 2, above_rad=0.0)),
        ("top", Eye(round_rad=math.pi / 2, above_rad=math.radians(89.9))),
    )
    return [
        (name, svg_picture(draw(shown, eye=eye, labels=False), wide_mm=200.0, tall_mm=160.0, title=name))
        for name, eye in views
    ]


def _licence(evaluation: Evaluation) -> str:
    model = evaluation.design.model
    by = f" by {model.designer}" if model.designer else ""
    if model.licence:
        return f"{model.name}{by}\n\nLicence of the design, its plans and this handbook: {model.licence}\n"
    return (
        f"{model.name}{by}\n\nThe author has stated no licence. Without one nobody may pass this on or sell models built from it; "
        "ask the author.\n"
    )


def _contents(evaluation: Evaluation, made: dict[str, bytes]) -> str:
    lines = [f"{evaluation.design.model.name}", "", "sha-256, bytes, file"]
    lines += [f"{hashlib.sha256(made[f]).hexdigest()}  {len(made[f]):9d}  {f}" for f in sorted(made)]
    return "\n".join(lines) + "\n"
