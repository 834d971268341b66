"""Parts onto stock sheets: which sheet each copy is cut from, and where it lies there.

Paper is peeled after cutting, so parts that keep both papers, one, or none come from the same sheets; the
material alone decides what may lie together. Copies marked as mirrored lie turned over, so that their marked
face is up like all others.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sheetlark.errors import SheetError
from sheetlark.parts import Kit, Part
from sheetlark.sheets.packing import (
    Room,
    Shape,
    Spot,
    fits,
    one_after_another,
    shelves,
    simpler,
    sound,
    squeezed,
    turned,
)
from sheetlark.stock import Sheet, Stock

Floats = NDArray[np.float64]
Effort = Literal["quick", "normal", "thorough"]
Progress = Callable[[float, str], None]


@dataclass(frozen=True, slots=True)
class _Budget:
    """What a search may cost: deals of the parts, reports a sheet, and the fullest sheet worth a try."""

    deals: int
    reports: int
    fullest: float


# Measured: of 14 random sets that fill 0.80 to 0.86 of their sheets, 12 close within 300 reports, none of those
# above 0.87 does within 1500 (docs/sheets.md). The first deal heaps the sheets up, so it may fail where there is room
# enough; without a second the plain way would be asked, which may take most of a minute.
_BUDGETS: dict[Effort, _Budget] = {
    "quick": _Budget(2, 100, 0.72),
    "normal": _Budget(2, 300, 0.87),
    "thorough": _Budget(8, 1500, 0.90),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One copy of a part on a sheet.

    part : number of the part
    copy : which copy, from 0
    turn_deg : turned anticlockwise, after mirroring
    mirrored : whether the pattern is turned over (u becomes -u) first
    dx_mm, dy_mm : shift after the turn; the sheet's lower left corner is (0, 0)
    """

    part: int
    copy: int
    turn_deg: int
    mirrored: bool
    dx_mm: float
    dy_mm: float

    def move(self, points: Floats) -> Floats:
        """Points of the part's plane, shape (n, 2), onto the sheet. [mm]."""
        p = np.asarray(points, dtype=np.float64)
        if self.mirrored:
            p = p * (-1.0, 1.0)
        moved: Floats = turned(p, self.turn_deg) + np.array([self.dx_mm, self.dy_mm])
        return moved


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLayout:
    """One stock sheet with the parts cut from it.

    number : from 1, through all materials
    sheet, name : key and name of the material
    thickness_mm, width_mm, height_mm : of the stock sheet
    papered : whether the sheet has papers at all
    paper_note : what is peeled off which parts after cutting; empty where nothing is
    placed : by part number and copy
    used_mm2 : area of the parts, holes taken off
    """

    number: int
    sheet: str
    name: str
    thickness_mm: float
    width_mm: float
    height_mm: float
    papered: bool
    paper_note: str
    placed: tuple[Placed, ...]
    used_mm2: float

    @property
    def utilisation(self) -> float:
        """Area of the parts over the area of the sheet. [-]."""
        return self.used_mm2 / (self.width_mm * self.height_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialUse:
    """What one material takes.

    sheets : how many are needed
    bound : fewest that the area of the parts could fill
    utilisation : area of the parts over all these sheets [-]
    method : how they were packed: "strip", "one after another" or "shelves"
    """

    sheet: str
    name: str
    sheets: int
    bound: int
    utilisation: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Nesting:
    """All sheets of a kit.

    margin_mm : left free along every edge
    gap_mm : least distance between two parts
    """

    kit: str
    sheets: tuple[SheetLayout, ...]
    materials: tuple[MaterialUse, ...]
    margin_mm: float
    gap_mm: float

    @property
    def utilisation(self) -> float:
        """Area of all parts over the area of all sheets. [-]."""
        whole = sum(s.width_mm * s.height_mm for s in self.sheets)
        return sum(s.used_mm2 for s in self.sheets) / whole


# Above the first, sheets this full, the strip search takes seconds to close them where the plain way may do it
# at once; above the second the plain way never did (measured, docs/sheets.md).
_PLAIN_FIRST, _PLAIN_FULLEST = 0.76, 0.90


def nest(
    kit: Kit,
    stock: Stock,
    *,
    seed: int = 0,
    effort: Effort = "normal",
    margin_mm: float = 5.0,
    gap_mm: float = 3.0,
    progress: Progress | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Nesting:
    """Lay every copy of every part on stock sheets.

    Parameters
    ----------
    kit, stock
        The parts, and the stock that knows the size of each part's sheet.
    seed : int
        The same seed and effort give the same layout, on any machine.
    effort : {"quick", "normal", "thorough"}
        How hard to look for the fewest sheets: "quick" leaves sheets a little emptier and takes a fraction of a
        second; "thorough" may take a minute where the parts nearly fill their sheets.
    margin_mm, gap_mm : float
        Left free along the edges of a sheet, and between two parts. [mm]
    progress : callable, optional
        Called with a fraction and a few words.
    should_stop : callable, optional
        When it returns true the search ends with the best layout so far.

    Raises
    ------
    SheetError
        If there is nothing to lay out, a part is larger than its sheet, or margin or gap make no sense.
    StockError
        If a part's material is not in stock.

    Notes
    -----
    Every layout is checked by geometry of its own before it is accepted: each copy once, inside the margins,
    no two nearer than the gap. A packer that fails the check, or crashes, is passed over for a plainer one.
    Parts are not laid into the holes of others.
    """
    _check(kit, margin_mm, gap_mm)
    stop = should_stop or (lambda: False)
    tell = progress or (lambda _fraction, _words: None)
    keys = list(dict.fromkeys(part.sheet for part in kit.parts))
    layouts: list[SheetLayout] = []
    materials: list[MaterialUse] = []
    for done, key in enumerate(keys):
        sheet = stock.sheet(key)
        tell(done / len(keys), f"laying out parts on {sheet.name}")
        parts = [part for part in kit.parts if part.sheet == key]
        copies = [(part, copy) for part in parts for copy in range(part.count)]
        room = Room(
            width_mm=1e3 * sheet.width_m - 2 * margin_mm,
            height_mm=1e3 * sheet.height_m - 2 * margin_mm,
            gap_mm=gap_mm,
        )
        shapes = [_shape(part, copy, sheet, room) for part, copy in copies]
        spots, method = _spots(shapes, room, effort, seed, stop)
        layouts += _layouts(copies, spots, sheet, margin_mm, len(layouts) + 1)
        used = sum(part.area_mm2 * part.count for part in parts)
        count = 1 + max(s.sheet for s in spots)
        materials.append(
            MaterialUse(
                sheet=key,
                name=sheet.name,
                sheets=count,
                bound=_bound(shapes, room),
                utilisation=used / (count * sheet.width_m * sheet.height_m * 1e6),
                method=method,
            )
        )
    tell(1.0, "parts laid out")
    return Nesting(
        kit=kit.name, sheets=tuple(layouts), materials=tuple(materials), margin_mm=margin_mm, gap_mm=gap_mm
    )


def _check(kit: Kit, margin_mm: float, gap_mm: float) -> None:
    if not kit.parts:
        raise SheetError("the kit has no parts, so there is nothing to lay out. Add a wing or a body.")
    for name, value in (("margin", margin_mm), ("gap", gap_mm)):
        if not (math.isfinite(value) and 0.0 <= value <= 100.0):
            raise SheetError(f"the {name} is {value:g} mm; it must lie between 0 and 100 mm")
    numbers = [part.number for part in kit.parts]
    twice = next((n for n in numbers if numbers.count(n) > 1), None)
    if twice is not None:
        names = " and ".join(repr(p.name) for p in kit.parts if p.number == twice)
        raise SheetError(f"{names} all have the number {twice}; number every part once, from 1")
    for part in kit.parts:
        runs = [part.outline, *part.holes, *(np.asarray(m.points, dtype=np.float64) for m in part.marks)]
        if not all(np.isfinite(points).all() for points in runs):
            raise SheetError(f"part {part.number} {part.name!r} has a point that is not a number. Redraw it.")


def _shape(part: Part, copy: int, sheet: Sheet, room: Room) -> Shape:
    points = simpler(part.outline * (-1.0, 1.0) if part.mirrored[copy] else part.outline)
    turns = _turns(part)
    x, y = points[:, 0], points[:, 1]
    area = 0.5 * abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))
    shape = Shape(points=points, turns=turns, area_mm2=area)
    if not fits(shape, room):
        width, height = part.size_mm
        held = "" if part.may_turn else ", and it may not be turned"
        raise SheetError(
            f"part {part.number} {part.name!r} is {width:.0f} x {height:.0f} mm{held}; a sheet of {sheet.name} "
            f"({sheet.key!r}) holds {room.width_mm:.0f} x {room.height_mm:.0f} mm inside its margins. "
            f"Split the part, choose a larger sheet, or make the margins smaller."
        )
    return shape


