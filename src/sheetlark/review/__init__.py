"""Findings, their remedies, and the document that carries every figure."""

from sheetlark.review.checks import CHECKS, Check
from sheetlark.review.document import document
from sheetlark.review.findings import Change, Finding, Remedy
from sheetlark.review.printed import printed
from sheetlark.review.remedies import applied, remedied, remedies_for
from sheetlark.review.reviewing import findings

__all__ = [
    "CHECKS",
    "Change",
    "Check",
    "Finding",
    "Remedy",
    "applied",
    "document",
    "findings",
    "printed",
    "remedied",
    "remedies_for",
]
