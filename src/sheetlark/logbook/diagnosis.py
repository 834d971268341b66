"""From what was seen in the air to what is most likely wrong, and how much of it.

Each cause is a straight line in the space of measures: its signature times how much is off. What was seen is a
point near that line, with the uncertainty of words. So for one cause the amount has a normal posterior, and the
causes are ranked by how probable they make what was seen (marginal likelihood). Several flights count
together: a correction made between them moves the point along its own cause's line by a known amount.

References
----------
.. [1] A. Gelman et al., "Bayesian Data Analysis", 3rd ed., 2013, ch. 2.5 and 14: normal model with known variance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sheetlark.logbook.causes import Cause
from sheetlark.logbook.entries import CorrectionEntry, FlightEntry, Log, Sighting
from sheetlark.logbook.signature import Signatures
from sheetlark.logbook.symptoms import MEASURES, SYMPTOMS, Measure, observed

Floats = npt.NDArray[np.float64]

# Words, and an air never quite still: part of every measure's uncertainty, in noticeable steps. No source.
_ALWAYS = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranked:
    """One cause with how likely it is and how much is off now, corrections so far taken in.

    probability : among the causes looked at, one of them being to blame [-]
    amount, spread : most likely error and its standard deviation, in the cause's unit
    explains : symptoms seen that this cause predicts, in the log's words
    leaves : symptoms seen that it does not
    """

    cause: Cause
    probability: float
    amount: float
    spread: float
    explains: tuple[str, ...]
    leaves: tuple[str, ...]


def diagnose(signatures: Signatures, log: Log) -> tuple[Ranked, ...]:
    """Causes ranked by probability, from every flight in a logbook.

    A cause's probability is its weight times the density of what was seen, N(0, R + s sᵀ v), with s its
    signature, v the variance of how far off it usually is and R that of the words.
    """
    evidence = _evidence(signatures, log)
    if not evidence:
        return ()
    scores, found = [], []
    for cause, slope in zip(signatures.causes, signatures.slopes, strict=True):
        s = np.concatenate([np.where(np.isfinite(slope), slope, 0.0) for _ in evidence])
        y = np.concatenate([e.value - e.corrected for e in evidence])
        r = np.concatenate([e.variance for e in evidence])
        prior = cause.usual**2
        # posterior of the error the model was built with, then corrections to the same thing added
        precision = 1.0 / prior + float((s * s / r).sum())
        mean = float((s * y / r).sum()) / precision
        # log density by the matrix determinant lemma and the Sherman-Morrison formula
        log_density = -0.5 * (
            math.log(prior * precision) + float((y * y / r).sum()) - mean * mean * precision
        )
        scores.append(math.log(cause.chance) + log_density)
        made = sum(c.amount for c in log.corrections if c.cause == cause.name)
        found.append((cause, mean + made, 1.0 / math.sqrt(precision), slope))
    weights = np.exp(np.array(scores) - max(scores))
    weights /= weights.sum()
    last = evidence[-1]
    ranked = [
        _ranked(cause, float(weight), amount, spread, slope, last, signatures)
        for (cause, amount, spread, slope), weight in zip(found, weights, strict=True)
    ]
    return tuple(sorted(ranked, key=lambda r: -r.probability))


def unanswered(signatures: Signatures, log: Log) -> tuple[str, ...]:
    """Symptoms of the last flight of which the flight model of this aeroplane has no figure at all.

    It may have no such control, or not fly so slowly that what was seen could be asked of it.
    """
    if not log.flights:
        return ()
    known = np.isfinite(signatures.slopes).any(axis=0) & np.isfinite(signatures.predicted)
    said = dict.fromkeys(s.symptom for s in log.flights[-1].seen)
    return tuple(s for s in said if not known[signatures.measures.index(SYMPTOMS[s][0])])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Evidence:
    """One flight's measures, shape (m,) each, and what corrections before it did to them."""

    value: Floats
    variance: Floats
    corrected: Floats
    seen: tuple[Sighting, ...]


def _evidence(signatures: Signatures, log: Log) -> list[_Evidence]:
    made: list[_Evidence] = []
    shift = np.zeros(len(signatures.measures))
    known = {cause.name for cause in signatures.causes}
    for entry in log.story:
        if isinstance(entry, CorrectionEntry) and entry.cause in known:
            slope = signatures.slope(entry.cause)
            shift = shift + np.where(np.isfinite(slope), slope, 0.0) * entry.amount
        elif isinstance(entry, FlightEntry):
            made.append(_of_flight(signatures, entry, shift))
    return made


