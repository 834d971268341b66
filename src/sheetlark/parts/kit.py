"""The kit of an airframe: found once for each set of shapes, then marked with what moves about in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from sheetlark.airframe import Airframe, BodyShape, Equipment, LiftingSurface, PlacedStrut
from sheetlark.design import Gear
from sheetlark.outline import Floats
from sheetlark.parts.assembly import assemble
from sheetlark.parts.bays import bays, drive_axes, motor_cases
from sheetlark.parts.decals import with_decals
from sheetlark.parts.making import Fitted
from sheetlark.parts.part import Kit, Mark, Part
from sheetlark.stock import Stock


@dataclass(frozen=True, slots=True)
class _Shape:
    """All that decides how the parts are cut."""

    name: str
    surfaces: tuple[LiftingSurface, ...]
    body: BodyShape | None
    struts: tuple[PlacedStrut, ...]
    gear: Gear | None
    motors: tuple[tuple[Equipment, tuple[float, float, float]], ...]
    pusher: bool
    servos: tuple[Equipment, ...]
    passing: tuple[tuple[int, tuple[float, ...]], ...]
    plate: str


def make_kit(airframe: Airframe, stock: Stock) -> Kit:
    """Every flat part of an airframe, what joins them, and the rods let into them.

    Found once for each set of shapes: a battery that moves between two formers cuts nothing anew, only its
    place is drawn afresh.

    Raises
    ------
    GeometryError
        If a part cannot be made; the message names it, `where` its place in the design.
    StockError
        If a sheet or a rod is not in stock.
    """
    motors = tuple((motor, (float(a[0]), float(a[1]), float(a[2]))) for motor, a in drive_axes(airframe))
    shape = _Shape(
        name=airframe.name,
        surfaces=airframe.surfaces,
        body=airframe.body,
        struts=airframe.struts,
        gear=airframe.gear,
        motors=motors,
        pusher=airframe.drive is not None and airframe.drive.pusher,
        servos=tuple(e for e in airframe.equipment if e.kind == "servo"),
        passing=_passing(airframe, stock),
        plate=airframe.plate_sheet,
    )
    kit = _made(shape, stock, _Cases(motor_cases(airframe, stock)))
    return with_decals(_with_places(kit, airframe, stock), airframe)


class _Cases:
    """Motor cases as solids; they follow from the motors, which are in the key, so all are alike to it."""

    def __init__(self, cases: tuple[tuple[str, object], ...]) -> None:
        self.cases = cases

    def __hash__(self) -> int:
        return 0

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Cases)


@lru_cache(maxsize=32)
def _made(shape: _Shape, stock: Stock, cases: _Cases) -> Kit:
    made = assemble(
        Fitted(
            surfaces=shape.surfaces,
            body=shape.body,
            struts=shape.struts,
            gear=shape.gear,
            motors=shape.motors,
            cases=tuple(solid for _, solid in cases.cases),
            pusher=shape.pusher,
            servos=shape.servos,
            passing=shape.passing,
            plate=shape.plate,
        ),
        stock,
    )
    return Kit(
        name=shape.name,
        parts=tuple(blank.finished(i + 1) for i, blank in enumerate(made.blanks())),
        joints=tuple(made.joints),
        rods=tuple(made.rods),
        swings=tuple(made.swings),
        removals=tuple(made.removals),
        push_rods=tuple(made.push_rods),
        notes=tuple(made.notes),
    )


def _passing(airframe: Airframe, stock: Stock) -> tuple[tuple[int, tuple[float, ...]], ...]:
    """What of the battery and the boxes goes through which former: (former, (y0, z0, y1, z1) in mm)."""
    if airframe.body is None:
        return ()
    found = []
    for bay in bays(airframe, stock):
        if bay.item.kind == "servo":
            continue
        for i, former in enumerate(airframe.body.formers):
            half = 500.0 * stock.sheet(former.sheet).thickness_m
            x = 1e3 * former.x_m
            if bay.low_mm[0] < x + half and bay.high_mm[0] > x - half:
                low, high = bay.low_mm, bay.high_mm
                found.append((i, tuple(round(float(v), 2) for v in (low[1], low[2], high[1], high[2]))))
    return tuple(found)


def _with_places(kit: Kit, airframe: Airframe, stock: Stock) -> Kit:
    """The kit with the places of battery, receiver and controller drawn on the body's side."""
    sides = [p for p in kit.parts if p.name.startswith("body side") and p.group == "body"]
    for side in sides:
        kit = _swapped(kit, _with_bays(side, airframe, stock))
    return kit


def _with_bays(side: Part, airframe: Airframe, stock: Stock) -> Part:
    marks = list(side.marks)
    for bay in bays(airframe, stock):
        if bay.item.kind == "servo":
            continue
        x0, x1 = float(bay.low_mm[0]), float(bay.high_mm[0])
        z0, z1 = float(bay.low_mm[2]), float(bay.high_mm[2])
        note = bay.item.name
        if bay.item.kind == "pack" and airframe.drive is not None and airframe.drive.pack_travel > 0:
            note += f", moves ±{1e3 * airframe.drive.pack_travel:.0f} mm"
        corners = [on_sheet(side, x, z) for x, z in ((x0, z0), (x1, z0), (x1, z1), (x0, z1), (x0, z0))]
        marks.append(Mark("place", tuple(corners), note))
    return replace(side, marks=tuple(marks))


def with_balance(kit: Kit, airframe: Airframe, balance_x_mm: float) -> Kit:
    """The kit with the balance point drawn on the body's side and on every wing.

    Parameters
    ----------
    balance_x_mm : float
        On the geometry axes. [mm]
    """
    for part in kit.parts:
        if part.name.startswith("body side") and part.group == "body":
            low, high = float(part.outline[:, 1].min()), float(part.outline[:, 1].max())
            u = on_sheet(part, balance_x_mm, 0.0)[0]
            mark = Mark("balance", ((u, low + 4.0), (u, high - 4.0)), "balances here")
            kit = _swapped(kit, replace(part, marks=(*part.marks, mark)))
    for wing in airframe.wings:
        part = next(p for p in kit.parts if p.name in {wing.name, f"{wing.name} panel"})
        front, chord = wing.chord_at(0.0)
        root = [wing.place(front + share * chord, 0.0)[0] for share in (0.0, 1.0)]
        if 1e3 * root[0] < balance_x_mm < 1e3 * root[1]:
            u = on_sheet(part, balance_x_mm, 0.0)[0]
            mark = Mark("balance", ((u, 0.0), (u, 20.0)), "balances here")
            kit = _swapped(kit, replace(part, marks=(*part.marks, mark)))
    return kit


def on_sheet(part: Part, x_mm: float, z_mm: float) -> tuple[float, float]:
    """Where a place of the side view lies on a body side's sheet. [mm]."""
    pieces = part.copies[0]

    def miss(m: Floats, low: float, high: float) -> tuple[float, float]:
        u = (x_mm - m[0, 3]) / m[0, 0]
        return max(low - u, u - high, 0.0), float(u)

    best = min(miss(p.matrix, float(p.outline[:, 0].min()), float(p.outline[:, 0].max())) for p in pieces)
    return (best[1], float(z_mm))


def _swapped(kit: Kit, part: Part) -> Kit:
    return replace(kit, parts=tuple(part if p.number == part.number else p for p in kit.parts))
