"""Modes against a textbook's light aeroplanes.

R. C. Nelson, "Flight Stability and Automatic Control", 2nd ed., 1998: examples 4.3 and 5.3 (the printed matrices of pp.
158 and 199 read; coefficients and roots from memory, confirmed by the matrices). The spiral root is a small
difference of large numbers: one per cent in Cn_beta moves it by several.
A public teaching example of a PA-28-180 at 50 m/s (dimensional derivatives).
"""

from __future__ import annotations

import numpy as np
import pytest

from sheetlark.flight import (
    FlightState,
    LinearModel,
    MassProperties,
    Reference,
    StabilityDerivatives,
    lanchester_phugoid,
    linear_model,
    named_modes,
)

pytestmark = pytest.mark.published

FOOT, POUND, SLUG_FT2 = 0.3048, 0.45359237, 1.3558179483
NELSON = "Nelson, Flight Stability and Automatic Control, 2nd ed., 1998, examples 4.3 and 5.3"


def navion() -> LinearModel:
    derivatives = StabilityDerivatives(
        CL=0.41, CD=0.05, CL_alpha=4.44, CD_alpha=0.33, Cm_alpha=-0.683, Cm_adot=-4.36, CL_q=3.8, Cm_q=-9.96,
        CL_de=0.355, Cm_de=-0.923, CY_beta=-0.564, Cl_beta=-0.074, Cn_beta=0.071, Cl_p=-0.410, Cn_p=-0.0575,
        Cl_r=0.107, Cn_r=-0.125, CY_dr=0.157, Cn_dr=-0.072,
    )  # fmt: skip
    gravity = 32.2 * FOOT
    mass = MassProperties(
        mass_kg=2750 / 32.2 * 14.59390294,
        ixx_kg_m2=1048 * SLUG_FT2,
        iyy_kg_m2=3000 * SLUG_FT2,
        izz_kg_m2=3530 * SLUG_FT2,
    )
    reference = Reference(area_m2=184 * FOOT**2, chord_m=5.7 * FOOT, span_m=33.4 * FOOT)
    state = FlightState(
        speed_ms=176 * FOOT, density_kg_m3=0.002378 * 14.59390294 / FOOT**3, gravity_ms2=gravity
    )
    return linear_model(derivatives, mass, reference, state)


def roots(model: LinearModel) -> dict[str, complex]:
    return {mode.name: complex(mode.real, mode.imag) for mode in named_modes(model)}


def from_matrices(lengthwise: list[list[float]], sideways: list[list[float]], speed: float) -> LinearModel:
    return LinearModel(
        speed_ms=speed,
        lengthwise=np.array(lengthwise),
        elevator=np.zeros(4),
        sideways=np.array(sideways),
        aileron=np.zeros(4),
        rudder=np.zeros(4),
    )


@pytest.mark.parametrize(
    ("name", "printed", "tolerance"),
    [
        ("short period", -2.4895 + 2.5978j, 0.02),
        ("phugoid", -0.01705 + 0.21354j, 0.02),
        ("Dutch roll", -0.4862 + 2.3336j, 0.02),
        ("roll", -8.4328, 0.01),
        ("spiral", -0.00891, 0.15),
    ],
)
def test_navion_from_coefficients(record_error, name, printed, tolerance):
    found = roots(navion())[name]
    record_error(
        case=f"light aeroplane, {name}, from coefficients (error of the root over its size)",
        got=abs(found - printed) / abs(printed),
        published=0.0,
        tolerance=tolerance,
        source=NELSON,
        relative=False,
    )


@pytest.mark.parametrize(
    ("name", "printed", "tolerance"),
    [
        ("short period", -2.5 + 2.59j, 0.01),
        ("phugoid", -0.0171 + 0.213j, 0.005),
        ("Dutch roll", -0.487 + 2.335j, 0.002),
        ("roll", -8.435, 0.001),
        ("spiral", -0.00877, 0.02),
    ],
)
def test_navion_from_printed_matrix(record_error, name, printed, tolerance):
    model = from_matrices(
        [[-0.045, 0.036, 0, -32.2], [-0.369, -2.02, 176, 0], [0.0019, -0.0396, -2.948, 0], [0, 0, 1, 0]],
        [[-0.254, 0, -1.0, 0.182], [-16.02, -8.40, 2.19, 0], [4.488, -0.350, -0.760, 0], [0, 1, 0, 0]],
        176.0,
    )
    found = roots(model)[name]
    record_error(
        case=f"light aeroplane, {name}, from the printed matrix",
        got=abs(found - printed) / abs(printed),
        published=0.0,
        tolerance=tolerance,
        source=NELSON,
        relative=False,
    )


