import math
from typing import ClassVar

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheetlark.errors import GeometryError, SolveError
from sheetlark.strength import (
    ALL_FIXED,
    Cell,
    HalfWing,
    Joint,
    Material,
    Member,
    RodSize,
    Section,
    band_pull,
    bands_needed,
    bend,
    buckling_load,
    divergence_speed,
    flutter_speed,
    gust_increment,
    joint_loads,
    lightest_rod,
    limit_load,
    paper_tube_efficiency,
    rectangle,
    rod,
    rod_share,
    sheet_core_section,
    solve_frame,
    strip,
    twist_caution,
)


def material(modulus=1e9, **changes):
    values = {
        "name": "stuff",
        "modulus_pa": modulus,
        "shear_modulus_pa": modulus / 2.6,
        "tension_pa": 30e6,
        "compression_pa": 20e6,
        "density_kg_m3": 500.0,
    }
    return Material(**{**values, **changes})


PAPER = material(3e9, name="paper", density_kg_m3=700.0)
CORE = material(8e6, name="core", tension_pa=0.3e6, compression_pa=0.1e6, density_kg_m3=30.0)
CARBON = material(120e9, name="carbon", tension_pa=600e6, compression_pa=500e6, density_kg_m3=1550.0)


class TestSection:
    @given(width=st.floats(0.005, 0.3), height=st.floats(0.001, 0.05), tilt=st.floats(-1.5, 1.5))
    def test_tilting_keeps_the_sum_and_the_principal_stiffness(self, width, height, tilt):
        flat = Section(pieces=(rectangle("a", material(), width, height),)).bending
        turned = Section(pieces=(rectangle("a", material(), width, height, tilt_rad=tilt),)).bending
        assert turned[0] + turned[1] == pytest.approx(flat[0] + flat[1], rel=1e-9)
        assert turned[0] * turned[1] - turned[2] ** 2 == pytest.approx(flat[0] * flat[1], rel=1e-6)

    def test_cut_in_two_it_is_the_same(self):
        whole = Section(pieces=(rectangle("a", material(), 0.1, 0.02),))
        halves = Section(
            pieces=(
                rectangle("a", material(), 0.1, 0.01, (0.0, 0.005)),
                rectangle("b", material(), 0.1, 0.01, (0.0, -0.005)),
            )
        )
        assert halves.bending == pytest.approx(whole.bending)
        assert halves.mass_kg_m == pytest.approx(whole.mass_kg_m)
        assert halves.neutral_axis_m == pytest.approx(whole.neutral_axis_m, abs=1e-12)

    def test_stress_of_one_material_is_moment_over_section_modulus(self):
        section = Section(pieces=(rectangle("a", material(), 0.1, 0.02),))
        (stress,) = section.stresses(2.0)
        assert stress.most_pa == pytest.approx(2.0 * 6 / (0.1 * 0.02**2))
        assert stress.least_pa == pytest.approx(-stress.most_pa)
        assert stress.margin == pytest.approx(20e6 / stress.most_pa)

    def test_lift_squeezes_the_top(self):
        section = sheet_core_section(
            chord_m=0.18, core=CORE, core_thickness_m=4.6e-3, paper=PAPER, paper_thickness_m=0.12e-3
        )
        found = {s.name: s for s in section.stresses(0.5)}
        assert found["upper paper"].most_pa < 0.0 < found["lower paper"].least_pa

    def test_stress_carries_the_moment(self):
        """Sum of stress times lever over the area, sampled, is the moment put in: an uneven section too."""
        section = Section(
            pieces=(
                rectangle("board", CORE, 0.1, 0.01),
                rectangle("paper", PAPER, 0.1, 0.0005, (0.0, 0.00525)),
                rectangle("post", CARBON, 0.004, 0.006, (0.03, 0.0)),
            )
        )
        zz, yy, yz = section.bending
        y0, z0 = section.neutral_axis_m
        moment = 1.3
        total = side = 0.0
        for piece in section.pieces:
            ys, zs = zip(*piece.outline, strict=True)
            count = 60
            y, z = np.meshgrid(
                np.linspace(min(ys), max(ys), 2 * count + 1)[1::2],
                np.linspace(min(zs), max(zs), 2 * count + 1)[1::2],
            )
            determinant = zz * yy - yz * yz
            stress = (
                piece.material.modulus_pa * (-moment * yy * (z - z0) + moment * yz * (y - y0)) / determinant
            )
            total += (stress * -(z - z0)).mean() * piece.area_m2
            side += (stress * (y - y0)).mean() * piece.area_m2
            found = next(s for s in section.stresses(moment) if s.name == piece.name)
            assert found.least_pa <= stress.min()
            assert found.most_pa >= stress.max()
        assert total == pytest.approx(moment, rel=1e-3)
        assert side == pytest.approx(0.0, abs=1e-3 * moment)

    def test_strip_round_a_circle_is_a_tube(self):
        angles = np.linspace(0, 2 * math.pi, 181)
        ring = tuple((0.01 * math.cos(a), 0.01 * math.sin(a)) for a in angles)
        paper = strip("ring", PAPER, ring, 1e-4)
        tube = rod("tube", PAPER, 0.0201, inner_m=0.0199)
        assert paper.iyy_m4 == pytest.approx(tube.iyy_m4, rel=1e-3)
        cell = Cell(points_m=ring[:-1], walls=((1e-4, PAPER.shear_modulus_pa),) * 180)
        assert cell.torsion_stiffness() == pytest.approx(PAPER.shear_modulus_pa * tube.torsion_m4, rel=2e-3)

    @given(st.floats(0.02, 0.4), st.floats(1e5, 1e8))
    def test_papers_twist_between_nothing_and_a_closed_tube(self, chord, shear):
        got = paper_tube_efficiency(
            chord_m=chord,
            core_thickness_m=4.6e-3,
            core_shear_pa=shear,
            paper_thickness_m=1.2e-4,
            paper_shear_pa=1.2e9,
        )
        assert 0.0 < got < 1.0

    def test_one_paper_is_softer_than_two(self):
        kinds = [
            sheet_core_section(
                chord_m=0.18,
                core=CORE,
                core_thickness_m=4.6e-3,
                paper=PAPER,
                paper_thickness_m=1.2e-4,
                papers=k,
            )
            for k in (0, 1, 2)
        ]
        for figure in ("bending_stiffness_nm2", "torsion_stiffness_nm2", "mass_kg_m"):
            values = [getattr(kind, figure) for kind in kinds]
            assert values == sorted(values)
            assert values[2] > values[1] > values[0]

    def test_refusals(self):
        with pytest.raises(GeometryError, match="positive sides, got 0 x 5 mm"):
            rectangle("a", PAPER, 0.0, 0.005)
        with pytest.raises(GeometryError, match="tube of 4 mm cannot have a hole of 5 mm"):
            rod("a", CARBON, 0.004, inner_m=0.005)
        with pytest.raises(GeometryError, match="two points and a thickness"):
            strip("a", PAPER, ((0.0, 0.0),), 1e-4)
        with pytest.raises(GeometryError, match="one piece at least"):
            Section(pieces=())
        with pytest.raises(GeometryError, match="three corners"):
            Cell(points_m=((0.0, 0.0), (1.0, 0.0)), walls=()).torsion_stiffness()
        with pytest.raises(SolveError, match="modulus_pa of 'stuff' must be positive"):
            material(-1.0)


