"""Fixtures every test may use."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

# As the package does for itself; here numpy may be loaded before it.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# The suite has a worker for every processor already.
os.environ.setdefault("SHEETLARK_PROCESSES", "1")

import pytest
from hypothesis import settings

# CI tries the same examples every time, so that a red run is the change's own; at the desk they are new each time.
# No deadline for an example: how long one takes says more about what else the machine does.
settings.register_profile("ci", derandomize=True, deadline=None)
settings.register_profile("desk", deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "desk")

ERRORS = Path(__file__).parent.parent / ".published-errors"


@pytest.fixture
def record_error(request: pytest.FixtureRequest) -> Callable[..., float]:
    """Compare with a published value, print the error, keep it for docs/errors.md, and assert.

    record_error(case="Warren-12 lift slope", got=2.75, published=2.743, tolerance=0.015,
                 source="author, title, year, table", relative=True)
    `tolerance` is relative unless relative=False. `published` may be an array: the largest error counts.
    """

    def record(
        *, case: str, got: object, published: object, tolerance: float, source: str, relative: bool = True
    ) -> float:
        import numpy as np

        a, b = np.asarray(got, dtype=float), np.asarray(published, dtype=float)
        error = np.abs(a - b) / np.abs(b) if relative else np.abs(a - b)
        worst = float(np.max(error))
        shown = f"{100 * worst:.3g} %" if relative else f"{worst:.3g}"
        allowed = f"{100 * tolerance:.3g} %" if relative else f"{tolerance:.3g}"
        print(f"\n    {case}: error {shown} (allowed {allowed}); {source}")
        ERRORS.mkdir(exist_ok=True)
        room = Path(str(request.node.fspath)).stem.removeprefix("test_")
        row = {"room": room, "case": case, "error": shown, "allowed": allowed, "source": source}
        key = hashlib.sha256(f"{request.node.nodeid}|{case}".encode()).hexdigest()[:16]
        name = f"{room}-{key}.json"
        (ERRORS / name).write_text(json.dumps(row), encoding="utf-8")
        assert worst <= tolerance, f"{case}: error {shown} exceeds {allowed}"
        return worst

    return record


FLAGS = ["--no-sandbox", "--enable-unsafe-swiftshader"]


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One Chromium for every test of a worker: Playwright allows only one at a time in a process."""
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("needs Chromium: apt-get install chromium")
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
        yield launched
        launched.close()
