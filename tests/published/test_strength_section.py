"""Composite section against sectionproperties, a general-purpose finite-element section library."""

from __future__ import annotations

import math

import pytest

from sheetlark.strength import Material, Section, rectangle, rod, sheet_core_section

pytestmark = pytest.mark.published
SOURCE = "sectionproperties (finite elements)"


def ours(name, modulus, shear=None):
    return Material(
        name=name,
        modulus_pa=modulus,
        shear_modulus_pa=shear or modulus / 2.0,
        tension_pa=1e6,
        compression_pa=1e6,
        density_kg_m3=100.0,
    )


def theirs(name, modulus):
    from sectionproperties.pre import Material as Theirs

    return Theirs(
        name, elastic_modulus=modulus, poissons_ratio=0.0, yield_strength=1.0, density=1.0, color="w"
    )


def test_board_with_paper_tape_and_rod(record_error):
    """5 mm board, paper on top only, tape at the trailing edge, a rod under the board: nothing is symmetric."""
    from sectionproperties.analysis import Section as Analysis
    from sectionproperties.pre.library import circular_section_by_area, rectangular_section

    core, paper, tape, carbon = 8.0, 3000.0, 1500.0, 120_000.0
    shape = rectangular_section(d=4.6, b=60.0, material=theirs("core", core))
    shape = shape + rectangular_section(d=0.4, b=60.0, material=theirs("paper", paper)).shift_section(0, 4.6)
    shape = shape + rectangular_section(d=0.3, b=15.0, material=theirs("tape", tape)).shift_section(
        45.0, -0.3
    )
    area = math.pi * 2.0**2
    # a hair below the board, so the two meet without overlap
    shape = shape + circular_section_by_area(
        area=area, n=96, material=theirs("carbon", carbon)
    ).shift_section(15.0, -math.sqrt(area / math.pi) * 1.01)
    shape.create_mesh([1.0])
    analysis = Analysis(shape)
    analysis.calculate_geometric_properties()
    xx, yy, xy = (value * 1e-6 for value in analysis.get_eic())
    ea = analysis.get_ea()
    cx, cy = (value / ea for value in analysis.get_eq()[::-1])

    mm = 1e-3
    made = Section(
        pieces=(
            rectangle("core", ours("core", core * 1e6), 60 * mm, 4.6 * mm, (30 * mm, 2.3 * mm)),
            rectangle("paper", ours("paper", paper * 1e6), 60 * mm, 0.4 * mm, (30 * mm, 4.8 * mm)),
            rectangle("tape", ours("tape", tape * 1e6), 15 * mm, 0.3 * mm, (52.5 * mm, -0.15 * mm)),
            rod("rod", ours("carbon", carbon * 1e6), 4 * mm, (15 * mm, -2.02 * mm)),
        )
    )
    y, z = made.neutral_axis_m
    record_error(
        case="composite section, neutral axis (mm)",
        got=[y * 1e3, z * 1e3],
        published=[cx, cy],
        tolerance=0.005,
        source=SOURCE,
        relative=False,
    )
    record_error(
        case="composite section, EI about both axes and product",
        got=made.bending,
        published=[xx, yy, xy],
        tolerance=2e-3,
        source=SOURCE,
    )
    record_error(
        case="composite section, EA", got=made.axial_stiffness_n, published=ea, tolerance=1e-3, source=SOURCE
    )

    # stress from a moment: sectionproperties' own stress recovery, extreme values in the paper and the rod
    stress = analysis.calculate_stress(mxx=-500.0)
    sig = {m["material"]: m["sig_zz"] for m in stress.get_stress()}
    got = {s.name: s for s in made.stresses(0.5)}
    for name, key in (("paper", "paper"), ("carbon", "rod")):
        extreme = max(abs(sig[name].min()), abs(sig[name].max()))
        mine = max(abs(got[key].most_pa), abs(got[key].least_pa)) / 1e6
        record_error(
            case=f"composite section, greatest stress in {key}",
            got=mine,
            published=extreme,
            tolerance=0.01,
            source=SOURCE,
        )


def test_board_twisting_with_open_edges(record_error):
    """Papers on a soft core 20 mm wide: half the closed tube's stiffness is lost at the edges."""
    from sectionproperties.analysis import Section as Analysis
    from sectionproperties.pre.library import rectangular_section

    core_shear, paper_shear, core, paper, width = 3.0, 600.0, 4.6, 0.24, 24.0
    shape = rectangular_section(d=core, b=width, material=theirs("core", 2 * core_shear))
    shape = shape + rectangular_section(
        d=paper, b=width, material=theirs("upper", 2 * paper_shear)
    ).shift_section(0, core)
    shape = shape + rectangular_section(
        d=paper, b=width, material=theirs("lower", 2 * paper_shear)
    ).shift_section(0, -paper)
    shape.create_mesh([0.6, 0.03, 0.03])
    analysis = Analysis(shape)
    analysis.calculate_geometric_properties()
    analysis.calculate_warping_properties()
    made = sheet_core_section(
        chord_m=width * 1e-3,
        core=ours("core", 2e6 * core_shear, 1e6 * core_shear),
        core_thickness_m=core * 1e-3,
        paper=ours("paper", 2e6 * paper_shear, 1e6 * paper_shear),
        paper_thickness_m=paper * 1e-3,
    )
    # modulus weighted: with no lateral contraction G is half of E
    record_error(
        case="board with two papers, torsion stiffness",
        got=made.torsion_stiffness_nm2,
        published=analysis.get_ej() / 2.0 * 1e-6,
        tolerance=0.05,
        source=SOURCE,
    )
