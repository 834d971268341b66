"""A design as a drive finds it: its mass and balance without one, its drag, its room; and every drive tried in it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from sheetlark.airframe import Airframe, LiftingSurface
from sheetlark.atmosphere import GRAVITY_MS2, air_at
from sheetlark.design import Drive
from sheetlark.drive import Duration, Ranking, Requirements, rank, slipstream_loss_n
from sheetlark.errors import DesignError, SolveError
from sheetlark.evaluation.drive_stage import FULL_SHARE, mixed_flight
from sheetlark.evaluation.whole import Evaluation
from sheetlark.stock import Motor, Pack, Stock

AimName = Literal["vertical", "sport", "floating", "long"]

GROUND_GAP_M = (
    0.015  # tip above the ground, standing level: grass and a lifted tail (common practice, no source)
)
TIP_GAP_M = 0.005  # tip from wings, booms, body and the other propeller (common practice, no source)
HUB_AHEAD_M = 0.006  # from the front of a motor's case to the middle of the blades (from memory)
OPEN_SIDE_M = 0.6  # where nothing is in the way: larger than any propeller a sheet model carries
NOTHING_NEAR = "everything"
_BALANCE_ROOM_M = 0.002  # nearer than this nobody slides a battery
_DRIVE_KINDS = ("motor", "propeller", "pack", "controller")


@dataclass(frozen=True, slots=True, kw_only=True)
class Clearance:
    """The largest propeller that turns free.

    diameter_m : float
    nearest : str
        What it would strike first, in words.
    """

    diameter_m: float
    nearest: str


def match_design(
    evaluation: Evaluation,
    aim: AimName | None = None,
    *,
    motors: tuple[Motor, ...] | None = None,
    keep_fitting: int = 500,
    keep_refused: int = 200,
    progress: Callable[[float, str], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Ranking:
    """Try every motor, propeller and battery in stock in a design, and rank them.

    The person's own stock counts as the supplied one does. The design's present drive is tried alike and stands in
    `Ranking.today`, with every reason against it.

    Parameters
    ----------
    aim : str, optional
        "sport", "vertical", "floating" or "long"; the design's own style of flying if left out.
    motors : tuple of Motor, optional
        Only these.
    progress : callable, optional
        Called with a fraction and a few words.
    should_stop : callable, optional
        Asked between batches.

    Raises
    ------
    DesignError
        If the design has no drive: a drive is matched to the places of motor and battery.
    """
    drive, stock = _drive_of(evaluation), evaluation.stock
    return rank(
        requirements(evaluation),
        stock,
        aim if aim is not None else evaluation.design.flying.style,
        motors=motors,
        today=(
            stock.motor(drive.motor),
            stock.propeller(drive.propeller),
            stock.pack(drive.pack),
            stock.controller(drive.controller),
        ),
        keep_fitting=keep_fitting,
        keep_refused=keep_refused,
        progress=progress,
        should_stop=should_stop,
    )


def _drive_of(e: Evaluation) -> Drive:
    if e.design.drive is None:
        raise e.design.refusal(
            (),
            "a drive is matched to the places of motor, controller and battery, and this design has none: "
            "write a [drive] table first, with any motor, propeller, pack and controller in it",
        )
    return e.design.drive


def requirements(e: Evaluation) -> Requirements:
    """The model as a drive finds it.

    Raises
    ------
    DesignError
        If the design has no drive, or weighs nothing without it.
    """
    drive = _drive_of(e)
    assert e.drive is not None
    batches = {
        f"{kind} {key}": kind
        for kind, key in zip(
            _DRIVE_KINDS, (drive.motor, drive.propeller, drive.pack, drive.controller), strict=True
        )
    }
    bare = [line.element for line in e.weights.lines if line.batch not in batches]
    mass = sum(element.mass_kg for element in bare)
    if mass <= 0.0:
        raise DesignError("the model weighs nothing without its drive; there is nothing to match a drive to")
    balance_x = sum(element.mass_kg * float(element.at_m[0]) for element in bare) / mass

    def place(kind: str) -> float:
        own = [line.element for line in e.weights.lines if batches.get(line.batch) == kind]
        return sum(v.mass_kg * float(v.at_m[0]) for v in own) / sum(v.mass_kg for v in own)

    zero, growth = _drag(e)
    here, limits = float(e.weights.balance_m[0]), e.flight.balance
    # Further aft than the wanted margin nobody should go; further forward does, as far as the elevator holds it.
    wanted = here + max(limits.aft_limit_m, limits.forward_limit_m)
    front, back, width, height = battery_room(e.airframe, drive, e.stock.pack(drive.pack))
    clear = propeller_clearance(e.airframe, drive, e.stock)
    found = Requirements(
        bare_mass_kg=mass,
        bare_balance_x_m=balance_x,
        balance_x_m=wanted,
        balance_tolerance_m=_BALANCE_ROOM_M,
        forward_tolerance_m=max(limits.aft_limit_m - limits.forward_limit_m, _BALANCE_ROOM_M),
        motor_x_m=place("motor"),
        propeller_x_m=place("propeller"),
        controller_x_m=place("controller"),
        battery_from_x_m=front,
        battery_to_x_m=back,
        battery_ends_x_m=(front, back),
        bay_m=(back - front, width, height),
        wing_area_m2=e.airframe.reference.area_m2,
        cl_max=e.flight.polar.greatest_lift,
        drag_zero=zero,
        drag_due_to_lift=growth,
        largest_propeller_m=clear.diameter_m,
        clears=clear.nearest,
        motors=2 if drive.twin else 1,
        nose=e.drive.nose,
        cruise_over_stall=e.flight.cruise_ms / e.flight.stall_ms,
        wake_fraction=e.drive.line.wake_fraction if drive.pusher else 0.0,
        full_share=FULL_SHARE,
        density_kg_m3=air_at(e.design.flying.altitude, e.design.flying.temperature).density_kg_m3,
    )
    diameter = e.drive.line.propeller.diameter_m if e.drive is not None else 0.0
    return replace(found, slipstream_drag=_slipstream_drag(e, found), slipstream_diameter_m=diameter)


def _slipstream_drag(e: Evaluation, r: Requirements) -> float:
    """Thrust that trims the model in cruise, over its drag without slipstream and the nose's loss.

    Taken from the present drive's trimmed flight, where the slipstream over wing, body and tail is solved with the
    rest; another drive in the same place blows alike.
    """
    cruise = e.flight.cruise
    if cruise is None or e.drive is None:
        return 1.0
    drag = e.weights.all_up_kg * GRAVITY_MS2 * r.drag_to_lift(r.cruise_over_stall)
    lost = 0.0
    if r.nose is not None:
        each = cruise.thrust_n / r.motors
        lost = r.motors * float(
            slipstream_loss_n(
                each,
                airspeed_ms=cruise.airspeed_ms,
                diameter_m=e.drive.line.propeller.diameter_m,
                nose=r.nose,
                density_kg_m3=r.density_kg_m3,
            )
        )
    return min(max(cruise.thrust_n / (drag + lost), 0.7), 2.0)


def _drag(e: Evaluation) -> tuple[float, float]:
    """(C_D at no lift, growth with C_L²) of the trimmed polar's unstalled part, by least squares."""
    polar = e.flight.polar
    below = polar.lift <= 0.8 * polar.greatest_lift
    if int(below.sum()) < 2:
        below = np.ones_like(below)
    square, drag = polar.lift[below] ** 2, polar.drag[below]
    off = square - square.mean()
    spread = float((off**2).sum())
    growth = float((off * (drag - drag.mean())).sum()) / spread if spread > 0.0 else 0.05
    growth = max(growth, 1e-3)
    return max(float(drag.mean() - growth * square.mean()), 1e-3), growth


