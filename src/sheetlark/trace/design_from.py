"""From outlines to a starting design: a valid design file, and the simplifications a flat-sheet builder makes.

Every figure here is a beginning, not a verdict: `review` says what it is worth. Where a trade proportion is used
it is common practice, no source, and says so.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sheetlark.errors import PictureError, SheetlarkError
from sheetlark.trace.as_drawn import as_drawn, still_open
from sheetlark.trace.design_parts import (
    area_of,
    body_lines,
    edges_at,
    fin_lines,
    half_of,
    plain_body,
    points_of,
    straight_to,
    strut_lines,
    tail_lines,
    wing_heights,
    wing_lines,
)
from sheetlark.trace.ink import Floats
from sheetlark.trace.model import Outline, Proposal, Tracing

if TYPE_CHECKING:
    from sheetlark.design import Design

LOADING_G_DM2 = 28.0  # all-up mass over wing area of a light park flier; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class StartingDesign:
    """A design file's text, with the simplifications proposed on the way."""

    toml: str
    proposals: tuple[Proposal, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kit:
    """Equipment that suits a size; keys of the stock."""

    motor: str
    propeller: str
    pack: str
    controller: str


# light outdoor sizes by all-up mass [g]; common practice, no source
_KITS = (
    (300.0, _Kit(motor="2205-1500", propeller="7x3.5-direct-drive", pack="2s-850", controller="esc-12")),
    (1e9, _Kit(motor="2208-1100", propeller="9x4.5-thin-electric", pack="2s-1000", controller="esc-20")),
)


SIMPLIFICATIONS = ("flat-sides", "straight-hinge", "larger-tail", "larger-fin", "wide-controls")
SHEETS = ("foam-board-5", "foam-board-5-craft")
RODS = (("carbon-strip-6x1",), ("carbon-strip-10x1",), ("carbon-strip-10x1", "carbon-strip-10x1"))
YAW_WANTED = 0.015  # half as much again as the review's least; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class _Choice:
    """How a starting design is written."""

    flat: bool
    straight: bool
    tail: bool
    wide: bool
    fin: float = 1.0
    rods: tuple[str, ...] = RODS[0]
    sheet: str = SHEETS[0]


def design_from(
    tracing: Tracing,
    *,
    name: str = "Traced",
    target_mass_kg: float | None = None,
    refuse: tuple[str, ...] = (),
) -> StartingDesign:
    """A valid starting design from a tracing.

    Parameters
    ----------
    tracing : Tracing
        With at least a wing in the top view.
    name : str
        The model's name.
    target_mass_kg : float, optional
        Wanted all-up mass; without it, from the wing area at a light loading.
    refuse : tuple of str
        Ids of simplifications not to take: see `SIMPLIFICATIONS`.

    Raises
    ------
    PictureError
        If no wing was found in the top view, or a simplification is refused that there is not.
    """
    wings = [o for o in tracing.outlines if o.part == "wing" and o.view == "top" and o.half_path]
    if not wings:
        raise PictureError(
            "no wing was found in the top view, so there is no design to start from. Draw it by hand."
        )
    unknown = [r for r in refuse if r not in SIMPLIFICATIONS]
    if unknown:
        raise PictureError(
            f"there is no simplification {unknown[0]!r} to refuse; there are {', '.join(SIMPLIFICATIONS)}."
        )
    area = sum(2.0 * area_of(half_of(w)) for w in wings)
    mass_g = 1000.0 * target_mass_kg if target_mass_kg is not None else LOADING_G_DM2 * area / 1e4
    choice = _Choice(
        flat="flat-sides" not in refuse,
        straight="straight-hinge" not in refuse,
        tail="larger-tail" not in refuse,
        wide="wide-controls" not in refuse,
    )
    text, proposals = _written(tracing, wings, name, mass_g, choice)
    now = _judged(text)
    for sheet in SHEETS[1:]:
        if now is not None or not _too_small(text):
            break
        choice = replace(choice, sheet=sheet)
        text, proposals = _written(tracing, wings, name, mass_g, choice)
        now = _judged(text)
    for rods in RODS[1:]:
        if now is None or now.spar >= 1.0:
            break
        trial = replace(choice, rods=rods)
        other = _judged(_written(tracing, wings, name, mass_g, trial)[0])
        if other is not None and other.spar > now.spar:
            choice, now = trial, other
    if now is not None and now.yaw < YAW_WANTED:
        best = choice, now
        for stretch in (1.15, 1.3, 1.45, 1.6, 1.8):
            trial = replace(choice, fin=stretch)
            other = _judged(_written(tracing, wings, name, mass_g, trial)[0])
            if other is None or other.yaw <= best[1].yaw:
                break
            best = trial, other
            if other.yaw >= YAW_WANTED:
                break
        if best[0].fin > 1.0:
            taken = "larger-fin" not in refuse
            proposals_fin = Proposal(
                id="larger-fin",
                says=f"The fin is drawn {100 * (best[0].fin - 1):.0f} % larger each way.",
                worth=f"Yawing moment from sideslip {now.yaw:+.3f} per radian becomes {best[1].yaw:+.3f} for "
                f"{best[1].mass_g - now.mass_g:.1f} g; above 0 it holds its nose into the wind, "
                f"{YAW_WANTED:.3f} is wanted.",
                taken=taken,
            )
            choice, now = best if taken else (choice, now)
        else:
            proposals_fin = None
    else:
        proposals_fin = None
    text, proposals = _written(tracing, wings, name, mass_g, choice)
    if proposals_fin is not None:
        proposals.append(proposals_fin)
    return StartingDesign(toml=_balanced(text), proposals=still_open(tuple(proposals), tracing))


def _written(
    tracing: Tracing, wings: list[Outline], name: str, mass_g: float, choice: _Choice
) -> tuple[str, list[Proposal]]:
    """The design file's text with the simplifications chosen, and every one of them with its worth."""
    span, length = tracing.span_mm, tracing.proportions.length_mm or tracing.span_mm
    proposals: list[Proposal] = []
    halves = {w.name: half_of(w) for w in wings}
    area = sum(2.0 * area_of(h) for h in halves.values())
    lines = _head(name, mass_g, tracing, choice.sheet)
    body = tracing.outline("body", "side")
    ring = points_of(body.path) if body is not None else plain_body(span, length)
    heights = wing_heights(tracing, wings, ring)
    tail = tracing.outline("tail", "top")
    how = {"wide": choice.wide, "straight": choice.straight}
    for w in wings:
        lines += wing_lines(
            w, halves[w.name], heights[w.name], tracing, elevon=tail is None, rods=choice.rods, **how
        )
    if tail is not None and tail.half_path:
        refuse = () if choice.tail else ("larger-tail",)
        lines += tail_lines(tail, ring, area, wings, halves, refuse=refuse, proposals=proposals, **how)
    lines += fin_lines(tracing, ring, length, wide=choice.wide, stretch=choice.fin)
    lines += strut_lines(wings, halves, tracing, ring, heights)
    lines += body_lines(tracing, ring, choice.flat, proposals)
    proposals += _control_proposals(tail, wings, halves, choice)
    lines += _equipment(mass_g, ring, length, tailed=tail is not None)
    return as_drawn("\n".join(lines) + "\n", tracing, ring), proposals


def _control_proposals(
    tail: Outline | None, wings: list[Outline], halves: dict[str, Floats], choice: _Choice
) -> list[Proposal]:
    """What wider control chords and straight hinges are worth, in area and in places where the line would bend."""
    half = half_of(tail) if tail is not None and tail.half_path else halves[wings[-1].name]
    what, narrow, broad = ("elevator", 0.3, 0.42) if tail is not None else ("elevon", 0.22, 0.22)
    whole = 2.0 * area_of(half)
    out = []
    if tail is not None:
        out.append(
            Proposal(
                id="wide-controls",
                says="Elevator, rudder and ailerons get a wider chord than full-size aeroplanes have.",
                worth=f"The {what} grows from {narrow * whole / 100:.0f} to {broad * whole / 100:.0f} cm², "
                f"{100 * (broad / narrow - 1):.0f} % more to steer a slow, light model with.",
                taken=choice.wide,
            )
        )
    else:
        out.append(
            Proposal(
                id="wide-controls",
                says="The rudder gets a wider chord than full-size aeroplanes have.",
                worth="It grows from 35 to 45 % of the fin's chord, 29 % more to steer a slow, light model with.",
                taken=choice.wide,
            )
        )
    share = broad if choice.wide else narrow
    end = straight_to(half, 0.02, 0.98, share)
    lost = 1.0 - area_of(half[half[:, 1] <= end * half[:, 1].max()]) / max(area_of(half), 1e-9)
    out.append(
        Proposal(
            id="straight-hinge",
            says=f"Hinge lines run straight to the tip, also where a rounded edge would have the {what}'s line bend.",
            worth=f"One straight cut and bevel each; refused, the {what} ends at {100 * end:.0f} % of the half span"
            + (
                f" and the outer {100 * max(lost, 0.0):.0f} % of the surface stays fixed."
                if end < 0.97
                else ", as it does anyway."
            ),
            taken=choice.straight,
        )
    )
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class _Figures:
    """What a starting design is judged by: yawing moment from sideslip [1/rad], its spar's margin, mass."""

    yaw: float
    spar: float
    mass_g: float


def _judged(toml: str) -> _Figures | None:
    """Figures of a design with the battery in its place; None where it cannot be evaluated."""
    from sheetlark.design import loads
    from sheetlark.evaluation import evaluate

    try:
        e = evaluate(loads(_balanced(toml)))
        return _Figures(
            yaw=float(e.flight.derivatives.Cn_beta),
            spar=float(e.strength.weakest.margin),
            mass_g=1000.0 * float(e.weights.all_up_kg),
        )
    except SheetlarkError:
        return None


def _too_small(toml: str) -> bool:
    """Whether a part does not fit on its sheet."""
    from sheetlark.design import loads
    from sheetlark.evaluation import evaluate

    try:
        evaluate(loads(toml))
    except SheetlarkError as error:
        return "larger sheet" in str(error)
    return False


def _head(name: str, mass_g: float, tracing: Tracing, sheet: str) -> list[str]:
    clean = re.sub(r"[^\w \-]", "", name).strip()[:60] or "Traced"
    return [
        (
            f"# Traced from {re.sub(r'[^ -~]', '?', tracing.picture)}: span {tracing.span_mm:.0f} mm, "
            f"confidence {100 * tracing.confidence:.0f} %."
        ),
        "# Outlines come from the picture; equipment and control chords are a beginning to be reviewed.",
        "",
        "[model]",
        f'name = "{clean}"',
        'units = "metric"',
        f'target_mass = "{mass_g:.0f} g"',
        "",
        "[sheet]",
        f'stock = "{sheet}"',
        'paper = "both"',
    ]


def _equipment(mass_g: float, ring: Floats, length: float, *, tailed: bool) -> list[str]:
    kit = next(k for limit, k in _KITS if mass_g <= limit)

    def mid(x: float) -> float:
        low, high = edges_at(ring, x)
        return 0.5 * (low + high)

    pack, gear, servo = 0.14 * length, 0.08 * length, 0.38 * length
    lines = [
        "",
        "[drive]",
        f'motor = "{kit.motor}"',
        f'propeller = "{kit.propeller}"',
        f'pack = "{kit.pack}"',
        f'controller = "{kit.controller}"',
        f"motor_at = [4, 0, {mid(2.0):.1f}]",
        "down = 2",
        "right = 2",
        f"pack_at = [{pack:.1f}, 0, {mid(pack):.1f}]",
        "pack_travel = 12",
        f"controller_at = [{gear:.1f}, 0, {mid(gear):.1f}]",
        "",
        "[radio]",
        f'receiver = "{"receiver-6ch" if tailed else "receiver-4ch"}"',
        f"receiver_at = [{0.3 * length:.1f}, 0, {mid(0.3 * length):.1f}]",
    ]
    moves = ["elevator", "rudder"] if tailed else []
    for k, what in enumerate(moves):
        lines += [
            "[[radio.servo]]",
            'stock = "servo-5g"',
            f'moves = "{what}"',
            f"at = [{servo:.1f}, {8 if k == 0 else -8}, {mid(servo):.1f}]",
            f"push_rod_length = {0.5 * length:.0f}",
        ]
    return lines


def _balanced(toml: str) -> str:
    """Move the battery to where the model balances with the wanted margin, and the rest out of its way.

    What moves away moves the balance a little, so it is done twice. A text that cannot be evaluated stays as it is.
    """
    from sheetlark.design import loads
    from sheetlark.evaluation import evaluate

    for _ in range(2):
        try:
            design = loads(toml)
            battery = evaluate(design).flight.battery
        except SheetlarkError:
            return toml
        if battery is None or design.drive is None or design.body is None:
            return toml
        toml = _placed(toml, design, 1e3 * battery.wanted_x_m)
    return toml


PACK_HALF_MM, PACK_WIDE_MM = 49.0, 48.0  # half a pack above and its travel; the least body width for it
CONTROLLER_HALF_MM, RECEIVER_HALF_MM, SERVO_HALF_MM = 23.0, 24.0, 27.0


def _placed(toml: str, design: Design, wanted_mm: float) -> str:
    """Battery near its wanted x where the body is wide enough; controller, receiver and servos clear of it."""
    from sheetlark.design import edited

    assert design.drive is not None
    assert design.body is not None
    width = 1e3 * np.array(design.body.width)
    xs = np.linspace(PACK_HALF_MM + 8.0, 0.75 * float(width[-1, 0]), 120)
    ends = np.minimum(
        np.interp(xs - PACK_HALF_MM, width[:, 0], width[:, 1]),
        np.interp(xs + PACK_HALF_MM, width[:, 0], width[:, 1]),
    )
    room = xs[ends >= PACK_WIDE_MM]
    if not room.size:
        room = xs[[int(ends.argmax())]]
    pack = float(room[int(np.abs(room - wanted_mm).argmin())])
    y, z = 1e3 * design.drive.pack_at[1], 1e3 * design.drive.pack_at[2]
    ahead = pack - PACK_HALF_MM - CONTROLLER_HALF_MM
    rear = pack + PACK_HALF_MM
    if ahead - CONTROLLER_HALF_MM > 12.0:
        controller = ahead
    else:
        controller, rear = rear + CONTROLLER_HALF_MM, rear + 2.0 * CONTROLLER_HALF_MM
    changes: dict[tuple[str | int, ...], object] = {
        ("drive", "pack_at"): [round(pack, 1), round(y, 1), round(z, 1)],
        ("drive", "controller_at"): [
            round(controller, 1),
            0.0,
            round(1e3 * design.drive.controller_at[2], 1),
        ],
    }
    if design.radio is not None:
        receiver = rear + RECEIVER_HALF_MM
        changes["radio", "receiver_at"] = [
            round(receiver, 1),
            0.0,
            round(1e3 * design.radio.receiver_at[2], 1),
        ]
        for k, servo in enumerate(design.radio.servo):
            at = max(1e3 * servo.at[0], receiver + RECEIVER_HALF_MM + SERVO_HALF_MM)
            changes["radio", "servo", k, "at"] = [
                round(at, 1),
                round(1e3 * servo.at[1], 1),
                round(1e3 * servo.at[2], 1),
            ]
    return edited(toml, changes)
