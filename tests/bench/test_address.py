"""The address a bench had last: kept for its own person alone, and only where the system has a place for it."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from sheetlark.bench.address import Address, keep_address, last_address


@pytest.fixture
def runtime(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    place = tmp_path / "runtime"
    place.mkdir(mode=0o700)
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(place))
    return place


def test_it_comes_back_for_its_folder_and_no_other(runtime: Path, tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    address = Address.fresh(40123)
    keep_address(one, address)
    assert last_address(one) == address
    assert last_address(two) is None
    newer = Address.fresh(40124)
    keep_address(one, newer)
    assert last_address(one) == newer
    assert {address.key, address.token}.isdisjoint({newer.key, newer.token})


def test_nobody_else_can_read_it_and_one_that_could_be_read_is_not_trusted(
    runtime: Path, tmp_path: Path
) -> None:
    keep_address(tmp_path, Address.fresh(40123))
    [file] = (runtime / "sheetlark").iterdir()
    assert file.stat().st_mode & 0o777 == 0o600
    assert file.parent.stat().st_mode & 0o777 == 0o700
    file.chmod(0o644)
    assert last_address(tmp_path) is None


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        '{"port": 1}',
        json.dumps({"port": 0, "key": "k" * 32, "token": "t" * 32}),
        json.dumps({"port": 40123, "key": "short", "token": "t" * 32}),
    ],
)
def test_what_is_no_address_is_none(runtime: Path, tmp_path: Path, text: str) -> None:
    keep_address(tmp_path, Address.fresh(40123))
    [file] = (runtime / "sheetlark").iterdir()
    file.write_text(text, "utf-8")
    assert last_address(tmp_path) is None


def test_without_a_place_nothing_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("XDG_RUNTIME_DIR", raising=False)
    keep_address(tmp_path, Address.fresh(40123))
    assert last_address(tmp_path) is None
    assert os.listdir(tmp_path) == []  # noqa: PTH208 - hidden files count
