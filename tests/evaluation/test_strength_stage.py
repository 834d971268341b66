"""Strength of whole designs: equilibrium, the frame against the cantilever, and what a spar or paper does."""

import math

import numpy as np
import pytest

import sheetlark
from sheetlark.design import edited, loads, starter
from sheetlark.evaluation.braced import braced_wings
from sheetlark.evaluation.wing_sections import rod_material, stations_of
from sheetlark.stock import load_stock
from sheetlark.strength import HalfWing, bend

G = 9.80665


def changed(name, changes):
    return sheetlark.evaluate(loads(edited(starter(name), changes), "mine.toml"))


@pytest.fixture(scope="module")
def biplane():
    return changed("brambling", {})


def test_wings_and_tail_together_carry_the_weight(biplane):
    wings = sum(w.lift_n for w in biplane.strength.wings)
    lifts = {s.surface: s.lift_n for s in biplane.air.results.shares}
    share = sum(lifts[w.name] for w in biplane.strength.wings) / sum(lifts.values())
    # The half wing is integrated on its own stations: within 2 % of the lattice's sum.
    assert wings == pytest.approx(share * biplane.weights.all_up_kg * G, rel=0.02)


def test_limit_load_is_the_pull_at_top_speed(biplane):
    s, p = biplane.strength, biplane.flight.performance
    assert s.limit.factor == pytest.approx((p.top_ms / biplane.flight.stall_ms) ** 2, rel=1e-9)
    floating = changed("brambling", {("flying", "style"): "floating"})
    assert floating.strength.limit.factor <= 4.0 + 1e-9


def test_a_frame_without_struts_between_is_the_cantilever(biplane):
    """The same beams by stiffness method and by double integration: moment and tip deflection within 2 %."""
    surface = biplane.airframe.wings[1]
    at = stations_of(surface, biplane.design.covering, biplane.stock)
    load = np.full(at.y_m.size, 6.0)
    limp = 1e-9 * at.bending_nm2.max()
    assert limp > 0
    one = bend(
        HalfWing(
            y_m=at.y_m,
            load_n_m=load,
            bending_nm2=at.bending_nm2,
            twist_nm_m=0 * load,
            torsion_nm2=at.torsion_nm2,
        )
    )
    # Both wings equally loaded, so the struts between two alike wings carry next to nothing of it.
    twin = changed(
        "brambling",
        {
            ("wing", 0, "span"): 680, ("wing", 0, "root_chord"): 130, ("wing", 0, "tip_chord"): 120,
            ("wing", 0, "at"): [106, 88], ("wing", 0, "spar", 0, "span"): 560, ("wing", 0, "incidence"): 0,
            ("wing", 1, "dihedral"): 0, ("wing", 1, "aileron"): None, ("radio", "servo", 2): None,
            ("strut", 1): None,
        },
    )  # fmt: skip
    wings = [
        (w, stations_of(w, twin.design.covering, twin.stock), np.full(13, 6.0)) for w in twin.airframe.wings
    ]
    # Without its strut to the body the upper wing hangs on the lower one: held, it is a cantilever again.
    framed = braced_wings(wings, twin.airframe, twin.stock)
    lower = framed["lower wing"]
    total = sum(float(np.trapezoid(np.full(13, 6.0), at.y_m)) for _, at, _ in wings)
    carried = lower.moment_nm[0] + framed["upper wing"].moment_nm[0]
    free = sum(6.0 * at.y_m[-1] ** 2 / 2 for _, at, _ in wings)
    # Moments about the plane of symmetry: loads outboard less nothing, since no support lies off the centre.
    assert carried == pytest.approx(free, rel=0.01)
    assert total == pytest.approx(6.0 * (0.34 + 0.34), rel=1e-3)
    assert one.root_moment_nm == pytest.approx(6.0 * at.y_m[-1] ** 2 / 2, rel=1e-3)


