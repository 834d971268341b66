"""The proof: clean kits are clean, and what is spoilt on purpose is found, named, placed and measured."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from sheetlark.airframe import airframe
from sheetlark.design import loads
from sheetlark.parts import make_kit, prove

NAMES = ("dunnock", "brambling", "turnstone", "backstagger", "canard", "v-tail", "parasol", "low-wing-bands")


@pytest.mark.parametrize("name", NAMES)
def test_it_goes_together(built, name):
    proof = built(name).proof
    assert proof.clean, [f.says for f in proof.findings]
    assert proof.slots > 0
    assert all(gap >= 1.0 for _, gap in proof.least_gap_mm)


def test_every_surface_is_tried_in_steps_of_two_degrees(built):
    # 14 down to 22 up, 18 to 18, 28 to 28: whole steps of 2 degrees and both ends; two ailerons.
    assert built("brambling").proof.positions == 2 * (18 + 1) + (18 + 1) + (28 + 1)


def shifted(part, index, by):
    """A part with one of its holes moved, on the sheet and in place."""
    move = np.asarray(by, dtype=float)
    near = part.holes[index].mean(axis=0)

    def moved(holes):
        return tuple(h + move if np.linalg.norm(h.mean(axis=0) - near) < 1.0 else h for h in holes)

    copies = tuple(tuple(replace(p, holes=moved(p.holes)) for p in copy) for copy in part.copies)
    return replace(part, holes=moved(part.holes), copies=copies)


def swapped(kit, part):
    return replace(kit, parts=tuple(part if p.number == part.number else p for p in kit.parts))


def test_a_slot_two_millimetres_off_is_found(built, stock):
    b = built("brambling")
    tailplane = b.kit.part("tailplane")
    spoilt = swapped(b.kit, shifted(tailplane, 0, (2.0, 0.0)))
    findings = prove(spoilt, b.airframe, stock).findings
    fits = [f for f in findings if f.kind == "fit"]
    assert [(f.first, f.second) for f in fits] == [("tailplane", "fin")]
    assert fits[0].amount == pytest.approx(2.0, abs=0.3)
    assert "move the slot" in fits[0].cure
    overlaps = [f for f in findings if f.kind == "overlap"]
    assert {(f.first, f.second) for f in overlaps} == {("tailplane", "fin")}
    # The tab's end lies in the tailplane: 2 mm less half the play, as thick as the sheet, through the sheet.
    assert overlaps[0].amount == pytest.approx((2.0 - 0.15) * 5.0 * 5.0, rel=0.1)
    fin = b.airframe.fins[0]
    assert overlaps[0].at_mm[0] == pytest.approx(1e3 * fin.at_m[0] + 50, abs=45)


def test_a_slot_too_wide_is_found(built, stock):
    b = built("brambling")
    strut = replace(b.kit.part("interplane strut"), thickness_mm=3.0)
    fits = [f for f in prove(swapped(b.kit, strut), b.airframe, stock).findings if f.kind == "fit"]
    assert {f.second for f in fits} == {"interplane strut"}
    assert {f.first for f in fits} == {"upper wing", "lower wing panel"}


def grown(part, index, by):
    """A part with one of its holes wider all round, on the sheet and in place."""
    from shapely.geometry import Polygon

    near = part.holes[index].mean(axis=0)

    def wider(holes):
        return tuple(
            np.asarray(Polygon(h).buffer(by, join_style="mitre").exterior.coords)[:-1]
            if np.linalg.norm(h.mean(axis=0) - near) < 1.0
            else h
            for h in holes
        )

    copies = tuple(tuple(replace(p, holes=wider(p.holes)) for p in copy) for copy in part.copies)
    return replace(part, holes=wider(part.holes), copies=copies)


@pytest.mark.parametrize(
    ("name", "host", "guest"),
    [
        ("brambling", "tailplane", "fin"),
        ("brambling", "body side, starboard", "former 2"),
        ("brambling", "upper wing", "interplane strut"),
        ("dunnock", "body side, port", "former 3"),
    ],
)
@pytest.mark.parametrize(("by", "found"), [(0.04, False), (0.15, True), (0.3, True)])
def test_a_slot_looser_than_stated_is_found(built, stock, name, host, guest, by, found):
    """Twice the stated play, a tenth too loose on each side, is caught; the width of a knife is not."""
    b = built(name)
    part = b.kit.part(host)
    joint = next(j for j in b.kit.joints if j.kind == "tab-and-slot" and (j.first, j.second) == (host, guest))
    piece = part.copies[0]
    middle = np.mean(np.asarray(joint.runs_mm[0]), axis=0)

    def off(hole):
        return min(
            np.linalg.norm((q.matrix @ np.array([*hole.mean(axis=0), 0, 1.0]))[:3] - middle) for q in piece
        )

    index = min(range(len(part.holes)), key=lambda k: off(part.holes[k]))
    findings = prove(swapped(b.kit, grown(part, index, by)), b.airframe, stock).findings
    fits = [f for f in findings if f.kind == "fit"]
    assert bool(fits) == found, [f.says for f in findings]
    if found:
        assert (fits[0].first, fits[0].second) == (host, guest)
        assert "idle" in fits[0].says


def test_thinner_sheet_is_drawn_right_from_the_design(text_of, stock):
    text = text_of("backstagger")
    thin = loads(text.replace('stock = "foam-board-5"', 'stock = "foam-board-3"', 1))
    frame = airframe(thin, stock)
    kit = make_kit(frame, stock)
    proof = prove(kit, frame, stock)
    assert proof.clean, [f.says for f in proof.findings]
    slot = min(kit.part("upper wing").holes, key=lambda h: np.ptp(h[:, 1]))
    assert np.ptp(slot[:, 1]) == pytest.approx(3.0 + 0.3, abs=0.02)


def test_doubled_elevator_travel_is_found_on_the_old_parts_and_drawn_right_in_the_design(
    built, text_of, stock
):
    b = built("dunnock")
    swings = tuple(
        replace(s, up_rad=2 * s.up_rad, down_rad=2 * s.down_rad) if s.moving == "elevator" else s
        for s in b.kit.swings
    )
    findings = prove(replace(b.kit, swings=swings), b.airframe, stock).findings
    assert {f.kind for f in findings} == {"motion"}
    assert any(f.first == "elevator" and f.second == "rudder" for f in findings)
    assert any("relieve" in f.cure for f in findings)
    text = text_of("dunnock").replace("chord = 0.4\nup = 18\ndown = 18", "chord = 0.4\nup = 36\ndown = 36")
    assert text != text_of("dunnock")
    frame = airframe(loads(text), stock)
    kit = make_kit(frame, stock)
    assert prove(kit, frame, stock).clean
    assert kit.part("rudder").area_mm2 < b.kit.part("rudder").area_mm2


@pytest.mark.parametrize(
    ("old", "new", "kind", "words"),
    [
        ("pack_travel = 12", "pack_travel = 60", "equipment", "battery through its travel"),
        ("receiver_at = [175, 0, -25]", "receiver_at = [66, 0, -14]", "equipment", "battery and receiver"),
        ("pack_at = [66, 0, -14]", "pack_at = [66, 22, -14]", "equipment", "body side"),
        ("motor_at = [4, 0, 0]", "motor_at = [40, 0, 0]", "propeller", "strikes body side"),
        (
            "at = [110, -105]\ntrack = 170",
            "at = [110, -56]\ntrack = 50",
            "equipment",
            "wheel, starboard rubs on",
        ),
    ],
)
def test_what_does_not_fit_in_is_found(text_of, stock, old, new, kind, words):
    text = text_of("dunnock")
    assert old in text
    frame = airframe(loads(text.replace(old, new)), stock)
    findings = prove(make_kit(frame, stock), frame, stock).findings
    assert any(f.kind == kind and words in f.says for f in findings), [f.says for f in findings]


@pytest.mark.parametrize(
    ("old", "new", "changed"),
    [
        ("pack_travel = 12", "pack_travel = 60", ("drive", "pack_travel")),
        ("pack_at = [66, 0, -14]", "pack_at = [66, 22, -14]", ("drive", "pack_at")),
        ("at = [110, -105]\ntrack = 170", "at = [110, -56]\ntrack = 50", ("gear", "track")),
    ],
)
def test_the_change_that_is_offered_clears_it(text_of, stock, old, new, changed):
    text = text_of("dunnock").replace(old, new)
    spoilt = _proved(text, stock)
    changes = [f.change for f in spoilt if f.change is not None]
    assert {c[0] for c in changes} == {changed}
    value = changes[-1][1]
    shown = list(value) if isinstance(value, tuple) else value
    cured = re.sub(rf"(?m)^{changed[-1]} = [^\n#]*", f"{changed[-1]} = {shown}", text)
    assert cured != text
    assert len(_proved(cured, stock)) < len(spoilt)
    assert not [f for f in _proved(cured, stock) if f.kind == "equipment"]


def _proved(text, stock):
    frame = airframe(loads(text), stock)
    return prove(make_kit(frame, stock), frame, stock).findings


def test_a_throw_that_is_offered_stays_clear(built, stock):
    b = built("dunnock")
    wide = replace(next(s for s in b.kit.swings if s.moving == "elevator"), up_rad=0.8)
    others = tuple(s for s in b.kit.swings if s.moving != "elevator")
    findings = prove(replace(b.kit, swings=(wide, *others)), b.airframe, stock).findings
    (where, value) = next(f.change for f in findings if f.first == "elevator")
    assert where == ("tailplane", "elevator", "up")
    kept = replace(wide, up_rad=np.radians(value))
    found = prove(replace(b.kit, swings=(kept, *others)), b.airframe, stock).findings
    assert not [f for f in found if f.first == "elevator"]


def test_a_servo_on_the_spar_is_found(text_of, stock):
    text = text_of("turnstone")
    old = next(line for line in text.splitlines() if line.startswith("at = [") and line.endswith(", 130, 2]"))
    frame = airframe(loads(text.replace(old, "at = [346, 130, 2]")), stock)
    findings = prove(make_kit(frame, stock), frame, stock).findings
    assert {(f.first, f.second) for f in findings} == {
        ("elevon servo, starboard", "wing spar, starboard"),
        ("elevon servo, port", "wing spar, port"),
    }


def test_a_wing_that_catches_is_found(built, stock):
    b = built("low-wing-bands")
    up = tuple(replace(r, path_mm=(0.0, 0.0, 40.0)) for r in b.kit.removals)
    (finding,) = prove(replace(b.kit, removals=up), b.airframe, stock).findings
    assert finding.kind == "withdrawal"
    assert finding.first == "wing"
    assert "cannot be taken off" in finding.says


def test_progress_runs_from_start_to_end(built, stock):
    b = built("turnstone")
    told = []
    prove(b.kit, b.airframe, stock, progress=lambda share, words: told.append((share, words)))
    shares = [s for s, _ in told]
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    assert all(words for _, words in told)
