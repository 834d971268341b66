"""The page for everybody: what appears only after a press, focus that is seen, motion that can be refused, room for a finger."""

from __future__ import annotations

from typing import Any

import pytest

from sheetlark.design import edited, starter

from .conftest import Served, Watched
from .using import begin, opened, serious, settled, with_axe

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]


def test_no_serious_fault_in_what_comes_after_a_press(browser: Any, served: Served) -> None:
    begin(served, "dunnock")
    text = edited(starter("dunnock"), {("radio", "receiver_at"): [270, 0, -25]})
    (served.folder / "clashing.toml").write_text(text, encoding="utf-8")
    (served.folder / "broken.toml").write_text(text.replace("span = 640", "spann = 640"), encoding="utf-8")
    w = Watched(browser, served, bypass_csp=True)
    page = w.page
    page.goto(served.address)
    page.get_by_role("heading", name="This file cannot be read as a design yet").wait_for()
    with_axe(page)
    found = serious(page, "a broken file")
    page.get_by_role("button", name="Open …").click()
    page.locator("dialog").wait_for()
    found += serious(page, "the dialog")
    page.locator(".shelf").get_by_role("button", name="clashing").click()
    settled(page)
    page.get_by_role("link", name="Parts").click()
    page.locator(".proof .remedy").wait_for(timeout=60_000)
    found += serious(page, "a clash with its remedy")
    page.get_by_role("link", name="Flight").click()
    page.get_by_role("button", name="Fly it for the first time").click()
    page.locator(".story li").first.wait_for(timeout=120_000)
    found += serious(page, "a flight")
    page.get_by_role("link", name="Log").click()
    page.get_by_text("What did it do that was not promised?").click()
    page.locator("#log-mass").fill("12")
    page.get_by_role("button", name="Write it down").first.click()
    page.get_by_text("12.0 g").first.wait_for()
    found += serious(page, "a logbook with an entry")
    for name in ("broken", "clashing"):
        page.get_by_role("button", name=f"Close {name}").click()
    page.get_by_role("heading", name="Open a design").wait_for()
    found += serious(page, "nothing open")
    w.context.close()
    assert found == []
    assert w.faults == []


FOCUS = """() => {
  const at = document.activeElement;
  if (!at || at === document.body) return null;
  const style = getComputedStyle(at);
  const ring = at.querySelector?.('.touch');
  const seen = (style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2)
    || (ring && getComputedStyle(ring).stroke !== 'none');
  return { seen, html: at.outerHTML.slice(0, 140) };
}"""


def test_what_has_the_keyboard_is_always_seen(served: Served, watched: Watched) -> None:
    begin(served)
    page = opened(watched, served)
    page.locator('svg[data-view="top"] .skin.wing').first.dispatch_event("pointerdown", {"button": 0})
    unseen, stops = [], 0
    for room in ("Shape", "Weights", "Log", "Plans"):
        page.get_by_role("link", name=room).click()
        page.get_by_role("main", name=room).wait_for()
        page.get_by_text("Working it out …").first.wait_for(state="detached")
        page.evaluate("document.activeElement.blur()")
        for _ in range(45):
            page.keyboard.press("Tab")
            at = page.evaluate(FOCUS)
            if at is None:
                break
            stops += 1
            if not at["seen"]:
                unseen.append((room, at["html"]))
    assert stops > 80
    assert unseen == []


def test_motion_can_be_refused(browser: Any, served: Served) -> None:
    begin(served)
    w = Watched(browser, served, reduced_motion="reduce")
    page = opened(w, served)
    moving = page.evaluate(
        """() => [...document.querySelectorAll('*')].filter((n) => { const s = getComputedStyle(n);
           return parseFloat(s.transitionDuration) > 0 || s.animationName !== 'none' || s.scrollBehavior === 'smooth'; }).length"""
    )
    assert moving == 0
    w.context.close()
    assert w.faults == []


SMALL = """() => [...document.querySelectorAll('button, select, input, summary, #rooms a')].flatMap((n) => {
  const b = n.getBoundingClientRect();
  if (!b.width || !b.height || n.closest('.skip') || n.closest('table .scroll')) return [];
  const box = n.type === 'checkbox' ? (n.closest('label') ?? document.querySelector(`label[for="${n.id}"]`) ?? n).getBoundingClientRect() : b;
  return box.height < 37.9 || box.width < 23.9 ? [`${Math.round(box.width)} x ${Math.round(box.height)}: ${n.outerHTML.slice(0, 110)}`] : [];
})"""


def test_everything_is_large_enough_for_a_finger(browser: Any, served: Served) -> None:
    begin(served)
    phone = Watched(browser, served, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page = opened(phone, served)
    page.locator(".panel-head").tap()
    small = page.evaluate(SMALL)
    page.locator(".panel-head").tap()
    for room in ("Shape", "Drive", "Flight", "Plans", "Build", "Log", "Compare"):
        page.get_by_role("link", name=room).click()
        page.get_by_role("main", name=room).wait_for()
        page.get_by_text("Working it out …").first.wait_for(state="detached")
        if room == "Shape":
            page.evaluate("for (const d of document.querySelectorAll('.controls details')) d.open = true")
        small += [f"{room}: {one}" for one in page.evaluate(SMALL)]
    phone.context.close()
    assert small == [], "\n".join(small)
    assert phone.faults == []


RUNS_OVER = """() => [
  ...[...document.querySelectorAll('.scroll')].filter((n) => n.scrollWidth > n.clientWidth + 1).map((n) => `table: ${n.getAttribute('aria-label')}`),
  ...[...document.querySelectorAll('#room button, #room label, #room h3, #room figcaption, #head button')]
    .filter((n) => n.clientWidth && n.scrollWidth > n.clientWidth + 1).map((n) => `clipped: ${n.textContent}`),
  ...(document.documentElement.scrollWidth > innerWidth ? ['the page'] : []),
]"""


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_nothing_runs_over_its_place_at_any_width(served: Served, watched: Watched, units: str) -> None:
    begin(served, "brambling")
    begin(served, "turnstone")
    page = opened(watched, served)
    if units == "imperial":
        page.locator("#units").click()
    over = []
    for room in ("Shape", "Weights", "Drive", "Air", "Strength", "Flight", "Parts", "Log", "Compare"):
        page.get_by_role("link", name=room).click()
        page.get_by_role("main", name=room).wait_for()
        page.get_by_text("Working it out …").first.wait_for(state="detached")
        if room == "Compare":
            page.locator("#with").select_option("fturnstone.toml")
            page.get_by_text("What differs in the design").wait_for(timeout=60_000)
        for width in (1440, 1024, 390):
            page.set_viewport_size({"width": width, "height": 860})
            for _ in range(100):  # the drawing follows a frame later, on a busy machine some frames
                if not (found := page.evaluate(RUNS_OVER)):
                    break
                page.wait_for_timeout(100)
            over += [f"{room}, {width}: {one}" for one in found]
    assert over == [], "\n".join(over)
