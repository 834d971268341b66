"""Gusts against the Dryden spectra of MIL-F-8785C, 3.7.2 (from memory), which they are made from by filters in time."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from sheetlark.flight import gusts, low_altitude

pytestmark = [pytest.mark.published, pytest.mark.xdist_group("gusts")]  # one long record serves all
SOURCE = "MIL-F-8785C, 1980, 3.7.2.2, Dryden form"


@pytest.fixture(scope="module")
def record():
    turbulence = low_altitude(4.0, 20.0)
    return turbulence, gusts(turbulence, speed_ms=10.0, span_m=0.9, seconds=250_000.0, step_s=0.05, seed=11)


def test_scales(record_error):
    """At 100 ft and 20 kn: sigma_w 2 kn; scale and strength by the printed formulas, worked by hand in feet."""
    knot, foot = 1852 / 3600, 0.3048
    found = low_altitude(20 * knot, 100 * foot)
    base = 0.177 + 0.000823 * 100
    record_error(
        case="gust strength and scale at 100 ft",
        got=[found.sigma_w_ms, found.sigma_u_ms, found.length_u_m, found.length_w_m],
        published=[2 * knot, 2 * knot / base**0.4, 100 / base**1.2 * foot, 100 * foot],
        tolerance=1e-9,
        source="MIL-F-8785C, 1980, 3.7.3.4",
    )


@pytest.mark.parametrize("axis", ["u", "v", "w"])
def test_spectrum(record_error, record, axis):
    from scipy.signal import welch

    turbulence, made = record
    values = getattr(made, f"{axis}_ms")
    frequency, power = welch(values, fs=1 / made.step_s, nperseg=16384)
    omega = 2 * np.pi * frequency
    formula = getattr(turbulence, f"spectrum_{axis}")(omega, 10.0) * 2 * np.pi
    # thirds of an octave from the largest gusts of 60 s to a tenth of the sampling rate (above, samples alias)
    edges = np.geomspace(0.1, 6.0, 13)
    ratio = [
        power[(omega >= a) & (omega < b)].mean() / formula[(omega >= a) & (omega < b)].mean()
        for a, b in itertools.pairwise(edges)
    ]
    record_error(
        case=f"gust spectrum, {axis}, twelve bands",
        got=ratio,
        published=np.ones(12),
        tolerance=0.08,
        source=SOURCE,
    )
    sigma = getattr(turbulence, f"sigma_{axis}_ms")
    record_error(
        case=f"gust strength, {axis}", got=values.std(), published=sigma, tolerance=0.02, source=SOURCE
    )


def test_formula_integrates_to_variance(record_error):
    from scipy.integrate import quad

    turbulence = low_altitude(3.0, 15.0)
    for axis in "uvw":
        spectrum = getattr(turbulence, f"spectrum_{axis}")
        total = quad(lambda w, s=spectrum: float(s(np.array(w), 10.0)), 0, np.inf, limit=200)[0]
        record_error(
            case=f"integral of the spectrum, {axis}",
            got=total,
            published=getattr(turbulence, f"sigma_{axis}_ms") ** 2,
            tolerance=1e-6,
            source=SOURCE,
        )
