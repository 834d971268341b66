"""The air's hot paths: run with `pytest benchmarks/bench_air.py --benchmark-enable -s`.

All on the starter design brambling as the pipeline panels it. Side by side on the same panels in the same run: the
whole derivative set with controls (lattice, sections, body, every motion and every control), against what an
independent lattice library and a plain numpy loop over panels take for the lattice and its right-hand sides alone;
the last test prints the ratios. Then everything at once, the lift curve, and one call of the simulation's function.
Linear algebra keeps to one thread (conftest.py).
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np
import pytest
from panelaero import VLM

import sheetlark
from sheetlark.air import AirModel, Condition, Layout, analyse, derivatives_at, lift_curve
from sheetlark.air.lattice import build
from sheetlark.air.motion import flow_matrix
from sheetlark.air.potential import control_drives, turned_by
from sheetlark.airframe import airframe
from sheetlark.design import starter
from sheetlark.evaluation import layout_of
from sheetlark.stock import load_stock


def brambling() -> Layout:
    design, stock = sheetlark.loads(starter("brambling")), load_stock()
    return layout_of(airframe(design, stock), design.drive, stock).balanced_at((0.08, 0.0, 0.0))


LAYOUT = brambling()
LATTICE = build(LAYOUT.surfaces)
AT = Condition(alpha_rad=0.06, thrust_n=1.5, torque_nm=0.03)
# Right-hand sides: three velocities, three rates, and every control.
SIDES = np.hstack(
    [
        np.einsum(
            "kpm,pk->pm",
            flow_matrix(LATTICE.points_m, np.asarray(LAYOUT.about_m)),
            LATTICE.normals,
        ),
        np.stack([turned_by(LATTICE, d) for d in control_drives(LAYOUT.surfaces)], axis=1),
    ]
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


def library() -> np.ndarray:
    return VLM.calc_Gamma(other_grid(), 0.0)[0] @ SIDES


def lattice_alone() -> np.ndarray:
    return build(LAYOUT.surfaces).circulation(SIDES)


def derivative_set() -> float:
    return derivatives_at(AirModel(LAYOUT, AT), AT).roll_p


GROUP = "brambling, the same panels: derivatives"


@pytest.mark.benchmark(group=GROUP)
def test_derivative_set_with_controls(benchmark):
    assert benchmark(derivative_set) < 0.0


@pytest.mark.benchmark(group=GROUP)
def test_lattice_and_right_hand_sides_alone(benchmark):
    got = benchmark(lattice_alone)[
        :, [2, 4]
    ]  # upward air and pitching; the loop knows no cores, which fin and tail need
    assert got == pytest.approx(looped()[:, [2, 4]], abs=1e-2 * np.abs(got).max())


@pytest.mark.benchmark(group=GROUP)
def test_independent_library(benchmark):
    benchmark.pedantic(library, rounds=3, iterations=1)


@pytest.mark.benchmark(group=GROUP)
def test_plain_loops(benchmark):
    benchmark.pedantic(looped, rounds=3, iterations=1)


def test_ratios():
    """Processor time, so that neighbours do not count: under 60 ms on one core, and quicker than either."""

    def least(call: Callable[[], object], rounds: int) -> float:
        times = []
        for _ in range(rounds):
            start = time.process_time()
            call()
            times.append(1e3 * (time.process_time() - start))
        return min(times)

    whole, alone = least(derivative_set, 8), least(lattice_alone, 8)
    other, loops = least(library, 3), least(looped, 3)
    print(
        f"\n    brambling, {LATTICE.panels} panels, {SIDES.shape[1]} right-hand sides, one core:"
        f"\n    derivative set with controls {whole:.1f} ms; its lattice alone {alone:.1f} ms"
        f"\n    independent library, lattice alone {other:.0f} ms: {other / whole:.1f} times the set, "
        f"{other / alone:.1f} times the lattice"
        f"\n    plain numpy loops, lattice alone {loops:.0f} ms: {loops / whole:.1f} times the set, "
        f"{loops / alone:.1f} times the lattice"
    )
    assert whole < 60.0
    assert whole < loops < other


@pytest.mark.benchmark(group="whole answers")
def test_everything(benchmark):
    assert benchmark(lambda: analyse(LAYOUT, AT)).curve.lift_max > 0.5


@pytest.mark.benchmark(group="whole answers")
@pytest.mark.parametrize(
    "beta", [0.0, 0.05], ids=["straight: one side settles for both", "slipping: all strips"]
)
def test_lift_curve_to_the_stall(benchmark, beta):
    model = AirModel(LAYOUT)
    assert benchmark(lambda: lift_curve(model, Condition(beta_rad=beta))).lift_max > 0.5


@pytest.mark.benchmark(group="one call of the simulation's function, 8 x 4 panels")
@pytest.mark.parametrize(
    ("alpha", "thrust"), [(0.05, 0.0), (0.05, 2.0), (0.4, 0.0)], ids=["cruise", "power", "stalled"]
)
def test_one_call(benchmark, alpha, thrust):
    model = AirModel(LAYOUT.panelled(spanwise=8, chordwise=4))
    motion, turned = model.motion(Condition(alpha_rad=alpha)), model.deflections({"elevator": 0.05})
    force = benchmark(lambda: model.loads(motion, turned, 1.225, thrust, 0.02 * thrust))
    assert force[2] < 0.0
