"""What is bought for a starting design, as lines of the design file; where it stands is found later.

Sizes by all-up mass are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.starting.design_parts import edges_at

MOTOR_AHEAD_MM = (
    3.2  # the mounting face ahead of the nose: the plate closes the front, the motor strikes nothing
)
PLATE_MM = 2.0  # thickness of the plate behind a motor, the default sheet for it


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """What suits a model up to an all-up mass; keys of the stock."""

    most_g: float
    motor: str
    propeller: str
    pack: str
    controller: str
    servo: str


# none pulls more than its motor or its controller stands, by the stock's figures
SIZES = (
    Size(
        most_g=210.0,
        motor="1306-2000",
        propeller="5x3-direct-drive",
        pack="2s-300",
        controller="esc-6",
        servo="servo-3.7g",
    ),
    Size(
        most_g=290.0,
        motor="1806-1500",
        propeller="7x3.5-direct-drive",
        pack="2s-450",
        controller="esc-10",
        servo="servo-5g",
    ),
    Size(
        most_g=340.0,
        motor="2205-1500",
        propeller="7x3.5-direct-drive",
        pack="2s-850",
        controller="esc-12",
        servo="servo-5g",
    ),
    Size(
        most_g=520.0,
        motor="2208-1100",
        propeller="9x4.5-thin-electric",
        pack="2s-1000",
        controller="esc-20",
        servo="servo-5g",
    ),
    Size(
        most_g=1e9,
        motor="2212-1000",
        propeller="8x4-direct-drive",
        pack="3s-1300",
        controller="esc-30",
        servo="servo-9g",
    ),
)


def size_for(mass_g: float) -> int:
    """Which of the sizes suits an all-up mass."""
    return next(k for k, size in enumerate(SIZES) if mass_g <= size.most_g)


def equipment_lines(
    size: int, ring: Floats, length: float, moves: tuple[str, ...], *, pusher: bool
) -> list[str]:
    """Drive and radio of a size, with a servo for each thing that moves.

    moves : elevator and rudder have one servo in the body; ailerons and elevons one in each half of the wing
    """
    kit = SIZES[size]

    def mid(x: float) -> float:
        low, high = edges_at(ring, x)
        return 0.5 * (low + high)

    def above(x: float) -> float:
        """Three quarters up: a wing through the middle of the body would leave nothing of the servos' tray."""
        low, high = edges_at(ring, x)
        return 0.25 * low + 0.75 * high

    pack, gear, servo = 0.14 * length, 0.08 * length, 0.42 * length  # first guesses; the balance moves them
    if pusher:
        pack, gear = 0.4 * length, 0.85 * length
    end = float(ring[:, 0].max())
    motor = [f"motor_at = [{-MOTOR_AHEAD_MM}, 0, {mid(0.0):.1f}]", "down = 2", "right = 2"]
    if pusher:  # the line of thrust runs near the balance: no tilt to begin with
        motor = [f"motor_at = [{end + PLATE_MM:.1f}, 0, {mid(end):.1f}]", "pusher = true"]
    lines = [
        "",
        "[drive]",
        f'motor = "{kit.motor}"',
        f'propeller = "{kit.propeller}"',
        f'pack = "{kit.pack}"',
        f'controller = "{kit.controller}"',
        *motor,
        f"pack_at = [{pack:.1f}, 0, {mid(pack):.1f}]",
        "pack_travel = 12",
        f"controller_at = [{gear:.1f}, 0, {mid(gear):.1f}]",
        "",
        "[radio]",
        f'receiver = "{"receiver-6ch" if len(moves) > 1 else "receiver-4ch"}"',
        f"receiver_at = [{0.3 * length:.1f}, 0, {mid(0.3 * length):.1f}]",
    ]
    side = 1.0
    for what in moves:
        lines += ["[[radio.servo]]", f'stock = "{kit.servo}"', f'moves = "{what}"']
        if what in {"elevator", "rudder"}:
            lines += [
                f"at = [{servo:.1f}, {8 * side:.0f}, {above(servo):.1f}]",
                f"push_rod_length = {0.5 * length:.0f}",
            ]
            side = -side
        else:
            lines += [f"at = [{servo:.1f}, 100, {mid(servo):.1f}]", "pair = true", "push_rod_length = 60"]
    return lines
