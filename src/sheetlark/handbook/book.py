"""Everything the handbook says, before it is set on paper or screen."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sheetlark.evaluation import Evaluation
from sheetlark.handbook.gauges import Gauge, gauges, shim_heights_mm
from sheetlark.handbook.lists import Shopping, cutting_order, shopping, tools
from sheetlark.handbook.settings import Card, LinkageRow, cards, linkages, wiring
from sheetlark.handbook.steps import Build, build_steps
from sheetlark.sheets import Nesting
from sheetlark.units import show_length

SAFETY = (
    "A propeller cuts, and a motor that is plugged in can start by itself: propeller off while you build and set up.",
    "Lithium cells burn when pierced, crushed, overcharged or shorted: charge them watched, on stone, away from what burns.",
    "Knives and saws: cut away from the hand; glasses on for wire and carbon.",
    "Fly only where and how local law allows: registration, insurance, height and distance are the flier's duty to check.",
)


READING = (
    "Heavy lines are new in the step, thin lines are there already; numbers are those on the sheets.",
    "Dotted red: glue, along exactly this line. Dashed blue: hinge tape. Grey arrows: where it goes.",
    "Looked at from ahead, to starboard and above, unless the new part goes on from another side.",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Handbook:
    """A model's handbook, part by part."""

    evaluation: Evaluation
    build: Build
    shopping: Shopping
    tools: tuple[str, ...]
    cutting: tuple[str, ...]
    covering: tuple[str, ...]
    linkages: tuple[LinkageRow, ...]
    wiring: tuple[tuple[str, str], ...]
    motor: tuple[str, ...]
    gauges: tuple[Gauge, ...]
    cards: tuple[Card, ...]

    @property
    def name(self) -> str:
        return self.evaluation.design.model.name


def handbook(evaluation: Evaluation, nesting: Nesting | None = None) -> Handbook:
    """Put together everything the handbook of a model says.

    Parameters
    ----------
    nesting : Nesting, optional
        Of its plans: tells how many sheets to buy, and which part is cut from which.
    """
    return Handbook(
        evaluation=evaluation,
        build=build_steps(evaluation),
        shopping=shopping(evaluation, nesting),
        tools=tools(evaluation),
        cutting=cutting_order(evaluation, nesting),
        covering=_covering(evaluation),
        linkages=linkages(evaluation),
        wiring=wiring(evaluation),
        motor=_motor(evaluation),
        gauges=gauges(evaluation),
        cards=cards(evaluation),
    )


def _covering(evaluation: Evaluation) -> tuple[str, ...]:
    stated = evaluation.design.covering
    film = evaluation.stock.covering(stated.stock)
    if film.areal_density_kg_m2 <= 0:
        return (
            (
                "Left bare: the paper of the board is its skin. Seal cut edges and leading edges with a strip of tape or thinned wood "
                "glue; wet paper lifts."
            ),
        )
    faces = [
        f"{name}: {where}"
        for name, where in (("wings", stated.wings), ("tail", stated.tail), ("body", stated.body))
        if where != "none"
    ]
    return (
        f"{film.name} on {'; '.join(faces)}. Cover both halves alike, or the wing warps.",
        "Lay it on from the middle outwards, without pull; overlap at the trailing edge, never over a hinge line.",
        "Weigh it afterwards: covering is the first place where a model grows heavy.",
    )


def _motor(evaluation: Evaluation) -> tuple[str, ...]:
    drive = evaluation.design.drive
    if drive is None:
        return ()
    top, bottom, left, right = shim_heights_mm(evaluation)
    pads = [
        f"{height:.1f} mm at the {where}"
        for height, where in ((top, "top"), (bottom, "bottom"), (left, "left"), (right, "right"))
        if height > 0.05
    ]
    lines = [
        (
            f"Motor: {math.degrees(drive.down):.1f}° down, {math.degrees(drive.right):.1f}° right, "
            f"its mounting face {show_length(drive.motor_at[0])} behind the nose datum."
        ),
    ]
    if pads:
        lines.append(
            f"Under the mount: {' and '.join(pads)} (as seen from behind). Check with the gauge before the glue or thread lock sets."
        )
    stock = evaluation.stock.propeller(drive.propeller)
    lines.append(
        f"Propeller: {stock.name}, its figures to the front. Balance it; fit it last, for the field. "
        "It must turn clear of nose and ground by a finger's width."
    )
    travel = f", and can move {show_length(drive.pack_travel)} either way" if drive.pack_travel > 0 else ""
    lines.append(
        f"Battery: centre {show_length(drive.pack_at[0])} behind the nose datum{travel}; strap it, do not wedge it."
    )
    return tuple(lines)
