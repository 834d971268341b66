"""Long work in a process of its own, so that the page stays quick: with progress, a limit, and a way to stop it."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import signal
import sys
from typing import Any, Protocol

from sheetlark.errors import DesignError

Plain = dict[str, Any]
LONGEST_S = 600.0
_LARGEST_LINE = 64_000_000


class Tell(Protocol):
    """Told how far work is, from 0 to 1 and in words, and of what it has come to so far."""

    async def __call__(self, share: float, words: str, so_far: Plain | None = None) -> None: ...


async def begun(module: str, largest_line: int) -> asyncio.subprocess.Process:
    """A worker in a process group of its own, which is told and answers in lines of at most so many bytes."""
    return await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        module,
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.DEVNULL,
        start_new_session=True,
        limit=largest_line,
    )


def killed(process: asyncio.subprocess.Process | None) -> None:
    """End a worker with all it began; nothing where there is none or it has ended."""
    if process is not None and process.returncode is None:
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(process.pid, signal.SIGKILL)


class Errand:
    """One piece of long work."""

    def __init__(self, job: Plain) -> None:
        self._job = job
        self._process: asyncio.subprocess.Process | None = None
        self.stopped = False

    async def run(self, tell: Tell) -> Plain:
        """Do it and hand back its result.

        Raises
        ------
        DesignError
            If it was stopped, took too long, or says why it cannot be done.
        """
        if self.stopped:
            raise DesignError("Stopped.")
        self._process = await begun("sheetlark.bench.errand_worker", _LARGEST_LINE)
        try:
            if self.stopped:  # meanwhile, while the process was being started
                raise DesignError("Stopped.")
            return await asyncio.wait_for(self._talk(tell), LONGEST_S)
        except TimeoutError:
            raise DesignError(
                f"This took longer than {LONGEST_S / 60:.0f} minutes and was stopped."
            ) from None
        finally:
            self._end()
            await self._process.wait()

    async def _talk(self, tell: Tell) -> Plain:
        process = self._process
        assert process is not None
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(json.dumps(self._job).encode() + b"\n")
        await process.stdin.drain()
        process.stdin.close()
        while line := await process.stdout.readline():
            try:
                message = json.loads(line)
            except ValueError:
                continue
            if "result" in message:
                result: Plain = message["result"]
                return result
            if "error" in message:
                raise DesignError(str(message["error"]))
            if "share" in message:
                await tell(float(message["share"]), str(message["words"]))
        if self.stopped:
            raise DesignError("Stopped.")
        raise DesignError("This ended without an answer, perhaps for want of memory. Nothing was changed.")

    def stop(self) -> None:
        """End it now."""
        self.stopped = True
        self._end()

    def leave(self) -> None:
        """Nobody waits for it any more."""
        self.stop()

    def _end(self) -> None:
        killed(self._process)
