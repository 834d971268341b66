"""What every test in the browser does first."""

from __future__ import annotations

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


def opened(watched: Watched, served: Served, room: str = "shape") -> Any:
    watched.page.goto(served.address)
    watched.page.locator(".brand").wait_for()
    if room != "shape":
        watched.page.get_by_role("link", name=room).click()
    settled(watched.page)
    return watched.page
