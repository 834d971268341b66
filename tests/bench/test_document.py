"""The document: its text is the truth, nothing is lost, nobody clobbers anybody."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import IO

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sheetlark.bench.document import Document
from sheetlark.bench.journal import Splice
from sheetlark.design import loads, starter
from sheetlark.errors import DesignError


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "mine.toml"
    path.write_text(starter("dunnock"), encoding="utf-8")
    return path


def span(document: Document) -> float:
    return round(1e3 * loads(document.text).wing[0].span, 6)


@given(st.text(max_size=60), st.text(max_size=60))
def test_a_splice_walks_both_ways(before: str, after: str) -> None:
    splice = Splice.between(before, after, "")
    assert splice.do(before) == after
    assert splice.undo(after) == before
    assert len(splice.old) <= len(before)


def test_an_edit_keeps_every_comment_and_undoes_to_the_same_bytes(file: Path) -> None:
    before = file.read_bytes()
    d = Document(file)
    d.edit({("wing", 0, "span"): 700})
    after = file.read_text("utf-8")
    assert after.count("#") == before.decode().count("#")
    assert [a for a, b in zip(before.decode().splitlines(), after.splitlines(), strict=True) if a != b] == [
        "span = 640"
    ]
    assert d.undo() == "wing 1, span"
    assert file.read_bytes() == before
    d.redo()
    assert file.read_text("utf-8") == after


def test_undo_has_no_end_and_survives_closing(file: Path) -> None:
    before = file.read_text("utf-8")
    d = Document(file)
    for i in range(60):
        d.edit({("wing", 0, "span"): 500 + i})
    d.close()
    d = Document(file)
    assert d.steps == (60, 60)
    for _ in range(60):
        d.undo()
    assert d.text == before == file.read_text("utf-8")
    d.close()
    d = Document(file)
    for _ in range(60):
        d.redo()
    assert span(d) == 559
    assert d.redo() == ""


def test_an_edit_after_undo_drops_what_could_be_redone(file: Path) -> None:
    d = Document(file)
    d.edit({("wing", 0, "span"): 700})
    d.edit({("wing", 0, "span"): 710})
    d.undo()
    d.edit({("wing", 0, "span"): 720})
    assert d.redo_label == ""
    d.undo()
    assert span(d) == 700


def test_an_impossible_value_changes_nothing(file: Path) -> None:
    d = Document(file)
    before, steps = file.read_bytes(), d.steps
    with pytest.raises(DesignError, match=r"wing 1, span: expected a length from 30 mm to 4 m, read '9 m'"):
        d.edit({("wing", 0, "span"): "9 m"})
    assert file.read_bytes() == before
    assert d.steps == steps


def test_an_outside_edit_is_taken_in_and_can_be_undone(file: Path) -> None:
    d = Document(file)
    d.edit({("wing", 0, "span"): 700})
    file.write_text(d.text.replace("incidence = 2 ", "incidence = 3 "), encoding="utf-8")
    assert d.look()
    assert "edited outside" in d.notice
    d.edit({("wing", 0, "dihedral"): 7})  # lands on the text as the editor left it
    text = file.read_text("utf-8")
    assert "span = 700" in text
    assert "incidence = 3 " in text
    assert "dihedral = 7" in text
    d.undo()
    assert d.undo() == "edited outside the bench"
    assert "incidence = 2 " in d.text


def test_an_outside_edit_that_breaks_the_design_keeps_the_last_one_that_could_be_read(file: Path) -> None:
    d = Document(file)
    file.write_text(d.text.replace("span = 640", "span = oops"), encoding="utf-8")
    assert d.look()
    assert d.design is not None
    assert "not a TOML text" in d.fault
    file.write_text(starter("dunnock"), encoding="utf-8")
    assert d.look()
    assert d.fault == ""


def test_an_edit_meant_for_a_list_that_changed_is_refused(file: Path) -> None:
    d = Document(file)
    looked_at = d.revision
    d.edit({("ballast", 0, "mass"): "10 g", ("ballast", 0, "at"): [10, 0, 0]})
    d.edit({("ballast", 1, "mass"): "20 g", ("ballast", 1, "at"): [20, 0, 0], ("ballast", 1, "name"): "tail"})
    both = d.revision
    d.edit({("ballast", 0): None})
    with pytest.raises(DesignError, match="were added or taken away meanwhile"):
        d.edit({("ballast", 0, "mass"): "1 g"}, since=both)
    d.edit({("model", "name"): "Mine"}, since=looked_at)  # no list is meant: it lands
    assert loads(d.text).ballast[0].name == "tail"


def test_a_second_bench_on_the_same_design_is_refused(file: Path) -> None:
    d = Document(file)
    with pytest.raises(DesignError, match=r"another bench has mine\.toml open"):
        Document(file)
    d.close()
    Document(file).close()


def test_a_torn_last_line_of_the_journal_is_as_if_never_begun(file: Path) -> None:
    d = Document(file)
    d.edit({("wing", 0, "span"): 700})
    d.close()
    journal = file.with_name(".mine.toml.journal")
    with journal.open("ab") as out:
        out.write(b'0badf00d {"is":"edit","at":1,"ol')
    d = Document(file)
    assert span(d) == 700
    d.edit({("wing", 0, "span"): 710})
    d.close()
    assert Document(file).steps == (2, 2)


def test_a_save_cut_short_is_finished_on_opening(file: Path) -> None:
    d = Document(file)
    before = file.read_text("utf-8")
    d.edit({("wing", 0, "span"): 700})
    d.close()
    journal = file.with_name(".mine.toml.journal")
    lines = journal.read_bytes().splitlines(keepends=True)
    assert b'"saved"' in lines[-1]
    journal.write_bytes(b"".join(lines[:-1]))  # killed after the journal was written,
    file.write_text(before, encoding="utf-8")  # before the file was
    d = Document(file)
    assert span(d) == 700
    assert "span = 700" in file.read_text("utf-8")
    assert "saved now" in d.notice


def test_a_journal_that_does_not_fit_is_set_aside(file: Path) -> None:
    journal = file.with_name(".mine.toml.journal")
    journal.write_bytes(b"rubbish\n" * 20)
    d = Document(file)
    assert d.steps == (0, 0)
    d.edit({("wing", 0, "span"): 700})
    assert journal.with_suffix(".journal-unread").read_bytes().startswith(b"rubbish")


_WRITER = """
import sys
from pathlib import Path
from typing import IO
from sheetlark.bench.document import Document
d = Document(Path(sys.argv[1]))
print("ready", flush=True)
for i in range(100000):
    d.edit({("wing", 0, "span"): 500 + i % 400})
    print(500 + i % 400, flush=True)
