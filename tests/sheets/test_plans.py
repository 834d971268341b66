import csv
import hashlib
import os
import subprocess
import sys
from pathlib import Path

import pytest

from sheetlark.errors import SheetError
from sheetlark.parts import Kit
from sheetlark.sheets import PrinterScale, part_rows, write_plans
from sheetlark.sheets import plans as plans_module

from .kits import box, make


def names_in(folder):
    return sorted(f.name for f in folder.iterdir())


def digest(files):
    return {f.name: hashlib.sha256(f.read_bytes()).hexdigest() for f in files}


def test_all_kinds_of_files_are_there(plans):
    names = sorted(f.name for f in plans.files)
    assert names == sorted(names_in(plans.folder))
    assert names == [
        "test-biplane-a4.pdf",
        "test-biplane-letter.pdf",
        "test-biplane-parts.csv",
        "test-biplane-parts.md",
        "test-biplane-patterns.pdf",
        "test-biplane-patterns.svg",
        "test-biplane-sheet-1.dxf",
        "test-biplane-sheet-1.svg",
        "test-biplane-sheet-2.dxf",
        "test-biplane-sheet-2.svg",
        "test-biplane-sheets.pdf",
    ]
    assert plans.sheets_used == 2
    assert plans.pages == (13, 13)


def test_same_input_same_bytes(kit, stock, plans, tmp_path):
    again = write_plans(kit, stock, tmp_path, papers=("a4", "letter"))
    assert digest(again.files) == digest(plans.files)


def test_same_bytes_in_another_process_with_another_hash_seed(plans, tmp_path):
    kits = Path(__file__).with_name("kits.py")
    script = (
        "import importlib.util, sys\n"
        f"spec = importlib.util.spec_from_file_location('kits', {str(kits)!r})\n"
        "kits = importlib.util.module_from_spec(spec); spec.loader.exec_module(kits)\n"
        "from sheetlark.sheets import write_plans\nfrom sheetlark.stock import load_stock\n"
        "from pathlib import Path\n"
        "Path(sys.argv[2]).mkdir()\n"
        "write_plans(kits.biplane(), load_stock(Path(sys.argv[2])), sys.argv[1], papers=('a4', 'letter'))\n"
    )
    env = {**os.environ, "PYTHONHASHSEED": "12345", "TZ": "Asia/Tokyo"}
    subprocess.run(
        [sys.executable, "-c", script, str(tmp_path / "out"), str(tmp_path / "stock")], env=env, check=True
    )
    assert digest(sorted((tmp_path / "out").iterdir())) == digest(sorted(plans.files))


def test_writing_again_replaces_and_leaves_nothing_behind(kit, stock, tmp_path):
    other = tmp_path / "notes.txt"
    other.write_text("mine", encoding="utf-8")
    write_plans(kit, stock, tmp_path, papers=("a3",), effort="quick")
    done = write_plans(kit, stock, tmp_path, papers=("a3",), effort="quick")
    assert other.read_text("utf-8") == "mine"
    assert sorted(names_in(tmp_path)) == sorted([*(f.name for f in done.files), "notes.txt"])


def test_no_half_written_plans(kit, stock, tmp_path, monkeypatch):
    """When one format fails nothing is put in place."""

    def broken(*_args, **_kwargs):
        raise SheetError("broken on purpose")

    monkeypatch.setattr(plans_module, "dxf_text", broken)
    with pytest.raises(SheetError, match="on purpose"):
        write_plans(kit, stock, tmp_path, papers=("a4",), effort="quick")
    assert names_in(tmp_path) == []


