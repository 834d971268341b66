"""Odd questions: answered right, or refused in words; never a number that is not one, never a bare traceback."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest

from sheetlark.air import AirModel, Condition, Control, Layout, Reference, Surface, coefficients_at, solve
from sheetlark.errors import GeometryError, SheetlarkError, SolveError


def wing(**change) -> Surface:
    return Surface.trapezoid(1.0, 0.2, 0.2, spanwise=12, chordwise=4, **change)


def tail(x: float = 0.6, z: float = 0.0, **change) -> Surface:
    given = {"name": "tail", "role": "tail", "spanwise": 8, "chordwise": 4} | change
    return Surface.trapezoid(0.4, 0.1, 0.1, at_m=(x, 0.0, z), **given)


FLAP = (Control(name="flap", kind="flap", hinge_fraction=0.7),)
BAD = [math.nan, math.inf, -math.inf, "x", None, [0.1], 1e300]


@pytest.mark.parametrize("what", ["alpha_rad", "beta_rad", "speed_ms", "density_kg_m3"])
@pytest.mark.parametrize("value", BAD)
def test_no_number_no_answer(what, value):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with pytest.raises(GeometryError, match=what.split("_", maxsplit=1)[0]):
            solve([wing()], **({"alpha_rad": 0.05} | {what: value}))


@pytest.mark.parametrize("what", ["rates_rad_s", "about_m"])
@pytest.mark.parametrize("value", [(1.0, 2.0), (1, 2, 3, 4), None, (math.nan, 0, 0), (0, "x", 0)])
def test_no_triple_no_answer(what, value):
    with pytest.raises(GeometryError, match=r"three numbers|finite|one number"):
        solve([wing()], 0.05, **{what: value})


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: solve([wing()], 2.0), GeometryError, "alpha must stay within 1.571"),
        (lambda: solve(wing(), 0.05), GeometryError, r"as a sequence, \[wing\] for one alone"),
        (lambda: solve([1], 0.05), GeometryError, "got 1 among them"),
        (lambda: solve(3, 0.05), GeometryError, "sequence of Surface, got 3"),
        (lambda: solve([], 0.05), SolveError, "at least one surface"),
        (lambda: solve([wing()], 0.05, reference=5.0), GeometryError, r"\(area, chord\)"),
        (lambda: solve([wing()], 0.05, reference=(math.nan, 1.0)), GeometryError, "area_m2 must be positive"),
        (lambda: solve([wing()], 0.05, rates_rad_s=(1e200, 0, 0)), SolveError, "too far apart"),
        (lambda: solve([wing()], 0.05, ground_z_m=0.0), GeometryError, "0 m below surface 'wing'"),
        (lambda: solve([wing()], 0.05, ground_z_m=0.5), GeometryError, "-0.5 m below"),
        (lambda: solve([wing()], 0.05, ground_z_m=-1e-3), GeometryError, "more panels"),
        (lambda: solve([wing()], 0.05, ground_z_m=math.nan), GeometryError, "height of the ground"),
        (
            lambda: solve([wing(controls=FLAP)], 0.0, deflections_rad={"flap": math.nan}),
            GeometryError,
            "deflection of 'flap' must be finite",
        ),
        (
            lambda: solve([wing(controls=FLAP)], 0.0, deflections_rad={"flap": 3.0}),
            GeometryError,
            "deflection of 'flap' must stay within 1.571",
        ),
        (lambda: solve([wing(controls=FLAP)], 0.0, deflections_rad=0.1), GeometryError, "by name"),
        (lambda: Surface.trapezoid(1.0, 0.2, 0.2, spanwise=2.5), GeometryError, "whole number, got 2.5"),
        (lambda: solve([Surface.trapezoid(1, 1, 1, spanwise=10**6)], 0.1), SolveError, "ask for fewer"),
        (lambda: Surface.trapezoid(1e9, 0.2, 0.2), GeometryError, "Look for a wrong unit"),
        (lambda: Surface.trapezoid(1e-9, 0.2, 0.2), GeometryError, "Look for a wrong unit"),
        (lambda: wing(incidence_deg=180.0), GeometryError, "incidence must stay within 90 deg"),
        (lambda: wing(role="rotor"), GeometryError, "role of surface 'rotor' must be one of wing, tail"),
        (lambda: wing(spacing="cosine"), GeometryError, "spacing of surface 'wing' must be one of"),
        (lambda: wing(root="loose"), GeometryError, "root of surface 'wing' must be one of"),
        (lambda: wing(at_m=(0, 0)), GeometryError, "place of the root must be three numbers"),
        (
            lambda: Control(name="s", kind="slat", hinge_fraction=0.7),
            GeometryError,
            "kind of control 's' must be one of aileron",
        ),
        (
            lambda: Surface.from_stations("f", "fin", [[0, 0, 0], [0, 0, 1]], [1, 1], mirrored=True),
            GeometryError,
            "state it with mirrored=False",
        ),
        (
            lambda: Surface.from_stations("w", "wing", [[0, 0, 0], [0, "a", 1]], [1, 1]),
            GeometryError,
            "rows of numbers",
        ),
    ],
)
def test_refused_in_words(call, error, words):
    with pytest.raises(error, match=words):
        call()


@pytest.mark.parametrize("stagger", [0.0, 1e-9, 1e-6, 1e-3])
def test_sheets_in_the_same_place_share_the_load_of_one(stagger):
    alone = solve([wing()], 0.05).lift_n
    lifts = solve([wing(), wing(at_m=(0.0, 0.0, stagger))], 0.05).surface_lift_n
    assert lifts == pytest.approx(0.5 * alone, rel=0.02)
    one = wing()
    assert solve([one, one], 0.05).surface_lift_n == pytest.approx(0.5 * alone, rel=0.02)


def test_a_tail_in_the_wake_is_no_special_place():
    """A wake that passes exactly through the tail acts as one a little above or below it."""
    through = solve([wing(), tail()], 0.05).surface_lift_n[1]
    for z in (1e-9, 1e-6, 1e-3, -1e-3, 4e-3):
        assert solve([wing(), tail(z=z)], 0.05).surface_lift_n[1] == pytest.approx(through, rel=0.01)
    # Whatever the strips' edges do to each other.
    shares = [solve([wing(), tail(spanwise=n)], 0.05).surface_lift_n[1] for n in (5, 7, 8, 11, 16)]
    assert shares == pytest.approx([through] * 5, rel=0.03)


def test_tandem_and_canard_in_line():
    """A wing behind another of the same span and height: less lift than alone, more than in a broad wake's middle."""
    front, rear = solve([wing(), wing(at_m=(0.6, 0.0, 0.0))], 0.05).surface_lift_n
    alone = solve([wing()], 0.05).surface_lift_n[0]
    assert 0.3 * alone < rear < 0.7 * alone < alone < front
    nose, main = solve([tail(x=-0.4, role="canard"), wing()], 0.05).surface_lift_n
    assert main < alone
    assert nose > solve([tail()], 0.05).surface_lift_n[0]


