"""Sheetlark: from a picture to a trimmed flat-sheet model aeroplane."""

__version__ = "0.1.0"
