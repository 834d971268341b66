"""The desk: everybody sees one document, newest first, and no fault ends the page."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Awaitable, Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest

from sheetlark.bench import desk as desk_module
from sheetlark.bench.adviser import Adviser
from sheetlark.bench.desk import Desk
from sheetlark.bench.scene import Meshes
from sheetlark.design import loads, starter
from sheetlark.errors import DesignError, SheetlarkError
from sheetlark.stock import load_stock


class Page:
    """A caller that keeps what it is told."""

    def __init__(self) -> None:
        self.known: dict[str, set[str]] = {}
        self.told: list[dict[str, Any]] = []

    async def tell(self, message: dict[str, Any]) -> None:
        self.told.append(message)

    async def next(self, kind: str, seconds: float = 60.0) -> dict[str, Any]:
        """The first message of a kind from now on or before, taken off the list."""
        for _ in range(int(seconds / 0.02)):
            for message in self.told:
                if message["is"] == kind:
                    self.told.remove(message)
                    return message
            await asyncio.sleep(0.02)
        raise AssertionError(f"no {kind}; told {[m['is'] for m in self.told]}")


def on_a_desk(
    tmp_path: Path, story: Callable[[Desk, Page, Page], Awaitable[None]], name: str = "dunnock"
) -> None:
    """Play a story with two pages at one desk, in a loop of its own."""
    file = tmp_path / f"{name}.toml"
    file.write_text(starter(name), encoding="utf-8")
    failed: list[BaseException] = []

    async def play() -> None:
        adviser = Adviser()
        desk = Desk(file, load_stock(), Meshes(), asyncio.Semaphore(1), adviser)
        one, two = Page(), Page()
        await desk.join(one)
        await desk.join(two)
        try:
            await story(desk, one, two)
        finally:
            desk.close()
            await adviser.close()

    def run() -> None:
        try:
            asyncio.run(play())
        except BaseException as error:  # noqa: BLE001 - handed to the test
            failed.append(error)

    thread = threading.Thread(target=run)
    thread.start()
    thread.join()
    if failed:
        raise failed[0]


def test_an_edit_is_shown_to_everybody_and_evaluated_once(tmp_path: Path) -> None:
    async def story(desk: Desk, one: Page, two: Page) -> None:
        for page in (one, two):
            assert (await page.next("document"))["undo"] == ""
        first = await one.next("figures")
        assert (await two.next("figures"))["figures"] == first["figures"]
        await desk.edit({("wing", 0, "span"): 700}, "wider", since=desk.document.revision)
        for page in (one, two):
            told = await page.next("document")
            assert told["undo"] == "wider"
            assert told["values"]["wing"][0]["span"] == pytest.approx(0.7)
            figures = await page.next("figures")
            assert figures["revision"] == told["revision"]
            assert figures["before"] == first["figures"]
        mass = {f["id"]: f["value"] for f in figures["figures"]}["mass"]
        assert mass > {f["id"]: f["value"] for f in first["figures"]}["mass"]

    on_a_desk(tmp_path, story)


def test_a_preview_is_shown_to_its_own_page_and_kept_nowhere(tmp_path: Path) -> None:
    async def story(desk: Desk, one: Page, two: Page) -> None:
        await one.next("figures")
        await two.next("figures")
        before = desk.document.text
        await desk.preview(one, {("drive", "pack_at"): [90, 0, -14]}, desk.document.revision, 7)
        shown = await one.next("preview")
        assert shown["ticket"] == 7
        assert shown["values"]["drive"]["pack_at"][0] == pytest.approx(0.09)
        quick = await one.next("figures")
        assert quick["ticket"] == 7
        assert quick["findings"] is None  # the figures go ahead
        rested = await one.next("figures")
        assert isinstance(rested["findings"], list)
        assert desk.document.text == before
        assert not [m for m in two.told if m["is"] in {"preview", "figures"}]
        with pytest.raises(SheetlarkError, match="misses the body"):
            await desk.preview(one, {("tailplane", "at"): [452, 400]}, desk.document.revision, 8)

    on_a_desk(tmp_path, story)


def test_a_finger_that_moves_on_does_not_wait_for_the_findings_of_where_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go_on = threading.Event(), threading.Event()
    last: list[str] = []

    def held(_: object) -> tuple[Callable[[], object], ...]:
        def first() -> None:
            begun.set()
            assert go_on.wait(30.0)

        return (first, lambda: last.append("worked out"))

    async def story(desk: Desk, one: Page, _two: Page) -> None:
        await one.next("figures")
        await desk.preview(one, {("drive", "pack_at"): [90, 0, -14]}, desk.document.revision, 1)
        assert (await one.next("figures"))["ticket"] == 1
        await asyncio.to_thread(begun.wait, 30.0)  # it rests, and its findings are begun
        await desk.preview(one, {("drive", "pack_at"): [91, 0, -14]}, desk.document.revision, 2)
        monkeypatch.setattr(desk_module, "left_to_find", lambda _: ())
        go_on.set()
        moved = await one.next("figures")
        assert (moved["ticket"], moved["findings"]) == (2, None)
        assert not last
        rested = await one.next("figures")
        assert (rested["ticket"], rested["findings"] is not None) == (2, True)

    monkeypatch.setattr(desk_module, "left_to_find", held)
    on_a_desk(tmp_path, story)


def test_a_mesh_is_sent_once(tmp_path: Path) -> None:
    async def story(desk: Desk, one: Page, _two: Page) -> None:
        first = await one.next("figures")
        parts = {part["mesh"] for part in first["model"]["parts"]}
        assert set(first["meshes"]) == parts
        await desk.edit({("drive", "pack_at"): [70, 0, -14]}, "", None)
        again = await one.next("figures")
        assert {part["mesh"] for part in again["model"]["parts"]} == parts
        assert again["meshes"] == {}

    on_a_desk(tmp_path, story)


def test_letting_go_where_it_was_dragged_gives_what_a_fresh_look_gives(tmp_path: Path) -> None:
    async def story(desk: Desk, one: Page, _two: Page) -> None:
        await one.next("figures")
        changes = {("wing", 0, "span"): 655.0}
        await desk.preview(one, changes, desk.document.revision, 1)
        dragged = await one.next("figures")
        assert dragged["findings"] is None  # those shown are from before, and the page is told so
        await desk.edit(changes, "", None)
        settled = await one.next("figures")
        while settled["ticket"] is not None:
            settled = await one.next("figures")
        fresh, doc = desk_module.evaluated(loads(desk.document.text))
        assert settled["figures"] == [asdict(f) for f in desk_module.figures(doc)]
        assert settled["findings"] is not None
        assert desk.result is not None
        assert desk.result.evaluation.design is desk.document.design
        assert desk.result.doc == doc
        assert fresh.kit.joints == desk.result.evaluation.kit.joints

    on_a_desk(tmp_path, story)


def test_a_fault_of_a_stage_is_told_and_the_next_edit_works(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    honest = desk_module.evaluated

    def faulty(design: Any, begun: Any = None) -> Any:
        if design.wing[0].span > 0.7:
            raise ZeroDivisionError("a stage fell over")
        return honest(design, begun)

    monkeypatch.setattr(desk_module, "evaluated", faulty)

    async def story(desk: Desk, one: Page, _two: Page) -> None:
        await one.next("figures")
        await desk.edit({("wing", 0, "span"): 710}, "", None)
        trouble = await one.next("trouble")
        assert "ZeroDivisionError: a stage fell over" in trouble["faults"][0]["says"]
        assert "nothing is lost" in trouble["faults"][0]["says"]
        with pytest.raises(DesignError, match="a stage fell over"):
            await desk.settled()
        await desk.undo()
        assert (await one.next("figures"))["revision"] == desk.document.revision

    on_a_desk(tmp_path, story)


def test_an_impossible_design_is_shown_with_its_fault_at_its_place(tmp_path: Path) -> None:
    async def story(desk: Desk, one: Page, _two: Page) -> None:
        await one.next("document")
        await desk.edit({("tailplane", "at"): [452, 400]}, "", None)
        told = await one.next("document")
        assert told["faults"][0]["where"] == ["tailplane", "at"]
        assert told["scene"] is None
        assert (await one.next("trouble"))["faults"][0]["where"] == ["tailplane", "at"]

    on_a_desk(tmp_path, story)


def test_remedies_come_from_a_process_of_their_own(tmp_path: Path) -> None:
    async def story(desk: Desk, one: Page, _two: Page) -> None:
        await desk.edit({("drive", "pack_at"): [150, 0, -14]}, "", None)
        while True:
            advice = await one.next("advice")
            if advice["revision"] == desk.document.revision:
                break
        remedies = [r for f in advice["findings"] for r in f["remedies"]]
        assert remedies
        assert all(change["where"] for r in remedies for change in r["changes"])

    on_a_desk(tmp_path, story)
