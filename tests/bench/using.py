"""What every test in the browser does first."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sheetlark.design import starter

from .conftest import Served, Watched


def begin(served: Served, name: str = "dunnock") -> Path:
    file = served.folder / f"{name}.toml"
    file.write_text(starter(name), encoding="utf-8")
    return file


def settled(page: Any) -> None:
    """Until the panel shows figures that are no longer being worked out."""
    page.locator("#panel:not(.stale) .figures .value").first.wait_for(timeout=30_000, state="attached")


def until(page: Any, holds: Callable[[], bool], seconds: float = 20.0) -> None:
    """Wait for what comes when it comes: a busy machine is no fault."""
    for _ in range(round(20 * seconds)):
        if holds():
            return
        page.wait_for_timeout(50)
    assert holds()


def opened(watched: Watched, served: Served, room: str = "shape") -> Any:
    watched.page.goto(served.address)
    watched.page.locator(".brand").wait_for()
    if room != "shape":
        watched.page.get_by_role("link", name=room).click()
    settled(watched.page)
    return watched.page


def with_axe(page: Any) -> None:
    from axe_playwright_python.base import AXE_FILE_PATH

    page.evaluate(AXE_FILE_PATH.read_text("utf-8"))


def serious(page: Any, where: str, within: str = "document") -> list[str]:
    """Serious faults that axe finds in the light look; in the dark one only the colours are others."""
    found = []
    for look, only in (("light", ""), ("dark", ", runOnly: ['color-contrast']")):
        page.emulate_media(color_scheme=look)
        result = page.evaluate(f"axe.run({within}, {{ resultTypes: ['violations']{only} }})")
        assert len(result["passes"]) >= (1 if only else 8), (where, look)
        found += [
            f"{where}, {look}: {v['id']}: {v['help']}: {json.dumps([n['html'][:160] for n in v['nodes'][:3]])}"
            for v in result["violations"]
            if v["impact"] in {"serious", "critical"}
        ]
    page.emulate_media(color_scheme="light")
    return found
