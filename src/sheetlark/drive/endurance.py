"""How long the battery lasts, and what ends the flight.

A flight is a mix of phases flown by turns; the charge is integrated from full down, the current solved anew at
each state of charge, because a sagging pack draws less at full throttle and more to hold a thrust.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sheetlark.drive.battery import CUT_OFF_V, RESERVE
from sheetlark.drive.settling import Circuits, DriveLine, pack_at, settle, throttled
from sheetlark.errors import SolveError

RADIO_A = 0.25  # receiver and four small servos at work, at the pack (typical, common practice)
SLICES = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """A part of the flight: a share of the time at a speed, at a throttle or holding a thrust.

    Exactly one of ``throttle`` (0 to 1) and ``thrust_n`` is given.
    """

    share: float
    airspeed_ms: float
    throttle: float | None = None
    thrust_n: float | None = None

    def __post_init__(self) -> None:
        if (self.throttle is None) == (self.thrust_n is None):
            raise SolveError("a phase needs either a throttle or a thrust_n")
        if not (math.isfinite(self.share) and self.share > 0):
            raise SolveError(f"a phase's share must be above 0, got {self.share:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Duration:
    """How long, and why no longer.

    time_s : float
    charge_left : float
        State of charge at the end. [-]
    mean_current_a : float
    least_cell_v : float
        Lowest loaded cell voltage on the way. [V]
    ends : str
        "reserve": the stated charge is left; "cut-off": the cells sag to 3.0 V under load; "thrust": the
        sagging pack no longer holds a thrust that a phase asks.
    """

    time_s: float
    charge_left: float
    mean_current_a: float
    least_cell_v: float
    ends: Literal["reserve", "cut-off", "thrust"]


def duration(
    drive: DriveLine,
    *phases: Phase,
    reserve: float = RESERVE,
    density_kg_m3: float = 1.225,
    pack_temperature_k: float = 298.15,
    radio_a: float = RADIO_A,
    cut_off_v: float = CUT_OFF_V,
) -> Duration:
    """Fly a mix of phases from a full pack down to a reserve, or until it cannot go on.

    Raises
    ------
    SolveError
        For no phase, a reserve outside 0 to 0.95, or a mix that draws nothing.
    """
    if not phases:
        raise SolveError("a flight needs at least one phase")
    if not 0.0 <= reserve <= 0.95:
        raise SolveError(f"the reserve must be from 0 to 0.95 of the charge, got {reserve:g}")
    edges = np.linspace(1.0, reserve, SLICES + 1)
    charge = 0.5 * (edges[:-1] + edges[1:])
    c = Circuits.of(drive).repeated(SLICES)
    total = sum(phase.share for phase in phases)
    mean = np.full(SLICES, radio_a)
    lowest = np.full(SLICES, np.inf)
    for phase in phases:
        if phase.throttle is not None:
            s = settle(
                c,
                airspeed_ms=phase.airspeed_ms,
                throttle=phase.throttle,
                charge=charge,
                density_kg_m3=density_kg_m3,
                pack_temperature_k=pack_temperature_k,
            )
            drawn, volts = s.pack_current_a, s.pack_voltage_v
        else:
            assert phase.thrust_n is not None
            _, drawn = throttled(
                c,
                thrust_n=phase.thrust_n,
                airspeed_ms=phase.airspeed_ms,
                charge=charge,
                density_kg_m3=density_kg_m3,
                pack_temperature_k=pack_temperature_k,
            )
            resting, pack_ohm = pack_at(c, charge, pack_temperature_k)
            volts = resting - drawn * pack_ohm
        mean = mean + phase.share / total * drawn
        lowest = np.fmin(lowest, volts / drive.pack.cells)
    slice_s = drive.pack.capacity_ah * 3600.0 * (1.0 - reserve) / SLICES / np.maximum(mean, 1e-9)
    if np.nanmax(mean) <= 0.0:
        raise SolveError("this mix draws no current; give it a throttle or a thrust above 0")
    lost, sagged = np.isnan(mean), lowest < cut_off_v
    stop = np.flatnonzero(lost | sagged)
    last = int(stop[0]) if stop.size else SLICES
    ends: Literal["reserve", "cut-off", "thrust"] = "reserve"
    if last < SLICES:
        ends = "cut-off" if sagged[last] else "thrust"
    time = float(np.sum(slice_s[:last]))
    used = float(np.sum(mean[:last] * slice_s[:last]))
    seen = lowest[: last + 1]
    return Duration(
        time_s=time,
        charge_left=float(edges[last]),
        mean_current_a=used / time if time > 0.0 else 0.0,
        least_cell_v=float(np.nanmin(seen)) if np.isfinite(seen).any() else math.nan,
        ends=ends,
    )
