"""The lattice against textbook wings and lifting-surface theory.

Converged thin-surface values marked "computed" come from a separate horseshoe lattice, refined until it stood still
(16 x 128 panels, Richardson-extrapolated); they are independent of this code but not printed anywhere.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from sheetlark.air import Condition, Control, Layout, Surface, hinge_moments, solve

pytestmark = pytest.mark.published
ALPHA = 0.01


def slope(loads) -> float:
    return loads.lift_coefficient / math.sin(ALPHA)


def test_swept_textbook_wing_on_its_own_panels(record_error):
    """Bertin and Smith, Aerodynamics for Engineers, Example 7.2: AR 5, 45 degrees, 4 panels a half."""
    wing = Surface.trapezoid(1.0, 0.2, 0.2, sweep_deg=45.0, spanwise=4, chordwise=1)
    loads = solve([wing], ALPHA)
    source = "Bertin & Smith, Aerodynamics for Engineers, Example 7.2 (second hand)"
    record_error(
        case="swept wing, 4 panels a half: lift slope",
        got=slope(loads),
        published=1.096 * math.pi,
        tolerance=0.001,
        source=source,
    )
    starboard = (
        loads.strip_lift_n_m[:4] / (1.225 * 10.0) / (4.0 * math.pi * 10.0 * math.sin(ALPHA)) / math.cos(ALPHA)
    )
    record_error(
        case="swept wing, 4 panels a half: circulations root to tip",
        got=starboard,
        published=np.array([0.0273, 0.0287, 0.0286, 0.0250]),
        tolerance=1.0e-4,
        relative=False,
        source=source,
    )


def test_swept_wing_converged(record_error):
    loads = solve([Surface.trapezoid(1.0, 0.2, 0.2, sweep_deg=45.0)], ALPHA)
    source = "computed, separate lattice, converged"
    record_error(
        case="swept wing converged: lift slope",
        got=slope(loads),
        published=3.185,
        tolerance=0.005,
        source=source,
    )
    record_error(
        case="swept wing converged: aerodynamic centre over chord",
        got=-loads.pitching_moment_coefficient / loads.lift_coefficient,
        published=1.425,
        tolerance=0.006,
        relative=False,
        source=source,
    )
    record_error(
        case="swept wing converged: span efficiency",
        got=loads.span_efficiency,
        published=0.904,
        tolerance=0.01,
        source=source,
    )


def test_swept_wing_against_the_tunnel(record_error):
    """Weber and Brebner, ARC R&M 2882, 1958, Table 4 (second hand): lift to 8.4 degrees."""
    wing = Surface.trapezoid(1.0, 0.2, 0.2, sweep_deg=45.0)
    got = [solve([wing], math.radians(a)).lift_coefficient for a in (2.1, 4.2, 6.3, 8.4)]
    record_error(
        case="swept wing: measured lift to 8.4 deg",
        got=got,
        published=np.array([0.121, 0.238, 0.350, 0.456]),
        tolerance=0.05,
        source="Weber & Brebner, ARC R&M 2882, 1958, Table 4 (second hand)",
    )


def test_warren_12(record_error):
    wing = Surface.trapezoid(2.0 * math.sqrt(2.0), 1.5, 0.5, sweep_deg=53.54)
    loads = solve([wing], ALPHA, reference=(2.0 * math.sqrt(2.0), 1.0))
    source = "Warren-12 planform, NASA SP-405, 1976 (second hand)"
    record_error(
        case="Warren-12: lift slope", got=slope(loads), published=2.743, tolerance=0.005, source=source
    )
    record_error(
        case="Warren-12: moment slope",
        got=loads.pitching_moment_coefficient / math.sin(ALPHA),
        published=-3.10,
        tolerance=0.006,
        source=source,
    )


RECTANGLES = [
    (1.0, 1.460, 0.167, 1.000),
    (1.5, 2.022, 0.194, 1.000),
    (2.0, 2.474, 0.209, 0.999),
    (3.0, 3.145, 0.225, 0.997),
    (4.0, 3.612, 0.232, 0.994),
    (6.0, 4.215, 0.239, 0.984),
    (8.0, 4.586, 0.242, 0.972),
    (10.0, 4.839, 0.244, 0.960),
]


@pytest.mark.parametrize(("ratio", "lift", "centre", "efficiency"), RECTANGLES)
def test_rectangles(record_error, ratio, lift, centre, efficiency):
    loads = solve([Surface.trapezoid(ratio, 1.0, 1.0)], ALPHA)
    source = "computed, separate lattice, converged"
    record_error(
        case=f"rectangle AR {ratio:g}: lift slope",
        got=slope(loads),
        published=lift,
        tolerance=0.003,
        source=source,
    )
    record_error(
        case=f"rectangle AR {ratio:g}: aerodynamic centre over chord",
        got=-loads.pitching_moment_coefficient / loads.lift_coefficient,
        published=centre,
        tolerance=0.004,
        relative=False,
        source=source,
    )
    record_error(
        case=f"rectangle AR {ratio:g}: span efficiency",
        got=loads.span_efficiency,
        published=efficiency,
        tolerance=0.002,
        source=source,
    )


@pytest.mark.parametrize("ratio", [4.0, 5.0, 6.0, 8.0, 10.0, 12.0])
def test_tuck(record_error, ratio):
    """E. O. Tuck, J. Austral. Math. Soc. B 35, 1993: asymptotic lift slope of rectangles (second hand)."""
    tuck = (
        2 * math.pi
        - math.pi / ratio * (math.log(ratio) + 2.5620)
        + 1.404 / ratio**2 * (math.log(ratio) + 3.645)
    )
    record_error(
        case=f"rectangle AR {ratio:g}: lift slope by lifting-surface theory",
        got=slope(solve([Surface.trapezoid(ratio, 1.0, 1.0)], ALPHA)),
        published=tuck,
        tolerance=0.006,
        source="Tuck, J. Austral. Math. Soc. B 35, 1993 (second hand)",
    )


def elliptic(
    ratio: float, *, z: float = 0.0, x: float = 0.0, name: str = "ellipse", spanwise: int = 24
) -> Surface:
    """Mean chord 1, straight quarter-chord line."""
    eta = np.sin(np.linspace(0.0, np.pi / 2, 60))
    chord = 4.0 / math.pi * np.sqrt(np.clip(1.0 - eta**2, 0.0, None))
    edge = np.stack([x - 0.25 * chord, 0.5 * ratio * eta, np.full_like(eta, z)], axis=1)
    return Surface.from_stations(name, "wing", edge, chord, spanwise=spanwise)


@pytest.mark.parametrize(("ratio", "lift"), [(4.0, 3.74), (6.0, 4.40), (8.0, 4.79)])
def test_elliptic_wings(record_error, ratio, lift):
    loads = solve([elliptic(ratio)], ALPHA, reference=(ratio, 1.0, ratio))
    record_error(
        case=f"ellipse AR {ratio:g}: span efficiency",
        got=loads.span_efficiency,
        published=1.0,
        tolerance=0.01,
        source="Munk, NACA TR-121, 1921: elliptic loading",
    )
    record_error(
        case=f"ellipse AR {ratio:g}: lift slope",
        got=slope(loads),
        published=lift,
        tolerance=0.006,
        source="computed, separate lattice, converged",
    )


@pytest.mark.parametrize(("ratio", "damping", "dihedral"), [(4.0, -0.336, -0.564), (6.0, -0.440, -0.731)])
def test_roll_derivatives(record_error, ratio, damping, dihedral):
    source = "computed, separate lattice, converged"
    rolling = solve([Surface.trapezoid(ratio, 1.0, 1.0)], 0.0, rates_rad_s=(0.1, 0.0, 0.0))
    record_error(
        case=f"rectangle AR {ratio:g}: roll damping",
        got=rolling.rolling_moment_coefficient / (0.1 * ratio / 20.0),
        published=damping,
        tolerance=0.004,
        source=source,
    )
    tipped = solve([Surface.trapezoid(ratio, 1.0, 1.0, dihedral_deg=1.0)], 0.0, beta_rad=0.02)
    record_error(
        case=f"rectangle AR {ratio:g}: dihedral effect",
        got=tipped.rolling_moment_coefficient / math.sin(0.02) / math.radians(1.0),
        published=dihedral,
        tolerance=0.004,
        source=source,
    )


@pytest.mark.parametrize(("ratio", "roll"), [(4.0, 0.375), (6.0, 0.493)])
def test_antisymmetric_outer_halves(record_error, ratio, roll):
    """Whole chord of the outer half span turned one way each side: the lattice's own aileron of full chord."""
    wing = Surface.trapezoid(
        ratio, 1.0, 1.0, controls=(Control(name="a", kind="aileron", hinge_fraction=0.0, from_eta=0.5),)
    )
    loads = solve([wing], 0.0, deflections_rad={"a": 0.01})
    record_error(
        case=f"rectangle AR {ratio:g}: outer halves turned apart",
        got=loads.rolling_moment_coefficient / math.sin(0.01),
        published=roll,
        tolerance=0.015,
        source="computed, separate lattice, converged",
    )


