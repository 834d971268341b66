"""A propeller's thrust and power, from size and style, and better once it has been measured."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, overload

import numpy as np

from sheetlark.drive.family import (
    MEASUREMENT_NOISE,
    TERMS,
    Family,
    Floats,
    gauge,
    measured_family,
    reduced_advance,
    reynolds_measure,
    series,
    series_slopes,
)
from sheetlark.errors import GeometryError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

JOIN = 1.0  # reduced advance beyond which the series hands over to the windmilling form
STOPPED_THRUST, STOPPED_POWER = 0.03, 0.02  # of a stopped propeller over J²: see `curves`
# Ideal over actual power: the best measured propellers reach 0.72 standing still, 0.85 from z = 0.5 on.
BEST_STATIC, BEST_FLYING = 0.75, 0.88
BEST_WINDMILL = 0.6  # of drag power that a windmill turns into shaft power; momentum theory allows 2/3
BLADE_THRUST, BLADE_POWER = 0.60, 0.93  # exponents of blades/2: see `Propeller`
BLADE_SPREAD = 0.06
WIDEST_SPREAD = 10.0
READING_NOISE = 0.01  # of a careful bench reading, relative


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredPoint:
    """A point of a person's own propeller: coefficients at an advance ratio and speed, one may be missing.

    spread : float
        Relative standard deviation of the reading itself. [-]
    """

    rpm: float
    advance_ratio: float
    thrust_coefficient: float | None
    power_coefficient: float | None
    spread: float = READING_NOISE


def ideal_power_coefficient(thrust_coefficient: Floats, advance_ratio: Floats) -> Floats:
    """Least power coefficient that momentum theory allows for a positive thrust coefficient.

    P = T(V + w), w = -V/2 + sqrt(V²/4 + T/(2ρA)), in coefficients of nD.
    """
    ct = np.maximum(thrust_coefficient, 0.0)
    half = 0.5 * np.asarray(advance_ratio)
    return np.asarray(ct * (half + np.sqrt(half**2 + 2.0 * ct / math.pi)), dtype=np.float64)


def curves(
    coefficients: Floats,
    *,
    pitch_ratio: Floats | float,
    diameter_m: Floats | float,
    blades: Floats | float,
    advance_ratio: Floats,
    rpm: Floats,
) -> tuple[Floats, Floats]:
    """Thrust and power coefficients of one or many propellers.

    Parameters
    ----------
    coefficients : shape (..., 12)
        Of the two series.
    pitch_ratio, diameter_m, blades, advance_ratio, rpm : shape (...)

    Returns
    -------
    tuple of ndarray, shape (...)

    Notes
    -----
    Beyond the advance ratio where thrust ends, the curve goes on with its value and slope there and a term in
    -J² that is that of a stopped propeller in the wind: blades of area 0.055 D² broadside with a drag
    coefficient of 1.1 give 0.03; a tangential share of half of it at 0.35 D gives 0.02 in power (estimates). For
    power the term is made larger where it must be for torque at a given airspeed to rise with speed throughout,
    slope/(2 J) at the join and a tenth more: else motor and propeller could settle at two speeds.
    Power is never below what momentum theory asks for the thrust, nor does a windmill give more than it allows.
    """
    p = np.asarray(pitch_ratio, dtype=np.float64)
    z = reduced_advance(advance_ratio, p)
    # Windmilling, the wind more than the turning feeds the blades: take the speed at which they would just coast.
    measure = reynolds_measure(diameter_m, rpm * np.maximum(z / JOIN, 1.0))
    inner = np.minimum(z, JOIN)
    terms = series(inner, measure)
    slope_terms = series_slopes(inner, measure)
    beyond = np.maximum(z - JOIN, 0.0)
    width = p + 0.13  # J per unit of reduced advance
    joined = []
    for half, scale in zip((coefficients[..., :TERMS], coefficients[..., TERMS:]), gauge(p), strict=True):
        value = np.einsum("...k,...k->...", terms, half)
        # A blade always loses thrust and sheds power as it windmills faster: hold the slope to that.
        slope = np.minimum(np.einsum("...k,...k->...", slope_terms, half), -0.6)
        joined.append((scale * (value + slope * beyond), scale * slope / width))
    fall = np.maximum(STOPPED_POWER, -0.55 * joined[1][1] / width)
    b = np.asarray(blades, dtype=np.float64) / 2.0
    thrust = (joined[0][0] - STOPPED_THRUST * (width * beyond) ** 2) * b**BLADE_THRUST
    power = (joined[1][0] - fall * (width * beyond) ** 2) * b**BLADE_POWER
    best = BEST_STATIC + (BEST_FLYING - BEST_STATIC) * np.minimum(z / 0.5, 1.0)
    least = np.where(
        thrust > 0.0,
        ideal_power_coefficient(thrust, advance_ratio) / best,
        BEST_WINDMILL * thrust * advance_ratio,
    )
    return thrust, np.maximum(power, least)


@dataclass(frozen=True, slots=True)
class Propeller:
    """A propeller by diameter, pitch, blade style and number of blades.

    Parameters
    ----------
    diameter_m, pitch_m : float
        Nominal size.
    style : str
        Blade style, as the measured family names them.
    blades : int
        2 to 6. More than two were not measured: thrust grows as (B/2)^0.6 and power as (B/2)^0.93, from blade
        element and momentum theory at equal pitch (solidity up by half lifts thrust by 27 %: its induced
        velocity grows too); the spread grows by 6 % for it.
    points : tuple of MeasuredPoint
        A person's own readings; use `calibrated`.

    Raises
    ------
    GeometryError
        For a size that cannot be.
    StockError
        For a style nobody measured.
    """

    diameter_m: float
    pitch_m: float
    style: str = "thin-electric"
    blades: int = 2
    points: tuple[MeasuredPoint, ...] = ()
    family: Family | None = field(default=None, repr=False)
    _mean: Floats = field(init=False, repr=False, compare=False)
    _covariance: Floats = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        for name, value, most in (("diameter_m", self.diameter_m, 2.0), ("pitch_m", self.pitch_m, 2.0)):
            if not (math.isfinite(value) and 0.01 <= value <= most):
                raise GeometryError(f"{name} must be between 0.01 and {most:g} m, got {value:g}")
        if not 0.1 <= self.pitch_m / self.diameter_m <= 2.5:
            ratio = self.pitch_m / self.diameter_m
            raise GeometryError(f"pitch over diameter must be between 0.1 and 2.5, got {ratio:.2f}")
        if not 2 <= self.blades <= 6:
            raise GeometryError(f"a propeller has 2 to 6 blades here, got {self.blades}")
        family = self.family or measured_family()
        mean, covariance = family.expect(
            pitch_ratio=self.pitch_ratio, diameter_m=self.diameter_m, style=self.style
        )
        for point in self.points:
            mean, covariance = self._told(mean, covariance, point)
        object.__setattr__(self, "_mean", mean)
        object.__setattr__(self, "_covariance", covariance)

    @property
    def pitch_ratio(self) -> float:
        return self.pitch_m / self.diameter_m

    @property
    def series_coefficients(self) -> Floats:
        """The coefficients of its two series, shape (14,)."""
        return self._mean

    @overload
    def coefficients(self, advance_ratio: float, rpm: float) -> tuple[float, float]: ...
    @overload
    def coefficients(self, advance_ratio: ArrayLike, rpm: ArrayLike) -> tuple[Floats, Floats]: ...
    def coefficients(
        self, advance_ratio: ArrayLike, rpm: ArrayLike
    ) -> tuple[float, float] | tuple[Floats, Floats]:
        """Thrust and power coefficients, T/(ρn²D⁴) and P/(ρn³D⁵), n in rev/s.

        Parameters
        ----------
        advance_ratio : array_like, shape (...)
            V/(nD), from 0 (static) upwards; past zero thrust it brakes, past zero power it windmills. [-]
        rpm : array_like, shape (...)
            Speed, above 0; it sets the blades' Reynolds number. [rev/min]

        Returns
        -------
        tuple of float or ndarray, shape (...)
            Floats for floats.

        Raises
        ------
        GeometryError
            If an advance ratio is negative or a speed not above 0.
        """
        j, speed, single = self._checked(advance_ratio, rpm)
        thrust, power = curves(
            self._mean,
            pitch_ratio=self.pitch_ratio,
            diameter_m=self.diameter_m,
            blades=self.blades,
            advance_ratio=j,
            rpm=speed,
        )
        return (float(thrust), float(power)) if single else (thrust, power)

    @overload
    def spread(self, advance_ratio: float, rpm: float) -> tuple[float, float]: ...
    @overload
    def spread(self, advance_ratio: ArrayLike, rpm: ArrayLike) -> tuple[Floats, Floats]: ...
    def spread(self, advance_ratio: ArrayLike, rpm: ArrayLike) -> tuple[float, float] | tuple[Floats, Floats]:
        """Relative standard deviations of both coefficients. [-].

        What propellers of one size and style differ by, or what is left of it once this one was measured. Where
        thrust passes through zero a relative figure means little; it is held at 10.
        """
        j, speed, single = self._checked(advance_ratio, rpm)
        thrust, power = self.coefficients(j, speed)
        z = reduced_advance(j, self.pitch_ratio)
        measure = reynolds_measure(self.diameter_m, speed * np.maximum(z / JOIN, 1.0))
        terms = series(np.minimum(z, JOIN), measure)
        extra = BLADE_SPREAD**2 if self.blades != 2 else 0.0
        b = self.blades / 2.0
        found = []
        for value, scale, at, growth in zip(
            (thrust, power),
            gauge(self.pitch_ratio),
            (slice(None, TERMS), slice(TERMS, None)),
            (b**BLADE_THRUST, b**BLADE_POWER),
            strict=True,
        ):
            variance = np.einsum("...j,jk,...k->...", terms, self._covariance[at, at], terms)
            deviation = scale * growth * np.sqrt(variance + MEASUREMENT_NOISE**2)
            relative = deviation / np.maximum(np.abs(value), 1e-9)
            found.append(np.minimum(np.hypot(relative, math.sqrt(extra)), WIDEST_SPREAD))
        return (float(found[0]), float(found[1])) if single else (found[0], found[1])

    def calibrated(
        self,
        *,
        rpm: float,
        thrust_n: float | None = None,
        power_w: float | None = None,
        advance_ratio: float = 0.0,
        density_kg_m3: float = 1.225,
        reading_spread: float = READING_NOISE,
    ) -> Propeller:
        """Return the propeller as one reading of it corrects it.

        Thrust or shaft power, or both, at one speed. The whole curve moves, as far as the measured family
        says that a propeller off at this point is off elsewhere, and in the other coefficient; the spread
        shrinks with it. Several readings may follow one another.

        Raises
        ------
        GeometryError
            If nothing was read, a reading is not above 0, or it is more than three times off what any
            such propeller gives: then size, units or rpm are wrong.
        """
        if thrust_n is None and power_w is None:
            raise GeometryError("a reading needs thrust_n or power_w beside its rpm")
        for name, value in (
            ("rpm", rpm),
            ("thrust_n", thrust_n),
            ("power_w", power_w),
            ("density_kg_m3", density_kg_m3),
            ("reading_spread", reading_spread),
        ):
            if value is not None and not (math.isfinite(value) and value > 0):
                raise GeometryError(f"{name} must be above 0, got {value:g}")
        n = rpm / 60.0
        d = self.diameter_m
        ct = None if thrust_n is None else thrust_n / (density_kg_m3 * n**2 * d**4)
        cp = None if power_w is None else power_w / (density_kg_m3 * n**3 * d**5)
        expected = self.coefficients(advance_ratio, rpm)
        for name, unit, got, given in (
            ("thrust", "N", ct, thrust_n),
            ("power", "W", cp, power_w),
        ):
            usual = expected[0] if name == "thrust" else expected[1]
            if got is not None and given is not None and usual > 0 and not 1 / 3 < got / usual < 3:
                raise GeometryError(
                    f"a {name} of {given:.3g} {unit} at {rpm:.0f} rpm is {got / usual:.2g} times what this size "
                    f"gives ({given * usual / got:.3g} {unit}). Check the units, the rpm and the size."
                )
        point = MeasuredPoint(
            rpm=rpm,
            advance_ratio=advance_ratio,
            thrust_coefficient=ct,
            power_coefficient=cp,
            spread=reading_spread,
        )
        return replace(self, points=(*self.points, point))

    def _told(self, mean: Floats, covariance: Floats, point: MeasuredPoint) -> tuple[Floats, Floats]:
        """Condition the coefficients on one point (Rasmussen and Williams, eq. A.6)."""
        z = reduced_advance(np.asarray(point.advance_ratio), self.pitch_ratio)
        measure = reynolds_measure(self.diameter_m, point.rpm * np.maximum(z / JOIN, 1.0))
        terms = series(np.minimum(z, JOIN), measure)
        scales = gauge(self.pitch_ratio)
        b = self.blades / 2.0
        for at, value, scale in (
            (slice(None, TERMS), point.thrust_coefficient, scales[0] * b**BLADE_THRUST),
            (slice(TERMS, None), point.power_coefficient, scales[1] * b**BLADE_POWER),
        ):
            if value is None:
                continue
            seen = np.zeros(2 * TERMS)
            seen[at] = terms
            noise = (point.spread * value / scale) ** 2
            towards = covariance @ seen
            gain = towards / (seen @ towards + noise)
            mean = mean + gain * (value / scale - seen @ mean)
            covariance = covariance - np.outer(gain, towards)
        return mean, covariance

    @staticmethod
    def _checked(advance_ratio: ArrayLike, rpm: ArrayLike) -> tuple[Floats, Floats, bool]:
        single = np.ndim(advance_ratio) == 0 and np.ndim(rpm) == 0
        j, speed = np.broadcast_arrays(
            np.asarray(advance_ratio, dtype=np.float64), np.asarray(rpm, dtype=np.float64)
        )
        bad = ~(np.isfinite(j) & (j >= 0.0))
        if bad.any():
            raise GeometryError(f"advance_ratio must be 0 or above, got {j[bad].flat[0]:g}")
        bad = ~(np.isfinite(speed) & (speed > 0.0))
        if bad.any():
            raise GeometryError(f"rpm must be above 0, got {speed[bad].flat[0]:g}")
        return j, speed, single
