"""What holds the rest on: firewall doubler, dowels and bolts, skid, braces, nose, wire; and what comes off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sheetlark.parts import body as box_body
from sheetlark.parts import firewalls, fittings, hold_downs, nose
from sheetlark.parts.backing import PACKED_MM, backing
from sheetlark.parts.blank import Blank
from sheetlark.parts.fits import EDGE_FIT_MM, MOTOR_FREE_MM
from sheetlark.parts.making import Assembly
from sheetlark.parts.part import Joint, Removal, RodPiece, point3
from sheetlark.parts.rods import legs
from sheetlark.parts.seats import WAY_OUT_MM, Seat, stretch
from sheetlark.parts.solids import polygons, rod_solid
from sheetlark.parts.tabs import tab_into


def fit_round_nose(made: Assembly, shell: box_body.Shell) -> None:
    """Nose rings and their front piece, clear of the motor plate."""
    hole, z = 30.0, 0.0
    for motor, _ in made.fitted.motors[:1]:
        hole = 1e3 * made.stock.motor(motor.key).body_diameter_m + 2 * MOTOR_FREE_MM
        z = 1e3 * motor.at_m[2]
    length = 1e3 * shell.body.stated.nose_length
    made.nose = nose.round_nose(shell, hole, length, z)
    for blank in made.nose:
        for mount in made.plates:
            blank.yield_to(mount, EDGE_FIT_MM)


def fit_mounts(made: Assembly, shell: box_body.Shell, side: Blank, seats: list[Seat]) -> None:
    """Firewall doubler; dowels or bolts of wings that come off."""
    for wall in made.plates:
        if wall.name != "firewall":
            continue
        behind = backing(wall, made.formers)
        if behind is None and made.formers and not made.fitted.pusher and not made.nose:
            made.notes.append(
                f"The firewall has no former behind it: put one within {PACKED_MM:.0f} mm of the motor's plate."
            )
        if behind is not None and not made.fitted.pusher:
            extra = firewalls.doubler(behind.host, wall, made.stock)
            if extra is not None:
                for other in (*made.covers, *made.decks, *made.sides, *made.tray):
                    extra.yield_to(other, EDGE_FIT_MM)
                made.mounts.append(extra)
    gear = made.fitted.gear
    if gear is not None and gear.skid:
        _skid(made, shell)
    for seat in seats:
        taken = [stretch(b) for b in (*made.formers, *made.mounts)]
        held = seat.panel.surface.held
        if held == "bands":
            for place in hold_downs.dowels(seat.panel, shell, taken, made.stock):
                rod, blank, joint = hold_downs.dowel_parts(
                    seat.panel, shell, side, place, made.fitted.plate, made.stock
                )
                for other in (*made.covers, *made.formers, *made.decks, *made.tray):
                    blank.yield_to(other, EDGE_FIT_MM)
                blank.yield_to(side)
                made.rods.append(rod)
                made.mounts.append(blank)
                made.joints += [joint, replace(joint, first=blank.name)]
        elif held == "bolts":
            for share, word in ((0.2, "front"), (0.8, "rear")):
                bolted = hold_downs.bolt_plate(
                    seat.panel, shell, share, word, taken, made.fitted.plate, made.stock
                )
                if bolted is None:
                    continue
                for guest in (seat.panel.whole, *made.formers, *made.sides, *made.struts):
                    bolted.yield_to(guest, EDGE_FIT_MM)
                made.mounts.append(bolted)


def _skid(made: Assembly, shell: box_body.Shell) -> None:
    """The skid under the tail, its tab through the bottom cover where there is one."""
    under = [c for c in made.covers if c.name.startswith("bottom")]
    ends = max((stretch(c)[1] for c in under), default=np.inf)
    found = fittings.tail_skid(shell, made.fitted.plate, made.stock, floor_end_mm=ends)
    if found is None:
        return
    skid, run = found
    for blank in (*under, *made.sides, *made.formers):
        skid.yield_to(blank, EDGE_FIT_MM)
    skid.drop_slivers(2.0)
    for cover in under:
        if skid.shadow(cover, 1.0) is not None:
            joint = tab_into(skid, cover, run, cover.thickness)
            if joint is not None:
                made.joints.append(joint)
    made.mounts.append(skid)


def fit_braces(made: Assembly, taken: list[tuple[float, float]]) -> None:
    """Dihedral braces, clear of the stretches already taken."""
    for p in made.flats:
        if p.one_piece or not p.surface.mirrored or abs(p.surface.dihedral_rad) < 1e-4:
            continue
        blank = fittings.brace(p, made.shell, taken, made.fitted.plate, made.stock)
        if blank is None:
            made.notes.append(
                f"No room for a brace under {p.surface.name}: glue and tape the joint on both faces."
            )
            continue
        for q in made.flats:
            blank.yield_to(q.whole, EDGE_FIT_MM)
        for other in (*made.struts, *made.tray, *made.covers, *made.fins_fixed(), *made.mounts):
            blank.yield_to(other, EDGE_FIT_MM)
        made.braces.append(blank)


def take_off(made: Assembly, seats: list[Seat]) -> None:
    """Note what comes off, and which way."""
    strutted = {n for s in made.fitted.struts for n in (s.lower, s.upper)}
    for seat in seats:
        surface = seat.panel.surface
        if surface.held == "glued":
            continue
        if surface.name in strutted:
            made.notes.append(
                f"{surface.name} is held by {surface.held} but struts are glued to it: it does not come off."
            )
            continue
        names = [*(b.name for b in seat.panel.blanks()), f"{surface.name} brace"]
        rods = tuple(r.name for r in made.rods if r.name.startswith(f"{surface.name} spar"))
        far = WAY_OUT_MM if seat.on_top else -WAY_OUT_MM
        have = {b.name for b in made.blanks()}
        made.removals.append(
            Removal(
                name=surface.name,
                parts=tuple(n for n in names if n in have),
                rods=rods,
                path_mm=(0.0, 0.0, far),
            )
        )


def bend_wire(made: Assembly) -> RodPiece | None:
    """The main legs, bent from one wire; None without a gear."""
    gear = made.fitted.gear
    if gear is None:
        return None
    half = 20.0
    if made.shell is not None:
        half = max(4.0, float(made.shell.inside(1e3 * gear.at[0])) + made.shell.t)
    wire = legs(gear, made.stock, half)
    made.rods.append(wire)
    return wire


def groove_for_wire(made: Assembly) -> None:
    """The wire across the body lies let into the cover, or the wing, it crosses."""
    if made.wire is None:
        return
    solid = rod_solid(made.wire)
    for side in made.sides:
        cover = side.shadow(solid)
        for patch in polygons(cover) if cover is not None else []:
            u, v, u1, v1 = patch.buffer(1.2).bounds
            side.mark("place", [(u, v), (u1, v), (u1, v1), (u, v1), (u, v)], "undercarriage wire")
    for blank in (*made.covers, *(p.fixed for p in made.flats), *made.formers):
        cover = blank.shadow(solid)
        if cover is None or not cover.intersects(blank.shape):
            continue
        for patch in polygons(cover.intersection(blank.shape)):
            u, v, u1, v1 = patch.bounds
            ring = [(u, v), (u1, v), (u1, v1), (u, v1), (u, v)]
            blank.mark("slot-edge", ring, f"groove {made.wire.width_mm:.1f} mm for the wire")
            ends = blank.to_space(np.array([[u, 0.5 * (v + v1)], [u1, 0.5 * (v + v1)]]))
            if v1 - v > u1 - u:
                ends = blank.to_space(np.array([[0.5 * (u + u1), v], [0.5 * (u + u1), v1]]))
            run = (point3(ends[0]), point3(ends[1]))
            made.joints.append(
                Joint(kind="groove", first=blank.name, second=made.wire.name, held="glue", runs_mm=(run,))
            )
