import math
from dataclasses import replace

import numpy as np
import pytest

from sheetlark.errors import SolveError
from sheetlark.strength import (
    HalfWingDesign,
    Material,
    Section,
    elliptic_load,
    limit_load,
    rod,
    sheet_core_section,
    wing_strength,
)

PAPER = Material(
    name="paper",
    modulus_pa=3e9,
    shear_modulus_pa=1.2e9,
    tension_pa=30e6,
    compression_pa=15e6,
    density_kg_m3=700,
)
CORE = Material(
    name="core",
    modulus_pa=8e6,
    shear_modulus_pa=3e6,
    tension_pa=0.3e6,
    compression_pa=0.1e6,
    density_kg_m3=30,
)
CARBON = Material(
    name="carbon",
    modulus_pa=120e9,
    shear_modulus_pa=5e9,
    tension_pa=600e6,
    compression_pa=500e6,
    density_kg_m3=1550,
)
LIMIT = limit_load(top_ms=14.0, stall_ms=7.0)
SPEEDS = {"top_ms": 14.0, "cruise_ms": 10.0}


def board(chord, papers=2, spar=False):
    section = sheet_core_section(
        chord_m=chord,
        core=CORE,
        core_thickness_m=4.6e-3,
        paper=PAPER,
        paper_thickness_m=1.2e-4,
        papers=papers,
    )
    return replace(section, pieces=(*section.pieces, rod("spar", CARBON, 3e-3))) if spar else section


def half(**kind):
    y = 0.42 * np.sin(np.linspace(0, math.pi / 2, 25))
    chord = 0.19 - 0.03 * y / 0.42
    return HalfWingDesign(
        y_m=y,
        chord_m=chord,
        lift_n_m=elliptic_load(y, 0.42, 1.6),
        moment_nm_m=0 * y,
        sections=tuple(board(c, **kind) for c in chord),
    )


def test_limit_load_less_the_wings_own_weight_reaches_the_root():
    wing = half()
    got = wing_strength(wing, LIMIT, **SPEEDS)
    own = np.trapezoid([s.mass_kg_m for s in wing.sections], wing.y_m) * 9.80665
    assert got.bending.root_shear_n == pytest.approx(4.0 * (1.6 - own), rel=5e-3)
    assert got.joint.moment_nm == got.bending.root_moment_nm
    assert got.weakest == "upper paper"
    assert got.weakest_y_m < 0.1
    assert got.margin == pytest.approx(
        min(s.margin for s in wing.sections[0].stresses(got.bending.root_moment_nm)) / 1.5, rel=0.02
    )


def test_a_spar_stiffens_and_strengthens():
    bare, spar = wing_strength(half(), LIMIT, **SPEEDS), wing_strength(half(spar=True), LIMIT, **SPEEDS)
    assert spar.tip_deflection_m < 0.7 * bare.tip_deflection_m
    stress = {s.name: s for s in spar.stresses}
    assert stress["upper paper"].least_pa > next(s for s in bare.stresses if s.name == "upper paper").least_pa
    assert stress["spar"].most_pa > 0.0


def test_bare_core_is_flagged_as_soft():
    bare = wing_strength(half(papers=0), LIMIT, **SPEEDS)
    papers = wing_strength(half(), LIMIT, **SPEEDS)
    assert bare.twist.flutter_ms < 0.5 * papers.twist.flutter_ms
    assert bare.twist.cautious
    assert bare.margin < papers.margin
    assert not papers.twist.cautious


def test_lift_ahead_of_the_elastic_axis_twists_the_nose_up():
    got = wing_strength(half(), LIMIT, **SPEEDS)
    assert got.tip_twist_rad > 0.0
    held = wing_strength(replace(half(), elastic_axis=0.25, mass_axis=0.25), LIMIT, **SPEEDS)
    assert held.tip_twist_rad == pytest.approx(0.0, abs=1e-9)
    assert math.isinf(held.twist.divergence_ms)


def test_refusals():
    with pytest.raises(SolveError, match="25 values of lift_n_m"):
        replace(half(), lift_n_m=np.ones(3))
    with pytest.raises(SolveError, match="speeds must be positive"):
        wing_strength(half(), LIMIT, top_ms=0.0, cruise_ms=9.0)
    assert isinstance(half().sections[0], Section)
