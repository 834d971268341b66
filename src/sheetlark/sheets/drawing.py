"""A drawing: lines and lettering on layers, in millimetres, y upwards. It knows no file format.

Every layer has one line style. Styles differ by dash and weight first and by colour second, so a sheet from a
black-and-white printer reads the same: what is cut through is a plain black line, everything else is not.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sheetlark.errors import SheetError

Floats = NDArray[np.float64]


class Layer(StrEnum):
    """What a line means. The order is the order of drawing; cuts come last, as on a cutting machine."""

    SHEET = "SHEET"
    ALIGN = "ALIGN"
    GLUE = "GLUE"
    PLACE = "PLACE"
    GRAIN = "GRAIN"
    DATUM = "DATUM"
    THRUST = "THRUST"
    BALANCE = "BALANCE"
    DIMENSION = "DIMENSION"
    NOTE = "NOTE"
    TEXT = "TEXT"
    DECAL = "DECAL"
    HINGE = "HINGE"
    BEVEL = "BEVEL"
    FOLD = "FOLD"
    SCORE = "SCORE"
    CUT = "CUT"


INK = (0.08, 0.08, 0.10)
ACCENT = (0.70, 0.13, 0.08)
SOFT = (0.45, 0.45, 0.47)


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """How the lines of a layer look.

    width_mm : line weight
    dashes : marks and gaps in turn [mm]; empty for a plain line
    colour : red, green, blue from 0 to 1
    cad_colour : index in the DXF colour table
    says : what the line asks of the builder, for the legend; empty where it is not listed
    """

    width_mm: float
    dashes: tuple[float, ...] = ()
    colour: tuple[float, float, float] = INK
    cad_colour: int = 7
    says: str = ""


STYLES: dict[Layer, Style] = {
    Layer.SHEET: Style(
        width_mm=0.13, dashes=(15.0, 2.5), colour=SOFT, cad_colour=8, says="edge of the stock sheet"
    ),
    Layer.ALIGN: Style(width_mm=0.13, colour=SOFT, cad_colour=9),
    Layer.GLUE: Style(width_mm=0.30, dashes=(0.4, 1.3), colour=ACCENT, cad_colour=30, says="glue line"),
    Layer.PLACE: Style(width_mm=0.13, dashes=(1.2, 1.2), cad_colour=8, says="another part sits here"),
    Layer.GRAIN: Style(width_mm=0.18, cad_colour=8, says="grain, or flutes, along the arrow"),
    Layer.DATUM: Style(width_mm=0.18, dashes=(12.0, 1.6, 1.6, 1.6), cad_colour=5, says="datum line"),
    Layer.THRUST: Style(
        width_mm=0.18, dashes=(12.0, 1.4, 1.4, 1.4, 1.4, 1.4), cad_colour=5, says="thrust line"
    ),
    Layer.BALANCE: Style(width_mm=0.35, colour=ACCENT, cad_colour=1, says="balance point, a ringed cross"),
    Layer.DIMENSION: Style(width_mm=0.13, cad_colour=8),
    Layer.NOTE: Style(width_mm=0.18, cad_colour=7),
    Layer.TEXT: Style(width_mm=0.18, cad_colour=7),
    Layer.DECAL: Style(
        width_mm=0.18, dashes=(6.0, 0.9, 0.4, 0.9, 0.4, 0.9, 0.4, 0.9), cad_colour=3, says="a decal goes here"
    ),
    Layer.HINGE: Style(width_mm=0.50, dashes=(2.2, 1.4), colour=ACCENT, cad_colour=1, says="hinge line"),
    Layer.BEVEL: Style(
        width_mm=0.25,
        dashes=(5.0, 1.2, 0.6, 1.2, 0.6, 1.2),
        colour=ACCENT,
        cad_colour=30,
        says="bevel to here",
    ),
    Layer.FOLD: Style(
        width_mm=0.40, dashes=(7.0, 1.5, 1.0, 1.5), colour=ACCENT, cad_colour=1, says="fold along here"
    ),
    Layer.SCORE: Style(
        width_mm=0.25, dashes=(5.0, 1.5), colour=ACCENT, cad_colour=6, says="score: cut one face only"
    ),
    Layer.CUT: Style(width_mm=0.30, cad_colour=7, says="cut through"),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A run of straight pieces.

    points : shape (n, 2) [mm]
    closed : whether the last point joins the first
    owner : the copy it belongs to, such as "3.0"; empty for the sheet's own lines
    """

    layer: Layer
    points: Floats
    closed: bool = False
    owner: str = ""

    def __post_init__(self) -> None:
        own = np.array(self.points, dtype=np.float64)
        if own.ndim != 2 or own.shape[1:] != (2,) or len(own) < 2:
            raise SheetError(f"a line needs (n, 2) points, at least 2; got {own.shape}")
        if not np.isfinite(own).all():
            raise SheetError(f"a line of {self.owner or self.layer} has a point that is not a number")
        own.setflags(write=False)
        object.__setattr__(self, "points", own)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettering:
    """One line of words, centred on a point.

    at : middle of the capital letters' height and of the line's length [mm]
    size_mm : size of the type (its em); capitals are about 0.73 of it
    angle_deg : anticlockwise, from -60 to 120 so that it reads upright
    bold : whether it is set bold
    """

    layer: Layer
    text: str
    at: tuple[float, float]
    size_mm: float
    angle_deg: float = 0.0
    bold: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """Lines and lettering within a frame from (0, 0) to its size. [mm].

    name : title
    lines : in the order they are drawn, and cut
    """

    name: str
    width_mm: float
    height_mm: float
    lines: tuple[Line, ...]
    lettering: tuple[Lettering, ...]

    @property
    def layers(self) -> tuple[Layer, ...]:
        """The layers in use, in drawing order."""
        used = {x.layer for x in self.lines} | {x.layer for x in self.lettering}
        return tuple(layer for layer in Layer if layer in used)

    def on(self, layer: Layer) -> tuple[Line, ...]:
        """The lines of one layer."""
        return tuple(line for line in self.lines if line.layer == layer)


def lines(layer: Layer, runs: Iterable[ArrayLike], *, closed: bool = False, owner: str = "") -> list[Line]:
    """Several runs on one layer."""
    return [
        Line(layer=layer, points=np.asarray(run, dtype=np.float64), closed=closed, owner=owner)
        for run in runs
    ]
