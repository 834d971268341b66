"""What the stock offers for a drive, as arrays; and what of it goes together in no case."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sheetlark.drive.aims import Requirements
from sheetlark.drive.family import Floats
from sheetlark.drive.motor import no_load_rpm
from sheetlark.drive.settling import LEAD_OHM, Circuits, propeller_of
from sheetlark.stock import Controller, Motor, Pack, StockPropeller

Integers = NDArray[np.int64]
Reason = tuple[
    str, NDArray[np.bool_], Callable[[int], str]
]  # its name, whom it strikes, how it is said of one

LARGEST_OVER_BELL = 12.0  # propeller over bell diameter: shaft and bearings (common practice, no source)
_HAIR_M = 1e-6  # rounding of sizes read in inches


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parts:
    """The parts and their figures as arrays, one a list of the stock."""

    motors: tuple[Motor, ...]
    propellers: tuple[StockPropeller, ...]
    packs: tuple[Pack, ...]
    controllers: tuple[Controller, ...]
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
    ) -> Parts:
        def each(values: list[float]) -> Floats:
            return np.array(values, dtype=np.float64)

        return cls(
            motors=motors,
            propellers=propellers,
            packs=packs,
            controllers=controllers,
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


def hopeless(r: Requirements, parts: Parts, which: Integers) -> list[Reason]:
    """What no solving can save, with whom it strikes and how it is said."""
    m, p, b = which
    length, width, height = r.bay_m
    sizes = parts.pack_size
    upright = (sizes[:, 1] <= width + _HAIR_M) & (sizes[:, 2] <= height + _HAIR_M)
    turned = (sizes[:, 2] <= width + _HAIR_M) & (sizes[:, 1] <= height + _HAIR_M)
    goes_in = (sizes[:, 0] <= length + _HAIR_M) & (upright | turned)
    return [
        (
            "propeller does not clear",
            parts.diameter[p] > r.largest_propeller_m + 1e-9,
            lambda i: (
                f"the propeller is {1e3 * parts.diameter[p[i]]:.0f} mm across; {1e3 * r.largest_propeller_m:.0f} mm "
                f"clears {r.clears}"
            ),
        ),
        (
            "too many cells",
            parts.cells[b] > parts.max_cells[m],
            lambda i: (
                f"{parts.cells[b[i]]:.0f} cells; the motor stands {parts.max_cells[m[i]]:.0f}. Fewer cells."
            ),
        ),
        (
            "battery does not go in",
            ~goes_in[b],
            lambda i: (
                f"the battery is {' x '.join(f'{1e3 * v:.0f}' for v in sizes[b[i]])} mm; its room is "
                f"{' x '.join(f'{1e3 * v:.0f}' for v in r.bay_m)} mm"
            ),
        ),
        (
            "propeller too large for the motor's bell",
            parts.diameter[p] > LARGEST_OVER_BELL * parts.body_diameter[m],
            lambda i: (
                f"the propeller is {parts.diameter[p[i]] / parts.body_diameter[m[i]]:.0f} times the motor's bell; "
                f"{LARGEST_OVER_BELL:.0f} is the most its shaft and bearings are made for"
            ),
        ),
    ]
