"""Handbook, pack and logbook as a person meets them on the command line."""

import pytest
from click.testing import CliRunner

from sheetlark.cli import main


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("SHEETLARK_STOCK", str(tmp_path / "stock"))
    run("new", "mine", "--like", "dunnock")
    return tmp_path


def run(*args):
    return CliRunner().invoke(main, [str(a) for a in args])


def test_a_weighing_is_kept_and_moves_the_battery(here):
    out = run("log", "weigh", "mine.toml", "wing", "61g")
    if out.exit_code == 2:  # a wing in two halves is weighed by its panels
        out = run("log", "weigh", "mine.toml", "wing panel", "61g")
    assert out.exit_code == 0, out.output
    assert "As built" in out.output
    assert 'mass = "61 g"' in (here / "mine.log.toml").read_text("utf-8")
    assert run("log", "show", "mine.toml").exit_code == 0


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("weigh", "mine.toml", "wimg", "61g"), "wimg"),
        (("weigh", "mine.toml", "tailplane", "61 furlong"), "furlong"),
        (("weigh", "mine.toml", "tailplane", "nan"), "nan"),
        (("flight", "mine.toml", "needs left ailerom"), "ailerom|sheetlark log words"),
        (("flight", "mine.toml", "--minutes", "inf"), "minutes"),
        (("changed", "mine.toml", "down-thrst", "1deg"), "did you mean 'down-thrust'"),
        (("changed", "mine.toml", "down-thrust", "1 kg"), "angle"),
        (("show", "none.toml"), "there is no file"),
    ],
)
def test_what_cannot_be_is_refused_and_not_written(here, args, words):
    import re

    out = run("log", *args)
    assert out.exit_code == 2, out.output
    assert re.search(words, out.output)
    assert "Traceback" not in out.output
    assert not (here / "mine.log.toml").exists()


def test_a_flight_is_diagnosed_and_a_change_written(here):
    out = run("log", "flight", "mine.toml", "needs up elevator", "--minutes", "5", "--wind", "2m/s")
    assert out.exit_code == 0, out.output
    assert "1. " in out.output
    assert run("log", "changed", "mine.toml", "down-thrust", "1deg").exit_code == 0
    text = (here / "mine.log.toml").read_text("utf-8")
    assert "needs up elevator" in text
    assert "down-thrust" in text


def test_words_lists_what_can_be_said(here):
    out = run("log", "words")
    assert "needs up elevator" in out.output
    assert "down-thrust" in out.output
