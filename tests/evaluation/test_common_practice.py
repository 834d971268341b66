"""What the trade knows of such models. Common practice, no source: rules of thumb, not measurements."""

import math

import pytest

import sheetlark
from sheetlark.design import edited, loads, starter
from sheetlark.review import applied, remedies_for

# A 30 in biplane of two alike flat wings on two cells.
THIRTY_INCH = {
    ("model", "target_mass"): "13.5 oz",
    ("wing", 0, "span"): "30 in", ("wing", 0, "root_chord"): 140, ("wing", 0, "tip_chord"): 130,
    ("wing", 0, "incidence"): 0, ("wing", 0, "dihedral"): 0,
    ("wing", 1, "span"): "30 in", ("wing", 1, "root_chord"): 140, ("wing", 1, "tip_chord"): 130,
    ("wing", 1, "incidence"): 0, ("wing", 1, "dihedral"): 0,
}  # fmt: skip

# The same with the tail 80 mm nearer and ailerons alone, equal up and down.
SHORT_TAIL = {
    **THIRTY_INCH,
    ("body", "profile"): "M 0 44 C 40 50, 90 48, 150 44 L 220 42 C 295 34, 386 24, 466 20 L 466 6 "
    "C 371 -2, 280 -36, 200 -46 L 60 -50 C 30 -50, 12 -48, 0 -44 Z",
    ("body", "width"): [[0, 92], [60, 92], [220, 74], [466, 14]],
    ("body", "former", 3, "at"): 303,
    ("body", "aft_deck", "end"): 356,
    ("tailplane", "at"): [352, 18],
    ("fin", 0, "at"): [344, 20],
    ("fin", 0, "rudder"): None,
    ("radio", "servo", 1): None,
    ("wing", 1, "aileron", "down"): 22,
}


def evaluated(changes):
    return sheetlark.evaluate(loads(edited(starter("brambling"), changes), "thirty.toml"))


def test_a_flat_winged_thirty_inch_biplane_flies_fast_but_fine():
    e = evaluated(THIRTY_INCH)
    assert e.stock.pack(e.design.drive.pack).cells == 2
    # About 12 oz, give or take what a build varies by.
    assert e.weights.all_up_kg / 0.0283495 == pytest.approx(12.0, abs=1.5)
    # Nothing about how it flies; its thin wings may want looking after.
    found = {f.id for f in sheetlark.findings(e) if f.severity != "note"}
    assert found <= {"spar"}
    # Flat sheets stall at little lift, so it lands fast for its loading; yet a hand could still throw it.
    assert 5.5 < e.flight.stall_ms < 7.5
    assert e.flight.performance.top_ms > 1.8 * e.flight.stall_ms
    assert e.flight.performance.best_climb_ms > 2.0


def test_with_a_short_tail_and_ailerons_alone_it_skids_and_a_rudder_cures_it():
    e = evaluated(SHORT_TAIL)
    finding = next(f for f in sheetlark.findings(e) if f.id == "adverse-yaw")
    assert finding.value > 5.0
    long_tail = evaluated({**THIRTY_INCH, ("wing", 1, "aileron", "down"): 22})
    assert e.controls.entry.peak_sideslip_rad > 1.15 * long_tail.controls.entry.peak_sideslip_rad
    rudder = next(r for r in remedies_for(e, finding) if "rudder" in r.says)
    after = sheetlark.evaluate(loads(applied(e, rudder)))
    assert "adverse-yaw" not in {f.id for f in sheetlark.findings(after)}
    assert "rudder" in after.air.model.drives
    assert after.controls.coordinated.peak_sideslip_rad <= math.radians(5.0)


def test_a_quarter_of_the_combined_chord_is_a_fair_balance_point_with_reverse_stagger():
    """The lower wing ahead of the upper one: 25 % of both wings' combined mean chord lies inside the range."""
    e = evaluated(
        {
            ("wing", 0, "at"): [112, 88],
            ("wing", 1, "at"): [80, -44],
            ("radio", "servo", 2, "at"): [138, 215, -36],
        }
    )
    r, here = e.airframe.reference, float(e.weights.balance_m[0])
    quarter = r.leading_edge_m[0] + 0.25 * r.chord_m
    # The range that leaves half of a first flight's margin; the whole of it ends within 2 % of the chord of 25 %.
    least = e.air.neutral_point_m - 0.5 * e.flight.wanted_margin * r.chord_m
    assert here + e.flight.balance.forward_limit_m < quarter < least
    assert abs(quarter - (here + e.flight.balance.aft_limit_m)) < 0.02 * r.chord_m
