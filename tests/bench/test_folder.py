"""The project folder: nothing is written outside it."""

from __future__ import annotations

from pathlib import Path

import pytest

from sheetlark.bench.folder import Folder
from sheetlark.design import load, starter
from sheetlark.errors import DesignError


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    inside = tmp_path / "project"
    inside.mkdir()
    return Folder(inside)


@pytest.mark.parametrize(
    "name",
    [
        "../out.toml",
        "/etc/passwd",
        "a/b.toml",
        "..",
        ".hidden.toml",
        "a\\..\\b.toml",
        "",
        "a\0b.toml",
        "x" * 200,
    ],
)
def test_a_name_that_leads_elsewhere_is_refused(folder: Folder, name: str) -> None:
    with pytest.raises(DesignError, match=r"cannot be a file name|leads out of"):
        folder.design_file(name)


def test_a_link_that_leads_out_is_refused_and_not_listed(folder: Folder, tmp_path: Path) -> None:
    outside = tmp_path / "outside.toml"
    outside.write_text(starter("dunnock"), encoding="utf-8")
    (folder.path / "link.toml").symlink_to(outside)
    assert folder.designs() == []
    with pytest.raises(DesignError, match="leads out of the project folder"):
        folder.file("link.toml")


def test_designs_are_listed_even_when_broken_for_the_moment(folder: Folder) -> None:
    (folder.path / "good.toml").write_text(starter("dunnock"), encoding="utf-8")
    (folder.path / "broken.toml").write_text(starter("dunnock") + "\nspan = = 3", encoding="utf-8")
    (folder.path / "pyproject.toml").write_text("[project]\nname = 'x'\n", encoding="utf-8")
    assert folder.designs() == ["broken.toml", "good.toml"]


def test_a_new_design_has_its_own_name_and_never_overwrites(folder: Folder) -> None:
    file = folder.begin("my-first plane", "dunnock")
    assert load(file).model.name == "My first plane"
    with pytest.raises(DesignError, match="is there already"):
        folder.begin("my-first plane", "brambling")
    assert load(folder.begin("second", file.name)).model.name == "Second"


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"\xff\xfe\x00", "not a UTF-8 text"),
        (b"x = 1", "is missing and must be given"),
        (b"[" * 100_000, "not a TOML text"),
        (b"#" * 1_000_001, "at most 1000 kB"),
    ],
)
def test_what_is_no_design_is_not_taken_in(folder: Folder, raw: bytes, words: str) -> None:
    with pytest.raises(DesignError, match=words):
        folder.take_in("sent.toml", raw)
    assert list(folder.path.iterdir()) == []


def test_an_uploaded_name_loses_its_folders(folder: Folder) -> None:
    kept = folder.take_in("C:\\models\\../../mine.toml", starter("dunnock").encode())
    assert kept == folder.path / "mine.toml"
