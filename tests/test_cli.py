"""The command line as a person meets it."""

import json
import os
import subprocess
import sys
import tomllib

import pytest
from click.testing import CliRunner

from sheetlark.cli import main


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*args):
    return CliRunner().invoke(main, [str(a) for a in args])


def test_new_review_plans(here):
    made = run("new", "mine", "--like", "dunnock")
    assert made.exit_code == 0
    assert "sheetlark review mine.toml" in made.output
    assert tomllib.loads((here / "mine.toml").read_text("utf-8"))["model"]["name"] == "Mine"
    assert (here / "mine.toml").read_text("utf-8").startswith("# Dunnock")
    seen = run("review", "mine.toml")
    assert seen.exit_code == 0
    for words in ("ready to fly", "neutral point", "Findings", "computed"):
        assert words in seen.output
    plans = run("plans", "mine.toml", "-o", "plans")
    assert plans.exit_code == 0, plans.output
    assert {f.suffix for f in (here / "plans").iterdir()} >= {".pdf", ".dxf", ".svg", ".csv"}


def test_new_does_not_write_over(here):
    run("new", "mine")
    (here / "mine.toml").write_text("# mine", encoding="utf-8")
    again = run("new", "mine")
    assert again.exit_code == 2
    assert "is there already" in again.output
    assert (here / "mine.toml").read_text("utf-8") == "# mine"


STABLE = {
    "model": ["name", "layout"],
    "weights": ["all_up_g", "spread_g", "balance_mm", "inertia_kg_m2", "lines"],
    "air": [
        "reference",
        "lift_slope_per_rad",
        "zero_lift_deg",
        "cl_max",
        "cd_min",
        "best_lift_to_drag",
        "neutral_point_mm",
        "derivatives",
    ],
    "balance": ["percent_mean_chord", "static_margin_percent", "forward_limit_mm", "aft_limit_mm"],
    "drive": [
        "static_thrust_n",
        "static_current_a",
        "static_rpm",
        "static_power_w",
        "thrust_to_weight",
        "full_throttle_min",
        "cruise_min",
    ],
    "flight": [
        "stall_ms",
        "cruise_ms",
        "top_ms",
        "climb_ms",
        "wing_loading_g_dm2",
        "cubic_loading",
        "modes",
        "turn",
    ],
}


@pytest.mark.parametrize("starter", ["dunnock", "brambling", "turnstone"])
def test_the_document_is_stable_and_plain(here, starter):
    run("new", "mine", "--like", starter)
    out = run("review", "mine.toml", "--json")
    assert out.exit_code == 0, out.output
    document = json.loads(out.output, parse_constant=lambda c: pytest.fail(f"{c} is not JSON"))
    for group, keys in STABLE.items():
        assert set(keys) <= set(document[group]), group
    assert set(document["weights"]["balance_mm"]) == {"x", "y", "z"}
    assert set(document["weights"]["inertia_kg_m2"]) == {"xx", "yy", "zz", "xz"}
    assert set(document["air"]["reference"]) == {
        "area_dm2",
        "mean_chord_mm",
        "mean_chord_leading_edge_mm",
        "span_mm",
    }
    lines = document["weights"]["lines"]
    assert {"name", "group", "mass_g", "x_mm", "y_mm", "z_mm", "source"} <= set(lines[0])
    assert sum(line["mass_g"] for line in lines) == pytest.approx(document["weights"]["all_up_g"], rel=1e-9)
    assert isinstance(document["findings"], list)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("span = 640", "spann = 640"), "did you mean 'span'"),
        (("span = 640", "span = nan"), "not a finite number"),
        (('stock = "foam-board-5"', 'stock = "cheese"'), "no sheet 'cheese' in stock"),
        (('motor = "', 'motor = "x'), "in stock"),
        (("at = [112, 49]", "at = [112, 300]"), "misses the body"),
        (("[model]", "[model"), "not a TOML text"),
    ],
)
def test_a_bad_design_is_refused_in_words(here, change, words):
    run("new", "mine", "--like", "dunnock")
    file = here / "mine.toml"
    text = file.read_text("utf-8")
    assert change[0] in text
    file.write_text(text.replace(*change, 1), encoding="utf-8")
    out = run("review", "mine.toml")
    assert out.exit_code == 2
    assert words in out.output
    assert "mine.toml" in out.output
    assert "Traceback" not in out.output


def test_a_missing_file_suggests_one(here):
    run("new", "mine")
    out = run("review", "mien.toml")
    assert out.exit_code == 2
    assert "Did you mean mine.toml" in out.output


def test_plans_into_a_file_is_refused(here):
    run("new", "mine")
    (here / "plans").write_text("keep me", encoding="utf-8")
    out = run("plans", "mine.toml", "-o", "plans")
    assert out.exit_code != 0
    assert "Traceback" not in out.output
    assert (here / "plans").read_text("utf-8") == "keep me"


def test_start_up_is_quick():
    """`sheetlark --help` opens no slow library."""
    out = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "sheetlark", "--help"],
        capture_output=True,
        text=True,
        check=True,
    )
    slow = [
        line
        for line in out.stderr.splitlines()
        if any(
            f" {lib}" in line
            for lib in ("scipy", "nicegui", "ezdxf", "numpy", "trimesh", "reportlab", "pydantic")
        )
    ]
    assert not slow


def test_review_imports_no_screen_and_no_drawing(here):
    run("new", "mine")
    out = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "sheetlark", "review", "mine.toml"],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
    )
    slow = {line.split("|")[-1].strip().split(".")[0] for line in out.stderr.splitlines()}
    assert not slow & {"nicegui", "ezdxf", "reportlab", "trimesh", "matplotlib"}


def test_the_schema_is_printed(here):
    out = run("schema")
    assert json.loads(out.output)["title"] == "Sheetlark design"


def test_a_remedy_is_written_and_what_changed_is_said(here):
    run("new", "mine", "--like", "brambling")
    file = here / "mine.toml"
    text = file.read_text("utf-8").replace(
        "pack_at = [52, 0, -20]", "pack_at = [150, 0, -20]  # easy to reach"
    )
    file.write_text(text, encoding="utf-8")
    out = run("review", "mine.toml", "--apply", "margin")
    assert out.exit_code == 0, out.output
    assert "Move the battery" in out.output
    assert "- pack_at = [150, 0, -20]  # easy to reach" in out.output
    now = file.read_text("utf-8")
    assert "# easy to reach" in now
    assert "[150, 0, -20]" not in now
    assert len([a for a, b in zip(text.splitlines(), now.splitlines(), strict=True) if a != b]) == 1
    again = run("review", "mine.toml", "--apply", "margin")
    assert again.exit_code == 2
    assert "no finding 'margin'" in again.output


def test_the_first_flight_is_told_and_drawn(here):
    run("new", "mine", "--like", "turnstone")
    out = run("maiden", "mine.toml", "--seed", "2", "--wind", "1 m/s", "--throw", "6 m/s", "-o", "story.html")
    assert out.exit_code == 0, out.output
    for words in ("height lost at launch", "turns both ways", "landing", "local rules"):
        assert words in out.output
    assert (here / "story.html").read_text("utf-8").startswith("<!doctype html>")
    plain = run("maiden", "mine.toml", "--seed", "2", "--json")
    assert json.loads(plain.output)["events"]
    bad = run("maiden", "mine.toml", "--throw", "fast")
    assert bad.exit_code == 2
    assert "Traceback" not in bad.output
