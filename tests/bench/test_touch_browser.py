"""Fingers in a real browser: two of them bring a drawing closer, and neither moves anything meanwhile."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from sheetlark.design import starter

from .conftest import Served, Watched
from .drawn import three_view
from .using import begin, opened, until

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]
Place = tuple[float, float]


class Fingers:
    """Touches as the browser gets them from a screen."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.line = page.context.new_cdp_session(page)

    def _send(self, kind: str, places: list[Place]) -> None:
        points = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(places)]
        self.line.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    def pinch(self, start: tuple[Place, Place], end: tuple[Place, Place], *, steps: int = 8) -> None:
        """One finger down, then the other; both move; both up."""
        self._send("touchStart", [start[0]])
        self._send("touchStart", list(start))
        for k in range(1, steps + 1):
            t = k / steps
            self._send(
                "touchMove",
                [
                    (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]))
                    for a, b in zip(start, end, strict=True)
                ],
            )
            self.page.wait_for_timeout(30)
        self._send("touchEnd", [])

    def stroke(self, start: Place, end: Place, *, steps: int = 8) -> None:
        """One finger along a line."""
        self._send("touchStart", [start])
        for k in range(1, steps + 1):
            t = k / steps
            self._send(
                "touchMove", [(start[0] + t * (end[0] - start[0]), start[1] + t * (end[1] - start[1]))]
            )
            self.page.wait_for_timeout(30)
        self._send("touchEnd", [])


@pytest.fixture
def phone(browser: Any, served: Served) -> Iterator[Watched]:
    watched = Watched(browser, served, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    yield watched
    watched.context.close()
    assert watched.faults == []


def shown(svg: Any) -> tuple[float, float, float]:
    """What a drawing shows: its left and top edge, and how much of it lies under a pixel of the screen."""
    x, y, width, _ = (float(v) for v in svg.get_attribute("viewBox").split())
    return x, y, width / float(svg.bounding_box()["width"])


def under(svg: Any, place: Place) -> Place:
    """What point of a drawing lies under a place of the screen."""
    found = svg.evaluate(
        "(svg, [x, y]) => { const p = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM().inverse()); return [p.x, p.y]; }",
        list(place),
    )
    return float(found[0]), float(found[1])


def test_two_fingers_bring_a_view_closer_and_move_nothing(served: Served, phone: Watched) -> None:
    file = begin(served)
    page = opened(phone, served)
    side = page.locator('svg[data-view="side"]')
    side.scroll_into_view_if_needed()
    page.wait_for_timeout(300)
    whole = shown(side)
    grip = page.locator('svg[data-view="side"] .handle.pack .grip').bounding_box()
    x, y = grip["x"] + grip["width"] / 2, grip["y"] + grip["height"] / 2
    apart = 30.0
    # The first finger lands on the battery's handle, as a finger does: still nothing of the model moves.
    middle = (x + apart, y)
    kept = under(side, middle)
    scrolled = page.evaluate("scrollY")
    Fingers(page).pinch(((x, y), (x + 2 * apart, y)), ((x - 60, y), (x + 2 * apart + 60, y)))
    until(page, lambda: shown(side)[2] < 0.45 * whole[2])
    assert shown(side)[2] == pytest.approx(whole[2] * apart / (apart + 60), rel=0.12)
    now = under(side, middle)
    assert now[0] == pytest.approx(kept[0], abs=4 * whole[2])  # what lay between the fingers lies there still
    page.wait_for_timeout(400)
    assert file.read_text("utf-8") == starter("dunnock")
    assert page.locator("#undo").is_disabled()
    assert page.evaluate("[visualViewport.scale, scrollY]") == [1, scrolled]  # the page itself stayed
    Fingers(page).pinch(((x - 20, y), (x + 180, y)), ((x + 70, y), (x + 90, y)))
    until(page, lambda: shown(side)[2] == pytest.approx(whole[2], rel=0.02))


def test_two_fingers_up_and_down_do_not_scroll_the_page(served: Served, phone: Watched) -> None:
    begin(served)
    page = opened(phone, served)
    top = page.locator('svg[data-view="top"]')
    page.wait_for_timeout(300)
    box = top.bounding_box()
    whole = shown(top)[2]
    x, y = box["x"] + box["width"] - 40, box["y"] + box["height"] / 2
    scrolled = page.evaluate("scrollY")
    Fingers(page).pinch(((x, y - 20), (x, y + 20)), ((x, y - 70), (x, y + 70)))
    until(page, lambda: shown(top)[2] < 0.6 * whole)
    assert page.evaluate("scrollY") == scrolled


def test_two_fingers_on_the_light_box_draw_no_node(served: Served, phone: Watched) -> None:
    begin(served)
    (served.folder / "three-view.png").write_bytes(three_view())
    page = opened(phone, served, "Picture")
    page.locator("#picture-pick").select_option("three-view.png")
    page.locator(".lightbox image[href]").wait_for(state="attached", timeout=30_000)
    page.get_by_role("button", name="Draw outline").click()
    svg = page.locator(".lightbox")
    svg.scroll_into_view_if_needed()
    page.wait_for_timeout(400)
    box = svg.bounding_box()
    whole = shown(svg)[2]
    x, y = box["x"] + box["width"] / 2, box["y"] + min(box["height"], 500) / 2
    Fingers(page).pinch(((x - 20, y), (x + 20, y)), ((x - 80, y), (x + 80, y)))
    until(page, lambda: shown(svg)[2] < 0.5 * whole)
    page.wait_for_timeout(300)
    assert page.locator(".lightbox .dot-node").count() == 0
    assert page.locator("#mark-undo").is_disabled()


def test_two_fingers_bring_the_model_closer_and_one_moves_the_page(served: Served, phone: Watched) -> None:
    begin(served)
    page = opened(phone, served)
    canvas = page.locator(".third-view canvas")
    canvas.scroll_into_view_if_needed()
    page.wait_for_timeout(300)
    box = canvas.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    scrolled = page.evaluate("scrollY")
    fingers = Fingers(page)
    fingers.pinch(((x - 20, y), (x + 20, y)), ((x - 50, y), (x + 50, y)))
    until(page, lambda: float(canvas.get_attribute("data-near") or 1) == pytest.approx(2.5, rel=0.15))
    assert page.evaluate("scrollY") == scrolled
    fingers.stroke((x, y + 60), (x, y - 120))
    until(page, lambda: page.evaluate("scrollY") > scrolled + 40)
