"""The line each open page keeps to the bench: what it may ask, and how it is answered."""

from __future__ import annotations

import asyncio
import base64
import contextlib
import json
import logging
from collections.abc import Awaitable, Callable
from functools import partial
from pathlib import Path
from typing import Any, ClassVar

from starlette.websockets import WebSocket, WebSocketDisconnect

from sheetlark.bench.additions import addition
from sheetlark.bench.desk import Desk
from sheetlark.bench.errands import Errand
from sheetlark.bench.figures import remedy_of
from sheetlark.bench.form import controls_plain, shelves, typed
from sheetlark.bench.going import Going, job_on
from sheetlark.bench.holdings import Bench
from sheetlark.bench.rooms import ROOMS, room_data
from sheetlark.design import STARTERS, Where
from sheetlark.errors import DesignError, SheetlarkError

log = logging.getLogger(__name__)
Plain = dict[str, Any]
_MOST_CHANGES = 400


class Line:
    """One open page."""

    def __init__(self, bench: Bench, websocket: WebSocket) -> None:
        self.bench = bench
        self.websocket = websocket
        self.known: dict[str, set[str]] = {}
        self.picture = ""
        self._sending = asyncio.Lock()

    async def tell(self, message: Plain) -> None:
        """Send a message."""
        text = json.dumps(message, separators=(",", ":"), default=str)
        async with self._sending:
            with contextlib.suppress(WebSocketDisconnect):  # the page has gone; its line ends by itself
                await self.websocket.send_text(text)

    async def talk(self) -> None:
        """Answer until the page goes away."""
        bench = self.bench
        bench.lines.add(self)
        await self.tell(
            {
                "is": "welcome",
                "designs": bench.folder.designs(),
                "starters": list(STARTERS),
                "pictures": bench.folder.pictures(),
                "first": bench.first,
                "controls": controls_plain(),
                "shelves": shelves(bench.stock),
                "rooms": ROOMS,
                "folder": str(bench.folder.path),
            }
        )
        try:
            await bench.works.came(self)
            while True:
                text = await self.websocket.receive_text()
                if _may_wait(text):
                    # It may have to wait for an evaluation; edits and undo go past it.
                    bench.start(self._answer(text))
                else:
                    await self._answer(text)
        except (WebSocketDisconnect, RuntimeError, KeyError):
            pass
        finally:
            bench.lines.discard(self)
            bench.works.left(self)
            for desk in bench.desks.values():
                desk.leave(self)

    async def _answer(self, text: str) -> None:
        asked = None
        try:
            message = json.loads(text)
            if not isinstance(message, dict):
                raise DesignError("a message to the bench is a JSON object")
            asked = message.get("id")
            work = self._WORK.get(str(message.get("do")))
            if work is None:
                raise DesignError(f"the bench does not know how to {message.get('do')!r}")
            await work(self, message)
            await self.tell({"is": "done", "of": asked, "do": message.get("do")})
        except SheetlarkError as error:
            await self._excuse(asked, text, str(error))
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
            log.debug("a message that cannot be understood", exc_info=True)
            await self._excuse(
                asked, "", f"The bench could not understand the page ({error}). Load it again."
            )

    async def _excuse(self, asked: Any, text: str, words: str) -> None:
        message: Plain = {"is": "error", "of": asked, "says": words, "where": []}
        with contextlib.suppress(ValueError, TypeError, AttributeError, KeyError):
            request = json.loads(text)
            message["do"] = request.get("do")
            message["ticket"] = request.get("ticket")
            changes = request.get("changes") or []
            message["where"] = changes[0][0] if changes else []
        await self.tell(message)

    # What a page may ask ---------------------------------------------------------------------------

    def _desk(self, message: Plain) -> Desk:
        return self.bench.desk(str(message["name"]))

    async def _open(self, message: Plain) -> None:
        for desk in self.bench.desks.values():
            desk.leave(self)
        await self._desk(message).join(self)
        await self.bench.standing()

    async def _shut(self, message: Plain) -> None:
        """Let go of a design that the page is done with."""
        name = str(message["name"])
        if name in self.bench.desks:
            self.bench.desks[name].leave(self)
            self.bench.shut(name)
            await self.bench.standing()

    async def _list(self, _message: Plain) -> None:
        await self.tell({"is": "designs", "designs": self.bench.folder.designs()})

    async def _begin(self, message: Plain) -> None:
        file = self.bench.folder.begin(str(message["new"]), str(message["like"]))
        await self._list(message)
        await self._open({"name": file.name})

    async def _edit(self, message: Plain) -> None:
        changes = _changes(message)
        await self._desk(message).edit(changes, str(message.get("label") or "")[:160], _since(message))

    async def _add(self, message: Plain) -> None:
        desk = self._desk(message)
        design = desk.document.design
        if design is None:
            raise DesignError("mend the design first; then things can be added")
        where: Where = tuple(message["where"])
        changes = addition(design, where, self.bench.stock)
        noun = str(where[-1]).replace("_", " ")
        await desk.edit(changes, f"add a {noun}", _since(message))

    async def _preview(self, message: Plain) -> None:
        ticket = int(message.get("ticket") or 0)
        await self._desk(message).preview(self, _changes(message), _since(message), ticket)

    async def _undo(self, message: Plain) -> None:
        await self._desk(message).undo()

    async def _redo(self, message: Plain) -> None:
        await self._desk(message).redo()

    async def _remedy(self, message: Plain) -> None:
        desk = self._desk(message)
        result = await desk.settled()
        remedy = remedy_of(
            desk.findings_of(result),
            str(message["finding"]),
            int(message["index"]),
            imperial=bool(message.get("imperial")),
        )
        if remedy is None:
            raise DesignError(
                "this remedy is no longer there; the design has changed. Look at the findings again."
            )
        changes, label = remedy
        await desk.edit(changes, label, result.revision)

    async def _room(self, message: Plain) -> None:
        desk = self._desk(message)
        result = await desk.settled()
        room = str(message["room"])
        imperial = bool(message.get("imperial"))
        data = await asyncio.to_thread(
            partial(room_data, room, result.evaluation, result.doc, desk.document.path, imperial=imperial)
        )
        await self.tell(
            {
                "is": "room",
                "room": room,
                "name": desk.document.name,
                "revision": result.revision,
                "data": data,
            }
        )

    async def _compare(self, message: Plain) -> None:
        from sheetlark.bench.rooms import compared

        desk = self._desk(message)
        result = await desk.settled()
        other = message.get("with")
        if isinstance(other, int):
            text, title = desk.document.earlier(other), f"{other} edits ago"
        else:
            file = self.bench.folder.file(str(other))
            text, title = file.read_text("utf-8-sig"), file.name
        data = await asyncio.to_thread(compared, result.evaluation, result.doc, text, title, self.bench.stock)
        await self.tell({"is": "compared", "name": desk.document.name, "data": data})

    async def _errand(self, message: Plain) -> None:
        bench, kind, ticket = self.bench, str(message["kind"]), str(message["ticket"])[:40]
        if len(bench.errands) >= 4:
            raise DesignError("four long jobs are running already; stop one, or wait for one to end")
        finish = self._offered
        if kind in {"look", "trace"}:
            wanted = str(message.get("picture"))
            if kind == "look":
                errand = Errand(self._to_look_at(message))
                finish = partial(self._looked_at, wanted)
            else:
                picture = bench.picture(wanted)
                job = {"kind": kind, "file": str(picture.path), "marks": picture.marks.plain()}
                errand = bench.tracer.errand(job)
            work = Going(errand, ticket, kind, only=self)
        else:
            document = self._desk(message).document
            errand = Errand(job_on(document, kind, message))
            work = Going(errand, ticket, kind, document.name, document.revision)
        bench.errands[ticket] = errand
        bench.start(self._carry(work, finish))

    def _to_look_at(self, message: Plain) -> Plain:
        bench, wanted = self.bench, str(message.get("picture"))
        job: Plain = {"kind": "look", "page": message.get("page"), "folder": str(bench.folder.path)}
        if wanted in bench.uploads:
            name, raw = bench.uploads[wanted]
            return {**job, "raw": base64.b64encode(raw).decode(), "name": f"picture{Path(name).suffix}"}
        return {**job, "file": str(bench.picture(wanted).path)}

    async def _looked_at(self, wanted: str, result: Plain) -> None:
        """Keep a picture that could be read, and show it with its marks."""
        bench = self.bench
        if wanted in bench.uploads:
            name, raw = bench.uploads.pop(wanted)
            wanted = (await asyncio.to_thread(bench.folder.take_in_picture, name, raw)).name
        picture = bench.picture(wanted)
        while len(bench.seen) >= 4:
            bench.seen.pop(next(iter(bench.seen)))
        bench.seen[picture.path.name] = base64.b64decode(result.pop("png"))
        result |= {"name": picture.path.name, "pictures": bench.folder.pictures()}
        self.picture = picture.path.name
        await self.tell(picture.told())

    async def _carry(self, work: Going, finish: Callable[[Plain], Awaitable[None]]) -> None:
        """Run long work to its end, do what its result asks for, and tell whose affair it is."""
        works = self.bench.works
        try:
            result = await works.carry(work)
            await finish(result)
            await works.end(work, "result", result=result)
        except SheetlarkError as error:
            await works.end(work, "failed", says=str(error))
        finally:
            self.bench.errands.pop(work.ticket, None)

    async def _offered(self, result: Plain) -> None:
        """Files that were written can be taken down from the page."""
        if "files" not in result:
            return
        folder = Path(result["folder"])
        result["links"] = []
        for name in result["files"]:
            key = f"{folder.name}/{name}"
            self.bench.made[key] = folder / name
            result["links"].append({"name": name, "href": f"/made/{key}"})

    async def _cancel(self, message: Plain) -> None:
        errand = self.bench.errands.get(str(message["ticket"]))
        if errand is not None:
            if message.get("left"):
                errand.leave()
            else:
                errand.stop()

    async def _mark(self, message: Plain) -> None:
        """Set something right in a picture, take that back, or do it again."""
        picture = self.bench.picture(str(message["picture"]))
        step = str(message.get("step") or "mark")
        if step == "mark":
            work = partial(
                picture.mark, message["marks"], str(message.get("label") or ""), int(message["since"])
            )
        else:
            work = partial(picture.undo if step == "undo" else picture.redo)
        await asyncio.to_thread(work)
        self.picture = picture.path.name
        for line in tuple(self.bench.lines):
            if line.picture == picture.path.name:
                await line.tell(picture.told())

    async def _log(self, message: Plain) -> None:
        """Write into the logbook, and show it."""
        from sheetlark.bench.logged import write_flight, write_weighing

        desk = self._desk(message)
        result = await desk.settled()
        write = write_flight if message.get("kind") == "flight" else write_weighing
        given = dict(message["entry"])
        await asyncio.to_thread(write, result.evaluation, desk.document.path, given)
        await self._room({"name": message["name"], "room": "log", "imperial": message.get("imperial")})

    async def _keep(self, message: Plain) -> None:
        """Keep a traced design as a new file of the folder."""
        file = self.bench.folder.take_in(str(message["new"]) + ".toml", str(message["text"]).encode())
        await self._list(message)
        await self._open({"name": file.name})

    _WORK: ClassVar[dict[str, Callable[[Line, Plain], Awaitable[None]]]] = {
        "open": _open,
        "shut": _shut,
        "list": _list,
        "begin": _begin,
        "edit": _edit,
        "add": _add,
        "preview": _preview,
        "undo": _undo,
        "redo": _redo,
        "remedy": _remedy,
        "room": _room,
        "compare": _compare,
        "errand": _errand,
        "cancel": _cancel,
        "keep": _keep,
        "mark": _mark,
        "log": _log,
    }


