from __future__ import annotations

import math

import numpy as np
import pytest

from sheetlark.air import Control, Reference, Section, Surface, reference_of
from sheetlark.errors import GeometryError


def test_trapezoid_places_its_corners():
    wing = Surface.trapezoid(1.0, 0.2, 0.1, sweep_deg=30.0, dihedral_deg=5.0, at_m=(0.1, 0.0, 0.02))
    root, tip = wing.leading_edge_m
    assert root == pytest.approx((0.1, 0.0, 0.02))
    assert tip == pytest.approx(
        (0.1 + 0.5 * math.tan(math.radians(30)), 0.5, 0.02 + 0.5 * math.tan(math.radians(5)))
    )
    assert wing.area_m2 == pytest.approx(0.15)
    assert wing.aspect_ratio == pytest.approx(1.0 / 0.15)


def test_single_surface_stands_up():
    fin = Surface.trapezoid(0.2, 0.15, 0.1, dihedral_deg=90.0, mirrored=False)
    assert fin.role == "fin"
    assert fin.upright
    assert fin.leading_edge_m[1] == pytest.approx((0.0, 0.0, 0.2), abs=1e-12)
    assert fin.span_m == pytest.approx(0.2)
    assert fin.area_m2 == pytest.approx(0.025)


def test_mean_chord_of_a_taper_is_the_closed_form():
    """Two thirds of the root chord times (1 + t + t²)/(1 + t), a third of the way by areas."""
    taper = 0.4
    wing = Surface.trapezoid(1.2, 0.25, 0.25 * taper, sweep_deg=20.0)
    chord, edge = wing.mean_chord()
    assert chord == pytest.approx(2 / 3 * 0.25 * (1 + taper + taper**2) / (1 + taper))
    y = 0.6 / 3 * (1 + 2 * taper) / (1 + taper)
    assert edge[1] == pytest.approx(y)
    assert edge[0] == pytest.approx(y * math.tan(math.radians(20)))


def test_reference_takes_all_wings_together():
    lower = Surface.trapezoid(1.0, 0.2, 0.2, name="lower")
    upper = Surface.trapezoid(1.2, 0.2, 0.2, at_m=(-0.1, 0.0, 0.2), name="upper")
    tail = Surface.trapezoid(0.4, 0.1, 0.1, at_m=(0.6, 0.0, 0.0), role="tail")
    ref = reference_of([lower, upper, tail])
    assert ref.area_m2 == pytest.approx(0.44)
    assert ref.span_m == pytest.approx(1.2)
    assert ref.leading_edge_m[0] == pytest.approx(-0.1 * 0.24 / 0.44)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: Surface.trapezoid(-1.0, 0.2, 0.2), "span must be positive and finite, got -1 m"),
        (lambda: Surface.trapezoid(1.0, 0.2, -0.1), "chords must not be negative"),
        (lambda: Surface.trapezoid(1.0, 0.2, 0.2, dihedral_deg=90.0), "state a fin with mirrored=False"),
        (lambda: Surface.trapezoid(1.0, 0.2, 0.2, sweep_deg=90.0), "below 85 deg, got 90"),
        (lambda: Surface.from_stations("w", "wing", [[0, 0, 0], [0, 0, 0]], [1, 1]), "two of them coincide"),
        (
            lambda: Surface.from_stations("w", "wing", [[0, 0, 0], [0, 1, 0]], [1, 1, 1]),
            "need at least two stations",
        ),
        (lambda: Surface.from_stations("w", "wing", [[0, 0, 0], [0, -1, 0]], [1, 1]), "starboard half"),
        (lambda: Surface.from_stations("w", "wing", [[0, 0, 0], [0, np.nan, 0]], [1, 1]), "finite number"),
        (lambda: Surface.trapezoid(1.0, 0.2, 0.2, spanwise=0), "at least 1 panel each way"),
        (lambda: Control(name="e", kind="elevator", hinge_fraction=1.2), "between 0 and 0.98"),
        (
            lambda: Control(name="e", kind="elevator", hinge_fraction=0.7, from_eta=0.8, to_eta=0.4),
            "run outwards",
        ),
        (lambda: Section(thickness_ratio=0.0), "above 0 and at most 0.2"),
        (lambda: Section(camber_ratio=0.3), "within 0.15"),
        (lambda: Section(camber_at=0.0), "0.05 to 0.95"),
        (lambda: Reference(area_m2=0.0, chord_m=1.0, span_m=1.0), "area_m2 must be positive"),
        (lambda: reference_of([]), "at least one surface"),
    ],
)
def test_impossible_shapes_are_refused(call, words):
    with pytest.raises(GeometryError, match=words):
        call()


def test_arrays_are_its_own_and_frozen():
    edge = np.array([[0.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    wing = Surface.from_stations("w", "wing", edge, [1.0, 1.0])
    edge[0, 0] = 9.0
    assert wing.leading_edge_m[0, 0] == 0.0
    with pytest.raises(ValueError, match="read-only"):
        wing.chord_m[0] = 2.0
