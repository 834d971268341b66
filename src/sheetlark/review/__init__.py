"""Findings, their remedies, and the document that carries every figure."""

from sheetlark.review.document import document
from sheetlark.review.findings import Change, Finding, Remedy, findings
from sheetlark.review.printed import printed

__all__ = ["Change", "Finding", "Remedy", "document", "findings", "printed"]
