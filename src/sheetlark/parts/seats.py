"""Where a wing lies on the body, or under it, and the way it takes when it comes off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sheetlark.outline import Floats
from sheetlark.parts import body as box_body
from sheetlark.parts.blank import Blank
from sheetlark.parts.fits import SADDLE_REACH_MM, THINNEST_MM
from sheetlark.parts.making import Assembly
from sheetlark.parts.panels import Panel
from sheetlark.parts.solids import PORT, Solid, union


@dataclass(frozen=True, slots=True, eq=False)
class Seat:
    """A wing that lies on the body, or under it, over a stretch of its length. [mm]."""

    panel: Panel
    x0: float
    x1: float
    on_top: bool


def seats_of(made: Assembly, shell: box_body.Shell) -> list[Seat]:
    """Every wing that lies on the body or under it."""
    found = []
    for p in made.wings:
        s = p.surface
        front, chord = s.chord_at(0.0)
        x0 = 1e3 * (s.at_m[0] + front)
        x1 = x0 + 1e3 * chord * float(np.cos(s.incidence_rad))
        if min(x1, shell.tail) - max(x0, shell.nose) < 10.0:
            continue
        mid = min(max(0.5 * (x0 + x1), shell.nose), shell.tail)
        y = float(np.interp(mid, shell.middle[:, 0], shell.middle[:, 1])) + shell.t / 2
        low, high = shell.heights(mid)
        under, over = p.underside(mid, y, -1), p.underside(mid, y, 1)
        if 0.5 * (low + high) < under < high + SADDLE_REACH_MM and over > high - THINNEST_MM:
            found.append(Seat(p, x0, x1, on_top=True))
        elif 0.5 * (low + high) > over > low - SADDLE_REACH_MM and under < low + THINNEST_MM:
            found.append(Seat(p, x0, x1, on_top=False))
    return found


def stretch(blank: Blank) -> tuple[float, float]:
    """From where to where a blank reaches along the body. [mm]."""
    b = blank.half().bounding_box()
    return (float(b[0]), float(b[3]))


WAY_OUT_MM = 40.0


def way_out(seat: Seat) -> Solid:
    """All a wing passes through as it is lifted off, or dropped: of each half the hull, so that the V stays open."""
    import manifold3d as m3

    half = seat.panel.fixed.half()
    far = WAY_OUT_MM if seat.on_top else -WAY_OUT_MM
    way = m3.Manifold.batch_hull([half, half.translate((0.0, 0.0, far))])
    return union([way, way.transform(PORT[:3])])


def saddle(shell: box_body.Shell, seat: Seat) -> Floats | None:
    """What is added to the body's side to reach a wing; (x, z) outline or None."""
    p = seat.panel
    mid = min(max(0.5 * (seat.x0 + seat.x1), shell.nose), shell.tail)
    y = float(np.interp(mid, shell.middle[:, 0], shell.middle[:, 1])) + shell.t / 2
    face: Literal[-1, 1] = -1 if seat.on_top else 1
    return box_body.saddle_fill(
        shell,
        lambda x: p.underside(x, y, face),
        seat.x0,
        seat.x1,
        on_top=seat.on_top,
    )