def battery_room(airframe: Airframe, drive: Drive, pack: Pack) -> tuple[float, float, float, float]:
    """Where a battery can lie: front and back end, inside width and height. [m].

    The stated place and travel of the present battery are room for certain. In a body it reaches from the former
    ahead to the former behind, and from side to side, less the sheet.
    """
    x, _, _ = drive.pack_at
    reach = 0.5 * pack.length_m + drive.pack_travel
    front, back = x - reach, x + reach
    body = airframe.body
    if body is None or not body.nose_m < x < body.tail_m:
        return front, back, math.inf, math.inf
    sheet = body.thickness_m
    ahead = [f.x_m for f in body.formers if f.x_m <= x]
    behind = [f.x_m for f in body.formers if f.x_m > x]
    wall_ahead = ahead[-1] + sheet if ahead else body.nose_m + sheet
    wall_behind = behind[0] - sheet if behind else body.tail_m - sheet
    front, back = min(front, wall_ahead), max(back, wall_behind)
    at = np.linspace(max(front, body.nose_m), min(back, body.tail_m), 9)
    heights = np.array([body.heights_m(float(s)) for s in at])
    width = float(body.width_m(at).min()) - 2.0 * sheet
    height = float(heights[:, 1].min() - heights[:, 0].max()) - 2.0 * sheet
    return front, back, max(width, pack.width_m), max(height, pack.height_m)


