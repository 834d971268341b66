"""Airframe -> flat parts."""

from sheetlark.parts.clash import Clash
from sheetlark.parts.decks import DeckFit, deck_fits
from sheetlark.parts.fits import ONE_SHEET_OFF_MM, PLANK_OFF_MM
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
    PushRod,
    Removal,
    RodPiece,
    Swing,
)
from sheetlark.parts.proof import Proof, prove
from sheetlark.parts.room import Room, boxed

__all__ = [
    "ONE_SHEET_OFF_MM",
    "PLANK_OFF_MM",
    "Bevel",
    "Clash",
    "DeckFit",
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
    "PushRod",
    "Removal",
    "RodPiece",
    "Room",
    "Swing",
    "boxed",
    "deck_fits",
    "make_kit",
    "mesh",
    "prove",
    "with_balance",
]
