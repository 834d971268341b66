"""Mass properties against a general-purpose solid library, and closed forms."""

import math

import numpy as np
import pytest

from sheetlark.weights.masses import box, plate, rod, together

# The solid's vertices are single precision, hence 1e-5.
TRIMESH = "trimesh (general-purpose mesh library): volume integrals of the extruded solid"
HANDBOOK = "Inertia of a thin rod m L²/12, of a box m (b² + c²)/12; any mechanics handbook"


def turned(seed):
    rng = np.random.default_rng(seed)
    q, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    matrix = np.eye(4)
    matrix[:3, :3] = q if np.linalg.det(q) > 0 else -q
    matrix[:3, 3] = rng.normal(size=3) * 100
    return matrix


@pytest.mark.published
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_plates_against_solids(record_error, seed):
    import manifold3d
    import trimesh

    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, 14))
    outline = np.stack([np.cos(angle), np.sin(angle)], axis=1) * rng.uniform(60, 140, 14)[:, None]
    hole = np.array([[-20, -20], [20, -20], [15, 25], [-22, 18]]) * 0.6
    matrix, thickness, areal = turned(seed), 5.0, 0.31
    got = plate(outline, (hole,), matrix, areal_kg_m2=areal, thickness_m=thickness * 1e-3)
    section = manifold3d.CrossSection([outline, hole[::-1]], manifold3d.FillRule.EvenOdd)
    mesh = section.extrude(thickness).to_mesh()
    solid = trimesh.Trimesh(np.array(mesh.vert_properties)[:, :3].astype(float), np.array(mesh.tri_verts))
    solid.apply_translation([0, 0, -thickness / 2])
    solid.apply_transform(matrix)
    solid.apply_scale(1e-3)
    solid.density = areal / (thickness * 1e-3)
    moment = solid.moment_inertia
    inertia = np.trace(got.second_moment) * np.eye(3) - got.second_moment
    case = f"plate with a hole, turned in space ({seed})"
    record_error(case=f"{case}: mass", got=got.mass_kg, published=solid.mass, tolerance=1e-5, source=TRIMESH)
    record_error(
        case=f"{case}: centre",
        got=got.at_m,
        published=solid.center_mass,
        tolerance=1e-7,
        relative=False,
        source=TRIMESH,
    )
    record_error(
        case=f"{case}: inertia",
        got=inertia / np.abs(moment).max(),
        published=moment / np.abs(moment).max(),
        tolerance=1e-5,
        relative=False,
        source=TRIMESH,
    )


@pytest.mark.published
def test_rod_and_box(record_error):
    r = rod(np.array([0.0, 0.0, 0.0]), np.array([0.0, 0.6, 0.0]), 0.02)
    record_error(
        case="rod about its middle",
        got=np.trace(r.second_moment),
        published=0.02 * 0.36 / 12,
        tolerance=1e-12,
        source=HANDBOOK,
    )
    b = box(np.zeros(3), (0.1, 0.2, 0.3), 2.0)
    record_error(
        case="box about its long axis",
        got=b.second_moment[0, 0] + b.second_moment[1, 1],
        published=2.0 * (0.01 + 0.04) / 12,
        tolerance=1e-12,
        source=HANDBOOK,
    )


def test_two_halves_are_the_whole():
    square = np.array([[0, 0], [100, 0], [100, 50], [0, 50.0]])
    left, right = square * [0.5, 1], square * [0.5, 1] + [50, 0]
    whole = plate(square, (), np.eye(4), areal_kg_m2=0.3, thickness_m=0.005)
    halves = together([plate(p, (), np.eye(4), areal_kg_m2=0.3, thickness_m=0.005) for p in (left, right)])
    assert halves.mass_kg == pytest.approx(whole.mass_kg, rel=1e-14)
    assert np.allclose(halves.at_m, whole.at_m, atol=1e-15)
    assert np.allclose(halves.second_moment, whole.second_moment, rtol=1e-12, atol=1e-18)
    assert math.isclose(whole.mass_kg, 0.3 * 0.005)


@pytest.mark.published
def test_a_whole_kit_against_solids(record_error):
    """Every part of brambling as a solid in place: mass, centre and inertia of all of them together."""
    import manifold3d
    import trimesh

    import sheetlark
    from sheetlark.design import loads, starter

    e = sheetlark.evaluate(loads(starter("brambling")))
    names = {part.name for part in e.kit.parts}
    ours = together([line.element for line in e.weights.lines if line.name in names])
    mass, first, about = 0.0, np.zeros(3), np.zeros((3, 3))
    for part in e.kit.parts:
        areal = e.stock.sheet(part.sheet).areal_kg_m2(part.paper)
        for copy in part.copies:
            for piece in copy:
                rings = [piece.outline, *piece.holes]
                section = manifold3d.CrossSection(rings, manifold3d.FillRule.EvenOdd)
                mesh = section.extrude(part.thickness_mm).to_mesh()
                solid = trimesh.Trimesh(
                    np.array(mesh.vert_properties)[:, :3].astype(float), np.array(mesh.tri_verts)
                )
                solid.apply_translation([0, 0, -part.thickness_mm / 2])
                solid.apply_transform(piece.matrix)
                solid.apply_scale(1e-3)
                solid.density = areal / (part.thickness_mm * 1e-3)
                mass += solid.mass
                first += solid.mass * solid.center_mass
                d = solid.center_mass
                about += solid.moment_inertia + solid.mass * (d @ d * np.eye(3) - np.outer(d, d))
    centre = first / mass
    about -= mass * (centre @ centre * np.eye(3) - np.outer(centre, centre))
    inertia = np.trace(ours.second_moment) * np.eye(3) - ours.second_moment
    case = "all parts of brambling together"
    record_error(case=f"{case}: mass", got=ours.mass_kg, published=mass, tolerance=1e-4, source=TRIMESH)
    record_error(
        case=f"{case}: centre, m",
        got=ours.at_m,
        published=centre,
        tolerance=1e-5,
        relative=False,
        source=TRIMESH,
    )
    record_error(
        case=f"{case}: principal inertias",
        got=np.diag(inertia),
        published=np.diag(about),
        tolerance=0.005,
        source=TRIMESH,
    )
