"""How the model is set up: linkage, wiring, motor, balance, and the figures a flier carries to the field."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sheetlark.evaluation import PUSH_ROD_M, ControlFigures, Evaluation
from sheetlark.flight import sideslip_said
from sheetlark.units import show_distance, show_length, show_loading, show_mass, show_ruled, show_speed

_CHANNELS = ("aileron", "elevator", "throttle", "rudder")  # the usual order; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkageRow:
    """One linkage: where the rod hooks in, and what that gives.

    arm_mm, horn_mm : holes as designed [mm]
    up_servo_deg, down_servo_deg : how far the servo turns for the full throws [deg]
    travel_mm : up and down at the trailing edge, at the control's inner end [mm]
    says : a better pair of holes, or that these are the best; or why none serves
    """

    moves: str
    arm_mm: float
    horn_mm: float
    up_deg: float
    down_deg: float
    up_servo_deg: float | None
    down_servo_deg: float | None
    travel_mm: tuple[float, float]
    rod: str
    says: str

    @property
    def ways(self) -> tuple[str, str]:
        """What the two ends of its travel are called."""
        return ("left", "right") if self.moves == "rudder" else ("up", "down")

    def travel(self, imperial: bool) -> tuple[str, str]:
        """The trailing edge's travel each way, as a ruler held at it tells."""
        one, other = (show_ruled(1e-3 * mm, imperial) for mm in self.travel_mm)
        return one, other

    def cells(self, imperial: bool) -> tuple[str, ...]:
        """Its row in a table, without what it says: what it moves, holes, throws, travel, the servo's turns, its rod.

        Holes stay in mm, as arms and horns are drilled.
        """
        one, other = self.ways
        turns = (f"{t:.0f}°" if t is not None else "cannot" for t in (self.up_servo_deg, self.down_servo_deg))
        return (
            self.moves,
            f"{self.arm_mm:.1f} mm",
            f"{self.horn_mm:.1f} mm",
            f"{self.up_deg:.0f}° {one}, {self.down_deg:.0f}° {other}",
            " and ".join(self.travel(imperial)),
            " and ".join(turns),
            self.rod,
        )


def linkages(evaluation: Evaluation) -> tuple[LinkageRow, ...]:
    """Each servo's linkage, as the evaluation solved it."""
    design = evaluation.design
    imperial = design.model.imperial
    found = []
    for c in evaluation.controls.servos:
        assert design.radio is not None
        servo = design.radio.servo[c.where]
        reach = servo.push_rod_length or PUSH_ROD_M
        found.append(
            LinkageRow(
                moves=c.moves,
                arm_mm=1e3 * servo.arm,
                horn_mm=1e3 * servo.horn,
                up_deg=math.degrees(c.up_rad),
                down_deg=math.degrees(c.down_rad),
                up_servo_deg=None if c.servo_up_rad is None else math.degrees(c.servo_up_rad),
                down_servo_deg=None if c.servo_down_rad is None else math.degrees(c.servo_down_rad),
                travel_mm=(1e3 * c.up_m, 1e3 * c.down_m),
                rod=f"{evaluation.stock.linkage(servo.push_rod).name}, {show_ruled(reach, imperial)}"
                + (", one each side" if servo.pair else ""),
                says=_holes(c),
            )
        )
    return tuple(found)


def _holes(c: ControlFigures) -> str:
    """The best pair of holes in words, or why the stated one does not serve."""
    if c.best is None:
        return c.says
    share = c.best.servo_torque_nm / c.torque_nm if c.torque_nm > 0 else math.inf
    least = (
        f"least load with the arm at {1e3 * c.best.arm_m:.1f} mm and the horn at {1e3 * c.best.horn_m:.0f} mm: "
        f"{100 * c.best.travel_used:.0f} % of the servo's travel, {100 * share:.0f} % of its torque at full speed"
    )
    return f"{c.says}; {least}" if c.says else least


