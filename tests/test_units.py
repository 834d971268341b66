"""Quantities as people write them."""

import contextlib
import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sheetlark import units
from sheetlark.errors import UnitError


@pytest.mark.parametrize(
    ("written", "metres"),
    [
        (120, 0.12),
        ("120", 0.12),
        ("120 mm", 0.12),
        ("12cm", 0.12),
        ("30 in", 0.762),
        ('30"', 0.762),
        ("2 ft 6 in", 0.762),
        ("2'6\"", 0.762),
        ("1/4 in", 0.00635),
        ("3 1/2 in", 0.0889),
        ("-2.5 mm", -0.0025),
        ("2,5 mm", 0.0025),
        (".5in", 0.0127),
        ("1e3", 1.0),
    ],
)
def test_lengths(written, metres):
    assert units.LENGTH.read(written) == pytest.approx(metres, rel=1e-12)


@pytest.mark.parametrize(
    ("kind", "written", "value"),
    [
        (units.MASS, "12 oz", 0.340194277500),
        (units.MASS, "1 lb", 0.45359237),
        (units.ANGLE, "2.5 deg", math.radians(2.5)),
        (units.ANGLE, "2.5°", math.radians(2.5)),
        (units.SPEED, "20 mph", 8.9408),
        (units.AREAL_DENSITY, "320 g/m2", 0.32),
        (units.TORQUE, "1.6 kg cm", 0.1569064),
        (units.FRACTION, "25 %", 0.25),
        (units.FRACTION, 0.25, 0.25),
        (units.RESISTANCE, "120 mohm", 0.12),
        (units.TIME, "1.5 min", 90.0),
    ],
)
def test_other_kinds(kind, written, value):
    assert kind.read(written) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("half", "expected a length such as .* read 'half'"),
        ("12 oz", "unit 'oz', but a length is written in"),
        ("3 inhc", "did you mean 'inch'"),
        ("nan", "expected a length"),
        (float("nan"), "not a finite number"),
        (float("inf"), "not a finite number"),
        (None, "expected a length"),
        (True, "expected a length"),
        ("3/0 in", "divided by 0"),
        ("", "expected a length"),
    ],
)
def test_refused_in_words(written, words):
    with pytest.raises(UnitError, match=words):
        units.LENGTH.read(written)


@given(st.floats(-1e4, 1e4, allow_nan=False))
def test_written_and_read_back(millimetres):
    assert units.LENGTH.read(f"{millimetres!r} mm") == pytest.approx(millimetres * 1e-3, abs=1e-12)


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text):
    with contextlib.suppress(UnitError):
        assert math.isfinite(units.LENGTH.read(text))


@pytest.mark.parametrize(
    ("written", "kelvin"), [(20, 293.15), ("68 F", 293.15), ("293.15 K", 293.15), ("-5 C", 268.15)]
)
def test_temperatures(written, kelvin):
    assert units.read_temperature(written) == pytest.approx(kelvin)


def test_colder_than_anything():
    with pytest.raises(UnitError, match="below absolute zero"):
        units.read_temperature("-300 C")


@pytest.mark.parametrize(
    ("written", "imperial"),
    [
        ("30 in", True),
        ("2 ft 6 in", True),
        ("2'6\"", True),
        ("12 oz", True),
        ("1.5 lb", True),
        ("30inches", True),
    ]
    + [("760 mm", False), ("0.76", False), ("1 m", False), ("340 grams", False), ("", False)],
)
def test_who_writes_inches_is_answered_in_inches(written, imperial):
    assert units.is_imperial(written) is imperial


@pytest.mark.parametrize(
    ("metric", "inches"),
    [
        ("at x 100, y -25.4, z 0 mm", "at x 3.94, y -1.00, z 0.00 in"),
        ("needs 70 x 35 x 18 mm and runs into the deck by 4.5 mm", "needs 2.76 x 1.38 x 0.71 in and runs into the deck by 0.18 in"),
        ("overlap by 500 mm³, 0.25 mm deep", "overlap by 0.031 in³, 0.010 in deep"),
        ("12.0 mm² of the slot idle; 2 mm/s", "0.019 in² of the slot idle; 2 mm/s"),
        ("moves ±12 mm, 3 times", "moves ±0.47 in, 3 times"),
    ],
)  # fmt: skip
def test_words_written_in_millimetres_are_told_in_inches(metric, inches):
    assert units.in_inches(metric) == inches


def test_shown():
    assert units.show_length(0.762, imperial=True) == "30.00 in"
    assert units.show_length(0.762) == "762.0 mm"
    assert units.show_mass(0.34, imperial=True) == "11.99 oz"
    assert units.show_loading(2.0) == "20.0 g/dm²"
    # An ounce-force is 0.2780139 N, an ounce-force inch 7.061552e-3 N m: NIST SP 811 (2008), appendix B.8, from memory.
    assert units.show_force(1.0, imperial=True) == "3.6 oz"
    assert units.show_moment(1.0, imperial=True) == "141.6 oz in"
    assert (
        units.show_inertias((1e-3, 2e-3), imperial=True) == "54.7, 109.3 oz in²"
    )  # / (28.3495 g × (25.4 mm)²)
    assert [units.show_force(n) for n in (0.283, 3.102, 24.66, 1152.17)] == [
        "0.28 N",
        "3.10 N",
        "24.7 N",
        "1152 N",
    ]
    assert units.show_force(1152.17, imperial=True) == "4144 oz"
    assert units.show_angle(-1e-9) == "0.0°"  # a rounded nothing has no sign
    assert units.show_length(-1e-6) == "0.0 mm"
    assert units.show_cubic(28.349523125e-3 / 0.3048**3, imperial=True) == "1.0 oz/ft³"


@given(st.floats(-9.0, 9.0), st.booleans())
@example(0.4474426903828359, True)  # an area whose tie rounds the other way
def test_marked_quantities_are_closed_to_what_is_shown_at_once(value, imperial):
    shows = (
        units.show_length,
        units.show_mass,
        units.show_speed,
        units.show_area,
        units.show_loading,
        units.show_force,
        units.show_moment,
    )
    with units.marked_quantities():
        open_words = "; ".join(show(value, not imperial) for show in shows)
    assert "mm" not in open_words
    assert " in" not in open_words
    closed = units.in_units(open_words, imperial).split("; ")
    for words, show in zip(closed, shows, strict=True):
        at_once = show(value, imperial)
        assert words.split(" ")[1] == at_once.split(" ")[1]
        # A few decimals are kept between the braces; the last digit shown may round the other way.
        places = len(at_once.split(" ")[0].partition(".")[2])
        assert float(words.split(" ")[0]) == pytest.approx(
            float(at_once.split(" ")[0]), abs=1.01 * 10**-places
        )
    assert units.in_units("nothing {here:1} to close", imperial) == "nothing {here:1} to close"
    assert units.show_length(0.0123) == "12.3 mm"


@pytest.mark.parametrize(
    ("metres", "metric", "imperial"),
    [
        (0.0032, "3.2 mm", "0.13 in"),
        (0.0125, "12 mm", "0.49 in"),
        (0.1524, "152 mm", "6.0 in"),
        (-0.004, "-4.0 mm", "-0.16 in"),
    ],
)
def test_a_ruler_tells_no_more_than_it_can(metres, metric, imperial):
    assert units.show_ruled(metres) == metric
    assert units.show_ruled(metres, imperial=True) == imperial


def test_distances_on_the_field():
    assert units.show_distance(120.4) == "120 m"
    assert units.show_distance(3.26) == "3.3 m"
    assert units.show_distance(120.4, imperial=True) == "395 ft"