class TestBeam:
    Y = np.linspace(0, 0.5, 30)

    def wing(self, **changes):
        ones = np.ones(30)
        values = {
            "y_m": self.Y,
            "load_n_m": 5 * (1 - self.Y),
            "bending_nm2": 2 - self.Y,
            "twist_nm_m": 0.1 * ones,
            "torsion_nm2": ones,
        }
        return HalfWing(**{**values, **changes})

    def test_root_carries_the_whole_load(self):
        got = bend(self.wing())
        load = 5 * (0.5 - 0.125)
        assert got.root_shear_n == pytest.approx(load, rel=1e-6)
        assert got.root_moment_nm == pytest.approx(5 * (0.125 - 0.125 / 3), rel=1e-5)
        assert got.moment_at(0.0) == got.root_moment_nm
        assert got.shear_n[-1] == pytest.approx(0.0, abs=1e-12)
        assert got.torque_nm[0] == pytest.approx(0.05)

    @given(st.floats(0.1, 10))
    def test_twice_the_load_bends_twice_as_far(self, factor):
        one, two = bend(self.wing()), bend(self.wing(load_n_m=factor * 5 * (1 - self.Y)))
        assert two.tip_deflection_m == pytest.approx(factor * one.tip_deflection_m, rel=1e-9)

    def test_refusals(self):
        with pytest.raises(SolveError, match="start at 0"):
            self.wing(y_m=self.Y + 0.1)
        with pytest.raises(SolveError, match="arrays of one length"):
            self.wing(load_n_m=np.ones(3))
        with pytest.raises(SolveError, match="stiffness must be positive"):
            self.wing(bending_nm2=np.zeros(30))


