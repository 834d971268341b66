"""A half wing held at its root: shear, moment, bending and twist along the span.

Stations run from the root (0) to the tip. Load, moment of twist and stiffness are given at stations and joined by straight
lines; the integrals are taken on a mesh much finer than the stations, crowded at the tip where lift goes to zero
steeply.

References
----------
.. [1] S. Timoshenko, "Strength of Materials", part 1, 3rd ed., 1955: beams by double integration (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from sheetlark.errors import SolveError

Floats: TypeAlias = npt.NDArray[np.float64]
_MESH = 801


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HalfWing:
    """What a half wing carries and how stiff it is, every array of shape (n,).

    y_m : from the root, rising, first 0. load_n_m : upward load per span. twist_nm_m : nose-up moment per span about the
    elastic axis. bending_nm2, torsion_nm2 : EI and GJ.
    """

    y_m: Floats
    load_n_m: Floats
    bending_nm2: Floats
    twist_nm_m: Floats
    torsion_nm2: Floats

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            own = np.array(getattr(self, name), dtype=np.float64)
            own.setflags(write=False)
            object.__setattr__(self, name, own)
            if own.shape != self.y_m.shape or own.ndim != 1 or own.size < 2:
                raise SolveError(
                    f"a half wing needs arrays of one length, two or more; {name} has shape {own.shape}"
                )
        if self.y_m[0] != 0.0 or not (np.diff(self.y_m) > 0.0).all():
            raise SolveError("stations must start at 0, the root, and rise to the tip")
        if not ((self.bending_nm2 > 0.0).all() and (self.torsion_nm2 > 0.0).all()):
            raise SolveError(
                f"stiffness must be positive everywhere; the least EI is {float(self.bending_nm2.min()):g}, "
                f"the least GJ {float(self.torsion_nm2.min()):g} N m²"
            )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bending:
    """How a half wing answers, every array of shape (n,), at y_m.

    shear_n, moment_nm : of what lies outboard. torque_nm : twisting moment. deflection_m, slope_rad : upwards.
    twist_rad : nose up.
    """

    y_m: Floats
    shear_n: Floats
    moment_nm: Floats
    torque_nm: Floats
    slope_rad: Floats
    deflection_m: Floats
    twist_rad: Floats

    @property
    def root_moment_nm(self) -> float:
        return float(self.moment_nm[0])

    @property
    def root_shear_n(self) -> float:
        return float(self.shear_n[0])

    @property
    def tip_deflection_m(self) -> float:
        return float(self.deflection_m[-1])

    @property
    def tip_twist_rad(self) -> float:
        return float(self.twist_rad[-1])

    def moment_at(self, y_m: float) -> float:
        """Bending moment at a station. [N m]."""
        return float(np.interp(y_m, self.y_m, self.moment_nm))


def bend(wing: HalfWing) -> Bending:
    """Shear, moment, torque, slope, deflection and twist of a cantilever ([1]_ of the module)."""
    span = float(wing.y_m[-1])
    return bend_along(
        span,
        load_n_m=lambda y: np.interp(y, wing.y_m, wing.load_n_m),
        bending_nm2=lambda y: np.interp(y, wing.y_m, wing.bending_nm2),
        twist_nm_m=lambda y: np.interp(y, wing.y_m, wing.twist_nm_m),
        torsion_nm2=lambda y: np.interp(y, wing.y_m, wing.torsion_nm2),
    )


def bend_along(
    semi_span_m: float,
    *,
    load_n_m: Callable[[Floats], Floats],
    bending_nm2: Callable[[Floats], Floats],
    twist_nm_m: Callable[[Floats], Floats] | None = None,
    torsion_nm2: Callable[[Floats], Floats] | None = None,
) -> Bending:
    """The same for load and stiffness given as functions of the station. All integrals by trapezia."""
    # cosine mesh: fine where an elliptic load ends
    y = semi_span_m * np.sin(np.linspace(0.0, 0.5 * np.pi, _MESH))
    y[-1] = semi_span_m
    load = np.asarray(load_n_m(y), dtype=np.float64)
    stiffness = np.asarray(bending_nm2(y), dtype=np.float64)
    shear = _from_tip(load, y)
    moment = _from_tip(shear, y)
    slope = _from_root(moment / stiffness, y)
    deflection = _from_root(slope, y)
    torque = np.zeros_like(y) if twist_nm_m is None else _from_tip(np.asarray(twist_nm_m(y)), y)
    twist = np.zeros_like(y) if torsion_nm2 is None else _from_root(torque / np.asarray(torsion_nm2(y)), y)
    return Bending(
        y_m=y,
        shear_n=shear,
        moment_nm=moment,
        torque_nm=torque,
        slope_rad=slope,
        deflection_m=deflection,
        twist_rad=twist,
    )


def _from_root(values: Floats, y: Floats) -> Floats:
    out = np.zeros_like(y)
    np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(y), out=out[1:])
    return out


def _from_tip(values: Floats, y: Floats) -> Floats:
    total = _from_root(values, y)
    return np.asarray(total[-1] - total, dtype=np.float64)


def elliptic_load(y_m: Floats, semi_span_m: float, half_lift_n: float) -> Floats:
    """Load per span of an elliptic lift that adds up to the half wing's lift. [N/m]."""
    part = np.clip(1.0 - (np.asarray(y_m) / semi_span_m) ** 2, 0.0, None)
    return np.asarray(4.0 * half_lift_n / (np.pi * semi_span_m) * np.sqrt(part), dtype=np.float64)
