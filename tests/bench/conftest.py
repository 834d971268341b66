"""A bench in a process of its own, and a browser to use it as a person would."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

_START = "import sys; from pathlib import Path; from sheetlark.bench import run; run(folder=Path(sys.argv[1]), port=int(sys.argv[2]), show=False)"


class Served:
    """A running bench on a folder."""

    def __init__(self, folder: Path, runtime: Path | None = None) -> None:
        self.folder = folder
        self.runtime = runtime  # where programs that run keep what they need; without it each start has an address of its own
        self.process: subprocess.Popen[str] | None = None
        self.address = ""
        self.origins: set[str] = set()  # all it ever had: a page left open asks at the old one
        self.start()

    def start(self, port: int = 0) -> None:
        env = {k: v for k, v in os.environ.items() if not k.startswith(("PYTEST_", "XDG_RUNTIME_DIR"))}
        if self.runtime is not None:
            env["XDG_RUNTIME_DIR"] = str(self.runtime)
        self.process = subprocess.Popen(
            [sys.executable, "-u", "-c", _START, str(self.folder), str(port)],
            stdout=subprocess.PIPE,
            text=True,
            env=env,
        )
        assert self.process.stdout is not None
        found = re.search(r"http\S+", self.process.stdout.readline())
        assert found is not None
        self.address = found[0]
        self.origins.add(self.origin)

    @property
    def origin(self) -> str:
        return self.address.split("/?")[0]

    def kill(self) -> None:
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self) -> None:
        assert self.process is not None
        if self.process.poll() is None:
            self.process.terminate()
            self.process.wait(10)
        if self.process.stdout is not None:
            self.process.stdout.close()


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    folder = tmp_path / "project"
    folder.mkdir()
    bench = Served(folder)
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
