"""Airframe -> flat parts."""

from sheetlark.parts.part import Group, Kit, Mark, MarkKind, Part, Piece

__all__ = ["Group", "Kit", "Mark", "MarkKind", "Part", "Piece"]
