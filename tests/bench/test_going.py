"""Long work on a design is told to every page, and goes on while one is loaded anew."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from sheetlark.bench.errands import Errand, Tell
from sheetlark.bench.going import Going, Works
from sheetlark.errors import DesignError

Plain = dict[str, Any]


class Page:
    def __init__(self) -> None:
        self.heard: list[Plain] = []

    async def tell(self, message: Plain) -> None:
        self.heard.append(message)


class Slow(Errand):
    """Goes a step whenever it is let."""

    def __init__(self) -> None:
        super().__init__({})
        self.steps = asyncio.Semaphore(0)

    async def run(self, tell: Tell) -> Plain:
        for share in (0.25, 0.5):
            await self.steps.acquire()
            if self.stopped:
                raise DesignError("Stopped.")
            await tell(share, "on its way")
        await self.steps.acquire()
        return {"made": 1}

    def stop(self) -> None:
        self.stopped = True
        self.steps.release()


def played(story: Callable[[], Awaitable[None]]) -> None:
    async def play() -> None:
        await story()

    with ThreadPoolExecutor(1) as pool:  # a browser that another test has open keeps this thread's loop
        pool.submit(lambda: asyncio.run(play())).result()


async def carried(works: Works, one: Going) -> None:
    try:
        await works.end(one, "result", result=await works.carry(one))
    except DesignError as error:
        await works.end(one, "failed", says=str(error))


def test_a_page_loaded_anew_finds_what_runs_and_hears_its_end() -> None:
    async def story() -> None:
        lines: set[Page] = set()
        works = Works(lines)
        first, second = Page(), Page()
        lines.add(first)
        await works.came(first)
        assert first.heard == [{"is": "going", "works": []}]
        slow = Slow()
        one = Going(slow, "flight-1", "flight", "dunnock.toml", 3)
        task = asyncio.create_task(carried(works, one))
        slow.steps.release()
        await asyncio.sleep(0.01)
        assert first.heard[-1] == one.told("progress", share=0.25, words="on its way")
        lines.discard(first)
        works.left(first)
        slow.steps.release()
        await asyncio.sleep(0.01)
        lines.add(second)
        await works.came(second)
        assert second.heard == [
            {"is": "going", "works": [one.told("progress", share=0.5, words="on its way")]}
        ]
        slow.steps.release()
        await task
        assert second.heard[-1] == one.told("result", result={"made": 1})
        assert len(first.heard) == 2

    played(story)


def test_what_ends_while_no_page_is_there_waits_for_one() -> None:
    async def story() -> None:
        lines: set[Page] = set()
        works = Works(lines)
        slow = Slow()
        for _ in range(3):
            slow.steps.release()
        await carried(works, Going(slow, "flight-1", "flight", "dunnock.toml", 3))
        page, later = Page(), Page()
        await works.came(page)
        assert [m["is"] for m in page.heard] == ["going", "result"]
        await works.came(later)
        assert [m["is"] for m in later.heard] == ["going"]

    played(story)


@pytest.mark.parametrize("back", [False, True])
def test_work_that_nobody_waits_for_any_more_is_stopped(back: bool) -> None:
    async def story() -> None:
        page = Page()
        lines: set[Page] = set()
        works = Works(lines, alone_s=0.05)
        slow = Slow()
        task = asyncio.create_task(carried(works, Going(slow, "flight-1", "flight", "dunnock.toml", 3)))
        await asyncio.sleep(0.01)
        works.left(page)
        if back:
            lines.add(page)
            await works.came(page)
        await asyncio.sleep(0.1)
        assert slow.stopped is not back
        assert task.done() is not back
        slow.stop()
        await task

    played(story)


def test_a_pictures_work_is_one_pages_affair_and_ends_with_it() -> None:
    async def story() -> None:
        mine, other = Page(), Page()
        lines: set[Page] = {mine, other}
        works = Works(lines)
        slow = Slow()
        one = Going(slow, "trace-1", "trace", only=mine)
        task = asyncio.create_task(carried(works, one))
        slow.steps.release()
        await asyncio.sleep(0.01)
        assert [m["is"] for m in mine.heard] == ["progress"]
        lines.discard(other)
        works.left(other)
        assert not slow.stopped
        lines.discard(mine)
        works.left(mine)
        assert slow.stopped
        await task
        later = Page()
        await works.came(later)
        assert other.heard == []
        assert later.heard == [{"is": "going", "works": []}]  # nor is its end kept for another page

    played(story)
