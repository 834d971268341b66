"""Bodies and bits: slender-body moment, cross-flow, and a drag build-up.

References
----------
.. [1] M. M. Munk, "The aerodynamic forces on airship hulls", NACA TR-184, 1924 (apparent-mass factors).
.. [2] S. F. Hoerner, *Fluid-Dynamic Drag*, 1965 (coefficients in data/drag_areas.csv, from memory).
.. [3] H. J. Allen and E. W. Perkins, NACA TR-1048, 1951: potential and cross-flow parts added (from memory).
"""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from sheetlark.air.layout import Bit, Body
from sheetlark.air.surface import Floats, Surface

# Cross-flow drag of a long prism: 2.0 with square edges, 1.2 round (Hoerner, from memory), times 0.7 for the
# finite length of a model's body.
CROSS_FLOW_SQUARE = 2.0 * 0.7
CROSS_FLOW_ROUND = 1.2 * 0.7


def apparent_mass_factor(fineness: float) -> float:
    """Munk's k2 - k1 of a prolate spheroid of a given length over diameter. [-].

    From Lamb's integrals in closed form; 0 for a sphere, 1 for an endless body [1]_.
    """
    if fineness <= 1.0 + 1e-6:
        return 0.0
    e = math.sqrt(1.0 - 1.0 / fineness**2)
    alpha = 2.0 * (1.0 - e * e) / e**3 * (math.atanh(e) - e)
    beta = (1.0 / e**2) - (1.0 - e * e) / (2.0 * e**3) * math.log((1.0 + e) / (1.0 - e))
    return beta / (2.0 - beta) - alpha / (2.0 - alpha)


