"""Learning: conjugate updates, shrinkage, and what is kept from model to model."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.design import loads, starter
from sheetlark.errors import LogbookError
from sheetlark.evaluation import evaluate
from sheetlark.logbook import (
    Belief,
    Compared,
    Datum,
    Log,
    MotorReading,
    Weighing,
    data_of,
    keep_record,
    learn,
    learn_motor,
    learned,
    normal_after,
    predicted_and_actual,
    read_record,
    record_text,
    running_errors,
    stock_for,
)
from sheetlark.stock import load_stock

DAY = dt.date(2026, 5, 17)
data = st.lists(st.floats(0.5, 1.5), min_size=1, max_size=8)


@settings(deadline=None)
@given(data, data)
def test_learning_in_two_goes_is_learning_at_once(first, second):
    start = Belief(mean=1.0, count=2.0, scale=0.08, freedom=4.0)
    at_once = start.after(np.array(first + second))
    in_two = start.after(np.array(first)).after(np.array(second))
    for name in ("mean", "count", "scale", "freedom"):
        assert getattr(in_two, name) == pytest.approx(getattr(at_once, name), rel=1e-9)


@settings(deadline=None)
@given(data)
def test_the_mean_stays_between_the_belief_and_the_data(values):
    belief = Belief(mean=1.0, count=2.0, scale=0.08, freedom=4.0).after(np.array(values))
    average = float(np.mean(values))
    assert min(1.0, average) - 1e-12 <= belief.mean <= max(1.0, average) + 1e-12


def test_few_data_move_little_and_many_move_much():
    start = Belief(mean=1.0, count=2.0, scale=0.08, freedom=4.0)
    moved = [start.after(np.full(n, 1.2)).mean - 1.0 for n in (1, 3, 30)]
    assert moved[0] == pytest.approx(0.2 / 3)
    assert moved[0] < moved[1] < moved[2] < 0.2
    assert moved[2] > 0.18


def test_an_unsure_datum_counts_less():
    sure = learned((Datum(kind="sheet", key="s", model="a", ratio=1.2, spread=0.001),), prior_spread=0.08)
    unsure = learned((Datum(kind="sheet", key="s", model="a", ratio=1.2, spread=0.16),), prior_spread=0.08)
    assert 1.0 < unsure.ratio < sure.ratio < 1.2


def test_of_one_model_the_last_word_counts():
    rows = tuple(Datum(kind="sheet", key="s", model="a", ratio=r, spread=0.01) for r in (1.5, 1.1))
    assert learned(rows, prior_spread=0.08).models == 1
    assert learned(rows, prior_spread=0.08).ratio < 1.1


def test_known_variances_add_as_precisions():
    mean, spread = normal_after(10.0, 2.0, np.array([12.0, 14.0]), np.array([1.0, 2.0]))
    assert 1 / spread**2 == pytest.approx(1 / 4 + 1 + 1 / 4)
    assert mean == pytest.approx((10 / 4 + 12 + 14 / 4) * spread**2)


def heavy_log(evaluation, ratio: float) -> Log:
    """Every sheet part of a model weighed, all heavier by one ratio."""
    return Log(
        weighings=tuple(
            Weighing(date=DAY, what=(line.name,), mass_kg=ratio * line.mass_kg, scale_kg=1e-5)
            for line in evaluation.weights.lines
            if line.batch == "sheet foam-board-5"
        )
    )


def test_the_scales_alone_are_heard(dunnock):
    found = {d.key: d for d in data_of(dunnock, heavy_log(dunnock, 1.12))}
    assert found["foam-board-5"].ratio == pytest.approx(1.12, abs=0.01)
    assert "hot-melt" not in found  # nothing weighed says anything of the glue


def test_what_one_model_taught_is_in_the_next_ones_figures(dunnock, tmp_path):
    folder = tmp_path / "stock"
    beliefs = learn(dunnock, heavy_log(dunnock, 1.12), folder=folder)
    board = next(b for b in beliefs if b.key == "foam-board-5")
    assert 1.02 < board.ratio < 1.08  # one model: a third of the way and less
    assert "from one model weighed" in board.says
    stock = load_stock(folder)
    sheet = stock.sheet("foam-board-5")
    supplied = 0.310  # stock/data/sheets.toml
    assert sheet.areal_density_kg_m2 == pytest.approx(supplied * board.ratio, rel=1e-3)
    assert sheet.source == "measured"
    assert "above typical" in sheet.note
    next_one = evaluate(loads(starter("brambling")), stock)
    wing = next(line for line in next_one.weights.lines if line.name == "upper wing")
    assert "measured" in wing.note
    # saying the same again changes nothing
    again = learn(dunnock, heavy_log(dunnock, 1.12), folder=folder)
    assert next(b for b in again if b.key == "foam-board-5").ratio == pytest.approx(board.ratio, rel=1e-6)


def test_a_second_model_moves_it_further(dunnock, brambling, tmp_path):
    folder = tmp_path / "stock"
    one = learn(dunnock, heavy_log(dunnock, 1.12), folder=folder)
    two = learn(brambling, heavy_log(brambling, 1.12), folder=folder)
    ratio = [next(b for b in beliefs if b.key == "foam-board-5").ratio for beliefs in (one, two)]
    assert ratio[1] > ratio[0]
    assert next(b for b in two if b.key == "foam-board-5").models == 2


def test_kept_experience_that_is_broken_is_named(dunnock, tmp_path):
    (tmp_path / "weighed.toml").write_text("[[weighed]]\nkind = 3\n", encoding="utf-8")
    (tmp_path / "stock").mkdir()
    assert learn(dunnock, Log(), folder=tmp_path / "stock") == ()  # an unknown kind is passed over
    (tmp_path / "weighed.toml").write_text('[[weighed]]\nkind = "sheet"\nkey = 5\n', encoding="utf-8")
    with pytest.raises(LogbookError, match=r"weighed\.toml: expected key to be a text, read 5"):
        learn(dunnock, Log(), folder=tmp_path / "stock")
    (tmp_path / "weighed.toml").write_text("= =", encoding="utf-8")
    with pytest.raises(LogbookError, match="cannot be read"):
        learn(dunnock, Log(), folder=tmp_path / "stock")


def test_a_motor_learns_its_constants(tmp_path):
    stock = load_stock()
    motor = stock.motors[0]
    log = Log(motors=(MotorReading(date=DAY, motor=motor.key, kv_rpm_v=1.05 * motor.kv_rpm_v, spread=0.01),))
    made = learn_motor(stock, log, motor.key, folder=tmp_path / "stock")
    assert motor.kv_rpm_v < made.kv_rpm_v < 1.05 * motor.kv_rpm_v
    assert made.kv_rpm_v > 1.04 * motor.kv_rpm_v  # a good reading outweighs a catalogue
    assert made.resistance_ohm == motor.resistance_ohm
    assert load_stock(tmp_path / "stock").motor(motor.key).kv_rpm_v == pytest.approx(made.kv_rpm_v, abs=0.01)
    assert learn_motor(stock, Log(), motor.key) is None


def test_predicted_against_actual_is_kept_for_every_model(dunnock, brambling, tmp_path):
    folder = tmp_path / "stock"
    for evaluation, ratio in ((dunnock, 1.06), (brambling, 0.98)):
        w = evaluation.weights
        log = Log(
            weighings=(
                Weighing(
                    date=DAY,
                    what=("all",),
                    mass_kg=ratio * w.all_up_kg,
                    balance_x_m=float(w.balance_m[0]) + 0.002,
                ),
            )
        )
        keep_record(predicted_and_actual(evaluation, log), folder=folder)
        keep_record(predicted_and_actual(evaluation, log), folder=folder)  # twice is once
    errors = {e.quantity: e for e in running_errors(read_record(folder=folder))}
    assert errors["all-up mass"].models == 2
    assert errors["all-up mass"].bias == pytest.approx(0.02, abs=1e-4)
    assert errors["all-up mass"].rms == pytest.approx(math.sqrt((0.06**2 + 0.02**2) / 2), abs=1e-4)
    assert "2 models" in record_text(running_errors(read_record(folder=folder)))
    assert predicted_and_actual(dunnock, Log()) == ()


def test_honesty_is_counted():
    rows = tuple(
        Compared(model=str(k), quantity="q", predicted=1.0, spread=0.1, actual=1.0 + off)
        for k, off in enumerate((0.05, 0.15, 0.5))
    )
    assert running_errors(rows)[0].inside == pytest.approx(2 / 3)


def test_weighings_that_contradict_each_other_teach_nothing(dunnock):
    wing = sum(line.mass_kg for line in dunnock.weights.lines if line.group == "wing")
    log = Log(
        weighings=(
            Weighing(date=DAY, what=("wing",), mass_kg=2.2 * wing),
            Weighing(date=DAY, what=("all",), mass_kg=0.97 * dunnock.weights.all_up_kg),
        )
    )
    assert data_of(dunnock, log) == ()


def test_a_model_is_not_judged_by_what_it_taught_itself(dunnock, brambling, tmp_path):
    folder = tmp_path / "stock"
    learn(dunnock, heavy_log(dunnock, 1.12), folder=folder)
    name = dunnock.design.model.name
    supplied = 0.310
    assert load_stock(folder).sheet("foam-board-5").areal_density_kg_m2 > 1.02 * supplied
    assert stock_for(name, folder=folder).sheet("foam-board-5").areal_density_kg_m2 == pytest.approx(supplied)
    assert stock_for("another", folder=folder).sheet("foam-board-5").areal_density_kg_m2 > 1.02 * supplied
    learn(brambling, heavy_log(brambling, 1.20), folder=folder)
    others = stock_for(name, folder=folder).sheet("foam-board-5")
    assert 1.02 * supplied < others.areal_density_kg_m2 < 1.10 * supplied  # what the other model taught stays
    assert "from one model weighed" in others.note
    assert (
        stock_for(name, folder=tmp_path / "nowhere" / "stock").sheet("foam-board-5").areal_density_kg_m2
        == supplied
    )
