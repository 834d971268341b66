"""Tracing stays warm between corrections, and is stopped or left whenever it is asked to be."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from sheetlark.bench.marks import Marks
from sheetlark.bench.tracer import Tracer
from sheetlark.errors import DesignError

from .drawn import smaller, three_view


def played(story: Callable[[Tracer], Awaitable[None]]) -> None:
    """Play a story in a loop of its own, in a thread: a browser that another test has open keeps this one's."""

    async def play() -> None:
        tracer = Tracer()
        try:
            await story(tracer)
        finally:
            await tracer.close()

    with ThreadPoolExecutor(1) as pool:
        pool.submit(lambda: asyncio.run(play())).result()


async def quietly(_share: float, _words: str, _so_far: object = None) -> None:
    return


def job(file: Path, **marks: Any) -> dict[str, Any]:
    return {"file": str(file), "marks": Marks(span="640 mm", **marks).plain()}


def test_a_second_tracing_reads_nothing_again(tmp_path: Path) -> None:
    file = tmp_path / "three-view.png"
    file.write_bytes(smaller(three_view()))

    async def story(tracer: Tracer) -> None:
        words: list[str] = []
        shown: list[dict[str, Any]] = []

        async def tell(_share: float, said: str, so_far: dict[str, Any] | None = None) -> None:
            words.append(said)
            if so_far is not None:
                shown.append(so_far)

        began = time.monotonic()
        first = await tracer.errand(job(file)).run(tell)
        cold = time.monotonic() - began
        assert "finding the views" in words
        assert {v["kind"] for v in first["tracing"]["views"]} == {"top", "side", "front"}
        assert shown == [{"tracing": first["tracing"]}]  # told before the design is made
        words.clear()
        began = time.monotonic()
        again = await tracer.errand(job(file, refused=("wide-controls",))).run(tell)
        assert words == ["making a design of it"]  # nothing is traced anew
        assert time.monotonic() - began < cold
        assert again["tracing"] == first["tracing"]
        assert again["design"] != first["design"]
        words.clear()
        await tracer.errand({"file": str(file), "marks": Marks(span="700 mm").plain()}).run(tell)
        assert words == ["finding the outlines", "making a design of it"]
        words.clear()
        turned = tracer.errand(job(file, turned_deg=0.5))

        async def tell_once(share: float, said: str, _so_far: object = None) -> None:
            await tell(share, said)
            turned.stop()

        with pytest.raises(DesignError, match="Stopped"):
            await turned.run(tell_once)
        assert words == ["finding the views"]  # another turn is another sheet

    played(story)


def test_stopped_left_and_asked_again(tmp_path: Path) -> None:
    file = tmp_path / "three-view.png"
    file.write_bytes(smaller(three_view()))

    async def story(tracer: Tracer) -> None:
        running = tracer.errand(job(file))
        work = asyncio.create_task(running.run(quietly))
        queued = tracer.errand(job(file))
        later = asyncio.create_task(queued.run(quietly))
        await asyncio.sleep(0.3)
        queued.leave()
        running.stop()
        for task in (work, later):
            with pytest.raises(DesignError, match="Stopped"):
                await task
        made = await tracer.errand(job(file)).run(quietly)
        assert made["design"]
        with pytest.raises(DesignError, match="no such picture"):
            await tracer.errand(job(tmp_path / "gone.png")).run(quietly)
        assert (await tracer.errand(job(file)).run(quietly))["design"] == made["design"]

    played(story)
