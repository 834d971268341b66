"""Benches, and the workers they begin, forked from one process that has everything loaded already.

A test is about what a person does on the page, not about how long Python takes to load numpy. A fork has its own
memory, its own folder and address, and is killed like any other program; `Served(cold=True)` starts a bench as a person does.
"""

from __future__ import annotations

import contextlib
import functools
import importlib
import json
import os
import selectors
import signal
import socket
import sys
import tempfile
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

from drawn import three_view  # beside this file

_MODULES = (
    "server",
    "adviser_worker",
    "errand_worker",
    "tracer_worker",
    "built",
    "flown",
    "logged",
    "matched",
)

# Stands for Python where the bench begins a worker: asks the hatchery for it, lends it its own pipes, ends when it ends.
_RELAY = """#!{python} -IS
import os, sys
if sys.argv[1:2] != ["-m"]:
    os.execv({python!r}, [{python!r}, *sys.argv[1:]])
import _socket
line = _socket.socket(_socket.AF_UNIX, _socket.SOCK_STREAM)
line.connect({address!r})
import array, json
asked = json.dumps({{"work": "worker", "module": sys.argv[2]}}).encode()
line.sendmsg([asked], [(_socket.SOL_SOCKET, _socket.SCM_RIGHTS, array.array("i", [0, 1, 2]))])
line.recv(12)  # its pid
sys.exit(int(line.recv(12) or b"1"))
"""


def _warm() -> None:
    """Load what a bench and its workers load, and work the starting designs out once: forks remember."""
    for name in _MODULES:
        importlib.import_module(f"sheetlark.bench.{name}")
    for name in ("handbook", "sheets", "trace"):
        importlib.import_module(f"sheetlark.{name}")
    from sheetlark.bench.figures import evaluated
    from sheetlark.design import loads, starter

    for name in ("dunnock", "brambling", "turnstone"):
        evaluated(loads(starter(name), name=f"{name}.toml"), None)


@functools.cache
def _warm_tracing() -> None:
    """Trace the tests' picture once: forks have its reading, and what was loaded for it, from here."""
    import sheetlark.trace
    from sheetlark.bench.marks import Marks
    from sheetlark.bench.picture import made_of, opened, traced

    open_picture = sheetlark.trace.open_picture
    read: dict[tuple[Any, ...], Any] = {}

    def remembered(file: Path, **how: Any) -> Any:
        key = (file.read_bytes(), *sorted(how.items()))
        if key not in read:
            read[key] = open_picture(file, **how)
        return read[key]

    sheetlark.trace.open_picture = remembered  # type: ignore[assignment]
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "three-view.png")
        file.write_bytes(three_view())
        plain = Marks()
        made_of(traced(file, plain, opened(file, plain)), plain, lambda *_: None)


def _bench(job: dict[str, str], relay: Path) -> None:
    from sheetlark.bench import run

    sys.executable = str(relay)
    os.environ.pop("XDG_RUNTIME_DIR", None)
    if job["runtime"]:
        os.environ["XDG_RUNTIME_DIR"] = job["runtime"]
    run(folder=Path(job["folder"]), port=int(job["port"]), show=False)


def _forked(work: Callable[[], None], pipes: list[int]) -> int:
    """The pid of a fork of its own session that does the work with these as its standard pipes."""
    sys.stdout.flush()
    pid = os.fork()
    if pid:
        for pipe in pipes:
            os.close(pipe)
        return pid
    code = 1
    try:
        os.setsid()
        for number, pipe in enumerate(pipes):
            os.dup2(pipe, number)
        os.closerange(3, 1024)
        work()
        code = 0
    except SystemExit as end:
        code = int(end.code or 0)
    except BaseException:  # noqa: BLE001 - a fork must not go on as its parent
        traceback.print_exc()
    with contextlib.suppress(OSError):
        sys.stdout.flush()
    os._exit(code)


class Hatchery:
    """Whose fork is whose: it ends with the line it was asked for on, and the line is told when it ends."""

    def __init__(self, address: str) -> None:
        self.relay = Path(address + "-python")
        self.relay.write_text(_RELAY.format(python=sys.executable, address=address), "utf-8")
        self.relay.chmod(0o755)
        self.chosen = selectors.DefaultSelector()
        self.door = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.door.bind(address)
        self.door.listen(64)
        self.chosen.register(self.door, selectors.EVENT_READ, self._asked)
        self.chosen.register(
            0, selectors.EVENT_READ, lambda: sys.exit(0)
        )  # the tests have ended, however they did

    def run(self) -> None:
        while True:
            for key, _ in self.chosen.select():
                key.data()

    def _asked(self) -> None:
        line, _ = self.door.accept()
        said, pipes, _, _ = socket.recv_fds(line, 65536, 3)
        if not said:
            line.close()
            return
        job = json.loads(said)
        if job.get("module") == "sheetlark.bench.tracer_worker":
            _warm_tracing()
        if job["work"] == "bench":
            pid = _forked(lambda: _bench(job, self.relay), pipes)
        else:
            pid = _forked(lambda: importlib.import_module(job["module"]).main(), pipes)
        with contextlib.suppress(OSError):  # whoever asked is gone already: then the line says so below
            line.sendall(f"{pid:12d}".encode())
        ends = os.pidfd_open(pid)
        self.chosen.register(ends, selectors.EVENT_READ, lambda: self._ended(pid, ends, line))
        self.chosen.register(line, selectors.EVENT_READ, lambda: self._left(pid, line))

    def _left(self, pid: int, line: socket.socket) -> None:
        if line.fileno() < 0:  # it ended in the same moment
            return
        self.chosen.unregister(line)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(pid, signal.SIGKILL)

    def _ended(self, pid: int, ends: int, line: socket.socket) -> None:
        self.chosen.unregister(ends)
        os.close(ends)
        _, status = os.waitpid(pid, 0)
        if line in self.chosen.get_map():
            self.chosen.unregister(line)
        with contextlib.suppress(OSError):
            line.sendall(f"{max(0, os.waitstatus_to_exitcode(status)):12d}".encode())
        line.close()


if __name__ == "__main__":
    _warm()
    hatchery = Hatchery(sys.argv[1])
    print("ready", flush=True)
    hatchery.run()
