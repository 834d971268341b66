"""The lattice against an independent one: PanelAero (general-purpose aeroelastic library, BSD-3), same panels."""

from __future__ import annotations

import numpy as np
import pytest
from panelaero import VLM

from sheetlark.air import Control, Surface, solve
from sheetlark.air.lattice import build
from sheetlark.air.potential import normal_inflow, panel_incidence, panel_velocity, stream

pytestmark = pytest.mark.published


def grid_of(lattice) -> dict:
    """Our panels in the other library's terms: corner order, quarter- and three-quarter points, normals."""
    a, b = lattice.vertex_a_m.copy(), lattice.vertex_b_m.copy()
    count = lattice.panels
    chord = np.concatenate(
        [np.repeat(h.chord_m, h.points_m.shape[1]) / h.points_m.shape[1] for h in lattice.halves]
    )
    width = np.hypot(*(b - a)[:, 1:].T)
    return {
        "n": count,
        "A": chord * width,
        "l": chord,
        "N": lattice.normals.copy(),
        "offset_P1": a,
        "offset_P3": b,
        "offset_l": 0.5 * (a + b),
        "offset_k": lattice.points_m.copy(),
        "offset_j": lattice.points_m.copy(),
    }


def three_surfaces() -> list[Surface]:
    wing = Surface.trapezoid(
        1.0,
        0.2,
        0.14,
        12.0,
        5.0,
        2.0,
        name="wing",
        spanwise=12,
        chordwise=4,
        controls=(Control(name="aileron", kind="aileron", hinge_fraction=0.75, from_eta=0.5),),
    )
    tail = Surface.trapezoid(
        0.4,
        0.12,
        0.09,
        15.0,
        at_m=(0.6, 0.0, 0.07),
        name="tail",
        role="tail",
        spanwise=8,
        chordwise=4,
        controls=(Control(name="elevator", kind="elevator", hinge_fraction=0.5),),
    )
    fin = Surface.trapezoid(
        0.18,
        0.14,
        0.08,
        30.0,
        90.0,
        at_m=(0.6, 0.0, 0.10),
        mirrored=False,
        name="fin",
        spanwise=8,
        chordwise=4,
        controls=(Control(name="rudder", kind="rudder", hinge_fraction=0.5),),
    )
    return [wing, tail, fin]


TURNED = {"aileron": 0.15, "elevator": -0.1, "rudder": 0.2}


@pytest.mark.parametrize("case", ["alpha", "sideslip", "deflected"])
def test_three_surfaces_with_sideslip_and_controls(record_error, case):
    surfaces = three_surfaces()
    alpha, beta = 0.08, 0.0 if case == "alpha" else 0.1
    turned = TURNED if case == "deflected" else {}
    lattice = build(surfaces)
    wind = 10.0 * stream(alpha, beta)
    velocity = panel_velocity(lattice.points_m, wind, np.zeros(3), np.zeros(3))
    inflow = normal_inflow(lattice, velocity, panel_incidence(lattice, turned))
    ours = lattice.circulation(inflow[:, None])[:, 0]
    theirs, _ = VLM.calc_Gamma(grid_of(lattice), 0.0)
    other = theirs @ inflow
    force = 1.225 * other[:, None] * np.cross(np.broadcast_to(wind, lattice.bound_m.shape), lattice.bound_m)
    loads = solve(surfaces, alpha, beta, deflections_rad=turned)
    force_ours = (
        1.225 * ours[:, None] * np.cross(np.broadcast_to(wind, lattice.bound_m.shape), lattice.bound_m)
    )
    source = "PanelAero 2025.8, same panels"
    record_error(
        case=f"three surfaces, {case}: greatest circulation error over greatest circulation",
        got=ours / np.abs(other).max(),
        published=other / np.abs(other).max(),
        tolerance=0.005,
        relative=False,
        source=source,
    )
    moment = np.cross(lattice.bound_at_m, force).sum(axis=0)
    moment_ours = np.cross(lattice.bound_at_m, force_ours).sum(axis=0)
    scale = np.abs(np.concatenate([force.sum(axis=0), moment])).max()
    record_error(
        case=f"three surfaces, {case}: total force and moment",
        got=np.concatenate([force_ours.sum(axis=0), moment_ours]) / scale,
        published=np.concatenate([force.sum(axis=0), moment]) / scale,
        tolerance=0.002,
        relative=False,
        source=source,
    )
    lift_way = np.array([-np.sin(alpha), 0.0, np.cos(alpha)])
    assert loads.surface_lift_n.sum() == pytest.approx(float(force.sum(axis=0) @ lift_way), rel=0.005)


@pytest.mark.parametrize(
    ("tip", "sweep", "dihedral"), [(1.0, 20.0, 0.0), (0.3, -35.0, 0.0), (0.6, 10.0, 25.0), (0.1, 55.0, -15.0)]
)
def test_one_wing_is_the_same_to_rounding(record_error, tip, sweep, dihedral):
    """Without neighbours there is no core, and the two lattices are one and the same method."""
    lattice = build(
        [Surface.trapezoid(6.0, 1.0, tip, sweep, dihedral, spanwise=20, chordwise=4, spacing="equal")]
    )
    theirs, _ = VLM.calc_Gamma(grid_of(lattice), 0.0)
    inflow = 1.0 + 0.3 * np.sign(
        lattice.points_m[:, 1]
    )  # a part of each kind, alike and unlike on both sides
    record_error(
        case=f"one wing, taper {tip:g}, sweep {sweep:g} deg, dihedral {dihedral:g} deg: circulations",
        got=lattice.circulation(inflow[:, None])[:, 0],
        published=theirs @ inflow,
        tolerance=1e-9,
        source="PanelAero 2025.8, same panels",
    )
