"""Every remedy offered, written into the design and evaluated again, clears its finding and brings no fault."""

import numpy as np
import pytest

import sheetlark
from sheetlark.design import edited, loads, starter, varied
from sheetlark.errors import DesignError
from sheetlark.evaluation import evaluate
from sheetlark.review import applied, chosen_remedy, findings, line_changes, remedies_for

ROOT = "brambling"
NO_RUDDER = {("fin", 0, "rudder"): None, ("radio", "servo", 1): None}

# A design with each fault, by the finding that must be raised.
FAULTS = {
    "margin": (ROOT, {("drive", "pack_at"): [150, 0, -20]}),
    "nose-heavy": (ROOT, {("tailplane", "elevator", "up"): 3, ("tailplane", "elevator", "chord"): 0.2}),
    "mass": (ROOT, {("model", "target_mass"): "330 g"}),
    "climb": (ROOT, {("drive", "propeller"): "6x4-thin-electric"}),
    "power": (ROOT, {("drive", "propeller"): "6x4-thin-electric"}),
    "current-motor": (ROOT, {("drive", "propeller"): "11x7-thin-electric"}),
    "current-speed-controller": (ROOT, {("drive", "controller"): "esc-6"}),
    "current-battery": (ROOT, {("drive", "pack"): "2s-300"}),
    "propeller-clearance": (ROOT, {("gear", "at"): [78, -95]}),
    "no-turn": (
        ROOT,
        {
            ("wing", 1, "aileron"): None,
            ("fin", 0, "rudder"): None,
            ("radio", "servo", 2): None,
            ("radio", "servo", 1): None,
        },
    ),
    "yaw-stability": (ROOT, {("fin", 0, "height"): 50, **NO_RUDDER}),
    "adverse-yaw": (ROOT, {("fin", 0, "height"): 92, ("wing", 1, "aileron", "down"): 22, **NO_RUDDER}),
    "spiral": (ROOT, {("wing", 1, "dihedral"): -8, ("wing", 0, "dihedral"): -8, ("fin", 0, "height"): 170}),
    "dutch-roll": ("dunnock", {("wing", 0, "dihedral"): 14, ("fin", 0, "height"): 60}),
    "roll-rate": (ROOT, {("wing", 1, "aileron", "up"): 6, ("wing", 1, "aileron", "down"): 6}),
    "tail-volume": (ROOT, {("tailplane", "span"): 190}),
    "stall-speed": (
        "dunnock",
        {
            ("gear",): None,
            ("ballast", 0, "name"): "lead",
            ("ballast", 0, "mass"): 20,
            ("ballast", 0, "at"): [150, 0, 0],
        },
    ),
    "spar": (ROOT, {("wing", 0, "spar"): None, ("wing", 1, "spar"): None, ("sheet", "paper"): "none"}),
    "soft-wing": ("dunnock", {("wing", 0, "spar"): None, ("sheet", "paper"): "none"}),
    "strut": (
        ROOT,
        {
            ("wing", 0, "incidence"): -2,
            ("wing", 1, "incidence"): 3,
            ("strut", 0, "paper"): "none",
            ("strut", 0, "chord"): 8,
        },
    ),
    "twist": ("turnstone", {("sheet", "paper"): "none"}),
    "planks": (ROOT, {("body", "aft_deck", "end_height"): 2}),
    "servo-torque": (
        "turnstone",
        {
            ("radio", "servo", 0, "stock"): "servo-2g",
            ("radio", "servo", 0, "arm"): 14,
            ("radio", "servo", 0, "horn"): 9,
        },
    ),
    "linkage": (ROOT, {("radio", "servo", 1, "arm"): 4, ("radio", "servo", 1, "horn"): 16}),
    "thrust-line": (ROOT, {("drive", "down"): -3}),
    "minutes": (ROOT, {("drive", "pack"): "2s-300"}),
    "tip-stall": ("turnstone", {}),
}


def faulty(name):
    start, changes = FAULTS[name]
    return sheetlark.evaluate(loads(edited(starter(start), changes), "faulty.toml"))


def comments(text):
    return [line.partition("#")[2].strip() for line in text.splitlines() if "#" in line]


