"""The logbook read out: every part of it, in words a builder acts on."""

from __future__ import annotations

import datetime as dt

from sheetlark.logbook import (
    EVERYTHING,
    CorrectionEntry,
    FlightEntry,
    Log,
    Weighing,
    expected_of,
    read_sighting,
    report,
)

DAY = dt.date(2026, 5, 17)


def test_an_empty_logbook_is_short(dunnock):
    assert report(dunnock, Log()) == "The logbook is empty."


def test_everything_is_read_out(dunnock, tmp_path):
    e = expected_of(dunnock)
    rows = ["Time,Speed,Height"]
    rows += [f"{t},{e.cruise_ms if 5 < t < 55 else 0.1},{min(t, 20)}" for t in range(60)]
    (tmp_path / "one.csv").write_text("\n".join(rows), encoding="utf-8")
    log = Log(
        weighings=(Weighing(date=DAY, what=(EVERYTHING,), mass_kg=1.03 * dunnock.weights.all_up_kg, balance_x_m=float(dunnock.weights.balance_m[0]) + 0.001, line=1),),
        flights=(
            FlightEntry(date=DAY, seen=(read_sighting("needs right rudder"),), minutes=4, tracks=("one.csv", "gone.csv"), line=2),
            FlightEntry(date=DAY, line=4),
        ),
        corrections=(CorrectionEntry(date=DAY, cause="rudder-neutral", amount=0.02, line=3),),
    )  # fmt: skip
    text = report(dunnock, log, folder=tmp_path)
    for words in (
        "weighed ready to fly",
        "needs right rudder",
        "As built:",
        "battery's centre goes to",
        "one.csv: 0.",
        "cruise: ",
        "as predicted",
        "gone.csv cannot be read",
        "rudder neutral, or the fin out of line changed by +1.1°",
        "It flies as predicted: leave it alone.",
    ):
        assert words in text, words


def test_one_flight_with_a_fault_gets_advice_that_explains_it(dunnock):
    text = report(dunnock, Log(flights=(FlightEntry(date=DAY, seen=(read_sighting("needs left rudder"),)),)))
    assert "1. rudder neutral" in text
    assert "try: rudder" in text
    assert "to the left at neutral" in text
    assert "down thrust" not in text  # it explains nothing here
