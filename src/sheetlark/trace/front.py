"""The front view: how many wings, how far apart, their dihedral and spans."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sheetlark.trace.ink import Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrontWing:
    """One wing seen from ahead. z at the centre line, slope of its middle line, and half span. [mm, deg]"""

    z_mm: float
    dihedral_deg: float
    semi_mm: float


def front_wings(
    ink: Callable[[Floats, Floats], Floats], *, semi: float, low: float, high: float
) -> tuple[FrontWing, ...]:
    """Wings in a front view, lowest first.

    Parameters
    ----------
    ink : callable (y, z) -> ink strength, millimetres, centre line at y = 0.
    semi : float
        Half span of the largest wing.
    low, high : float
        Range of z to look in.

    Notes
    -----
    At each station the ink of both halves is gathered into clumps along z; a clump that goes on from station to
    station along a straight line is a wing. Struts, wheels and propellers do not go on.
    """
    z = np.arange(low, high, semi / 500.0)
    stations = np.linspace(0.30, 0.985, 110) * semi
    marks: list[tuple[float, float, float]] = []
    merge = 0.045 * semi
    for y in stations:
        yy = np.full(z.size, y)
        on = np.maximum(ink(yy, z), ink(-yy, z)) > 0.45
        k = np.nonzero(on)[0]
        if not k.size:
            continue
        for run in np.split(k, np.nonzero(np.diff(z[k]) > merge)[0] + 1):
            thick = float(z[run[-1]] - z[run[0]])
            if thick < 0.16 * semi:
                marks.append((float(y), float(z[run].mean()), thick))
    if len(marks) < 20:
        return ()
    pool = np.array(marks)
    wings: list[FrontWing] = []
    for _ in range(2):
        best: tuple[int, float, float] | None = None
        for slope in np.tan(np.radians(np.arange(-6.0, 14.1, 0.25))):
            at0 = pool[:, 1] - slope * pool[:, 0]
            order = np.sort(at0)
            wide = 0.02 * semi
            counts = np.searchsorted(order, order + wide) - np.arange(order.size)
            j = int(counts.argmax())
            if best is None or counts[j] > best[0]:
                best = (int(counts[j]), float(slope), float(order[j] + wide / 2))
        assert best is not None
        count, slope, at0 = best
        if count < 0.45 * stations.size:
            break
        mine = np.abs(pool[:, 1] - slope * pool[:, 0] - at0) < 0.022 * semi
        fine = np.polyfit(pool[mine, 0], pool[mine, 1], 1)
        step = float(stations[1] - stations[0])
        wings.append(
            FrontWing(
                z_mm=float(fine[1]),
                dihedral_deg=float(np.degrees(np.arctan(fine[0]))),
                semi_mm=float(min(pool[mine, 0].max() + 0.5 * step, semi)),
            )
        )
        pool = pool[np.abs(pool[:, 1] - fine[0] * pool[:, 0] - fine[1]) > 0.05 * semi]
        if len(pool) < 20:
            break
    if len(wings) == 2 and abs(wings[0].z_mm - wings[1].z_mm) < 0.10 * semi:
        wings = wings[:1]
    return tuple(sorted(wings, key=lambda w: w.z_mm))