def _turns(part: Part) -> tuple[int, ...]:
    """The quarter turns a part may take; a grain drawn on it must run along the sheet's width."""
    if part.may_turn:
        return (0, 90, 180, 270)
    grain = next((np.asarray(m.points) for m in part.marks if m.kind == "grain"), None)
    upright = grain is not None and abs(np.ptp(grain[:, 1])) > abs(np.ptp(grain[:, 0]))
    return (90, 270) if upright else (0, 180)


def _bound(shapes: list[Shape], room: Room) -> int:
    """Fewest sheets the area allows: each part also takes half the gap round it, less where it meets an edge."""
    return max(1, math.ceil(sum(s.area_mm2 for s in shapes) / room.area_mm2 - 1e-9))


def _spots(
    shapes: list[Shape], room: Room, effort: Effort, seed: int, stop: Callable[[], bool]
) -> tuple[list[Spot], str]:
    """The fewest sheets first: a search for each number of sheets, until a plain layout needs no more."""
    budget = _BUDGETS[effort]
    best, method = shelves(shapes, room), "shelves"
    area = sum(s.area_mm2 for s in shapes) / room.area_mm2
    plain_tried = False
    for sheets in range(_bound(shapes, room), _count(best) + 1):
        full = area / sheets
        ways = ("plain", "strip") if full > _PLAIN_FIRST else ("strip", "plain")
        for way in ways:
            if stop() or (_count(best) <= sheets and method != "shelves"):
                return best, method
            if way == "strip" and full <= budget.fullest:
                tight = squeezed(
                    shapes, room, sheets, seed=seed, deals=budget.deals, reports=budget.reports, stop=stop
                )
                if tight is not None and sound(tight, shapes, room):
                    return tight, "strip"
            elif way == "plain" and full <= _PLAIN_FULLEST and not plain_tried:
                plain_tried = True
                plain = one_after_another(shapes, room, stop)
                if plain is not None and sound(plain, shapes, room) and _count(plain) <= _count(best):
                    best, method = plain, "one after another"
    return best, method


