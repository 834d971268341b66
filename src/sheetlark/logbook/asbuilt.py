"""The model as built: predicted masses corrected by what the scales said, and where the battery must go now.

Every line of the weight table is one unknown mass. The prediction is a normal prior: lines cut from one sheet
err together, and each a little for itself. A weighing says what a sum of lines is; a balance test says that
the moments about one place vanish. Both are linear, so the masses given all of them are normal again, in
closed form; what has not been weighed yet learns from what has, through the batch they share.

References
----------
.. [1] A. Gelman et al., "Bayesian Data Analysis", 3rd ed., 2013, ch. 14: the normal linear model with known variance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from difflib import get_close_matches

import numpy as np
import numpy.typing as npt

from sheetlark.errors import LogbookError
from sheetlark.evaluation import Evaluation
from sheetlark.flight import BatteryPlace, place_battery
from sheetlark.logbook.entries import EVERYTHING, Log, Weighing
from sheetlark.weights import Line, Weights

Floats = npt.NDArray[np.float64]

# The part of a line's variance its whole batch shares; the rest is cutting and gluing of this one. No source.
_SHARED = 0.8
_PLACE_M = 0.001  # how well a line's own centre is known; no source


def lines_weighed(lines: tuple[Line, ...], weighing: Weighing) -> tuple[int, ...]:
    """Which lines of the weight table were on the scales.

    A name is that of a line, of a group (wing, body, radio, ...), or the beginning or end of several lines' names
    ("lower wing" with its spar and ailerons).

    Raises
    ------
    LogbookError
        If a name fits no line; the message gives the nearest.
    """
    if weighing.is_finished_model:
        return tuple(range(len(lines)))
    found: dict[int, None] = {}
    for name in weighing.what:
        fitting = _fitting(lines, name)
        if not fitting:
            known = sorted({line.name for line in lines} | {line.group for line in lines} | {EVERYTHING})
            near = get_close_matches(name, known, n=1, cutoff=0.4)
            hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(known)}"
            place = f"line {weighing.line}: " if weighing.line else ""
            raise LogbookError(f"{place}there is no {name!r} to weigh on this model; {hint}")
        found.update(dict.fromkeys(fitting))
    return tuple(sorted(found))


def _fitting(lines: tuple[Line, ...], name: str) -> list[int]:
    said = name.casefold()
    names = [line.name.casefold() for line in lines]
    for found in (
        [i for i, known in enumerate(names) if known == said],
        [i for i, line in enumerate(lines) if line.group.casefold() == said],
        [i for i, known in enumerate(names) if known.startswith(said) or known.endswith(said)],
    ):
        if found:
            return found
    return []


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AsBuilt:
    """The weight table with the weighings in it.

    weights : lines with their masses as now known; `source` says measured where a line was itself weighed
    all_up_spread_kg, balance_spread_m : one standard deviation, x alone for the balance
    predicted_kg, predicted_balance_m : before any weighing
    weighed_kg : mass of the lines that were on the scales [kg]
    batch_ratios : each batch's mass over its prediction, with its standard deviation
    contradicted : lines that would have to weigh next to nothing for all weighings to be right
    """

    weights: Weights
    all_up_spread_kg: float
    balance_spread_m: float
    predicted_kg: float
    predicted_balance_m: float
    weighed_kg: float
    batch_ratios: tuple[tuple[str, float, float], ...]
    contradicted: tuple[str, ...] = ()

    @property
    def left_to_build_kg(self) -> float:
        """What has not been on the scales yet. [kg]."""
        return max(0.0, self.weights.all_up_kg - self.weighed_kg)


def as_built(evaluation: Evaluation, log: Log) -> AsBuilt:
    """Put a logbook's weighings into the weight table.

    Raises
    ------
    LogbookError
        If a weighing names something the model does not have.
    """
    lines = evaluation.weights.lines
    mean = np.array([line.mass_kg for line in lines])
    prior = prior_covariance(lines)
    rows, values, variances = _observations(evaluation, log, mean)
    mass, covariance, held = conditioned_masses(mean, prior, rows, values, variances)
    sets = [lines_weighed(lines, w) for w in log.weighings]
    own = {which[0] for which in sets if len(which) == 1}
    on_scales = {i for which in sets for i in which}
    weights = Weights(
        lines=tuple(
            _line(line, m, v, measured=i in own)
            for i, (line, m, v) in enumerate(
                zip(lines, mass.tolist(), np.diag(covariance).tolist(), strict=True)
            )
        )
    )
    x = np.array([line.element.at_m[0] for line in lines])
    total = float(mass.sum())
    balance = float(mass @ x) / total
    arm = (x - balance) / total
    return AsBuilt(
        weights=weights,
        all_up_spread_kg=float(np.sqrt(max(0.0, float(covariance.sum())))),
        balance_spread_m=float(np.sqrt(max(0.0, float(arm @ covariance @ arm)))),
        predicted_kg=float(mean.sum()),
        predicted_balance_m=float(evaluation.weights.balance_m[0]),
        weighed_kg=float(mass[sorted(on_scales)].sum()) if on_scales else 0.0,
        batch_ratios=_ratios(lines, mean, mass, covariance),
        contradicted=tuple(lines[i].name for i in sorted(held)),
    )


def prior_covariance(lines: tuple[Line, ...]) -> Floats:
    """Covariance of the predicted masses, shape (n, n). [kg²]."""
    deviation = np.array([line.mass_kg * line.spread for line in lines])
    batches = np.array([line.batch for line in lines])
    same = batches[:, None] == batches[None, :]
    shared = _SHARED * np.outer(deviation, deviation) * same
    return np.asarray(shared + (1.0 - _SHARED) * np.diag(deviation**2))


def condition(
    mean: Floats, covariance: Floats, rows: Floats, values: Floats, variances: Floats
) -> tuple[Floats, Floats]:
    """A normal given linear observations ``rows @ m = values`` with independent normal errors ([1]_ of the module).

    Returns
    -------
    mean, covariance : ndarray, shapes (n,) and (n, n)
    """
    if len(rows) == 0:
        return mean.copy(), covariance.copy()
    cross = covariance @ rows.T
    inner = rows @ cross + np.diag(variances)
    gain = np.linalg.solve(inner, cross.T).T
    posterior = covariance - gain @ cross.T
    return mean + gain @ (values - rows @ mean), 0.5 * (posterior + posterior.T)


def conditioned_masses(
    mean: Floats, covariance: Floats, rows: Floats, values: Floats, variances: Floats
) -> tuple[Floats, Floats, frozenset[int]]:
    """As :func:`condition`, but no mass may fall below a tenth of its prediction; also returns which are held there.

    A normal knows no such limit; where contradicting weighings would push a mass through it, it is held there and
    the rest conditioned anew, so that the sums the scales showed still hold.
    """
    held: set[int] = set()
    while True:
        extra = np.zeros((len(held), len(mean)))
        for row, i in zip(extra, sorted(held), strict=True):
            row[i] = 1.0
        floor = 0.1 * mean[sorted(held)]
        found, spread = condition(
            mean,
            covariance,
            np.concatenate([rows.reshape(-1, len(mean)), extra]),
            np.concatenate([values, floor]),
            np.concatenate([variances, np.full(len(held), 1e-14)]),
        )
        below = {int(i) for i in np.flatnonzero(found < 0.0999 * mean)} - held
        if not below:
            return np.maximum(found, 0.0), spread, frozenset(held)
        held |= below


def _observations(evaluation: Evaluation, log: Log, mean: Floats) -> tuple[Floats, Floats, Floats]:
    lines = evaluation.weights.lines
    rows, values, variances = [], [], []
    x = np.array([line.element.at_m[0] for line in lines])
    battery = next((i for i, line in enumerate(lines) if line.name == "battery"), None)
    for weighing in log.weighings:
        row = np.zeros(len(lines))
        row[list(lines_weighed(lines, weighing))] = 1.0
        rows.append(row)
        values.append(weighing.mass_kg)
        # scales show whole steps (a uniform error) and are themselves good to a quarter per cent (no source)
        variances.append(weighing.scale_kg**2 / 12.0 + (0.0025 * weighing.mass_kg) ** 2)
        if weighing.balance_x_m is not None:
            places = x.copy()
            if weighing.battery_x_m is not None and battery is not None:
                places[battery] = weighing.battery_x_m
            moment = row * (places - weighing.balance_x_m)
            rows.append(moment)
            values.append(0.0)
            spread = weighing.mass_kg * weighing.balance_spread_m
            variances.append(spread**2 + _PLACE_M**2 * float((row * mean**2).sum()))
    return np.array(rows).reshape(-1, len(lines)), np.array(values), np.array(variances)


def _line(line: Line, mass_kg: float, variance: float, *, measured: bool) -> Line:
    old = line.mass_kg
    ratio = mass_kg / old if old > 0 else 1.0
    element = replace(line.element, mass_kg=mass_kg, second_moment=line.element.second_moment * ratio)
    return replace(
        line,
        element=element,
        spread=float(np.sqrt(max(variance, 0.0))) / mass_kg if mass_kg > 0 else 0.0,
        source="measured" if measured else line.source,
        note=f"{line.note}; weighed" if measured else line.note,
    )


def _ratios(
    lines: tuple[Line, ...], mean: Floats, mass: Floats, covariance: Floats
) -> tuple[tuple[str, float, float], ...]:
    found = []
    for batch in dict.fromkeys(line.batch for line in lines):
        own = np.array([line.batch == batch for line in lines])
        predicted = float(mean[own].sum())
        if predicted > 0:
            spread = float(np.sqrt(max(0.0, float(covariance[np.ix_(own, own)].sum()))))
            found.append((batch, float(mass[own].sum()) / predicted, spread / predicted))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebalance:
    """Where the battery must go, or what ballast it takes, for the balance point that was designed.

    target_x_m : the balance point wanted [m]
    place : where the battery goes, and the ballast if its bay ends first
    spread_m : how sure the battery's place is, one standard deviation [m]
    battery_kg : its mass as now known [kg]
    """

    target_x_m: float
    place: BatteryPlace
    spread_m: float
    battery_kg: float


def rebalance(evaluation: Evaluation, built: AsBuilt, *, target_x_m: float | None = None) -> Rebalance | None:
    """Where the battery goes so that the model as built balances where it was meant to; None without a battery.

    Parameters
    ----------
    target_x_m : float, optional
        Left out: where the design balances as predicted.

    Raises
    ------
    SolveError
        If neither the battery nor ballast at nose or tail reaches the target.
    """
    drive, airframe = evaluation.design.drive, evaluation.airframe
    battery = next((line for line in built.weights.lines if line.name == "battery"), None)
    if drive is None or battery is None:
        return None
    target = built.predicted_balance_m if target_x_m is None else target_x_m
    x = float(battery.element.at_m[0])
    reach = drive.pack_travel
    ends = [float(line.element.at_m[0]) for line in built.weights.lines]
    body = airframe.body
    ahead = min(ends) if body is None else min(body.nose_m, *ends)
    astern = max(ends) if body is None else body.tail_m
    place = place_battery(
        all_up_kg=built.weights.all_up_kg,
        balance_x_m=float(built.weights.balance_m[0]),
        battery_kg=battery.mass_kg,
        battery_x_m=x,
        bay_x_m=(drive.pack_at[0] - reach, drive.pack_at[0] + reach),
        target_x_m=target,
        ballast_ahead_x_m=ahead,
        ballast_astern_x_m=astern,
    )
    return Rebalance(
        target_x_m=target,
        place=place,
        spread_m=built.balance_spread_m * built.weights.all_up_kg / battery.mass_kg,
        battery_kg=battery.mass_kg,
    )
