"""How fast, how slow, how steep: figures from a drag polar, a weight and a thrust.

Forces on an unaccelerated, wings-level path of angle γ: L = W cos γ, T - D = W sin γ, with the thrust along the path.
Both are solved together, so steep climbs are right too.

References
----------
.. [1] B. N. McCormick, "Aerodynamics, Aeronautics and Flight Mechanics", 2nd ed., 1995, ch. 7 (from memory): best
   glide of a quadratic polar at CL = √(CD0/k), least sink at CL = √(3 CD0/k).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from sheetlark.errors import SolveError

Floats: TypeAlias = npt.NDArray[np.float64]
ThrustAvailable: TypeAlias = Callable[[float, float], float]
"""Thrust [N] at an airspeed [m/s] and a throttle 0 to 1."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Polar:
    """Trimmed lift and drag of the whole model.

    lift, drag : shape (n,), coefficients, lift rising from the least to the greatest lift. [-]
    """

    lift: Floats
    drag: Floats

    def __post_init__(self) -> None:
        for name in ("lift", "drag"):
            own = np.array(getattr(self, name), dtype=np.float64)
            own.setflags(write=False)
            object.__setattr__(self, name, own)
        if self.lift.ndim != 1 or self.lift.shape != self.drag.shape or self.lift.size < 3:
            raise SolveError(
                f"a polar needs lift and drag of one length, three or more; got {self.lift.shape} and {self.drag.shape}"
            )
        if not (np.diff(self.lift) > 0.0).all():
            raise SolveError(
                "a polar's lift must rise throughout; leave out what lies past the greatest lift"
            )
        if not (self.drag > 0.0).all():
            raise SolveError(f"a polar's drag must be positive, got {float(self.drag.min()):g}")
        if not self.lift[-1] > 0.0:
            raise SolveError(f"the greatest lift coefficient must be positive, got {self.lift[-1]:g}")

    @property
    def greatest_lift(self) -> float:
        return float(self.lift[-1])

    def drag_at(self, lift: Floats) -> Floats:
        """Drag for a lift, by a straight line between points; the ends hold beyond them."""
        return np.interp(lift, self.lift, self.drag)


@dataclass(frozen=True, slots=True, kw_only=True)
class Glide:
    """One glide: airspeed, lift over drag, sink, path below the horizon."""

    airspeed_ms: float
    lift_to_drag: float
    sink_ms: float
    path_rad: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClimbTable:
    """Climb by airspeed and throttle.

    airspeed_ms : shape (n,). throttle : shape (m,). climb_ms : shape (m, n), negative sinks. [m/s]
    """

    airspeed_ms: Floats
    throttle: Floats
    climb_ms: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Performance:
    """What the model does. Speeds in m/s.

    top_ms : fastest level flight, full throttle. cruise_ms : the airspeed asked for, or by rule (see
    :func:`performance`). cruise_throttle : 0 to 1 in level flight there; above 1 the motor cannot hold it.
    best_climb_ms, best_climb_speed_ms : full throttle.
    turn_radius_m : at cruise and the bank asked for. turn_load_factor : 1/cos bank.
    field_length_m, field_width_m : room for a circuit and a landing (see :func:`field_size`).
    gust_limit_ms : vertical gust that stalls it at cruise. wind_limit_ms : most wind to fly in.
    """

    stall_ms: float
    best_glide: Glide
    least_sink: Glide
    cruise_ms: float
    cruise_throttle: float
    top_ms: float
    best_climb_ms: float
    best_climb_speed_ms: float
    climb: ClimbTable
    turn_bank_rad: float
    turn_radius_m: float
    turn_load_factor: float
    field_length_m: float
    field_width_m: float
    wing_loading_kg_m2: float
    cubic_loading_kg_m3: float
    cubic_band: str
    gust_limit_ms: float
    wind_limit_ms: float


# Wing cube loading and its classes in kg/m³ (numerically the trade's oz/ft³): common practice, no source.
CUBIC_BANDS: tuple[tuple[float, str], ...] = (
    (3.0, "indoor"),
    (5.0, "back yard"),
    (7.0, "park and trainer"),
    (10.0, "sport"),
    (13.0, "fast sport"),
    (math.inf, "expert"),
)


def cubic_band(cubic_loading_kg_m3: float) -> str:
    """The trade's class for a mass over wing area to the power 1.5 (common practice, no source)."""
    return next(name for top, name in CUBIC_BANDS if cubic_loading_kg_m3 < top)


