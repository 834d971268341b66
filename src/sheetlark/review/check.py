"""A check: one figure of an evaluation held against a limit, and what it means."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from sheetlark.evaluation import Evaluation
from sheetlark.flight import likelihood
from sheetlark.review.finding import Finding, Severity

Measure = Callable[[Evaluation], float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One figure held against a limit.

    id : stable name of the finding
    measure : the figure in `unit`; None where the check does not apply
    limit : what it is held against, a figure or a function of the evaluation
    least : whether the figure must be at least the limit; otherwise at most
    says, because : sentences of the finding
    severity : of the finding, a word or a function of (figure, limit)
    deviation : standard deviation of the figure, in `unit`; None where not known
    kept_by : a figure that says how well the limit is kept where `measure` stands still at it; None where `measure` does
    """

    id: str
    unit: str
    measure: Measure
    limit: float | Measure
    least: bool
    says: Callable[[Evaluation, float, float], str]
    because: Callable[[Evaluation, float, float], str]
    severity: Severity | Callable[[float, float], Severity] = "caution"
    deviation: Measure | None = None
    kept_by: Measure | None = None

    def held(self, e: Evaluation) -> tuple[float, float] | None:
        """(figure, limit), or None where the check does not apply."""
        figure = self.measure(e)
        limit = self.limit(e) if callable(self.limit) else self.limit
        if figure is None or limit is None:
            return None
        return figure, limit

    def shortfall(self, e: Evaluation) -> float | None:
        """How far the figure is on the wrong side of its limit, in `unit`; negative where all is well."""
        held = self.held(e)
        return None if held is None else self._beyond(*held)

    def _beyond(self, figure: float, limit: float) -> float | None:
        if math.isnan(figure):
            return None
        return limit - figure if self.least else figure - limit

    def followed(self, e: Evaluation) -> float | None:
        """The shortfall as a search follows it: of the same sign, and telling apart what keeps the limit too."""
        short = self.shortfall(e)
        if short is None or short > 0.0 or self.kept_by is None:
            return short
        return replace(self, measure=self.kept_by).shortfall(e)

    def raised(self, e: Evaluation) -> Severity | None:
        """How severe the finding is, without its words; None where all is well."""
        held = self.held(e)
        return None if held is None else self._severity(*held)

    def _severity(self, figure: float, limit: float) -> Severity | None:
        short = self._beyond(figure, limit)
        if short is None or short <= 0.0:
            return None
        return self.severity(figure, limit) if callable(self.severity) else self.severity

    def finding(self, e: Evaluation) -> Finding | None:
        """The finding, without remedies, or None where all is well."""
        held = self.held(e)
        if held is None:
            return None
        figure, limit = held
        short, severity = self._beyond(figure, limit), self._severity(figure, limit)
        if short is None or severity is None:
            return None
        sigma = self.deviation(e) if self.deviation is not None else None
        chance = None if not sigma else 0.5 * (1.0 + math.erf(short / sigma / math.sqrt(2.0)))
        return Finding(
            id=self.id,
            severity=severity,
            says=self.says(e, figure, limit),
            because=self.because(e, figure, limit),
            value=figure,
            limit=limit,
            unit=self.unit,
            probability=chance,
            likelihood="" if chance is None else likelihood(chance),
        )


def imperial(e: Evaluation) -> bool:
    """Whether the design's figures are shown in inches and ounces."""
    return e.design.model.imperial
