"""The lines of the weight table: parts, rods, glue, tape, covering, and everything bought."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from sheetlark.airframe import Airframe, Equipment, along_shaft_m
from sheetlark.design import Covering, Design, SheetChoice
from sheetlark.parts import Kit, Part
from sheetlark.stock import Controller, Item, Pack, Receiver, Servo, Stock
from sheetlark.weights.balance import Line, Weights
from sheetlark.weights.masses import Element, box, line_of_rods, plate, rod, together

# What each servo needs at its other end, and each motor (common practice, no source).
_AT_EACH_SERVO = ("horn", "clevis")
_AT_EACH_MOTOR = ("propeller-adapter",)
_BANDS_PER_WING = 4


def weigh(design: Design, airframe: Airframe, kit: Kit, stock: Stock) -> Weights:
    """The weight table of a design.

    Raises
    ------
    StockError
        If it names something the stock does not have.
    """
    built = _built(kit, design.sheet, design.covering, stock)
    return Weights(lines=(*built, *_hardware(design, airframe, stock), *_bought(airframe, stock)))


@lru_cache(maxsize=32)
def _built(kit: Kit, sheet: SheetChoice, covering: Covering, stock: Stock) -> tuple[Line, ...]:
    """Lines of all that is built from sheet, rod, glue, tape and covering."""
    return (
        *(_part(part, stock) for part in kit.parts),
        *_rods(kit, stock),
        *_joints(kit, sheet, stock),
        *_covering(kit, covering, stock),
    )


def _part_element(part: Part, areal_kg_m2: float) -> Element:
    return together(
        [
            plate(
                piece.outline,
                piece.holes,
                piece.matrix,
                areal_kg_m2=areal_kg_m2,
                thickness_m=part.thickness_mm * 1e-3,
            )
            for copy in part.copies
            for piece in copy
        ]
    )


# A part that was not cut anew is the same part, and weighs what it did.
@lru_cache(maxsize=256)
def _part(part: Part, stock: Stock) -> Line:
    sheet = stock.sheet(part.sheet)
    areal = sheet.areal_kg_m2(part.paper)
    many = f", {part.count} of them" if part.count > 1 else ""
    papers = {"both": "both papers", "one": "one paper", "none": "no paper"}[part.paper]
    return Line(
        name=part.name,
        group=part.group,
        element=_part_element(part, areal),
        spread=sheet.mass_spread,
        batch=f"sheet {part.sheet}",
        source="computed",
        note=f"area {part.area_mm2 * part.count * 1e-2:.0f} cm²{many}, {sheet.name}, {papers}, "
        f"{1e3 * areal:.0f} g/m² ({sheet.source})",
    )


def _rods(kit: Kit, stock: Stock) -> Iterator[Line]:
    for piece in kit.rods:
        item = stock.rod(piece.key)
        points = np.asarray(piece.points_mm, dtype=np.float64) * 1e-3
        element = together(
            [
                rod(a, b, item.linear_density_kg_m * float(np.linalg.norm(b - a)))
                for a, b in itertools.pairwise(points)
            ]
        )
        yield Line(
            name=piece.name,
            group=piece.group,
            element=element,
            spread=item.mass_spread,
            batch=f"rod {piece.key}",
            source="computed",
            note=f"{piece.length_mm:.0f} mm of {item.name}, {1e3 * item.linear_density_kg_m:.1f} g/m ({item.source})",
        )


def _joints(kit: Kit, sheet: SheetChoice, stock: Stock) -> Iterator[Line]:
    glue, tape = stock.glue(sheet.glue), stock.tape(sheet.tape)
    per_metre = {"glue": glue.linear_density_kg_m, "tape": tape.areal_density_kg_m2 * tape.width_m}
    item: dict[str, Item] = {"glue": glue, "tape": tape}
    for held in ("glue", "tape"):
        beads = np.array(
            [
                pair
                for joint in kit.joints
                if joint.held == held
                for run in joint.runs_mm
                for pair in itertools.pairwise(run)
                if pair[0] != pair[1]
            ]
        )
        if not beads.size:
            continue
        length = sum(joint.length_mm for joint in kit.joints if joint.held == held)
        yield Line(
            name="glue in the joints" if held == "glue" else "tape on the hinges",
            group="glue and tape",
            element=line_of_rods(beads[:, 0] * 1e-3, beads[:, 1] * 1e-3, per_metre[held]),
            spread=item[held].mass_spread,
            batch=f"{held} {item[held].key}",
            source="computed",
            note=f"{1e-3 * length:.2f} m of {item[held].name}, {1e3 * per_metre[held]:.1f} g/m ({item[held].source})",
        )


def _covering(kit: Kit, covering: Covering, stock: Stock) -> Iterator[Line]:
    film = stock.covering(covering.stock)
    if film.areal_density_kg_m2 <= 0:
        return
    faces = {"none": 0, "top": 1, "bottom": 1, "outside": 1, "both": 2}
    sides = {
        "wing": faces[covering.wings],
        "tail": faces[covering.tail],
        "fin": faces[covering.tail],
        "body": faces[covering.body],
    }
    for group, count in sides.items():
        covered = [part for part in kit.parts if part.group == group and not part.name.startswith("former")]
        elements = [_part_element(part, count * film.areal_density_kg_m2) for part in covered]
        if count == 0 or not elements:
            continue
        area = count * sum(part.area_mm2 * part.count for part in covered) * 1e-6
        yield Line(
            name=f"covering, {group}",
            group="covering",
            element=together(elements),
            spread=film.mass_spread,
            batch=f"covering {film.key}",
            source="computed",
            note=f"{100 * area:.1f} dm² of {film.name}, {1e3 * film.areal_density_kg_m2:.0f} g/m² ({film.source})",
        )


def _hardware(design: Design, airframe: Airframe, stock: Stock) -> Iterator[Line]:
    """Small things nobody states but everybody needs: horns, clevises, adapters, rubber bands."""
    horns = _horn_places(airframe)
    servos = list(design.radio.servo) if design.radio else []
    for servo in servos:
        count = 2 if servo.pair else 1
        place = horns.get(servo.moves)
        at = np.array(place if place is not None else servo.at)
        for key in _AT_EACH_SERVO:
            item = stock.hardware(key)
            yield _point(f"{servo.moves} {item.name}", "radio", at, count * item.mass_kg, item)
    if design.drive is not None:
        for key in _AT_EACH_MOTOR:
            item = stock.hardware(key)
            count = 2 if design.drive.twin else 1
            at = np.array(design.drive.motor_at) * ([1, 0, 1] if design.drive.twin else [1, 1, 1])
            at[0] += along_shaft_m(design.drive, stock)[1]
            yield _point(item.name, "drive", at, count * item.mass_kg, item)
    for wing in airframe.wings:
        if wing.held == "bands":
            item = stock.hardware("rubber-band-64")
            front, chord = wing.chord_at(0.0)
            yield _point(
                f"rubber bands, {wing.name}",
                "wing",
                wing.place(front + 0.5 * chord, 0.0),
                _BANDS_PER_WING * item.mass_kg,
                item,
            )


def _horn_places(airframe: Airframe) -> dict[str, tuple[float, float, float]]:
    """Where the horn of each control sits: on its hinge line, near the inner end; pairs balance sideways."""
    places: dict[str, tuple[float, float, float]] = {}
    for surface in airframe.surfaces:
        line = surface.hinge_line()
        if line is None or surface.control is None:
            continue
        (x0, y0), (x1, y1) = line
        p = surface.place(0.75 * x0 + 0.25 * x1, 0.75 * y0 + 0.25 * y1)
        sideways = 0.0 if surface.mirrored else float(p[1])
        places[surface.control.moves] = (float(p[0]), sideways, float(p[2]))
    return places


def _point(name: str, group: str, at: np.ndarray, mass_kg: float, item: Item) -> Line:
    return Line(
        name=name,
        group=group,
        element=box(at, (0.0, 0.0, 0.0), mass_kg),
        spread=item.mass_spread,
        batch=f"{type(item).__name__} {item.key}",
        source="typical",
        note=item.note,
    )


def _bought(airframe: Airframe, stock: Stock) -> Iterator[Line]:
    for thing in airframe.equipment:
        yield _item_line(thing, stock)


def _item_line(thing: Equipment, stock: Stock) -> Line:
    """One bought item; a box of its size where the stock gives one."""
    at = np.array(thing.at_m)
    if thing.kind == "ballast":
        return Line(
            name=thing.name,
            group="ballast",
            element=box(at, (0.0, 0.0, 0.0), thing.mass_kg),
            spread=0.0,
            batch="ballast",
            source="stated",
        )
    group = "drive" if thing.kind in {"motor", "propeller", "pack", "controller"} else "radio"
    if thing.kind == "wheel":
        group = "gear"
    item, mass, size = _looked_up(thing, stock)
    along = np.array([thing.length_m / 2, 0.0, 0.0])
    element = rod(at - along, at + along, mass) if thing.kind == "linkage" else box(at, size, mass)
    return Line(
        name=thing.name,
        group=group,
        element=element,
        spread=item.mass_spread,
        batch=f"{thing.kind} {thing.key}",
        source="typical" if item.source == "typical" else "measured",
        note=item.name,
    )


def _looked_up(thing: Equipment, stock: Stock) -> tuple[Item, float, tuple[float, float, float]]:
    """(stock entry, mass, size along x, y, z) of a bought item."""
    if thing.kind == "motor":
        motor = stock.motor(thing.key)
        return motor, motor.mass_kg, (motor.body_length_m, motor.body_diameter_m, motor.body_diameter_m)
    if thing.kind == "propeller":
        propeller = stock.propeller(thing.key)
        # Spinning blades average to a disc: half of the diameter squared in each of its two directions.
        across = propeller.diameter_m / 2**0.5
        return propeller, propeller.mass_kg, (0.0, across, across)
    if thing.kind == "linkage":
        linkage = stock.linkage(thing.key)
        return linkage, linkage.linear_density_kg_m * thing.length_m, (thing.length_m, 0.0, 0.0)
    if thing.kind == "wheel":
        wheel = stock.wheel(thing.key)
        return wheel, wheel.mass_kg, (wheel.diameter_m, wheel.width_m, wheel.diameter_m)
    item: Pack | Controller | Receiver | Servo
    if thing.kind == "pack":
        item = stock.pack(thing.key)
    elif thing.kind == "controller":
        item = stock.controller(thing.key)
    elif thing.kind == "receiver":
        item = stock.receiver(thing.key)
    else:
        item = stock.servo(thing.key)
    return item, item.mass_kg, (item.length_m, item.width_m, item.height_m)
