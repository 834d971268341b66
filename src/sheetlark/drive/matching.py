"""Which motor, propeller and battery: every combination in stock, weighed, balanced, refused or ranked.

Each combination is put into the model with its own mass, the battery slid to where the model balances, the
controller picked for its current, and the drive solved standing, at full throttle in cruise, and holding cruise.
All combinations are solved side by side.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sheetlark.drive.battery import CUT_OFF_V, RESERVE
from sheetlark.drive.endurance import RADIO_A
from sheetlark.drive.family import Floats
from sheetlark.drive.motor import no_load_rpm
from sheetlark.drive.settling import LEAD_OHM, Circuits, DriveLine, propeller_of, settle, throttled
from sheetlark.errors import SolveError
from sheetlark.stock import Controller, Motor, Pack, Stock, StockPropeller

Integers = NDArray[np.int64]
GRAVITY_MS2 = 9.80665
CONTROLLER_MARGIN = 1.15  # a controller's rating over the current it will see (common practice)
CRUISE_OVER_STALL = 1.4  # common practice
LARGEST_OVER_BELL = 12.0  # propeller over bell diameter: shaft and bearings (common practice, no source)
TIP_SPEED_MS = 205.0  # Mach 0.6: beyond it tips lose lift and howl (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What the flyer asks.

    least_thrust_to_weight : below it a combination is refused
    wanted_thrust_to_weight : more earns nothing
    least_pitch_over_stall : pitch speed over stall speed, below it refused
    minutes_weight, lightness_weight : how much the logarithms of minutes and of lightness count beside thrust
    """

    name: str
    least_thrust_to_weight: float
    wanted_thrust_to_weight: float
    least_pitch_over_stall: float
    minutes_weight: float
    lightness_weight: float


