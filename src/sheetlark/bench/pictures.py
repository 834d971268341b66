"""Pictures of the project folder with what was drawn over them: kept, undone and found again as a design is.

The marks live in a journal beside the picture (`.three-view.png.journal`), each on the disk before it is shown, so a
killed process loses none.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from sheetlark.bench.journal import History, Journal, Splice
from sheetlark.bench.marks import Marks, read_marks
from sheetlark.errors import DesignError, SheetlarkError

Plain = dict[str, Any]


class MarkedPicture:
    """One picture and its marks."""

    def __init__(self, path: Path) -> None:
        """Take a picture's journal up.

        Raises
        ------
        DesignError
            If another bench has it open.
        """
        self.path = path
        self.notice = ""
        self.revision = 1
        self._journal = Journal(path.with_name(f".{path.name}.journal"))
        history = self._journal.open()
        if history is not None:
            try:
                self.marks = read_marks(json.loads(history.text))
            except (SheetlarkError, ValueError, KeyError, TypeError):
                self.notice = "What had been drawn over this picture could not be read; it begins anew."
                history = None
        if history is None:
            self.marks = Marks(title=path.stem[:60])
            history = History(self.marks.text(), [])
            self._journal.append({"is": "base", "text": history.text})
        self._history = history

    def told(self) -> Plain:
        """The marks as the page needs them."""
        h = self._history
        return {
            "is": "marks",
            "picture": self.path.name,
            "revision": self.revision,
            "marks": self.marks.plain(),
            "undo": h.splices[h.done - 1].label if h.done else "",
            "redo": h.splices[h.done].label if h.done < len(h.splices) else "",
            "notice": self.notice,
        }

    def mark(self, given: object, label: str, since: int) -> None:
        """Put other marks in their place, as one step.

        Raises
        ------
        DesignError
            If they are no marks, or somebody else marked the picture meanwhile.
        """
        if since != self.revision:
            raise DesignError(
                "the picture was marked meanwhile in another tab; this shows it now. Do it again."
            )
        marks = read_marks(given)
        splice = Splice.between(self._history.text, marks.text(), label[:160] or "a correction")
        if splice.old == splice.new:
            return
        self._walk(
            {"is": "edit", "at": splice.start, "old": splice.old, "new": splice.new, "label": splice.label}
        )

    def undo(self) -> None:
        """Take the last mark back."""
        if self._history.done:
            self._walk({"is": "undo"})

    def redo(self) -> None:
        """Do it again."""
        if self._history.done < len(self._history.splices):
            self._walk({"is": "redo"})

    def _walk(self, entry: Plain) -> None:
        self._journal.append(entry)
        self._history.apply(entry)
        self.marks = read_marks(json.loads(self._history.text))
        self.notice = ""
        self.revision += 1

    def close(self) -> None:
        """Let go of the journal."""
        self._journal.close()
