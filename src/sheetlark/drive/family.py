"""What a family of measured propellers says of one that was not measured.

Words: the *advance ratio* J = V/(nD); the *pitch ratio* p = pitch over diameter; the *reduced advance* z =
J/(p + 0.13), near 1 where thrust ends, because a cambered blade gives none at about 4° below its chord and
2.36 tan 3.2° = 0.13 at three quarters of the radius; the *Reynolds measure* l = ln(nD²/ν/10⁵) - 1.

Thrust and power coefficients are gauge(p) times a short series in (z, l) whose coefficients c, six each, belong to
the propeller. Over the family, c is a Gaussian process in (style, p, D): styles share a trend, each has its own
offset and slope, and near sizes of one style resemble each other. What sizes and style do not explain is a
covariance of c from one propeller to the next: it gives the spread, and lets one measured point correct
the whole curve of thrust and power, because it says how they go together. Propellers of like pitch and of the same
style count most in it: a blade that is stalled standing still goes another way than one that is not.

Derived by scripts/derive_propellers.py from J. B. Brandt, R. W. Deters, G. K. Ananda, O. D. Dantsker, M. S.
Selig, UIUC Propeller Data Site, volumes 1 and 2, University of Illinois at Urbana-Champaign.

References
----------
.. [1] C. E. Rasmussen, C. K. I. Williams, "Gaussian Processes for Machine Learning", MIT Press, 2006, ch. 2.
.. [2] N. M. Laird, J. H. Ware, "Random-effects models for longitudinal data", Biometrics 38, 1982.
"""

from __future__ import annotations

import functools
import json
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sheetlark.errors import StockError

Floats = NDArray[np.float64]

TERMS = 6  # of each series
ZERO_LIFT_PITCH = 0.13
KINEMATIC_VISCOSITY_M2_S = 1.46e-5  # of the tunnel's air, about 15 °C
LEVELLING = ((-0.6, 1.0), (0.8, 0.3))  # where the Reynolds measure starts to level off, and over what length
PITCH_RATIO_RANGE = (0.25, 1.4)
DIAMETER_RANGE_M = (0.100, 0.320)
LIKE_PITCH = 0.2  # length in ln p over which propellers scatter alike; chosen by leaving propellers out
OTHER_STYLES_COUNT = 0.2  # of a propeller of another style in the scatter; likewise
MEASUREMENT_NOISE = 0.02  # of one tunnel point, relative; covers what the series cannot follow
FAMILY_FILE = Path(__file__).parent / "data" / "propeller_family.json"


def gauge(pitch_ratio: Floats | float) -> tuple[Floats, Floats]:
    """Typical static thrust and power coefficients by pitch ratio, which the series multiply."""
    p = np.asarray(pitch_ratio, dtype=np.float64)
    return 0.112 * (1.0 - np.exp(-((p / 0.38) ** 1.35))), 0.015 + 0.078 * p**1.5


def reduced_advance(advance_ratio: Floats, pitch_ratio: Floats | float) -> Floats:
    """Advance ratio over that of about zero thrust."""
    return np.asarray(advance_ratio / (np.asarray(pitch_ratio) + ZERO_LIFT_PITCH), dtype=np.float64)


def reynolds_measure(diameter_m: Floats | float, rpm: Floats | float) -> Floats:
    """Logarithm of nD²/ν, ln(nD²/ν/10⁵) - 1, levelling off outside what was measured.

    Most points lie from -0.6 to 0.8. Beyond, the measure goes on ever more slowly, to -1.6 and 1.1 at the ends: a
    blade's losses do not grow without limit as it slows down, nor vanish as it speeds up.
    """
    n = np.asarray(rpm, dtype=np.float64) / 60.0
    reynolds = n * np.asarray(diameter_m) ** 2 / KINEMATIC_VISCOSITY_M2_S
    plain = np.log(np.maximum(reynolds, 1.0) / 1e5) - 1.0
    (low, low_reach), (high, high_reach) = LEVELLING
    below = low - low_reach * -np.expm1(np.minimum(plain - low, 0.0) / low_reach)
    above = high + high_reach * -np.expm1(-np.maximum(plain - high, 0.0) / high_reach)
    return np.asarray(np.where(plain < low, below, np.where(plain > high, above, plain)), dtype=np.float64)


def series(z: Floats, measure: Floats) -> Floats:
    """The six terms at each point, shape (..., 6): 1, z, z², z³, l, lz."""
    return np.stack([np.ones_like(z), z, z**2, z**3, measure, measure * z], axis=-1)


