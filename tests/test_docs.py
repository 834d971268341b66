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
