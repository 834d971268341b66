"""Where motor, propeller and battery settle, for one drive or for thousands at once.

At a speed n the motor's current follows from the circuit in closed form; what is left is one equation, motor
torque = propeller torque, whose left side falls with n and whose right side rises. It is bracketed and bisected:
no starting guess, no second root.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

import numpy as np

from sheetlark.drive.battery import open_circuit_v, resistance_factor
from sheetlark.drive.family import Floats
from sheetlark.drive.motor import no_load_current, no_load_rpm, torque_constant, warm_resistance
from sheetlark.drive.propeller import MeasuredPoint, Propeller, curves
from sheetlark.errors import GeometryError, SolveError, StockError
from sheetlark.stock import Controller, Motor, Pack, StockPropeller

# A controller chopping at part throttle loses 8 % of the motor's current share at most (typical, from memory):
# freewheeling in its switches and the ripple's extra heat.
CHOPPING_LOSS = 0.08
LEAD_OHM = 0.004  # 0.15 m of 1.3 mm² wire both ways with plugs, 13.3 mohm/m (copper at 20 °C), and 2 joints
LEAST_RPM = 1.0
STEPS = 48  # halvings: 20 000 rpm to 1e-10 rpm


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveLine:
    """A battery, a controller for each motor, motors and propellers, all alike.

    motors : int
        How many motors share the pack.
    pusher : bool
        Propeller behind: it works in the body's wake; `wake_fraction` of the airspeed is missing there.
    """

    motor: Motor
    propeller: Propeller
    pack: Pack
    controller: Controller
    motors: int = 1
    lead_ohm: float = LEAD_OHM
    pusher: bool = False
    wake_fraction: float = 0.0

    def __post_init__(self) -> None:
        if not 1 <= self.motors <= 8:
            raise SolveError(f"a drive has 1 to 8 motors, got {self.motors}")
        if not 0.0 <= self.wake_fraction < 0.8:
            raise SolveError(f"the wake fraction must be from 0 to below 0.8, got {self.wake_fraction:g}")


def propeller_of(entry: StockPropeller) -> Propeller:
    """The propeller of a stock entry, corrected by the readings kept with it.

    Raises
    ------
    StockError
        For a style nobody measured or a size that cannot be; the message names the entry.
    """
    points = tuple(
        MeasuredPoint(
            rpm=r.rpm,
            advance_ratio=r.advance_ratio,
            thrust_coefficient=r.thrust_coefficient,
            power_coefficient=r.power_coefficient,
            spread=r.spread,
        )
        for r in entry.readings
    )
    try:
        return Propeller(
            diameter_m=entry.diameter_m,
            pitch_m=entry.pitch_m,
            style=entry.style,
            blades=entry.blades,
            points=points,
        )
    except (GeometryError, StockError) as error:
        raise StockError(f"propeller {entry.key!r} in stock: {error}") from error


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Circuits:
    """Many drives side by side, each field an array of shape (n,), `series` of shape (n, 12)."""

    cells: Floats
    cell_ohm: Floats
    controller_ohm: Floats
    motors: Floats
    kv_rpm_v: Floats
    winding_ohm: Floats
    no_load_a: Floats
    no_load_rpm: Floats
    series: Floats
    diameter_m: Floats
    pitch_ratio: Floats
    blades: Floats

    def repeated(self, times: int) -> Circuits:
        """Each drive ``times`` times over, next to one another."""
        return Circuits(
            **{f.name: np.repeat(getattr(self, f.name), times, axis=0) for f in fields(self)},
        )

    @classmethod
    def joined(cls, *many: Circuits) -> Circuits:
        """Several rows of drives one after another."""
        return cls(**{f.name: np.concatenate([getattr(c, f.name) for c in many]) for f in fields(cls)})

    @classmethod
    def of(cls, *drives: DriveLine) -> Circuits:
        """Line up drives."""

        def each(values: list[float]) -> Floats:
            return np.array(values, dtype=np.float64)

        return cls(
            cells=each([d.pack.cells for d in drives]),
            cell_ohm=each([d.pack.resistance_per_cell_ohm for d in drives]),
            controller_ohm=each([d.controller.resistance_ohm + d.lead_ohm for d in drives]),
            motors=each([d.motors for d in drives]),
            kv_rpm_v=each([d.motor.kv_rpm_v for d in drives]),
            winding_ohm=each([d.motor.resistance_ohm for d in drives]),
            no_load_a=each([d.motor.no_load_current_a for d in drives]),
            no_load_rpm=each([no_load_rpm(d.motor) for d in drives]),
            series=np.stack([d.propeller.series_coefficients for d in drives]),
            diameter_m=each([d.propeller.diameter_m for d in drives]),
            pitch_ratio=each([d.propeller.pitch_ratio for d in drives]),
            blades=each([d.propeller.blades for d in drives]),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class States:
    """Where many drives settle: arrays of shape (n,), each motor's own unless the name says pack."""

    rpm: Floats
    thrust_n: Floats
    torque_nm: Floats
    motor_current_a: Floats
    no_load_a: Floats
    pack_current_a: Floats
    pack_voltage_v: Floats
    open_circuit_v: Floats
    pack_ohm: Floats
    motor_voltage_v: Floats
    winding_ohm: Floats


