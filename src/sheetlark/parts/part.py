"""Flat parts: what is cut, what is marked on it, and where it goes.

This room and `sheets` work in millimetres, the unit of the paper. A part lies in its own plane (u, v), seen
from its marked face; its thickness runs along w, from -t/2 to +t/2 about that plane's middle.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sheetlark.design import Paper
from sheetlark.errors import GeometryError
from sheetlark.outline import Point, polygon, signed_area
from sheetlark.units import in_inches

Floats = NDArray[np.float64]

MarkKind = Literal[
    "hinge",
    "fold",
    "score",
    "bevel",
    "glue",
    "datum",
    "balance",
    "thrust",
    "place",
    "slot-edge",
    "grain",
    "decal",
]
Group = Literal["wing", "tail", "fin", "body", "strut", "drive", "gear"]
Point3 = tuple[float, float, float]
JointKind = Literal[
    "butt", "tab-and-slot", "notch", "half-lap", "hinge", "groove", "rod-hole", "dowel", "bolted", "doubler"
]


def point3(p: Floats) -> Point3:
    """A point of space as three floats."""
    return (float(p[0]), float(p[1]), float(p[2]))


def to_port(p: Point3) -> Point3:
    """The point that mirrors it on the other side of the model."""
    return (p[0], -p[1], p[2])


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Bevel:
    """A straight edge cut at a slant: a wedge taken off the part along a run of its outline.

    start, end : the run, in the part's plane, the part on its left [mm]
    from_w_mm, to_w_mm : the wedge grows from nothing at the first height to its full setback at the second;
        heights above the middle of the sheet, towards the marked face
    setback_mm : how far the edge stands back at `to_w_mm`
    """

    start: Point
    end: Point
    from_w_mm: float
    to_w_mm: float
    setback_mm: float


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
    bevels : edges cut at a slant
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
    bevels: tuple[Bevel, ...] = ()

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
class Joint:
    """Where two parts, or a part and a rod, meet on the model.

    kind : how
    first, second : names of the two; the first carries the line drawn where the second goes
    held : what holds it: a bead of glue, a run of tape, or neither (it slides, swings or is strapped on)
    runs_mm : lines along the joint on the geometry axes, each a run of points [mm]
    fit_mm : play between the two, stated [mm]
    """

    kind: JointKind
    first: str
    second: str
    held: Literal["glue", "tape", "loose"]
    runs_mm: tuple[tuple[Point3, ...], ...]
    fit_mm: float = 0.0

    @property
    def length_mm(self) -> float:
        """Length of glue or tape line: all runs together. [mm]."""
        return sum(math.dist(a, b) for run in self.runs_mm for a, b in itertools.pairwise(run))


@dataclass(frozen=True, slots=True, kw_only=True)
class RodPiece:
    """One length of rod, tube, strip or wire in its place.

    key : in the stock
    points_mm : its middle line on the geometry axes, bent at each inner point [mm]
    width_mm, height_mm : of its section; for a strip, width along the chord of what carries it
    """

    name: str
    key: str
    group: Group
    points_mm: tuple[Point3, ...]
    width_mm: float
    height_mm: float

    @property
    def start_mm(self) -> Point3:
        return self.points_mm[0]

    @property
    def end_mm(self) -> Point3:
        return self.points_mm[-1]

    @property
    def length_mm(self) -> float:
        """Length to cut, along its middle line. [mm]."""
        return sum(math.dist(a, b) for a, b in itertools.pairwise(self.points_mm))


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """A moving surface, the line it swings about, and how far.

    moving, fixed : names of the parts
    start_mm, end_mm : of the starboard hinge line on the geometry axes, inner end first [mm]
    up_rad, down_rad : throws; for a rudder to port and to starboard [rad]
    """

    moving: str
    fixed: str
    start_mm: Point3
    end_mm: Point3
    up_rad: float
    down_rad: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Removal:
    """What comes off the model, and which way.

    parts : names of the parts that come off together, all their copies
    rods : names of the rods that come with them
    path_mm : from its seat to where it is free [mm]
    """

    name: str
    parts: tuple[str, ...]
    rods: tuple[str, ...]
    path_mm: Point3


@dataclass(frozen=True, slots=True, kw_only=True)
class PushRod:
    """One push-rod: straight from the hole of a servo's arm to the hole of a horn.

    servo, moves : names of the servo and of the part that carries the horn
    copy : which copy of that part
    shaft_mm : where the arm's circle has its middle; the shaft stands upright [mm]
    arm_mm, horn_mm : both holes, the surface in the middle of its throw [mm]
    axis_mm : the hinge line: a point of it, and a unit vector along it, about which a positive angle lifts
    up_rad, down_rad : throws [rad]
    bends : whether it runs in a tube, or is a line: it need not be straight
    """

    name: str
    servo: str
    moves: str
    copy: int
    shaft_mm: Point3
    arm_mm: Point3
    horn_mm: Point3
    axis_mm: tuple[Point3, Point3]
    up_rad: float
    down_rad: float
    bends: bool = False

    @property
    def length_mm(self) -> float:
        """From hole to hole. [mm]."""
        return math.dist(self.arm_mm, self.horn_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """All flat parts of a model, numbered, in the order they are listed, and what joins them.

    name : the model's
    parts : numbered from 1
    joints : every glue line, taped hinge and sliding fit
    rods : spars, joiners, dowels and wire legs, one each
    swings : the moving surfaces and their hinge lines
    removals : what comes off in one piece
    push_rods : from servos to horns
    notes : what the builder must know that no part shows
    imperial : whether lengths are lettered in inches, for a builder who measures in them
    """

    name: str
    parts: tuple[Part, ...]
    joints: tuple[Joint, ...] = ()
    rods: tuple[RodPiece, ...] = ()
    swings: tuple[Swing, ...] = ()
    removals: tuple[Removal, ...] = ()
    push_rods: tuple[PushRod, ...] = ()
    notes: tuple[str, ...] = ()
    imperial: bool = False

    def shown(self, words: str) -> str:
        """Words written in millimetres, in the units that are lettered."""
        return in_inches(words) if self.imperial else words

    def lettered(self, mark: Mark) -> str:
        """A mark's note in the units that are lettered; what stands after a colon is a thing by the name it is sold under."""
        says, colon, thing = mark.note.partition(": ")
        return self.shown(says) + colon + thing

    def part(self, name: str) -> Part:
        """The part of a name.

        Raises
        ------
        GeometryError
            If the kit has none of that name.
        """
        for part in self.parts:
            if part.name == name:
                return part
        raise GeometryError(f"there is no part {name!r}; the kit has {', '.join(p.name for p in self.parts)}")
