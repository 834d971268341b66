"""The Parts room in a real browser: the proof of the parts, clean and with a clash."""

from __future__ import annotations

import pytest

from sheetlark.design import edited, starter

from .conftest import Served, Watched
from .using import begin, opened

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]


def test_parts_are_tried_in_space_and_a_clash_is_named_with_its_cure(
    served: Served, watched: Watched
) -> None:
    file = begin(served)
    page = opened(watched, served, "Parts")
    card = page.locator(".card", has_text="Do they go together?")
    card.get_by_text("Yes. ").wait_for(timeout=60_000)
    assert "pairs of parts" in card.inner_text()
    assert "The closest moving surface is the" in card.inner_text()

    # An editor moves the receiver into the firewall: the room tries again by itself.
    file.write_text(edited(starter("dunnock"), {("radio", "receiver_at"): [14, 0, 0]}), encoding="utf-8")
    card.get_by_text("Not yet. ").wait_for(timeout=60_000)
    clash = card.locator("li", has_text="receiver").first.inner_text()
    assert "runs into" in clash
    assert "Move it" in clash
