"""How sure a figure is: spread carried through a computation, and words for a probability.

References
----------
.. [1] M. D. Mastrandrea et al., "Guidance Note for Lead Authors of the IPCC Fifth Assessment Report on Consistent
   Treatment of Uncertainties", 2010, table 1: the words and bands (from memory).
.. [2] JCGM 100:2008, "Guide to the expression of uncertainty in measurement", 5.1: linear propagation.
.. [3] JCGM 101:2008, its supplement 1: propagation by draws.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from sheetlark.errors import SolveError

Floats: TypeAlias = npt.NDArray[np.float64]

# Lower ends of the bands: [1]_ of the module; "even chance" is its "about as likely as not".
BANDS: tuple[tuple[float, str], ...] = (
    (0.90, "very likely"),
    (0.66, "likely"),
    (0.33, "even chance"),
    (0.10, "unlikely"),
    (0.0, "very unlikely"),
)


def likelihood(probability: float) -> str:
    """A probability in words, with its number: "likely (78 %)".

    Very likely from 90 %, likely from 66 %, even chance from 33 %, unlikely from 10 %, else very unlikely.

    Raises
    ------
    SolveError
        If it is not between 0 and 1.
    """
    if not 0.0 <= probability <= 1.0:
        raise SolveError(f"a probability lies between 0 and 1, got {probability:g}")
    word = next(name for low, name in BANDS if probability >= low)
    percent = 100.0 * probability
    shown = "> 99 %" if percent > 99.0 else "< 1 %" if percent < 1.0 else f"{percent:.0f} %"
    return f"{word} ({shown})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """A figure with its standard deviation, taken as normal."""

    mean: float
    deviation: float

    def probability_below(self, limit: float) -> float:
        """Chance that the figure is below a limit."""
        if self.deviation == 0.0:
            return 0.5 if self.mean == limit else float(self.mean < limit)
        return 0.5 * math.erfc((self.mean - limit) / (self.deviation * math.sqrt(2.0)))

    def probability_above(self, limit: float) -> float:
        """Chance that the figure is above a limit."""
        return 1.0 - self.probability_below(limit)

    def probability_between(self, low: float, high: float) -> float:
        """Chance that it lies inside a range."""
        return max(0.0, self.probability_below(high) - self.probability_below(low))


def propagated(figures: Callable[[Floats], Floats], mean: Floats, deviation: Floats) -> tuple[Spread, ...]:
    """Spread of each figure by its slopes, for independent inputs ([2]_ of the module).

    Parameters
    ----------
    figures : callable
        Inputs of shape (k,) to figures of shape (m,).
    mean, deviation : shape (k,)
        Of the inputs. Inputs without spread cost nothing.

    Notes
    -----
    Slopes are central differences over one deviation each way, so a mild bend is averaged and not followed.
    """
    centre = np.asarray(figures(mean), dtype=np.float64)
    variance = np.zeros_like(centre)
    for k in np.flatnonzero(deviation > 0.0):
        step = np.zeros_like(mean)
        step[k] = deviation[k]
        change = (np.asarray(figures(mean + step)) - np.asarray(figures(mean - step))) / 2.0
        variance += change**2
    return tuple(
        Spread(mean=float(value), deviation=float(width))
        for value, width in zip(centre, np.sqrt(variance), strict=True)
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draws:
    """Figures of many made models.

    values : shape (draws, m); a draw that has no answer is not a number. answered : share that has one.
    """

    values: Floats
    answered: float

    def spread(self, figure: int) -> Spread:
        """Mean and deviation of one figure over the draws that have an answer."""
        column = self.values[:, figure]
        column = column[np.isfinite(column)]
        return Spread(mean=float(column.mean()), deviation=float(column.std(ddof=1)))

    def quantile(self, figure: int, share: float) -> float:
        """Value that this share of the draws stays below."""
        column = self.values[:, figure]
        return float(np.quantile(column[np.isfinite(column)], share))

    def probability_below(self, figure: int, limit: float) -> float:
        """Share of the draws below a limit; a draw without an answer counts as not below."""
        return float(np.mean(np.nan_to_num(self.values[:, figure], nan=math.inf) < limit))


def drawn(
    figures: Callable[[Floats], Floats],
    mean: Floats,
    deviation: Floats,
    *,
    draws: int = 1000,
    seed: int = 0,
) -> Draws:
    """Figures of models with inputs drawn at random, independent and normal ([3]_ of the module).

    A draw for which ``figures`` raises :class:`SolveError` has no answer.

    Raises
    ------
    SolveError
        If fewer than two draws are asked for, or none has an answer.
    """
    if draws < 2:
        raise SolveError(f"a spread needs two or more draws, got {draws}")
    inputs = mean + deviation * np.random.default_rng(seed).standard_normal((draws, mean.size))
    rows: list[Floats | None] = []
    for row in inputs:
        try:
            rows.append(np.asarray(figures(row), dtype=np.float64))
        except SolveError:
            rows.append(None)
    width = next((row.size for row in rows if row is not None), 0)
    if width == 0:
        raise SolveError(
            f"none of {draws} draws has an answer; the nominal model is too near a limit or past it"
        )
    values = np.full((draws, width), np.nan)
    for k, found in enumerate(rows):
        if found is not None:
            values[k] = found
    return Draws(values=values, answered=sum(row is not None for row in rows) / draws)