def disc_load(c: Circuits, rpm: Floats, airspeed_ms: Floats, density_kg_m3: float) -> tuple[Floats, Floats]:
    """Thrust and torque of each propeller at a speed above 0. [N], [N m]."""
    n = rpm / 60.0
    thrust, power = curves(
        c.series,
        pitch_ratio=c.pitch_ratio,
        diameter_m=c.diameter_m,
        blades=c.blades,
        advance_ratio=airspeed_ms / (n * c.diameter_m),
        rpm=rpm,
    )
    disc = density_kg_m3 * n**2 * c.diameter_m**4
    return thrust * disc, power * disc * c.diameter_m / (2.0 * math.pi)


def pack_at(c: Circuits, charge: Floats, temperature_k: float) -> tuple[Floats, Floats]:
    """Resting voltage and resistance of each drive's pack at a state of charge. [V], [ohm]."""
    return c.cells * open_circuit_v(charge), c.cells * c.cell_ohm * resistance_factor(charge, temperature_k)


def settle(
    c: Circuits,
    *,
    airspeed_ms: Floats | float,
    throttle: Floats | float,
    charge: Floats | float,
    density_kg_m3: float = 1.225,
    pack_temperature_k: float = 298.15,
    winding_temperature_k: float = 293.15,
) -> States:
    """Settle many drives at once.

    Parameters
    ----------
    c : Circuits
        n drives.
    airspeed_ms, throttle, charge : array_like, broadcast to (n,)
        Airspeed at the disc, 0 or above; throttle and state of charge from 0 to 1.

    Raises
    ------
    SolveError
        If an input is out of its range; the message names it.
    """
    shape = np.shape(c.cells)
    speed = within("airspeed_ms", airspeed_ms, 0.0, 120.0, shape)
    duty = within("throttle", throttle, 0.0, 1.0, shape)
    left = within("charge", charge, 0.0, 1.0, shape)
    within("density_kg_m3", density_kg_m3, 0.1, 3.0, ())
    resting, pack_ohm = pack_at(c, left, pack_temperature_k)
    winding = warm_resistance(c.winding_ohm, winding_temperature_k)
    # The pack sees duty times the motor's current, and a little more while the controller chops.
    share = duty * (1.0 + CHOPPING_LOSS * (1.0 - duty))
    circuit_ohm = winding + c.controller_ohm + duty * share * c.motors * pack_ohm
    kt = torque_constant(c.kv_rpm_v)

    def current(rpm: Floats) -> Floats:
        # A controller without brake lets the motor spin free: no current flows back.
        return np.maximum((duty * resting - rpm / c.kv_rpm_v) / circuit_ohm, 0.0)

    def surplus(rpm: Floats) -> Floats:
        idle = no_load_current(rpm, current_a=c.no_load_a, reference_rpm=c.no_load_rpm)
        return np.asarray(
            kt * (current(rpm) - idle) - disc_load(c, rpm, speed, density_kg_m3)[1], dtype=np.float64
        )

    low = np.full(shape, LEAST_RPM)
    # Neither the circuit nor the wind can turn it faster: no-load speed, or twice the pitch speed.
    wind = 2.0 * 60.0 * speed / (c.pitch_ratio * c.diameter_m)
    high = np.maximum(c.kv_rpm_v * duty * resting, wind) + 10.0
    stands = surplus(low) <= 0.0
    for _ in range(STEPS):
        middle = 0.5 * (low + high)
        more = surplus(middle) > 0.0
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    rpm = np.where(stands, 0.0, 0.5 * (low + high))
    turning = np.maximum(rpm, LEAST_RPM)
    thrust, torque = disc_load(c, turning, speed, density_kg_m3)
    amps = current(rpm)
    # A motor that cannot start still draws what its throttle asks, and turns none of it into iron heat.
    idle = no_load_current(rpm, current_a=c.no_load_a, reference_rpm=c.no_load_rpm)
    pack_current = share * amps * c.motors
    pack_voltage = resting - pack_current * pack_ohm
    return States(
        rpm=rpm,
        thrust_n=np.where(stands, np.minimum(thrust, 0.0), thrust),  # a propeller that stands only drags
        torque_nm=np.where(stands, 0.0, torque),
        motor_current_a=amps,
        no_load_a=np.where(stands, 0.0, idle),
        pack_current_a=pack_current,
        pack_voltage_v=pack_voltage,
        open_circuit_v=resting,
        pack_ohm=pack_ohm,
        motor_voltage_v=rpm / c.kv_rpm_v + amps * winding,
        winding_ohm=winding,
    )