def stall_speed(
    mass_kg: float,
    area_m2: float,
    greatest_lift: float,
    density_kg_m3: float = 1.225,
    load_factor: float = 1.0,
) -> float:
    """Airspeed below which the wing cannot carry the load. [m/s]."""
    return math.sqrt(2.0 * load_factor * mass_kg * 9.80665 / (density_kg_m3 * area_m2 * greatest_lift))


def glides(polar: Polar, mass_kg: float, area_m2: float, density_kg_m3: float = 1.225) -> tuple[Glide, Glide]:
    """Best glide and least sink, motor stopped (its drag belongs in the polar).

    The polar is looked at on a fine mesh; the path's slope counts (tan γ = CD/CL).
    """
    lift = np.linspace(max(float(polar.lift[0]), 0.02 * polar.greatest_lift), polar.greatest_lift, 4001)
    drag = polar.drag_at(lift)
    whole = np.hypot(lift, drag)
    speed = np.sqrt(2.0 * mass_kg * 9.80665 / (density_kg_m3 * area_m2 * whole))
    sink = speed * drag / whole
    return tuple(  # type: ignore[return-value]  # two in, two out
        Glide(
            airspeed_ms=float(speed[k]),
            lift_to_drag=float(lift[k] / drag[k]),
            sink_ms=float(sink[k]),
            path_rad=math.atan2(float(drag[k]), float(lift[k])),
        )
        for k in (int(np.argmax(lift / drag)), int(np.argmin(sink)))
    )


def climb_rates(
    polar: Polar,
    mass_kg: float,
    area_m2: float,
    airspeed_ms: Floats,
    thrust_n: Floats,
    density_kg_m3: float = 1.225,
) -> Floats:
    """Rate of climb for thrust along the path, L = W cos γ and T - D = W sin γ together. [m/s].

    Airspeed and thrust may be arrays that fit together; the answer has their common shape.

    Not a number where the wing cannot carry the load; a thrust above drag and weight climbs straight up.
    """
    weight = mass_kg * 9.80665
    speed, thrust = np.broadcast_arrays(
        np.asarray(airspeed_ms, dtype=np.float64), np.asarray(thrust_n, dtype=np.float64)
    )
    q_area = 0.5 * density_kg_m3 * speed**2 * area_m2
    sine = np.zeros_like(q_area)
    lift = weight / q_area
    for _ in range(60):
        lift = weight * np.sqrt(1.0 - sine**2) / q_area
        fresh = np.clip((thrust - q_area * polar.drag_at(lift)) / weight, -1.0, 1.0)
        change = fresh - sine
        sine = sine + 0.5 * change
        if float(np.abs(change).max()) < 1e-9:
            break
    rate: Floats = np.where(lift <= polar.greatest_lift * (1.0 + 1e-9), speed * sine, np.nan)
    return rate


def turn_radius(airspeed_ms: float, bank_rad: float) -> float:
    """Radius of a level, coordinated turn, V²/(g tan bank). [m]."""
    return airspeed_ms**2 / (9.80665 * math.tan(bank_rad))


def field_size(
    glide: Glide, stall_ms: float, radius_m: float, *, obstacle_m: float = 3.0
) -> tuple[float, float]:
    """Length and width of a field to fly from. [m].

    Length: a glide over an obstacle, two seconds of float at 1.2 times the stall, a slide of one second, and a turn.
    Width: two turns and half as much again as room for error (common practice, no source).
    """
    approach = obstacle_m / max(math.tan(glide.path_rad), 1e-3)
    return approach + 3.0 * 1.2 * stall_ms + 2.0 * radius_m, 3.0 * 2.0 * radius_m


def gust_that_stalls(
    airspeed_ms: float, lift: float, greatest_lift: float, lift_slope_per_rad: float
) -> float:
    """Sharp vertical gust that takes the wing to its greatest lift at once, V (CLmax - CL)/a. [m/s]."""
    return airspeed_ms * max(0.0, greatest_lift - lift) / lift_slope_per_rad


