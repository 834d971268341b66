"""From outlines to a starting design: a valid design file, and the simplifications a flat-sheet builder makes.

Every figure here is a beginning, not a verdict: `review` says what it is worth. Where a trade proportion is used
it is common practice, no source, and says so.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from sheetlark.errors import PictureError, SheetlarkError
from sheetlark.trace.design_parts import (
    area_of,
    body_lines,
    edges_at,
    fin_lines,
    half_of,
    plain_body,
    points_of,
    strut_lines,
    tail_lines,
    wing_heights,
    wing_lines,
)
from sheetlark.trace.ink import Floats
from sheetlark.trace.model import Proposal, Tracing

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
        Ids of simplifications not to take: "flat-sides", "straight-hinge", "larger-tail", "wide-controls".

    Raises
    ------
    PictureError
        If no wing was found in the top view.
    """
    wings = [o for o in tracing.outlines if o.part == "wing" and o.view == "top" and o.half_path]
    if not wings:
        raise PictureError(
            "no wing was found in the top view, so there is no design to start from. Draw it by hand."
        )
    span, length = tracing.span_mm, tracing.proportions.length_mm or tracing.span_mm
    proposals: list[Proposal] = []
    halves = {w.name: half_of(w) for w in wings}
    area = sum(2.0 * area_of(h) for h in halves.values())
    mass_g = 1000.0 * target_mass_kg if target_mass_kg is not None else LOADING_G_DM2 * area / 1e4
    lines = _head(name, mass_g, tracing)
    body = tracing.outline("body", "side")
    ring = points_of(body.path) if body is not None else plain_body(span, length)
    heights = wing_heights(tracing, wings, ring)
    tail = tracing.outline("tail", "top")
    wide = "wide-controls" not in refuse
    for w in wings:
        lines += wing_lines(w, halves[w.name], heights[w.name], tracing, elevon=tail is None, wide=wide)
    if tail is not None and tail.half_path:
        lines += tail_lines(tail, ring, area, wings, halves, wide=wide, refuse=refuse, proposals=proposals)
    lines += fin_lines(tracing, ring, length, wide=wide)
    lines += strut_lines(wings, halves, tracing)
    lines += body_lines(tracing, ring, "flat-sides" not in refuse, proposals)
    proposals.append(
        Proposal(
            id="wide-controls",
            says="Elevator, rudder and ailerons get a wider chord than full-size aeroplanes have.",
            worth="Hinged chords of 0.28 to 0.45 instead of about 0.2 to 0.3 give a slow, light model enough control.",
            taken=wide,
        )
    )
    proposals.append(
        Proposal(
            id="straight-hinge",
            says="Hinge lines run straight across, at a constant share of the chord.",
            worth="One straight bevel per surface instead of a curved one.",
            taken=True,
        )
    )
    lines += _equipment(mass_g, ring, length, tailed=tail is not None)
    toml = "\n".join(lines) + "\n"
    return StartingDesign(toml=_balanced(toml), proposals=tuple(proposals))


def _head(name: str, mass_g: float, tracing: Tracing) -> list[str]:
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
        'stock = "foam-board-5"',
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
    """Move the battery to where the model balances with the wanted margin, if it can be evaluated.

    The receiver and servos stay; a battery place outside the body is left to `review` to speak about.
    """
    from sheetlark.design import edited, loads
    from sheetlark.evaluation import evaluate

    try:
        battery = evaluate(loads(toml)).flight.battery
    except SheetlarkError:
        return toml
    if battery is None:
        return toml
    design = loads(toml)
    if design.drive is None:
        return toml
    _, y, z = design.drive.pack_at
    x = (
        float(
            np.clip(1e3 * battery.wanted_x_m, 25.0, 1e3 * 0.6 * float(max(s for s, _ in design.body.width)))
        )
        if design.body
        else 40.0
    )
    return edited(toml, {("drive", "pack_at"): [round(x, 1), round(1e3 * y, 1), round(1e3 * z, 1)]})
