"""What `sheetlark trace` says and writes, in the units the size was given in."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from sheetlark.cli import main
from sheetlark.design import load
from sheetlark.trace import report

sys.path.insert(0, str(Path(__file__).parent))
import drawing as D  # noqa: N812

METRIC = re.compile(r"\d (mm|g|dm²)\b(?! per px)")
CUSTOMARY = re.compile(r"\d (in|oz|ft)\b")


pytestmark = pytest.mark.xdist_group("words of a tracing")  # they share a picture


@pytest.fixture(autouse=True, scope="module")
def read_once() -> Iterator[None]:
    """The one picture is read once for all of them: what is said of it is what is asked here."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(report, "open_picture", lru_cache(report.open_picture))
        yield


@pytest.fixture(scope="module")
def picture(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("picture") / "three-view.png"
    D.draw(D.aeroplane(3, "monoplane"), 3).image.save(file)
    return file


def said(*args: object) -> str:
    got = CliRunner().invoke(main, ["trace", *map(str, args)])
    assert got.exit_code == 0, got.output
    return got.output


@pytest.mark.parametrize(("span", "units"), [("30 in", "imperial"), ("762 mm", "metric")])
def test_a_size_is_answered_in_its_own_units(picture: Path, tmp_path: Path, span: str, units: str) -> None:
    out = tmp_path / "mine.toml"
    words = said(picture, "--span", span, "--length", "500 mm", "-o", out)
    mine, other = (CUSTOMARY, METRIC) if units == "imperial" else (METRIC, CUSTOMARY)
    told = words.partition("\n")[2].replace(str(out), "")
    assert mine.search(told)
    assert not other.search(told)
    assert "{" not in told  # no quantity left open
    design = load(out)
    assert design.model.units == units
    assert 2 * max(
        float(y) for y in re.findall(r",(-?[\d.]+)", design.wing[0].outline or "")
    ) == pytest.approx(762.0, abs=1.0)


def test_the_starting_design_is_reviewed_at_once(picture: Path, tmp_path: Path) -> None:
    """The same words where a helper works out what simplifications are worth beside the review."""
    out = tmp_path / "mine.toml"
    how = "trace", str(picture), "--span", "30 in", "-o", str(out), "--force", "--review"
    words = said(*how[1:])
    alone = CliRunner().invoke(main, ["review", str(out)])
    assert words.endswith(f"wrote {out}\n\n{alone.output}")
    assert "Findings" in alone.output
    helped = subprocess.run(
        [sys.executable, "-m", "sheetlark", *how],
        env={**os.environ, "SHEETLARK_PROCESSES": "2"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert helped.stdout == words
    assert not helped.stderr


@pytest.mark.parametrize("more", [("--review",), ("--review", "--json", "-o", "mine.toml")])
def test_what_cannot_be_reviewed_is_refused_before_the_picture_is_read(tmp_path: Path, more: tuple) -> None:
    got = CliRunner().invoke(main, ["trace", str(tmp_path / "none.png"), "--span", "760 mm", *more])
    assert got.exit_code == 2
    assert "--review" in got.output


def test_the_document_stays_in_millimetres(picture: Path) -> None:
    inches, mm = (json.loads(said(picture, "--span", span, "--json")) for span in ("30 in", "762 mm"))
    assert inches["outlines"] == mm["outlines"]
    assert inches["views"] == mm["views"]


def test_a_refusal_is_in_the_same_units(picture: Path) -> None:
    got = CliRunner().invoke(main, ["trace", str(picture), "--mass", "1 oz"])
    assert got.exit_code != 0
    assert "cannot weigh 1.00 oz" in got.output
    assert "{" not in got.output


def test_straight_lines_and_circles_are_not_said_to_be_fitted(picture: Path) -> None:
    for line in said(picture, "--span", "760 mm").splitlines():
        name = line.strip().partition(":")[0]
        if name.startswith(("wheel", "leg", "rudder", "elevator", "aileron")):
            assert "fitted" not in line
        if name in {"wing", "fin"}:
            assert "nodes, fitted within" in line
