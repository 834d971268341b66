"""How a pack is opened without risk.

A zip from elsewhere is not trusted: names that lead out of the folder, links, doubles, too many files and files that
grow beyond all bounds are refused before anything is written (compare APPNOTE.TXT, the zip file format specification,
sections 4.4.15 and 4.4.17 on attributes and names).
"""

from __future__ import annotations

import os
import stat
import zipfile
from dataclasses import dataclass
from pathlib import Path

from sheetlark.design import loads, write_text
from sheetlark.errors import DesignError, PackError
from sheetlark.sheets import file_name
from sheetlark.writing import there_already

MOST_FILES = 400
MOST_FILE_BYTES = 40_000_000
MOST_BYTES = 200_000_000
LARGEST_PACK_BYTES = 100_000_000


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
    stem = file_name(name) if name else Path(designs[0]).stem
    file = target / f"{stem}.toml"
    if file.exists() and not force:
        raise PackError(there_already(file))
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