@pytest.mark.parametrize(("spanwise", "chordwise"), [(1, 1), (1, 4), (2, 1), (24, 1), (3, 9)])
def test_the_coarsest_panels_still_answer(spanwise, chordwise):
    fine = solve([wing()], 0.05).lift_coefficient
    rough = solve([Surface.trapezoid(1.0, 0.2, 0.2, spanwise=spanwise, chordwise=chordwise)], 0.05)
    assert rough.lift_coefficient == pytest.approx(fine, rel=0.25)


@pytest.mark.parametrize("kind", ["lattice", "model"])
@pytest.mark.parametrize("question", ["straight", "slipping", "flapped"])
def test_a_wing_in_pieces_is_the_wing(kind, question):
    """Two single halves, the port one stated from the middle outwards, and a mirrored wing are one and the same."""
    controls = (
        Control(
            name="e", kind="elevator", hinge_fraction=0.7, hinge_fraction_tip=0.6, from_eta=0.2, gap_m=0.0
        ),
    )

    def piece(name: str, y: float, *, mirrored: bool) -> Surface:
        edge = [[0.0, 0.0, 0.0], [0.1, y, 0.02]]
        return Surface.from_stations(
            name, "wing", edge, [0.2, 0.1], [0.05, 0.02], mirrored, controls=controls, spanwise=10
        )

    whole, halves = (
        [piece("w", 0.5, mirrored=True)],
        [piece(n, y, mirrored=False) for n, y in (("s", 0.5), ("p", -0.5))],
    )
    ref = Reference(area_m2=0.15, chord_m=0.15, span_m=1.0)
    change = {
        "straight": {},
        "slipping": {"beta_rad": 0.1, "rates_rad_s": (1.0, 0.3, 0.5)},
        "flapped": {"deflections_rad": {"e": 0.1}},
    }[question]
    if kind == "lattice":
        one, two = (solve(x, 0.05, reference=ref, **change) for x in (whole, halves))
        assert two.force_n == pytest.approx(one.force_n, abs=1e-9)
        assert two.moment_nm == pytest.approx(one.moment_nm, abs=1e-9)
        return
    for alpha in (0.05, 0.3):
        got = [
            AirModel(Layout(surfaces=tuple(x), reference=ref)).at(Condition(alpha_rad=alpha, **change))
            for x in (whole, halves)
        ]
        # Beyond the stall the pieces' aspect ratios differ, and separation does not spread from piece to piece.
        assert got[1] == pytest.approx(got[0], abs=1e-6 if alpha < 0.1 else 0.15 * np.abs(got[0]).max())