def _may_wait(text: str) -> bool:
    """Whether a message asks for something that waits for figures."""
    try:
        message = json.loads(text)
    except (ValueError, RecursionError):
        return False
    return isinstance(message, dict) and message.get("do") in {"room", "compare", "remedy", "log", "errand"}


def _since(message: Plain) -> int | None:
    since = message.get("since")
    return since if isinstance(since, int) else None


def _changes(message: Plain) -> dict[Where, object]:
    """The changes a page asks for, its typed values turned into what belongs in the file."""
    given = message["changes"]
    if not isinstance(given, list) or not 0 < len(given) <= _MOST_CHANGES:
        raise DesignError(f"between 1 and {_MOST_CHANGES} values can be changed at once")
    imperial = bool(message.get("imperial"))
    changes: dict[Where, object] = {}
    for where, value in given:
        if (
            not isinstance(where, list)
            or not 0 < len(where) <= 8
            or not all(isinstance(p, str | int) for p in where)
        ):
            raise DesignError("a change names its place as a short list of keys and numbers")
        _spread_out(tuple(where), value, changes, imperial=imperial)
    return changes


def _spread_out(where: Where, value: object, changes: dict[Where, object], *, imperial: bool) -> None:
    if isinstance(value, dict) and value:
        for key, inner in value.items():
            _spread_out((*where, key), inner, changes, imperial=imperial)
        return
    if value is None or isinstance(where[-1], int) or isinstance(value, dict):
        changes[where] = value
        return
    changes[where] = typed(where, value, imperial=imperial)
