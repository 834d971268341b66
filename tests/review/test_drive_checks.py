"""Heat, pitch speed, blockage and cut-off: said where they are so, silent where not, cleared by their remedies."""

import json

import pytest

from sheetlark.design import edited, loads, starter
from sheetlark.evaluation import evaluate
from sheetlark.review import applied, document, findings, printed, remedies_for
from sheetlark.review.drive_checks import CUT_OFF, NOSE_BLOCKAGE, PITCH_SPEED, WINDINGS


def made(name, changes):
    return evaluate(loads(edited(starter(name), changes), f"{name}.toml"))


def found(e, name):
    return next((f for f in findings(e) if f.id == name), None)


HOT = {("drive", "motor"): "1806-2300", ("drive", "propeller"): "7x4-thin-electric"}
SAGGING = {("drive", "motor"): "2212-2200", ("drive", "pack"): "2s-180", ("drive", "controller"): "esc-30"}
SLOW = {("drive", "motor"): "2203-1150", ("drive", "propeller"): "8x3.8-slow-flight"}


def test_starters_are_silent():
    for name in ("dunnock", "brambling", "turnstone"):
        e = made(name, {})
        assert not {f.id for f in findings(e)} & {
            c.id for c in (WINDINGS, CUT_OFF, PITCH_SPEED, NOSE_BLOCKAGE)
        }


@pytest.mark.parametrize(
    ("changes", "check", "words"),
    [
        (HOT, WINDINGS, "windings reach about"),
        (SAGGING, CUT_OFF, "cells sag to the cut-off|sags to the cut-off"),
        (SLOW, PITCH_SPEED, "pitch speed is only"),
    ],
)
def test_said_and_cleared(changes, check, words):
    import re

    e = made("dunnock", changes)
    finding = found(e, check.id)
    assert finding is not None, [f.id for f in findings(e)]
    assert re.search(words, finding.says)
    assert finding.because
    for remedy in remedies_for(e, finding):
        after = evaluate(loads(applied(e, remedy)))
        assert found(after, check.id) is None


def test_a_wide_blunt_nose_costs_and_the_larger_propeller_is_named():
    """A front of 150 by 150 mm behind a six-inch propeller."""
    wide = {
        ("body", "profile"): "M 0 75 L 70 75 L 120 46 L 275 42 L 562 26 L 562 8 L 270 -42 L 60 -75 L 0 -75 Z",
        ("body", "width"): [[0, 150], [80, 150], [280, 60], [562, 14]],
        ("drive", "propeller"): "6x3-direct-drive",
    }
    e = made("dunnock", wide)
    finding = found(e, "nose-blockage")
    assert finding is not None, e.drive.net
    assert finding.value == pytest.approx(100 * e.drive.net.fraction)
    assert "The wide nose costs" in finding.says
    assert "about the same load, would lose" in finding.because


def test_shown_and_in_the_document():
    e = made("dunnock", {})
    text = printed(e)
    for words in (
        "the nose behind the disc takes",
        "pitch speed",
        "windings, full throttle held",
        "cruise lasts",
        "a mixed flight lasts",
    ):
        assert words in text
    drive = json.loads(json.dumps(document(e, remedies=False)))["drive"]
    assert drive["nose_loss_percent"] == pytest.approx(100 * e.drive.net.fraction)
    assert drive["pitch_speed_over_stall"] == pytest.approx(e.drive.static.pitch_speed_ms / e.flight.stall_ms)
    assert drive["full_throttle_ends"] == "reserve"
    assert drive["full_throttle_min"] < drive["mixed_min"] < drive["cruise_min"]
