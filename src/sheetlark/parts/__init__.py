"""Airframe -> flat parts."""

from sheetlark.parts.kit import make_kit
from sheetlark.parts.part import (
    Bevel,
    Group,
    Joint,
    JointKind,
    Kit,
    Mark,
    MarkKind,
    Part,
    Piece,
    Removal,
    RodPiece,
    Swing,
)
from sheetlark.parts.proof import Clash, Proof, prove

__all__ = [
    "Bevel",
    "Clash",
    "Group",
    "Joint",
    "JointKind",
    "Kit",
    "Mark",
    "MarkKind",
    "Part",
    "Piece",
    "Proof",
    "Removal",
    "RodPiece",
    "Swing",
    "make_kit",
    "prove",
]