class TestFrame:
    BEAM: ClassVar = {"stretch_n": 1e5, "bend_nm2": 2.0, "bend_sideways_nm2": 5.0, "twist_nm2": 1.0}

    def test_forces_and_moments_balance(self):
        joints = (
            Joint(at_m=(0, 0, 0), held=ALL_FIXED),
            Joint(at_m=(0.1, 0.5, 0.05), force_n=(1.0, -2.0, 3.0), moment_nm=(0.1, 0.2, -0.3)),
            Joint(at_m=(0.0, 0.1, -0.2), held=ALL_FIXED),
        )
        members = (
            Member(start=0, end=1, load_n_m=(0.5, 0.0, 4.0), **self.BEAM),
            Member(start=2, end=1, stretch_n=5e4, pinned=True),
        )
        got = solve_frame(joints, members)
        length = math.sqrt(0.01 + 0.25 + 0.0025)
        spread = np.array([0.5, 0.0, 4.0]) * length
        assert got.reaction_n.sum(axis=0) + spread + [1, -2, 3] == pytest.approx(0.0, abs=1e-8)
        places = np.array([j.at_m for j in joints])
        moment = np.cross(places, got.reaction_n).sum(axis=0) + got.reaction_nm.sum(axis=0)
        moment += (
            np.cross(places[1], (1, -2, 3)) + np.array((0.1, 0.2, -0.3)) + np.cross(places[1] / 2, spread)
        )
        assert moment == pytest.approx(0.0, abs=1e-8)

    def test_a_strut_relieves_the_root(self):
        joints = [
            Joint(at_m=(0, 0, 0), held=ALL_FIXED),
            Joint(at_m=(0, 0.3, 0)),
            Joint(at_m=(0, 0.5, 0), force_n=(0, 0, 2.0)),
        ]
        joints.append(Joint(at_m=(0, 0, -0.12), held=ALL_FIXED))
        members = [Member(start=0, end=1, **self.BEAM), Member(start=1, end=2, **self.BEAM)]
        bare = solve_frame(tuple(joints), tuple(members))
        braced = solve_frame(tuple(joints), (*members, Member(start=3, end=1, stretch_n=5e4, pinned=True)))
        assert abs(braced.reaction_nm[0, 0]) < 0.5 * abs(bare.reaction_nm[0, 0])
        assert braced.tension_n(2) > 0.0
        assert braced.moved_m[2, 2] < bare.moved_m[2, 2]

    def test_refusals(self):
        loose = (Joint(at_m=(0, 0, 0)), Joint(at_m=(0, 1, 0), force_n=(0, 0, 1)))
        with pytest.raises(SolveError, match="move without resistance"):
            solve_frame(loose, (Member(start=0, end=1, **self.BEAM),))
        with pytest.raises(GeometryError, match="has no length"):
            solve_frame((loose[0], loose[0]), (Member(start=0, end=1, **self.BEAM),))
        with pytest.raises(GeometryError, match="its own up direction"):
            solve_frame((loose[0], Joint(at_m=(0, 0, 1))), (Member(start=0, end=1, **self.BEAM),))