def _of_flight(signatures: Signatures, flight: FlightEntry, shift: Floats) -> _Evidence:
    said = observed(flight.seen)
    value = np.array([said[m][0] for m in signatures.measures])
    steps = np.array([MEASURES[m].noticeable for m in signatures.measures])
    spread = np.array([said[m][1] for m in signatures.measures])
    return _Evidence(
        value=value, variance=spread**2 + (_ALWAYS * steps) ** 2, corrected=shift, seen=flight.seen
    )


def _ranked(
    cause: Cause,
    probability: float,
    amount: float,
    spread: float,
    slope: Floats,
    last: _Evidence,
    signatures: Signatures,
) -> Ranked:
    explains: list[str] = []
    leaves: list[str] = []
    for sighting in last.seen:
        measure, sign = SYMPTOMS[sighting.symptom]
        shown = float(slope[signatures.measures.index(measure)]) * amount * sign
        enough = math.isfinite(shown) and shown > 0.5 * MEASURES[measure].noticeable
        (explains if enough else leaves).append(sighting.symptom)
    return Ranked(
        cause=cause,
        probability=probability,
        amount=amount,
        spread=spread,
        explains=tuple(explains),
        leaves=tuple(leaves),
    )


Verdict = Literal["cured", "better", "no change", "worse", "too much", "not flown yet"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionCheck:
    """Whether a correction did what it was made for, from the flights before and after it.

    before, after : size of the error along the cause's signature, in its unit; None where no flight says
    expected : what should have been left after the correction
    """

    correction: CorrectionEntry
    verdict: Verdict
    before: float | None
    after: float | None
    expected: float | None


def check_corrections(signatures: Signatures, log: Log) -> tuple[CorrectionCheck, ...]:
    """Look at the flight before and the flight after each correction."""
    story = log.story
    checks = []
    for place, entry in enumerate(story):
        if not isinstance(entry, CorrectionEntry):
            continue
        cause = next((c for c in signatures.causes if c.name == entry.cause), None)
        if cause is None:
            continue
        earlier = [e for e in story[:place] if isinstance(e, FlightEntry)]
        later = [e for e in story[place:] if isinstance(e, FlightEntry)]
        before = _size(signatures, cause, earlier[-1]) if earlier else None
        after = _size(signatures, cause, later[0]) if later else None
        expected = None if before is None else before + entry.amount
        checks.append(
            CorrectionCheck(
                correction=entry,
                verdict=_verdict(cause, before, after),
                before=before,
                after=after,
                expected=expected,
            )
        )
    return tuple(checks)


def _size(signatures: Signatures, cause: Cause, flight: FlightEntry) -> float:
    """How much of one cause a single flight shows: the posterior mean from it alone."""
    slope = signatures.slope(cause.name)
    s = np.where(np.isfinite(slope), slope, 0.0)
    e = _of_flight(signatures, flight, np.zeros(len(s)))
    precision = 1.0 / cause.usual**2 + float((s * s / e.variance).sum())
    return float((s * e.value / e.variance).sum()) / precision


def _verdict(cause: Cause, before: float | None, after: float | None) -> Verdict:
    if after is None or before is None:
        return "not flown yet"
    small = 0.3 * cause.usual
    if abs(after) <= small:
        return "cured"
    if before * after < 0:
        return "too much"
    if abs(after) < 0.7 * abs(before):
        return "better"
    return "worse" if abs(after) > 1.3 * abs(before) else "no change"


def strongest(signatures: Signatures, cause: str, count: int = 3) -> tuple[Measure, ...]:
    """The measures that show a cause most, in noticeable steps for a usual error; strongest first."""
    kind = next(c for c in signatures.causes if c.name == cause)
    slope = signatures.slope(cause) * kind.usual
    steps = np.array([MEASURES[m].noticeable for m in signatures.measures])
    shown = np.where(np.isfinite(slope), np.abs(slope) / steps, 0.0)
    return tuple(signatures.measures[i] for i in np.argsort(-shown, kind="stable")[:count] if shown[i] > 0.1)
