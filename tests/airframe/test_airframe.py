"""Designs placed in space; what cannot be is refused by name."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.airframe import airframe
from sheetlark.design import STARTERS, edited, loads, starter
from sheetlark.errors import GeometryError, StockError
from sheetlark.stock import load_stock

STOCK = load_stock()


def changed(name, changes):
    return loads(edited(starter(name), changes), "mine.toml")


@pytest.mark.parametrize(
    ("name", "layout"),
    [("dunnock", "monoplane"), ("brambling", "biplane"), ("turnstone", "tailless monoplane")],
)
def test_starters_are_placed(name, layout):
    frame = airframe(loads(starter(name)), STOCK)
    assert frame.layout == layout
    assert set(STARTERS) == {"dunnock", "brambling", "turnstone"}


def test_reference_of_two_wings_is_their_weighted_mean():
    frame = airframe(loads(starter("brambling")), STOCK)
    upper, lower = frame.wings
    area = [2 * w.half_area_m2 * math.cos(w.dihedral_rad) for w in (upper, lower)]
    assert frame.reference.area_m2 == pytest.approx(sum(area))
    chord = [w.mean_chord.chord for w in (upper, lower)]
    assert frame.reference.chord_m == pytest.approx(np.average(chord, weights=area))
    x = [w.place(w.mean_chord.leading_edge_x, w.mean_chord.station_y)[0] for w in (upper, lower)]
    assert frame.reference.leading_edge_m[0] == pytest.approx(np.average(x, weights=area))
    assert frame.reference.span_m == pytest.approx(0.72)


@given(st.floats(-15, 15), st.floats(-30, 60))
@settings(max_examples=30, deadline=None)
def test_axes_stay_square(incidence, dihedral):
    design = changed("dunnock", {("wing", 0, "incidence"): incidence, ("wing", 0, "dihedral"): dihedral})
    wing = airframe(design, STOCK).wings[0]
    assert np.allclose(wing.axes @ wing.axes.T, np.eye(3), atol=1e-12)
    root = wing.place(0.1, 0.0) - wing.place(0.0, 0.0)
    assert math.atan2(-root[2], root[0]) == pytest.approx(math.radians(incidence), abs=1e-9)
    port = wing.matrix(port=True) @ np.array([10.0, 50.0, 2.0, 1.0])
    starboard = wing.matrix() @ np.array([10.0, 50.0, 2.0, 1.0])
    assert np.allclose(port, starboard * [1, -1, 1, 1])


@pytest.mark.parametrize(
    ("changes", "where", "words"),
    [
        (
            {("wing", 1, "at"): [92, -200], ("strut",): None},
            ("wing", 0, "at"),
            "'upper wing'.* misses the body",
        ),
        ({("wing", 0, "at"): [900, 88]}, ("strut", 0), "off the body|names the lower|misses"),
        ({("tailplane", "at"): [700, 18]}, ("tailplane", "at"), "misses the body"),
        (
            {("body", "former", 3, "at"): 800},
            ("body", "former", 3, "at"),
            "lies outside the body, which runs from 0.0 to 546.0 mm",
        ),
        ({("body", "former", 3, "at"): 545}, ("body", "former", 3, "at"), "no room|leave no former"),
        ({("body", "former", 1, "at"): 12}, ("body", "former"), "closer than the sheet is thick"),
        ({("fin", 0, "at"): [424, 90]}, ("fin", 0, "at"), "neither body nor wing nor tailplane"),
        ({("strut", 0, "y"): 900}, ("strut", 0, "y"), "beyond the tip"),
        (
            {("strut", 0, "joins"): ["lower wing", "uper wing"]},
            ("strut", 0, "joins"),
            "no 'uper wing' to join",
        ),
        (
            {("strut", 0, "joins"): ["upper wing", "lower wing"]},
            ("strut", 0, "joins"),
            "name the lower end first",
        ),
        (
            {("body", "profile"): "M 0 0 L 500 40 L 500 0 L 0 40 Z"},
            ("body", "profile"),
            "crosses itself near",
        ),
        ({("body", "aft_deck", "end"): 900}, ("body", "aft_deck"), "beyond the body"),
        ({("drive", "pack_at"): [2000, 0, 0]}, ("drive", "pack_at"), "lies off the body"),
    ],
)
def test_impossible_designs_are_refused_by_name(changes, where, words):
    with pytest.raises(GeometryError, match=words) as caught:
        airframe(changed("brambling", changes), STOCK)
    assert caught.value.where[: len(where)] == where or words.startswith("off")


def outline_design(data):
    text = starter("dunnock")
    changes = {("wing", 0, k): None for k in ("span", "root_chord", "tip_chord", "tip_roundness")}
    return loads(edited(edited(text, changes | {("wing", 0, "spar"): None}), {("wing", 0, "outline"): data}))


def test_an_outline_in_path_data():
    frame = airframe(outline_design("M 0 0 L 0 320 L 150 320 L 150 0"), STOCK)
    assert frame.wings[0].area_m2 == pytest.approx(0.15 * 0.64)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ("M 0 0 L 150 320 L 150 10 L 0 320 L 160 0", "crosses itself"),
        ("M 0 20 L 0 320 L 150 320 L 150 0", "begin and end at 0"),
        ("M 0 0 L 0 -90 L 0 320 L 150 320 L 150 0", "one side of its centre line|crosses itself"),
        ("M 0 0 L 150 0", "at least 3|encloses|no span"),
    ],
)
def test_bad_outlines_are_refused(data, words):
    with pytest.raises(GeometryError, match=words):
        airframe(outline_design(data), STOCK)


def test_a_material_nobody_has():
    with pytest.raises(StockError, match="nearest is 'foam-board-5"):
        airframe(changed("dunnock", {("sheet", "stock"): "foam-bord-5"}), STOCK)


def test_layouts_that_must_be_expressible():
    negative = changed("brambling", {("wing", 0, "at"): [112, 88], ("wing", 1, "at"): [66, -44]})
    frame = airframe(negative, STOCK)
    assert frame.wings[0].at_m[0] > frame.wings[1].at_m[0]
    strut = frame.struts[0]
    assert strut.upper_m[0] > strut.lower_m[0]

    banded = changed("brambling", {("wing", 1, "held"): "bands"})
    assert airframe(banded, STOCK).wings[1].held == "bands"

    three = changed("brambling", {("radio", "servo", 1): None, ("fin", 0, "rudder"): None})
    frame = airframe(three, STOCK)
    assert frame.fins[0].control is None
    assert {e.name for e in frame.equipment if e.kind == "servo"} == {
        "elevator servo",
        "aileron servo, starboard",
        "aileron servo, port",
    }

    canard = changed("dunnock", {("wing", 0, "at"): [300, 44], ("tailplane", "at"): [20, 20]})
    assert airframe(canard, STOCK).layout == "canard monoplane"
    vee = changed("dunnock", {("tailplane", "dihedral"): 35})
    assert airframe(vee, STOCK).layout == "V-tail monoplane"


def test_moving_the_battery_keeps_the_shapes():
    first = airframe(loads(starter("brambling")), STOCK)
    second = airframe(changed("brambling", {("drive", "pack_at"): [70, 0, -22]}), STOCK)
    assert all(a is b for a, b in zip(first.surfaces, second.surfaces, strict=True))
    assert first.body is second.body


@pytest.mark.parametrize("name", STARTERS)
def test_hinge_lines_lie_inside(name):
    for surface in airframe(loads(starter(name)), STOCK).surfaces:
        line = surface.hinge_line()
        if surface.control is None:
            assert line is None
            continue
        (x0, y0), (x1, y1) = line
        assert y0 < y1
        front, chord = surface.chord_at(surface.control.start)
        assert x0 == pytest.approx(front + (1 - surface.control.chord_share) * chord)
        if surface.control.moves == "elevator":
            assert x0 == x1