def test_struts_share_the_load_and_stay_in_equilibrium(biplane):
    """About the plane of symmetry: both root moments are the free ones less the body strut's pull at its distance."""
    n = biplane.strength.limit.factor
    free = 0.0
    for w, surface in zip(biplane.strength.wings, biplane.airframe.wings, strict=True):
        bare = changed("brambling", {("strut", 0): None})
        figures = next(x for x in bare.strength.wings if x.name == surface.name)
        assert not figures.braced
        free += figures.root_moment_nm * n / bare.strength.limit.factor
        assert w.braced
    cabane = next(
        s for s, t in zip(biplane.strength.struts, biplane.airframe.struts, strict=True) if t.lower == "body"
    )
    stated = next(t for t in biplane.airframe.struts if t.lower == "body")
    up = (stated.upper_m[2] - stated.lower_m[2]) / stated.length_m
    held = sum(w.root_moment_nm for w in biplane.strength.wings)
    assert held == pytest.approx(free - cabane.pull_n * up * stated.upper_m[1], rel=0.04)


def test_paper_strengthens_and_a_spar_stiffens():
    both = changed("dunnock", {}).strength.wings[0]
    no_spar = changed("dunnock", {("wing", 0, "spar"): None}).strength.wings[0]
    bare = changed("dunnock", {("wing", 0, "spar"): None, ("sheet", "paper"): "none"}).strength.wings[0]
    assert both.soft < no_spar.soft < bare.soft
    assert both.margin > bare.margin
    assert no_spar.margin > bare.margin
    assert bare.twist.reserve < 1.0 < no_spar.twist.reserve
    taped = changed(
        "dunnock",
        {
            ("wing", 0, "spar"): None,
            ("sheet", "paper"): "none",
            ("covering", "stock"): "tape",
            ("covering", "wings"): "both",
        },
    ).strength.wings[0]
    assert taped.soft < bare.soft / 3


def test_a_strip_in_one_face_draws_the_neutral_axis_to_itself():
    """By hand at the root, as two papers, a core and a strip: stiffness within 1 %."""
    e = changed("dunnock", {})
    (surface,) = e.airframe.wings
    at = stations_of(surface, e.design.covering, e.stock)
    sheet = e.stock.sheet(surface.sheet)
    paper = sheet.paper_modulus_pa * sheet.paper_thickness_m * at.chord_m[0]
    strip, z_strip = 120e9 * 6e-6, -2.0e-3
    z_paper = 0.5 * (sheet.thickness_m - sheet.paper_thickness_m)
    axis = strip * z_strip / (2 * paper + strip)
    by_hand = paper * ((z_paper - axis) ** 2 + (z_paper + axis) ** 2) + strip * (z_strip - axis) ** 2
    core = sheet.thickness_m - 2 * sheet.paper_thickness_m
    by_hand += 120e9 * 6e-3 * 1e-9 / 12 + 8e6 * at.chord_m[0] * core * (core**2 / 12 + axis**2)
    assert at.sections[0].bending[0] == pytest.approx(by_hand, rel=0.01)
    assert at.sections[0].neutral_axis_m[1] == pytest.approx(axis, rel=0.03)


def test_folds_and_second_skins_stiffen_a_wing():
    def stiff(section):
        e = changed("dunnock", {("wing", 0, "section"): section, ("wing", 0, "spar"): None})
        return stations_of(e.airframe.wings[0], e.design.covering, e.stock)

    flat, arc, folded, hollow = (stiff(s) for s in ("flat", "arc", "folded", "hollow"))
    assert arc.bending_nm2[0] > 2 * flat.bending_nm2[0]
    assert folded.bending_nm2[0] > 1.8 * flat.bending_nm2[0]
    assert hollow.bending_nm2[0] > 8 * flat.bending_nm2[0]
    # A closed tube against an open board.
    assert hollow.torsion_nm2[0] > 5 * flat.torsion_nm2[0]
    # A parabola of height h adds the papers' and the core's EA h² 4/45.
    sheet = load_stock().sheet("foam-board-5")
    stretch = flat.stretch_n[0]
    rise = 0.05 * flat.chord_m[0]
    assert arc.bending_nm2[0] - flat.bending_nm2[0] == pytest.approx(stretch * rise**2 * 4 / 45, rel=0.05)
    assert sheet.paper_modulus_pa > 0


