"""The weight table of whole designs."""

import numpy as np
import pytest

import sheetlark
from sheetlark.design import STARTERS, edited, loads, starter


def changed(name, changes):
    return sheetlark.evaluate(loads(edited(starter(name), changes), "mine.toml"))


@pytest.fixture(scope="module", params=STARTERS)
def evaluation(request):
    return sheetlark.evaluate(loads(starter(request.param)))


def test_the_whole_is_the_sum_of_its_lines(evaluation):
    w = evaluation.weights
    masses = np.array([line.mass_kg for line in w.lines])
    places = np.array([line.element.at_m for line in w.lines])
    assert w.all_up_kg == pytest.approx(masses.sum(), rel=1e-9)
    assert np.allclose(w.balance_m, masses @ places / masses.sum(), rtol=0, atol=1e-9)
    about = np.zeros((3, 3))
    for line in w.lines:
        d = line.element.at_m - w.balance_m
        s = line.element.second_moment + line.mass_kg * np.outer(d, d)
        about += np.trace(s) * np.eye(3) - s
    assert np.allclose(w.inertia_kg_m2, about, rtol=1e-9, atol=1e-12)


def test_a_symmetric_model_balances_on_its_centre_line(evaluation):
    assert abs(evaluation.weights.balance_m[1]) < 2e-3
    assert abs(evaluation.weights.inertia_kg_m2[0, 1]) < 0.02 * evaluation.weights.inertia_kg_m2[0, 0]


def test_inertia_is_that_of_a_real_body(evaluation):
    xx, yy, zz = np.linalg.eigvalsh(evaluation.weights.inertia_kg_m2)
    assert 0 < xx <= yy <= zz <= xx + yy


def test_parts_weigh_what_their_area_weighs(evaluation):
    stock = evaluation.stock
    lines = {line.name: line for line in evaluation.weights.lines}
    for part in evaluation.kit.parts:
        area = sum(
            sum(_polygon(p.outline) for p in copy) - sum(_polygon(h) for p in copy for h in p.holes)
            for copy in part.copies
        )
        areal = stock.sheet(part.sheet).areal_kg_m2(part.paper)
        assert lines[part.name].mass_kg == pytest.approx(area * 1e-6 * areal, rel=1e-9), part.name


def _polygon(points):
    from shapely.geometry import Polygon

    return Polygon(points).area


def test_every_line_says_where_its_mass_comes_from(evaluation):
    for line in evaluation.weights.lines:
        assert line.source in {"computed", "measured", "stated", "typical"}
        assert 0 <= line.spread < 1
        assert line.mass_kg > 0


def test_paper_off_is_lighter_and_stays_balanced():
    both, none = changed("dunnock", {}), changed("dunnock", {("sheet", "paper"): "none"})
    assert none.weights.all_up_kg < both.weights.all_up_kg - 0.03


def test_covering_adds_its_area():
    bare = changed("dunnock", {})
    covered = changed("dunnock", {("covering", "stock"): "film", ("covering", "wings"): "both"})
    film = bare.stock.covering("film").areal_density_kg_m2
    wing = sum(p.area_mm2 * p.count for p in bare.kit.parts if p.group == "wing") * 1e-6
    assert covered.weights.all_up_kg - bare.weights.all_up_kg == pytest.approx(2 * wing * film, rel=1e-6)


def test_ballast_moves_the_balance_by_its_moment():
    bare = changed("brambling", {})
    lead = changed("brambling", {("ballast", 0, "mass"): 20, ("ballast", 0, "at"): [5, 0, 0]})
    m = bare.weights.all_up_kg
    assert lead.weights.all_up_kg == pytest.approx(m + 0.020, rel=1e-12)
    moved = (m * bare.weights.balance_m[0] + 0.020 * 0.005) / (m + 0.020)
    assert lead.weights.balance_m[0] == pytest.approx(moved, rel=1e-9)


def test_spread_grows_with_what_errs_together():
    """Sheets of one batch err together: their deviations add, not their squares."""
    e = changed("brambling", {})
    sheet = [line for line in e.weights.lines if line.batch == "sheet foam-board-5"]
    together = sum(line.mass_kg * line.spread for line in sheet)
    assert e.weights.spread[0] >= together
    apart = np.sqrt(sum((line.mass_kg * line.spread) ** 2 for line in e.weights.lines))
    assert e.weights.spread[0] > 1.1 * apart
