"""Long work is stopped whenever it is asked to stop, even while it is only starting."""

from __future__ import annotations

import asyncio
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from sheetlark.bench.errands import Errand
from sheetlark.design import starter
from sheetlark.errors import DesignError


@pytest.mark.parametrize("after_s", [0.0, 0.001, 0.3])
def test_stopped_at_any_moment(after_s: float) -> None:
    async def story() -> float:
        errand = Errand({"kind": "flight", "text": starter("dunnock"), "name": "dunnock.toml"})

        async def tell(_share: float, _words: str) -> None:
            return

        work = asyncio.create_task(errand.run(tell))
        await asyncio.sleep(after_s)
        errand.stop()
        began = time.monotonic()
        with pytest.raises(DesignError, match="Stopped"):
            await work
        return time.monotonic() - began

    # In a thread: a browser that another test has open keeps this one's loop.
    with ThreadPoolExecutor(1) as pool:
        assert pool.submit(lambda: asyncio.run(story())).result() < 3.0  # the flight itself takes longer
