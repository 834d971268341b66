"""Sections made of sheet: what they are like cut along the stream, and how they behave at model scale.

The behaviour is a small model read from data/sections.csv, where every line names its sources; the lattice
supplies the angle the air meets, this module what the sheet makes of it, through and past the stall.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sheetlark.errors import GeometryError

EdgeShape = Literal["square", "rounded", "bevelled"]
SectionKind = Literal["flat", "arc", "folded", "hollow", "stepped"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A section made of sheet.

    kind : str
        "flat" plate; "arc": circular-arc camber; "folded": flat with the rear folded down at one line;
        "hollow": two layers folded over a spar; "stepped": plate with a second layer in front (a step).
    thickness_ratio : float
        Greatest thickness over chord. [-]
    edge : str
        Leading edge: "square", "rounded" or "bevelled".
    camber_ratio : float
        Greatest height of the mean line over chord. [-]
    camber_at : float
        Where that height lies along the chord (arcs: 0.5). [-]
    """

    kind: SectionKind = "flat"
    thickness_ratio: float = 0.02
    edge: EdgeShape = "rounded"
    camber_ratio: float = 0.0
    camber_at: float = 0.5

    def __post_init__(self) -> None:
        if not 0.0 < self.thickness_ratio <= 0.2:
            raise GeometryError(
                f"section thickness must be above 0 and at most 0.2 of the chord, got {self.thickness_ratio:g}"
            )
        if not abs(self.camber_ratio) <= 0.15:
            raise GeometryError(
                f"section camber must stay within 0.15 of the chord, got {self.camber_ratio:g}"
            )
        if not 0.05 <= self.camber_at <= 0.95:
            raise GeometryError(
                f"the top of the camber must lie within 0.05 to 0.95 chord, got {self.camber_at:g}"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionBehaviour:
    """How a section behaves at one Reynolds number.

    slope : float
        Lift slope over 2 pi. [-]
    leave_rad, gone_rad : float
        Leading-edge angle where the flow begins to leave, and where it is wholly separated. [rad]
    suction : float
        Share of leading-edge suction kept at small angles. [-]
    drag_at_zero_lift : float
        Friction and edges. [-]
    lift_spread, drag_spread : float
        Relative standard deviations. [-]
    source : str
        Letters of data/sections.csv.
    thin : bool
        True where no measurement was opened: trends and memory only.
    """

    slope: float
    leave_rad: float
    gone_rad: float
    suction: float
    drag_at_zero_lift: float
    lift_spread: float
    drag_spread: float
    source: str
    thin: bool


REYNOLDS_RANGE = (2.0e4, 3.0e5)


@cache
def _table() -> dict[tuple[str, str], dict[str, str]]:
    text = files("sheetlark.air").joinpath("data/sections.csv").read_text("utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return {(row["kind"], row["edge"]): row for row in rows}


def behaviour(section: Section, reynolds: float) -> SectionBehaviour:
    """Behaviour of a section at a chord Reynolds number.

    Drag at zero lift is laminar friction on both sides, 2 x 1.328 / sqrt(Re) (Blasius), a quarter more for
    the share that is turbulent or reattached, plus an edge drag that grows with thickness. The lift slope
    falls by up to 5 % from 2 to 6 % thickness [M]. Outside 2e4 to 3e5 the ends of the range are used and the
    spreads doubled.
    """
    row = _table()[section.kind, section.edge]
    low, high = REYNOLDS_RANGE
    held = min(max(reynolds, low), high)
    wider = 1.0 if held == reynolds else 2.0
    thick = section.thickness_ratio
    plate = section.kind in {"flat", "arc", "folded"}
    slope = float(row["slope"]) - (1.2 * min(max(thick - 0.02, 0.0), 0.04) if plate else 0.0)
    share = (held / 1e5) ** float(row["reynolds_power"])
    friction = 1.25 * 2.0 * 1.328 / math.sqrt(held)
    return SectionBehaviour(
        slope=slope,
        leave_rad=math.radians(float(row["leave_deg"])) * min(max(share, 0.6), 1.2),
        gone_rad=math.radians(float(row["gone_deg"])),
        suction=float(row["suction"]),
        drag_at_zero_lift=friction + float(row["edge_drag"]) * thick + 0.15 * abs(section.camber_ratio),
        lift_spread=float(row["lift_spread"]) * wider,
        drag_spread=float(row["drag_spread"]) * wider,
        source=row["source"],
        thin=not set(row["source"].split()) & {"P", "A"} or wider > 1.0,
    )


def separated_normal_force(
    sine: NDArray[np.float64], aspect_ratio: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Normal-force coefficient of a fully separated plate, signed as `sine`; arrays broadcast.

    C_N = 1.98 [1/(0.56 + 0.44 sin a) - 0.41 (1 - exp(-17/AR))] sin a (Hoerner's plates as put into one
    formula by Lindenburg; second hand). As AR grows without bound it tends to Hoerner's two-dimensional
    1/(0.222 + 0.283/sin a).
    """
    size = np.abs(sine)
    finite = 0.41 * (1.0 - np.exp(-17.0 / aspect_ratio))
    return np.asarray(1.98 * (1.0 / (0.56 + 0.44 * size) - finite) * sine, dtype=np.float64)


def separated_pressure_point(angle: NDArray[np.float64]) -> NDArray[np.float64]:
    """Centre of pressure of a separated plate behind the leading edge, over chord, for |angle| 0 to pi. [-].

    0.25 + 0.25 - 0.175 (1 - a/90 deg): 0.325 at small angles, 0.5 square to the stream (second hand, the
    flight-dynamics fit of data/sections.csv, source K).
    """
    return np.asarray(0.5 - 0.175 * (1.0 - np.abs(angle) / (0.5 * np.pi)), dtype=np.float64)


@cache
def mean_line_terms(section: Section) -> tuple[float, float]:
    """Thin-aerofoil terms of the mean line: shift of A0 against the chord line, and A1/2. [rad].

    Lift is 2 pi (A0 + A1/2), and A0 alone loads the leading edge, so it decides when the flow leaves.
    """
    theta = (np.arange(2000) + 0.5) * np.pi / 2000
    slope = mean_line_slope(section, 0.5 * (1.0 - np.cos(theta)))
    return float(slope.mean()), float(-(slope * np.cos(theta)).mean())


def flap_terms(hinge_fraction: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The same two terms per radian of a plain flap (H. Glauert, ARC R&M 1095, 1927)."""
    theta = np.arccos(np.clip(1.0 - 2.0 * hinge_fraction, -1.0, 1.0))
    return 1.0 - theta / np.pi, np.sin(theta) / np.pi


def flap_effectiveness(deflection_rad: float, gap_over_chord: float = 0.0) -> float:
    """Share of a plain flap's theoretical effect that real air gives, at a deflection. [-].

    0.90 up to 10 degrees falling to 0.70 at 30 and 0.55 at 50 (from memory; a flap on a tunnel model lost a
    fifth of its effect by 30 degrees, second hand); an open gap of 1 % of the chord costs another tenth.
    """
    size = math.degrees(abs(deflection_rad))
    if size <= 10.0:
        share = 0.90
    elif size <= 30.0:
        share = 0.90 - 0.010 * (size - 10.0)
    elif size <= 50.0:
        share = 0.70 - 0.0075 * (size - 30.0)
    else:
        share = max(0.55 - 0.00375 * (size - 50.0), 0.40)
    return share * (1.0 - 10.0 * min(gap_over_chord, 0.02))


def mean_line_slope(section: Section, at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Slope of the mean line, as incidence (nose up positive), at fractions of the chord. [rad].

    An arc of camber f has slope 4 f (1 - 2 x) downwards; a fold is two straight pieces through its top.
    """
    f, top = section.camber_ratio, section.camber_at
    if f == 0.0:
        return np.zeros_like(at)
    if section.kind == "folded":
        rise = np.where(at < top, f / top, -f / (1.0 - top))
    else:
        ahead, behind = 2.0 * f * (top - at) / top**2, 2.0 * f * (top - at) / (1.0 - top) ** 2
        rise = np.where(at < top, ahead, behind)
    return np.asarray(-rise, dtype=np.float64)
