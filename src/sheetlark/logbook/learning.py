"""What weighings teach about a person's own materials: conjugate updates with honest shrinkage.

For each batch of stock (a sheet, a glue, a tape, a motor's mass) one number is learned: its mass over what the
stock file says. From one model to the next it varies with a variance nobody knows, so mean and variance are
learned together: normal data with the conjugate normal-inverse-chi-squared prior [1]_. The stock's own figure
counts as much as `PRIOR_COUNT` weighed models, so one odd model moves little, and ten move much.

References
----------
.. [1] A. Gelman, J. B. Carlin, H. S. Stern, D. B. Dunson, A. Vehtari, D. B. Rubin, "Bayesian Data Analysis", 3rd ed.,
   2013: ch. 2.5 (known variance) and ch. 3.3 (both unknown).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sheetlark.evaluation import Evaluation
from sheetlark.logbook.asbuilt import conditioned_masses, lines_weighed, prior_covariance
from sheetlark.logbook.entries import Log

Floats = npt.NDArray[np.float64]

PRIOR_COUNT = 2.0  # how many weighed models the stock's figure is worth; no source
PRIOR_FREEDOM = 4.0  # how many its spread is worth; no source
_PLAUSIBLE = (0.4, 2.5)  # mass found over mass stated; no source
_FLAT = 30.0  # a prior this many times as wide says nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """A mean and a variance not known for certain: normal-inverse-chi-squared ([1]_ of the module, 3.3).

    mean : of the mean. count : how many data it is worth.
    scale : typical standard deviation from one datum to the next. freedom : how many data that is worth.
    """

    mean: float
    count: float
    scale: float
    freedom: float

    def after(self, data: Floats, weights: Floats | None = None) -> Belief:
        """The belief once data are in; a weight below 1 stands for a datum that is itself uncertain.

        With m data of mean y and sum of squares S about it: count + m; mean weighted by counts;
        freedom + m; and freedom × scale² grows by S + count m/(count + m) (y - mean)².
        """
        y = np.asarray(data, dtype=np.float64)
        if y.size == 0:
            return self
        w = np.ones(y.size) if weights is None else np.asarray(weights, dtype=np.float64)
        m = float(w.sum())
        if m <= 0.0:
            return self
        average = float((w * y).sum()) / m
        squares = float((w * (y - average) ** 2).sum())
        count, freedom = self.count + m, self.freedom + m
        mean = (self.count * self.mean + m * average) / count
        total = self.freedom * self.scale**2 + squares
        total += self.count * m / count * (average - self.mean) ** 2
        return Belief(
            mean=mean,
            count=count,
            scale=math.sqrt(total / freedom) if freedom > 0 else 0.0,
            freedom=freedom,
        )

    @property
    def next_spread(self) -> float:
        """Standard deviation of the next datum, the mean's own uncertainty included; Student's widening left to
        :meth:`interval`.
        """
        return self.scale * math.sqrt(1.0 + 1.0 / self.count)

    def interval(self, share: float = 0.95) -> tuple[float, float]:
        """Where the mean lies with a probability: Student's t with `freedom`."""
        from scipy.stats import t

        half = float(t.ppf(0.5 + 0.5 * share, self.freedom)) * self.scale / math.sqrt(self.count)
        return self.mean - half, self.mean + half


def normal_after(mean: float, spread: float, data: Floats, spreads: Floats) -> tuple[float, float]:
    """Normal mean with known variances: precisions add ([1]_ of the module, 2.5). Returns (mean, spread)."""
    y, s = np.asarray(data, dtype=np.float64), np.asarray(spreads, dtype=np.float64)
    precision = 1.0 / spread**2 + float((1.0 / s**2).sum())
    return (mean / spread**2 + float((y / s**2).sum())) / precision, 1.0 / math.sqrt(precision)