def wiring(evaluation: Evaluation) -> tuple[tuple[str, str], ...]:
    """What plugs into what, in order."""
    design = evaluation.design
    rows: list[tuple[str, str]] = []
    drive = design.drive
    if drive is not None:
        cells = evaluation.stock.pack(drive.pack).cells
        rows.append(
            (
                "battery",
                f"speed controller, by its plug ({cells} cells in series): last of all, and out again first",
            )
        )
        rows.append(("speed controller", "motor, three wires; swap any two if it turns the wrong way"))
        rows.append(
            ("speed controller, servo lead", "receiver, throttle: it feeds the receiver and the servos")
        )
    if design.radio is not None:
        for servo in design.radio.servo:
            two = " and the second one by a Y-lead or its own channel, mirrored" if servo.pair else ""
            rows.append((f"{servo.moves} servo", f"receiver, {servo.moves}{two}"))
        rows.append(("receiver aerial", "its last 3 cm straight, away from carbon, wires and the battery"))
    return tuple(rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class CardLine:
    """A line of a card: what, and how much."""

    what: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One panel of the pocket card."""

    title: str
    lines: tuple[CardLine, ...] = ()
    words: tuple[str, ...] = ()


def cards(evaluation: Evaluation) -> tuple[Card, ...]:
    """The eight panels of the pocket card: balance, controls, speeds, battery, checks, first flight, rules."""
    imperial = evaluation.design.model.imperial
    return (
        _front(evaluation, imperial),
        _balance(evaluation, imperial),
        _controls(evaluation, imperial),
        _speeds(evaluation, imperial),
        _battery(evaluation),
        _checks(evaluation),
        _script(evaluation, imperial),
        _rules(),
    )


def _front(e: Evaluation, imperial: bool) -> Card:
    r, w = e.airframe.reference, e.weights
    return Card(
        title=e.design.model.name,
        lines=(
            CardLine(what="span", value=show_length(r.span_m, imperial)),
            CardLine(
                what="ready to fly",
                value=f"{show_mass(w.all_up_kg, imperial)} ± {show_mass(float(w.spread[0]), imperial)}",
            ),
            CardLine(what="wing loading", value=show_loading(w.all_up_kg / r.area_m2, imperial)),
        ),
        words=(
            "Figures are computed before building. What the scales and the field say counts more: write it in the logbook.",
        ),
    )


def balance_aim_m(e: Evaluation) -> float:
    """Where the model should balance: as designed, or the nearest place where it may. [m]."""
    x, b = float(e.weights.balance_m[0]), e.flight.balance
    return min(max(x, x + b.forward_limit_m), x + b.aft_limit_m) if b.possible else x


def _balance(e: Evaluation, imperial: bool) -> Card:
    r = e.airframe.reference
    x = float(e.weights.balance_m[0])
    wing = max(e.airframe.wings, key=lambda s: s.area_m2)
    front, _ = wing.chord_at(0.0)
    behind = x - float(wing.place(front, 0.0)[0])
    b = e.flight.balance
    low, high = x + b.forward_limit_m, x + b.aft_limit_m
    aim = balance_aim_m(e)
    behind += aim - x
    words = []
    if abs(aim - x) > 0.0005:
        words.append(
            f"As designed it balances at {show_length(x, imperial)}, outside its range: move the battery until it is here."
        )
    lines = [
        CardLine(what="behind the nose datum", value=show_length(aim, imperial)),
        CardLine(
            what=f"{'behind' if behind >= 0 else 'ahead of'} the {wing.name}'s root leading edge",
            value=show_length(abs(behind), imperial),
        ),
        CardLine(
            what="of the mean chord", value=f"{e.air.percent_mean_chord + 100 * (aim - x) / r.chord_m:.0f} %"
        ),
    ]
    if b.possible:
        lines.append(
            CardLine(
                what="may lie between",
                value=f"{show_length(low, imperial)} and {show_length(high, imperial)}",
            )
        )
    return Card(
        title="Balance",
        lines=tuple(lines),
        words=(
            *words,
            (
                "Battery in. Tape the place under both wings; on two fingertips there, nose a little down is right, "
                "tail down is not."
            ),
            "Move the battery first, add weight last. Then held at nose and tail: wings level.",
        ),
    )


def _controls(e: Evaluation, imperial: bool) -> Card:
    lines = [
        CardLine(
            what=row.moves,
            value=", ".join(f"{far} {way}" for far, way in zip(row.travel(imperial), row.ways, strict=True)),
        )
        for row in linkages(e)
    ]
    trim = e.flight.cruise
    words = ["At the trailing edge, inner end. First flight: 30 % exponential on all (common practice)."]
    if trim is not None:
        stick = 100 * trim.pitch_stick
        words.append(
            f"Trim expected level at cruise: {abs(stick):.0f} % of the pitch stick {'back' if stick > 0 else 'forward'}."
        )
    slip = e.flight.entry
    if slip is not None:
        words.append(
            f"Sideslip on the way into a turn: {sideslip_said(slip.peak_sideslip_rad, 0)}° with the mixes as designed."
        )
    return Card(title="Throws and trims", lines=tuple(lines), words=tuple(words))


def _speeds(e: Evaluation, imperial: bool) -> Card:
    f = e.flight
    lines = [
        CardLine(what="stall", value=show_speed(f.stall_ms, imperial)),
        CardLine(what="cruise", value=show_speed(f.cruise_ms, imperial)),
    ]
    p = f.performance
    if p is not None:
        lines += [
            CardLine(what="top", value=show_speed(p.top_ms, imperial)),
            CardLine(
                what="best climb",
                value=f"{show_speed(p.best_climb_ms, imperial)} at {show_speed(p.best_climb_speed_ms, imperial)}",
            ),
            CardLine(what="best glide", value=show_speed(p.best_glide.airspeed_ms, imperial)),
            CardLine(what="wind, at most", value=show_speed(p.wind_limit_ms, imperial)),
            CardLine(
                what="field, at least",
                value=f"{show_distance(p.field_length_m, imperial)} × {show_distance(p.field_width_m, imperial)}",
            ),
        ]
    words = []
    if not e.flight.vehicle.wheels:
        words.append(
            f"Throw level, into the wind, at {show_speed(max(1.1 * f.stall_ms - e.design.flying.wind, 4.0), imperial)} or more; "
            "a second person throws."
        )
    else:
        words.append("Take off into the wind, tail held down until it rolls straight.")
    return Card(title="Speeds and weather", lines=tuple(lines), words=tuple(words))


def _battery(e: Evaluation) -> Card:
    lines: list[CardLine] = []
    if e.design.drive is not None and e.drive is not None:
        pack = e.stock.pack(e.design.drive.pack)
        lines.append(CardLine(what="battery", value=f"{pack.cells}S {1e3 * pack.capacity_ah:.0f} mAh"))
        if e.flight.cruise_s is not None:
            minutes = e.flight.cruise_s / 60.0
            lines.append(CardLine(what="at cruise", value=f"{minutes:.0f} min"))
            lines.append(
                CardLine(what="set the timer to", value=f"{max(1.0, math.floor(0.6 * minutes)):.0f} min")
            )
        full = getattr(e.drive, "full_throttle_min", None)
        if isinstance(full, float) and math.isfinite(full):
            lines.append(CardLine(what="at full throttle", value=f"{full:.0f} min"))
    return Card(
        title="Battery",
        lines=tuple(lines),
        words=(
            (
                "Land with a fifth left. Charge it watched, on stone, at its rated current, never in the model; "
                "a swollen or knocked pack is finished: store and dispose of it as the seller says."
            ),
            "Plugged in, the propeller is live: nobody in front of it or beside it.",
        ),
    )


def _checks(e: Evaluation) -> Card:
    control = {
        "elevator": "stick back lifts the elevator",
        "aileron": "stick right lifts the right aileron",
        "rudder": "stick right moves the rudder right",
        "elevon": "stick back lifts both, stick right lifts the right one",
        "flaperon": "stick right lifts the right one",
    }
    moves = [s.control.moves for s in e.airframe.surfaces if s.control is not None]
    ways = [control[m] for m in dict.fromkeys(moves)]
    return Card(
        title="Before every flight",
        words=(
            "Transmitter on first, off last. Fail-safe: throttle closed.",
            f"Ways: {'; '.join(ways)}." if ways else "No controls.",
            "Hinges, horns, links, spars, bands: pull gently at each.",
            "Propeller: no nick, nut tight. Balance: as marked.",
            "Range, first time that day: in the transmitter's check mode, 30 paces, motor off then on; every control moves, none by itself.",
        ),
    )


def _script(e: Evaluation, imperial: bool) -> Card:
    stall = show_speed(e.flight.stall_ms, imperial)
    return Card(
        title="First flight",
        words=(
            "Calm air, short grass, nobody ahead or beneath. Full throttle, straight into the wind; hold wings level, do not pull.",
            "At two mistakes' height throttle back to cruise; trim hands off, pitch first.",
            "A wide turn each way. Then motor off: what trim does the glide want?",
            f"Stall it high, once, wings level: it should go near {stall}. Note which wing drops.",
            "Land into the wind, a little fast. Write down what you saw before the next flight.",
        ),
    )


def _rules() -> Card:
    return Card(
        title="Your duty",
        words=(
            (
                "Local law first: registration and number on the model, insurance, where and how high, distance to people and airfields. "
                "They differ by country and change: look them up, they are yours to check."
            ),
            "Ask a club or an experienced flier for the first flight. Never over people, animals, roads.",
            "Name and telephone number go on the model.",
        ),
    )


__all__ = ["Card", "CardLine", "LinkageRow", "balance_aim_m", "cards", "linkages", "wiring"]
