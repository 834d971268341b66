"""The logbook's file: read with faults named by file and line, added to without touching the rest."""

from __future__ import annotations

import contextlib
import datetime as dt
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.errors import LogbookError
from sheetlark.logbook import (
    SYMPTOMS,
    CorrectionEntry,
    FlightEntry,
    MotorReading,
    Sighting,
    Weighing,
    add_correction,
    add_flight,
    add_motor_reading,
    add_weighing,
    load_log,
    log_path,
    log_text,
    read_log,
    read_sighting,
)

DAY = dt.date(2026, 5, 17)

GOOD = """# my own words
model = "Mine"

[[weighing]]
date = 2026-05-17
what = "upper wing"   # with its spar
mass = "1.2 oz"

[[flight]]
date = "2026-05-18"
seen = ["slightly dips on launch", "needs right aileron"]
minutes = 4.5
charge = 520
"""


def test_reads_what_a_person_writes():
    log = read_log(GOOD)
    assert log.model == "Mine"
    assert log.weighings[0].mass_kg == pytest.approx(1.2 * 0.028349523125)
    assert log.weighings[0].line == 4
    assert log.flights[0].seen == (
        Sighting(symptom="dips on launch", strength="slightly"),
        Sighting(symptom="needs right aileron"),
    )
    assert log.flights[0].charge_c == pytest.approx(520 * 3.6)
    assert log.minutes == 4.5


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (('what = "upper wing"', 'waht = "upper wing"'), r"mine\.log\.toml:6: .*'waht' is not a known key; did you mean 'what'"),
        (('mass = "1.2 oz"', 'mass = "heavy"'), r"mine\.log\.toml:7: .*expected a mass such as 340.*read 'heavy'"),
        (('mass = "1.2 oz"', "mass = -3"), r"mine\.log\.toml:7: .*must be above 0, read -3"),
        (('mass = "1.2 oz"', ""), r"mine\.log\.toml:4: .*'mass' is missing"),
        (('date = "2026-05-18"', 'date = "18th of May"'), r"mine\.log\.toml:10: .*expected a date such as 2026-05-17"),
        (("needs right aileron", "needs rihgt aileron"), r"mine\.log\.toml:11: .*did you mean 'needs right aileron'"),
        (("[[flight]]", "[[fligth]]"), r"'fligth' is not a known key; did you mean 'flight'"),
        (("minutes = 4.5", "minutes = -1"), r"mine\.log\.toml:12: .*expected minutes in the air"),
        (("[[weighing]]", "[weighing]"), r"write each one as a table of its own, headed \[\[weighing\]\]"),
        (('model = "Mine"', "model = = 3"), r"mine\.log\.toml: this is not a TOML text"),
    ],
)  # fmt: skip
def test_a_fault_names_its_line(change, words):
    text = GOOD.replace(*change)
    assert text != GOOD
    with pytest.raises(LogbookError, match=words):
        read_log(text, name="mine.log.toml")


def test_every_fault_is_named_at_once():
    text = GOOD.replace('mass = "1.2 oz"', 'mass = "x"').replace("minutes = 4.5", 'minutes = "y"')
    with pytest.raises(LogbookError) as caught:
        read_log(text, name="m")
    assert str(caught.value).count("\n") == 1


def test_an_unknown_correction_is_refused_with_what_is_known():
    text = '[[correction]]\ndate = 2026-05-17\ncause = "down-thurst"\namount = 1\n'
    with pytest.raises(LogbookError, match="did you mean 'down-thrust'"):
        read_log(text)


def test_adding_keeps_every_earlier_byte(tmp_path):
    file = tmp_path / "mine.log.toml"
    file.write_text(GOOD, encoding="utf-8")
    weighing = add_weighing(file, Weighing(date=DAY, what=("fin", "rudder"), mass_kg=0.0061, balance_x_m=0.1))
    flight = add_flight(
        file,
        FlightEntry(date=DAY, seen=(Sighting(symptom="drops left wing", strength="strongly"),), minutes=3),
    )
    made = add_correction(
        file, CorrectionEntry(date=DAY, cause="down-thrust", amount=math.radians(1.5), note='a "shim"')
    )
    motor = add_motor_reading(
        file, MotorReading(date=DAY, motor="2206-1400", kv_rpm_v=1391.0, resistance_ohm=0.11)
    )
    text = file.read_text("utf-8")
    assert text.startswith(GOOD)
    log = load_log(file)
    assert log.weighings[1].mass_kg == pytest.approx(weighing.mass_kg)
    assert (log.weighings[1].what, log.weighings[1].line) == (weighing.what, weighing.line)
    assert log.flights[1] == flight
    assert log.corrections[0].amount == pytest.approx(made.amount)
    assert log.corrections[0].note == 'a "shim"'
    assert log.motors[0].kv_rpm_v == motor.kv_rpm_v
    assert [p.name for p in tmp_path.iterdir()] == ["mine.log.toml"]  # no temporary file is left


def test_a_logbook_with_a_fault_is_not_added_to(tmp_path):
    file = tmp_path / "mine.log.toml"
    bad = GOOD.replace('mass = "1.2 oz"', "mass = 0")
    file.write_text(bad, encoding="utf-8")
    with pytest.raises(LogbookError, match="must be above 0"):
        add_flight(file, FlightEntry(date=DAY))
    assert file.read_text("utf-8") == bad


def test_a_new_logbook_begins_with_the_model_and_is_empty_before(tmp_path):
    file = log_path(tmp_path / "mine.toml")
    assert file.name == "mine.log.toml"
    assert load_log(file).story == ()
    assert "empty" in log_text(load_log(file))
    add_flight(file, FlightEntry(date=DAY), model='My "own"')
    assert load_log(file).model == 'My "own"'
    assert "as it should" in log_text(load_log(file))


def test_hostile_files_are_refused(tmp_path):
    file = tmp_path / "x.log.toml"
    file.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(LogbookError, match="not a UTF-8 text"):
        load_log(file)
    file.write_bytes(b"#" * 2_000_001)
    with pytest.raises(LogbookError, match="larger than 2000 kB"):
        load_log(file)
    with pytest.raises(LogbookError, match="cannot be read"):
        load_log(tmp_path)
    with pytest.raises(LogbookError, match="not a TOML text"):
        read_log("a = " + "[" * 5000)


@settings(deadline=None)
@given(st.text(max_size=200))
def test_no_text_breaks_the_reader(text):
    with contextlib.suppress(LogbookError):
        read_log(text, name="x")


@settings(deadline=None)
@given(st.sampled_from(sorted(SYMPTOMS)), st.sampled_from(["slightly", "clearly", "strongly"]), st.booleans())
def test_every_symptom_reads_back(symptom, strength, first):
    words = f"{strength} {symptom}" if first else f"{symptom}, {strength}"
    assert read_sighting(words) == Sighting(symptom=symptom, strength=strength)


@settings(deadline=None)
@given(
    mass=st.floats(1e-4, 15.0),
    what=st.lists(
        st.text("abc xyz,", min_size=1, max_size=12).filter(lambda s: s.strip()), min_size=1, max_size=4
    ),
    note=st.text(max_size=60).filter(lambda s: "\x00" not in s),
)
def test_a_weighing_reads_back_to_six_figures(tmp_path_factory, mass, what, note):
    file = tmp_path_factory.mktemp("log") / "m.log.toml"
    add_weighing(file, Weighing(date=DAY, what=tuple(what), mass_kg=mass, note=note))
    read = load_log(file).weighings[0]
    assert read.mass_kg == pytest.approx(mass, rel=1e-5)
    assert read.what == tuple(w.strip() for w in what)
    assert read.note == note
