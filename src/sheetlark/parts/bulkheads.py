"""Formers and the servo tray: what fills the body between sides, covers and what passes through."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sheetlark.errors import GeometryError, StockError
from sheetlark.parts import body as box_body
from sheetlark.parts import fittings
from sheetlark.parts.bays import size_mm
from sheetlark.parts.blank import Blank, Guest
from sheetlark.parts.cutting import named, straight_edge, yielding
from sheetlark.parts.decks import under_deck
from sheetlark.parts.facets import MITRE
from sheetlark.parts.fits import (
    EDGE_FIT_MM,
    MOTOR_FREE_MM,
    PASSAGE_MM,
    SADDLE_REACH_MM,
    SERVO_FIT_MM,
    SLOT_FIT_MM,
    SWEEP_MM,
)
from sheetlark.parts.making import Assembly
from sheetlark.parts.part import to_port
from sheetlark.parts.seats import Seat
from sheetlark.parts.solids import Solid, box, polygons, rod_solid
from sheetlark.parts.tabs import tab_into

_RIM_MM = 4.0  # left between a slot and the end of the sheet; common practice, no source


def fit_formers(
    made: Assembly,
    shell: box_body.Shell,
    seats: list[Seat],
    side: Blank,
    arches: list[list[Solid]],
    let_in: list[Guest],
    sweeps: list[Solid],
    cases: list[Solid],
) -> None:
    """A former at each station, its room what sides, covers, decks and guests leave."""
    from shapely.geometry import box as rectangle

    for i, station in enumerate(shell.body.formers):
        try:
            thickness = 1e3 * made.stock.sheet(station.sheet).thickness_m
        except StockError as error:
            raise GeometryError(str(error), ("body", "former", i, "sheet")) from None
        x = 1e3 * station.x_m
        blank = box_body.former(shell, station, thickness, i, None)
        for deck in arches:
            arch = under_deck(deck, shell, x, blank.matrix, thickness)
            if arch is not None:
                blank = box_body.former(shell, station, thickness, i, arch)
        for seat in seats:
            if seat.x0 < x < seat.x1:
                low_u, low_v, high_u, high_v = blank.shape.bounds
                reach = (
                    (low_v, high_v + SADDLE_REACH_MM) if seat.on_top else (low_v - SADDLE_REACH_MM, high_v)
                )
                blank.shape = rectangle(low_u, reach[0], high_u, reach[1])
                blank.yield_to(seat.panel.whole, EDGE_FIT_MM)
        for part in (side, *made.covers, *made.decks, *made.plates):
            blank.yield_to(part, EDGE_FIT_MM)
        pieces = [blank]
        for guests, free in ((let_in, EDGE_FIT_MM), (sweeps, SWEEP_MM), (cases, MOTOR_FREE_MM)):
            for guest in guests:
                pieces = yielding(pieces, guest, free)
        if made.wire is not None:
            pieces = yielding(pieces, rod_solid(made.wire), 0.3)
        for piece in pieces:
            piece.drop_slivers(3.0)
            _open(made, piece, station.opening, i)
        made.formers += named(pieces, blank.name)


def _open(made: Assembly, blank: Blank, share: float, index: int) -> None:
    """A former's opening, joined with the passages of what goes through it."""
    from shapely.geometry import box as rectangle
    from shapely.ops import unary_union

    holes = [h for h in [box_body.opening(blank, share)] if h is not None]
    room = blank.shape.buffer(-4.0, join_style=MITRE)
    for former, (y0, z0, y1, z1) in made.fitted.passing:
        if former == index:
            hole = rectangle(y0 - PASSAGE_MM, z0 - PASSAGE_MM, y1 + PASSAGE_MM, z1 + PASSAGE_MM)
            if room.contains(hole):
                holes.append(hole)
    if holes:
        merged = unary_union(holes).buffer(3.0).buffer(-3.0)
        blank.take(merged.intersection(blank.shape.buffer(-3.9, join_style=MITRE)))


def tab_former(made: Assembly, blank: Blank, side: Blank) -> None:
    """A tab each side, a third of the edge long, through the body side."""
    from shapely.geometry import box as rectangle

    if made.shell is not None:
        x, room = float(blank.matrix[0, 3]), 0.5 * blank.thickness + SLOT_FIT_MM + _RIM_MM
        if not made.shell.nose + room < x < made.shell.tail - room:
            return  # its slot would break out of the side's end: it is glued flush there
    low_u, _, high_u, _ = blank.shape.bounds
    edge = straight_edge(blank, high_u)
    if edge is None or edge[1] - edge[0] < 15.0:
        return
    a, b = edge
    length, mid = max(8.0, (b - a) / 3), 0.5 * (a + b)
    joint = tab_into(
        blank,
        side,
        (np.array([high_u, mid - length / 2]), np.array([high_u, mid + length / 2])),
        side.thickness,
    )
    tab = rectangle(low_u - side.thickness, mid - length / 2, low_u + 3.0, mid + length / 2)
    blank.shape = max(polygons(blank.shape.union(tab)), key=lambda p: p.area)
    if joint is not None:
        mirrored = tuple(tuple(to_port(p) for p in run) for run in joint.runs_mm)
        made.joints.append(replace(joint, runs_mm=(*joint.runs_mm, *mirrored)))


def fit_tray(made: Assembly, shell: box_body.Shell) -> None:
    """The tray of the servos inside the body, where there are any."""
    inside = []
    for servo in made.fitted.servos:
        size = size_mm(servo, made.stock)
        x, y, z = (1e3 * v for v in servo.at_m)
        if size is None or not shell.nose < x < shell.tail:
            continue
        low, high = shell.heights(x)
        if low < z < high and abs(y) < float(shell.inside(x)):
            inside.append((servo, np.asarray(size)))
    tray = fittings.servo_tray(shell, inside)
    if tray is None:
        return
    for blank in (*made.formers, *made.sides, *made.struts, *made.covers):
        tray.yield_to(blank, EDGE_FIT_MM)
    for p in made.flats:
        tray.yield_to(p.whole, EDGE_FIT_MM)
    for servo, case in inside:
        middle = 1e3 * np.asarray(servo.at_m)
        tray.yield_to(box(middle - case / 2, middle + case / 2), SERVO_FIT_MM)
    made.tray = [tray]
