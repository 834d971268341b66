"""A bench in a process of its own, and a browser to use it as a person would."""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

_START = "import sys; from pathlib import Path; from sheetlark.bench import run; run(folder=Path(sys.argv[1]), port=int(sys.argv[2]), show=False)"


class Hatched:
    """A bench that was forked; it ends, at the latest, with this line."""

    def __init__(self, address: str, job: dict[str, str]) -> None:
        self._line = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._line.settimeout(30)
        self._line.connect(address)
        says, told = os.pipe()
        with Path(os.devnull).open() as nothing:
            socket.send_fds(self._line, [json.dumps(job).encode()], [nothing.fileno(), told, 2])
        os.close(told)
        self.stdout = os.fdopen(says, encoding="utf-8")
        self.pid = int(self._line.recv(12))

    def send_signal(self, number: int) -> None:
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.pid, number)

    def wait(self) -> None:
        with contextlib.suppress(OSError):
            self._line.recv(12)
        self._line.close()


class Served:
    """A running bench on a folder: forked, or `cold`, started as a person starts it."""

    def __init__(
        self, folder: Path, hatchery: str, runtime: Path | None = None, *, cold: bool = False
    ) -> None:
        self.folder = folder
        self.runtime = runtime  # where programs that run keep what they need; without it each start has an address of its own
        self.cold = cold
        self._hatchery = hatchery
        self.process: subprocess.Popen[str] | Hatched | None = None
        self.address = ""
        self.origins: set[str] = set()  # all it ever had: a page left open asks at the old one
        self.start()

    def start(self, port: int = 0) -> None:
        self.process = self._cold(port) if self.cold else self._warm(port)
        assert self.process.stdout is not None
        found = re.search(r"http\S+", self.process.stdout.readline())
        assert found is not None
        self.address = found[0]
        self.origins.add(self.origin)

    def _warm(self, port: int) -> Hatched:
        job = {
            "work": "bench",
            "folder": str(self.folder),
            "port": str(port),
            "runtime": str(self.runtime or ""),
        }
        return Hatched(self._hatchery, job)

    def _cold(self, port: int) -> subprocess.Popen[str]:
        env = {k: v for k, v in os.environ.items() if not k.startswith(("PYTEST_", "XDG_RUNTIME_DIR"))}
        if self.runtime is not None:
            env["XDG_RUNTIME_DIR"] = str(self.runtime)
        return subprocess.Popen(
            [sys.executable, "-u", "-c", _START, str(self.folder), str(port)],
            stdout=subprocess.PIPE,
            text=True,
            env=env,
        )

    @property
    def origin(self) -> str:
        return self.address.split("/?")[0]

    def kill(self) -> None:
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        self._end(signal.SIGTERM)

    def _end(self, how: int) -> None:
        process, self.process = self.process, None
        if process is None:
            return
        process.send_signal(how)
        process.wait()
        if process.stdout is not None:
            process.stdout.close()


@pytest.fixture(scope="session")
def hatchery(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where benches are asked for."""
    address = str(tmp_path_factory.mktemp("hatchery") / "door")
    env = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST_")}
    file = Path(__file__).with_name("hatchery.py")
    with subprocess.Popen(
        [sys.executable, str(file), address],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=env,
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        yield address
        process.terminate()


@pytest.fixture
def served(tmp_path: Path, hatchery: str) -> Iterator[Served]:
    folder = tmp_path / "project"
    folder.mkdir()
    bench = Served(folder, hatchery)
    yield bench
    bench.stop()


class Watched:
    """A page whose faults are gathered: scripts that fail, requests that leave this machine."""

    def __init__(self, browser: Any, served: Served, **context: Any) -> None:
        self.faults: list[str] = []
        self.context = browser.new_context(**{"viewport": {"width": 1280, "height": 860}, **context})
        self.context.set_default_timeout(20_000)
        self.page = self.context.new_page()
        self.page.on("pageerror", lambda error: self.faults.append(f"script: {error}"))
        self.page.on("console", self._console)
        self.page.on("request", lambda request: self._request(request.url, served))

    def _console(self, message: Any) -> None:
        # A bench that was killed does not answer: the page says so, and so does the browser.
        gone = "WebSocket" in message.text or "net::ERR_CONNECTION" in message.text
        if message.type == "error" and not gone:
            self.faults.append(f"console: {message.text}")

    def _request(self, url: str, served: Served) -> None:
        ours = {each.replace("http", kind) for each in served.origins for kind in ("http", "ws")}
        if not url.startswith((*ours, "blob:", "data:")):
            self.faults.append(f"request to elsewhere: {url}")


@pytest.fixture
def watched(browser: Any, served: Served) -> Iterator[Watched]:
    w = Watched(browser, served)
    yield w
    w.context.close()
    assert w.faults == []
