"""The journal beside a design: every edit ever made, so that undo has no end and a killed process loses nothing.

Words: a *splice* replaces one run of characters by another, and can be walked both ways; an *entry* is one
line of the journal. A line counts only if it is whole and its checksum agrees, so a line torn by a power cut is
as if it had never been begun.
"""

from __future__ import annotations

import contextlib
import fcntl
import io
import json
import os
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from sheetlark.errors import DesignError


@dataclass(frozen=True, slots=True)
class Splice:
    """One run of characters replaced by another.

    start : where, in characters from the beginning
    old, new : what stood there, what stands there now
    label : what was done, in words
    """

    start: int
    old: str
    new: str
    label: str

    @classmethod
    def between(cls, before: str, after: str, label: str) -> Splice:
        """The smallest single splice from one text to another."""
        head = _alike(before, after)
        tail = _alike(before[head:][::-1], after[head:][::-1])
        return cls(head, before[head : len(before) - tail], after[head : len(after) - tail], label)

    def do(self, text: str) -> str:
        """The text after it.

        Raises
        ------
        DesignError
            If the text is not the one it was made for.
        """
        return self._swap(text, self.old, self.new)

    def undo(self, text: str) -> str:
        """The text before it; raises as `do`."""
        return self._swap(text, self.new, self.old)

    def _swap(self, text: str, there: str, instead: str) -> str:
        end = self.start + len(there)
        if text[self.start : end] != there:
            raise DesignError("the journal does not fit the design it lies beside; it is set aside")
        return text[: self.start] + instead + text[end:]


def _alike(a: str, b: str) -> int:
    """How many characters two texts share from their beginning."""
    for count, (x, y) in enumerate(zip(a, b, strict=False)):
        if x != y:
            return count
    return min(len(a), len(b))


@dataclass(slots=True)
class History:
    """A text with everything that led to it and everything that was undone.

    text : as it stands
    splices : all that was done, oldest first
    done : how many of them stand; the rest can be redone
    saved : whether the design file was written after the last entry
    """

    text: str
    splices: list[Splice]
    done: int = 0
    saved: bool = True

    def apply(self, entry: dict[str, Any]) -> None:
        """Walk one entry of the journal."""
        kind = entry["is"]
        if kind == "edit":
            splice = Splice(int(entry["at"]), str(entry["old"]), str(entry["new"]), str(entry["label"]))
            self.text = splice.do(self.text)
            del self.splices[self.done :]
            self.splices.append(splice)
            self.done += 1
        elif kind == "undo":
            self.text = self.splices[self.done - 1].undo(self.text)
            self.done -= 1
        elif kind == "redo":
            self.text = self.splices[self.done].do(self.text)
            self.done += 1
        self.saved = kind in {"saved", "base"}


class Journal:
    """An append-only file of entries, held by one process at a time."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._handle: IO[bytes] | None = None

    def open(self) -> History | None:
        """Lock the journal and read it; None where there is none yet, or none that can be read.

        Raises
        ------
        DesignError
            If another process holds it, or it cannot be written.
        """
        try:
            handle = self.path.open("a+b", buffering=0)
        except OSError as error:
            raise DesignError(
                f"{self.path} cannot be written: {error.strerror or error}. The bench keeps its undo there."
            ) from None
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            handle.close()
            raise DesignError(
                f"another bench has {self.path.name.removeprefix('.').removesuffix('.journal')} open; "
                f"use that window, or close that bench first"
            ) from None
        self._handle = handle
        handle.seek(0)
        return self._read(handle)

    def _read(self, handle: IO[bytes]) -> History | None:
        history: History | None = None
        good = 0
        try:
            for line in io.BytesIO(handle.read()):
                entry = _parsed(line)
                if entry is None:
                    break
                if entry["is"] == "base":
                    history = History(str(entry["text"]), [])
                elif history is not None:
                    history.apply(entry)
                good += len(line)
        except (DesignError, KeyError, IndexError, ValueError, TypeError):
            history = None
        if history is None:
            if good or handle.seek(0, os.SEEK_END):
                self._set_aside()
            return None
        handle.truncate(good)
        handle.seek(0, os.SEEK_END)
        return history

    def _set_aside(self) -> None:
        """Keep a journal that cannot be read under another name, and begin a new one."""
        assert self._handle is not None
        self._handle.seek(0)
        kept = self.path.with_suffix(".journal-unread")
        kept.write_bytes(self._handle.read())
        self._handle.truncate(0)

    def append(self, entry: dict[str, Any], *, sync: bool = True) -> None:
        """Write an entry; with `sync`, it is on the disk when this returns.

        Raises
        ------
        DesignError
            If the disk refuses.
        """
        assert self._handle is not None, "the journal is not open"
        body = json.dumps(entry, ensure_ascii=False, separators=(",", ":")).encode()
        end = self._handle.seek(0, os.SEEK_END)
        try:
            _whole(self._handle, b"%08x %s\n" % (zlib.crc32(body), body))
            if sync:
                os.fsync(self._handle.fileno())
        except OSError as error:
            # A torn line would hide every later one from the next reading.
            with contextlib.suppress(OSError):
                self._handle.truncate(end)
            raise DesignError(
                f"{self.path} cannot be written: {error.strerror or error}; the edit is not kept"
            ) from None

    def close(self) -> None:
        """Let go of it."""
        if self._handle is not None:
            self._handle.close()
            self._handle = None


def _whole(handle: IO[bytes], line: bytes) -> None:
    """Write all of it; a disk that runs full takes a part first and refuses then."""
    left = memoryview(line)
    while left:
        left = left[handle.write(left) :]


def _parsed(line: bytes) -> dict[str, Any] | None:
    if not line.endswith(b"\n") or len(line) < 10:
        return None
    try:
        if int(line[:8], 16) != zlib.crc32(line[9:-1]):
            return None
        entry = json.loads(line[9:-1])
    except ValueError:
        return None
    return entry if isinstance(entry, dict) and "is" in entry else None
