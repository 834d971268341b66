"""The pack: the same bytes each time, nothing private in it, and safe to open."""

from __future__ import annotations

import datetime as dt
import getpass
import io
import stat
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.design import load, starter
from sheetlark.errors import DesignError, PackError
from sheetlark.evaluation import evaluate
from sheetlark.handbook import changelog, differences, open_pack, read_pack, write_pack
from sheetlark.logbook import EVERYTHING, CorrectionEntry, FlightEntry, Log, Sighting, Weighing

DAY = dt.date(2026, 5, 17)


def zipped(files: dict[str, bytes], **attributes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:
        for name, content in files.items():
            entry = zipfile.ZipInfo(name)
            entry.compress_type = zipfile.ZIP_DEFLATED
            for key, value in attributes.items():
                setattr(entry, key, value)
            z.writestr(entry, content)
    return out.getvalue()


def test_the_same_design_is_the_same_bytes_in_another_process_and_opens_again(bench, tmp_path):
    """Through the command line, as a builder packs it and the next one opens it."""
    design = tmp_path / "other.toml"
    design.write_text(starter("dunnock"), encoding="utf-8")

    def sheetlark(*args: str) -> None:
        subprocess.run(
            [sys.executable, "-m", "sheetlark", *args], capture_output=True, check=True, cwd=tmp_path
        )

    sheetlark("pack", "other.toml", "-o", "mine.zip")
    assert (tmp_path / "mine.zip").read_bytes() == bench.packed("dunnock")
    sheetlark("unpack", "mine.zip", "-o", "again", "--name", "yours")
    sheetlark("review", "again/yours.toml")


def test_it_holds_everything(bench, tmp_path):
    file = tmp_path / "d.zip"
    file.write_bytes(bench.packed("dunnock"))
    files = read_pack(file)
    for name in (
        "dunnock.toml", "dunnock-handbook-a4.pdf", "dunnock-handbook.html", "LICENCE.txt", "CHANGES.md", "CONTENTS.txt",
        "pictures/dunnock-whole.svg", "plans/dunnock-a4.pdf", "plans/dunnock-parts.csv", "plans/dunnock-sheet-1.dxf",
        "plans/dunnock-sheet-1.svg", "plans/dunnock-gauges-a4.pdf", "plans/dunnock-assembly.pdf",
    ):  # fmt: skip
        assert files[name], name
    for line in files["CONTENTS.txt"].decode().splitlines()[3:]:
        import hashlib

        digest, size, name = line.split()
        assert hashlib.sha256(files[name]).hexdigest() == digest
        assert len(files[name]) == int(size)


def test_nothing_private_is_in_it(bench, tmp_path):
    import pikepdf

    file = tmp_path / "d.zip"
    file.write_bytes(bench.packed("dunnock"))
    user = getpass.getuser().encode()
    with zipfile.ZipFile(file) as z:
        for entry in z.infolist():
            assert entry.date_time == (1980, 1, 1, 0, 0, 0)
            content = z.read(entry)
            streams = [content]
            if entry.filename.endswith(".pdf"):
                with pikepdf.open(io.BytesIO(content)) as pdf:
                    streams += [
                        o.read_bytes()
                        for o in pdf.objects
                        if isinstance(o, pikepdf.Stream) and "/FontFile2" not in o
                    ]
                    assert str(pdf.docinfo.get("/Author", "Sheetlark")) == "Sheetlark"
            for secret in (
                b"/home/",
                b"/tmp/",
                b"somebody",
                str(Path.cwd()).encode(),
                *([user] if len(user) > 4 else []),
            ):
                assert not any(secret in s for s in streams if len(s) < 5_000_000), (entry.filename, secret)


def test_it_opens_again_as_a_starting_point(bench, tmp_path):
    file = tmp_path / "d.zip"
    file.write_bytes(bench.packed("dunnock"))
    opened = open_pack(file, tmp_path / "mine", name="My bird")
    assert opened.design.name == "my-bird.toml"
    assert load(opened.design).model.name == "Dunnock"
    assert opened.design.read_text("utf-8") == starter("dunnock")
    with pytest.raises(PackError, match="is there already"):
        open_pack(file, tmp_path / "mine", name="My bird")
    open_pack(file, tmp_path / "mine", name="My bird", force=True)


def test_the_next_pack_says_what_changed_and_a_name_of_any_kind_makes_a_file_name(bench, tmp_path):
    file = tmp_path / "d.zip"
    file.write_bytes(bench.packed("dunnock"))
    opened = open_pack(file, tmp_path)
    text = opened.design.read_text("utf-8")
    assert "dihedral = 6" in text
    text = text.replace("dihedral = 6", "dihedral = 7")
    text = text.replace('name = "Dunnock"', 'name = "Ä <b>/..\\\\ & \\"x\\""')
    opened.design.write_text(text, encoding="utf-8")
    again = read_pack(write_pack(evaluate(load(opened.design)), tmp_path / "e.zip", papers=("a4",)))
    changes = again["CHANGES.md"].decode()
    assert "wing 1, dihedral: 6 became 7" in changes
    assert "First pack of this design" in changes  # what was said before is kept
    assert any(f.endswith("-handbook.html") for f in again)
    assert not any(".." in f or "<" in f or "\\" in f for f in again)


def test_the_changelog_tells_weights_flights_and_corrections_but_no_notes(bench):
    log = Log(
        weighings=(Weighing(date=DAY, what=(EVERYTHING,), mass_kg=0.25, note="secret"),),
        flights=(FlightEntry(date=DAY, seen=(Sighting(symptom="dips on launch"),), note="at home"),),
        corrections=(CorrectionEntry(date=DAY, cause="balance", amount=-0.004),),
    )
    text = changelog(bench.evaluated("dunnock"), log)
    for words in ("ready to fly, 250.0 g", "dips on launch", "-4.0 mm"):
        assert words in text
    assert "secret" not in text
    assert "at home" not in text


def test_differences_are_named_by_place():
    old = '[a]\nb = 1\nc = 2\n[[w]]\ns = "x"\n'
    new = '[a]\nb = 1\nd = 3\n[[w]]\ns = "y"\n[[w]]\ns = "z"\n'
    assert differences(old, new) == (
        "a, c: 2 left out",
        "a, d: 3 added",
        "w 1, s: x became y",
        "w 2, s: z added",
    )
    assert differences("= =", new) == ()


@pytest.mark.parametrize(
    "name",
    [
        "../evil.toml",
        "/etc/evil.toml",
        "a/../../evil.toml",
        "..\\evil.toml",
        "C:evil.toml",
        "a//b.toml",
        "./a.toml",
    ],
)
def test_names_that_lead_out_are_refused(tmp_path, name):
    file = tmp_path / "x.zip"
    file.write_bytes(zipped({name: b"x", "d.toml": starter("dunnock").encode()}))
    if zipfile.ZipFile(file).namelist()[0] != name:
        pytest.skip("the writer itself mends this name")
    with pytest.raises(PackError, match="leads out of its folder"):
        open_pack(file, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_links_doubles_and_bombs_are_refused(tmp_path):
    file = tmp_path / "x.zip"
    file.write_bytes(
        zipped({"d.toml": b"/etc/passwd"}, external_attr=(stat.S_IFLNK | 0o777) << 16, create_system=3)
    )
    with pytest.raises(PackError, match="is a link"):
        read_pack(file)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as z:
        z.writestr("d.toml", "a")
        with pytest.warns(UserWarning, match="Duplicate"):
            z.writestr("d.toml", "b")
    file.write_bytes(out.getvalue())
    with pytest.raises(PackError, match="is there twice"):
        read_pack(file)
    file.write_bytes(zipped({"d.toml": b"\0" * 50_000_000}))
    assert file.stat().st_size < 100_000
    with pytest.raises(PackError, match="unpacks to more than a pack may hold"):
        read_pack(file)
    file.write_bytes(zipped({f"{k}.bin": b"\0" * 39_000_000 for k in range(6)}))
    with pytest.raises(PackError, match="unpacks to more than a pack may hold"):
        read_pack(file)
    file.write_bytes(zipped({f"{k}": b"" for k in range(401)}))
    with pytest.raises(PackError, match="holds 401 files"):
        read_pack(file)


def test_a_size_that_lies_is_not_believed(tmp_path):
    raw = bytearray(zipped({"d.toml": b"\0" * 45_000_000}))
    size = (45_000_000).to_bytes(4, "little")
    place = raw.rfind(size)
    raw[place : place + 4] = (10).to_bytes(4, "little")  # the directory says ten bytes
    file = tmp_path / "x.zip"
    file.write_bytes(bytes(raw))
    with pytest.raises(PackError):
        read_pack(file)


def test_what_is_no_pack_is_said_to_be_none(tmp_path):
    file = tmp_path / "x.zip"
    with pytest.raises(PackError, match="there is no file"):
        read_pack(file)
    file.write_bytes(b"not a zip")
    with pytest.raises(PackError, match="is not a pack that can be opened"):
        read_pack(file)
    file.write_bytes(zipped({"a.txt": b"x"}))
    with pytest.raises(PackError, match="holds one design file at its top; this one holds 0"):
        open_pack(file, tmp_path / "out")
    file.write_bytes(zipped({"d.toml": b"[model]\nnme = 3"}))
    with pytest.raises(DesignError, match=r"'nme' is not a known key; did you mean 'name'"):
        open_pack(file, tmp_path / "out")
    assert not (tmp_path / "out").exists()


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300))
def test_no_bytes_break_the_opener(tmp_path_factory, raw):
    file = tmp_path_factory.mktemp("z") / "x.zip"
    file.write_bytes(raw)
    with pytest.raises(PackError):
        read_pack(file)