def test_a_centre_section_and_outer_panels_are_one_wing():
    edge = [[0.0, 0.0, 0.0], [0.0, 0.3, 0.0], [0.05, 0.5, 0.1]]
    one = Surface.from_stations("w", "wing", edge, [0.2, 0.2, 0.1], spanwise=24)
    inner = Surface.from_stations("i", "wing", edge[:2], [0.2, 0.2], spanwise=14)
    outer = Surface.from_stations("o", "wing", edge[1:], [0.2, 0.1], spanwise=10)
    for beta in (0.0, 0.1):
        whole = solve([one], 0.05, beta)
        pieces = solve([inner, outer], 0.05, beta, reference=whole.reference)
        assert pieces.force_n == pytest.approx(whole.force_n, rel=0.003, abs=1e-3)
        assert pieces.moment_nm == pytest.approx(whole.moment_nm, rel=0.003, abs=1e-3)


def test_a_fin_below_turns_as_one_above():
    """Incidence turns the nose to port and the rudder to starboard, whether the fin stands or hangs."""
    rudder = (Control(name="r", kind="rudder", hinge_fraction=0.5),)
    up, down = (
        Surface.trapezoid(0.2, 0.15, 0.1, 20.0, d, 5.0, at_m=(0.5, 0, 0), mirrored=False, controls=rudder)
        for d in (90.0, -90.0)
    )
    for turned in ({}, {"r": 0.3}):
        one, two = (solve([f], 0.0, deflections_rad=turned) for f in (up, down))
        assert two.yawing_moment_coefficient == pytest.approx(one.yawing_moment_coefficient)
        assert two.rolling_moment_coefficient == pytest.approx(-one.rolling_moment_coefficient)
        assert one.yawing_moment_coefficient > 0.0  # both push the tail to port
        models = [AirModel(Layout(surfaces=(f,))) for f in (up, down)]
        yaws = [coefficients_at(m, Condition(deflections_rad=turned)).yaw for m in models]
        assert yaws[1] == pytest.approx(yaws[0])
        assert yaws[0] > 0.0


@pytest.mark.parametrize(
    ("start", "stop"), [(0.0, 0.01), (0.45, 0.46), (0.99, 1.0), (0.992, 0.996), (0.2, 0.7)]
)
def test_the_shortest_control_acts_its_own_way(start, stop):
    control = (Control(name="flap", kind="flap", hinge_fraction=0.7, from_eta=start, to_eta=stop),)
    whole = solve([wing(controls=FLAP)], 0.0, deflections_rad={"flap": 0.1}).lift_coefficient
    part = solve([wing(controls=control)], 0.0, deflections_rad={"flap": 0.1}).lift_coefficient
    assert 0.2 * (stop - start) < part / whole < 1.3 * (stop - start)


