"""The body, fitted round all that is let into it: sides, decks and covers; and the push-rods' ways out."""

from __future__ import annotations

import itertools

from sheetlark.design import Deck
from sheetlark.parts import body as box_body
from sheetlark.parts.blank import Blank, Guest
from sheetlark.parts.bulkheads import fit_formers, fit_tray, tab_former
from sheetlark.parts.cutting import named, without_range, yielding
from sheetlark.parts.decks import deck_blank, plank_blanks, plank_plan, seam_joint
from sheetlark.parts.exits import Way, exits, sided, through_formers
from sheetlark.parts.fits import EDGE_FIT_MM, SWEEP_MM, THINNEST_MM
from sheetlark.parts.lines import draw_lines
from sheetlark.parts.linkages import rods_and_horns
from sheetlark.parts.making import Assembly
from sheetlark.parts.mounting import fit_braces, fit_mounts, fit_round_nose, groove_for_wire, take_off
from sheetlark.parts.planking import Planking
from sheetlark.parts.seats import Seat, saddle, seats_of, stretch, way_out
from sheetlark.parts.solids import Solid, rod_solid


def fit_body(made: Assembly, shell: box_body.Shell) -> None:
    """Sides, decks, covers and formers, each cut to what goes through it; then all that is glued inside."""
    seats = seats_of(made, shell)
    saddles = [s for seat in seats if (s := saddle(shell, seat)) is not None]
    side = box_body.side(shell, saddles)
    made.sides = [side]
    wholes = [p.whole for p in made.flats] + [
        way_out(seat) for seat in seats if seat.panel.surface.held != "glued"
    ]
    off_centre = [f.whole for f in made.fins if f.surface.at_m[1] > 0]
    upright = [f.whole for f in made.fins if f.surface.at_m[1] == 0]
    sweeps = [h.sweep() for p in made.panels for h in p.hinges]
    cases = list(made.fitted.cases)
    spars_in = [rod_solid(r) for r in made.rods if r is not made.wire and r.name not in made.joiners]
    for solid in [*wholes, *off_centre, *spars_in, *made.plates]:
        side.yield_to(solid, EDGE_FIT_MM)
    for sweep in sweeps:
        side.yield_to(sweep, SWEEP_MM)
    if made.wire is not None:
        side.yield_to(rod_solid(made.wire), 0.3)
    side.drop_slivers(THINNEST_MM)
    let_in: list[Guest] = [*wholes, *off_centre, *upright, *made.struts, *made.plates]
    decks = _decks(made, shell, [*let_in, side])
    made.decks = [b for _, blanks in decks for b in blanks]
    _covers(made, shell, seats, decks, let_in, sweeps, side)
    arches = [[flat for b in blanks for flat in b.flat_solids()] for _, blanks in decks]
    fit_formers(made, shell, seats, side, arches, let_in, sweeps, cases)
    for blank in made.formers:
        tab_former(made, blank, side)
    if shell.body.stated.nose == "round":
        fit_round_nose(made, shell)
    fit_tray(made, shell)
    fit_mounts(made, shell, side, seats)
    taken = [stretch(b) for b in (*made.formers, *made.mounts)]
    fit_braces(made, taken)
    take_off(made, seats)
    draw_lines(shell, side, made.covers, made.fitted.motors)
    groove_for_wire(made)


def _decks(made: Assembly, shell: box_body.Shell, guests: list[Guest]) -> list[tuple[Deck, list[Blank]]]:
    decks = []
    stated = shell.body.stated
    for deck, word in ((stated.fore_deck, "fore deck"), (stated.aft_deck, "aft deck")):
        if deck is None:
            continue
        plan = plank_plan(shell, deck)
        if plan is None:
            blank = deck_blank(shell, deck, word)
            for solid in guests:
                blank.yield_to(solid, EDGE_FIT_MM)
            for hinge in (h for p in made.panels for h in p.hinges):
                blank.yield_to(hinge.sweep(), SWEEP_MM)
            decks.append((deck, [blank]))
        else:
            decks.append((deck, _planks(made, shell, deck, word, plan, guests)))
    return decks


