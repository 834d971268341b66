"""One zip with everything a builder needs, the same bytes each time; and how to open one without risk.

A zip from elsewhere is not trusted: names that lead out of the folder, links, doubles, too many files and files that
grow beyond all bounds are refused before anything is written (compare APPNOTE.TXT, the zip file format specification,
sections 4.4.15 and 4.4.17 on attributes and names).
"""

from __future__ import annotations

import hashlib
import io
import math
import os
import re
import stat
import tempfile
import tomllib
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sheetlark.design import loads, write_text
from sheetlark.errors import DesignError, PackError
from sheetlark.evaluation import Evaluation
from sheetlark.handbook.book import gauges_pdf, handbook, handbook_pdf
from sheetlark.handbook.page import handbook_html, svg_picture
from sheetlark.handbook.pieces import Model
from sheetlark.handbook.scene import Eye, Shown, draw
from sheetlark.logbook import CorrectionEntry, FlightEntry, Log, Weighing
from sheetlark.logbook.advice import amount_in_words, name_of
from sheetlark.sheets import write_plans

Progress = Callable[[float, str], None]

MOST_FILES = 400
MOST_FILE_BYTES = 40_000_000
MOST_BYTES = 200_000_000
LARGEST_PACK_BYTES = 100_000_000
_DATE = (1980, 1, 1, 0, 0, 0)  # the earliest a zip can hold: the same every time, and tells nothing


def slug(name: str) -> str:
    """A name that every file system takes: letters, digits and hyphens."""
    plain = re.sub(r"[^\w]+", "-", name.strip().lower()).strip("-_")[:60]
    return plain or "model"


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
    name = slug(book.name)
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
            _write_whole(target / file, content)
    except OSError as error:
        raise PackError(f"the handbook cannot be written to {target}: {error.strerror or error}") from None
    return HandbookFiles(
        pdf=tuple(target / f for f in made if "-handbook-" in f),
        page=target / f"{name}-handbook.html",
        gauges=tuple(target / f for f in made if "-gauges-" in f),
    )


def _write_whole(file: Path, content: bytes) -> None:
    handle, beside = tempfile.mkstemp(prefix=f".{file.name}.", suffix=".tmp", dir=file.parent)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
        os.chmod(beside, 0o644)  # noqa: PTH101 - mkstemp gives a name, not a Path
        os.replace(beside, file)  # noqa: PTH105
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise


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
    name = slug(design.model.name)
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
        _write_whole(target, content)
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


def changelog(evaluation: Evaluation, log: Log | None, *, before: str = "", changes: str = "") -> str:
    """What changed in the design, and what the author's own model taught, newest above what was kept."""
    lines = [f"# Changes of {evaluation.design.model.name}", ""]
    if before:
        moved = differences(before, evaluation.design.source.text)
        lines.append(
            "## Changed from the design it began from" if moved else "## As the design it began from"
        )
        lines.append("")
        lines += [f"- {line}" for line in moved]
        lines.append("")
    if log is not None and log.story:
        lines += ["## Built and flown", ""]
        lines += [f"- {_told(entry)}" for entry in log.story]
        lines.append("")
    if changes.strip():
        lines += ["## Before that", "", re.sub(r"^#", "###", changes.strip(), flags=re.MULTILINE), ""]
    if len(lines) == 2:
        lines += ["First pack of this design.", ""]
    return "\n".join(lines)


def _told(entry: Any) -> str:
    if isinstance(entry, Weighing):
        what = "ready to fly" if entry.is_finished_model else " and ".join(entry.what)
        at = f", balancing at {1e3 * entry.balance_x_m:.0f} mm" if entry.balance_x_m is not None else ""
        return f"{entry.date}: weighed {what}, {1e3 * entry.mass_kg:.1f} g{at}"
    if isinstance(entry, FlightEntry):
        seen = ", ".join(s.symptom for s in entry.seen) or "as it should"
        return f"{entry.date}: flew{f' {entry.minutes:g} min' if entry.minutes else ''}: {seen}"
    if isinstance(entry, CorrectionEntry):
        return f"{entry.date}: {name_of(entry.cause)} changed by {amount_in_words(entry.cause, entry.amount)}"
    return f"{entry.date}: measured motor {entry.motor}"


def differences(before: str, after: str) -> tuple[str, ...]:
    """Values that differ between two design texts, one line each: "wing 1, span: 700 became 720"."""
    try:
        old, new = _flat(tomllib.loads(before)), _flat(tomllib.loads(after))
    except tomllib.TOMLDecodeError:
        return ()
    found = []
    for key in sorted(old.keys() | new.keys()):
        if key not in new:
            found.append(f"{key}: {_shown(old[key])} left out")
        elif key not in old:
            found.append(f"{key}: {_shown(new[key])} added")
        elif old[key] != new[key]:
            found.append(f"{key}: {_shown(old[key])} became {_shown(new[key])}")
    return tuple(found)