def test_parts_of_a_control_add_up():
    """Inner and outer flap together are the flap, wherever the cut falls against the strips."""
    whole = solve([wing(controls=FLAP)], 0.0, deflections_rad={"flap": 0.1}).lift_coefficient
    for cut in (0.1, 0.333, 0.5, 0.97, 0.995):
        pair = (
            Control(name="in", kind="flap", hinge_fraction=0.7, to_eta=cut),
            Control(name="out", kind="flap", hinge_fraction=0.7, from_eta=cut),
        )
        both = solve([wing(controls=pair)], 0.0, deflections_rad={"in": 0.1, "out": 0.1}).lift_coefficient
        assert both == pytest.approx(whole, rel=0.005)


def test_lift_by_position_and_by_name():
    loads = solve([wing(name="main"), tail()], 0.05)
    assert loads.surface_names == ("main", "tail")
    assert loads.lift_of_n("tail") == loads.surface_lift_n[1]
    with pytest.raises(GeometryError, match="0 surfaces are named 'fin'; there is main, tail"):
        loads.lift_of_n("fin")
    with pytest.raises(GeometryError, match="2 surfaces are named 'wing'"):
        solve([wing(), wing(at_m=(0, 0, 0.3))], 0.05).lift_of_n("wing")


def test_a_sheet_that_does_not_lift_has_no_span_efficiency():
    assert math.isnan(solve([wing()], 0.0).span_efficiency)


@pytest.mark.parametrize(
    "reference",
    [
        None,
        (0.2, 0.2),
        [0.2, 0.2, 1.0],
        np.array([0.2, 0.2, 1.0]),
        Reference(area_m2=0.2, chord_m=0.2, span_m=1.0),
    ],
)
def test_every_way_to_state_a_reference(reference):
    loads = solve([wing()], 0.05, 0.1, reference=reference)
    assert loads.lift_coefficient == pytest.approx(solve([wing()], 0.05, 0.1).lift_coefficient)
    assert loads.rolling_moment_coefficient == pytest.approx(
        solve([wing()], 0.05, 0.1).rolling_moment_coefficient
    )


def test_wild_but_possible_layouts_are_finite():
    """Steep angles, crossed sheets, fins through wings, swept either way: finite, and nothing but our own errors."""
    rng = np.random.default_rng(7)
    answered = 0
    for _ in range(60):
        surfaces = _some(rng)
        try:
            loads = solve(
                surfaces,
                float(rng.uniform(-1.5, 1.5)),
                float(rng.uniform(-1.5, 1.5)),
                rates_rad_s=tuple(rng.uniform(-5, 5, 3)),
                about_m=tuple(rng.uniform(-100, 100, 3)),
            )
        except SheetlarkError:
            continue
        answered += 1
        assert np.isfinite([*loads.force_n, *loads.moment_nm, *loads.surface_lift_n]).all()
    assert answered > 50


def _some(rng: np.random.Generator) -> list[Surface]:
    out = []
    for _ in range(int(rng.integers(1, 4))):
        mirrored = bool(rng.integers(2))
        out.append(
            Surface.trapezoid(
                float(rng.uniform(0.1, 2.0)),
                float(rng.uniform(0.02, 0.5)),
                float(rng.choice([0.0, 0.1, 0.3])),
                float(rng.uniform(-70, 70)),
                float(rng.choice([-30, 0, 5, 45]) if mirrored else rng.choice([-90, -30, 0, 45, 90, 180])),
                float(rng.uniform(-20, 20)),
                at_m=(float(rng.choice([-0.3, 0.0, 0.4])), 0.0, float(rng.choice([0.0, 0.1]))),
                mirrored=mirrored,
                spanwise=int(rng.integers(1, 7)),
                chordwise=int(rng.integers(1, 5)),
            )
        )
    return out