class TestLoads:
    def test_pull_up_is_capped_and_never_below_the_gust(self):
        assert limit_load(top_ms=14, stall_ms=7).factor == pytest.approx(4.0)
        hard = limit_load(top_ms=28, stall_ms=7)
        assert hard.factor == 8.0
        assert "would give 16.0 g; made for 8.0 g" in hard.because
        soft = limit_load(top_ms=7.7, stall_ms=7.0, gust_ms=3.0, cruise_ms=7.5, wing_loading_kg_m2=1.5)
        assert soft.factor == soft.gust > soft.pull_up
        assert "gust takes it to" in soft.because
        with pytest.raises(SolveError, match="does not fly"):
            limit_load(top_ms=5, stall_ms=7)

    def test_gust_by_hand(self):
        """2.5 kg/m², c 0.18 m, a 4.3: μ = 5.273, K = 0.4389, Δn at 10 m/s and 2 m/s of gust."""
        got = gust_increment(
            speed_ms=10, gust_ms=2, wing_loading_kg_m2=2.5, chord_m=0.18, lift_slope_per_rad=4.3
        )
        mu = 2 * 2.5 / (1.225 * 0.18 * 4.3)
        assert mu == pytest.approx(5.2733, rel=1e-4)
        assert got == pytest.approx(0.4389 * 1.225 * 10 * 2 * 4.3 / (2 * 2.5 * 9.80665), rel=1e-3)

    def test_joiner(self):
        got = joint_loads(root_moment_nm=0.6, root_shear_n=3.0, joiner_m=0.18)
        # bearing that grows in a straight line has its resultants two thirds out: 0.06 m
        assert got.couple_n == pytest.approx(0.6 / 0.06)
        with pytest.raises(SolveError, match="needs a length"):
            joint_loads(root_moment_nm=0.6, root_shear_n=3.0, joiner_m=0.0)

    def test_bands(self):
        pull = band_pull(flat_length_m=0.089, width_m=0.0064, thickness_m=0.0009, stretched_m=0.2)
        assert 5.0 < pull < 12.0
        one = bands_needed(load_factor=4, wing_lift_n=3.5, wing_weight_n=0.7, band_pull_n=pull)
        two = bands_needed(load_factor=40, wing_lift_n=3.5, wing_weight_n=0.7, band_pull_n=pull)
        assert one.count == 4
        assert two.count > one.count
        assert two.count % 2 == 0
        assert (two.count - 2) * 2 * pull >= two.lift_off_n
        with pytest.raises(SolveError, match="between 1 and 5"):
            band_pull(flat_length_m=0.05, width_m=0.006, thickness_m=0.001, stretched_m=0.5)


SIZES = tuple(
    RodSize(name=f"{outer:g}/{inner:g}", outer_m=outer * 1e-3, inner_m=inner * 1e-3, material=CARBON)
    for outer, inner in ((2, 0), (3, 0), (4, 0), (4, 2.5), (6, 4))
)