@pytest.mark.parametrize(
    ("ratio", "arm", "height", "expected"),
    [
        (4, 2, 0.0, 0.571),
        (4, 3, 0.2, 0.495),
        (4, 4, 0.5, 0.416),
        (6, 2, 0.5, 0.408),
        (6, 3, 0.0, 0.416),
        (6, 4, 0.2, 0.379),
    ],
)
def test_downwash_behind_rectangles(record_error, ratio, arm, height, expected):
    """Mean over the central 30 % of the span, seen by the lift a narrow vane loses there."""
    wing = Surface.trapezoid(ratio, 1.0, 1.0, name="wing")
    # The vane's three-quarter chord sits `arm` behind the wing's quarter chord.
    vane = Surface.trapezoid(
        0.3 * ratio,
        0.05,
        0.05,
        at_m=(0.25 + arm - 0.0375, 0.0, height),
        name="vane",
        role="tail",
        spanwise=8,
        chordwise=1,
    )
    both = solve([wing, vane], ALPHA).surface_lift_n[1]
    alone = solve([vane], ALPHA).surface_lift_n[0]
    record_error(
        case=f"downwash slope, AR {ratio}, {arm} chords behind, {height:g} chords up",
        got=1.0 - both / alone,
        published=expected,
        tolerance=0.03,
        source="computed, separate lattice, flat wake",
    )


