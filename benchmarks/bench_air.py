"""The air's hot paths: run with `pytest benchmarks/bench_air.py --benchmark-enable`.

Side by side on the same panels of the same biplane: our factorised answer to all right-hand sides, an independent
lattice library's, and a plain loop over panels in numpy. Then the whole derivative set, everything at once, and one
call of the simulation's function. Set OPENBLAS_NUM_THREADS=1 for figures that do not depend on the neighbours.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from panelaero import VLM

from sheetlark.air import (
    AirModel,
    Body,
    Condition,
    Control,
    Disc,
    Layout,
    Section,
    Surface,
    analyse,
    derivatives_at,
)
from sheetlark.air.lattice import build
from sheetlark.air.potential import control_drives, turned_by

SHEET = Section(thickness_ratio=0.03)


def biplane() -> Layout:
    aileron = Control(name="aileron", kind="aileron", hinge_fraction=0.75, from_eta=0.5)
    elevator = Control(name="elevator", kind="elevator", hinge_fraction=0.6)
    rudder = Control(name="rudder", kind="rudder", hinge_fraction=0.5)
    lower = Surface.trapezoid(0.8, 0.16, 0.16, 0.0, 3.0, name="lower", section=SHEET, controls=(aileron,))
    upper = Surface.trapezoid(
        0.8, 0.16, 0.16, at_m=(-0.05, 0.0, 0.14), name="upper", section=SHEET, controls=(aileron,)
    )
    tail = Surface.trapezoid(
        0.32, 0.12, 0.10, at_m=(0.5, 0.0, 0.03), name="tail", role="tail", section=SHEET, controls=(elevator,)
    )
    fin = Surface.trapezoid(
        0.14,
        0.14,
        0.09,
        30.0,
        90.0,
        at_m=(0.5, 0.0, 0.04),
        mirrored=False,
        name="fin",
        section=SHEET,
        controls=(rudder,),
    )
    body = Body(
        name="body",
        x_m=[-0.15, -0.1, 0.0, 0.2, 0.6],
        width_m=[0.06, 0.07, 0.07, 0.07, 0.03],
        height_m=[0.06, 0.09, 0.1, 0.1, 0.04],
        middle_z_m=[0.05] * 5,
        nose="blunt",
    )
    return Layout(
        surfaces=(lower, upper, tail, fin),
        bodies=(body,),
        discs=(Disc(at_m=(-0.18, 0.0, 0.05), radius_m=0.1),),
        about_m=(0.0, 0.0, 0.05),
    ).panelled(spanwise=24, chordwise=6)


LAYOUT = biplane()
LATTICE = build(LAYOUT.surfaces)
AT = Condition(alpha_rad=0.06, thrust_n=1.5, torque_nm=0.03)
# Right-hand sides: three velocities, and every control.
SIDES = np.stack(
    [
        np.ones(LATTICE.panels),
        LATTICE.normals[:, 1],
        LATTICE.normals[:, 2],
        *[turned_by(LATTICE, d) for d in control_drives(LAYOUT.surfaces)],
    ],
    axis=1,
)


def other_grid() -> dict:
    chord = np.concatenate(
        [np.repeat(h.chord_m, h.points_m.shape[1]) / h.points_m.shape[1] for h in LATTICE.halves]
    )
    a, b = LATTICE.vertex_a_m.copy(), LATTICE.vertex_b_m.copy()
    return {
        "n": LATTICE.panels,
        "A": chord * np.hypot(*(b - a)[:, 1:].T),
        "l": chord,
        "N": LATTICE.normals.copy(),
        "offset_P1": a,
        "offset_P3": b,
        "offset_l": 0.5 * (a + b),
        "offset_k": LATTICE.points_m.copy(),
        "offset_j": LATTICE.points_m.copy(),
    }


def looped() -> np.ndarray:
    """One control point at a time against all horseshoes, no symmetry, no shared legs."""
    a, b = LATTICE.vertex_a_m, LATTICE.vertex_b_m
    matrix = np.empty((LATTICE.panels, LATTICE.panels))
    for i, (point, normal) in enumerate(zip(LATTICE.points_m, LATTICE.normals, strict=True)):
        ra, rb = point - a, point - b
        na, nb = np.linalg.norm(ra, axis=1), np.linalg.norm(rb, axis=1)
        bound = np.cross(ra, rb) * ((na + nb) / (na * nb * (na * nb + (ra * rb).sum(axis=1))))[:, None]
        legs = np.zeros_like(bound)
        for r, n, sign in ((ra, na, -1.0), (rb, nb, 1.0)):
            k = sign / (n * (n - r[:, 0]))
            legs[:, 1] -= k * r[:, 2]
            legs[:, 2] += k * r[:, 1]
        matrix[i] = (bound + legs) @ normal / (4.0 * math.pi)
    return np.linalg.solve(matrix, -SIDES)


@pytest.mark.benchmark(group="all right-hand sides on the same panels")
def test_ours(benchmark):
    got = benchmark(lambda: build(LAYOUT.surfaces).circulation(SIDES))
    assert got == pytest.approx(looped(), abs=1e-2 * np.abs(got).max())


@pytest.mark.benchmark(group="all right-hand sides on the same panels")
def test_independent_library(benchmark):
    benchmark.pedantic(lambda: VLM.calc_Gamma(other_grid(), 0.0)[0] @ SIDES, rounds=3, iterations=1)


@pytest.mark.benchmark(group="all right-hand sides on the same panels")
def test_plain_loops(benchmark):
    benchmark.pedantic(looped, rounds=3, iterations=1)


@pytest.mark.benchmark(group="whole answers")
def test_derivative_set_with_controls(benchmark):
    result = benchmark(lambda: derivatives_at(AirModel(LAYOUT, AT), AT))
    assert result.roll_p < 0.0


@pytest.mark.benchmark(group="whole answers")
def test_everything(benchmark):
    assert benchmark(lambda: analyse(LAYOUT, AT)).curve.lift_max > 0.5


@pytest.mark.benchmark(group="one call of the simulation's function, 8 x 4 panels")
@pytest.mark.parametrize(
    ("alpha", "thrust"), [(0.05, 0.0), (0.05, 2.0), (0.4, 0.0)], ids=["cruise", "power", "stalled"]
)
def test_one_call(benchmark, alpha, thrust):
    model = AirModel(LAYOUT.panelled(spanwise=8, chordwise=4))
    motion, turned = model.motion(Condition(alpha_rad=alpha)), model.deflections({"elevator": 0.05})
    force = benchmark(lambda: model.loads(motion, turned, 1.225, thrust, 0.02 * thrust))
    assert force[2] < 0.0