def performance(
    polar: Polar,
    thrust: ThrustAvailable | None,
    *,
    mass_kg: float,
    area_m2: float,
    lift_slope_per_rad: float,
    density_kg_m3: float = 1.225,
    cruise_ms: float | None = None,
    bank_rad: float = math.radians(30.0),
) -> Performance:
    """Every figure of :class:`Performance` from one polar and one thrust.

    Parameters
    ----------
    thrust : callable or None
        None is a glider: cruise and top are its best-glide airspeed, the best climb is its least sink.
    cruise_ms : float, optional
        Left out: 1.5 times the stall, or the best-glide airspeed if that is higher (common practice, no source);
        never above nine tenths of the top.

    Raises
    ------
    SolveError
        If mass or area is not positive, or the motor cannot hold level flight at any airspeed.

    Notes
    -----
    Wind limit: two thirds of the cruising airspeed over the ground is lost, or gusts (three times the Dryden vertical
    root mean square, a tenth of the wind each) stall it: the lower (common practice, no source).
    """
    if not (mass_kg > 0.0 and area_m2 > 0.0 and density_kg_m3 > 0.0):
        raise SolveError(
            f"mass, area and density must be positive, got {mass_kg:g} kg, {area_m2:g} m², {density_kg_m3:g} kg/m³"
        )
    stall = stall_speed(mass_kg, area_m2, polar.greatest_lift, density_kg_m3)
    best, least = glides(polar, mass_kg, area_m2, density_kg_m3)
    speeds = stall * np.linspace(1.0, 5.0, 81)
    throttles = np.linspace(0.0, 1.0, 6)
    force = np.zeros((throttles.size, speeds.size))
    if thrust is not None:
        force = np.array([[thrust(float(v), float(t)) for v in speeds] for t in throttles])
    table = climb_rates(polar, mass_kg, area_m2, speeds, force, density_kg_m3)
    full = table[-1]
    if thrust is not None and not np.nanmax(full) > 0.0:
        raise SolveError(
            f"full throttle cannot hold level flight: the best it does is sink {-float(np.nanmax(full)):.2f} m/s. "
            "It needs a stronger drive, less mass or less drag."
        )
    peak = int(np.nanargmax(full))
    if thrust is None:
        top = cruise = best.airspeed_ms if cruise_ms is None else cruise_ms
    else:
        top = _top_speed(speeds, full)
        by_rule = min(max(1.5 * stall, best.airspeed_ms), 0.9 * top)
        cruise = by_rule if cruise_ms is None else cruise_ms
    lift = mass_kg * 9.80665 / (0.5 * density_kg_m3 * cruise**2 * area_m2)
    gust_limit = gust_that_stalls(cruise, lift, polar.greatest_lift, lift_slope_per_rad)
    drag = 0.5 * density_kg_m3 * cruise**2 * area_m2 * float(polar.drag_at(np.array([lift]))[0])
    radius = turn_radius(cruise, bank_rad)
    length, width = field_size(best, stall, radius)
    cubic = mass_kg / area_m2**1.5
    return Performance(
        stall_ms=stall,
        best_glide=best,
        least_sink=least,
        cruise_ms=cruise,
        cruise_throttle=0.0 if thrust is None else _throttle_for(thrust, cruise, drag),
        top_ms=top,
        best_climb_ms=float(full[peak]),
        best_climb_speed_ms=float(speeds[peak]),
        climb=ClimbTable(airspeed_ms=speeds, throttle=throttles, climb_ms=table),
        turn_bank_rad=bank_rad,
        turn_radius_m=radius,
        turn_load_factor=1.0 / math.cos(bank_rad),
        field_length_m=length,
        field_width_m=width,
        wing_loading_kg_m2=mass_kg / area_m2,
        cubic_loading_kg_m3=cubic,
        cubic_band=cubic_band(cubic),
        gust_limit_ms=gust_limit,
        wind_limit_ms=min(2.0 / 3.0 * cruise, gust_limit / 0.3),
    )


def _top_speed(speeds: Floats, climb: Floats) -> float:
    """Fastest airspeed with no sink, by a straight line between the table's points."""
    level = np.flatnonzero(np.nan_to_num(climb, nan=-1.0) >= 0.0)
    last = int(level[-1])
    if last == speeds.size - 1:
        return float(speeds[-1])
    part = climb[last] / (climb[last] - climb[last + 1])
    return float(speeds[last] + part * (speeds[last + 1] - speeds[last]))


def _throttle_for(thrust: ThrustAvailable, airspeed_ms: float, needed_n: float) -> float:
    """Throttle that gives a thrust, by halving; above 1 in proportion if full throttle is not enough."""
    full = thrust(airspeed_ms, 1.0)
    if full <= 0.0:
        return math.inf
    if full < needed_n:
        return needed_n / full
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        if thrust(airspeed_ms, middle) < needed_n:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
