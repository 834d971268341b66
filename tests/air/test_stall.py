"""Lattice and sections must agree everywhere: every section, from square to the stream to square the other way."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from sheetlark.air import AirModel, Condition, Layout, Section, Surface, coefficients_at
from sheetlark.air.stall import PASSES

from .layouts import LAYOUTS, biplane

KINDS = ["flat", "arc", "folded", "hollow", "stepped"]


def plate(section: Section, ratio: float) -> AirModel:
    wing = Surface.trapezoid(0.2 * ratio, 0.2, 0.2, name="wing", section=section, spanwise=12, chordwise=4)
    return AirModel(Layout(surfaces=(wing,), about_m=(0.05, 0.0, 0.0)))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("edge", ["square", "rounded", "bevelled"])
@pytest.mark.parametrize("ratio", [1.0, 2.0, 6.0, 16.0])
def test_it_settles_from_square_on_to_square_on(kind, edge, ratio):
    """-90 to 90 degrees by 1.5: settled, finite, taking energy, and pushed square to the stream at the ends."""
    model = plate(Section(kind=kind, edge=edge, camber_ratio=0.0 if kind == "flat" else 0.04), ratio)
    degrees = np.arange(-90.0, 90.1, 1.5)
    states = [model.strips(Condition(alpha_rad=math.radians(a))) for a in degrees]
    assert max(s.passes for s in states) < PASSES
    rows = [coefficients_at(model, Condition(alpha_rad=math.radians(a))) for a in degrees]
    drag = np.array([r.drag for r in rows])
    assert (drag > 0.008).all()
    assert 1.0 < drag[0] < 2.0
    assert drag[-1] == pytest.approx(drag[0], rel=0.02)
    # Square on, a plate only drags, and the air pushes at its middle: a quarter chord behind the balance.
    assert abs(rows[-1].lift) < 0.05
    assert rows[-1].pitch == pytest.approx(-0.25 * drag[-1], rel=0.05)
    # Nose up from below: no coefficient jumps by more than a stall can make it in 1.5 degrees.
    assert np.abs(np.diff([r.lift for r in rows])).max() < 0.35


def delta(sweep_deg: float, tip: float) -> AirModel:
    root = 0.38 * math.tan(math.radians(sweep_deg)) / (1.0 - tip)
    sheet = Section(thickness_ratio=0.005 / root)
    wing = Surface.trapezoid(0.76, root, tip * root, name="wing", sweep_deg=sweep_deg, section=sheet)
    return AirModel(Layout(surfaces=(wing,), about_m=(0.55 * root, 0.0, 0.0)))


@pytest.mark.parametrize("sweep_deg", [47.0, 52.0, 57.0, 62.0])
@pytest.mark.parametrize("tip", [0.02, 0.2])
def test_a_swept_wing_settles_whose_flow_rolls_up(sweep_deg, tip):
    """Straight, slipping and rolling, pointed tips and cut ones."""
    model = delta(sweep_deg, tip)
    for degrees in np.arange(-60.0, 60.1, 1.5):
        for beta, roll in ((0.0, 0.0), (8.0, 0.0), (0.0, 1.5)):
            at = Condition(
                alpha_rad=math.radians(degrees), beta_rad=math.radians(beta), rates_rad_s=(roll, 0.0, 0.0)
            )
            assert model.strips(at).passes < PASSES, (degrees, beta, roll)


def test_a_swept_edge_holds_on_where_a_straight_one_has_let_go():
    """A pointed delta at 12 degrees: hardly any flow has left, it resists a roll and a rise of the nose."""
    at = Condition(speed_ms=10.0, alpha_rad=math.radians(12.0))
    swept = delta(57.0, 0.02)
    assert swept.strips(at).attached.min() > 0.9
    still, nose_up = (coefficients_at(swept, replace(at, alpha_rad=math.radians(a))) for a in (11.5, 12.5))
    assert nose_up.pitch < still.pitch
    assert coefficients_at(swept, replace(at, rates_rad_s=(1.0, 0.0, 0.0))).roll < -0.005
    assert plate(Section(), 6.0).strips(at).attached.min() < 0.6


def test_round_tips_of_a_straight_wing_roll_nothing_up():
    """An ellipse's leading edge is swept as far as anybody likes at its very tip."""
    eta = 1.0 - np.geomspace(1.0, 1e-3, 12)
    chord = 0.2 * np.sqrt(1.0 - eta**2) + 1e-4
    nose = np.column_stack([0.25 * (chord[0] - chord), 0.4 * eta, np.zeros(12)])
    wing = Surface(
        name="wing",
        role="wing",
        leading_edge_m=nose,
        chord_m=chord,
        twist_rad=np.zeros(12),
        section=Section(),
    )
    model = AirModel(Layout(surfaces=(wing,), about_m=(0.05, 0.0, 0.0)))
    assert np.count_nonzero(model.edges) == 2  # its two side edges, hardly any


@pytest.mark.parametrize("ratio", [1.0, 2.0, 6.0])
def test_a_flat_plate_upside_down_is_a_flat_plate(ratio):
    model = plate(Section(), ratio)
    for degrees in (3.0, 9.0, 14.0, 25.0, 41.0, 60.0, 90.0):
        up, down = (coefficients_at(model, Condition(alpha_rad=s * math.radians(degrees))) for s in (1, -1))
        assert up.lift == pytest.approx(-down.lift, abs=1e-9)
        assert up.pitch == pytest.approx(-down.pitch, abs=1e-9)
        assert up.drag == pytest.approx(down.drag, abs=1e-9)


def test_camber_stalls_earlier_upside_down():
    model = plate(Section(kind="arc", camber_ratio=0.05), 6.0)
    lift = [coefficients_at(model, Condition(alpha_rad=math.radians(a))).lift for a in np.arange(-30, 31)]
    assert max(lift) > -min(lift) + 0.2


@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("degrees", [12.0, 17.0, 24.0, 40.0, -25.0])
def test_one_side_settles_for_both(name, degrees):
    """In straight flight half the strips are solved; the least sideslip takes all of them and must agree."""
    model = AirModel(LAYOUTS[name]())
    straight = model.strips(Condition(alpha_rad=math.radians(degrees)))
    all_of_them = model.strips(Condition(alpha_rad=math.radians(degrees), beta_rad=1e-9))
    assert straight.attached == pytest.approx(all_of_them.attached, abs=2e-3)
    assert straight.normal_n == pytest.approx(
        all_of_them.normal_n, abs=2e-3 * np.abs(straight.normal_n).max()
    )


def test_a_fin_askew_is_not_straight_flight():
    """Turned with its nose to port it pushes to port and loads the tail below it unevenly: both sides are solved."""
    layout = biplane(disc=False)
    fin = layout.surfaces[3]
    askew = replace(fin, twist_rad=np.full(2, 0.1))
    model = AirModel(replace(layout, surfaces=(*layout.surfaces[:3], askew)))
    at = Condition(alpha_rad=0.35)
    one, two = model.at(at), model.at(replace(at, beta_rad=1e-9))
    assert one == pytest.approx(two, abs=2e-3 * np.abs(one).max())
    assert one[1] < -0.1
    assert one[3] != pytest.approx(0.0, abs=1e-6)


def test_rudder_and_aileron_are_not_straight_flight():
    model = AirModel(biplane(disc=False))
    for name in ("rudder", "aileron"):
        at = Condition(alpha_rad=0.35, deflections_rad={name: 0.2})
        one, two = model.at(at), model.at(replace(at, beta_rad=1e-9))
        assert one == pytest.approx(two, abs=2e-3 * np.abs(one).max())
        assert abs(one[5]) > 1e-3