def propeller_clearance(airframe: Airframe, drive: Drive, stock: Stock) -> Clearance:
    """The largest propeller that clears ground, wings, tail, booms, body and the other propeller.

    A pusher's disc must stand behind whatever trailing edge it would else cut: surfaces that its plane crosses
    limit it to their distance.
    """
    x, y, z = drive.motor_at
    ahead = stock.motor(drive.motor).body_length_m + HUB_AHEAD_M
    disc = x + ahead if drive.pusher else x - ahead
    found = [Clearance(diameter_m=OPEN_SIDE_M, nearest=NOTHING_NEAR)]

    def add(radius_m: float, nearest: str) -> None:
        found.append(Clearance(diameter_m=max(2.0 * radius_m, 1e-3), nearest=nearest))

    gear = airframe.gear
    if gear is not None:
        ground = gear.at[1] - stock.wheel(gear.wheel).diameter_m / 2
        add(z - ground - GROUND_GAP_M, f"the ground by {1e3 * GROUND_GAP_M:.0f} mm, standing on its wheels")
    if drive.twin:
        add(abs(y) - TIP_GAP_M, "the other propeller")
    body = airframe.body
    if body is not None and body.nose_m - TIP_GAP_M < disc < body.tail_m + TIP_GAP_M:
        at = min(max(disc, body.nose_m), body.tail_m)
        bottom, top = body.heights_m(at)
        beside = max(abs(y) - 0.5 * float(body.width_m(at)), 0.0)
        above = max(bottom - z, z - top, 0.0)
        add(math.hypot(beside, above) - TIP_GAP_M, "the body")
    for surface in airframe.surfaces:
        off = _distance(surface, disc, (y, z))
        if off is not None:
            edge = "the trailing edge of the" if drive.pusher else "the"
            add(off - TIP_GAP_M, f"{edge} {surface.name}")
    return min(found, key=lambda each: each.diameter_m)


def _distance(surface: LiftingSurface, disc_x_m: float, axis_m: tuple[float, float]) -> float | None:
    """How near a surface comes to the propeller's axis (y, z) in the plane of its disc; None where it misses it."""
    sides = (1.0, -1.0) if surface.mirrored else (1.0,)
    met = []
    for share in np.linspace(0.0, 1.0, 61):
        front, chord = surface.chord_at(float(share))
        along = float(share) * surface.half_span_m + float(surface.stations[0][0])
        lead, trail = surface.place(front, along), surface.place(front + chord, along)
        if lead[0] - TIP_GAP_M < disc_x_m < trail[0] + TIP_GAP_M:
            part = min(max((disc_x_m - lead[0]) / max(trail[0] - lead[0], 1e-9), 0.0), 1.0)
            met.append((float(share), lead + part * (trail - lead)))
    if not met:
        return None
    nearest = math.inf
    for side in sides:
        for (share, a), (other, b) in itertools.pairwise([*met, met[-1]]):
            # Stations next to each other are joined; a gap between far ones is not.
            step = b if other - share < 0.03 else a
            nearest = min(nearest, _to_segment((side * a[1], a[2]), (side * step[1], step[2]), axis_m))
    return nearest


def _to_segment(a: tuple[float, float], b: tuple[float, float], p: tuple[float, float]) -> float:
    """Distance of a point from a segment in a plane."""
    length = (b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2
    t = 0.0 if length <= 0.0 else ((p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1])) / length
    t = min(max(t, 0.0), 1.0)
    return math.hypot(p[0] - a[0] - t * (b[0] - a[0]), p[1] - a[1] - t * (b[1] - a[1]))


def mixed_duration(e: Evaluation) -> Duration | None:
    """How long a flight lasts that is a quarter full throttle and the rest cruise; None where it cannot cruise."""
    if e.drive is None or e.flight.cruise is None:
        return None
    density = air_at(e.design.flying.altitude, e.design.flying.temperature).density_kg_m3
    try:
        return mixed_flight(e.drive, e.flight.cruise.airspeed_ms, e.flight.cruise.thrust_n, density)
    except SolveError:
        return None
