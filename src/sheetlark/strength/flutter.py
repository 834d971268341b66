"""A caution about wings too soft in twist: divergence and a first look at flutter.

Divergence is a steady state and follows from the stiffness; flutter here is an estimate for a typical section, good enough to
say "stiffen it" and no better.

References
----------
.. [1] T. Theodorsen, I. E. Garrick, "Mechanism of flutter: a theoretical and experimental investigation of the flutter
   problem", NACA TR 685, 1940: approximate flutter speed for a low ratio of bending to twisting frequency (from memory).
.. [2] R. L. Bisplinghoff, H. Ashley, R. L. Halfman, "Aeroelasticity", 1955, ch. 8: divergence of a straight wing, root of
   λ s = π/2 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sheetlark.errors import SolveError

RESERVE = 1.2  # least ratio of flutter to top speed, as CS-23.629 asks of dive speed (from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class TwistCaution:
    """Speeds at which a soft wing gives trouble, and the reserve over the top speed.

    divergence_ms, flutter_ms : infinite if it cannot happen.
    """

    divergence_ms: float
    flutter_ms: float
    top_ms: float

    @property
    def reserve(self) -> float:
        """The lower of both over the top speed."""
        return min(self.divergence_ms, self.flutter_ms) / self.top_ms

    @property
    def cautious(self) -> bool:
        """Whether to say so."""
        return self.reserve < RESERVE


def divergence_speed(
    *,
    torsion_nm2: float,
    semi_span_m: float,
    chord_m: float,
    elastic_axis: float,
    lift_slope_per_rad: float = 2.0 * math.pi,
    density_kg_m3: float = 1.225,
) -> float:
    """Speed at which a uniform straight wing twists off, [2]_ of the module. [m/s].

    q = (π/2)² GJ/(s² e c a), with e the elastic axis behind quarter chord (``elastic_axis`` is its part of the chord). Infinite
    if the elastic axis is at or ahead of quarter chord.
    """
    arm = (elastic_axis - 0.25) * chord_m
    if arm <= 0.0:
        return math.inf
    pressure = (math.pi / 2.0) ** 2 * torsion_nm2 / (semi_span_m**2 * arm * chord_m * lift_slope_per_rad)
    return math.sqrt(2.0 * pressure / density_kg_m3)


def flutter_speed(
    *,
    torsion_nm2: float,
    semi_span_m: float,
    chord_m: float,
    mass_kg_m: float,
    inertia_kg_m: float,
    mass_axis: float,
    density_kg_m3: float = 1.225,
) -> float:
    """Flutter speed of a uniform cantilever as a typical section, [1]_ of the module. [m/s].

    V = b ω √((r²/κ) · ½/(½ + a + x)), κ = π ρ b²/m, with the half chord b, radius of gyration r about the elastic axis,
    elastic axis a b behind mid-chord, mass x b behind it, first twisting frequency ω = (π/2s) √(GJ/I).

    Parameters
    ----------
    mass_kg_m, inertia_kg_m : float
        Mass per span and its moment of inertia about the elastic axis per span. [kg/m], [kg m]
    mass_axis : float
        Where the mass lies, as a part of the chord from the leading edge.

    Returns
    -------
    float
        Infinite if the mass lies so far forward (at or ahead of quarter chord) that the form says it cannot flutter.
    """
    if not (mass_kg_m > 0.0 and inertia_kg_m > 0.0):
        raise SolveError(f"flutter needs a wing with mass, got {mass_kg_m:g} kg/m and {inertia_kg_m:g} kg m")
    b = chord_m / 2.0
    # ½ + a + x is the mass axis behind quarter chord, in half chords
    behind = 2.0 * (mass_axis - 0.25)
    if behind <= 0.0:
        return math.inf
    frequency = math.pi / (2.0 * semi_span_m) * math.sqrt(torsion_nm2 / inertia_kg_m)
    gyration = inertia_kg_m / (mass_kg_m * b * b)
    density_ratio = math.pi * density_kg_m3 * b * b / mass_kg_m
    return b * frequency * math.sqrt(gyration / density_ratio * 0.5 / behind)


def twist_caution(
    *,
    torsion_nm2: float,
    semi_span_m: float,
    chord_m: float,
    mass_kg_m: float,
    inertia_kg_m: float,
    elastic_axis: float,
    mass_axis: float,
    top_ms: float,
    density_kg_m3: float = 1.225,
) -> TwistCaution:
    """Both speeds beside the top speed."""
    return TwistCaution(
        divergence_ms=divergence_speed(
            torsion_nm2=torsion_nm2,
            semi_span_m=semi_span_m,
            chord_m=chord_m,
            elastic_axis=elastic_axis,
            density_kg_m3=density_kg_m3,
        ),
        flutter_ms=flutter_speed(
            torsion_nm2=torsion_nm2,
            semi_span_m=semi_span_m,
            chord_m=chord_m,
            mass_kg_m=mass_kg_m,
            inertia_kg_m=inertia_kg_m,
            mass_axis=mass_axis,
            density_kg_m3=density_kg_m3,
        ),
        top_ms=top_ms,
    )
