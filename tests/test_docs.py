"""Every page of the documentation links to pages that are there."""

import re
from pathlib import Path

import pytest

DOCS = Path(__file__).parent.parent / "docs"


@pytest.mark.parametrize("page", sorted(DOCS.glob("*.md")), ids=lambda p: p.name)
def test_linked_files_are_there(page):
    for target in re.findall(r"\]\(([^)#\s]+)\)", page.read_text("utf-8")):
        if "://" not in target:
            assert (DOCS / target).exists(), target


def test_every_page_is_listed():
    listed = set(re.findall(r"\]\(([a-z-]+\.md)\)", (DOCS / "README.md").read_text("utf-8")))
    there = {p.name for p in DOCS.glob("*.md")} - {"README.md"}
    assert there == listed


def test_every_module_of_the_trace_room_has_its_place_in_its_map():
    """Nobody finds his way among fifty modules without a map; a map that lacks some misleads."""
    words = (DOCS / "trace.md").read_text("utf-8").partition("### Where it is done")[2].partition("\n## ")[0]
    floors = re.split(r"\| \*\*`(\w+)/`\*\*", words)
    mapped = {
        (floor, name)
        for floor, told in zip(["", *floors[1::2]], floors[::2], strict=True)
        for name in re.findall(r"`(\w+\.py)`", told)
    }
    room = DOCS.parent / "src" / "sheetlark" / "trace"
    there = {
        (f.parent.name if f.parent != room else "", f.name)
        for f in room.rglob("*.py")
        if f.name != "__init__.py"
    }
    assert mapped == there