def body_fineness(body: Body) -> float:
    """Length over the diameter of a round section of the same greatest area."""
    return body.length_m / math.sqrt(4.0 / math.pi * body.frontal_area_m2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """Bodies and bits cut into short pieces for quick summing.

    at_m : shape (k, 3). [m]
    couple_m3 : shape (k, 2), volume times apparent-mass factor: pitch and yaw couples per q and angle. [m³]
    cross_m2 : shape (k, 2), drag area across the stream: vertical (z) and sideways (y). [m²]
    drag_m2 : shape (k,), drag area along the stream. [m²]
    drag_spread : shape (k,), relative.
    """

    at_m: Floats
    couple_m3: Floats
    cross_m2: Floats
    drag_m2: Floats
    drag_spread: Floats
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DragLine:
    """One line of the drag build-up.

    area_m2 : float
        Drag area: drag over dynamic pressure. [m²]
    spread : float
        Relative standard deviation. [-]
    source : str
    """

    name: str
    area_m2: float
    spread: float
    source: str


@cache
def _coefficients() -> dict[str, tuple[float, float, str]]:
    text = files("sheetlark.air").joinpath("data/drag_areas.csv").read_text("utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return {r["name"]: (float(r["coefficient"]), float(r["spread"]), r["source"]) for r in rows}


def skin_friction(reynolds: float) -> float:
    """Mean friction coefficient of one side, half laminar and half turbulent. [-].

    Mean of Blasius 1.328/sqrt(Re) and Prandtl's 0.074/Re^0.2: rough sheet with tape edges trips early
    (common practice, no source).
    """
    return 0.5 * (1.328 / math.sqrt(reynolds) + 0.074 / math.pow(reynolds, 0.2))


def nose_areas(body: Body) -> tuple[float, float]:
    """Drag areas of a body's front: of the face itself, and of what widens behind it. [m²].

    A flat or blunt front sheds the stream at its edges: its coefficient belongs to the face at the first station
    [2]_. From there the section grows at a slope; a gradual forebody costs little, and one that flares
    straight outwards is a face again. In between the coefficient goes with sin² of the flank's angle (our interpolation,
    no source). The coefficients of rounded and pointed noses are of the whole front already.
    """
    table = _coefficients()
    face_only = table[f"nose-{body.nose}"][0]
    if body.nose not in {"flat", "blunt"}:
        return face_only * body.frontal_area_m2, 0.0
    area = np.maximum.accumulate(body.width_m * body.height_m)
    grown = np.diff(area)
    flank = np.diff(np.sqrt(area / math.pi)) / np.diff(body.x_m)
    steep = flank**2 / (1.0 + flank**2)
    gradual, sharp = table["nose-widening"][0], table["nose-flat"][0]
    return face_only * float(area[0]), float((grown * (gradual + (sharp - gradual) * steep)).sum())


def front_coefficient(body: Body) -> float:
    """Drag coefficient of a body's front on its frontal area. [-]."""
    return sum(nose_areas(body)) / max(body.frontal_area_m2, 1e-9)


def drag_lines(
    bodies: Sequence[Body], bits: Sequence[Bit], surfaces: Sequence[Surface], reynolds_per_m: float
) -> tuple[DragLine, ...]:
    """Drag build-up of everything but the sheets of the surfaces themselves, line by line.

    Parameters
    ----------
    bodies, bits, surfaces
        Surfaces give hinge gaps and joints with bodies.
    reynolds_per_m : float
        Speed over kinematic viscosity. [1/m]
    """
    table = _coefficients()
    out: list[DragLine] = []

    def add(name: str, key: str, area: float) -> None:
        coefficient, spread, source = table[key]
        if area > 0.0:
            out.append(DragLine(name=name, area_m2=coefficient * area, spread=spread, source=source))

    for body in bodies:
        for words, key, found in zip(
            ("nose", "widening behind the nose"),
            (f"nose-{body.nose}", "nose-widening"),
            nose_areas(body),
            strict=True,
        ):
            if found > 0.0:
                _, spread, source = table[key]
                out.append(
                    DragLine(name=f"{body.name}: {words}", area_m2=found, spread=spread, source=source)
                )
        add(f"{body.name}: tail end", "tail-blunt", float(body.width_m[-1] * body.height_m[-1]))
        if body.open_underside:
            add(
                f"{body.name}: open underside",
                "open-underside",
                float(body.width_m.max() * body.height_m.max()),
            )
        friction = skin_friction(max(reynolds_per_m * body.length_m, 1e4))
        out.append(
            DragLine(
                name=f"{body.name}: skin",
                area_m2=friction * body.wetted_area_m2,
                spread=0.15,
                source="flat-plate friction, half laminar",
            )
        )
    for bit in bits:
        add(bit.name, bit.kind, bit.area_m2 * bit.count)
    for surface in surfaces:
        for control in surface.controls:
            if control.gap_m > 0.0:
                length = (control.to_eta - control.from_eta) * float(surface.steps_m.sum())
                chord = (1.0 - control.hinge_fraction) * float(np.mean(surface.chord_m))
                halves = 2.0 if surface.mirrored else 1.0
                add(f"{control.name}: gap", "gap", length * chord * halves)
    # Corners where surfaces meet bodies: 5 % of the bodies' drag for each surface that meets one, the
    # middle of Hoerner's range for sharp corners (from memory).
    if bodies:
        met = sum(1 for s in surfaces if s.role in {"wing", "tail", "canard", "fin"})
        own = sum(line.area_m2 for line in out)
        out.append(
            DragLine(
                name="corners and interference",
                area_m2=0.05 * min(met, 4) * own,
                spread=0.5,
                source="Hoerner 1965, ch. 8 (from memory)",
            )
        )
    return tuple(out)


def pieces_of(
    bodies: Sequence[Body], bits: Sequence[Bit], surfaces: Sequence[Surface], reynolds_per_m: float
) -> Pieces:
    """Cut bodies and bits into pieces whose loads add up to the whole."""
    at: list[Floats] = []
    couple: list[Floats] = []
    cross: list[Floats] = []
    names: list[str] = []
    lines = drag_lines(bodies, bits, surfaces, reynolds_per_m)
    for body in bodies:
        factor = apparent_mass_factor(body_fineness(body))
        side = CROSS_FLOW_SQUARE if body.square_corners else CROSS_FLOW_ROUND
        dx = np.diff(body.x_m)

        def mid(v: Floats) -> Floats:
            return np.asarray(0.5 * (v[1:] + v[:-1]), dtype=np.float64)

        width, height = mid(body.width_m), mid(body.height_m)
        at.append(np.stack([mid(body.x_m), 0.0 * dx, mid(body.middle_z_m)], axis=1))
        volume = width * height * dx * factor
        couple.append(np.stack([volume, volume], axis=1))
        cross.append(np.stack([side * width * dx, side * height * dx], axis=1))
        names += [body.name] * dx.size
    for bit in bits:
        at.append(np.array([bit.at_m], dtype=np.float64))
        couple.append(np.zeros((1, 2)))
        cross.append(np.array([[0.0, 1.1 * bit.side_area_m2 * bit.count]]))
        names.append(bit.name)
    if not at:
        empty = np.zeros((0, 3))
        return Pieces(
            at_m=empty,
            couple_m3=np.zeros((0, 2)),
            cross_m2=np.zeros((0, 2)),
            drag_m2=np.zeros(0),
            drag_spread=np.zeros(0),
            names=(),
        )
    places = np.vstack(at)
    drag, variance = np.zeros(len(names)), np.zeros(len(names))
    labels = np.array(names)
    for line in lines:
        owner = line.name.split(":", maxsplit=1)[0]
        mine = labels == owner
        share = mine / mine.sum() if mine.any() else np.full(len(names), 1.0 / len(names))
        drag += share * line.area_m2
        variance += share * (line.area_m2 * line.spread) ** 2
    return Pieces(
        at_m=places,
        couple_m3=np.vstack(couple),
        cross_m2=np.vstack(cross),
        drag_m2=drag,
        drag_spread=np.sqrt(variance) / np.maximum(drag, 1e-12),
        names=tuple(names),
    )