# Thrust to weight by kind of flying: 0.5-0.8 park flyer, 0.8-1.0 sport, above 1.2 hovering (from memory). Pitch speed
# two to three times the stall speed (common practice, no source). Weights: our choice.
AIMS = {
    "vertical": Aim(
        name="vertical",
        least_thrust_to_weight=1.2,
        wanted_thrust_to_weight=1.6,
        least_pitch_over_stall=1.8,
        minutes_weight=0.5,
        lightness_weight=1.5,
    ),
    "sport": Aim(
        name="sport",
        least_thrust_to_weight=0.7,
        wanted_thrust_to_weight=1.0,
        least_pitch_over_stall=2.2,
        minutes_weight=0.7,
        lightness_weight=1.0,
    ),
    "floating": Aim(
        name="floating",
        least_thrust_to_weight=0.45,
        wanted_thrust_to_weight=0.65,
        least_pitch_over_stall=1.6,
        minutes_weight=0.7,
        lightness_weight=2.0,
    ),
    "long": Aim(
        name="long",
        least_thrust_to_weight=0.4,
        wanted_thrust_to_weight=0.5,
        least_pitch_over_stall=1.8,
        minutes_weight=1.5,
        lightness_weight=0.7,
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirements:
    """The model a drive goes into. Geometry axes: x aft from the nose datum.

    bare_mass_kg, bare_balance_x_m : the model ready to fly, without motor, propeller, controller and battery
    balance_x_m, balance_tolerance_m : where it must balance, and how near
    motor_x_m, propeller_x_m, controller_x_m : where those sit, once placed
    battery_from_x_m, battery_to_x_m : where the middle of the battery may lie
    bay_m : length, width, height of the battery's room; infinite if open
    wing_area_m2, cl_max, drag_zero, drag_due_to_lift : C_D = drag_zero + drag_due_to_lift C_L²
    largest_propeller_m : what clears ground, booms and body
    motors : alike
    thrust_kept : share of the free thrust left by the nose behind the disc
    """

    bare_mass_kg: float
    bare_balance_x_m: float
    balance_x_m: float
    motor_x_m: float
    propeller_x_m: float
    controller_x_m: float
    battery_from_x_m: float
    battery_to_x_m: float
    wing_area_m2: float
    cl_max: float
    drag_zero: float
    drag_due_to_lift: float
    largest_propeller_m: float
    balance_tolerance_m: float = 0.002
    bay_m: tuple[float, float, float] = (math.inf, math.inf, math.inf)
    motors: int = 1
    thrust_kept: float = 1.0
    reserve: float = RESERVE
    full_share: float = 0.25
    density_kg_m3: float = 1.225
    largest_mass_kg: float = math.inf

    def __post_init__(self) -> None:
        for name in (
            "bare_mass_kg",
            "wing_area_m2",
            "cl_max",
            "drag_zero",
            "drag_due_to_lift",
            "largest_propeller_m",
            "density_kg_m3",
            "thrust_kept",
        ):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise SolveError(f"{name} must be above 0, got {value:g}")
        if self.battery_to_x_m < self.battery_from_x_m:
            raise SolveError(
                f"the battery may lie from {1e3 * self.battery_from_x_m:.0f} to {1e3 * self.battery_to_x_m:.0f} mm: "
                "the first must not be behind the second"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Combination:
    """One combination in the model. `refusals` is empty for one that will do.

    balance_x_m : with the battery at ``battery_x_m``, as near as its room allows
    full_throttle_min, cruise_min, mixed_min : down to the reserve; nan where cruise cannot be held
    score : higher is better for the aim asked; comparable within one ranking only
    """

    motor: Motor
    propeller: StockPropeller
    pack: Pack
    controller: Controller
    motors: int
    mass_kg: float
    drive_mass_kg: float
    battery_x_m: float
    balance_x_m: float
    static_thrust_n: float
    thrust_to_weight: float
    static_current_a: float
    static_rpm: float
    static_power_w: float
    pitch_speed_ms: float
    stall_ms: float
    cruise_ms: float
    cruise_throttle: float
    full_throttle_min: float
    cruise_min: float
    mixed_min: float
    score: float
    refusals: tuple[str, ...]

    @property
    def drive_line(self) -> DriveLine:
        """The drive, to be looked at more closely."""
        return DriveLine(
            motor=self.motor,
            propeller=propeller_of(self.propeller),
            pack=self.pack,
            controller=self.controller,
            motors=self.motors,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusalCount:
    """How many combinations one reason refused; one may have several."""

    reason: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """Combinations that will do, best first; those refused, the nearest misses first; and why the others fell."""

    aim: Aim
    tried: int
    fitting: tuple[Combination, ...]
    refused: tuple[Combination, ...]
    counts: tuple[RefusalCount, ...]


Reason = tuple[str, NDArray[np.bool_], Callable[[int], str]]


def rank(
    requirements: Requirements,
    stock: Stock,
    aim: Aim | Literal["vertical", "sport", "floating", "long"] = "sport",
    *,
    motors: tuple[Motor, ...] | None = None,
    propellers: tuple[StockPropeller, ...] | None = None,
    packs: tuple[Pack, ...] | None = None,
    keep_fitting: int = 500,
    keep_refused: int = 200,
) -> Ranking:
    """Try every combination of the stock, or of the parts given, and rank them for an aim.

    Parameters
    ----------
    requirements : Requirements
    stock : Stock
        Also gives the controllers.
    aim : Aim or its name in `AIMS`
    motors, propellers, packs : tuple, optional
        Only these; the whole stock's if left out.
    keep_fitting, keep_refused : int
        How many of each to return in full.

    Raises
    ------
    SolveError
        For an unknown aim, or a stock without motors, propellers, packs or controllers.
    """
    if isinstance(aim, str):
        if aim not in AIMS:
            raise SolveError(f"no aim {aim!r}; known are {', '.join(AIMS)}")
        aim = AIMS[aim]
    m_all = motors if motors is not None else stock.motors
    p_all = propellers if propellers is not None else stock.propellers
    b_all = packs if packs is not None else stock.packs
    e_all = tuple(sorted(stock.controllers, key=lambda e: (e.max_current_a, e.mass_kg)))
    for name, items in (("motor", m_all), ("propeller", p_all), ("pack", b_all), ("controller", e_all)):
        if not items:
            raise SolveError(f"no {name} to choose from; add one to your stock")
    r = requirements
    grid = np.indices((len(m_all), len(p_all), len(b_all))).reshape(3, -1)
    tried = grid.shape[1]
    parts = _Parts.of(m_all, p_all, b_all, e_all)
    counts: dict[str, int] = {}
    # What no solving can save goes first.
    hopeless: tuple[tuple[str, NDArray[np.bool_]], ...] = (
        ("propeller does not clear", parts.diameter[grid[1]] > r.largest_propeller_m + 1e-9),
        ("too many cells", parts.cells[grid[2]] > parts.max_cells[grid[0]]),
        ("battery does not go in", ~_goes_in(parts.pack_size[grid[2]], r.bay_m)),
        (
            "propeller too large for the motor's bell",
            parts.diameter[grid[1]] > LARGEST_OVER_BELL * parts.body_diameter[grid[0]],
        ),
    )
    out = np.zeros(tried, dtype=bool)
    for reason, mask in hopeless:
        counts[reason] = int(mask.sum())
        out |= mask
    survivors = grid[:, ~out]
    found = _Found.solve(r, parts, survivors) if survivors.shape[1] else None
    fitting: list[Combination] = []
    refused: list[Combination] = []
    if found is not None:
        reasons = found.reasons(r, aim, parts)
        for name, mask, _ in reasons:
            counts[name] = int(mask.sum())
        number = np.sum([mask for _, mask, _ in reasons], axis=0)
        score = found.score(aim)
        order = np.argsort(-score, kind="stable")
        good = [int(i) for i in order if number[i] == 0][:keep_fitting]
        bad_order = np.lexsort((-score, number))
        bad = [int(i) for i in bad_order if number[i] > 0][:keep_refused]
        lists = (m_all, p_all, b_all, e_all)
        fitting = [found.combination(i, lists, r, float(score[i]), ()) for i in good]
        refused = [
            found.combination(
                i, lists, r, float(score[i]), tuple(says(i) for _, mask, says in reasons if mask[i])
            )
            for i in bad
        ]
    return Ranking(
        aim=aim,
        tried=tried,
        fitting=tuple(fitting),
        refused=tuple(refused),
        counts=tuple(
            RefusalCount(reason=k, count=v) for k, v in sorted(counts.items(), key=lambda kv: -kv[1]) if v
        ),
    )


def _goes_in(sizes: Floats, bay: tuple[float, float, float]) -> NDArray[np.bool_]:
    """Whether a pack, lying along the bay and turned about its length if need be, goes in."""
    length, width, height = bay
    upright = (sizes[:, 1] <= width) & (sizes[:, 2] <= height)
    turned = (sizes[:, 2] <= width) & (sizes[:, 1] <= height)
    return np.asarray((sizes[:, 0] <= length) & (upright | turned))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Parts:
    """The parts' figures as arrays, one a list of the stock."""

    motor_mass: Floats
    kv: Floats
    ohm: Floats
    idle: Floats
    idle_rpm: Floats
    motor_amps: Floats
    max_cells: Floats
    body_diameter: Floats
    propeller_mass: Floats
    diameter: Floats
    pitch: Floats
    blades: Floats
    series: Floats
    cells: Floats
    capacity: Floats
    pack_mass: Floats
    pack_size: Floats
    cell_ohm: Floats
    pack_amps: Floats
    controller_amps: Floats
    controller_ohm: Floats
    controller_mass: Floats
    controller_cells: Floats

    @classmethod
    def of(
        cls,
        motors: tuple[Motor, ...],
        propellers: tuple[StockPropeller, ...],
        packs: tuple[Pack, ...],
        controllers: tuple[Controller, ...],
    ) -> _Parts:
        def each(values: list[float]) -> Floats:
            return np.array(values, dtype=np.float64)

        return cls(
            motor_mass=each([m.mass_kg for m in motors]),
            kv=each([m.kv_rpm_v for m in motors]),
            ohm=each([m.resistance_ohm for m in motors]),
            idle=each([m.no_load_current_a for m in motors]),
            idle_rpm=each([no_load_rpm(m) for m in motors]),
            motor_amps=each([m.max_current_a for m in motors]),
            max_cells=each([m.max_cells for m in motors]),
            body_diameter=each([m.body_diameter_m for m in motors]),
            propeller_mass=each([p.mass_kg for p in propellers]),
            diameter=each([p.diameter_m for p in propellers]),
            pitch=each([p.pitch_m for p in propellers]),
            blades=each([p.blades for p in propellers]),
            series=np.stack([propeller_of(p).series_coefficients for p in propellers]),
            cells=each([b.cells for b in packs]),
            capacity=each([b.capacity_ah for b in packs]),
            pack_mass=each([b.mass_kg for b in packs]),
            pack_size=np.array([[b.length_m, b.width_m, b.height_m] for b in packs]),
            cell_ohm=each([b.resistance_per_cell_ohm for b in packs]),
            pack_amps=each([b.continuous_c * b.capacity_ah for b in packs]),
            controller_amps=each([e.max_current_a for e in controllers]),
            controller_ohm=each([e.resistance_ohm for e in controllers]),
            controller_mass=each([e.mass_kg for e in controllers]),
            controller_cells=each([e.max_cells for e in controllers]),
        )

    def circuits(self, which: Integers, controller_ohm: Floats, motors: int) -> Circuits:
        m, p, b = which
        return Circuits(
            cells=self.cells[b],
            cell_ohm=self.cell_ohm[b],
            controller_ohm=controller_ohm + LEAD_OHM,
            motors=np.full(m.shape, float(motors)),
            kv_rpm_v=self.kv[m],
            winding_ohm=self.ohm[m],
            no_load_a=self.idle[m],
            no_load_rpm=self.idle_rpm[m],
            series=self.series[p],
            diameter_m=self.diameter[p],
            pitch_ratio=self.pitch[p] / self.diameter[p],
            blades=self.blades[p],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Found:
    """What solving gave: arrays of shape (n,)."""

    which: Integers
    controller: Integers
    mass: Floats
    drive_mass: Floats
    battery_x: Floats
    wanted_x: Floats
    balance_x: Floats
    thrust: Floats
    amps: Floats
    motor_amps: Floats
    rpm: Floats
    power: Floats
    cell_v: Floats
    pitch_speed: Floats
    tip_speed: Floats
    stall: Floats
    cruise_throttle: Floats
    full_min: Floats
    cruise_min: Floats
    mixed_min: Floats
    enough_controller: NDArray[np.bool_]

    @classmethod
    def solve(cls, r: Requirements, parts: _Parts, which: Integers) -> _Found:
        m, p, b = which
        # First with a controller of middling resistance, to know the current it must stand.
        first = settle(
            parts.circuits(which, np.full(m.shape, 0.005), r.motors),
            airspeed_ms=0.0,
            throttle=1.0,
            charge=1.0,
            density_kg_m3=r.density_kg_m3,
        )
        stands = (parts.controller_amps[None, :] >= CONTROLLER_MARGIN * first.motor_current_a[:, None]) & (
            parts.controller_cells[None, :] >= parts.cells[b][:, None]
        )
        enough = stands.any(axis=1)
        controller = np.where(enough, stands.argmax(axis=1), parts.controller_amps.size - 1)
        c = parts.circuits(which, parts.controller_ohm[controller], r.motors)
        still = settle(c, airspeed_ms=0.0, throttle=1.0, charge=1.0, density_kg_m3=r.density_kg_m3)
        k = r.motors
        motor, propeller = k * parts.motor_mass[m], k * parts.propeller_mass[p]
        control, pack = k * parts.controller_mass[controller], parts.pack_mass[b]
        drive_mass = motor + propeller + control + pack
        mass = r.bare_mass_kg + drive_mass
        moment = (
            r.bare_mass_kg * r.bare_balance_x_m
            + motor * r.motor_x_m
            + propeller * r.propeller_x_m
            + control * r.controller_x_m
        )
        wanted_x = (mass * r.balance_x_m - moment) / pack
        battery_x = np.clip(wanted_x, r.battery_from_x_m, r.battery_to_x_m)
        weight = mass * GRAVITY_MS2
        stall = np.sqrt(2 * weight / (r.density_kg_m3 * r.wing_area_m2 * r.cl_max))
        cruise = np.minimum(CRUISE_OVER_STALL * stall, 100.0)
        cl = r.cl_max / CRUISE_OVER_STALL**2
        drag = weight * (r.drag_zero + r.drag_due_to_lift * cl**2) / cl / r.thrust_kept
        throttle, cruise_amps = throttled(
            c,
            thrust_n=np.minimum(drag, 9e3),
            airspeed_ms=cruise,
            charge=0.5,
            density_kg_m3=r.density_kg_m3,
        )
        flying = settle(c, airspeed_ms=cruise, throttle=1.0, charge=0.6, density_kg_m3=r.density_kg_m3)
        minutes = 60.0 * (1 - r.reserve) * parts.capacity[b]
        full_amps = flying.pack_current_a + RADIO_A
        cruise_amps = cruise_amps + RADIO_A
        return cls(
            which=which,
            controller=controller,
            mass=mass,
            drive_mass=drive_mass,
            battery_x=battery_x,
            wanted_x=wanted_x,
            balance_x=(moment + pack * battery_x) / mass,
            thrust=k * still.thrust_n * r.thrust_kept,
            amps=still.pack_current_a,
            motor_amps=still.motor_current_a,
            rpm=still.rpm,
            power=still.pack_current_a * still.pack_voltage_v,
            cell_v=still.pack_voltage_v / parts.cells[b],
            pitch_speed=parts.pitch[p] * still.rpm / 60,
            tip_speed=math.pi * parts.diameter[p] * still.rpm / 60,
            stall=stall,
            cruise_throttle=throttle,
            full_min=minutes / full_amps,
            cruise_min=minutes / cruise_amps,
            mixed_min=minutes / (r.full_share * full_amps + (1 - r.full_share) * cruise_amps),
            enough_controller=enough,
        )

    @property
    def thrust_to_weight(self) -> Floats:
        return self.thrust / (self.mass * GRAVITY_MS2)

    def score(self, aim: Aim) -> Floats:
        """Logarithms of thrust up to what is wanted, of minutes, and of lightness, weighted by the aim."""
        thrust = np.log(np.clip(self.thrust_to_weight / aim.wanted_thrust_to_weight, 1e-3, 1.0))
        minutes = np.log(np.clip(np.nan_to_num(self.mixed_min, nan=0.1), 0.1, 120.0))
        return 2.0 * thrust + aim.minutes_weight * minutes - aim.lightness_weight * np.log(self.mass)

    def reasons(self, r: Requirements, aim: Aim, parts: _Parts) -> list[Reason]:
        """Every reason to refuse, with whom it strikes and how it is said."""
        m, _, b = self.which
        off = self.balance_x - r.balance_x_m
        ratio = self.pitch_speed / self.stall
        weight = self.thrust_to_weight
        return [
            (
                "current too much for the motor",
                self.motor_amps > parts.motor_amps[m],
                lambda i: (
                    f"draws {self.motor_amps[i]:.1f} A; the motor stands {parts.motor_amps[m[i]]:.1f} A. "
                    "Smaller propeller or fewer cells."
                ),
            ),
            (
                "current too much for the controllers",
                ~self.enough_controller,
                lambda i: (
                    f"no controller in stock stands {CONTROLLER_MARGIN * self.motor_amps[i]:.1f} A on {parts.cells[b[i]]:.0f} cells"
                ),
            ),
            (
                "current too much for the cells",
                self.amps > parts.pack_amps[b],
                lambda i: (
                    f"draws {self.amps[i]:.1f} A; the cells give {parts.pack_amps[b[i]]:.1f} A. A larger pack."
                ),
            ),
            (
                "cells sag to the cut-off",
                self.cell_v < CUT_OFF_V,
                lambda i: (
                    f"a full pack sags to {self.cell_v[i]:.2f} V a cell; the controller cuts off at {CUT_OFF_V:.1f} V"
                ),
            ),
            (
                "too little thrust",
                weight < aim.least_thrust_to_weight,
                lambda i: (
                    f"thrust is {weight[i]:.2f} of the weight; {aim.name} asks {aim.least_thrust_to_weight:.2f}"
                ),
            ),
            (
                "pitch speed too near the stall",
                ratio < aim.least_pitch_over_stall,
                lambda i: (
                    f"pitch speed {self.pitch_speed[i]:.1f} m/s is {ratio[i]:.1f} times the stall's "
                    f"{self.stall[i]:.1f} m/s; {aim.name} asks {aim.least_pitch_over_stall:.1f}. More pitch or rpm."
                ),
            ),
            (
                "cannot hold cruise",
                np.isnan(self.cruise_min),
                lambda i: (
                    f"cannot hold {CRUISE_OVER_STALL * self.stall[i]:.1f} m/s in level flight on a half-full pack"
                ),
            ),
            (
                "tips too fast",
                self.tip_speed > TIP_SPEED_MS,
                lambda i: (
                    f"blade tips at {self.tip_speed[i]:.0f} m/s; above {TIP_SPEED_MS:.0f} they lose lift and howl"
                ),
            ),
            (
                "does not balance",
                np.abs(off) > r.balance_tolerance_m,
                lambda i: (
                    f"the battery's middle would have to lie at {1e3 * self.wanted_x[i]:.0f} mm; its room is "
                    f"{1e3 * r.battery_from_x_m:.0f} to {1e3 * r.battery_to_x_m:.0f} mm, which leaves the balance "
                    f"{1e3 * abs(off[i]):.0f} mm too far {'aft' if off[i] > 0 else 'forward'}"
                ),
            ),
            (
                "too heavy",
                self.mass > r.largest_mass_kg,
                lambda i: (
                    f"all up {1e3 * self.mass[i]:.0f} g; at most {1e3 * r.largest_mass_kg:.0f} g are allowed"
                ),
            ),
        ]

    def combination(
        self,
        i: int,
        lists: tuple[tuple[Motor, ...], tuple[StockPropeller, ...], tuple[Pack, ...], tuple[Controller, ...]],
        r: Requirements,
        score: float,
        refusals: tuple[str, ...],
    ) -> Combination:
        m, p, b = (int(v) for v in self.which[:, i])
        return Combination(
            motor=lists[0][m],
            propeller=lists[1][p],
            pack=lists[2][b],
            controller=lists[3][int(self.controller[i])],
            motors=r.motors,
            mass_kg=float(self.mass[i]),
            drive_mass_kg=float(self.drive_mass[i]),
            battery_x_m=float(self.battery_x[i]),
            balance_x_m=float(self.balance_x[i]),
            static_thrust_n=float(self.thrust[i]),
            thrust_to_weight=float(self.thrust_to_weight[i]),
            static_current_a=float(self.amps[i]),
            static_rpm=float(self.rpm[i]),
            static_power_w=float(self.power[i]),
            pitch_speed_ms=float(self.pitch_speed[i]),
            stall_ms=float(self.stall[i]),
            cruise_ms=float(CRUISE_OVER_STALL * self.stall[i]),
            cruise_throttle=float(self.cruise_throttle[i]),
            full_throttle_min=float(self.full_min[i]),
            cruise_min=float(self.cruise_min[i]),
            mixed_min=float(self.mixed_min[i]),
            score=score,
            refusals=refusals,
        )
