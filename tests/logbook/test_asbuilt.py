"""As-built weights: what the scales said, carried into the table, and where the battery goes."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.errors import LogbookError
from sheetlark.logbook import Log, Weighing, as_built, rebalance, weight_story
from sheetlark.logbook.asbuilt import condition, lines_weighed

DAY = dt.date(2026, 5, 17)


def weighed(*weighings: Weighing) -> Log:
    return Log(weighings=weighings)


def test_without_weighings_nothing_moves(brambling):
    built = as_built(brambling, Log())
    assert built.weights.all_up_kg == pytest.approx(brambling.weights.all_up_kg)
    assert built.weights.balance_m == pytest.approx(brambling.weights.balance_m)
    assert built.weighed_kg == 0.0


def test_conditioning_agrees_with_the_textbook_for_two_variables():
    # X1 given X2 = x: mean m1 + r s1/s2 (x - m2), variance s1² (1 - r²)
    m, s, r = np.array([2.0, 5.0]), np.array([0.5, 1.5]), 0.6
    covariance = np.array([[s[0] ** 2, r * s[0] * s[1]], [r * s[0] * s[1], s[1] ** 2]])
    mean, after = condition(m, covariance, np.array([[0.0, 1.0]]), np.array([6.0]), np.array([1e-12]))
    assert mean[0] == pytest.approx(2.0 + r * s[0] / s[1] * 1.0, abs=1e-9)
    assert after[0, 0] == pytest.approx(s[0] ** 2 * (1 - r**2), abs=1e-9)


@settings(deadline=None)
@given(st.integers(0, 10_000))
def test_the_order_of_weighing_does_not_matter(seed):
    rng = np.random.default_rng(seed)
    n = 6
    root = rng.normal(size=(n, n))
    covariance = root @ root.T + np.eye(n)
    mean, rows = rng.normal(size=n), rng.normal(size=(3, n))
    values, variances = rng.normal(size=3), rng.uniform(0.1, 1.0, 3)
    together = condition(mean, covariance, rows, values, variances)
    one = (mean, covariance)
    for k in (2, 0, 1):
        one = condition(*one, rows[k : k + 1], values[k : k + 1], variances[k : k + 1])
    assert one[0] == pytest.approx(together[0], abs=1e-8)
    assert one[1] == pytest.approx(together[1], abs=1e-8)


def test_a_weighed_part_takes_its_weight_and_its_sheet_follows(brambling):
    lines = brambling.weights.lines
    wing = next(line for line in lines if line.name == "upper wing")
    built = as_built(
        brambling,
        weighed(Weighing(date=DAY, what=("upper wing",), mass_kg=1.10 * wing.mass_kg, scale_kg=1e-5)),
    )
    after = {line.name: line for line in built.weights.lines}
    assert after["upper wing"].mass_kg == pytest.approx(1.10 * wing.mass_kg, rel=0.01)
    assert after["upper wing"].source == "measured"
    tail = next(line for line in lines if line.name == "tailplane")
    assert tail.batch == wing.batch
    ratio = after["tailplane"].mass_kg / tail.mass_kg
    assert 1.04 < ratio < 1.10  # the same sheet: heavier too, but less surely
    servo = next(line for line in lines if line.group == "radio")
    assert after[servo.name].mass_kg == pytest.approx(servo.mass_kg)  # another batch: untouched


def test_each_weighing_makes_the_total_surer(brambling):
    one = Weighing(date=DAY, what=("upper wing",), mass_kg=0.031)
    two = Weighing(date=DAY, what=("all",), mass_kg=brambling.weights.all_up_kg)
    spreads = [as_built(brambling, weighed(*w)).all_up_spread_kg for w in ((), (one,), (one, two))]
    assert spreads[0] > spreads[1] > spreads[2]
    assert spreads[2] < 0.01 * brambling.weights.all_up_kg


def test_the_finished_model_weighs_what_the_scales_say_and_balances_where_it_does(brambling):
    w = brambling.weights
    said = Weighing(
        date=DAY,
        what=("all",),
        mass_kg=1.05 * w.all_up_kg,
        scale_kg=1e-4,
        balance_x_m=float(w.balance_m[0]) + 0.006,
        balance_spread_m=0.0005,
    )
    built = as_built(brambling, weighed(said))
    assert built.weights.all_up_kg == pytest.approx(said.mass_kg, rel=0.01)
    assert float(built.weights.balance_m[0]) == pytest.approx(said.balance_x_m, abs=0.0015)
    assert built.left_to_build_kg == pytest.approx(0.0, abs=1e-9)


def test_the_battery_moves_by_the_lever_rule(brambling):
    w = brambling.weights
    off = 0.0012
    said = Weighing(
        date=DAY,
        what=("all",),
        mass_kg=w.all_up_kg,
        scale_kg=1e-4,
        balance_x_m=float(w.balance_m[0]) + off,
        balance_spread_m=1e-4,
    )
    built = as_built(brambling, weighed(said))
    move = rebalance(brambling, built)
    assert move is not None
    found = float(built.weights.balance_m[0]) - move.target_x_m
    way = brambling.design.drive.pack_at[0] - move.place.wanted_x_m
    assert way == pytest.approx(found * built.weights.all_up_kg / move.battery_kg, rel=1e-6)
    # what is reached is the target, by battery or by ballast
    assert move.place.balance_x_m == pytest.approx(move.target_x_m, abs=1e-6)
    assert "battery's centre goes" in weight_story(built, move)


def test_where_the_bay_ends_ballast_closes_the_rest(brambling):
    w = brambling.weights
    said = Weighing(
        date=DAY,
        what=("all",),
        mass_kg=w.all_up_kg,
        balance_x_m=float(w.balance_m[0]) + 0.015,
        balance_spread_m=2e-4,
    )
    built = as_built(brambling, weighed(said))
    move = rebalance(brambling, built)
    assert move.place.ballast_kg > 0
    x = float(built.weights.balance_m[0])
    moment = built.weights.all_up_kg * x + move.battery_kg * (
        move.place.x_m - brambling.design.drive.pack_at[0]
    )
    mass = built.weights.all_up_kg
    reached = (moment + move.place.ballast_kg * move.place.ballast_x_m) / (mass + move.place.ballast_kg)
    assert reached == pytest.approx(move.target_x_m, abs=2e-4)


def test_a_name_that_fits_nothing_is_refused(brambling):
    log = weighed(Weighing(date=DAY, what=("uper wing",), mass_kg=0.03, line=7))
    with pytest.raises(LogbookError, match=r"line 7: there is no 'uper wing'.*did you mean 'upper wing'"):
        as_built(brambling, log)


def test_groups_and_beginnings_of_names_are_understood(brambling):
    lines = brambling.weights.lines

    def names(*what: str) -> set[str]:
        return {lines[i].name for i in lines_weighed(lines, Weighing(date=DAY, what=what, mass_kg=0.1))}

    assert {lines[i].group for i in range(len(lines)) if lines[i].name in names("body")} == {"body"}
    assert names("lower wing") >= {"lower wing panel", "lower wing aileron"}
    assert len(names("all")) == len({line.name for line in lines})
    assert names("fin", "rudder") == {"fin", "rudder"}


def test_contradicting_weighings_leave_the_whole_as_the_scales_say(dunnock):
    """A wing said to be far too heavy and a model that is light: something gives, but nothing weighs less than nothing."""
    total = 0.97 * dunnock.weights.all_up_kg
    wing = sum(line.mass_kg for line in dunnock.weights.lines if line.group == "wing")
    built = as_built(
        dunnock,
        weighed(
            Weighing(date=DAY, what=("wing",), mass_kg=2.2 * wing, scale_kg=1e-4),
            Weighing(date=DAY, what=("all",), mass_kg=total, scale_kg=1e-4),
        ),
    )
    assert built.weights.all_up_kg == pytest.approx(total, rel=0.01)
    assert built.contradicted
    assert "do not go together" in weight_story(built, None)
    for before, after in zip(dunnock.weights.lines, built.weights.lines, strict=True):
        assert after.mass_kg >= 0.0999 * before.mass_kg
