"""Where a servo is let into each half of a wing: ahead of what it moves, clear of spars and struts."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.starting.layout import Layout

if TYPE_CHECKING:
    from sheetlark.airframe import LiftingSurface
    from sheetlark.parts import Room
    from sheetlark.stock import Stock

# All of common practice, no source.
ROD_MM = 56.0  # from a servo to the hinge of what it moves; too near, its arm goes over its dead point
ROD_LEAST_MM, ROD_MOST_MM = 18.0, 90.0
SHARES = (0.4, 0.3, 0.5, 0.22, 0.6, 0.7)  # of the hinge line's length, where the rod may meet it
AHEAD_MM = 8.0  # of sheet left ahead of a servo
BESIDE_ROD_MM = 2.0  # of sheet left between it and a spar
STEP_MM = 2.0


def wing_servo(layout: Layout, room: Room, size: Floats, moves: str) -> tuple[Floats, float] | None:
    """The middle of a servo's place, shape (3,), and how far it is from there to the hinge; None where none is free. [mm]

    Parameters
    ----------
    size : ndarray, shape (3,)
        Length, width and height of the servo. [mm]
    moves : str
        What it moves: ailerons or elevons.
    """
    surface = next(
        (s for s in layout.airframe.surfaces if s.control is not None and s.control.moves == moves), None
    )
    if surface is None or (line := surface.hinge_line()) is None:
        return None
    places = _places(surface, line, float(size[0]), layout.stock)
    return next(((at, off) for at, off in places if _clear(room, at, size)), None)


def _places(
    surface: LiftingSurface,
    line: tuple[tuple[float, float], tuple[float, float]],
    long: float,
    stock: Stock,
) -> Iterator[tuple[Floats, float]]:
    """Places between the spars, the likeliest first."""
    (x0, y0), (x1, y1) = line
    half = long / 2
    offs = np.arange(ROD_LEAST_MM, ROD_MOST_MM, STEP_MM)
    for share in SHARES:
        y, hinge = y0 + share * (y1 - y0), 1e3 * (x0 + share * (x1 - x0))
        root = float(surface.stations[0][0])
        front, chord = (1e3 * v for v in surface.chord_at((y - root) / surface.half_span_m))
        rods = [(front + s.at * chord, _half(stock, s.rod)) for s in surface.spars]
        for off in sorted(offs.tolist(), key=lambda v: abs(v - ROD_MM)):
            x = hinge - off
            if x - half < front + AHEAD_MM:
                continue
            if any(abs(x - at) < half + wide + BESIDE_ROD_MM for at, wide in rods):
                continue
            yield 1e3 * surface.place(1e-3 * x, y), off


def _half(stock: Stock, key: str) -> float:
    """Half of a rod's width. [mm]"""
    rod = stock.rod(key)
    return 500.0 * max(rod.width_m, rod.outer_diameter_m)


def _clear(room: Room, place: Floats, size: Floats) -> bool:
    low, high = place - size / 2 - 1.0, place + size / 2 + 1.0
    return not any(word in name for name in room.meets(low, high) for word in ("strut", "body", "spar"))
