"""Which motor, propeller and battery: every combination in stock, weighed, balanced, refused or ranked.

Each combination is put into the model with its own mass, the battery slid to where the model balances, the
controller picked for its current, and the drive solved standing, at full throttle in cruise, and holding cruise.
All combinations are solved side by side.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sheetlark.drive.aims import AIMS, Aim, Requirements
from sheetlark.drive.candidates import CRUISE_OVER_STALL, Candidates, Parts
from sheetlark.drive.family import Floats
from sheetlark.drive.settling import DriveLine, propeller_of
from sheetlark.errors import SolveError
from sheetlark.stock import Controller, Motor, Pack, Stock, StockPropeller

LARGEST_OVER_BELL = 12.0  # propeller over bell diameter: shaft and bearings (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Combination:
    """One combination in the model. `refusals` is empty for one that will do.

    balance_x_m : with the battery at ``battery_x_m``, as near as its room allows
    full_throttle_min, cruise_min, mixed_min : down to the reserve; nan where cruise cannot be held
    thrust_spread, current_spread : relative standard deviations: sizes and typical figures say no more
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
    thrust_spread: float
    current_spread: float
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
    """Combinations that will do, best first; those refused, the nearest misses first; and why the others fell.

    tried, will_do : how many there were, and how many had no reason against them; `fitting` may hold fewer
    """

    aim: Aim
    tried: int
    will_do: int
    fitting: tuple[Combination, ...]
    refused: tuple[Combination, ...]
    counts: tuple[RefusalCount, ...]


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
    parts = Parts.of(m_all, p_all, b_all, e_all)
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
    found = Candidates.solve(r, parts, survivors) if survivors.shape[1] else None
    will_do = 0
    fitting: list[Combination] = []
    refused: list[Combination] = []
    if found is not None:
        reasons = found.reasons(r, aim, parts)
        for name, mask, _ in reasons:
            counts[name] = int(mask.sum())
        number = np.sum([mask for _, mask, _ in reasons], axis=0)
        will_do = int(np.count_nonzero(number == 0))
        score = found.score(aim)
        order = np.argsort(-score, kind="stable")
        good = [int(i) for i in order if number[i] == 0][:keep_fitting]
        bad_order = np.lexsort((-score, number))
        bad = [int(i) for i in bad_order if number[i] > 0][:keep_refused]
        chosen = np.array([*good, *bad], dtype=np.int64)
        spreads = found.spreads(r, parts, chosen) if chosen.size else (chosen, chosen)
        made = [
            _combination(
                found,
                int(i),
                parts,
                r,
                score=float(score[i]),
                spreads=(float(spreads[0][k]), float(spreads[1][k])),
                refusals=tuple(says(int(i)) for _, mask, says in reasons if mask[i]),
            )
            for k, i in enumerate(chosen)
        ]
        fitting, refused = made[: len(good)], made[len(good) :]
    return Ranking(
        aim=aim,
        tried=tried,
        will_do=will_do,
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


def _combination(
    found: Candidates,
    i: int,
    parts: Parts,
    r: Requirements,
    *,
    score: float,
    spreads: tuple[float, float],
    refusals: tuple[str, ...],
) -> Combination:
    m, p, b = (int(v) for v in found.which[:, i])
    return Combination(
        motor=parts.motors[m],
        propeller=parts.propellers[p],
        pack=parts.packs[b],
        controller=parts.controllers[int(found.controller[i])],
        motors=r.motors,
        mass_kg=float(found.mass[i]),
        drive_mass_kg=float(found.drive_mass[i]),
        battery_x_m=float(found.battery_x[i]),
        balance_x_m=float(found.balance_x[i]),
        static_thrust_n=float(found.thrust[i]),
        thrust_to_weight=float(found.thrust_to_weight[i]),
        static_current_a=float(found.amps[i]),
        thrust_spread=spreads[0],
        current_spread=spreads[1],
        static_rpm=float(found.rpm[i]),
        static_power_w=float(found.power[i]),
        pitch_speed_ms=float(found.pitch_speed[i]),
        stall_ms=float(found.stall[i]),
        cruise_ms=float(CRUISE_OVER_STALL * found.stall[i]),
        cruise_throttle=float(found.cruise_throttle[i]),
        full_throttle_min=float(found.full_min[i]),
        cruise_min=float(found.cruise_min[i]),
        mixed_min=float(found.mixed_min[i]),
        score=score,
        refusals=refusals,
    )
