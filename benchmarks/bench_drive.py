"""How long the drive's hot paths take: 5,000 combinations within 3 s on one core, side by side with one by one."""

from __future__ import annotations

import numpy as np
import pytest

from sheetlark.drive import (
    Circuits,
    DriveLine,
    Propeller,
    Requirements,
    equilibrium,
    propeller_of,
    rank,
    settle,
)
from sheetlark.stock import load_stock

STOCK = load_stock()
MODEL = Requirements(
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
    largest_propeller_m=0.40,  # nothing is refused before it is solved
)
DRIVE = DriveLine(
    motor=STOCK.motor("2212-1000"),
    propeller=propeller_of(STOCK.propeller("9x4.5-thin-electric")),
    pack=STOCK.pack("3s-1300"),
    controller=STOCK.controller("esc-20"),
)


def test_match_five_thousand(benchmark):
    few = {
        "motors": STOCK.motors[12:32],
        "propellers": STOCK.propellers[:25],
        "packs": tuple(p for p in STOCK.packs if p.cells in {2, 3})[:10],
    }
    ranking = benchmark(lambda: rank(MODEL, STOCK, "sport", **few))
    assert ranking.tried == 5000
    if benchmark.enabled:
        assert benchmark.stats["mean"] < 3.0


def test_match_whole_stock(benchmark):
    ranking = benchmark.pedantic(lambda: rank(MODEL, STOCK, "sport"), rounds=2)
    assert ranking.tried == len(STOCK.motors) * len(STOCK.propellers) * len(STOCK.packs)


@pytest.mark.benchmark(group="settle 500 drives")
def test_side_by_side(benchmark):
    circuits = Circuits.of(DRIVE).repeated(500)
    benchmark(lambda: settle(circuits, airspeed_ms=8.0, throttle=1.0, charge=0.8))


@pytest.mark.benchmark(group="settle 500 drives")
def test_one_by_one(benchmark):
    benchmark.pedantic(lambda: [equilibrium(DRIVE, 8.0, 1.0, 0.8) for _ in range(500)], rounds=3)


def test_propeller_from_size(benchmark):
    benchmark(lambda: Propeller(0.2286, 0.1143, "sport"))


def test_propeller_curve(benchmark):
    who, advance, rpm = Propeller(0.2286, 0.1143), np.linspace(0, 0.6, 1000), np.full(1000, 7000.0)
    benchmark(lambda: who.coefficients(advance, rpm))


def test_match_a_design(benchmark):
    """The whole stock in a starter: clearance, room and balance spare most of the solving."""
    from sheetlark.design import loads, starter
    from sheetlark.evaluation import evaluate, match_design

    e = evaluate(loads(starter("brambling")))
    ranking = benchmark.pedantic(lambda: match_design(e), rounds=2)
    assert ranking.tried == ranking.to_try