def test_the_lightest_spar_serves_and_no_lighter_one_does():
    e = changed("dunnock", {("wing", 0, "spar"): None, ("sheet", "paper"): "none"})
    first, second = e.serving_spars("wing", 2)
    assert first.mass_kg <= second.mass_kg
    assert first.margin >= 1.0
    assert first.soft <= 0.10
    lighter = [
        r
        for r in e.stock.rods
        if r.linear_density_kg_m < first.rod.linear_density_kg_m
        and (r.outer_diameter_m or r.width_m) >= 1.9e-3
        and (r.outer_diameter_m or min(r.width_m, r.thickness_m)) <= 4e-3
        and not r.key.startswith("wire")
    ]
    assert lighter
    for item in lighter:
        tried = changed(
            "dunnock",
            {
                ("wing", 0, "spar"): None,
                ("sheet", "paper"): "none",
                ("wing", 0, "spar", 0, "rod"): item.key,
                ("wing", 0, "spar", 0, "at"): first.at,
                ("wing", 0, "spar", 0, "span"): 1e3 * first.span_m,
            },
        ).strength.wings[0]
        assert tried.margin < 1.0 or tried.soft > 0.10, item.key


def test_bands_hold_more_on_a_heavier_model():
    def count(mass):
        e = changed(
            "dunnock",
            {
                ("wing", 0, "held"): "bands",
                ("flying", "style"): "vertical",
                ("drive", "motor"): "2814-1100",
                ("drive", "propeller"): "11x7-thin-electric",
                ("drive", "pack"): "3s-2200",
                ("drive", "controller"): "esc-40",
                ("ballast", 0, "name"): "lead",
                ("ballast", 0, "mass"): mass,
                ("ballast", 0, "at"): [150, 0, 0],
            },
        )
        return e.strength.wings[0].bands

    light, heavy = count(1), count(600)
    assert light.count % 2 == heavy.count % 2 == 0
    assert heavy.lift_off_n > light.lift_off_n
    assert heavy.count >= light.count
    assert 4.0 < light.pull_n < 20.0


def test_metals_shear_more_stiffly_than_carbon_rods():
    stock = load_stock()
    steel, carbon = (rod_material(stock.rod(k)) for k in ("wire-2", "carbon-3"))
    assert steel.shear_modulus_pa == pytest.approx(79e9, rel=0.02)
    assert carbon.shear_modulus_pa == pytest.approx(6e9, rel=0.02)
    assert carbon.density_kg_m3 == pytest.approx(1550, rel=0.02)
    assert math.isclose(steel.density_kg_m3, 7850, rel_tol=0.02)


@pytest.mark.parametrize("name", ["dunnock", "brambling", "turnstone"])
def test_strength_along_the_wing_agrees_with_its_ends(name):
    """Station by station it is the same wing: root moment, tip, and the least margin where the weakest link lies."""
    e = sheetlark.evaluate(loads(starter(name)))
    for w in e.strength.wings:
        along = w.along
        assert along.y_m[0] == 0.0
        assert along.y_m[-1] == pytest.approx(w.half_span_m)
        assert along.moment_nm[0] == pytest.approx(w.root_moment_nm)
        assert along.deflection_m[-1] == pytest.approx(w.tip_deflection_m)
        assert along.margin.min() == pytest.approx(w.margin)
        assert along.y_m[np.argmin(along.margin)] == pytest.approx(w.weakest_y_m)
        worst = min(w.stresses, key=lambda s: s.margin)
        assert worst.name == w.weakest
        assert worst.allowed_pa / worst.stress_pa == pytest.approx(worst.margin)
        assert {worst.stress_pa} <= {worst.most_pa, worst.least_pa}
