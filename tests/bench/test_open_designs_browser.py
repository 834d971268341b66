"""Several designs open at once: each keeps its undo, what was chosen and what was typed."""

from __future__ import annotations

from typing import Any

import pytest

from sheetlark.design import starter

from .conftest import Served, Watched
from .using import begin, opened, settled, until

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]


def bring(page: Any, name: str) -> None:
    """Open another design of the folder beside those that are open."""
    page.get_by_role("button", name="Open …").click()
    page.locator(".shelf").get_by_role("button", name=name, exact=True).click()
    page.locator(f".open-designs [aria-current]:text-is('{name}')").wait_for()
    settled(page)


def go_to(page: Any, name: str) -> None:
    page.locator(".open-designs").get_by_role("button", name=name, exact=True).click()
    page.locator(f".open-designs [aria-current]:text-is('{name}')").wait_for()
    settled(page)


def span_to(page: Any, mm: str) -> None:
    page.locator("#c-wing-0-span").fill(mm)
    page.locator("#c-wing-0-span").press("Enter")
    page.locator(".last", has_text="span").wait_for()


def test_two_designs_each_with_their_own_undo(served: Served, watched: Watched) -> None:
    one, two = begin(served, "dunnock"), begin(served, "turnstone")
    page = opened(watched, served)
    page.locator('details[data-path="wing/0"] > summary').click()
    span_to(page, "700")
    bring(page, "turnstone")
    assert page.locator("#undo").is_disabled()
    was = page.locator("#c-wing-0-span").input_value()
    span_to(page, "720")
    go_to(page, "dunnock")
    assert page.locator("#c-wing-0-span").input_value() == "700"
    page.locator("#undo").click()
    until(page, lambda: one.read_text("utf-8") == starter("dunnock"))
    assert "720" in two.read_text("utf-8")
    go_to(page, "turnstone")
    assert page.locator("#c-wing-0-span").input_value() == "720"
    page.locator("#undo").click()
    until(page, lambda: page.locator("#c-wing-0-span").input_value() == was)


def test_what_was_chosen_typed_and_drawn_closer_comes_back(served: Served, watched: Watched) -> None:
    begin(served, "dunnock")
    begin(served, "turnstone")
    page = opened(watched, served)
    page.locator('svg[data-view="side"] .skin.tailplane').first.dispatch_event("pointerdown", {"button": 0})
    side = page.locator('svg[data-view="side"]')
    whole = side.get_attribute("viewBox")
    side.focus()
    page.keyboard.press("+")
    until(page, lambda: side.get_attribute("viewBox") != whole)
    near = side.get_attribute("viewBox")
    bring(page, "turnstone")
    assert page.locator(".skin.chosen").count() == 0
    page.get_by_role("link", name="Log").click()
    page.locator("#log-mass").fill("123")
    page.get_by_text("What did it do that was not promised?").click()
    page.locator("#seen-0").check()
    go_to(page, "dunnock")
    page.get_by_role("heading", name="Log").wait_for()
    until(page, lambda: page.locator("#log-mass").input_value() == "")
    go_to(page, "turnstone")
    until(page, lambda: page.locator("#log-mass").input_value() == "123")
    assert page.locator("#seen-0").is_checked()
    # Written down, it is no longer something that was only typed.
    page.locator("#seen-0").uncheck()
    page.get_by_role("button", name="Write it down").first.click()
    page.get_by_text("123.0 g").first.wait_for()
    until(page, lambda: page.locator("#log-mass").input_value() == "")
    page.get_by_role("link", name="Shape").click()
    go_to(page, "dunnock")
    assert page.locator(".skin.tailplane.chosen").count() > 0
    until(page, lambda: page.locator('svg[data-view="side"]').get_attribute("viewBox") == near)


def test_going_between_them_by_keys_and_closing(served: Served, watched: Watched) -> None:
    begin(served, "dunnock")
    begin(served, "turnstone")
    page = opened(watched, served)
    bring(page, "turnstone")
    strip = page.locator(".open-designs")
    strip.get_by_role("button", name="turnstone", exact=True).focus()
    for _ in range(2):
        page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    page.locator(".open-designs [aria-current]:text-is('dunnock')").wait_for()
    settled(page)
    assert page.evaluate("document.activeElement.dataset.design") == "dunnock.toml"
    page.keyboard.press("ArrowRight")
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "Close dunnock"
    page.keyboard.press("Enter")
    page.locator(".open-designs [aria-current]:text-is('turnstone')").wait_for()
    settled(page)
    assert strip.locator("li").count() == 1
    page.get_by_role("button", name="Close turnstone").click()
    page.get_by_role("heading", name="Open a design").wait_for()
    assert page.locator("#undo").is_disabled()
    # A design that is closed can be opened elsewhere: its journal is let go.
    from sheetlark.bench.document import Document

    Document(served.folder / "turnstone.toml").close()
    page.locator(".shelf").get_by_role("button", name="dunnock", exact=True).click()
    settled(page)


def test_an_open_design_says_that_it_has_a_fault_while_another_is_shown(
    served: Served, watched: Watched
) -> None:
    file = begin(served, "dunnock")
    begin(served, "turnstone")
    page = opened(watched, served)
    bring(page, "turnstone")
    good = file.read_text("utf-8")
    file.write_text(good.replace("span = 640", "span = 640 nonsense"), encoding="utf-8")
    strip = page.locator(".open-designs")
    strip.locator("li", has_text="dunnock").get_by_text("has a fault").wait_for()
    file.write_text(good, encoding="utf-8")
    strip.get_by_text("has a fault").wait_for(state="detached")


def test_a_file_that_cannot_be_read_shows_nothing_of_the_design_before_it(
    served: Served, watched: Watched
) -> None:
    begin(served, "turnstone")
    (served.folder / "unread.toml").write_text(
        starter("dunnock").replace("span = 640", "spann = 640"), encoding="utf-8"
    )
    page = opened(watched, served)
    page.get_by_role("button", name="Open …").click()
    page.locator(".shelf").get_by_role("button", name="unread", exact=True).click()
    page.get_by_role("heading", name="This file cannot be read as a design yet").wait_for()
    assert page.locator(".board").is_hidden()
    assert page.locator("#c-wing-0-span").is_hidden()
    go_to(page, "turnstone")
    page.locator(".board svg.view").first.wait_for()


def test_several_designs_on_a_phone(browser: Any, served: Served) -> None:
    for name in ("brambling", "dunnock", "turnstone"):
        begin(served, name)
    phone = Watched(browser, served, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page = opened(phone, served)
    for name in ("dunnock", "turnstone"):
        bring(page, name)
    assert page.evaluate("document.documentElement.scrollWidth") <= 391
    current = page.locator(".open-designs [aria-current]").bounding_box()
    assert current["x"] >= 0
    assert current["x"] + current["width"] <= 390
    # Measured at one go: the head is drawn anew when a figure arrives, and a button asked for later would be gone.
    boxes = page.locator("#head button:visible").evaluate_all(
        "buttons => buttons.map((b) => b.getBoundingClientRect()).map((r) => [r.width, r.height])"
    )
    assert len(boxes) > 3
    assert min(height for _, height in boxes) >= 43.9
    assert min(width for width, _ in boxes) >= 24
    go_to(page, "brambling")
    page.reload()
    settled(page)
    assert page.locator(".open-designs li").count() == 3
    assert page.locator(".open-designs [aria-current]").inner_text() == "brambling"
    phone.context.close()
    assert phone.faults == []
