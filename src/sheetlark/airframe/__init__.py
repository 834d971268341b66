"""Stated design -> lifting surfaces, body, struts and equipment, all placed in space."""

from sheetlark.airframe.body import BodyShape, FormerStation
from sheetlark.airframe.equipment import Equipment, EquipmentKind, along_shaft_m
from sheetlark.airframe.placing import Airframe, PlacedStrut, airframe, layout
from sheetlark.airframe.surfaces import (
    V_TAIL_DIHEDRAL_RAD,
    Hinged,
    LiftingSurface,
    Moves,
    Reference,
    Role,
    reference_of,
)

__all__ = [
    "V_TAIL_DIHEDRAL_RAD",
    "Airframe",
    "BodyShape",
    "Equipment",
    "EquipmentKind",
    "FormerStation",
    "Hinged",
    "LiftingSurface",
    "Moves",
    "PlacedStrut",
    "Reference",
    "Role",
    "airframe",
    "along_shaft_m",
    "layout",
    "reference_of",
]