def _planks(
    made: Assembly, shell: box_body.Shell, deck: Deck, word: str, plan: Planking, guests: list[Guest]
) -> list[Blank]:
    """A deck's planks, cut to their guests; the glue along the edges they share."""
    blanks, seams = plank_blanks(shell, deck, word, plan)
    found: dict[str, list[Blank]] = {}
    for blank in blanks:
        name, pieces = blank.name, [blank]
        for guest in guests:
            pieces = yielding(pieces, guest, EDGE_FIT_MM)
        for hinge in (h for p in made.panels for h in p.hinges):
            pieces = yielding(pieces, hinge.sweep(), SWEEP_MM)
        found[name] = named(pieces, name)
    for seam in seams:
        for first, second in itertools.product(found[seam.first], found[seam.second]):
            joint = (
                seam_joint(seam, first, second) if (first is second) == (seam.first == seam.second) else None
            )
            if joint is not None:
                made.joints.append(joint)
    made.notes.append(
        f"The {word} is laid in {len(plan.planks)} planks, which stand at most {plan.deviation_mm:.1f} mm off its curve. Glue "
        f"them edge to edge over the formers, from the sides up; fill and sand the ridges if you like it round."
    )
    return [b for pieces in found.values() for b in pieces]


def _covers(
    made: Assembly,
    shell: box_body.Shell,
    seats: list[Seat],
    decks: list[tuple[Deck, list[Blank]]],
    let_in: list[Guest],
    sweeps: list[Solid],
    side: Blank,
) -> None:
    for blank in box_body.covers(shell):
        name, pieces = blank.name, [blank]
        top = name.startswith("top")
        for deck, _ in decks if top else []:
            pieces = without_range(pieces, *_deck_range(made, shell, deck))
        for seat in seats:
            if seat.on_top == top:
                pieces = without_range(pieces, seat.x0, seat.x1)
        for guests, free in (([*let_in, side], EDGE_FIT_MM), (sweeps, SWEEP_MM)):
            for guest in guests:
                pieces = yielding(pieces, guest, free)
        for arch in (b for _, blanks in decks for b in blanks):
            pieces = yielding(pieces, arch, EDGE_FIT_MM)
        # Two covers that meet at a sharp corner: the second ends at the first's face.
        for other in (c for c in made.covers if c.name.startswith("top") == top):
            pieces = yielding(pieces, other, EDGE_FIT_MM)
        made.covers += named(pieces, name)


def _deck_range(made: Assembly, shell: box_body.Shell, deck: Deck) -> tuple[float, float]:
    """The stretch of the top that a deck and the formers at its ends take up. [mm]."""
    x0, x1 = 1e3 * deck.start, 1e3 * deck.end
    for station in shell.body.formers:
        half = 500.0 * made.stock.sheet(station.sheet).thickness_m
        x = 1e3 * station.x_m
        if abs(x - x0) <= half:
            x0 = min(x0, x - half - 1.2)  # a cover that slopes ends aslant
        if abs(x - x1) <= half:
            x1 = max(x1, x + half + 1.2)
    return x0, x1


def lead_push_rods(made: Assembly) -> None:
    """Horns' slots, and the push-rods' ways out of the body; last, since nothing else gives way to them."""
    skins = [*made.sides, *made.covers, *made.decks]
    fixed = [
        *(b for p in made.panels for b in (p.fixed, *p.layers)),
        *made.struts,
        *made.tray,
        *made.nose,
        *made.plates,
        *made.mounts,
        *made.braces,
    ]
    made.push_rods = rods_and_horns(made.panels, made.fitted.servos, made.shell, made.stock, skins, fixed)
    rods = [Way.of(rod) for rod in made.push_rods]
    if made.shell is None or not rods:
        return
    through_formers(rods, made.formers, made.shell)
    made.sides, parted = exits(rods, made.sides)
    made.covers, more = exits(rods, made.covers)
    made.decks, most = exits(rods, made.decks)
    for name in (*parted, *more, *most):
        made.joints = sided(made.joints, name)