@dataclass(frozen=True, slots=True, kw_only=True)
class Datum:
    """What one model says of one batch.

    kind, key : the stock entry. model : whose.
    ratio, spread : mass found over the stock file's figure, and how sure that is
    """

    kind: str
    key: str
    model: str
    ratio: float
    spread: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """What is believed of one batch, all models taken in.

    ratio : mass over the supplied figure. spread : of the next sheet, roll or motor. models : how many said so.
    """

    kind: str
    key: str
    ratio: float
    spread: float
    models: int

    @property
    def says(self) -> str:
        """A sentence for the next design's figures."""
        percent = 100.0 * (self.ratio - 1.0)
        many = "one model" if self.models == 1 else f"{self.models} models"
        way = (
            "as the stock says"
            if abs(percent) < 0.5
            else f"{abs(percent):.0f} % {'above' if percent > 0 else 'below'} typical"
        )
        return f"{self.kind} {self.key}: {way}, give or take {100 * self.spread:.0f} %, from {many} weighed"


def data_of(evaluation: Evaluation, log: Log) -> tuple[Datum, ...]:
    """What the weighings of one model say of each batch on their own, the stock's figure left out.

    Each batch in turn is given a prior so wide that it says nothing, the others keep theirs; what comes back is
    the scales' word. A batch they say less of than the stock already knows is left out, and so is one of which they
    say something no sheet or motor can be: then a weighing is wrong, not the stock.
    """
    lines = evaluation.weights.lines
    mean = np.array([line.mass_kg for line in lines])
    plain = prior_covariance(lines)
    rows, values, variances = [], [], []
    for weighing in log.weighings:
        row = np.zeros(len(lines))
        row[list(lines_weighed(lines, weighing))] = 1.0
        rows.append(row)
        values.append(weighing.mass_kg)
        variances.append(weighing.scale_kg**2 / 12.0 + (0.0025 * weighing.mass_kg) ** 2)
    if not rows:
        return ()
    table = np.array(rows)
    found = []
    for batch in dict.fromkeys(line.batch for line in lines):
        own = np.array([line.batch == batch for line in lines])
        predicted = np.where(own, mean, 0.0)
        spread = max((line.spread for line in lines if line.batch == batch), default=0.0)
        total = float(predicted.sum())
        if total <= 0.0 or spread <= 0.0 or " " not in batch:
            continue
        wide = plain + (_FLAT * spread) ** 2 * np.outer(predicted, predicted)
        mass, covariance, held = conditioned_masses(mean, wide, table, np.array(values), np.array(variances))
        sure = math.sqrt(max(0.0, float(covariance[np.ix_(own, own)].sum()))) / total
        ratio = float(mass[own].sum()) / total
        if sure > spread or held or not _PLAUSIBLE[0] < ratio < _PLAUSIBLE[1]:
            continue
        kind, key = batch.split(" ", 1)
        found.append(
            Datum(
                kind=kind.lower(),
                key=key,
                model=evaluation.design.model.name,
                ratio=ratio,
                spread=max(sure, 1e-4),
            )
        )
    return tuple(found)


def learned(data: tuple[Datum, ...], *, prior_spread: float) -> Learned | None:
    """What all models together teach of one batch; None where none does.

    Parameters
    ----------
    data : tuple of Datum
        Of one batch. Of each model the last counts.
    prior_spread : float
        The stock's own spread of this entry, relative.
    """
    latest = {datum.model: datum for datum in data}
    if not latest:
        return None
    ratios = np.array([datum.ratio for datum in latest.values()])
    spreads = np.array([datum.spread for datum in latest.values()])
    weights = prior_spread**2 / (prior_spread**2 + spreads**2)
    belief = Belief(mean=1.0, count=PRIOR_COUNT, scale=prior_spread, freedom=PRIOR_FREEDOM).after(
        ratios, weights
    )
    first = next(iter(latest.values()))
    return Learned(
        kind=first.kind, key=first.key, ratio=belief.mean, spread=belief.next_spread, models=len(latest)
    )
