"""Evaluation -> findings, worst first."""

from __future__ import annotations

from sheetlark.evaluation import Evaluation
from sheetlark.review.checks import CHECKS
from sheetlark.review.finding import Finding

_ORDER = {"fault": 0, "caution": 1, "note": 2}


def findings(evaluation: Evaluation) -> tuple[Finding, ...]:
    """Everything worth telling, worst first, without remedies: :func:`remedied` looks for those."""
    found = [finding for check in CHECKS if (finding := check.finding(evaluation)) is not None]
    return tuple(sorted(found, key=lambda f: _ORDER[f.severity]))
