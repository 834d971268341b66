"""What may be wrong with a model, put into the flight model so that its symptoms can be computed.

Each cause is one number: how far something lies from where it should. `afflicted` gives the vehicle and the
mixer as they fly with it. Nothing here says what a cause looks like in the air: that is for the flight model.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from sheetlark.air import AirModel, Control
from sheetlark.evaluation import Evaluation
from sheetlark.flight import AirForces, AirModelForces, ControlSurface, Flow, Mixer, Six, Vehicle
from sheetlark.logbook.symptoms import CAUSE_UNITS, Unit

# How far off a carefully built model usually is, one standard deviation. Common practice, no source.
_USUAL: dict[str, float] = {
    "down-thrust": math.radians(1.2),
    "side-thrust": math.radians(1.2),
    "tail-incidence": math.radians(0.7),
    "starboard-warp": math.radians(0.8),
    "port-warp": math.radians(0.8),
    "aileron-neutral": math.radians(1.2),
    "rudder-neutral": math.radians(1.5),
    "launch-speed": 1.0,
    "rudder-mix": 0.25,
}
_BALANCE_CHORDS = 0.04
_SIDE_SPANS = 0.006


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One thing that may be off.

    usual : standard deviation of how far off it commonly is, in `unit`
    chance : how often it is what is wrong, before anything was seen, as a weight
    wing : which wing is warped, where that makes a difference; empty otherwise
    twist : the air's surface that twists it; -1 where it has none and the warp is put in by strip theory
    """

    name: str
    unit: Unit
    usual: float
    chance: float
    wing: str = ""
    twist: int = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Twist:
    """A half wing that the air can twist: its place among the air's surfaces."""

    wing: str
    side: Literal["starboard", "port"]
    place: int


def with_twists(evaluation: Evaluation) -> tuple[Vehicle, Mixer, tuple[Twist, ...]]:
    """The model with every half wing free to be set at another incidence, in the lattice itself.

    Each wing gets one more hinged part, hinged at its leading edge and as long as its chord; no stick moves it.
    """
    figures, vehicle, mixer = evaluation.air, evaluation.flight.vehicle, evaluation.flight.mixer
    layout = figures.model.layout
    wings = [s for s in layout.surfaces if s.role == "wing"]
    surfaces = tuple(
        replace(
            s,
            controls=(
                *s.controls,
                Control(name=f"twist {wings.index(s)}", kind="elevon", hinge_fraction=0.0),
            ),
        )
        if any(s is w for w in wings)
        else s
        for s in layout.surfaces
    )
    model = AirModel(replace(layout, surfaces=surfaces), figures.results.condition)
    full, torque = vehicle.propulsion(0.0, 1.0)
    motors = evaluation.drive.line.motors if evaluation.drive is not None else 1
    air = AirModelForces(
        model, vehicle.density_kg_m3, torque_per_thrust_m=torque / full if full > 0 else 0.0, motors=motors
    )
    known = {s.name: s for s in mixer.surfaces}
    moved = tuple(known.get(name, ControlSurface(name=name)) for name in air.surfaces)
    sides: tuple[Literal["starboard", "port"], ...] = ("starboard", "port")
    twists = tuple(
        Twist(wing=wing.name, side=side, place=air.surfaces.index(f"twist {k}_{side}"))
        for k, wing in enumerate(wings)
        for side in sides
    )
    return replace(vehicle, air=air), replace(mixer, surfaces=moved), twists


def causes_for(vehicle: Vehicle, mixer: Mixer, twists: tuple[Twist, ...] = ()) -> tuple[Cause, ...]:
    """The causes this model can have: none of a motor it has not, none of a control it has not."""
    has_power = vehicle.propulsion(0.0, 1.0)[0] > 0.0
    rolls = any(s.roll_rad for s in mixer.surfaces)
    yaws = any(s.yaw_rad for s in mixer.surfaces)
    found = []
    for name, unit in CAUSE_UNITS.items():
        if name in ("down-thrust", "side-thrust") and not has_power:
            continue
        if name in ("aileron-neutral", "rudder-mix") and not rolls:
            continue
        if name in ("rudder-neutral", "rudder-mix") and not yaws:
            continue
        usual = {
            "balance": _BALANCE_CHORDS * vehicle.reference.chord_m,
            "side-balance": _SIDE_SPANS * vehicle.reference.span_m,
        }.get(name) or _USUAL[name]
        halves = [t for t in twists if name == f"{t.side}-warp"]
        found += [
            Cause(name=name, unit=unit, usual=usual, chance=1.0 / len(halves), wing=t.wing, twist=t.place)
            for t in halves
        ]
        if halves:
            continue
        # the throw is not the model: it is blamed less
        found.append(Cause(name=name, unit=unit, usual=usual, chance=0.5 if name == "launch-speed" else 1.0))
    return tuple(found)


class ShiftedAir:
    """The same air about another balance point, ``aft_m`` further aft and ``side_m`` further to starboard.

    Forces stay, moments are taken about the new point. That the new point moves a little differently when the
    model turns is left out: for the few per cent of chord in question it is small.
    """

    __slots__ = ("_aft", "_air", "_side")

    def __init__(self, air: AirForces, aft_m: float, side_m: float) -> None:
        self._air, self._aft, self._side = air, aft_m, side_m

    @property
    def surfaces(self) -> tuple[str, ...]:
        return self._air.surfaces

    def __call__(self, flow: Flow, /) -> Six:
        X, Y, Z, L, M, N = self._air(flow)
        # the old point seen from the new one lies at (aft, -side, 0) in flight axes
        return X, Y, Z, L - self._side * Z, M - self._aft * Z, N + self._aft * Y + self._side * X


