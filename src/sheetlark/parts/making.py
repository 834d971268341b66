"""What a kit is made for, and all that is made of it so far.

The modules that cut take it up in turn, in the order of `assembly`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from sheetlark.airframe import BodyShape, Equipment, LiftingSurface, PlacedStrut
from sheetlark.design import Gear
from sheetlark.parts.blank import Blank
from sheetlark.parts.body import Shell
from sheetlark.parts.panels import Panel
from sheetlark.parts.part import Joint, PushRod, Removal, RodPiece, Swing
from sheetlark.parts.solids import Solid
from sheetlark.stock import Stock


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """What a kit is made for.

    motors : each with the unit vector from its mounting face to its propeller
    cases : the motors' cases as solids
    passing : what goes through which former: (former, (y0, z0, y1, z1) in mm)
    plate : key of the sheet of firewall, braces and doublers
    """

    surfaces: tuple[LiftingSurface, ...]
    body: BodyShape | None
    struts: tuple[PlacedStrut, ...]
    gear: Gear | None
    motors: tuple[tuple[Equipment, tuple[float, float, float]], ...]
    cases: tuple[Solid, ...]
    pusher: bool
    servos: tuple[Equipment, ...]
    passing: tuple[tuple[int, tuple[float, ...]], ...]
    plate: str


@dataclass(slots=True, kw_only=True, eq=False)
class Assembly:
    """All blanks of a model, and what joins them, as far as they are cut.

    shell : what the body's sides leave inside; None without a body
    wire : the main legs' wire
    joiners : names of the rods that move: what they need is cut from their sweep
    """

    fitted: Fitted
    stock: Stock
    panels: list[Panel]
    shell: Shell | None
    wire: RodPiece | None = None
    joints: list[Joint] = field(default_factory=list)
    rods: list[RodPiece] = field(default_factory=list)
    swings: list[Swing] = field(default_factory=list)
    removals: list[Removal] = field(default_factory=list)
    push_rods: list[PushRod] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    joiners: list[str] = field(default_factory=list)
    plates: list[Blank] = field(default_factory=list)
    struts: list[Blank] = field(default_factory=list)
    sides: list[Blank] = field(default_factory=list)
    covers: list[Blank] = field(default_factory=list)
    decks: list[Blank] = field(default_factory=list)
    formers: list[Blank] = field(default_factory=list)
    tray: list[Blank] = field(default_factory=list)
    nose: list[Blank] = field(default_factory=list)
    braces: list[Blank] = field(default_factory=list)
    mounts: list[Blank] = field(default_factory=list)

    @property
    def wings(self) -> list[Panel]:
        """The wings."""
        return [p for p in self.panels if p.surface.role == "wing"]

    @property
    def flats(self) -> list[Panel]:
        """Wings and tailplanes: all that lies."""
        return [p for p in self.panels if p.surface.role != "fin"]

    @property
    def fins(self) -> list[Panel]:
        """The fins."""
        return [p for p in self.panels if p.surface.role == "fin"]

    def fins_fixed(self) -> list[Blank]:
        """The fixed panels of the fins."""
        return [f.fixed for f in self.fins]

    def blanks(self) -> list[Blank]:
        """All of them, in the order a builder meets them."""
        return [
            *(b for p in self.panels for b in p.blanks()),
            *self.braces,
            *self.struts,
            *self.sides,
            *self.formers,
            *self.covers,
            *self.decks,
            *self.nose,
            *self.tray,
            *self.plates,
            *self.mounts,
        ]