@pytest.mark.parametrize(
    ("share", "turn", "moment", "per_alpha", "per_turn"),
    [
        (0.25, 0.609, -0.650, -0.565, -0.944),
        (0.40, 0.748, -0.588, -0.745, -1.013),
        (0.50, 0.818, -0.500, -0.858, -1.066),
    ],
)
@pytest.mark.parametrize("chordwise", [6, 20])
def test_plain_flap(record_error, chordwise, share, turn, moment, per_alpha, per_turn):
    """H. Glauert, ARC R&M 1095, 1927: thin section with a plain flap, here a wing of aspect ratio 2000."""
    wing = Surface.trapezoid(
        2000.0,
        1.0,
        1.0,
        name="wing",
        spanwise=8,
        chordwise=chordwise,
        spacing="equal",
        controls=(Control(name="flap", kind="flap", hinge_fraction=1.0 - share),),
    )
    source = "Glauert, ARC R&M 1095, 1927, plain flap"
    by_alpha = solve([wing], 0.001, about_m=(0.25, 0.0, 0.0))
    by_flap = solve([wing], 0.0, about_m=(0.25, 0.0, 0.0), deflections_rad={"flap": 0.001})
    record_error(
        case=f"flap {share:.0%}, {chordwise} panels: lift against incidence",
        got=by_flap.lift_coefficient / by_alpha.lift_coefficient,
        published=turn,
        tolerance=0.015,
        source=source,
    )
    record_error(
        case=f"flap {share:.0%}, {chordwise} panels: quarter-chord moment",
        got=by_flap.pitching_moment_coefficient / 0.001,
        published=moment,
        tolerance=0.01,
        source=source,
    )
    hinge = hinge_moments(Layout(surfaces=(wing,)), Condition())[0]
    record_error(
        case=f"flap {share:.0%}, {chordwise} panels: hinge moment by incidence",
        got=hinge.per_alpha,
        published=per_alpha,
        tolerance=0.03,
        source=source,
    )
    record_error(
        case=f"flap {share:.0%}, {chordwise} panels: hinge moment by deflection",
        got=hinge.per_deflection,
        published=per_turn,
        tolerance=0.03,
        source=source,
    )


@pytest.mark.parametrize("design", ["monoplane", "biplane", "canard"])
def test_panels_are_fine_enough(record_error, design):
    """Halving the panels moves the neutral point by under 0.5 % of the mean chord."""

    def centre(spanwise: int, chordwise: int) -> float:
        size = {"spanwise": spanwise, "chordwise": chordwise}
        wing = Surface.trapezoid(1.0, 0.2, 0.14, 15.0, 4.0, at_m=(0.0, 0.0, 0.0), name="wing", **size)
        aft = Surface.trapezoid(
            0.4, 0.12, 0.1, 10.0, at_m=(0.55, 0.0, 0.03), name="tail", role="tail", **size
        )
        upper = Surface.trapezoid(1.0, 0.2, 0.14, 15.0, at_m=(-0.08, 0.0, 0.18), name="upper", **size)
        nose = Surface.trapezoid(
            0.4, 0.1, 0.08, 10.0, at_m=(-0.4, 0.0, 0.03), name="nose", role="canard", **size
        )
        chosen = {"monoplane": [wing, aft], "biplane": [wing, upper, aft], "canard": [nose, wing]}[design]
        loads = solve(chosen, ALPHA)
        flat = solve(chosen, 0.0)
        lift = loads.lift_coefficient - flat.lift_coefficient
        return -(loads.pitching_moment_coefficient - flat.pitching_moment_coefficient) / lift

    record_error(
        case=f"{design}: neutral point over chord, half the panels",
        got=centre(12, 3),
        published=centre(24, 6),
        tolerance=0.005,
        relative=False,
        source="own convergence study (not a published value)",
    )
