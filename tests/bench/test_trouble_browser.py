"""What goes wrong around the bench, as the page tells it: broken files, files that go, full disks, a killed bench."""

from __future__ import annotations

import resource
from pathlib import Path
from typing import Any

import pytest

from sheetlark.bench.document import Document
from sheetlark.design import starter

from .conftest import Served, Watched
from .using import begin, opened, settled, until

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]


def wing_open(page: Any) -> Any:
    page.locator('details[data-path="wing/0"] > summary').click()
    return page.locator("#c-wing-0-span")


def test_a_file_broken_in_an_editor_and_mended(served: Served, watched: Watched) -> None:
    file = begin(served)
    page = opened(watched, served)
    span = wing_open(page)
    good = file.read_text("utf-8")
    file.write_text(
        good.replace("span = 640", "span = 640\nspann = 3").replace("[model]", "[model]\nsize = 4"), "utf-8"
    )
    page.locator("#notice", has_text="'spann' is not a known key").wait_for()
    assert "'size' is not a known key" in page.locator("#notice").inner_text()
    assert "cannot be worked out as it stands" in page.locator("#panel .state").inner_text()
    assert (
        page.locator('svg[data-view="top"] .skin').count() > 0
    )  # the last that could be read is still drawn
    file.write_text(good.replace("span = 640", "span = 650"), "utf-8")
    until(page, lambda: span.input_value() == "650")
    settled(page)
    assert "known key" not in page.locator("#notice").inner_text()
    page.locator("#undo").click()
    until(page, lambda: "spann" in file.read_text("utf-8"))  # what the editor wrote is in the history as well


def test_a_file_that_was_never_a_design_says_what_is_wrong(served: Served, watched: Watched) -> None:
    file = served.folder / "broken.toml"
    file.write_text(starter("dunnock").replace("span = 640", "spann = 640"), "utf-8")
    page = watched.page
    page.goto(served.address)
    page.get_by_role("heading", name="This file cannot be read as a design yet").wait_for()
    assert "did you mean 'span'" in page.locator("#room").inner_text()
    assert page.locator(".board").is_hidden()
    for room in ("Weights", "Plans", "Log"):
        page.get_by_role("link", name=room).click()
        page.locator("#room h2", has_text=room).wait_for()  # else the room before it answers for it
        page.locator("#room .refusal", has_text="did you mean 'span'").first.wait_for()
        assert page.get_by_text("Working it out …").count() == 0
    page.get_by_role("link", name="Shape").click()
    file.write_text(starter("dunnock"), "utf-8")
    page.locator(".board svg.view").first.wait_for()
    settled(page)


def test_a_file_that_goes_and_one_made_read_only(served: Served, watched: Watched) -> None:
    file = begin(served)
    page = opened(watched, served)
    span = wing_open(page)
    file.unlink()
    page.locator("#notice", has_text="has gone from the folder").wait_for()
    span.fill("660")
    span.press("Enter")
    page.locator(".last", has_text="span").wait_for()
    assert "span = 660" in file.read_text("utf-8")
    until(page, lambda: "has gone" not in page.locator("#notice").inner_text())

    file.chmod(0o444)
    page.wait_for_timeout(700)  # the bench looks at the file twice a second
    span.fill("680")
    span.press("Enter")
    page.locator("#c-wing-0-span-fault", has_text="is read-only").wait_for()
    assert "span = 660" in file.read_text("utf-8")
    page.locator("#undo").click()
    page.get_by_text("is read-only").first.wait_for()
    assert "span = 660" in file.read_text("utf-8")
    file.chmod(0o644)
    page.wait_for_timeout(700)
    span.fill("690")
    span.press("Enter")
    until(page, lambda: "span = 690" in file.read_text("utf-8"))


def test_a_full_disk_loses_no_edit_that_was_kept(served: Served, watched: Watched) -> None:
    """The bench may write no file beyond a size: as on a full disk, part of a line is taken and the rest refused."""
    file = begin(served)
    page = opened(watched, served)
    span = wing_open(page)
    span.fill("660")
    span.press("Enter")
    page.locator(".last", has_text="span").wait_for()
    until(page, lambda: "span = 660" in file.read_text("utf-8"))
    journal = served.folder / ".dunnock.toml.journal"
    page.wait_for_timeout(300)
    kept = journal.read_bytes()
    assert served.process is not None
    no_limit = resource.prlimit(served.process.pid, resource.RLIMIT_FSIZE)
    resource.prlimit(served.process.pid, resource.RLIMIT_FSIZE, (len(kept) + 20, no_limit[1]))
    span.fill("680")
    span.press("Enter")
    page.locator("#c-wing-0-span-fault", has_text="cannot be written").wait_for()
    assert "the edit is not kept" in page.locator("#c-wing-0-span-fault").inner_text()
    assert "span = 660" in file.read_text("utf-8")
    assert journal.read_bytes() == kept  # no torn line that would hide what comes after it
    resource.prlimit(served.process.pid, resource.RLIMIT_FSIZE, no_limit)
    span.fill("690")
    span.press("Enter")
    until(page, lambda: "span = 690" in file.read_text("utf-8"))
    served.kill()
    watched.faults.clear()  # a line that breaks is what this is about
    document = Document(file)
    assert "span = 690" in document.text
    document.undo()
    document.undo()
    assert document.text == starter("dunnock")
    document.close()


def test_the_page_says_that_the_bench_is_gone_and_goes_on_when_it_is_back(
    browser: Any, tmp_path: Path, hatchery: str
) -> None:
    folder, runtime = tmp_path / "project", tmp_path / "runtime"
    folder.mkdir()
    runtime.mkdir(mode=0o700)
    served = Served(folder, hatchery, runtime, cold=True)
    try:
        file = begin(served)
        watched = Watched(browser, served)
        page = opened(watched, served)
        span = wing_open(page)
        span.fill("660")
        span.press("Enter")
        page.locator(".last", has_text="span").wait_for()
        address = served.address
        served.kill()
        page.locator("#notice", has_text="The bench does not answer").wait_for()
        span.fill("680")
        span.press("Enter")
        page.locator("#c-wing-0-span-fault", has_text="no line to the bench").wait_for()
        served.stop()
        served.start()
        assert served.address == address
        page.locator("body:not(.cut-off)").wait_for()
        assert "does not answer" not in page.locator("#notice").inner_text()
        settled(page)
        span.fill("690")
        span.press("Enter")
        until(page, lambda: "span = 690" in file.read_text("utf-8"))
        page.locator("#undo").click()
        until(page, lambda: "span = 660" in file.read_text("utf-8"))
        watched.context.close()
    finally:
        served.stop()


def test_a_bench_at_another_address_is_not_taken_for_the_same(served: Served, watched: Watched) -> None:
    begin(served)
    page = opened(watched, served)
    port = served.origin.rsplit(":", 1)[1]
    served.kill()
    served.stop()
    served.start(port=int(port))  # without a place to keep it, the secret is a new one
    page.locator("#notice", has_text="started anew under another address").wait_for()
    watched.faults.clear()
