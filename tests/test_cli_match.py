"""`match` and `measure` as a person meets them."""

import json
import tomllib
import xml.etree.ElementTree as ET

import pytest
from click.testing import CliRunner

from sheetlark.cli import main
from sheetlark.design import edited, starter


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SHEETLARK_STOCK", str(tmp_path / "stock"))
    (tmp_path / "mine.toml").write_text(starter("dunnock"), encoding="utf-8")
    return tmp_path


def run(*args):
    return CliRunner().invoke(main, [str(a) for a in args])


MADE_UP = ("--motor", "2212-1000", "--propeller", "9x4.5-thin-electric", "--controller", "esc-20")


def test_table(here):
    seen = run("match", "mine.toml", "--most", 5)
    assert seen.exit_code == 0, seen.output
    lines = seen.output.splitlines()
    assert lines[0] == "Dunnock: drives for floating flying"
    assert lines[2].startswith("✓ The drive in the design will do, and ")
    assert sum(line.strip().startswith(("1.", "2.", "3.", "4.", "5.", "6.")) for line in lines) == 5
    for words in (
        "thrust over",
        "±",
        "combinations tried in",
        "Nearest misses",
        "propeller does not clear",
        "clears the ground by 15 mm",
    ):
        assert words in " ".join(seen.output.split()), words


def test_a_refused_drive_is_said_before_anything_else(here):
    weak = edited(
        starter("brambling"),
        {("drive", "motor"): "1306-2000", ("drive", "propeller"): "5x3-direct-drive"},
    )
    (here / "mine.toml").write_text(weak, encoding="utf-8")
    lines = run("match", "mine.toml").output.splitlines()
    assert lines[2].startswith("✗ The drive in the design is refused, for ")
    assert "1306-2000, 5x3-direct-drive" in lines[2]
    assert any("of the weight; sport asks 0.70" in line for line in lines[3:8])


def test_document_chart_and_aim(here):
    seen = run("match", "mine.toml", "--for", "long", "--json", "--most", 4, "--chart", "c.svg")
    assert seen.exit_code == 0, seen.output
    found = json.loads(seen.stdout)
    assert found["aim"]["name"] == "long"
    assert len(found["fitting"]) == 4
    assert found["tried"] == found["to_try"] > 50_000
    assert found["fitting"][0]["score"] >= found["fitting"][1]["score"]
    assert found["today"]["motor"] == "2205-1500"
    assert sum(r["count"] for r in found["refused"]) > 0
    chart = ET.fromstring((here / "c.svg").read_text("utf-8"))
    words = [t.text for t in chart.iter("{http://www.w3.org/2000/svg}text")]
    assert "minutes of mixed flying, down to the reserve" in words
    assert "in the design" in words
    assert {"1", "2", "3", "4"} <= set(words)


def test_apply_writes_the_drive_and_keeps_the_rest(here):
    best = json.loads(run("match", "mine.toml", "--json").stdout)["fitting"][1]
    done = run("match", "mine.toml", "--apply", 2)
    assert done.exit_code == 0, done.output
    assert "wrote number 2 into mine.toml" in done.output
    assert "after:" in done.output
    text = (here / "mine.toml").read_text("utf-8")
    drive = tomllib.loads(text)["drive"]
    assert {k: drive[k] for k in ("motor", "propeller", "pack", "controller")} == {
        k: best[k] for k in ("motor", "propeller", "pack", "controller")
    }
    assert drive["pack_at"][0] == pytest.approx(best["battery_mm"], abs=0.06)
    assert drive["pack_at"][1:] == [0, -14]
    was, now = starter("dunnock").splitlines(), text.splitlines()
    changed = [a for a, b in zip(was, now, strict=True) if a != b]
    assert all(
        line.split()[0] in {"motor", "propeller", "pack", "controller", "pack_at", "pack_travel"}
        for line in changed
    )
    again = json.loads(run("match", "mine.toml", "--json").stdout)["today"]
    assert again["refusals"] == []
    assert again["mass_g"] == pytest.approx(best["mass_g"], abs=0.6)  # a new motor's own firewall


def test_apply_refuses_a_number_that_is_not_there(here):
    before = (here / "mine.toml").read_text("utf-8")
    seen = run("match", "mine.toml", "--apply", 9999)
    assert seen.exit_code == 2
    assert "there is no combination 9999 to apply; there are 1 to 500" in seen.stderr
    assert (here / "mine.toml").read_text("utf-8") == before


# -- measure ---------------------------------------------------------------------------------------------------