def test_a_full_disk_is_told_in_words(kit, stock, tmp_path, monkeypatch):
    def full(*_args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(SheetError, match=r"cannot be written to .*No space left on device.* Make room"):
        write_plans(kit, stock, tmp_path, papers=(), effort="quick")
    monkeypatch.undo()
    assert names_in(tmp_path) == []


def test_a_file_in_place_of_the_folder(kit, stock, tmp_path):
    file = tmp_path / "plans"
    file.write_text("", encoding="utf-8")
    with pytest.raises(SheetError, match="is a file; plans go into a folder"):
        write_plans(kit, stock, file)
    with pytest.raises(SheetError, match="cannot be made"):
        write_plans(kit, stock, file / "below")


@pytest.mark.parametrize("name", ["../../etc/passwd", "ÄÖ Ü", "飛行機", "a" * 300, "...", "CON?:*"])
def test_names_of_any_kind_stay_in_the_folder(stock, tmp_path, name):
    kit = Kit(name=name, parts=(make(1, name, box(120, 60)),))
    done = write_plans(kit, stock, tmp_path / "out", papers=("a4",), effort="quick")
    assert all(f.parent == tmp_path / "out" and f.exists() for f in done.files)
    assert names_in(tmp_path) == ["out"]


def test_senseless_kerf(kit, stock, tmp_path):
    for kerf in (-0.1, 6.0, float("nan")):
        with pytest.raises(SheetError, match="kerf"):
            write_plans(kit, stock, tmp_path, kerf_mm=kerf)


def test_kerf_moves_machine_files_and_not_paper(kit, stock, plans, tmp_path):
    done = write_plans(kit, stock, tmp_path, papers=("a4",), kerf_mm=0.3)
    before, after = digest(plans.files), digest(done.files)
    for name, mark in after.items():
        changed = mark != before[name]
        assert changed == (name.endswith(".dxf") or "-sheet-" in name)


def test_a_printers_scale_changes_paper_and_not_machine_files(kit, stock, plans, tmp_path):
    done = write_plans(kit, stock, tmp_path, papers=("a4",), scale=PrinterScale(across=0.986, along=0.991))
    before, after = digest(plans.files), digest(done.files)
    for name, mark in after.items():
        assert (mark != before[name]) == name.endswith(".pdf")


def test_parts_list_agrees_with_the_kit(kit, plans):
    with plans.lists[0].open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [int(r["number"]) for r in rows] == [p.number for p in kit.parts]
    for row, part in zip(rows, kit.parts, strict=True):
        assert row["name"] == part.name
        assert int(row["count"]) == part.count
        assert int(row["turned over"]) == sum(part.mirrored)
        assert float(row["area cm2"]) == pytest.approx(part.area_mm2 / 100, abs=0.06)
    table = plans.lists[1].read_text("utf-8")
    assert "sheet 1: economy foam board, 5 mm, 762 x 508 mm, 76 % used; peel one paper off 3" in table
    lines = [x for x in table.splitlines() if x.startswith("|")]
    assert len({len(x) for x in lines}) == 1


def test_the_parts_list_of_whoever_measures_in_inches(stock, tmp_path):
    part = make(1, "plate", box(254, 127))
    kit = Kit(name="k", parts=(part,), notes=("Leave 25.4 mm free.",), imperial=True)
    done = write_plans(kit, stock, tmp_path, papers=(), effort="quick")
    with done.lists[0].open(encoding="utf-8-sig", newline="") as file:
        (row,) = csv.DictReader(file)
    told = [row[key] for key in ("thickness in", "length in", "width in", "area in2")]
    assert told == ["0.197", "10.00", "5.00", "50.00"]
    table = done.lists[1].read_text("utf-8")
    assert "economy foam board, 5 mm, 30.00 x 20.00 in" in table
    assert "Leave 1.00 in free." in table


def test_a_name_is_no_formula_in_a_spreadsheet(stock, tmp_path):
    kit = Kit(name="k", parts=(make(1, "=HYPERLINK(1)", box(120, 60)),))
    done = write_plans(kit, stock, tmp_path, papers=(), effort="quick")
    assert "'=HYPERLINK" in done.lists[0].read_text("utf-8-sig")
    (row,) = part_rows(kit, done.nesting)
    assert row.name == "=HYPERLINK(1)"


def test_progress_rises_to_one(kit, stock, tmp_path):
    seen = []
    write_plans(kit, stock, tmp_path, papers=("a4",), effort="quick", progress=lambda f, w: seen.append(f))
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
