"""Figures: all out of the document, and a drag's quick ones are the same."""

from __future__ import annotations

from typing import Any

import pytest

from sheetlark.bench.figures import evaluated, evaluated_quickly, figures, quick_document
from sheetlark.bench.scene import Meshes, kit_model, nodes_of, plate_model, scene
from sheetlark.design import STARTERS, loads, starter
from sheetlark.errors import DesignError, SolveError
from sheetlark.evaluation import flight_stage
from sheetlark.outline import read_path
from sheetlark.stock import load_stock


@pytest.fixture(scope="module", params=STARTERS)
def whole(request: Any) -> Any:
    return evaluated(loads(starter(request.param)))


def test_a_drag_shows_the_same_figures_as_the_document(whole: Any) -> None:
    evaluation, doc = whole
    slow = {f.id: f for f in figures(doc)}
    quick = {f.id: f for f in figures(quick_document(evaluation))}
    assert quick.keys() == slow.keys()
    for key, figure in quick.items():
        assert figure.value == pytest.approx(slow[key].value, rel=1e-9)
        assert figure.because == slow[key].because


def test_every_figure_tells_its_reason_and_source(whole: Any) -> None:
    _, doc = whole
    found = figures(doc)
    assert {"mass", "balance", "margin", "power", "stall"} <= {f.id for f in found}
    for figure in found:
        assert figure.source in {"computed", "measured", "typical", "stated"}
        assert len(figure.because) > 20


def test_what_no_stage_computed_is_not_shown(whole: Any) -> None:
    _, doc = whole
    bare = {k: v for k, v in doc.items() if k not in {"drive", "flight"}}
    assert {f.id for f in figures(bare)} == {"mass", "balance", "margin"}
    assert figures({}) == []


def test_the_model_is_made_of_every_real_part(whole: Any) -> None:
    evaluation, _ = whole
    meshes = Meshes()
    model = kit_model(evaluation.kit, meshes)
    drawn = {part["name"] for part in model["parts"]}
    assert drawn == {part.name for part in evaluation.kit.parts}
    assert len(model["parts"]) == sum(len(c) for p in evaluation.kit.parts for c in p.copies)
    assert all(meshes.text(part["mesh"]) for part in model["parts"])


def test_the_scene_draws_the_stated_span(whole: Any) -> None:
    evaluation, _ = whole
    made = scene(evaluation.design, evaluation.airframe, evaluation.stock)
    wing = made["surfaces"][0]
    tip = max(point[1] for point in wing["line"])
    half = evaluation.airframe.wings[0].place(0.0, evaluation.airframe.wings[0].half_span_m)[1] * 1e3
    assert tip == pytest.approx(half, abs=0.1)
    assert {item["kind"] for item in made["items"]} >= {"motor", "pack", "controller", "receiver", "servo"}


def test_plates_stand_in_while_parts_are_made(whole: Any) -> None:
    evaluation, _ = whole
    meshes = Meshes()
    plates = plate_model(evaluation.airframe, meshes)
    assert len(plates["parts"]) == sum(2 if s.mirrored else 1 for s in evaluation.airframe.surfaces)
    assert not plates["real"]


def test_meshes_are_forgotten_oldest_first() -> None:
    stock = load_stock()
    evaluation, _ = evaluated(loads(starter("dunnock")))
    meshes = Meshes(most=3)
    names = [p["mesh"] for p in kit_model(evaluation.kit, meshes)["parts"]]
    assert meshes.text(names[-1]) is not None
    assert sum(meshes.text(n) is not None for n in set(names)) == 3
    assert stock is evaluation.stock


def test_nodes_of_a_closed_path_meet_at_its_start() -> None:
    nodes = nodes_of(read_path("M 0 0 L 100 0 C 120 0, 120 40, 100 40 L 0 40 Z"))
    assert [(n["x"], n["y"]) for n in nodes] == [(0, 0), (100, 0), (100, 40), (0, 40)]
    assert nodes[1]["out"] == [120, 0]
    assert nodes[2]["in"] == [120, 40]


def test_what_cannot_be_found_while_a_hand_draws_is_told_by_the_designs_name(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def none(*_: object, **__: object) -> None:
        raise SolveError("it balances nowhere")

    monkeypatch.setattr(flight_stage, "balance_range", none)
    with pytest.raises(DesignError, match=r"mine\.toml: it balances nowhere"):
        evaluated_quickly(loads(starter("dunnock"), "mine.toml"))
