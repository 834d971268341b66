"""The errors Sheetlark raises. Each message says what was read, what is allowed, and what to try."""

from __future__ import annotations


class SheetlarkError(Exception):
    """Anything Sheetlark refuses, in words a builder can act on."""


class UnitError(SheetlarkError, ValueError):
    """A quantity that cannot be read: its number, its unit, or its range."""


class GeometryError(SheetlarkError, ValueError):
    """A shape that cannot exist or cannot be built.

    where : path of the design's key at fault, so that whoever holds the file can name the line
    """

    def __init__(self, message: str, where: tuple[str | int, ...] = ()) -> None:
        super().__init__(message)
        self.where = where


class DesignError(SheetlarkError, ValueError):
    """A design file that cannot be read; the message carries file and line."""


class StockError(SheetlarkError, LookupError):
    """A material or a component that no stock file names."""


class SheetError(SheetlarkError, ValueError):
    """A part that does not fit the sheet or the paper it should go on."""


class SolveError(SheetlarkError, ArithmeticError):
    """A computation without an answer for these inputs."""


class PictureError(SheetlarkError, ValueError):
    """A picture that cannot be read, or is refused because of its size or type."""


class NothingFoundError(PictureError):
    """A picture in which no aeroplane was found; drawn over by hand it may still be used."""


class LogbookError(SheetlarkError, ValueError):
    """A logbook or a flight log that cannot be read; the message carries file and line."""


class PackError(SheetlarkError, ValueError):
    """A pack that cannot be made, or is refused because opening it would not be safe."""
