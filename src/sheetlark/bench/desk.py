"""One open design with everybody who looks at it: edits in, evaluations out, newest first.

Words: a *caller* is one page's line to the bench; a *preview* is what a design would be while a finger still
drags; the *desk* keeps one evaluation running at a time and forgets what has been overtaken.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Protocol

from sheetlark.airframe import airframe
from sheetlark.bench.adviser import Adviser
from sheetlark.bench.document import Document
from sheetlark.bench.faults import placed_faults
from sheetlark.bench.figures import Doc, evaluated, evaluated_quickly, figures, left_to_find
from sheetlark.bench.scene import Meshes, kit_model, plate_model, scene
from sheetlark.design import Design, Where
from sheetlark.errors import DesignError, GeometryError, SheetlarkError
from sheetlark.evaluation import Evaluation
from sheetlark.stock import Stock

log = logging.getLogger(__name__)
Plain = dict[str, Any]
_REST_S = 0.3


class Caller(Protocol):
    """A page's line."""

    known: dict[str, set[str]]

    async def tell(self, message: Plain) -> None:
        """Send a message."""


@dataclass(slots=True)
class _Job:
    design: Design
    revision: int
    caller: Caller | None = None
    ticket: int = 0
    asked: float = field(default_factory=time.perf_counter)


@dataclass(frozen=True, slots=True)
class Result:
    """An evaluation of one revision, and what the page shows of it."""

    revision: int
    evaluation: Evaluation
    doc: Doc
    shown: list[Plain]


