"""Wind and gusts near the ground: a steady wind and the Dryden model of turbulence.

The model of MIL-F-8785C, 3.7 (low altitude): scale lengths and strengths by height and by the wind at 20 ft, and
the Dryden spectra. White noise from a seed runs through filters whose steps are exact for the sampling time, so
the variance is right whatever the step.

References
----------
.. [1] MIL-F-8785C, "Flying Qualities of Piloted Airplanes", 1980, 3.7.2 and 3.7.3 (from memory).
.. [2] MIL-HDBK-1797, "Flying Qualities of Piloted Aircraft", 1997, appendix A (same model; from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from sheetlark.errors import SolveError
from sheetlark.units import INCH_M

Floats: TypeAlias = npt.NDArray[np.float64]
_FOOT_M = 12.0 * INCH_M
# The model is stated for 10 to 1000 ft; a model aeroplane lives at its lower end.
_LOWEST_FT, _HIGHEST_FT = 10.0, 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Turbulence:
    """Strength and size of gusts along (u), across (v) and down (w).

    sigma_*_ms : root mean square. [m/s]   length_*_m : scale lengths. [m]
    """

    sigma_u_ms: float
    sigma_v_ms: float
    sigma_w_ms: float
    length_u_m: float
    length_v_m: float
    length_w_m: float

    def spectrum_u(self, omega_rad_s: Floats, speed_ms: float) -> Floats:
        """One-sided spectrum along the path, shape as omega. [(m/s)²/(rad/s)]; its integral is sigma²."""
        time = self.length_u_m / speed_ms
        return self.sigma_u_ms**2 * 2.0 * time / math.pi / (1.0 + (time * omega_rad_s) ** 2)

    def spectrum_v(self, omega_rad_s: Floats, speed_ms: float) -> Floats:
        """One-sided spectrum across the path. [(m/s)²/(rad/s)]."""
        return _across(omega_rad_s, self.sigma_v_ms, self.length_v_m / speed_ms)

    def spectrum_w(self, omega_rad_s: Floats, speed_ms: float) -> Floats:
        """One-sided spectrum downwards. [(m/s)²/(rad/s)]."""
        return _across(omega_rad_s, self.sigma_w_ms, self.length_w_m / speed_ms)


def _across(omega_rad_s: Floats, sigma_ms: float, time_s: float) -> Floats:
    square = (time_s * omega_rad_s) ** 2
    return sigma_ms**2 * time_s / math.pi * (1.0 + 3.0 * square) / (1.0 + square) ** 2


def low_altitude(wind_ms: float, height_m: float) -> Turbulence:
    """Turbulence for a wind (at 20 ft, 6 m) and a height, MIL-F-8785C 3.7.3.4.

    Below 10 ft the values of 10 ft are used, above 1000 ft those of 1000 ft.

    Raises
    ------
    SolveError
        If the wind is negative or over 30 m/s: no day for a model.
    """
    if not (math.isfinite(wind_ms) and 0.0 <= wind_ms <= 30.0):
        raise SolveError(f"wind must be between 0 and 30 m/s, got {wind_ms:g} m/s")
    height_ft = min(max(height_m / _FOOT_M, _LOWEST_FT), _HIGHEST_FT)
    base = 0.177 + 0.000823 * height_ft
    sigma_w = 0.1 * wind_ms
    sigma = sigma_w / base**0.4
    length = height_ft / base**1.2 * _FOOT_M
    return Turbulence(
        sigma_u_ms=sigma,
        sigma_v_ms=sigma,
        sigma_w_ms=sigma_w,
        length_u_m=length,
        length_v_m=length,
        length_w_m=height_ft * _FOOT_M,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GustRecord:
    """Gusts a model meets, every array of shape (n,), in flight axes.

    u_ms, v_ms, w_ms : velocity of the air. [m/s]  p_rad_s, q_rad_s, r_rad_s : its rotation over the span. [rad/s]
    """

    step_s: float
    u_ms: Floats
    v_ms: Floats
    w_ms: Floats
    p_rad_s: Floats
    q_rad_s: Floats
    r_rad_s: Floats


def gusts(
    turbulence: Turbulence, *, speed_ms: float, span_m: float, seconds: float, step_s: float, seed: int
) -> GustRecord:
    """Gusts along a flight at one airspeed; the same seed gives the same gusts.

    Rotation of the air: roll from its own noise, pitch and yaw from the change of the vertical and the sideways
    gust, smoothed over the span ([1]_ of the module, 3.7.2).

    Raises
    ------
    SolveError
        If speed, span or step is not positive.
    """
    for name, value in (("speed", speed_ms), ("span", span_m), ("step", step_s), ("time", seconds)):
        if not (math.isfinite(value) and value > 0.0):
            raise SolveError(f"gusts need a positive {name}, got {value:g}")
    count = math.ceil(seconds / step_s) + 2
    noise = np.random.default_rng(seed).standard_normal((6, count + 1))
    V = speed_ms
    u = _first_order(noise[0], turbulence.sigma_u_ms, turbulence.length_u_m / V, step_s)
    v = _second_order(noise[1], noise[4], turbulence.sigma_v_ms, turbulence.length_v_m / V, step_s)
    w = _second_order(noise[2], noise[5], turbulence.sigma_w_ms, turbulence.length_w_m / V, step_s)
    time_p = 4.0 * span_m / (math.pi * V)
    density_p = turbulence.sigma_w_ms**2 * 0.8 * (math.pi / (4.0 * span_m)) ** (1.0 / 3.0)
    density_p /= turbulence.length_w_m ** (2.0 / 3.0) * V
    # one-sided density S0/(1+(T w)^2) integrates to S0 pi/(2 T)
    sigma_p = math.sqrt(density_p * math.pi / (2.0 * time_p))
    p = _first_order(noise[3], sigma_p, time_p, step_s)
    q = _smoothed_change(w, time_p, step_s) / V
    r = -_smoothed_change(v, 3.0 * span_m / (math.pi * V), step_s) / V
    return GustRecord(step_s=step_s, u_ms=u, v_ms=v, w_ms=w, p_rad_s=p, q_rad_s=q, r_rad_s=r)


def _first_order(noise: Floats, sigma: float, time_s: float, step_s: float) -> Floats:
    keep = math.exp(-step_s / time_s)
    fresh = math.sqrt(1.0 - keep * keep)
    out, value = np.empty(noise.size - 1), float(noise[-1])
    for n, shock in enumerate(noise[:-1].tolist()):
        out[n] = value
        value = keep * value + fresh * shock
    return sigma * out


def _second_order(noise: Floats, second: Floats, sigma: float, time_s: float, step_s: float) -> Floats:
    """(1 + √3 T s)/(1 + T s)² applied to white noise; exact between samples, one noise a sample.

    In time units of T: x1' = -x1 + n, x2' = -x2 + x1, output = a x1 + b x2. Over a step the noise enters both states, so
    each step takes two correlated numbers; the last of each row starts the record in its steady state.
    """
    h = step_s / time_s
    keep = math.exp(-h)
    # covariance of (x1, x2) over a step for unit noise intensity
    decay = math.exp(-2.0 * h)
    c11 = (1.0 - decay) / 2.0
    c12 = (1.0 - decay * (1.0 + 2.0 * h)) / 4.0
    c22 = (1.0 - decay * (1.0 + 2.0 * h + 2.0 * h * h)) / 4.0
    a = math.sqrt(c11)
    b = c12 / a
    d = math.sqrt(max(c22 - b * b, 0.0))
    # stationary start: variances 1/2, 1/4, covariance 1/4
    x1 = math.sqrt(0.5) * float(noise[-1])
    x2 = 0.5 * x1 + math.sqrt(0.125) * float(second[-1])
    # (1 + √3 s)/(1+s)² = √3/(1+s) + (1-√3)/(1+s)²; stationary variance of that for unit noise is
    # 3/2 + (1-√3)²/4 + 2 √3 (1-√3)/4 = 1
    gain1, gain2 = math.sqrt(3.0), 1.0 - math.sqrt(3.0)
    out = np.empty(noise.size - 1)
    for n, (one, two) in enumerate(zip(noise[:-1].tolist(), second[:-1].tolist(), strict=True)):
        out[n] = gain1 * x1 + gain2 * x2
        x2 = keep * (x2 + h * x1) + b * one + d * two
        x1 = keep * x1 + a * one
    return sigma * out


def _smoothed_change(values: Floats, time_s: float, step_s: float) -> Floats:
    """s/(1 + T s) of a record."""
    keep = math.exp(-step_s / time_s)
    out = np.empty_like(values)
    held = float(values[0])
    for n, value in enumerate(values.tolist()):
        out[n] = (value - held) / time_s
        held += (1.0 - keep) * (value - held)
    return out


class Wind:
    """Steady wind and gusts, asked for by time and height.

    Parameters
    ----------
    speed_ms : float
        Wind at 6 m over the field. [m/s]
    from_rad : float
        Where it comes from; 0 is north. [rad]
    record : GustRecord, optional
        Gusts; left out: none.

    Notes
    -----
    The steady wind grows with height by the logarithm of MIL-F-8785C 3.7.3.2, ground roughness 0.15 ft.
    """

    __slots__ = ("_east", "_north", "_rows", "_step", "speed_ms")

    def __init__(
        self, speed_ms: float = 0.0, *, from_rad: float = 0.0, record: GustRecord | None = None
    ) -> None:
        self.speed_ms = speed_ms
        self._north = -speed_ms * math.cos(from_rad)
        self._east = -speed_ms * math.sin(from_rad)
        self._step = record.step_s if record else 1.0
        self._rows: list[tuple[float, float, float, float, float, float]] = []
        if record is not None:
            table = np.stack(
                [record.u_ms, record.v_ms, record.w_ms, record.p_rad_s, record.q_rad_s, record.r_rad_s],
                axis=1,
            )
            self._rows = [tuple(row) for row in table.tolist()]

    def at(
        self, time_s: float, height_m: float
    ) -> tuple[tuple[float, float, float], tuple[float, float, float, float, float, float]]:
        """Steady wind (north, east, down) and gust (u, v, w, p, q, r in flight axes)."""
        if not self.speed_ms:
            shear = 0.0
        else:
            height_ft = max(height_m / _FOOT_M, 1.0)
            shear = math.log(height_ft / 0.15) / math.log(20.0 / 0.15)
        gust = (
            self._rows[min(int(time_s / self._step + 0.5), len(self._rows) - 1)] if self._rows else _NO_GUST
        )
        return (self._north * shear, self._east * shear, 0.0), gust


_NO_GUST = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
STILL = Wind()


def breeze(
    wind_ms: float,
    *,
    speed_ms: float,
    span_m: float,
    seconds: float = 60.0,
    step_s: float = 1.0 / 50.0,
    seed: int = 0,
    height_m: float = 20.0,
) -> Wind:
    """A wind with its gusts for a flight at about one height and airspeed, from ahead of the launch."""
    if wind_ms == 0.0:
        return STILL
    turbulence = low_altitude(wind_ms, height_m)
    record = gusts(turbulence, speed_ms=speed_ms, span_m=span_m, seconds=seconds, step_s=step_s, seed=seed)
    return Wind(wind_ms, record=record)