def _count(spots: list[Spot]) -> int:
    return 1 + max(s.sheet for s in spots)


def _layouts(
    copies: list[tuple[Part, int]], spots: list[Spot], sheet: Sheet, margin_mm: float, first: int
) -> list[SheetLayout]:
    made = []
    for index in range(_count(spots)):
        mine = sorted((s for s in spots if s.sheet == index), key=lambda s: s.shape)
        placed = tuple(
            Placed(
                part=copies[s.shape][0].number,
                copy=copies[s.shape][1],
                turn_deg=s.turn_deg,
                mirrored=copies[s.shape][0].mirrored[copies[s.shape][1]],
                # A thousandth of a millimetre is finer than any cutter and keeps the files short.
                dx_mm=round(s.dx_mm + margin_mm, 3),
                dy_mm=round(s.dy_mm + margin_mm, 3),
            )
            for s in mine
        )
        parts = [copies[s.shape][0] for s in mine]
        made.append(
            SheetLayout(
                number=first + index,
                sheet=sheet.key,
                name=sheet.name,
                thickness_mm=1e3 * sheet.thickness_m,
                width_mm=1e3 * sheet.width_m,
                height_mm=1e3 * sheet.height_m,
                papered=sheet.paper_thickness_m > 0.0,
                paper_note=_paper_note(parts, sheet),
                placed=placed,
                used_mm2=sum(part.area_mm2 for part in parts),
            )
        )
    return made


def _paper_note(parts: list[Part], sheet: Sheet) -> str:
    """What to peel after cutting, by part number; nothing where the sheet has no paper to peel."""
    if sheet.paper_thickness_m == 0.0:
        return ""
    words = []
    for paper, says in (("one", "peel one paper off"), ("none", "peel both papers off")):
        numbers = sorted({part.number for part in parts if part.paper == paper})
        if numbers:
            words.append(f"{says} {', '.join(str(n) for n in numbers)}")
    return "; ".join(words)