def _flat(value: Any, where: str = "") -> dict[str, Any]:
    if isinstance(value, dict):
        found: dict[str, Any] = {}
        for key, inner in value.items():
            found.update(_flat(inner, f"{where}, {key}" if where else key))
        return found
    if isinstance(value, list) and value and all(isinstance(v, dict) for v in value):
        found = {}
        for number, inner in enumerate(value, start=1):
            found.update(_flat(inner, f"{where} {number}"))
        return found
    return {where: value}


def _shown(value: Any) -> str:
    text = " ".join(str(value).split())
    return text if len(text) <= 60 else text[:57] + "..."


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A pack opened as a starting point.

    design : the design file written
    before, changes : the design as it was packed, and its changelog, kept beside for the next pack
    """

    design: Path
    before: Path
    changes: Path | None


def open_pack(
    pack: str | os.PathLike[str], folder: str | os.PathLike[str], *, name: str = "", force: bool = False
) -> Opened:
    """Take the design out of a pack, to go on from there.

    Parameters
    ----------
    name : str
        Of the design file to write; the pack's own if left out.
    force : bool
        Write over a design that is there.

    Raises
    ------
    PackError
        If it is no pack, not safe to open, or a file is in the way.
    DesignError
        If the design in it is none.
    """
    source, target = Path(pack), Path(folder)
    files = read_pack(source)
    designs = [f for f in files if "/" not in f and f.endswith(".toml") and not f.endswith(".log.toml")]
    if len(designs) != 1:
        raise PackError(f"{source}: a pack holds one design file at its top; this one holds {len(designs)}")
    try:
        text = files[designs[0]].decode("utf-8")
    except UnicodeDecodeError:
        raise DesignError(f"{source}: {designs[0]} is not a UTF-8 text") from None
    loads(text, name=f"{source.name}: {designs[0]}")
    stem = slug(name) if name else Path(designs[0]).stem
    file = target / f"{stem}.toml"
    if file.exists() and not force:
        raise PackError(f"{file} is there already; choose another name, or add --force to write over it")
    try:
        target.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise PackError(f"the folder {target} cannot be made: {error.strerror or error}") from None
    before = target / f"{stem}.before.toml"
    write_text(file, text)
    write_text(before, text)
    changes: Path | None = None
    if "CHANGES.md" in files:
        changes = target / f"{stem}.changes.md"
        write_text(changes, files["CHANGES.md"].decode("utf-8", "replace"))
    return Opened(design=file, before=before, changes=changes)


def read_pack(pack: str | os.PathLike[str]) -> dict[str, bytes]:
    """Every file of a pack in memory, checked: names stay inside, sizes stay within bounds.

    Raises
    ------
    PackError
        If it is no zip, or not safe; the message says which entry and why.
    """
    source = Path(pack)
    try:
        if source.stat().st_size > LARGEST_PACK_BYTES:
            raise PackError(f"{source} is larger than {LARGEST_PACK_BYTES // 1_000_000} MB; a pack is not")
        with zipfile.ZipFile(source) as opened:
            entries = opened.infolist()
            if len(entries) > MOST_FILES:
                raise PackError(f"{source} holds {len(entries)} files; a pack holds at most {MOST_FILES}")
            names = [entry.filename for entry in entries]
            for entry in entries:
                _refuse_unsafe(source, entry, names)
            files: dict[str, bytes] = {}
            total = 0
            for entry in entries:
                if entry.is_dir():
                    continue
                with opened.open(entry) as handle:
                    # what the zip says of a size is not believed: no more is read than is allowed
                    content = handle.read(MOST_FILE_BYTES + 1)
                total += len(content)
                if len(content) > MOST_FILE_BYTES or total > MOST_BYTES:
                    raise PackError(
                        f"{source}: {entry.filename!r} unpacks to more than a pack may hold; not opened"
                    )
                files[entry.filename] = content
    except FileNotFoundError:
        raise PackError(f"there is no file {source}") from None
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, ValueError) as error:
        if isinstance(error, PackError):
            raise
        raise PackError(f"{source} is not a pack that can be opened: {error}") from None
    except OSError as error:
        raise PackError(f"{source} cannot be read: {error.strerror or error}") from None
    return files


def _refuse_unsafe(source: Path, entry: zipfile.ZipInfo, names: list[str]) -> None:
    name = entry.filename
    parts = name.rstrip("/").split("/")
    if (
        name.startswith("/")
        or "\\" in name
        or ":" in name
        or "\x00" in name
        or any(p in ("", ".", "..") for p in parts)
    ):
        raise PackError(f"{source}: the entry {name!r} leads out of its folder; not opened")
    if stat.S_ISLNK(entry.external_attr >> 16):
        raise PackError(f"{source}: the entry {name!r} is a link; not opened")
    if names.count(name) > 1:
        raise PackError(f"{source}: the entry {name!r} is there twice; not opened")
    if entry.flag_bits & 0x1:
        raise PackError(f"{source}: the entry {name!r} is encrypted; not opened")
    if entry.file_size > MOST_FILE_BYTES:
        raise PackError(f"{source}: {name!r} unpacks to more than a pack may hold; not opened")
