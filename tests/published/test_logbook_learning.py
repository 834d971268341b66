"""Conjugate updates against worked examples of the textbook they come from.

A. Gelman, J. B. Carlin, H. S. Stern, D. B. Dunson, A. Vehtari, D. B. Rubin, "Bayesian Data Analysis", 3rd ed., CRC Press,
2013, section 3.2, "Estimating the speed of light": 66 measurements by Simon Newcomb with mean 26.2 and standard
deviation 10.8; with a noninformative prior the central 95 % posterior interval of the mean is printed as
[23.6, 28.8] (figures from memory; the section's own formula, mean ± 1.997 s/√66, gives the same).
"""

from __future__ import annotations

import numpy as np
import pytest

from sheetlark.logbook import Belief, normal_after

SOURCE = "Gelman et al., Bayesian Data Analysis, 3rd ed., 2013"


def with_moments(n: int, mean: float, deviation: float) -> np.ndarray:
    """Data of a given size, mean and sample standard deviation (the update sees nothing else of them)."""
    raw = np.random.default_rng(1).normal(size=n)
    raw = (raw - raw.mean()) / raw.std(ddof=1)
    return mean + deviation * raw


@pytest.mark.published
def test_speed_of_light_interval(record_error):
    flat = Belief(mean=0.0, count=1e-9, scale=1e-9, freedom=-1.0)  # p(mu, sigma²) as 1/sigma²
    after = flat.after(with_moments(66, 26.2, 10.8))
    record_error(
        case="95 % interval of a mean, variance unknown",
        got=after.interval(0.95),
        published=[23.6, 28.8],
        tolerance=0.06,  # the ends are printed to 0.05, and so are the mean and deviation they come from
        source=f"{SOURCE}, section 3.2",
        relative=False,
    )


@pytest.mark.published
def test_conjugate_prior_counts(record_error):
    """Section 3.3: with prior N-Inv-chi²(mu0, s0²/k0; n0, s0²) the posterior parameters in closed form."""
    mu0, k0, s0, n0 = 1.0, 2.0, 0.08, 4.0
    y = np.array([1.12, 1.05, 1.21])
    n, mean, s2 = 3, y.mean(), y.var(ddof=1)
    after = Belief(mean=mu0, count=k0, scale=s0, freedom=n0).after(y)
    closed = [
        k0 / (k0 + n) * mu0 + n / (k0 + n) * mean,
        k0 + n,
        n0 + n,
        (n0 * s0**2 + (n - 1) * s2 + k0 * n / (k0 + n) * (mean - mu0) ** 2) / (n0 + n),
    ]
    record_error(
        case="normal-inverse-chi-squared update, four parameters",
        got=[after.mean, after.count, after.freedom, after.scale**2],
        published=closed,
        tolerance=1e-12,
        source=f"{SOURCE}, section 3.3, equations for mu_n, kappa_n, nu_n, sigma_n²",
    )


@pytest.mark.published
def test_known_variance(record_error):
    """Section 2.5: posterior mean and variance of a normal mean from n data of known variance."""
    mu0, t0, sigma = 100.0, 15.0, 10.0
    y = np.array([112.0, 96.0, 121.0, 108.0])
    mean, spread = normal_after(mu0, t0, y, np.full(4, sigma))
    precision = 1 / t0**2 + 4 / sigma**2
    record_error(
        case="normal mean, variance known",
        got=[mean, spread],
        published=[(mu0 / t0**2 + 4 / sigma**2 * y.mean()) / precision, precision**-0.5],
        tolerance=1e-12,
        source=f"{SOURCE}, section 2.5, equations for mu_n and tau_n",
    )
