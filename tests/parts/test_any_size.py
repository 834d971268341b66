"""Whatever the sizes: a kit that is sound, or a refusal in words; never anything else."""

from __future__ import annotations

import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sheetlark.airframe import airframe
from sheetlark.design import loads
from sheetlark.errors import SheetlarkError
from sheetlark.outline import polygon
from sheetlark.parts import make_kit, prove

FACTORS = st.sampled_from([0.5, 0.7, 0.85, 1.0, 1.15, 1.4, 2.0])
SECTIONS = st.sampled_from(["flat", "flat", "arc", "folded", "hollow", "stepped"])
KEYS = (
    "span",
    "root_chord",
    "tip_chord",
    "sweep",
    "dihedral",
    "incidence",
    "chord",
    "height",
    "up",
    "opening",
)


def scaled(text, factors):
    """Every number of some keys, times the factor of its key."""
    lines = []
    for line in text.splitlines():
        key = line.split(" = ")[0]
        if key in factors:
            bare = line.split("#")[0]
            lines.append(re.sub(r"-?\d+(\.\d+)?", lambda m, k=key: f"{float(m[0]) * factors[k]:g}", bare))
        else:
            lines.append(line)
    return "\n".join(lines)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    name=st.sampled_from(["dunnock", "backstagger", "turnstone", "low-wing-bands", "v-tail"]),
    factors=st.fixed_dictionaries(dict.fromkeys(KEYS, FACTORS)),
    section=SECTIONS,
)
def test_a_kit_or_a_refusal(text_of, stock, name, factors, section):
    text = scaled(text_of(name), factors)
    text = re.sub(r'^(name = ".*wing")$', rf'\1\nsection = "{section}"', text, flags=re.MULTILINE)
    try:
        frame = airframe(loads(text), stock)
        kit = make_kit(frame, stock)
    except SheetlarkError:
        return
    for part in kit.parts:
        assert polygon(part.outline, part.name).area > 60.0
        assert part.area_mm2 > 0
    for finding in prove(kit, frame, stock).findings:
        assert finding.first in finding.says or finding.second in finding.says
        assert finding.cure


@pytest.mark.parametrize("sheet", ["foam-board-3", "foam-board-5-craft", "xps-6", "epp-6"])
@pytest.mark.parametrize("name", ["backstagger", "low-wing-bands", "parasol"])
def test_any_sheet_is_drawn_right(text_of, stock, name, sheet):
    text = text_of(name).replace('stock = "foam-board-5"', f'stock = "{sheet}"', 1)
    frame = airframe(loads(text), stock)
    proof = prove(make_kit(frame, stock), frame, stock)
    assert [f.says for f in proof.findings if f.kind != "equipment"] == []
