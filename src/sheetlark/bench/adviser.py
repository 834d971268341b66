"""Remedies looked for in a process of their own: each one solves the model many times over, and nobody waits for it.

One process serves all desks and stays warm; of several questions about one design only the newest is asked.
"""

from __future__ import annotations

import asyncio
import json
from typing import Any

from sheetlark.bench.errands import begun, killed

Plain = dict[str, Any]
_LARGEST_LINE = 8_000_000
_LONGEST_S = 120.0


class Adviser:
    """Looks for the findings' remedies, design by design."""

    def __init__(self) -> None:
        self._asked: dict[str, tuple[str, asyncio.Future[list[Plain] | None]]] = {}
        self._wake = asyncio.Event()
        self._process: asyncio.subprocess.Process | None = None
        self._work = asyncio.create_task(self._run())

    async def remedies(self, name: str, text: str) -> list[Plain] | None:
        """Findings of a design with their remedies; None where a newer question overtook it or none can be had."""
        future: asyncio.Future[list[Plain] | None] = asyncio.get_running_loop().create_future()
        before = self._asked.pop(name, None)
        if before is not None and not before[1].done():
            before[1].set_result(None)
        self._asked[name] = (text, future)
        self._wake.set()
        return await future

    async def _run(self) -> None:
        while True:
            await self._wake.wait()
            if not self._asked:
                self._wake.clear()
                continue
            name = next(iter(self._asked))
            text, future = self._asked.pop(name)
            found: list[Plain] | None = None
            try:
                found = await asyncio.wait_for(self._ask(name, text), _LONGEST_S)
            except (TimeoutError, OSError, ValueError):
                await self._end()
            if not future.done():
                future.set_result(found)

    async def _ask(self, name: str, text: str) -> list[Plain] | None:
        if self._process is None or self._process.returncode is not None:
            self._process = await begun("sheetlark.bench.adviser_worker", _LARGEST_LINE)
        stdin, stdout = self._process.stdin, self._process.stdout
        assert stdin is not None
        assert stdout is not None
        stdin.write(json.dumps({"name": name, "text": text}).encode() + b"\n")
        await stdin.drain()
        line = await stdout.readline()
        if not line:
            await self._end()
            return None
        answer = json.loads(line)
        findings = answer.get("findings")
        return findings if isinstance(findings, list) else None

    async def _end(self) -> None:
        if self._process is not None and self._process.returncode is None:
            killed(self._process)
            await self._process.wait()
        self._process = None

    async def close(self) -> None:
        """Stop it."""
        self._work.cancel()
        await self._end()
