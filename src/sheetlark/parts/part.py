"""Flat parts: what is cut, what is marked on it, and where it goes.

This room and `sheets` work in millimetres, the unit of the paper. A part lies in its own plane (u, v), seen
from its marked face; its thickness runs along w, from -t/2 to +t/2 about that plane's middle.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sheetlark.design import Paper
from sheetlark.errors import GeometryError
from sheetlark.outline import Point, polygon, signed_area

Floats = NDArray[np.float64]

MarkKind = Literal[
    "hinge", "fold", "score", "bevel", "glue", "datum", "balance", "thrust", "place", "slot-edge", "grain"
]
Group = Literal["wing", "tail", "fin", "body", "strut", "drive", "gear"]


@dataclass(frozen=True, slots=True)
class Mark:
    """A line drawn on a part, not cut through.

    kind : what the line means; each kind has its own layer and line style
    points : run of points in the part's plane [mm]
    note : a few words to print beside it, may be empty
    """

    kind: MarkKind
    points: tuple[Point, ...]
    note: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A flat piece of a part in place: the whole part where it stays flat, one facet of it where it is bent.

    outline : shape (n, 2), closed, in the piece's plane [mm]
    holes : each of shape (m, 2) [mm]
    matrix : shape (4, 4), from (u, v, w) of the piece to the geometry axes [mm]
    """

    outline: Floats
    holes: tuple[Floats, ...]
    matrix: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One flat part and every copy of it on the model.

    number : its number on the sheets, from 1
    name : what a builder calls it
    group : what it belongs to
    sheet : key of its material in the stock
    paper : which papers stay on
    thickness_mm : thickness as built into the model [mm]
    outline : shape (n, 2), closed and anticlockwise, seen on the marked face [mm]
    holes : each of shape (m, 2), clockwise [mm]
    marks : lines drawn, not cut
    copies : for each copy on the model, the flat pieces it makes there
    mirrored : for each copy, whether it is cut turned over (a port part from a starboard pattern)
    face : words that say which face is marked
    may_turn : whether it may be turned freely on the sheet when nested
    """

    number: int
    name: str
    group: Group
    sheet: str
    paper: Paper
    thickness_mm: float
    outline: Floats
    holes: tuple[Floats, ...] = ()
    marks: tuple[Mark, ...] = ()
    copies: tuple[tuple[Piece, ...], ...]
    mirrored: tuple[bool, ...]
    face: str = "outside"
    may_turn: bool = True

    def __post_init__(self) -> None:
        if len(self.copies) != len(self.mirrored) or not self.copies:
            raise GeometryError(f"part {self.name!r} needs one 'mirrored' for each of its copies")
        polygon(self.outline, f"part {self.name!r}")
        object.__setattr__(self, "outline", _wound(self.outline, anticlockwise=True))
        object.__setattr__(self, "holes", tuple(_wound(h, anticlockwise=False) for h in self.holes))

    @property
    def count(self) -> int:
        """How many are cut."""
        return len(self.copies)

    @property
    def area_mm2(self) -> float:
        """Area of one copy, its holes taken off. [mm²]."""
        return signed_area(self.outline) + sum(signed_area(h) for h in self.holes)

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of its bounding box as drawn. [mm]."""
        low, high = self.outline.min(axis=0), self.outline.max(axis=0)
        return (float(high[0] - low[0]), float(high[1] - low[1]))


def _wound(points: Floats, *, anticlockwise: bool) -> Floats:
    p = np.array(points, dtype=np.float64)
    if (signed_area(p) > 0) != anticlockwise:
        p = p[::-1].copy()
    p.setflags(write=False)
    return p


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """All flat parts of a model, numbered, in the order they are listed.

    name : the model's
    parts : numbered from 1
    """

    name: str
    parts: tuple[Part, ...]
