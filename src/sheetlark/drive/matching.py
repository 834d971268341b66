"""Which motor, propeller and battery: every combination in stock, weighed, balanced, refused or ranked.

Each combination is put into the model with its own mass, the battery slid to where the model balances, the
controller picked for its current, and the drive solved standing, at full throttle in cruise, and holding cruise.
All combinations are solved side by side.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sheetlark.drive.aims import AIMS, Aim, Requirements
from sheetlark.drive.candidates import Candidates
from sheetlark.drive.family import Floats
from sheetlark.drive.settling import DriveLine, propeller_of
from sheetlark.drive.shelf import Integers, Parts, Reason, hopeless
from sheetlark.errors import SolveError
from sheetlark.stock import Controller, Motor, Pack, Stock, StockPropeller

AT_A_TIME = 4096  # combinations solved side by side: few enough to stop between, enough to be quick

Progress = Callable[[float, str], None]
Choice = tuple[Motor, StockPropeller, Pack, Controller]


@dataclass(frozen=True, slots=True, kw_only=True)
class Combination:
    """One combination in the model. `refusals` is empty for one that will do.

    static_thrust_n, thrust_to_weight : less what the nose behind the disc costs
    motor_current_a : of one motor, standing still
    climb_ms : at 1.2 times the stall and full throttle, four fifths of the charge left
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
    motor_current_a: float
    thrust_spread: float
    current_spread: float
    static_rpm: float
    static_power_w: float
    pitch_speed_ms: float
    stall_ms: float
    cruise_ms: float
    cruise_throttle: float
    climb_ms: float
    full_throttle_min: float
    cruise_min: float
    mixed_min: float
    score: float
    refusals: tuple[str, ...]

    @property
    def tightest(self) -> tuple[str, float]:
        """Which of motor, controller and cells is nearest its limit on current, and the share of it used."""
        shares = {
            "motor": self.motor_current_a / self.motor.max_current_a,
            "controller": self.motor_current_a / self.controller.max_current_a,
            "cells": self.static_current_a / (self.pack.continuous_c * self.pack.capacity_ah),
        }
        name = max(shares, key=lambda each: shares[each])
        return name, shares[name]

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

    requirements : of the model they were tried in
    to_try, tried : how many there are, and how many were tried before it was told to stop
    will_do : how many had no reason against them; `fitting` may hold fewer
    today : the model's present drive, tried alike; None where none was given
    ahead_of_today : how many of those that will do have a better score than it
    """

    aim: Aim
    requirements: Requirements
    to_try: int
    tried: int
    will_do: int
    fitting: tuple[Combination, ...]
    refused: tuple[Combination, ...]
    counts: tuple[RefusalCount, ...]
    today: Combination | None = None
    ahead_of_today: int = 0


def rank(
    requirements: Requirements,
    stock: Stock,
    aim: Aim | Literal["vertical", "sport", "floating", "long"] = "sport",
    *,
    motors: tuple[Motor, ...] | None = None,
    propellers: tuple[StockPropeller, ...] | None = None,
    packs: tuple[Pack, ...] | None = None,
    today: Choice | None = None,
    keep_fitting: int = 500,
    keep_refused: int = 200,
    progress: Progress | None = None,
    should_stop: Callable[[], bool] | None = None,
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
    today : tuple, optional
        Motor, propeller, pack and controller that are in the model now, tried beside the others.
    keep_fitting, keep_refused : int
        How many of each to return in full.
    progress : callable, optional
        Called with a fraction and a few words.
    should_stop : callable, optional
        Asked between batches; the ranking is then of those tried so far.

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
    tell = progress or (lambda _share, _words: None)
    stop = should_stop or (lambda: False)
    grid = np.indices((len(m_all), len(p_all), len(b_all))).reshape(3, -1)
    parts = Parts.of(m_all, p_all, b_all, e_all)
    first = hopeless(r, parts, grid)
    counts = {name: int(mask.sum()) for name, mask, _ in first}
    survivors = grid[:, ~np.any([mask for _, mask, _ in first], axis=0)]
    solved: list[Candidates] = []
    done = 0
    while done < survivors.shape[1] and not stop():
        batch = survivors[:, done : done + AT_A_TIME]
        solved.append(Candidates.solve(r, parts, batch))
        done += batch.shape[1]
        tell(done / survivors.shape[1], f"{done} of {survivors.shape[1]} drives solved")
    fitting: list[Combination] = []
    refused: list[Combination] = []
    good_scores = np.zeros(0)
    if solved:
        found = Candidates.joined(solved)
        reasons = found.reasons(r, aim, parts)
        for name, mask, _ in reasons:
            counts[name] = int(mask.sum())
        number = np.sum([mask for _, mask, _ in reasons], axis=0)
        score = found.score(aim)
        good_scores = score[number == 0]
        order = np.argsort(-score, kind="stable")
        good = [int(i) for i in order if number[i] == 0][:keep_fitting]
        bad_order = np.lexsort((-score, number))
        bad = [int(i) for i in bad_order if number[i] > 0][:keep_refused]
        made = _combinations(found, np.array([*good, *bad], dtype=np.int64), parts, r, score, reasons)
        fitting, refused = made[: len(good)], made[len(good) :]
    now = None if today is None else assess(r, today, aim)
    return Ranking(
        aim=aim,
        requirements=r,
        to_try=grid.shape[1],
        tried=grid.shape[1] - survivors.shape[1] + done,
        will_do=int(good_scores.size),
        fitting=tuple(fitting),
        refused=tuple(refused),
        counts=tuple(
            RefusalCount(reason=k, count=v) for k, v in sorted(counts.items(), key=lambda kv: -kv[1]) if v
        ),
        today=now,
        ahead_of_today=0 if now is None else int(np.count_nonzero(good_scores > now.score + 1e-9)),
    )


def assess(requirements: Requirements, choice: Choice, aim: Aim) -> Combination:
    """One drive in the model, with every reason against it, as `rank` tries them."""
    motor, propeller, pack, controller = choice
    parts = Parts.of((motor,), (propeller,), (pack,), (controller,))
    which = np.zeros((3, 1), dtype=np.int64)
    found = Candidates.solve(requirements, parts, which)
    reasons = [*hopeless(requirements, parts, which), *found.reasons(requirements, aim, parts)]
    only = np.zeros(1, dtype=np.int64)
    return _combinations(found, only, parts, requirements, found.score(aim), reasons)[0]


def _combinations(
    found: Candidates,
    chosen: Integers,
    parts: Parts,
    r: Requirements,
    score: Floats,
    reasons: list[Reason],
) -> list[Combination]:
    """Those chosen, in full."""
    if not chosen.size:
        return []
    thrust_off, current_off = found.spreads(r, parts, chosen)
    return [
        _combination(
            found,
            int(i),
            parts,
            r,
            score=float(score[i]),
            spreads=(float(thrust_off[k]), float(current_off[k])),
            refusals=tuple(says(int(i)) for _, mask, says in reasons if mask[i]),
        )
        for k, i in enumerate(chosen)
    ]


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
        motor_current_a=float(found.motor_amps[i]),
        thrust_spread=spreads[0],
        current_spread=spreads[1],
        static_rpm=float(found.rpm[i]),
        static_power_w=float(found.power[i]),
        pitch_speed_ms=float(found.pitch_speed[i]),
        stall_ms=float(found.stall[i]),
        cruise_ms=float(found.cruise[i]),
        cruise_throttle=float(found.cruise_throttle[i]),
        climb_ms=float(found.climb[i]),
        full_throttle_min=float(found.full_min[i]),
        cruise_min=float(found.cruise_min[i]),
        mixed_min=float(found.mixed_min[i]),
        score=score,
        refusals=refusals,
    )
