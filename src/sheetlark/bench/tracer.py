"""Tracing in a process that stays warm, for a picture is traced again after every correction.

One job at a time; one that nobody waits for any more is not begun. The process ends when it has been idle for a while.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
from typing import Any

from sheetlark.bench.errands import Errand, Tell, begun, killed
from sheetlark.errors import DesignError

Plain = dict[str, Any]
LONGEST_S = 120.0
_IDLE_S = 180.0
_LARGEST_LINE = 16_000_000


class Tracer:
    """The warm process, and whose turn it is."""

    def __init__(self) -> None:
        self.turn = asyncio.Lock()
        self._process: asyncio.subprocess.Process | None = None
        self._idle: asyncio.TimerHandle | None = None

    def errand(self, job: Plain) -> Errand:
        """One tracing, to be run like any other long work."""
        return _Tracing(self, job)

    async def ask(self, job: Plain, tell: Tell) -> Plain:
        """Have one job done.

        Raises
        ------
        DesignError
            If it says why it cannot be done, took too long, or was ended.
        """
        if self._idle is not None:
            self._idle.cancel()
        if self._process is None or self._process.returncode is not None:
            self._process = await begun("sheetlark.bench.tracer_worker", _LARGEST_LINE)
        try:
            return await asyncio.wait_for(self._talk(self._process, job, tell), LONGEST_S)
        except TimeoutError:
            self.end()
            raise DesignError(
                f"Tracing took longer than {LONGEST_S:.0f} s and was stopped. Save the picture smaller."
            ) from None
        finally:
            self._idle = asyncio.get_running_loop().call_later(_IDLE_S, self.end)

    async def _talk(self, process: asyncio.subprocess.Process, job: Plain, tell: Tell) -> Plain:
        assert process.stdin is not None
        assert process.stdout is not None
        with contextlib.suppress(ConnectionError):
            process.stdin.write(json.dumps(job).encode() + b"\n")
            await process.stdin.drain()
        while line := await process.stdout.readline():
            message = json.loads(line)
            if "result" in message:
                result: Plain = message["result"]
                return result
            if "error" in message:
                raise DesignError(str(message["error"]))
            await tell(float(message["share"]), str(message["words"]), message.get("so_far"))
        await process.wait()
        raise DesignError("This ended without an answer, perhaps for want of memory. Nothing was changed.")

    def end(self) -> None:
        """End the process now."""
        killed(self._process)
        self._process = None

    async def close(self) -> None:
        """Stop it for good."""
        if self._idle is not None:
            self._idle.cancel()
        process = self._process
        self.end()
        if process is not None:
            await process.wait()


class _Tracing(Errand):
    """One tracing."""

    def __init__(self, tracer: Tracer, job: Plain) -> None:
        super().__init__(job)
        self._tracer = tracer
        self._runs = False

    async def run(self, tell: Tell) -> Plain:
        async with self._tracer.turn:
            if self.stopped:
                raise DesignError("Stopped.")
            self._runs = True
            try:
                return await self._tracer.ask(self._job, tell)
            except DesignError:
                if self.stopped:
                    raise DesignError("Stopped.") from None
                raise
            finally:
                self._runs = False

    def stop(self) -> None:
        self.stopped = True
        if self._runs:
            self._tracer.end()

    def leave(self) -> None:
        """Let it end by itself, so that the next one finds the process warm."""
        self.stopped = True