class Desk:
    """One document, its callers, and its newest evaluation."""

    def __init__(
        self,
        path: Path,
        stock: Stock,
        meshes: Meshes,
        gate: asyncio.Semaphore,
        adviser: Adviser,
        stands: Callable[[], Awaitable[None]] | None = None,
    ) -> None:
        self.document = Document(path)
        self._stands = stands  # to be told when it stands otherwise than before
        self._stood: Plain = {}
        self.adviser = adviser
        self.advice: tuple[int, list[Plain]] = (0, [])
        self._advising: set[asyncio.Task[None]] = set()
        self.stock = stock
        self.meshes = meshes
        self.callers: list[Caller] = []
        self.result: Result | None = None
        self.before: list[Plain] = []
        self.trouble = ""
        self._gate = gate
        self._settled: _Job | None = None
        self._begun: Evaluation | None = None  # of the newest drag; letting go there asks for the same again
        self._previews: dict[int, _Job] = {}
        self._wake = asyncio.Event()
        self._work = asyncio.create_task(self._run())
        self._listening = asyncio.create_task(self._listen())
        self._ask_settled()

    # Callers ---------------------------------------------------------------------------------------

    async def join(self, caller: Caller) -> None:
        """Let a page look at this design from now on."""
        if caller not in self.callers:
            self.callers.append(caller)
        self.document.look()
        await caller.tell(self.told())
        if self.result is not None and self.result.revision == self.document.revision:
            await caller.tell(self._figures_told(self.result, caller))
        elif self.trouble:
            await caller.tell(self._trouble_told())

    def standing(self) -> Plain:
        """How this design stands, for a page that shows another one."""
        d = self.document
        return {"name": d.name, "fault": bool(d.fault or self.trouble), "unsaved": d.unsaved}

    def leave(self, caller: Caller) -> None:
        """The page is gone."""
        if caller in self.callers:
            self.callers.remove(caller)
        self._previews.pop(id(caller), None)

    def told(self) -> Plain:
        """The document as the page needs it."""
        d = self.document
        message: Plain = {
            "is": "document",
            "name": d.name,
            "revision": d.revision,
            "undo": d.undo_label,
            "redo": d.redo_label,
            "steps": d.steps,
            "notice": d.notice,
            "labels": d.labels(60),
            "faults": placed_faults(d.text, d.fault) if d.fault else [],
            "values": None if d.design is None else _values(d.design),
            "scene": None,
        }
        if d.design is not None:
            try:
                message["scene"] = scene(d.design, airframe(d.design, self.stock), self.stock)
            except SheetlarkError as error:
                if not message["faults"]:
                    message["faults"] = self._placed(d.design, error)
        return message

    def _placed(self, design: Design, error: SheetlarkError) -> list[Plain]:
        if isinstance(error, GeometryError) and error.where:
            line = design.source.line(error.where)
            return [{"where": list(error.where), "line": line, "says": str(error)}]
        return placed_faults(self.document.text, str(error))

    # Changes ---------------------------------------------------------------------------------------

    async def edit(self, changes: Mapping[Where, object], label: str, since: int | None) -> None:
        """Change and save, and show everybody.

        Raises
        ------
        DesignError
            If the result would not be a design.
        """
        await asyncio.to_thread(lambda: self.document.edit(changes, label, since=since))
        await self.changed()

    async def undo(self) -> None:
        """Take the last edit back."""
        await asyncio.to_thread(self.document.undo)
        await self.changed()

    async def redo(self) -> None:
        """Do it again."""
        await asyncio.to_thread(self.document.redo)
        await self.changed()

    async def replace(self, text: str, label: str) -> None:
        """Put another text in its place; raises as `Document.replace`."""
        await asyncio.to_thread(lambda: self.document.replace(text, label))
        await self.changed()

    async def changed(self) -> None:
        """Show everybody the document as it now is, and evaluate it."""
        self._ask_settled()
        await self._broadcast(self.told())

    async def preview(
        self, caller: Caller, changes: Mapping[Where, object], since: int | None, ticket: int
    ) -> None:
        """Show one page what would be; nothing is kept. The scene at once, figures when they are ready.

        Raises
        ------
        SheetlarkError
            If it would not be a design.
        """
        design = self.document.preview(changes, since=since)
        placed = airframe(design, self.stock)
        plates = plate_model(placed, self.meshes)
        await caller.tell(
            {
                "is": "preview",
                "name": self.document.name,
                "ticket": ticket,
                "values": _values(design),
                "scene": scene(design, placed, self.stock),
                "plates": plates,
                "meshes": self._new_meshes(plates, caller, "plates"),
            }
        )
        self._previews[id(caller)] = _Job(design, self.document.revision, caller, ticket)
        self._wake.set()

    def _ask_settled(self) -> None:
        if self.document.design is not None and not self.document.fault:
            self._settled = _Job(self.document.design, self.document.revision)
            self._wake.set()

    # Evaluation ------------------------------------------------------------------------------------

    async def settled(self) -> Result:
        """The evaluation of the document as it now is, waited for.

        Raises
        ------
        DesignError
            If the design cannot be evaluated.
        """
        for _ in range(1200):
            if self.document.fault:
                raise DesignError(self.document.fault)
            if self.result is not None and self.result.revision == self.document.revision:
                return self.result
            if self.trouble and self._settled is None:
                raise DesignError(self.trouble)
            await asyncio.sleep(0.05)
        raise DesignError("the evaluation has not come back within a minute; try again")

    async def _run(self) -> None:
        while True:
            await self._wake.wait()
            job = self._next()
            if job is None:
                self._wake.clear()
                continue
            try:
                async with self._gate:
                    if job.caller is None:
                        evaluation, doc = await asyncio.to_thread(evaluated, job.design, self._begun)
                    else:
                        evaluation, doc = await asyncio.to_thread(evaluated_quickly, job.design)
                        self._begun = evaluation
                    await asyncio.to_thread(kit_model, evaluation.kit, self.meshes)
                await self._deliver(job, Result(job.revision, evaluation, doc, _shown(doc)))
                if job.caller is not None and await self._rests() and await self._found(evaluation):
                    async with self._gate:
                        _, doc = await asyncio.to_thread(evaluated, job.design, evaluation)
                    await self._deliver(job, Result(job.revision, evaluation, doc, _shown(doc)))
            except SheetlarkError as error:
                await self._refused(job, error)
            except Exception as error:  # the page must outlive any fault of a room
                log.exception("an evaluation failed")
                await self._refused(
                    job,
                    DesignError(
                        f"This could not be computed ({type(error).__name__}: {error}). Undo brings back the last "
                        "design that could; nothing is lost."
                    ),
                )

    @property
    def _overtaken(self) -> bool:
        """Whether something newer waits to be worked out."""
        return bool(self._previews) or self._settled is not None

    async def _found(self, evaluation: Evaluation) -> bool:
        """Work out what findings need, piece by piece; False where a finger moved on meanwhile, who need not wait."""
        for piece in left_to_find(evaluation):
            if self._overtaken:
                return False
            async with self._gate:
                await asyncio.to_thread(piece)
        return not self._overtaken

    async def _rests(self) -> bool:
        """Whether a finger stays where it is: then there is time for the findings of what it holds."""
        if self._overtaken:
            return False
        self._wake.clear()
        try:
            await asyncio.wait_for(self._wake.wait(), _REST_S)
        except TimeoutError:
            return True
        return False

    def _next(self) -> _Job | None:
        if self._settled is not None:
            job, self._settled = self._settled, None
            return job
        if self._previews:
            return self._previews.pop(next(iter(self._previews)))
        return None

    async def _deliver(self, job: _Job, result: Result) -> None:
        if job.caller is not None:
            await _quietly(job.caller, self._figures_told(result, job.caller, job))
            return
        if self.result is not None and self.result.revision != result.revision:
            self.before = self.result.shown
        self.result, self.trouble = result, ""
        for caller in tuple(self.callers):
            await _quietly(caller, self._figures_told(result, caller, job))
        await self._stand()
        if result.revision == self.document.revision and result.doc.get("findings"):
            task = asyncio.create_task(self._advise(result.revision, self.document.text))
            self._advising.add(task)
            task.add_done_callback(self._advising.discard)

    async def _advise(self, revision: int, text: str) -> None:
        """Look for remedies elsewhere, and show them if the design is still the same."""
        found = await self.adviser.remedies(self.document.name, text)
        if found is None or revision != self.document.revision:
            return
        self.advice = (revision, found)
        await self._broadcast(
            {"is": "advice", "name": self.document.name, "revision": revision, "findings": found}
        )

    def findings_of(self, result: Result) -> list[Plain]:
        """The findings of a result, with their remedies once these are known."""
        if self.advice[0] == result.revision and result is self.result:
            return self.advice[1]
        found: list[Plain] = result.doc.get("findings", [])
        return found

    async def _refused(self, job: _Job, error: SheetlarkError) -> None:
        if job.caller is not None:
            message = {"is": "refused", "name": self.document.name, "ticket": job.ticket, "says": str(error)}
            await _quietly(job.caller, message)
            return
        self.trouble = str(error)
        await self._broadcast(self._trouble_told())

    def _trouble_told(self) -> Plain:
        return {
            "is": "trouble",
            "name": self.document.name,
            "revision": self.document.revision,
            "faults": placed_faults(self.document.text, self.trouble),
        }

    def _figures_told(self, result: Result, caller: Caller, job: _Job | None = None) -> Plain:
        model = kit_model(result.evaluation.kit, self.meshes)
        doc = result.doc
        return {
            "is": "figures",
            "name": self.document.name,
            "revision": result.revision,
            "ticket": job.ticket if job is not None and job.caller is not None else None,
            "ms": None if job is None else round(1e3 * (time.perf_counter() - job.asked)),
            "figures": result.shown,
            "before": self.before,
            "findings": self.findings_of(result) if "findings" in doc else None,
            "advised": job is None or (job.caller is None and self.advice[0] == result.revision),
            "balance": {**doc.get("weights", {}).get("balance_mm", {}), **doc.get("balance", {})},
            "neutral": doc.get("air", {}).get("neutral_point_mm"),
            "layout": doc.get("model", {}).get("layout", ""),
            "model": model,
            "meshes": self._new_meshes(
                model, caller, "settled" if job is None or job.caller is None else "preview"
            ),
        }

    def _new_meshes(self, model: Plain, caller: Caller, kind: str) -> dict[str, str]:
        """Meshes that this page does not have; it keeps those of the last message of each kind."""
        names = {part["mesh"] for part in model["parts"]}
        kept = set().union(*caller.known.values())
        caller.known[kind] = names
        texts = ((name, self.meshes.text(name)) for name in names - kept)
        return {name: text for name, text in texts if text is not None}

    # Outside edits ---------------------------------------------------------------------------------

    async def _listen(self) -> None:
        while True:
            await asyncio.sleep(0.5)
            try:
                changed = await asyncio.to_thread(self.document.look)
            except SheetlarkError as error:
                changed = self.document.notice != str(error)
                self.document.notice = str(error)
            if changed:
                await self.changed()

    async def _broadcast(self, message: Plain) -> None:
        for caller in tuple(self.callers):
            await _quietly(caller, message)
        await self._stand()

    async def _stand(self) -> None:
        if self._stands is not None and self.standing() != self._stood:
            self._stood = self.standing()
            await self._stands()

    def close(self) -> None:
        """Stop working and let go of the file."""
        self._work.cancel()
        self._listening.cancel()
        for task in self._advising:
            task.cancel()
        self.document.close()


async def _quietly(caller: Caller, message: Plain) -> None:
    """Tell a caller who may have gone meanwhile."""
    try:
        await caller.tell(message)
    except (RuntimeError, OSError):
        log.debug("a page has gone")


def _values(design: Design) -> Plain:
    plain: Plain = design.model_dump(mode="json")
    return plain


def _shown(doc: Doc) -> list[Plain]:
    return [asdict(f) for f in figures(doc)]
