"""Airframe -> flat parts."""

from sheetlark.parts.clash import Clash
from sheetlark.parts.kit import make_kit, with_balance
from sheetlark.parts.mesh import Mesh, mesh
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
from sheetlark.parts.proof import Proof, prove

__all__ = [
    "Bevel",
    "Clash",
    "Group",
    "Joint",
    "JointKind",
    "Kit",
    "Mark",
    "MarkKind",
    "Mesh",
    "Part",
    "Piece",
    "Proof",
    "Removal",
    "RodPiece",
    "Swing",
    "make_kit",
    "mesh",
    "prove",
    "with_balance",
]
