"""Unrolled sheet against the closed forms of the cylinder and the cone.

Source: I. N. Bronshtein, K. A. Semendyayev, Handbook of Mathematics, the chapter on solids: the cylinder's mantle
is 2 pi r h; the frustum's is pi s (R + r), s its slant height; a cone's mantle unrolls into a sector of radius s
and arc 2 pi r. (Formulas from memory of the handbook; they follow from the definitions.)
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from sheetlark.outline import signed_area
from sheetlark.parts.bending import arc_length, arc_points, ruled

SOURCE = "Bronshtein and Semendyayev, Handbook of Mathematics, solids: mantle of cylinder and frustum"

pytestmark = pytest.mark.published


def rings(r0, r1, height, angle, facets):
    """Facet corners of two facing arcs of a right circular cone, drawn so that each is as long as its arc."""
    step = angle / facets
    out = (step / 2) / math.sin(step / 2)
    t = np.linspace(-angle / 2, angle / 2, facets + 1)
    return tuple(
        np.column_stack([np.full_like(t, x), out * r * np.sin(t), out * r * np.cos(t)])
        for r, x in ((r0, 0.0), (r1, height))
    )


def test_cylinder(record_error):
    radius, length = 41.5, 64.0
    outline, _, rulings = ruled(*rings(radius, radius, length, 2 * math.pi, 24))
    record_error(
        case="cylinder unrolled: girth",
        got=float(np.linalg.norm(np.diff(rulings[:, 0], axis=0), axis=1).sum()),
        published=2 * math.pi * radius,
        tolerance=0.01,  # mm; a builder cuts to 0.5
        source=SOURCE,
        relative=False,
    )
    record_error(
        case="cylinder unrolled: mantle",
        got=abs(signed_area(outline)),
        published=2 * math.pi * radius * length,
        tolerance=1e-6,
        source=SOURCE,
    )


@pytest.mark.parametrize(
    ("r0", "r1", "height"), [(40.0, 25.0, 90.0), (63.0, 34.0, 185.0), (30.0, 28.0, 40.0)]
)
def test_frustum(record_error, r0, r1, height):
    angle = math.radians(76.0)
    outline, _, rulings = ruled(*rings(r0, r1, height, angle, 12))
    slant = math.hypot(height, r0 - r1)
    record_error(
        case=f"frustum {r0:.0f}/{r1:.0f}/{height:.0f}: both unrolled arcs",
        got=[float(np.linalg.norm(np.diff(rulings[:, k], axis=0), axis=1).sum()) for k in (0, 1)],
        published=[r0 * angle, r1 * angle],
        tolerance=0.01,
        source=SOURCE,
        relative=False,
    )
    record_error(
        case=f"frustum {r0:.0f}/{r1:.0f}/{height:.0f}: slant height of its rulings",
        got=np.linalg.norm(rulings[:, 1] - rulings[:, 0], axis=1),
        published=np.full(13, slant),
        tolerance=0.1,  # the facets stand up to 0.03 mm outside the cone
        source=SOURCE,
        relative=False,
    )
    record_error(
        case=f"frustum {r0:.0f}/{r1:.0f}/{height:.0f}: mantle",
        got=abs(signed_area(outline)),
        published=angle / 2 * slant * (r0 + r1),
        tolerance=5e-4,
        source=SOURCE,
    )


def test_frustum_sector_angle(record_error):
    r0, r1, height, angle = 63.0, 34.0, 185.0, math.radians(76.0)
    _, _, rulings = ruled(*rings(r0, r1, height, angle, 12))
    first, last = rulings[0, 1] - rulings[0, 0], rulings[-1, 1] - rulings[-1, 0]
    turned = math.acos(float(first @ last) / float(np.linalg.norm(first) * np.linalg.norm(last)))
    record_error(
        case="frustum 63/34/185: angle of the unrolled sector",
        got=turned,
        published=angle * (r0 - r1) / math.hypot(height, r0 - r1),
        tolerance=2e-3,
        source=SOURCE,
    )


def test_arc_over_a_chord(record_error):
    """Half round: chord 2 r, height r; and the flat limit, chord c(1 + 8/3 (h/c)^2)."""
    record_error(
        case="arc over its chord: half circle, and Huygens' flat limit",
        got=[arc_length(80.0, 40.0), arc_length(100.0, 1.0)],
        published=[math.pi * 40.0, 100.0 * (1 + 8 / 3 * 0.01**2)],
        tolerance=1e-6,
        source=SOURCE,
    )
    points = arc_points(80.0, 40.0, 12)
    record_error(
        case="half-round deck in 12 facets: unrolled width",
        got=float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum()),
        published=math.pi * 40.0,
        tolerance=0.1,
        source=SOURCE,
        relative=False,
    )