class TestSpars:
    @given(moment=st.floats(0.05, 2.0), stiffness=st.floats(0.1, 5.0))
    def test_none_lighter_serves(self, moment, stiffness):
        got = lightest_rod(SIZES, moment_nm=moment, stiffness_nm2=stiffness)
        assert got.strength_margin >= 1.0
        assert got.stiffness_margin >= 1.0
        for size in SIZES:
            if size.mass_kg_m < got.size.mass_kg_m:
                assert size.moment_nm < 1.5 * moment or size.bending_nm2 < stiffness

    def test_the_board_helps(self):
        alone = lightest_rod(SIZES, moment_nm=0.5, stiffness_nm2=1.2)
        helped = lightest_rod(SIZES, moment_nm=0.5, stiffness_nm2=1.2, board_bending_nm2=0.9)
        assert helped.size.mass_kg_m < alone.size.mass_kg_m
        assert rod_share(1.0, 3.0) == 0.25

    def test_refusals(self):
        with pytest.raises(SolveError, match=r"the nearest, 6/4, has .* of the strength"):
            lightest_rod(SIZES, moment_nm=50.0, stiffness_nm2=1.0)
        with pytest.raises(SolveError, match="of the stiffness"):
            lightest_rod(SIZES, moment_nm=0.1, stiffness_nm2=100.0)
        with pytest.raises(SolveError, match=r"fits into 1.0 mm"):
            lightest_rod(SIZES, moment_nm=0.1, stiffness_nm2=0.1, room_m=0.001)

    def test_euler(self):
        assert buckling_load(1.0, 0.3) == pytest.approx(math.pi**2 / 0.09)


WING = {
    "torsion_nm2": 1.0,
    "semi_span_m": 0.42,
    "chord_m": 0.18,
    "mass_kg_m": 0.075,
    "inertia_kg_m": 0.075 * 0.05**2,
    "mass_axis": 0.45,
}


class TestTwist:
    def test_stiffer_is_faster_by_the_root(self):
        stiff = {**WING, "torsion_nm2": 4.0}
        assert flutter_speed(**stiff) == pytest.approx(2 * flutter_speed(**WING))
        axis = {"torsion_nm2": 1.0, "semi_span_m": 0.42, "chord_m": 0.18, "elastic_axis": 0.45}
        assert divergence_speed(**{**axis, "torsion_nm2": 4.0}) == pytest.approx(2 * divergence_speed(**axis))

    def test_divergence_of_the_uniform_wing_by_its_own_eigenvalue(self):
        """Twist equation GJ t'' + q c a e t = 0 on a mesh: its least q is the closed form's."""
        count, s, c, e, gj = 400, 0.42, 0.18, 0.2, 1.0
        h = s / count
        matrix = (
            np.diag(np.full(count, 2.0)) - np.diag(np.ones(count - 1), 1) - np.diag(np.ones(count - 1), -1)
        )
        matrix[-1, -1] = 1.0  # free tip
        weight = np.ones(count)
        weight[-1] = 0.5
        least = np.linalg.eigvals(matrix / weight[:, None] * gj / h**2).real.min() / (c * c * e * 2 * math.pi)
        got = divergence_speed(torsion_nm2=gj, semi_span_m=s, chord_m=c, elastic_axis=0.25 + e)
        assert 0.5 * 1.225 * got**2 == pytest.approx(least, rel=1e-3)

    def test_mass_or_axis_at_quarter_chord_is_safe(self):
        assert math.isinf(flutter_speed(**{**WING, "mass_axis": 0.25}))
        assert math.isinf(divergence_speed(torsion_nm2=1.0, semi_span_m=0.4, chord_m=0.2, elastic_axis=0.25))
        with pytest.raises(SolveError, match="a wing with mass"):
            flutter_speed(**{**WING, "mass_kg_m": 0.0})

    def test_caution(self):
        soft = twist_caution(**{**WING, "torsion_nm2": 0.02}, elastic_axis=0.45, top_ms=15.0)
        good = twist_caution(**{**WING, "torsion_nm2": 4.0}, elastic_axis=0.45, top_ms=15.0)
        assert soft.cautious
        assert not good.cautious
        assert good.reserve == pytest.approx(min(good.divergence_ms, good.flutter_ms) / 15.0)
