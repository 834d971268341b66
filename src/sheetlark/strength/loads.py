"""The load a wing must bear: how hard its pilot and the air can pull.

References
----------
.. [1] K. G. Pratt, W. G. Walker, "A revised gust-load formula and a re-evaluation of V-G data taken on civil transport
   airplanes from 1933 to 1950", NACA TR 1206, 1954: gust alleviation 0.88 μ/(5.3 + μ) (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sheetlark.errors import SolveError

GRAVITY_MS2 = 9.80665
FACTOR_OF_SAFETY = 1.5  # limit to ultimate, as in CS-23.303 and FAR 23.303 (from memory)


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitLoad:
    """The load factor a wing is made for, and what sets it.

    pull_up : (V/Vs)², the hardest pull at the fastest speed. gust : 1 + gust. cap : most asked for.
    """

    factor: float
    pull_up: float
    gust: float
    cap: float

    @property
    def because(self) -> str:
        """What sets it, in words."""
        if self.factor == self.gust:
            return f"a gust takes it to {self.gust:.1f} g"
        if self.pull_up > self.cap:
            return f"a full pull at top speed would give {self.pull_up:.1f} g; made for {self.cap:.1f} g"
        return f"a full pull at top speed gives {self.pull_up:.1f} g"


def gust_increment(
    *,
    speed_ms: float,
    gust_ms: float,
    wing_loading_kg_m2: float,
    chord_m: float,
    lift_slope_per_rad: float,
    density_kg_m3: float = 1.225,
) -> float:
    """Added load factor of a vertical gust, softened by the model's own rise ([1]_ of the module). [-].

    μ = 2 (m/S)/(ρ c a), K = 0.88 μ/(5.3 + μ), Δn = K ρ V U a/(2 m g/S).
    """
    ratio = 2.0 * wing_loading_kg_m2 / (density_kg_m3 * chord_m * lift_slope_per_rad)
    alleviation = 0.88 * ratio / (5.3 + ratio)
    return (
        alleviation
        * density_kg_m3
        * speed_ms
        * gust_ms
        * lift_slope_per_rad
        / (2.0 * wing_loading_kg_m2 * GRAVITY_MS2)
    )


def limit_load(
    *,
    top_ms: float,
    stall_ms: float,
    cap: float = 8.0,
    gust_ms: float = 0.0,
    cruise_ms: float = 0.0,
    wing_loading_kg_m2: float = 1.0,
    chord_m: float = 0.2,
    lift_slope_per_rad: float = 4.5,
    density_kg_m3: float = 1.225,
) -> LimitLoad:
    """Limit load factor: the pull-up the wing can give at top speed, no more than a cap, no less than a gust.

    Parameters
    ----------
    cap : float
        Most a pilot asks of this kind of model; 6 to 10 is common practice, no source.

    Raises
    ------
    SolveError
        If the top speed is below the stall.
    """
    if not 0.0 < stall_ms < top_ms:
        raise SolveError(
            f"top speed {top_ms:.1f} m/s must be above the stall, {stall_ms:.1f} m/s; this model does not fly"
        )
    pull_up = (top_ms / stall_ms) ** 2
    gust = 1.0 + gust_increment(
        speed_ms=cruise_ms,
        gust_ms=gust_ms,
        wing_loading_kg_m2=wing_loading_kg_m2,
        chord_m=chord_m,
        lift_slope_per_rad=lift_slope_per_rad,
        density_kg_m3=density_kg_m3,
    )
    return LimitLoad(factor=max(min(pull_up, cap), gust), pull_up=pull_up, gust=gust, cap=cap)


@dataclass(frozen=True, slots=True, kw_only=True)
class JointLoads:
    """Loads where the halves of a wing meet.

    moment_nm, shear_n : at the joint. couple_n : pull and push of a joiner's two ends that take the moment.
    """

    moment_nm: float
    shear_n: float
    couple_n: float


def joint_loads(*, root_moment_nm: float, root_shear_n: float, joiner_m: float) -> JointLoads:
    """A joiner rod or spar reaching equally into both halves, ``joiner_m`` long in all.

    Each half's moment is taken by two forces a joiner's half length apart, taken at two thirds of it (bearing that grows in a
    straight line from the rod's middle to its ends).

    Raises
    ------
    SolveError
        If the joiner has no length.
    """
    if not joiner_m > 0.0:
        raise SolveError(f"a joiner needs a length, got {joiner_m * 1e3:g} mm")
    arm = 2.0 / 3.0 * joiner_m / 2.0
    return JointLoads(moment_nm=root_moment_nm, shear_n=root_shear_n, couple_n=root_moment_nm / arm)


@dataclass(frozen=True, slots=True, kw_only=True)
class RubberBands:
    """Bands that hold a wing down.

    lift_off_n : force that would lift the wing off. pull_n : what one band pulls. count : whole bands, in pairs.
    """

    lift_off_n: float
    pull_n: float
    count: int


# Shear modulus of soft vulcanised natural rubber about 0.39 MPa: L. R. G. Treloar, "The Physics of Rubber
# Elasticity", 1975 (from memory).
RUBBER_SHEAR_MODULUS_PA = 0.39e6


def band_pull(*, flat_length_m: float, width_m: float, thickness_m: float, stretched_m: float) -> float:
    """Pull of one stretched rubber band, two strands of an ideal rubber, G (λ - 1/λ²) on the unstretched section. [N].

    ``flat_length_m`` is the band laid flat, ``stretched_m`` its length when hooked over. Good to a stretch of three or four;
    more is stiffer.

    Raises
    ------
    SolveError
        If it is not stretched at all, or to more than five times.
    """
    stretch = stretched_m / flat_length_m
    if not 1.0 < stretch <= 5.0:
        raise SolveError(
            f"a band {flat_length_m * 1e3:.0f} mm long stretched to {stretched_m * 1e3:.0f} mm has a stretch of "
            f"{stretch:.1f}; it holds between 1 and 5. Take another size of band."
        )
    return 2.0 * width_m * thickness_m * RUBBER_SHEAR_MODULUS_PA * (stretch - stretch**-2)


def bands_needed(
    *,
    load_factor: float,
    wing_lift_n: float,
    wing_weight_n: float,
    band_pull_n: float,
    safety: float = FACTOR_OF_SAFETY,
) -> RubberBands:
    """Bands, in pairs, that keep a wing on its saddle at a load factor.

    ``wing_lift_n`` is the wing's lift in level flight. Each band crosses the wing and pulls at both its hooks, so it holds
    with twice its pull. The trade adds a band a side against ageing (common practice, no source): so does this.
    """
    lift_off = safety * load_factor * (wing_lift_n - wing_weight_n)
    pairs = max(1, math.ceil(lift_off / (2.0 * 2.0 * band_pull_n)))
    return RubberBands(lift_off_n=lift_off, pull_n=band_pull_n, count=2 * (pairs + 1))