def series_slopes(z: Floats, measure: Floats) -> Floats:
    """Derivative of each term by z, shape (..., 6)."""
    none = np.zeros_like(z)
    return np.stack([none, none + 1.0, 2 * z, 3 * z**2, none, measure + none], axis=-1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Closeness:
    """Strengths and lengths of the process, relative to the variance from one propeller to the next.

    trend, trend_slope, trend_curve, size : of the shared mean, its slope and curvature in ln p, its slope in ln D
    style, style_slope, style_near : of a style's offset, its slope in ln p, and what only near sizes share
    near_pitch, near_size : lengths in ln p and ln D over which sizes of one style resemble each other
    """

    trend: float = 100.0
    trend_slope: float = 200.0
    trend_curve: float = 40.0
    size: float = 0.1
    style: float = 1.0
    style_slope: float = 1.0
    style_near: float = 0.5
    near_pitch: float = 0.5
    near_size: float = 0.4

    def between(
        self,
        a: tuple[Floats, Floats, NDArray[np.int64]],
        b: tuple[Floats, Floats, NDArray[np.int64]],
    ) -> Floats:
        """Covariance factor of every propeller in ``a`` with every one in ``b``, each (p, D, style number)."""
        la, lb = np.log(a[0] / 0.65)[:, None], np.log(b[0] / 0.65)[None, :]
        da, db = np.log(a[1] / 0.2413)[:, None], np.log(b[1] / 0.2413)[None, :]
        same = a[2][:, None] == b[2][None, :]
        near = np.exp(-0.5 * (((la - lb) / self.near_pitch) ** 2 + ((da - db) / self.near_size) ** 2))
        shared = self.trend + self.trend_slope * la * lb + self.trend_curve * (la * lb) ** 2
        own = self.style + self.style_slope * la * lb + self.style_near * near
        return np.asarray(shared + self.size * da * db + same * own, dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Family:
    """The measured family, ready to be asked.

    styles : names, in the order of their numbers
    pitch_ratios, diameters_m, style_numbers : shape (m,)
    weights : shape (m,), residual variance of each propeller over the common one
    dual : shape (m, 12), what the process multiplies its closeness by
    precision : shape (m, m)
    scatter : shape (12, 12), covariance of c from one propeller to the next
    residuals : shape (m, 12), each propeller's own departure, over the root of its weight
    unseen : shape (12, 12), what of the scatter the residuals do not show, since their points are noisy
    """

    styles: tuple[str, ...]
    pitch_ratios: Floats
    diameters_m: Floats
    style_numbers: NDArray[np.int64]
    weights: Floats
    dual: Floats
    precision: Floats
    scatter: Floats
    residuals: Floats
    unseen: Floats
    closeness: Closeness

    @classmethod
    def of(
        cls,
        *,
        styles: tuple[str, ...],
        pitch_ratios: Floats,
        diameters_m: Floats,
        style_numbers: NDArray[np.int64],
        weights: Floats,
        coefficients: Floats,
        scatter: Floats,
        closeness: Closeness,
    ) -> Family:
        """Prepare a family from each propeller's coefficients, shape (m, 12)."""
        where = (pitch_ratios, diameters_m, style_numbers)
        precision = np.asarray(
            np.linalg.inv(closeness.between(where, where) + np.diag(weights)), dtype=np.float64
        )
        dual = precision @ coefficients
        residuals = dual * np.sqrt(weights)[:, None]
        value, direction = np.linalg.eigh(scatter - residuals.T @ residuals / weights.size)
        unseen = (direction * np.maximum(value, 0.0)) @ direction.T
        return cls(
            styles=styles,
            pitch_ratios=pitch_ratios,
            diameters_m=diameters_m,
            style_numbers=style_numbers,
            weights=weights,
            dual=dual,
            precision=precision,
            scatter=scatter,
            residuals=residuals,
            unseen=np.asarray(unseen, dtype=np.float64),
            closeness=closeness,
        )

    def number_of(self, style: str) -> int:
        """A style's number; `StockError` names the known ones for any other."""
        if style in self.styles:
            return self.styles.index(style)
        near = get_close_matches(style, self.styles, n=1)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise StockError(f"no blade style {style!r}; known are {', '.join(self.styles)}{hint}")

    def expect(self, *, pitch_ratio: float, diameter_m: float, style: str) -> tuple[Floats, Floats]:
        """Mean (12,) and covariance (12, 12) of a propeller's coefficients, from size and style alone.

        Sizes outside the range of the family are looked up at its edge, and their covariance widens with
        the square of how far outside they are.
        """
        number = np.array([self.number_of(style)])
        p = np.clip(np.array([pitch_ratio]), *PITCH_RATIO_RANGE)
        d = np.clip(np.array([diameter_m]), *DIAMETER_RANGE_M)
        here = (p, d, number)
        there = (self.pitch_ratios, self.diameters_m, self.style_numbers)
        towards = self.closeness.between(here, there)
        mean = (towards @ self.dual)[0]
        unknown = (self.closeness.between(here, here) - towards @ self.precision @ towards.T)[0, 0]
        outside = np.log(pitch_ratio / p[0]) ** 2 + np.log(diameter_m / d[0]) ** 2
        level = 0.5 * (mean[0] + mean[TERMS])
        size = level**2 + max(float(unknown), 0.0) + 4.0 * float(outside)
        return mean, size * self._scatter_near(float(p[0]), int(number[0]))

    def _scatter_near(self, pitch_ratio: float, style_number: int) -> Floats:
        """The scatter among propellers of like pitch and of this style, with a tenth of the whole family's."""
        weight = np.exp(-0.5 * (np.log(self.pitch_ratios / pitch_ratio) / LIKE_PITCH) ** 2)
        weight = weight * np.where(self.style_numbers == style_number, 1.0, OTHER_STYLES_COUNT)
        weight = weight / weight.sum()
        own = (self.residuals * weight[:, None]).T @ self.residuals + self.unseen
        return np.asarray(0.1 * self.scatter + 0.9 * own, dtype=np.float64)


@functools.lru_cache(maxsize=1)
def measured_family() -> Family:
    """The family that is supplied with Sheetlark."""
    stored: dict[str, Any] = json.loads(FAMILY_FILE.read_text(encoding="utf-8"))
    rows = stored["propellers"]
    styles = tuple(stored["styles"])
    return Family.of(
        styles=styles,
        pitch_ratios=np.array([row["pitch_ratio"] for row in rows]),
        diameters_m=np.array([row["diameter_m"] for row in rows]),
        style_numbers=np.array([styles.index(row["style"]) for row in rows]),
        weights=np.array([row["weight"] for row in rows]),
        coefficients=np.array([row["thrust"] + row["power"] for row in rows]),
        scatter=np.array(stored["scatter"]),
        closeness=Closeness(**stored["closeness"]),
    )
