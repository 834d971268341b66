"""Findings, their remedies, and the document that carries every figure."""

from sheetlark.review.applying import chosen_remedy, line_changes, with_remedy
from sheetlark.review.check import Check
from sheetlark.review.checks import CHECKS
from sheetlark.review.documenting import document, proof_values
from sheetlark.review.finding import Change, Finding, Remedy
from sheetlark.review.maiden_page import story_page
from sheetlark.review.maiden_words import story_document, told
from sheetlark.review.matched import applied_says, drive_applied, match_document, match_printed
from sheetlark.review.printed import printed
from sheetlark.review.proving import proof_lines, proved
from sheetlark.review.remedies import applied, each_remedy, remedied, remedies_for
from sheetlark.review.reviewing import findings
from sheetlark.review.searching import Versions

__all__ = [
    "CHECKS",
    "Change",
    "Check",
    "Finding",
    "Remedy",
    "Versions",
    "applied",
    "applied_says",
    "chosen_remedy",
    "document",
    "drive_applied",
    "each_remedy",
    "findings",
    "line_changes",
    "match_document",
    "match_printed",
    "printed",
    "proof_lines",
    "proof_values",
    "proved",
    "remedied",
    "remedies_for",
    "story_document",
    "story_page",
    "told",
    "with_remedy",
]
