"""Airframe -> flat parts."""

from sheetlark.parts.kit import make_kit
from sheetlark.parts.part import Bevel, Group, Joint, Kit, Mark, MarkKind, Part, Piece, RodPiece

__all__ = ["Bevel", "Group", "Joint", "Kit", "Mark", "MarkKind", "Part", "Piece", "RodPiece", "make_kit"]
