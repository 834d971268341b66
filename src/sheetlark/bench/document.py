"""A design open on the bench: the text of its file is the truth, and everything else follows it.

Words: a *revision* counts the texts the document has had; the *shape* of a text is which lists it has and how
long they are, so that "wing 2" still means the same wing; *outside* is any other program that writes the file.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sheetlark.bench.journal import History, Journal, Splice
from sheetlark.design import Design, Where, edited, load, loads, say, varied, write_text
from sheetlark.errors import DesignError

_SHAPES_KEPT = 400


@dataclass(frozen=True, slots=True)
class _Stamp:
    """What tells, without reading it, that a file is not the one we wrote."""

    mtime_ns: int
    size: int
    inode: int
    mode: int

    @classmethod
    def of(cls, path: Path) -> _Stamp | None:
        try:
            stat = path.stat()
        except OSError:
            return None
        return cls(stat.st_mtime_ns, stat.st_size, stat.st_ino, stat.st_mode)


class Document:
    """One design file, its history, and the newest design that could be read from it."""

    def __init__(self, path: Path) -> None:
        """Open a design file and its journal.

        Raises
        ------
        DesignError
            If the file cannot be read as a text, or another bench has it open.
        """
        self.path = path
        text = _read(path)
        self._journal = Journal(path.with_name(f".{path.name}.journal"))
        history = self._journal.open()
        self.notice = ""
        self.unsaved = False  # an edit is in the journal that the file could not take
        self.revision = 0
        self._shapes: dict[int, object] = {}
        if history is None:
            history = History(text, [])
            self._journal.append({"is": "base", "text": text})
        self._history = history
        if history.text != text:
            self._reconcile(text)
        self._stamp = _Stamp.of(path)
        self.design: Design | None = None
        self.fault = ""
        self._watchers: list[Callable[[], None]] = []
        self._settle()

    def _reconcile(self, text: str) -> None:
        """The file and the journal disagree: finish a save that was cut short, or take an outside edit."""
        h = self._history
        if not h.saved and text in self._neighbours():
            write_text(self.path, h.text)
            self._journal.append({"is": "saved"}, sync=False)
            self.notice = "The last edit had been kept but not yet saved; it is saved now."
            return
        self._enter(Splice.between(h.text, text, "edited outside the bench"))
        self._journal.append({"is": "saved"}, sync=False)
        self.notice = "The file was edited outside the bench; that edit can be undone like any other."

    def _neighbours(self) -> list[str]:
        """The texts one step away: what the file holds if only the last save is missing."""
        h = self._history
        texts = []
        if h.done:
            texts.append(h.splices[h.done - 1].undo(h.text))
        if h.done < len(h.splices):
            texts.append(h.splices[h.done].do(h.text))
        return texts

    # What it is ------------------------------------------------------------------------------------

    @property
    def name(self) -> str:
        return self.path.name

    @property
    def text(self) -> str:
        return self._history.text

    @property
    def undo_label(self) -> str:
        """What an undo would take back; empty where there is nothing."""
        h = self._history
        return h.splices[h.done - 1].label if h.done else ""

    @property
    def redo_label(self) -> str:
        """What a redo would do again; empty where there is nothing."""
        h = self._history
        return h.splices[h.done].label if h.done < len(h.splices) else ""

    @property
    def steps(self) -> tuple[int, int]:
        """(edits that stand, edits in all)."""
        return self._history.done, len(self._history.splices)

    def earlier(self, back: int) -> str:
        """The text some edits ago; the oldest kept where there are fewer."""
        h = self._history
        text = h.text
        for splice in reversed(h.splices[max(0, h.done - back) : h.done]):
            text = splice.undo(text)
        return text

    def labels(self, most: int = 200) -> list[str]:
        """What was done, newest first."""
        return [s.label for s in reversed(self._history.splices[: self._history.done])][:most]

    # What changes it -------------------------------------------------------------------------------

    def preview(self, changes: Mapping[Where, object], *, since: int | None = None) -> Design:
        """The design as it would be with some values changed; nothing is kept.

        Raises
        ------
        DesignError
            If it would not be a design, or means a list that has changed since.
        """
        self._same_shape(changes, since)
        return varied(self.text, changes, name=self.name)

    def edit(self, changes: Mapping[Where, object], label: str = "", *, since: int | None = None) -> None:
        """Change some values and save.

        Parameters
        ----------
        changes : mapping
            Path of each key to its new value; None removes it.
        label : str
            What this does, in words, for undo.
        since : int, optional
            Revision the person was looking at. If a list has become longer or shorter since, "wing 2" may
            be another wing, and the edit is refused.

        Raises
        ------
        DesignError
            If the result is not a design: then nothing changes. Or as above.
        """
        self.look()
        self._same_shape(changes, since)
        text = edited(self.text, changes)
        if text == self.text:
            return
        if self.design is not None:
            loads(text, name=self.name)  # an edit may not break a design; one that is broken may be mended
        self._commit({"is": "edit"}, Splice.between(self.text, text, label or _told(changes)))

    def replace(self, text: str, label: str) -> None:
        """Put another text in its place, as one edit; it must be a design.

        Raises
        ------
        DesignError
            If it is not.
        """
        self.look()
        loads(text, name=self.name)
        if text != self.text:
            self._commit({"is": "edit"}, Splice.between(self.text, text, label))

    def undo(self) -> str:
        """Take back the last edit; says which, or nothing."""
        self.look()
        label = self.undo_label
        if label:
            self._commit({"is": "undo"})
        return label

    def redo(self) -> str:
        """Do again what was taken back last; says which, or nothing."""
        self.look()
        label = self.redo_label
        if label:
            self._commit({"is": "redo"})
        return label

    def look(self) -> bool:
        """Take in what another program did to the file; says whether there is something new to show."""
        stamp = _Stamp.of(self.path)
        if stamp == self._stamp:
            if not self.unsaved:
                return False
            self._save()
            return not self.unsaved
        before, gone = self.notice, self._stamp is None
        self._stamp = stamp
        if stamp is None:
            # Deleted or moved away: the text is safe here, and the next save writes the file again.
            self.notice = f"{self.name} has gone from the folder; the next edit writes it again."
            return self.notice != before
        try:
            text = _read(self.path)
        except DesignError as error:
            self.notice = str(error)
            return self.notice != before
        if text == self.text:
            if gone:
                self.notice = f"{self.name} is back."
            self.unsaved = False
            return self.notice != before
        self._enter(Splice.between(self.text, text, "edited outside the bench"))
        self._journal.append({"is": "saved"}, sync=False)
        self.notice = "The file was edited outside the bench."
        self._settle()
        return True

    def _enter(self, splice: Splice) -> None:
        entry = {
            "is": "edit",
            "at": splice.start,
            "old": splice.old,
            "new": splice.new,
            "label": splice.label,
        }
        self._journal.append(entry)
        self._history.apply(entry)

    def _commit(self, entry: dict[str, Any], splice: Splice | None = None) -> None:
        """Journal first, on disk; then the file, whole or not at all.

        Raises
        ------
        DesignError
            If somebody has made the file read-only, or the disk takes no more: then nothing changes.
        """
        if self._stamp is not None and self._stamp.mode & 0o222 == 0:
            raise DesignError(f"{self.name} is read-only; make it writable, then change it here")
        if splice is not None:
            self._enter(splice)
        else:
            self._journal.append(entry)
            self._history.apply(entry)
        self.notice = ""
        self._save()
        self._settle()

    def _save(self) -> None:
        """Write the file; where it cannot be, say so, and try again whenever somebody looks."""
        try:
            write_text(self.path, self.text)
            self._journal.append({"is": "saved"}, sync=False)
        except DesignError as error:
            self.notice = f"{error}. The edit is kept in the journal and saved when the file can be written."
            self.unsaved = True
        else:
            if self.unsaved:
                self.notice = f"{self.name} could be written again; everything is saved."
            self.unsaved = False
        self._stamp = _Stamp.of(self.path)

    def _settle(self) -> None:
        """Read the design out of the text, keep what could be read last, tell whoever watches."""
        self.revision += 1
        try:
            self.design = loads(self.text, name=self.name)
            self.fault = ""
        except DesignError as error:
            self.fault = str(error)
        self._shapes[self.revision] = _shape(self.text)
        self._shapes.pop(self.revision - _SHAPES_KEPT, None)
        for watcher in tuple(self._watchers):
            watcher()

    def _same_shape(self, changes: Mapping[Where, object], since: int | None) -> None:
        if since is None or since == self.revision:
            return
        if not any(isinstance(part, int) for where in changes for part in where):
            return
        if self._shapes.get(since) != self._shapes[self.revision]:
            raise DesignError(
                "wings, fins or other lists were added or taken away meanwhile, in another tab or an editor; "
                "the page now shows them. Make the change again."
            )

    # Who watches it --------------------------------------------------------------------------------

    def watch(self, watcher: Callable[[], None]) -> None:
        """Call when the text has changed."""
        self._watchers.append(watcher)

    def unwatch(self, watcher: Callable[[], None]) -> None:
        """Stop calling."""
        if watcher in self._watchers:
            self._watchers.remove(watcher)

    def close(self) -> None:
        """Let go of the journal."""
        self._journal.close()


def _read(path: Path) -> str:
    """The text of a design file, even where it is not a design; refused where it is no such text."""
    try:
        raw = path.read_bytes()
        if len(raw) <= 1_000_000:
            return raw.decode("utf-8-sig")
    except (OSError, UnicodeDecodeError):
        pass
    load(path)  # says in words what is wrong with it
    raise DesignError(f"{path} cannot be read")


def _shape(text: str) -> object:
    """Which tables and lists a text has, how long each is, and the names within."""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        return None

    def outline(value: object) -> object:
        if isinstance(value, dict):
            return tuple((k, outline(v)) for k, v in sorted(value.items()) if isinstance(v, dict | list))
        if isinstance(value, list):
            return tuple(outline(v) for v in value) if any(isinstance(v, dict) for v in value) else None
        return None

    return outline(data)


def _told(changes: Mapping[Where, object]) -> str:
    """What some changes do, in a few words."""
    first, *rest = changes
    more = f" and {len(rest)} more" if rest else ""
    return f"{say(first).replace('_', ' ')}{more}"
