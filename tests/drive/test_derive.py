"""The script that derives the family: from made-up propellers of known scatter it finds mean and scatter again."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

from sheetlark.drive import Propeller, measured_family
from sheetlark.drive.family import TERMS, gauge, reduced_advance, reynolds_measure, series

SCRIPT = Path(__file__).parents[2] / "scripts" / "derive_propellers.py"


@pytest.fixture(scope="module")
def derive():
    spec = importlib.util.spec_from_file_location("derive_propellers", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    sys.modules["derive_propellers"] = module  # its dataclasses look themselves up
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def made_up(derive):
    """Sixty propellers of two styles drawn from the measured family itself, with 1 % of noise on each point."""
    random = np.random.default_rng(5)
    found = []
    for number in range(60):
        style = ("sport", "slow-flight")[number % 2]
        diameter, ratio = random.uniform(0.2, 0.28), random.uniform(0.35, 1.0)
        mean, covariance = measured_family().expect(pitch_ratio=ratio, diameter_m=diameter, style=style)
        c = random.multivariate_normal(mean, covariance)
        rpm = random.uniform(2500, 6500, 60)
        advance = np.concatenate([np.zeros(15), random.uniform(0.1, 0.9, 45) * ratio])
        terms = series(reduced_advance(advance, ratio), reynolds_measure(diameter, rpm))
        ct, cp = (
            scale * (terms @ half) * random.normal(1, 0.01, rpm.size)
            for scale, half in zip(gauge(ratio), (c[:TERMS], c[TERMS:]), strict=True)
        )
        found.append(
            derive.Measured(
                name=f"{number}",
                style=style,
                diameter_m=diameter,
                pitch_ratio=ratio,
                rpm=rpm,
                advance=advance,
                thrust=ct,
                power=cp,
            )
        )
    return found


def test_left_out_propellers_lie_within_the_stated_spread(derive, made_up):
    """A self-consistent model holds two thirds of what it did not see inside its 68 %."""
    from sheetlark.drive.family import Closeness

    styles = ("slow-flight", "sport")
    family, coefficients = derive.fit(made_up[:40], styles, Closeness())
    assert coefficients.shape == (40, 2 * TERMS)
    inside, errors = [], []
    for p in made_up[40:]:
        who = Propeller(p.diameter_m, p.pitch_ratio * p.diameter_m, p.style, family=family)
        near = p.advance < 0.5 * p.pitch_ratio
        ct, _ = who.coefficients(p.advance[near], p.rpm[near])
        spread, _ = who.spread(p.advance[near], p.rpm[near])
        inside.append(np.mean(np.abs(p.thrust[near] - ct) < spread * ct))
        errors.append(np.median(np.abs(ct / p.thrust[near] - 1)))
    assert 0.45 < np.mean(inside) < 0.90
    assert np.median(errors) < 0.15


def test_its_own_propellers_are_followed_closely(derive, made_up):
    from sheetlark.drive.family import Closeness

    _, coefficients = derive.fit(made_up[:40], ("slow-flight", "sport"), Closeness())
    for p, c in zip(made_up[:40], coefficients, strict=True):
        scaled = p.terms @ c[:TERMS]
        assert np.median(np.abs(scaled / p.scaled[0] - 1)) < 0.02


def test_the_table_is_read(derive, tmp_path):
    table = tmp_path / "t.csv"
    table.write_text(
        "id,style,diameter_in,pitch_in,rpm,J,CT,CP\na,sport,10,5,3000,0,0.09,0.04\na,sport,10,5,3000,0.2,0.08,0.04\n",
        encoding="utf-8",
    )
    (one,) = derive.read(table)
    assert one.diameter_m == pytest.approx(0.254)
    assert one.pitch_ratio == pytest.approx(0.5)
    assert one.thrust.tolist() == [0.09, 0.08]
