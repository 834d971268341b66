"""Wings that are not one flat sheet: bent, folded, doubled; developed true, and proved in place."""

from __future__ import annotations

import numpy as np
import pytest

from sheetlark.airframe import airframe
from sheetlark.design import loads
from sheetlark.errors import GeometryError
from sheetlark.outline import signed_area
from sheetlark.parts import make_kit
from sheetlark.parts.sections import curve_of

SECTIONS = ("arc", "folded", "hollow", "stepped")


@pytest.fixture
def with_section(text_of):
    def text(name, section, more=""):
        return text_of(name).replace('name = "wing"\n', f'name = "wing"\nsection = "{section}"\n{more}', 1)

    return text


@pytest.mark.parametrize("name", ["dunnock", "low-wing-bands"])
@pytest.mark.parametrize("section", SECTIONS)
def test_each_section_goes_together(build_text, with_section, name, section):
    b = build_text(with_section(name, section))
    assert b.proof.clean, [f.says for f in b.proof.findings]
    names = {p.name for p in b.kit.parts}
    expected = {
        "arc": {"wing inner rib", "wing outer rib"},
        "folded": {"wing inner rib", "wing outer rib"},
        "hollow": {"wing upper skin", "wing spar web"},
        "stepped": {"wing upper layer"},
    }
    assert expected[section] <= names


@pytest.mark.parametrize("section", ["arc", "folded"])
def test_the_middle_surface_stands_as_high_as_stated(build_text, with_section, section):
    b = build_text(with_section("dunnock", section, 'camber = "6 %"\n'))
    wing = b.airframe.wings[0]
    to_panel = np.linalg.inv(wing.matrix())
    heights, chords = [], []
    for piece in b.kit.part("wing panel").copies[0]:
        p = np.column_stack([piece.outline, np.zeros(len(piece.outline)), np.ones(len(piece.outline))])
        local = (to_panel @ piece.matrix @ p.T).T
        root = local[local[:, 1] < 60.0]
        heights.extend(root[:, 2])
        chords.extend(160.0 - 10.0 * root[:, 1] / 320.0)
    high = int(np.argmax(heights))
    assert heights[high] == pytest.approx(0.06 * chords[high], abs=0.15)
    assert min(heights) == pytest.approx(0.0, abs=0.15)


def test_a_developed_arc_is_longer_than_its_chord_by_the_arcs_excess(stock, with_section):
    frame = airframe(loads(with_section("dunnock", "arc", 'camber = "8 %"\n')), stock)
    wing = frame.wings[0]
    curve = curve_of(wing)
    flat = curve.to_sheet(
        np.array([(curve.edge_at(0.0) + s * curve.chord_at(0.0), 0.0) for s in curve.shares])
    )
    length = np.linalg.norm(np.diff(flat, axis=0), axis=1).sum()
    assert length == pytest.approx(160.0 * arc_excess(0.08), abs=0.1)


def arc_excess(camber):
    radius = (0.25 + camber**2) / (2 * camber)
    return 4 * radius * np.arctan2(2 * camber, 1.0)


@pytest.mark.parametrize(
    ("section", "longer"),
    [("arc", arc_excess(0.05)), ("folded", np.hypot(0.4, 0.05) + np.hypot(0.6, 0.05))],
)
def test_laying_a_curved_panel_flat_keeps_its_area(build_text, with_section, section, longer):
    kit = build_text(with_section("dunnock", section)).kit
    panel = kit.part("wing panel")
    placed = sum(abs(signed_area(p.outline)) for p in panel.copies[0])
    assert placed == pytest.approx(abs(signed_area(panel.outline)), rel=1e-4)
    flat = build_text(with_section("dunnock", "flat")).kit.part("wing panel")
    # Longer by the section's own excess, less the strip cut back at the root for the dihedral.
    root = (0.05 * 160 + 2.5) * np.tan(np.radians(6)) * 160
    assert panel.area_mm2 == pytest.approx(longer * (flat.area_mm2 - root), rel=1e-3)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ('camber = "30 %"\n', "more than sheet takes; at most 15 %"),
        ('crest = "95 %"\n', "must lie from 10 % to 90 %"),
    ],
)
def test_a_section_that_cannot_be_bent_is_refused(stock, with_section, more, words):
    text = with_section("dunnock", "folded", more)
    with pytest.raises(GeometryError, match=words) as caught:
        make_kit(airframe(loads(text), stock), stock)
    assert caught.value.where[:2] == ("wing", 0)