def test_rebuilt_matrix_is_the_printed_one(record_error):
    """The two blocks in the book's units: speeds in ft/s, sideslip as an angle."""
    model = navion()
    scale = np.array([FOOT, FOOT, 1.0, 1.0])
    lengthwise = model.lengthwise * scale[None, :] / scale[:, None]
    printed = np.array(
        [[-0.045, 0.036, 0, -32.2], [-0.369, -2.02, 176, 0], [0.0019, -0.0396, -2.948, 0], [0, 0, 1, 0]]
    )
    # Zq is left out of the printed matrix (it is small beside the speed); the rest is compared
    big = np.abs(printed) > 0.0
    big[1, 2] = False
    record_error(
        case="light aeroplane, lengthwise matrix",
        got=lengthwise[big],
        published=printed[big],
        tolerance=0.05,
        source=NELSON,
    )
    scale = np.array([model.speed_ms, 1.0, 1.0, 1.0])
    sideways = model.sideways * scale[None, :] / scale[:, None]
    printed = np.array(
        [[-0.254, 0, -1.0, 0.182], [-16.02, -8.40, 2.19, 0], [4.488, -0.350, -0.760, 0], [0, 1, 0, 0]]
    )
    big = np.abs(printed) > 0.0
    record_error(
        case="light aeroplane, sideways matrix",
        got=sideways[big],
        published=printed[big],
        tolerance=0.015,
        source=NELSON,
    )


def test_teaching_example(record_error):
    U, g = 50.0, 9.80665
    Mwdot = -0.0197
    row = np.array([-0.396, -1.729, U, 0.0])
    pitch = np.array([0.0, -0.2772, -2.207, 0.0]) + Mwdot * row
    model = from_matrices(
        [[-0.06728, 0.02323, 0, -g], row.tolist(), pitch.tolist(), [0, 0, 1, 0]],
        [[-0.1444, 0, -U, g], [-0.1166, -2.283, 1.053, 0], [0.174, -1.732, -1.029, 0], [0, 1, 0, 0]],
        U,
    )
    found = roots(model)
    for name, value in {
        "short period": -2.4663 + 3.4056j,
        "phugoid": -0.02788 + 0.24517j,
        "Dutch roll": -0.3468 + 3.3718j,
        "roll": -2.782,
        "spiral": 0.0194,
    }.items():
        record_error(
            case=f"teaching example, {name}",
            got=abs(found[name] - value) / abs(value),
            published=0.0,
            tolerance=0.002,
            source="public teaching example, PA-28-180 at 50 m/s; roots computed from its derivatives",
            relative=False,
        )


def test_phugoid_against_lanchester(record_error):
    """Lanchester leaves out the turning of the nose; the full model of the light aeroplane lies within a quarter."""
    full = {mode.name: mode for mode in named_modes(navion())}["phugoid"]
    simple = lanchester_phugoid(176 * FOOT, 0.41 / 0.05, 32.2 * FOOT)
    record_error(
        case="phugoid of a light aeroplane, full model over Lanchester",
        got=full.natural_frequency_rad_s,
        published=simple.natural_frequency_rad_s,
        tolerance=0.25,
        source="F. W. Lanchester, Aerodonetics, 1908 (√2 g/V)",
    )


def test_phugoid_tends_to_lanchester(record_error):
    """His assumption is constant incidence: with a very stiff, quick pitching motion the full model must be his."""
    derivatives = StabilityDerivatives(
        CL=0.4, CD=0.02, CL_alpha=5.0, CD_alpha=0.0, Cm_alpha=-400.0, CL_q=0.0, Cm_q=-100.0
    )
    mass = MassProperties(mass_kg=1.0, ixx_kg_m2=0.1, iyy_kg_m2=0.001, izz_kg_m2=0.1)
    area = 0.25
    speed = (2 * 9.80665 / (1.225 * area * 0.4)) ** 0.5
    # damping in pitch against a turning path must be small beside the stiffness
    mode = {
        m.name: m
        for m in named_modes(
            linear_model(
                derivatives,
                mass,
                Reference(area_m2=area, chord_m=0.02, span_m=1.0),
                FlightState(speed_ms=speed),
            )
        )
    }["phugoid"]
    simple = lanchester_phugoid(speed, 20.0)
    record_error(
        case="phugoid at constant incidence, natural frequency",
        got=mode.natural_frequency_rad_s,
        published=simple.natural_frequency_rad_s,
        tolerance=0.005,
        source="F. W. Lanchester, Aerodonetics, 1908",
    )
    record_error(
        case="phugoid at constant incidence, damping ratio",
        got=mode.damping_ratio,
        published=simple.damping_ratio,
        tolerance=0.05,
        source="Nelson 1998, eq. 4.60 (from memory)",
    )
