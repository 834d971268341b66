"""Air: lift, drag, moments and derivatives of any layout of flat-sheet surfaces."""

from __future__ import annotations

from sheetlark.air.potential import Loads, control_drives, solve
from sheetlark.air.sections import Section
from sheetlark.air.surface import Control, Reference, Surface, reference_of

__all__ = ["Control", "Loads", "Reference", "Section", "Surface", "control_drives", "reference_of", "solve"]