def throttled(
    c: Circuits,
    *,
    thrust_n: Floats | float,
    airspeed_ms: Floats | float,
    charge: Floats | float,
    density_kg_m3: float = 1.225,
    pack_temperature_k: float = 298.15,
    winding_temperature_k: float = 293.15,
) -> tuple[Floats, Floats]:
    """Throttle and pack current at which each drive gives a thrust.

    The speed that gives the thrust is bisected for, the motor's current follows from its torque, and the
    throttle from the circuit: no equilibrium is solved inside another.

    Parameters
    ----------
    c : Circuits
        n drives.
    thrust_n : array_like, broadcast to (n,)
        Of all motors together, above 0. [N]

    Returns
    -------
    tuple of ndarray, shape (n,)
        Throttle, nan where full throttle does not give the thrust; current of the pack. [-], [A]
    """
    shape = np.shape(c.cells)
    each = within("thrust_n", thrust_n, 0.0, 1e4, shape) / c.motors
    speed = within("airspeed_ms", airspeed_ms, 0.0, 120.0, shape)
    left = within("charge", charge, 0.0, 1.0, shape)
    resting = c.cells * open_circuit_v(left)
    pack_ohm = c.cells * c.cell_ohm * resistance_factor(left, pack_temperature_k)
    low, high = np.full(shape, LEAST_RPM), c.kv_rpm_v * resting
    for _ in range(40):
        middle = 0.5 * (low + high)
        short = disc_load(c, middle, speed, density_kg_m3)[0] < each
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    rpm = 0.5 * (low + high)
    torque = disc_load(c, rpm, speed, density_kg_m3)[1]
    idle = no_load_current(rpm, current_a=c.no_load_a, reference_rpm=c.no_load_rpm)
    amps = np.maximum(torque / torque_constant(c.kv_rpm_v) + idle, 0.0)
    needed = rpm / c.kv_rpm_v + amps * (
        warm_resistance(c.winding_ohm, winding_temperature_k) + c.controller_ohm
    )

    def drawn(duty: Floats) -> Floats:
        return duty * (1.0 + CHOPPING_LOSS * (1.0 - duty)) * amps * c.motors

    # duty (resting - drawn R) rises with duty up to the pack's own power limit, where its derivative, a square in
    # duty, has its lesser root; look below it.
    least = np.zeros(shape)
    sag = amps * c.motors * pack_ohm
    square, slope = 3.0 * sag * CHOPPING_LOSS, 2.0 * sag * (1.0 + CHOPPING_LOSS)
    under = slope**2 - 4.0 * square * resting
    peak = 2.0 * resting / np.maximum(slope + np.sqrt(np.maximum(under, 0.0)), 1e-12)
    most = np.where(under > 0.0, np.minimum(peak, 1.0), 1.0)
    reach = most * (resting - drawn(most) * pack_ohm) >= needed
    for _ in range(40):
        middle = 0.5 * (least + most)
        short = middle * (resting - drawn(middle) * pack_ohm) < needed
        least, most = np.where(short, middle, least), np.where(short, most, middle)
    duty = np.where(reach, 0.5 * (least + most), np.nan)
    return duty, np.where(reach, drawn(np.where(reach, duty, 0.0)), np.nan)


def within(name: str, value: Floats | float, least: float, most: float, shape: tuple[int, ...]) -> Floats:
    """A value of the shape asked for, refused by its name outside its range."""
    values = np.asarray(value, dtype=np.float64)
    bad = ~(np.isfinite(values) & (values >= least) & (values <= most))
    if bad.any():
        raise SolveError(f"{name} must be from {least:g} to {most:g}, got {values[bad].flat[0]:g}")
    return np.broadcast_to(values, shape) if shape else values
