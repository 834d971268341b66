"""Plain flap of a thin aerofoil: H. Glauert, ARC R&M 1095, 1927; table worked out separately by quadrature."""

from __future__ import annotations

import math

import pytest

from sheetlark.flight import flap_theory, hinge_moment

pytestmark = pytest.mark.published
SOURCE = "Glauert, R&M 1095, 1927, worked table"
TABLE = {
    0.15: (0.481, -0.607, -0.427, -0.903),
    0.20: (0.550, -0.640, -0.499, -0.923),
    0.25: (0.609, -0.650, -0.565, -0.944),
    0.30: (0.661, -0.642, -0.627, -0.965),
    0.40: (0.748, -0.588, -0.745, -1.013),
    0.50: (0.818, -0.500, -0.858, -1.066),
}


@pytest.mark.parametrize("ratio", TABLE)
def test_flap_table(record_error, ratio):
    found = flap_theory(ratio)
    got = (found.effectiveness, found.moment, found.hinge_by_alpha, found.hinge_by_flap)
    record_error(
        case=f"flap of {ratio:.2f} chord",
        got=got,
        published=TABLE[ratio],
        tolerance=0.0006,
        source=SOURCE,
        relative=False,
    )


def test_worked_hinge_moment(record_error):
    got = hinge_moment(
        flap_span_m=0.3, flap_chord_m=0.04, chord_ratio=0.25, airspeed_ms=15.0, throw_rad=math.radians(25)
    )
    record_error(
        case="hinge moment, 0.30 x 0.04 m flap, 25°, 15 m/s",
        got=-got,
        published=0.0272,
        tolerance=0.003,
        source=SOURCE,
    )