"""


@pytest.mark.parametrize("after_s", [0.05, 0.13, 0.31])
def test_killed_at_any_moment_nothing_is_lost_and_nothing_half_written(file: Path, after_s: float) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", _WRITER, str(file)], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        time.sleep(after_s)
        os.kill(process.pid, signal.SIGKILL)
        told = process.stdout.read().split()
    loads(file.read_text("utf-8"))  # whole at the moment of death
    d = Document(file)
    done, _ = d.steps
    assert done >= len(told)  # every edit that was acknowledged is there
    assert file.read_text("utf-8") == d.text
    if told:
        assert span(d) in {float(told[-1]), 500.0 + (done - 1) % 400}
    for _ in range(done):
        d.undo()
    assert file.read_text("utf-8") == starter("dunnock")


def test_a_file_that_cannot_be_written_is_saved_once_it_can(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    d = Document(file)
    before = file.read_text("utf-8")

    def refuse(path: Path, _text: str) -> None:
        raise DesignError(f"{path} cannot be written: no space left")

    monkeypatch.setattr("sheetlark.bench.document.write_text", refuse)
    d.edit({("wing", 0, "span"): 700})
    assert d.unsaved
    assert "kept in the journal" in d.notice
    assert file.read_text("utf-8") == before
    assert not d.look()  # still refused: nothing new to say
    monkeypatch.undo()
    assert d.look()
    assert not d.unsaved
    assert "saved" in d.notice
    assert file.read_text("utf-8") == d.text != before
    assert not d.look()
    d.close()


def test_a_file_made_read_only_is_left_alone(file: Path) -> None:
    d = Document(file)
    d.edit({("wing", 0, "span"): 700})
    kept, journal = file.read_text("utf-8"), file.with_name(f".{file.name}.journal").read_bytes()
    file.chmod(0o444)
    for change in (lambda: d.edit({("wing", 0, "span"): 710}), d.undo, lambda: d.replace(kept + "#\n", "x")):
        with pytest.raises(DesignError, match="read-only; make it writable"):
            change()
    assert file.read_text("utf-8") == d.text == kept
    assert file.with_name(f".{file.name}.journal").read_bytes() == journal
    file.chmod(0o644)
    d.undo()
    assert file.read_text("utf-8") != kept
    d.close()


def test_a_file_that_goes_and_comes_back_is_said_once(file: Path) -> None:
    d = Document(file)
    text = file.read_text("utf-8")
    file.unlink()
    assert d.look()
    assert "has gone" in d.notice
    assert not d.look()
    file.write_text(text, "utf-8")
    assert d.look()
    assert "is back" in d.notice
    file.unlink()
    d.edit({("wing", 0, "span"): 700})
    assert file.read_text("utf-8") == d.text
    d.close()


def test_a_full_disk_tears_no_line_of_the_journal(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    d = Document(file)
    d.edit({("wing", 0, "span"): 700})
    journal = file.with_name(f".{file.name}.journal")
    before = journal.read_bytes()

    def half(handle: IO[bytes], line: bytes) -> None:
        handle.write(line[: len(line) // 2])
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("sheetlark.bench.journal._whole", half)
    with pytest.raises(DesignError, match="the edit is not kept"):
        d.edit({("wing", 0, "span"): 710})
    monkeypatch.undo()
    assert journal.read_bytes() == before
    d.edit({("wing", 0, "span"): 720})
    d.close()
    again = Document(file)
    assert again.steps == (2, 2)
    assert again.text == file.read_text("utf-8")
    again.close()


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=st.lists(st.sampled_from(["edit", "undo", "redo", "outside", "reopen"]), max_size=25))
def test_any_story_keeps_file_journal_and_text_together(tmp_path: Path, steps: list[str]) -> None:
    file = tmp_path / "story.toml"
    file.unlink(missing_ok=True)
    file.with_name(".story.toml.journal").unlink(missing_ok=True)
    file.write_text(starter("turnstone"), encoding="utf-8")
    d = Document(file)
    for i, step in enumerate(steps):
        if step == "edit":
            d.edit({("wing", 0, "span"): 500 + i})
        elif step == "outside":
            file.write_text(file.read_text("utf-8") + f"# note {i}\n", encoding="utf-8")
            d.look()
        elif step == "reopen":
            d.close()
            d = Document(file)
        else:
            getattr(d, step)()
        assert file.read_text("utf-8") == d.text
    for _ in range(d.steps[0]):
        d.undo()
    assert d.text == starter("turnstone")
    d.close()