class WarpedAir:
    """The same air with one wing half set at more incidence.

    A half wing at a constant extra angle d makes the rolling moment that a steady roll of 1.5 d V/b takes away
    (strip theory on a wing of even chord: ∫ y dy over one half against ∫ y² dy over both), and half of d as
    incidence of the whole wing. So the model's own answers to roll and incidence stand for it, adverse yaw and stall
    included; a tail, which does not turn with the wing, is set back by as much (see `afflicted`).

    warp_rad : extra incidence of the half; side : 1 for starboard, -1 for port
    """

    __slots__ = ("_air", "_side", "_span", "_warp")

    def __init__(self, air: AirForces, warp_rad: float, span_m: float, side: float) -> None:
        self._air, self._warp, self._span, self._side = air, warp_rad, span_m, side

    @property
    def surfaces(self) -> tuple[str, ...]:
        return self._air.surfaces

    def __call__(self, flow: Flow, /) -> Six:
        # more incidence to starboard is what rolling to starboard gives: that wing goes down into the air
        roll = flow.p_rad_s + 1.5 * self._side * self._warp * flow.airspeed_ms / self._span
        return self._air(flow._replace(alpha_rad=flow.alpha_rad + 0.5 * self._warp, p_rad_s=roll))


class OffsetAir:
    """The same air with its control surfaces standing off by fixed angles."""

    __slots__ = ("_air", "_offsets")

    def __init__(self, air: AirForces, offsets_rad: tuple[float, ...]) -> None:
        self._air, self._offsets = air, offsets_rad

    @property
    def surfaces(self) -> tuple[str, ...]:
        return self._air.surfaces

    def __call__(self, flow: Flow, /) -> Six:
        moved = tuple(d + o for d, o in zip(flow.deflections_rad, self._offsets, strict=True))
        return self._air(flow._replace(deflections_rad=moved))


@dataclass(frozen=True, slots=True, kw_only=True)
class Afflicted:
    """A model as it flies with something wrong; `extra_throw_ms` is what its launch has too much."""

    vehicle: Vehicle
    mixer: Mixer
    extra_throw_ms: float = 0.0


def afflicted(vehicle: Vehicle, mixer: Mixer, cause: str, amount: float, *, twist: int = -1) -> Afflicted:
    """Put one cause into the flight model.

    Parameters
    ----------
    amount : float
        In the cause's unit. Down thrust, thrust to the right, balance aft, more tail incidence (nose down),
        more incidence of the warped wing, ailerons for roll to starboard, rudder to starboard, balance to
        starboard, a faster throw and more rudder mixed to aileron are positive.
    twist : int
        The air's surface that twists the half wing in question, from `with_twists`.

    Raises
    ------
    KeyError
        If there is no such cause.
    """
    line = vehicle.thrust_line
    if cause == "down-thrust":
        line = replace(line, down_rad=line.down_rad + amount)
        return Afflicted(vehicle=replace(vehicle, thrust_line=line), mixer=mixer)
    if cause == "side-thrust":
        line = replace(line, right_rad=line.right_rad + amount)
        return Afflicted(vehicle=replace(vehicle, thrust_line=line), mixer=mixer)
    if cause in ("balance", "side-balance"):
        aft, side = (amount, 0.0) if cause == "balance" else (0.0, amount)
        line = replace(line, x_m=line.x_m + aft, y_m=line.y_m - side)
        wheels = tuple((x + aft, y - side, z) for x, y, z in vehicle.wheels)
        air = ShiftedAir(vehicle.air, aft, side)
        return Afflicted(vehicle=replace(vehicle, air=air, thrust_line=line, wheels=wheels), mixer=mixer)
    if cause in ("starboard-warp", "port-warp") and twist >= 0:
        turned = tuple(amount if k == twist else 0.0 for k in range(len(mixer.surfaces)))
        return Afflicted(vehicle=replace(vehicle, air=OffsetAir(vehicle.air, turned)), mixer=mixer)
    if cause in ("starboard-warp", "port-warp"):
        side = 1.0 if cause == "starboard-warp" else -1.0
        back = tuple(
            0.0 if surface.roll_rad else _offset("tail-incidence", surface, -0.5 * amount)
            for surface in mixer.surfaces
        )
        warped = WarpedAir(OffsetAir(vehicle.air, back), amount, vehicle.reference.span_m, side)
        return Afflicted(vehicle=replace(vehicle, air=warped), mixer=mixer)
    if cause in ("tail-incidence", "aileron-neutral", "rudder-neutral"):
        offsets = tuple(_offset(cause, surface, amount) for surface in mixer.surfaces)
        return Afflicted(vehicle=replace(vehicle, air=OffsetAir(vehicle.air, offsets)), mixer=mixer)
    if cause == "rudder-mix":
        return Afflicted(vehicle=vehicle, mixer=mixer.with_rudder_mix(mixer.rudder_mix + amount))
    if cause == "launch-speed":
        return Afflicted(vehicle=vehicle, mixer=mixer, extra_throw_ms=amount)
    raise KeyError(cause)


def _offset(cause: str, surface: object, amount: float) -> float:
    """How far a control surface stands off, trailing edge down positive. [rad].

    A tailplane set at more incidence acts as its elevator drooped by more: the elevator's share of the
    tailplane's lift, near 0.65 for the common 40 % hinge (thin-aerofoil theory), turns one into the other.
    """
    pitch, roll, yaw = (float(getattr(surface, name)) for name in ("pitch_rad", "roll_rad", "yaw_rad"))
    if cause == "tail-incidence":
        return -math.copysign(1.0, pitch) * amount / 0.65 if pitch else 0.0
    if cause == "aileron-neutral":
        return math.copysign(1.0, roll) * amount if roll else 0.0
    return math.copysign(1.0, yaw) * amount if yaw else 0.0