def test_template_can_be_measured_and_kept(here):
    template = run("measure", "--template").output
    for words in ("Tie the stand down", "eye protection", "pull the battery's plug"):
        assert words in template
    (here / "r.csv").write_text(template, encoding="utf-8")
    seen = run("measure", "r.csv", *MADE_UP)
    assert seen.exit_code == 0, seen.output
    assert "from 4 readings" in seen.output
    assert "Add --keep" in seen.output
    assert not (here / "stock").exists()
    kept = run("measure", "r.csv", *MADE_UP, "--keep")
    assert kept.exit_code == 0, kept.output
    own = tomllib.loads((here / "stock" / "measured.toml").read_text("utf-8"))
    assert own["motor"]["2212-1000"]["kv"] == pytest.approx(970, rel=0.01)
    assert len(own["propeller"]["9x4.5-thin-electric"]["readings"]) == 4
    assert own["motor"]["2212-1000"]["source"] == "measured"
    # Kept readings are told anew, not counted twice: the same table gives the same propeller.
    again = run("measure", "r.csv", *MADE_UP)
    assert [line for line in again.output.splitlines() if "coefficient" in line] == [
        line for line in kept.output.splitlines() if "coefficient" in line
    ]


def test_each_bad_line_is_named(here):
    (here / "bad.csv").write_text(
        "# mine\nvolts,amps,rpm,thrust,throttle,propeller\nabc,2,3000,4,100,yes\n12,0,7000,3 N,100,yes\n12,1,-5,3 kgf,120,maybe\n"
        "12,,7000,,,\n12,1,7000,1,1,1,1\n",
        encoding="utf-8",
    )
    seen = run("measure", "bad.csv", *MADE_UP)
    assert seen.exit_code == 2
    for words in (
        "bad.csv, line 3: volts: expected a voltage such as 7.4",
        "bad.csv, line 4: amps must be above 0, read '0'",
        "bad.csv, line 5: rpm must be above 0, read '-5'",
        "bad.csv, line 5: thrust: '3 kgf' has the unit 'kgf'",
        "bad.csv, line 5: throttle must be at most 100 per cent, read '120'",
        "bad.csv, line 5: propeller is yes or no, read 'maybe'",
        "bad.csv, line 6: amps is empty; every reading needs volts, amps and rpm",
        "bad.csv, line 7: 7 values for 6 columns",
    ):
        assert words in seen.stderr, words


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "volts,amp,rpm\n",
            "'amp' is no column; known are volts, amps, rpm, thrust, throttle, propeller; did you",
        ),
        ("volts,amps,amps,rpm\n", "the column 'amps' is there twice"),
        ("volts,amps\n1,2\n", "the column 'rpm' is missing"),
        ("# nothing\n", "no readings in it. Begin from:  sheetlark measure --template"),
        ("volts,amps,rpm\n", "the columns are named but no reading follows"),
        ("volts,amps,rpm\n12,13,9800\n", "at least two readings, got 1"),
        ("\udcff", "not a text file"),
    ],
)
def test_a_table_that_is_none(here, text, words):
    (here / "r.csv").write_bytes(text.encode("utf-8", "surrogateescape"))
    seen = run("measure", "r.csv", *MADE_UP)
    assert seen.exit_code == 2
    assert words in seen.stderr


def test_other_separators_units_and_decimal_commas(here):
    plain = run("measure", "--template").output
    (here / "a.csv").write_text(plain, encoding="utf-8")
    (here / "b.csv").write_text(
        "volts;amps;rpm;thrust;throttle;propeller\n12,22;13,8;9800;9,3653 N;;yes\n12,45;5,5;7340;520 g;70 %;y\n"
        "12,55;1720 mA;4960;220;45;yes\n12,58;0,50;12120;;100;no\n",
        encoding="utf-8-sig",
    )
    one, two = (run("measure", name, *MADE_UP).output for name in ("a.csv", "b.csv"))
    assert one == two


def test_a_poor_fit_is_not_kept(here):
    (here / "r.csv").write_text(
        "volts,amps,rpm\n12.22,13.8,9800\n12.45,5.5,7340\n", encoding="utf-8"
    )  # the second was at part throttle
    seen = run("measure", "r.csv", *MADE_UP, "--keep")
    assert seen.exit_code == 2
    assert "Was it at part throttle (then write its throttle)" in seen.output
    assert "not kept: r.csv fits too badly" in seen.stderr
    assert not (here / "stock").exists()


def test_what_is_missing_is_said(here):
    seen = run("measure", "r.csv")
    assert seen.exit_code == 2
    assert "needs READINGS and the keys of --motor, --propeller and --controller" in seen.stderr
    seen = run("measure", "r.csv", "--motor", "2212-100x", *MADE_UP[2:])
    assert "no motor '2212-100x' in stock; the nearest is '2212-1" in seen.stderr
