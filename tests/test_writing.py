"""A file is there whole, or as it was."""

import os
import stat

import pytest

from sheetlark.writing import write_whole


def test_what_was_there_stays_when_the_writing_breaks_off(tmp_path, monkeypatch):
    file = tmp_path / "kept.toml"
    write_whole(file, b"before")
    monkeypatch.setattr(os, "fsync", lambda _: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(OSError, match="No space left"):
        write_whole(file, b"after")
    assert file.read_bytes() == b"before"
    assert [p.name for p in tmp_path.iterdir()] == ["kept.toml"]


def test_a_link_is_followed_and_permissions_stay(tmp_path):
    real, link = tmp_path / "real.toml", tmp_path / "link.toml"
    real.write_bytes(b"before")
    real.chmod(0o600)
    link.symlink_to(real)
    write_whole(link, b"after")
    assert link.is_symlink()
    assert real.read_bytes() == b"after"
    assert stat.S_IMODE(real.stat().st_mode) == 0o600


def test_a_new_file_can_be_read_by_others(tmp_path):
    file = tmp_path / "new.pdf"
    write_whole(file, b"x")
    assert stat.S_IMODE(file.stat().st_mode) == 0o644
