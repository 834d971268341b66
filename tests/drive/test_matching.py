"""Ranking: weighed, balanced, refused with reasons, and quick."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from sheetlark.drive import (
    AIMS,
    Nose,
    Phase,
    Requirements,
    assess,
    duration,
    equilibrium,
    net_thrust,
    rank,
    ranking_chart,
    ranking_table,
    static_figures,
)
from sheetlark.errors import SolveError

SPORT = Requirements(
    bare_mass_kg=0.36,
    bare_balance_x_m=0.36,
    balance_x_m=0.25,
    motor_x_m=0.01,
    propeller_x_m=-0.02,
    controller_x_m=0.08,
    battery_from_x_m=0.04,
    battery_to_x_m=0.24,
    wing_area_m2=0.18,
    cl_max=1.0,
    drag_zero=0.05,
    drag_due_to_lift=0.08,
    largest_propeller_m=0.255,
)


@pytest.fixture(scope="module")
def few(stock):
    return {
        "motors": tuple(
            stock.motor(k) for k in ("1806-2300", "2208-1100", "2212-1000", "2212-1400", "2814-910")
        ),
        "propellers": tuple(
            stock.propeller(k)
            for k in (
                "6x3-direct-drive",
                "8x4.5-thin-electric",
                "9x4.7-slow-flight",
                "10x5-thin-electric",
                "11x7-thin-electric",
            )
        ),
        "packs": tuple(stock.pack(k) for k in ("2s-850", "3s-1300", "3s-2200", "4s-1300")),
    }


@pytest.fixture(scope="module")
def sport(stock, few):
    return rank(SPORT, stock, "sport", **few)


def test_everything_is_tried_and_accounted_for(sport):
    assert sport.tried == 5 * 5 * 4
    assert sport.will_do == len(sport.fitting) > 0
    assert len(sport.fitting) + len(sport.refused) < sport.tried  # the rest could not go in at all
    assert all(not c.refusals for c in sport.fitting)
    assert all(c.refusals for c in sport.refused)
    assert [c.score for c in sport.fitting] == sorted((c.score for c in sport.fitting), reverse=True)
    assert [len(c.refusals) for c in sport.refused] == sorted(len(c.refusals) for c in sport.refused)


def test_figures_are_those_of_the_drive_alone(sport):
    for c in (*sport.fitting[:5], *sport.refused[:5]):
        q = equilibrium(c.drive_line)
        assert c.static_thrust_n == pytest.approx(q.thrust_n, rel=1e-6)
        assert c.static_current_a == pytest.approx(q.current_a, rel=1e-6)
        sure = static_figures(c.drive_line)
        assert c.thrust_spread == pytest.approx(sure.thrust_spread, rel=1e-3)
        assert c.current_spread == pytest.approx(sure.current_spread, rel=1e-3)
        full = duration(c.drive_line, Phase(share=1, airspeed_ms=c.cruise_ms, throttle=1.0))
        assert c.full_throttle_min == pytest.approx(full.time_s / 60, rel=0.04)


def test_weighed_and_balanced(sport):
    for c in sport.fitting:
        drive = c.motor.mass_kg + c.propeller.mass_kg + c.controller.mass_kg + c.pack.mass_kg
        assert c.mass_kg == pytest.approx(0.36 + drive)
        moment = (
            0.36 * 0.36
            + c.motor.mass_kg * 0.01
            - c.propeller.mass_kg * 0.02
            + c.controller.mass_kg * 0.08
            + c.pack.mass_kg * c.battery_x_m
        )
        assert moment / c.mass_kg == pytest.approx(c.balance_x_m)
        assert abs(c.balance_x_m - 0.25) <= SPORT.balance_tolerance_m + 1e-12
        assert 0.04 - 1e-12 <= c.battery_x_m <= 0.24 + 1e-12
        assert c.stall_ms == pytest.approx(math.sqrt(2 * c.mass_kg * 9.80665 / (1.225 * 0.18)))


def test_limits_hold_for_all_that_fit(sport):
    for c in sport.fitting:
        assert c.static_current_a <= c.motor.max_current_a
        assert c.static_current_a * 1.14 <= c.controller.max_current_a
        assert c.static_current_a <= c.pack.continuous_c * c.pack.capacity_ah
        assert c.pack.cells <= min(c.motor.max_cells, c.controller.max_cells)
        assert c.propeller.diameter_m <= SPORT.largest_propeller_m
        assert c.thrust_to_weight >= AIMS["sport"].least_thrust_to_weight
        assert c.pitch_speed_ms >= AIMS["sport"].least_pitch_over_stall * c.stall_ms


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"battery_from_x_m": 0.23}, "battery's middle would have to lie at .* too far aft"),
        ({"largest_mass_kg": 0.3}, "all up .* at most 300.0 g is allowed"),
        ({"drag_zero": 3.0}, "cannot hold .* in level flight"),
        ({"bare_mass_kg": 2.0, "balance_tolerance_m": 1.0}, "of the weight; sport asks 0.70"),
        ({"wing_area_m2": 0.05}, "times the stall's .* More pitch or rpm"),
    ],
)
def test_reasons_are_said(stock, few, change, words):
    import re

    found = rank(replace(SPORT, **change), stock, "sport", **few)
    assert any(re.search(words, reason) for c in found.refused for reason in c.refusals)


def test_limits_on_current_are_said(stock, few):
    weak = tuple(replace(b, continuous_c=4.0) for b in few["packs"])
    small = replace(stock, controllers=tuple(e for e in stock.controllers if e.max_current_a < 11))
    found = rank(SPORT, small, "sport", **{**few, "packs": weak})
    reasons = " ".join(reason for c in found.refused for reason in c.refusals)
    for words in ("the motor stands", "the cells give", "no controller in stock stands"):
        assert words in reasons


def test_what_cannot_go_in_is_counted(stock, few):
    found = rank(replace(SPORT, bay_m=(0.075, 0.03, 0.06)), stock, "sport", **few)
    counts = {c.reason: c.count for c in found.counts}
    assert counts["propeller does not clear"] == 20  # the 11 in one, with 5 motors and 4 packs
    # 3s-2200 is too long, 4s-1300 too thick both ways up; 3s-1300 goes in turned on its side
    assert counts["battery does not go in"] == 50
    assert counts["too many cells"] == 5 * sum(m.max_cells < 4 for m in few["motors"])


def test_only_so_many_are_kept(stock, few, sport):
    kept = rank(SPORT, stock, "sport", **few, keep_fitting=2, keep_refused=1)
    assert kept.will_do == sport.will_do
    assert kept.fitting == sport.fitting[:2]
    assert kept.refused == sport.refused[:1]


def test_aims_differ(stock, few):
    best = {aim: rank(SPORT, stock, aim, **few).fitting for aim in AIMS}
    assert best["vertical"][0].thrust_to_weight >= 1.2
    assert best["long"][0].mixed_min >= max(c.mixed_min for c in best["vertical"])
    assert len(best["floating"]) >= len(best["vertical"])


def test_nothing_fits_is_an_answer(stock, few):
    found = rank(replace(SPORT, bare_mass_kg=20.0), stock, "vertical", **few)
    assert found.fitting == ()
    assert found.will_do == 0
    assert found.refused
    assert "none will do" in ranking_table(found)
    nothing = rank(replace(SPORT, largest_propeller_m=0.05), stock, "sport", **few)
    assert nothing.refused == ()
    assert nothing.counts[0].reason == "propeller does not clear"


def test_impossible_requirements(stock):
    with pytest.raises(SolveError, match="no aim 'fast'; known are vertical, sport, floating, long"):
        rank(SPORT, stock, "fast")
    with pytest.raises(SolveError, match="no motor to choose from"):
        rank(SPORT, stock, motors=())
    with pytest.raises(SolveError, match="wing_area_m2 must be above 0, got 0"):
        replace(SPORT, wing_area_m2=0.0)
    with pytest.raises(SolveError, match="the first must not be behind the second"):
        replace(SPORT, battery_from_x_m=0.3)


def test_table_and_chart(sport):
    table = ranking_table(sport, rows=3)
    assert sport.fitting[0].motor.key in table
    assert sport.refused[0].refusals[0] in table
    chart = ET.fromstring(ranking_chart(sport))
    # Hovering tells of each; the two of the legend say nothing.
    dots = [d for d in chart.findall("{http://www.w3.org/2000/svg}circle") if len(d)]
    assert len(dots) == sum(math.isfinite(c.mixed_min) for c in (*sport.fitting, *sport.refused))
    xs = [float(dot.get("cx")) for dot in dots]
    assert min(xs) >= 56
    assert max(xs) <= 720 - 16 + 0.1
    best = max(sport.fitting, key=lambda c: c.mixed_min)
    told = [
        dot
        for dot in dots
        if dot[0].text.startswith(f"{best.motor.key}, {best.propeller.key}, {best.pack.key}:")
    ]
    assert len(told) == 1


def test_today_stands_beside_the_others(stock, few, sport):
    best, worst = sport.fitting[0], sport.fitting[-1]
    for c, ahead in ((best, 0), (worst, sport.will_do - 1)):
        now = rank(SPORT, stock, "sport", **few, today=(c.motor, c.propeller, c.pack, c.controller))
        assert now.today == c
        assert now.ahead_of_today == ahead
        mark = ET.fromstring(ranking_chart(now)).findall(
            "{http://www.w3.org/2000/svg}path/{http://www.w3.org/2000/svg}title"
        )
        assert [m.text for m in mark] == [m for m in (mark[0].text,) if c.motor.key in m]
    missed = sport.refused[0]
    again = assess(SPORT, (missed.motor, missed.propeller, missed.pack, missed.controller), AIMS["sport"])
    assert again.refusals == missed.refusals


def test_stopping_early_ranks_what_was_tried(stock, few):
    told = []
    none = rank(SPORT, stock, "sport", **few, should_stop=lambda: True, progress=lambda *a: told.append(a))
    assert none.tried < none.to_try == 100
    assert none.fitting == ()
    assert told == []


def test_a_nose_takes_its_share_and_a_larger_propeller_less(stock, few, sport):
    nose = Nose(frontal_area_m2=0.009, behind_m=0.02, drag_coefficient=0.6)
    behind = rank(replace(SPORT, nose=nose), stock, "sport", **few)
    free = {(c.motor.key, c.propeller.key, c.pack.key): c for c in (*sport.fitting, *sport.refused)}
    kept = {}
    for c in (*behind.fitting, *behind.refused):
        other = free[c.motor.key, c.propeller.key, c.pack.key]
        net = net_thrust(
            thrust_n=other.static_thrust_n, airspeed_ms=0.0, diameter_m=c.propeller.diameter_m, nose=nose
        )
        assert c.static_thrust_n == pytest.approx(net.net_n, rel=1e-9)
        assert c.climb_ms < other.climb_ms
        if math.isfinite(c.cruise_min):
            assert c.cruise_min < other.cruise_min
        kept[c.propeller.diameter_m] = c.static_thrust_n / other.static_thrust_n
    assert len(kept) > 2
    assert [kept[d] for d in sorted(kept)] == sorted(kept.values())


def test_a_longer_pack_has_less_way_to_slide(stock, few):
    ends = replace(SPORT, battery_from_x_m=0.0, battery_to_x_m=0.4, battery_ends_x_m=(0.02, 0.13))
    found = rank(ends, stock, "sport", **few)
    for c in (*found.fitting, *found.refused):
        half = c.pack.length_m / 2
        if 2 * half <= 0.11:
            assert c.battery_x_m - half >= 0.02 - 1e-9
            assert c.battery_x_m + half <= 0.13 + 1e-9
    forward = replace(SPORT, balance_x_m=0.30, balance_tolerance_m=0.002)
    assert (
        rank(forward, stock, "sport", **few).will_do
        < rank(replace(forward, forward_tolerance_m=0.05), stock, "sport", **few).will_do
    )


def test_climb_closes_the_balance_of_forces(sport):
    """Climb is what thrust leaves over the drag, times speed over weight."""
    for c in sport.fitting[:4]:
        speed = 1.2 * c.stall_ms
        q = equilibrium(c.drive_line, speed, charge=0.8)
        weight = c.mass_kg * 9.80665
        cl = weight / (0.5 * 1.225 * speed**2 * SPORT.wing_area_m2)
        drag = 0.5 * 1.225 * speed**2 * SPORT.wing_area_m2 * (0.05 + 0.08 * cl**2)
        assert c.climb_ms == pytest.approx((q.thrust_n - drag) * speed / weight, rel=1e-6)


def test_the_tightest_limit_is_named(sport):
    for c in sport.fitting:
        name, share = c.tightest
        assert name in {"motor", "controller", "cells"}
        assert share == pytest.approx(
            max(
                c.static_current_a / c.motor.max_current_a,
                c.static_current_a / c.controller.max_current_a,
                c.static_current_a / (c.pack.continuous_c * c.pack.capacity_ah),
            )
        )
        assert share <= 1.0


def test_static_figures_say_how_sure(sport_drive, stock):
    s = static_figures(sport_drive)
    assert 0.08 < s.thrust_spread < 0.25
    assert 0.05 < s.current_spread < 0.25
    assert s.pitch_speed_ms == pytest.approx(0.1143 * s.point.rpm / 60)
    n, d = s.point.rpm / 60, 0.2286
    read = sport_drive.propeller.calibrated(
        rpm=s.point.rpm, thrust_n=s.point.thrust_n, power_w=s.point.shaft_power_w
    )
    surer = static_figures(replace(sport_drive, propeller=read))
    assert n * d > 0
    assert surer.thrust_spread < 0.7 * s.thrust_spread
    hot = static_figures(replace(sport_drive, motor=stock.motor("2203-1150")))
    assert any("the motor's" in c for c in hot.cautions)
    assert any("magnets and glue suffer" in c for c in hot.cautions)