@pytest.mark.parametrize("name", FAULTS)
def test_every_remedy_clears_its_finding(name):
    evaluation = faulty(name)
    found = {f.id: f for f in sheetlark.findings(evaluation)}
    assert name in found, f"the design raises only {', '.join(found)}"
    faults = {f.id for f in found.values() if f.severity == "fault"}
    cautions = {f.id for f in found.values() if f.severity != "note"}
    remedies = remedies_for(evaluation, found[name])
    assert [len(r.brings) for r in remedies] == sorted(len(r.brings) for r in remedies)
    assert 1 <= len(remedies) <= 3
    for remedy in remedies:
        text = applied(evaluation, remedy)
        after = sheetlark.findings(sheetlark.evaluate(loads(text, "faulty.toml")))
        assert name not in {f.id for f in after}, remedy.says
        assert {f.id for f in after if f.severity == "fault"} <= faults, remedy.says
        assert {f.id for f in after if f.severity != "note"} - cautions <= set(remedy.brings), remedy.says
        assert all(name in remedy.moves for name in remedy.brings)
        assert remedy.says.endswith(".")
        before = comments(evaluation.design.source.text)
        assert all(note in comments(text) for note in before)


def test_a_remedy_is_the_least_that_serves():
    """One step less of the lever leaves the finding."""
    evaluation = faulty("margin")
    finding = next(f for f in sheetlark.findings(evaluation) if f.id == "margin")
    battery = remedies_for(evaluation, finding)[0]
    (change,) = battery.changes
    assert change.where == ("drive", "pack_at")
    x, y, z = change.value
    less = edited(evaluation.design.source.text, {("drive", "pack_at"): [x + 3, y, z]})
    assert "margin" in {f.id for f in sheetlark.findings(sheetlark.evaluate(loads(less)))}


def test_a_remedy_is_the_least_also_where_more_of_it_is_no_better():
    """With a rudder to mix in, the slip comes down to what is allowed, however much dihedral there is beyond enough."""
    changes = {("fin", 0, "height"): 92, ("wing", 1, "aileron", "down"): 22}
    evaluation = sheetlark.evaluate(loads(edited(starter(ROOT), changes)))
    finding = next(f for f in sheetlark.findings(evaluation) if f.id == "adverse-yaw")
    remedy = next(r for r in remedies_for(evaluation, finding) if "dihedral" in r.says)
    assert 0.5 < remedy.changes[0].value < 9.0
    less = {c.where: c.value - 0.5 for c in remedy.changes}
    after = sheetlark.evaluate(loads(edited(evaluation.design.source.text, less)))
    assert "adverse-yaw" in {f.id for f in sheetlark.findings(after)}


def test_the_remedies_of_a_starter_are_none_to_speak_of():
    for name in ("dunnock", "brambling"):
        evaluation = sheetlark.evaluate(loads(starter(name)))
        assert {f.severity for f in sheetlark.findings(evaluation)} <= {"note"}


def test_a_remedy_is_chosen_by_name_and_number():
    evaluation = faulty("servo-torque")
    first, second = (chosen_remedy(evaluation, w) for w in ("servo-torque", "servo-torque:2"))
    assert first != second
    assert "hole" in first.says
    with pytest.raises(DesignError, match=r"no finding 'wobble'; its findings are: .*servo-torque"):
        chosen_remedy(evaluation, "wobble")
    with pytest.raises(DesignError, match="has 2 remedies, numbered from 1; read 7"):
        chosen_remedy(evaluation, "servo-torque:7")
    with pytest.raises(DesignError, match=r"such as servo-torque:2, read 'servo-torque:two'"):
        chosen_remedy(evaluation, "servo-torque:two")
    with pytest.raises(DesignError, match="no single change"):
        chosen_remedy(evaluation, "registration")


def test_changed_lines_are_said_both_ways():
    said = line_changes("a = 1\nb = 2\nc = 3\n", "a = 1\nb = 5\nc = 3\nd = 4\n")
    assert said == ["  - b = 2", "  + b = 5   (line 2)", "  + d = 4   (line 4)"]


def test_the_shaft_is_set_to_what_is_best_once_it_is_set_so():
    """A tilt moves the slipstream off the tail, and with it the best tilt: the second step is from there."""
    e = evaluate(varied(starter("brambling"), {("drive", "down"): -6, ("drive", "right"): -8}))
    finding = next(f for f in findings(e) if f.id == "thrust-line")
    best = e.thrust.best
    angles = {"down": best.down_rad, "right": best.right_rad}
    at_first = {("drive", way): round(2.0 * np.degrees(angle)) / 2.0 for way, angle in angles.items()}
    once = evaluate(varied(e.design.source.text, at_first))
    assert "thrust-line" in {f.id for f in findings(once)}
    (remedy,) = remedies_for(e, finding)
    cured = evaluate(loads(applied(e, remedy)))
    assert "thrust-line" not in {f.id for f in findings(cured)}
    assert cured.thrust.off_rad < once.thrust.off_rad
