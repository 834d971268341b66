"""The glue lines: what stands against what."""

from __future__ import annotations

import numpy as np

from sheetlark.parts.backing import TOUCHES_MM, backing
from sheetlark.parts.blank import Blank
from sheetlark.parts.making import Assembly
from sheetlark.parts.part import Joint, point3, to_port
from sheetlark.parts.tabs import contact


def glue(made: Assembly) -> None:
    """The glue lines: what stands against what."""
    flats = [p.fixed for p in made.flats]
    boxed = [*made.formers, *made.covers, *made.decks, *made.tray]
    loose = {r.name for r in made.removals}
    stays = [p.fixed for p in made.flats if p.surface.name not in loose]
    for hosts, guests in (
        (made.sides, [*boxed, *stays, *made.struts, *made.plates, *made.mounts, *made.nose[:1]]),
        (made.formers, [*made.covers, *made.decks, *made.tray, *made.mounts]),
        (
            flats,
            [*made.fins_fixed(), *made.struts, *made.braces, *(b for p in made.flats for b in p.layers)],
        ),
        (made.nose[:1], [*made.nose[1:2], *made.plates]),
        (made.nose[2:], made.nose[1:2]),
        (
            [c for c in made.covers if c.name.startswith("bottom")],
            [m for m in made.mounts if m.name == "tail skid"],
        ),
    ):
        for host in hosts:
            for guest in guests:
                if guest.name.startswith("dowel doubler") or guest.name.endswith("upper layer"):
                    continue
                joint = contact(host, guest)
                if joint is not None:
                    made.joints.append(joint)
    for mount in [*made.plates, *[m for m in made.mounts if "doubler" in m.name]]:
        _laminate(made, mount)
    for p in made.flats:
        for layer in p.layers:
            if layer.name.endswith("upper layer"):
                _bead(made, p.fixed, layer)
        if p.one_piece or not p.surface.mirrored:
            continue
        front, chord = p.surface.chord_at(0.0)
        ends = [p.surface.matrix() @ np.array([1e3 * u, 0.0, 0.0, 1.0]) for u in (front, front + chord)]
        run = (point3(ends[0]), point3(ends[1]))
        made.joints.append(
            Joint(kind="butt", first=p.fixed.name, second=p.fixed.name, held="glue", runs_mm=(run,))
        )


def _laminate(made: Assembly, plate: Blank) -> None:
    """A plate glued face to face: a bead round its edge, and packing where a tilt leaves a gap."""
    if plate.name.startswith("dowel"):
        if float(plate.half().min_gap(made.sides[0].half(), 1.0)) <= TOUCHES_MM:
            _bead(made, made.sides[0], plate)
        return
    held = backing(plate, made.formers)
    if held is None:
        return
    _bead(made, held.host, plate)
    if not held.touches:
        thick = f"{held.most_mm:.1f}"
        if held.most_mm - held.least_mm > 0.15:
            thick = f"{held.least_mm:.1f} to {thick}"
        made.notes.append(
            f"The {plate.name} stands {thick} mm off {held.host.name}: glue it on over a wedge "
            "of sheet or hard wood of that thickness, over its whole face."
        )


def _bead(made: Assembly, host: Blank, plate: Blank) -> None:
    """A bead of glue round a plate's edge."""
    ring = np.asarray(plate.shape.exterior.coords)
    points = plate.to_space(ring)
    runs = [tuple(point3(p) for p in points)]
    if plate.sides == "pair":
        runs.append(tuple(to_port(p) for p in runs[0]))
    made.joints.append(
        Joint(kind="doubler", first=host.name, second=plate.name, held="glue", runs_mm=tuple(runs))
    )
