"""What must hold for any layout, whatever the numbers."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.air import AirModel, Condition, Control, Layout, Surface, control_drives, derivatives_at, solve
from sheetlark.air.hinges import hinge_moments_at
from sheetlark.errors import GeometryError, SolveError

from .layouts import biplane

angles = st.floats(-0.15, 0.15)
quick = settings(max_examples=15, deadline=None)


def wings(spanwise: int = 8, chordwise: int = 3) -> list[Surface]:
    return [replace(s, spanwise=spanwise, chordwise=chordwise) for s in biplane().surfaces]


@quick
@given(alpha=angles, beta=st.floats(0.01, 0.15))
def test_mirrored_sideslip_flips_the_lateral_set(alpha, beta):
    one, two = solve(wings(), alpha, beta), solve(wings(), alpha, -beta)
    for name in ("lift", "induced_drag", "pitching_moment"):
        a, b = (getattr(x, f"{name}_coefficient") for x in (one, two))
        assert a == pytest.approx(b, abs=1e-12)
    for name in ("side_force", "rolling_moment", "yawing_moment"):
        a, b = (getattr(x, f"{name}_coefficient") for x in (one, two))
        assert a == pytest.approx(-b, abs=1e-12)
    assert one.side_force_coefficient < 0.0


@quick
@given(alpha=angles, beta=angles, x=st.floats(-1.0, 1.0), z=st.floats(-0.5, 0.5))
def test_moving_the_moment_point_shifts_by_arm_times_force(alpha, beta, x, z):
    one = solve(wings(), alpha, beta)
    two = solve(wings(), alpha, beta, about_m=(x, 0.0, z))
    expected = one.moment_nm - np.cross(np.array([x, 0.0, z]), one.force_n)
    assert two.moment_nm == pytest.approx(expected, abs=1e-9)
    assert two.force_n == pytest.approx(one.force_n, abs=1e-9)


@quick
@given(scale=st.floats(0.1, 10.0), speed=st.floats(1.0, 50.0), alpha=angles)
def test_size_and_speed_drop_out(scale, speed, alpha):
    def grown(surface: Surface) -> Surface:
        return replace(
            surface, leading_edge_m=surface.leading_edge_m * scale, chord_m=surface.chord_m * scale
        )

    one = solve(wings(), alpha, 0.05, rates_rad_s=(0.2, 0.1, 0.3))
    rate = speed / 10.0 / scale
    two = solve(
        [grown(s) for s in wings()],
        alpha,
        0.05,
        speed_ms=speed,
        rates_rad_s=(0.2 * rate, 0.1 * rate, 0.3 * rate),
    )
    for name in ("lift", "induced_drag", "side_force", "rolling_moment", "pitching_moment", "yawing_moment"):
        assert getattr(two, f"{name}_coefficient") == pytest.approx(
            getattr(one, f"{name}_coefficient"), rel=1e-6, abs=1e-10
        )


@quick
@given(x=st.floats(-0.3, 0.3), z=st.sampled_from([-400.0, 400.0]))
def test_a_far_away_surface_changes_nothing(x, z):
    wing = Surface.trapezoid(1.0, 0.2, 0.2, name="wing", spanwise=8, chordwise=3)
    far = Surface.trapezoid(1.0, 0.2, 0.2, at_m=(x, 0.0, z), name="far", spanwise=8, chordwise=3)
    alone, both = solve([wing], 0.05), solve([wing, far], 0.05)
    assert both.surface_lift_n[0] == pytest.approx(alone.surface_lift_n[0], rel=1e-6)


def test_the_split_halves_agree_with_the_whole():
    """A fin a hair off the centre plane takes the undivided path and must give the same."""
    flat = wings()
    off = [*flat[:3], replace(flat[3], leading_edge_m=flat[3].leading_edge_m + np.array([0.0, 1e-7, 0.0]))]
    turned = {"aileron": 0.1, "elevator": -0.05, "rudder": 0.2}
    one = solve(flat, 0.1, 0.08, rates_rad_s=(0.5, 0.3, -0.2), deflections_rad=turned)
    two = solve(off, 0.1, 0.08, rates_rad_s=(0.5, 0.3, -0.2), deflections_rad=turned)
    assert two.force_n == pytest.approx(one.force_n, rel=1e-4, abs=1e-6)
    assert two.moment_nm == pytest.approx(one.moment_nm, rel=1e-4, abs=1e-6)


def test_incidence_is_angle_of_attack():
    level = solve([Surface.trapezoid(1.0, 0.2, 0.15, 10.0, incidence_deg=4.0)], 0.0)
    pitched = solve([Surface.trapezoid(1.0, 0.2, 0.15, 10.0)], math.radians(4.0))
    assert level.lift_coefficient == pytest.approx(pitched.lift_coefficient, rel=1e-9)


def test_a_fin_is_a_wing_on_its_side():
    wing = Surface.trapezoid(
        1.0, 0.2, 0.2, root="free", mirrored=False, role="wing", dihedral_deg=0.0, at_m=(0.0, -0.5, 0.0)
    )
    fin = Surface.trapezoid(1.0, 0.2, 0.2, mirrored=False, dihedral_deg=90.0, at_m=(0.0, 0.0, -0.5))
    flat, up = solve([wing], 0.1), solve([fin], 0.0, beta_rad=0.1)
    expected = flat.lift_coefficient * math.cos(0.1) + flat.induced_drag_coefficient * math.sin(0.1)
    assert up.side_force_coefficient == pytest.approx(-expected, rel=1e-9)
    assert up.induced_drag_coefficient == pytest.approx(flat.induced_drag_coefficient, rel=1e-9)


def test_control_senses():
    surfaces = wings()
    assert control_drives(surfaces) == ("aileron", "elevator", "rudder")
    base = solve(surfaces, 0.0)
    roll = solve(surfaces, 0.0, deflections_rad={"aileron": 0.1})
    nose = solve(surfaces, 0.0, deflections_rad={"elevator": 0.1})
    yaw = solve(surfaces, 0.0, deflections_rad={"rudder": 0.1})
    assert roll.rolling_moment_coefficient > 0.01
    assert nose.pitching_moment_coefficient < base.pitching_moment_coefficient - 0.01
    assert nose.lift_coefficient > base.lift_coefficient
    assert yaw.side_force_coefficient < 0.0 < yaw.yawing_moment_coefficient


def test_elevons_have_two_drives():
    wing = Surface.trapezoid(
        0.8,
        0.3,
        0.15,
        30.0,
        spanwise=8,
        chordwise=4,
        controls=(Control(name="elevon", kind="elevon", hinge_fraction=0.8),),
    )
    assert control_drives([wing]) == ("elevon", "elevon:roll")
    together = solve([wing], 0.0, deflections_rad={"elevon": 0.1})
    apart = solve([wing], 0.0, deflections_rad={"elevon:roll": 0.1})
    assert together.rolling_moment_coefficient == pytest.approx(0.0, abs=1e-12)
    assert together.lift_coefficient > 0.05
    assert apart.lift_coefficient == pytest.approx(0.0, abs=1e-12)
    assert apart.rolling_moment_coefficient > 0.01


def test_rate_signs():
    roll = solve(wings(), 0.0, rates_rad_s=(1.0, 0.0, 0.0), about_m=(0.0, 0.0, 0.05))
    pitch = solve(wings(), 0.0, rates_rad_s=(0.0, 1.0, 0.0), about_m=(0.0, 0.0, 0.05))
    yaw = solve(wings(), 0.0, rates_rad_s=(0.0, 0.0, 1.0), about_m=(0.0, 0.0, 0.05))
    assert roll.rolling_moment_coefficient < 0.0
    assert pitch.pitching_moment_coefficient < 0.0
    assert yaw.yawing_moment_coefficient < 0.0


def test_ground_lifts_and_saves_drag():
    """At an eighth of the span up, lift grows and drag for the lift falls: images push up."""
    wing = [Surface.trapezoid(1.0, 0.2, 0.2, name="wing")]
    free, low = solve(wing, 0.08), solve(wing, 0.08, ground_z_m=-0.125)
    assert 1.02 < low.lift_coefficient / free.lift_coefficient < 1.4


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: solve(wings(), 0.0, speed_ms=0.0), GeometryError, "speed must be positive"),
        (lambda: solve(wings(), 0.0, density_kg_m3=-1.0), GeometryError, "density must be positive"),
        (
            lambda: solve(wings(), 0.0, deflections_rad={"flap": 0.1}),
            GeometryError,
            "no control named 'flap'; there is aileron",
        ),
        (lambda: solve([], 0.0), SolveError, "at least one surface"),
        (lambda: solve(wings(), 0.0, reference=(1.0,)), GeometryError, "got 1 numbers"),
    ],
)
def test_bad_questions_are_refused(call, error, words):
    with pytest.raises(error, match=words):
        call()


@pytest.mark.parametrize("dihedral_deg", [40.0, 85.0])
def test_a_rudder_on_a_pair_of_fins_turns_the_nose_to_starboard(dihedral_deg):
    """Both trailing edges go to starboard, whether the pair stands upright or as a V; hinge moments say so too."""
    fins = Surface.trapezoid(
        2.0 * 0.15 * math.cos(math.radians(dihedral_deg)),
        0.14,
        0.1,
        20.0,
        dihedral_deg,
        at_m=(0.5, 0.05, 0.0),
        name="fins",
        role="fin",
        root="joined",
        controls=(Control(name="rudder", kind="rudder", hinge_fraction=0.5),),
        spanwise=8,
        chordwise=4,
    )
    wing = Surface.trapezoid(0.8, 0.16, 0.16, name="wing", spanwise=8, chordwise=4)
    turned = solve([wing, fins], 0.0, deflections_rad={"rudder": 0.1})
    assert turned.side_force_coefficient < -1e-3
    assert turned.yawing_moment_coefficient > 1e-3
    assert turned.lift_coefficient == pytest.approx(0.0, abs=1e-9)
    model = AirModel(Layout(surfaces=(wing, fins)))
    assert derivatives_at(model, Condition()).control("rudder").yaw > 0.01
    starboard, port = hinge_moments_at(model, Condition(deflections_rad={"rudder": 0.1}))
    assert starboard.moment_nm == pytest.approx(-port.moment_nm)
    assert starboard.moment_nm < 0.0
    assert starboard.per_deflection == pytest.approx(port.per_deflection)
    assert starboard.per_deflection < 0.0
