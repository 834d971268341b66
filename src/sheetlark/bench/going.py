"""Long work as the pages see it.

Work on a design is told to every page, and found again by one that was loaded anew. Work on a picture is the affair of the
page that asked for it, and ends with it.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, Protocol

from sheetlark.bench.document import Document
from sheetlark.bench.errands import Errand

Plain = dict[str, Any]
ALONE_S = 20.0  # long enough to load the page again
_MOST_UNHEARD = 8


def job_on(document: Document, kind: str, asked: Plain) -> Plain:
    """What an errand needs to know to work on a design as it now is, with what the page chose for it."""
    return {
        "kind": kind,
        "text": document.text,
        "name": document.name,
        "folder": str(document.path.with_name(f"{document.path.stem}-plans")),
        "file": str(document.path),
        **{k: asked[k] for k in ("papers", "bar", "aim", "seed", "imperial") if k in asked},
    }


class _Line(Protocol):
    async def tell(self, message: Plain) -> None: ...


@dataclass(slots=True)
class Going:
    """One piece of long work, and how far it is.

    name, revision : the design it is about; a picture's work is about none
    only : the page whose affair it is; None where it is everybody's
    """

    errand: Errand
    ticket: str
    kind: str
    name: str = ""
    revision: int = 0
    only: _Line | None = None
    share: float = 0.0
    words: str = "starting …"

    def told(self, what: str, **more: object) -> Plain:
        """A message about it."""
        return {
            "is": what,
            "ticket": self.ticket,
            "kind": self.kind,
            "name": self.name,
            "revision": self.revision,
            **more,
        }

    def progress(self) -> Plain:
        """How far it is."""
        return self.told("progress", share=self.share, words=self.words)


class Works:
    """All that runs, and what ended while no page was there to hear it."""

    def __init__(self, lines: Collection[_Line], alone_s: float = ALONE_S) -> None:
        self._lines = lines
        self._alone_s = alone_s
        self._going: dict[str, Going] = {}
        self._unheard: list[Plain] = []
        self._soon: asyncio.TimerHandle | None = None

    async def carry(self, one: Going) -> Plain:
        """Run it to its end, telling the pages how far it is, and hand back its result.

        Raises
        ------
        DesignError
            If it was stopped, took too long, or says why it cannot be done.
        """
        self._going[one.ticket] = one

        async def tell(share: float, words: str, so_far: Plain | None = None) -> None:
            one.share, one.words = share, words
            more = {} if so_far is None else {"so_far": so_far}
            await self._say(one.progress() | more, one.only)

        try:
            return await one.errand.run(tell)
        finally:
            del self._going[one.ticket]

    async def end(self, one: Going, what: str, **more: object) -> None:
        """Tell the pages how something ended, or the next page if there is none."""
        message = one.told(what, **more)
        if not self._lines and one.only is None:
            self._unheard = [*self._unheard[1 - _MOST_UNHEARD :], message]
        await self._say(message, one.only)

    async def _say(self, message: Plain, only: _Line | None) -> None:
        for line in tuple(self._lines) if only is None else (only,):
            with contextlib.suppress(RuntimeError):  # it is going; its own end takes it off the lines
                await line.tell(message)

    async def came(self, line: _Line) -> None:
        """Tell a new page what runs, and what ended unheard."""
        if self._soon is not None:
            self._soon.cancel()
        found = [one.progress() for one in self._going.values() if one.only is None]
        await line.tell({"is": "going", "works": found})
        unheard, self._unheard = self._unheard, []
        for message in unheard:
            await line.tell(message)

    def left(self, line: _Line) -> None:
        """A page has gone, and nobody waits for its own work; nor, if none comes back, for what else runs."""
        for one in self._going.values():
            if one.only is line:
                one.errand.leave()
        if not self._lines and self._going:
            self._soon = asyncio.get_running_loop().call_later(self._alone_s, self._stop)

    def _stop(self) -> None:
        for one in self._going.values():
            one.errand.leave()
