"""What a running bench holds: its folder, its open designs and pictures, its errands."""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import Coroutine
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sheetlark.bench.adviser import Adviser
from sheetlark.bench.desk import Desk
from sheetlark.bench.errands import Errand
from sheetlark.bench.folder import Folder
from sheetlark.bench.going import Works
from sheetlark.bench.pictures import MarkedPicture
from sheetlark.bench.scene import Meshes
from sheetlark.bench.tracer import Tracer
from sheetlark.errors import DesignError
from sheetlark.stock import Stock, load_stock

if TYPE_CHECKING:
    from sheetlark.bench.line import Line


class Bench:
    """Everything one running bench holds: its folder, its open designs, its errands."""

    def __init__(self, folder: Folder, first: str | None) -> None:
        self.folder = folder
        self.first = first
        self.stock: Stock = load_stock()
        self.meshes = Meshes()
        self.adviser = Adviser()
        self.tracer = Tracer()
        self.desks: dict[str, Desk] = {}
        self.errands: dict[str, Errand] = {}
        self.made: dict[str, Path] = {}
        self.uploads: dict[str, tuple[str, bytes]] = {}
        self.pictures: dict[str, MarkedPicture] = {}
        self.seen: dict[str, bytes] = {}
        self.lines: set[Line] = set()
        self.works = Works(self.lines)
        self._gate = asyncio.Semaphore(1)
        self._tasks: set[asyncio.Task[None]] = set()

    def desk(self, name: str) -> Desk:
        """The desk of a design, opened where it is not yet.

        Raises
        ------
        DesignError
            If there is no such design in the folder, or another bench has it.
        """
        file = self.folder.file(name)
        if file.name not in self.desks:
            if not file.is_file():
                raise DesignError(f"there is no {name!r} in {self.folder.path}")
            self.desks[file.name] = Desk(
                file, self.stock, self.meshes, self._gate, self.adviser, self.standing
            )
        return self.desks[file.name]

    def shut(self, name: str) -> None:
        """Let go of a design that no page looks at any more; its undo stays in its journal."""
        desk = self.desks.get(name)
        if desk is not None and not desk.callers:
            del self.desks[name]
            desk.close()

    async def standing(self) -> None:
        """Tell every page how the open designs stand."""
        message = {"is": "desks", "desks": [desk.standing() for desk in self.desks.values()]}
        for line in tuple(self.lines):
            await line.tell(message)

    def sent(self, name: str, raw: bytes) -> str:
        """Hold an uploaded picture until it has been looked at; the newest four are held."""
        while len(self.uploads) >= 4:
            self.uploads.pop(next(iter(self.uploads)))
        key = f"sent:{secrets.token_hex(6)}"
        self.uploads[key] = (name, raw)
        return key

    def picture(self, name: str) -> MarkedPicture:
        """A picture of the folder with its marks, taken up where it is not yet.

        Raises
        ------
        DesignError
            If there is no such picture, or another bench has it.
        """
        file = self.folder.file(name)
        if file.name not in self.pictures:
            if file.name not in self.folder.pictures():
                raise DesignError(
                    f"there is no picture {name[:60]!r} in {self.folder.path}; choose one first"
                )
            self.pictures[file.name] = MarkedPicture(file)
        return self.pictures[file.name]

    def start(self, work: Coroutine[Any, Any, None]) -> None:
        """Let something run beside the page's line."""
        task = asyncio.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def close(self) -> None:
        """Stop everything."""
        for errand in self.errands.values():
            errand.stop()
        await self.tracer.close()
        await self.adviser.close()
        for desk in self.desks.values():
            desk.close()
        for picture in self.pictures.values():
            picture.close()
