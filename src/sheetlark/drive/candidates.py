"""Many combinations side by side: solved in the model, scored, and the reasons against each."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from sheetlark.drive.aims import Aim, Requirements
from sheetlark.drive.battery import CUT_OFF_V
from sheetlark.drive.endurance import RADIO_A
from sheetlark.drive.family import Floats
from sheetlark.drive.nose import slipstream_loss_n
from sheetlark.drive.settling import propeller_of, settle, throttled
from sheetlark.drive.shelf import Integers, Parts, Reason
from sheetlark.drive.static_figures import LEAST_READ_RPM, motor_spread, static_spreads
from sheetlark.units import show_mass

GRAVITY_MS2 = 9.80665
CONTROLLER_MARGIN = 1.15  # a controller's rating over the current it will see (common practice)
CLIMB_OVER_STALL = 1.2  # common practice
TIP_SPEED_MS = 205.0  # Mach 0.6: beyond it tips lose lift and howl (common practice)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidates:
    """What solving gave: arrays of shape (n,)."""

    which: Integers
    controller: Integers
    mass: Floats
    drive_mass: Floats
    battery_x: Floats
    wanted_x: Floats
    battery_low_x: Floats
    battery_high_x: Floats
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
    cruise: Floats
    cruise_throttle: Floats
    climb: Floats
    full_min: Floats
    cruise_min: Floats
    mixed_min: Floats
    enough_controller: NDArray[np.bool_]

    @classmethod
    def solve(cls, r: Requirements, parts: Parts, which: Integers) -> Candidates:
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
        half = 0.5 * parts.pack_size[b, 0]
        low = np.maximum(r.battery_from_x_m, r.battery_ends_x_m[0] + half)
        high = np.minimum(r.battery_to_x_m, r.battery_ends_x_m[1] - half)
        battery_x = np.where(low <= high, np.clip(wanted_x, low, high), 0.5 * (low + high))
        weight = mass * GRAVITY_MS2
        stall = np.sqrt(2 * weight / (r.density_kg_m3 * r.wing_area_m2 * r.cl_max))
        cruise = np.minimum(r.cruise_over_stall * stall, 100.0)
        drag = weight * r.drag_to_lift(r.cruise_over_stall)
        diameter = parts.diameter[p]

        def net(each_n: Floats, speed_ms: Floats | float) -> Floats:
            """Thrust of all propellers, less what their slipstream loses on the nose."""
            return np.asarray(k * r.thrust_kept * (each_n - _lost(r, each_n, speed_ms, diameter)))

        # The free thrust that leaves the drag: the loss is a small share of it and settles in a few steps.
        blown = r.slipstream_drag_at(np.asarray(diameter, dtype=np.float64))
        wanted = blown * drag / r.thrust_kept
        asked = wanted
        for _ in range(4):
            asked = wanted + blown * k * _lost(r, asked / k, cruise, diameter)
        at_disc = cruise * (1.0 - r.wake_fraction)
        throttle, cruise_amps = throttled(
            c,
            thrust_n=np.minimum(asked, 9e3),
            airspeed_ms=at_disc,
            charge=0.5,
            density_kg_m3=r.density_kg_m3,
        )
        flying = settle(c, airspeed_ms=at_disc, throttle=1.0, charge=0.6, density_kg_m3=r.density_kg_m3)
        slow = CLIMB_OVER_STALL * cruise / r.cruise_over_stall
        climbing = settle(
            c,
            airspeed_ms=slow * (1.0 - r.wake_fraction),
            throttle=1.0,
            charge=0.8,
            density_kg_m3=r.density_kg_m3,
        )
        rise = net(climbing.thrust_n, slow) / weight - r.drag_to_lift(CLIMB_OVER_STALL)
        # A sagging pack may not hold cruise down to the reserve: the flight ends where full throttle gives what is
        # asked, between three fifths of the charge and the reserve, read off a straight line.
        last = settle(c, airspeed_ms=at_disc, throttle=1.0, charge=r.reserve, density_kg_m3=r.density_kg_m3)
        much, little = k * flying.thrust_n, k * last.thrust_n
        down = np.clip((much - asked) / np.maximum(much - little, 1e-9), 0.0, 1.0)
        lasting = (1.0 - 0.6 + (0.6 - r.reserve) * down) / (1.0 - r.reserve)
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
            battery_low_x=low,
            battery_high_x=high,
            balance_x=(moment + pack * battery_x) / mass,
            thrust=net(still.thrust_n, 0.0),
            amps=still.pack_current_a,
            motor_amps=still.motor_current_a,
            rpm=still.rpm,
            power=still.pack_current_a * still.pack_voltage_v,
            cell_v=still.pack_voltage_v / parts.cells[b],
            pitch_speed=parts.pitch[p] * still.rpm / 60,
            tip_speed=math.pi * parts.diameter[p] * still.rpm / 60,
            stall=stall,
            cruise_throttle=throttle,
            cruise=cruise,
            climb=rise * slow,
            full_min=minutes / full_amps,
            cruise_min=lasting * minutes / cruise_amps,
            mixed_min=lasting * minutes / (r.full_share * full_amps + (1 - r.full_share) * cruise_amps),
            enough_controller=enough,
        )

    @classmethod
    def joined(cls, several: list[Candidates]) -> Candidates:
        """One after the other."""
        return cls(
            **{f.name: np.concatenate([getattr(s, f.name) for s in several], axis=-1) for f in fields(cls)}
        )

    @property
    def thrust_to_weight(self) -> Floats:
        return self.thrust / (self.mass * GRAVITY_MS2)

    def score(self, aim: Aim) -> Floats:
        """Logarithms of thrust up to what is wanted, of minutes, and of lightness, weighted by the aim."""
        thrust = np.log(np.clip(self.thrust_to_weight / aim.wanted_thrust_to_weight, 1e-3, 1.0))
        minutes = np.log(np.clip(np.nan_to_num(self.mixed_min, nan=0.1), 0.1, 120.0))
        return 2.0 * thrust + aim.minutes_weight * minutes - aim.lightness_weight * np.log(self.mass)

    def reasons(self, r: Requirements, aim: Aim, parts: Parts) -> list[Reason]:
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
                lambda i: self._weak_controller(i, parts),
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
                lambda i: f"cannot hold {self.cruise[i]:.1f} m/s in level flight on a half-full pack",
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
                (off > r.balance_tolerance_m)
                | (
                    off < -(r.balance_tolerance_m if r.forward_tolerance_m is None else r.forward_tolerance_m)
                ),
                lambda i: (
                    f"the battery's middle would have to lie at {1e3 * self.wanted_x[i]:.0f} mm; its room is "
                    f"{1e3 * self.battery_low_x[i]:.0f} to {1e3 * self.battery_high_x[i]:.0f} mm, which leaves the balance "
                    f"{1e3 * abs(off[i]):.0f} mm too far {'aft' if off[i] > 0 else 'forward'}"
                ),
            ),
            (
                "too heavy",
                self.mass > r.largest_mass_kg,
                lambda i: (
                    f"all up {show_mass(self.mass[i])}; at most {show_mass(r.largest_mass_kg)} is allowed"
                ),
            ),
        ]

    def _weak_controller(self, i: int, parts: Parts) -> str:
        amps = self.motor_amps[i]
        if len(parts.controllers) == 1:
            only = parts.controllers[0]
            return (
                f"the controller stands {only.max_current_a:.0f} A on up to {only.max_cells} cells; the motor draws "
                f"{amps:.1f} A on {parts.cells[self.which[2, i]]:.0f}, and {CONTROLLER_MARGIN:g} times as much is wanted"
            )
        return f"no controller in stock stands {CONTROLLER_MARGIN * amps:.1f} A on {parts.cells[self.which[2, i]]:.0f} cells"

    def spreads(self, r: Requirements, parts: Parts, chosen: Integers) -> tuple[Floats, Floats]:
        """Relative spreads of static thrust and current of some of them, shape (chosen,)."""
        which = self.which[:, chosen]
        m, p, _ = which
        off = np.zeros((2, chosen.size))
        for number in np.unique(p):
            own = p == number
            rpm = np.maximum(self.rpm[chosen][own], LEAST_READ_RPM)
            off[:, own] = propeller_of(parts.propellers[number]).spread(np.zeros_like(rpm), rpm)
        motor = np.array([motor_spread(parts.motors[i]) for i in m])
        thrust, current, _ = static_spreads(
            parts.circuits(which, parts.controller_ohm[self.controller[chosen]], r.motors),
            thrust_off=off[0],
            power_off=off[1],
            kv_off=motor[:, 0],
            winding_off=motor[:, 1],
            density_kg_m3=r.density_kg_m3,
        )
        return thrust, current


def _lost(r: Requirements, each_n: Floats, speed_ms: Floats | float, diameter_m: Floats) -> Floats:
    """What each propeller's slipstream loses on the nose behind it. [N]."""
    if r.nose is None:
        return np.zeros_like(each_n)
    return slipstream_loss_n(
        each_n, airspeed_ms=speed_ms, diameter_m=diameter_m, nose=r.nose, density_kg_m3=r.density_kg_m3
    )
