"""The project folder: which designs it holds, and where a new file may go. Nothing is written outside it."""

from __future__ import annotations

import os
import re
import tomllib
from pathlib import Path

from sheetlark.design import STARTERS, edited, loads, starter, write_text
from sheetlark.errors import DesignError
from sheetlark.writing import there_already

LARGEST_DESIGN_BYTES = 1_000_000
PICTURES = (".png", ".jpg", ".jpeg", ".webp", ".svg", ".pdf", ".dxf")
_NAME = re.compile(r"[\w][\w .()+-]{0,79}", re.UNICODE)


class Folder:
    """A folder of designs."""

    def __init__(self, path: Path) -> None:
        """Take a folder.

        Raises
        ------
        DesignError
            If there is no such folder.
        """
        self.path = path.resolve()
        if not self.path.is_dir():
            raise DesignError(f"there is no folder {path}")

    def designs(self) -> list[str]:
        """Names of the design files in it, by name."""
        found = []
        for file in sorted(self.path.glob("*.toml")):
            try:
                if file.name.startswith(".") or file.stat().st_size > LARGEST_DESIGN_BYTES:
                    continue
                if not file.resolve().is_relative_to(self.path):
                    continue
                data = tomllib.loads(file.read_text("utf-8-sig"))
            except (OSError, ValueError, RecursionError):
                # A design that an editor has broken for the moment still counts: it names a wing.
                try:
                    broken = file.read_text("utf-8", errors="replace")
                except OSError:
                    continue
                if "[[wing]]" in broken and "[model]" in broken:
                    found.append(file.name)
                continue
            if "wing" in data and "model" in data:
                found.append(file.name)
        return found

    def file(self, name: str) -> Path:
        """Where a file of a plain name lies.

        Raises
        ------
        DesignError
            If the name is not plain, or leads out of the folder.
        """
        plain = name.strip()
        if not _NAME.fullmatch(plain) or ".." in plain or plain.endswith("."):
            raise DesignError(
                f"{name[:60]!r} cannot be a file name here; use letters, digits, spaces, dots and dashes"
            )
        file = self.path / plain
        if not file.resolve().is_relative_to(self.path):
            raise DesignError(f"{plain!r} leads out of the project folder")
        return file

    def design_file(self, name: str) -> Path:
        """The same for a design, `.toml` added where it is missing."""
        return self.file(name if name.endswith(".toml") else f"{name.strip()}.toml")

    def begin(self, name: str, like: str) -> Path:
        """Write a new design like a starter or like another design of the folder.

        Raises
        ------
        DesignError
            If the name is taken or not plain, or there is nothing of that kind to begin from.
        """
        file = self._free(name)
        text = starter(like) if like in STARTERS else self.file(like).read_text("utf-8-sig")
        title = file.stem.replace("-", " ").replace("_", " ").strip().capitalize()
        write_text(file, edited(text, {("model", "name"): title[:60]}))
        return file

    def take_in(self, name: str, raw: bytes) -> Path:
        """Keep an uploaded design.

        Raises
        ------
        DesignError
            If it is too large, not a design, or its name is taken or not plain.
        """
        if len(raw) > LARGEST_DESIGN_BYTES:
            raise DesignError(f"a design file has at most {LARGEST_DESIGN_BYTES // 1000} kB")
        file = self._free(Path(name.replace("\\", "/")).name)
        try:
            text = raw.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise DesignError(f"{file.name} is not a UTF-8 text; is it really a design file?") from None
        loads(text, name=file.name)
        write_text(file, text)
        return file

    def pictures(self) -> list[str]:
        """Names of the pictures in it that could be traced, by name."""
        return sorted(
            file.name
            for file in self.path.iterdir()
            if file.suffix.lower() in PICTURES
            and not file.name.startswith(".")
            and _NAME.fullmatch(file.name)
            and file.is_file()
            and not file.is_symlink()
        )

    def take_in_picture(self, name: str, raw: bytes) -> Path:
        """Keep a picture under its own name, or the next one that is free; the same picture is kept once.

        Raises
        ------
        DesignError
            If it cannot be written.
        """
        given = Path(name.replace("\\", "/")).name
        suffix = Path(given).suffix.lower()
        stem = re.sub(r"[^\w .()+-]", "-", Path(given).stem).strip(" .-")[:60] or "picture"
        if suffix not in PICTURES:
            raise DesignError(f"a picture's name ends in {', '.join(PICTURES)}, not {suffix or given!r}")
        for count in range(1, 100):
            file = self.file(f"{stem}{f' {count}' if count > 1 else ''}{suffix}")
            if file.exists() and file.read_bytes() == raw:
                return file
            if not file.exists():
                break
        else:
            raise DesignError(
                f"there are a hundred pictures named {stem!r} already; give this one another name"
            )
        try:
            with file.open("xb") as out:
                out.write(raw)
                out.flush()
                os.fsync(out.fileno())
        except OSError as error:
            raise DesignError(f"{file.name} cannot be written: {error.strerror or error}") from None
        return file

    def _free(self, name: str) -> Path:
        file = self.design_file(name)
        if file.exists():
            raise DesignError(there_already(file.name, force=False))
        return file
