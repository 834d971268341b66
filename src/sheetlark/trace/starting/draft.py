"""A draft: how a starting design is written for a choice, and what it is then worth."""

from __future__ import annotations

import pickle
import re
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from sheetlark.errors import SheetlarkError
from sheetlark.trace.model import Outline, Tracing
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.starting.as_drawn import as_drawn
from sheetlark.trace.starting.balancing import off_balance_mm
from sheetlark.trace.starting.body_parts import body_lines
from sheetlark.trace.starting.design_parts import (
    area_of,
    fin_lines,
    half_of,
    plain_body,
    points_of,
    strut_lines,
    tail_lines,
    tail_stretch,
    tail_volume,
    wing_heights,
    wing_lines,
)
from sheetlark.trace.starting.equipping import equipment_lines
from sheetlark.trace.starting.fitting_out import laid_out, seated
from sheetlark.trace.starting.layout import Changes, Layout

if TYPE_CHECKING:
    from sheetlark.evaluation import Evaluation


SETTLED = 3  # rounds of placing equipment after which the battery hardly moves any more
MARGIN_MM = 5.0  # left free along every edge of a sheet, as the plans do
THROWN_MS = 7.0  # the fastest most people throw; common practice, no source


@dataclass(frozen=True, slots=True)
class Structure:
    """What the wings of a starting design are made of, as keys of the stock: the spars, front to rear, and the sheet."""

    rods: tuple[str, ...]
    sheet: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """How a starting design is written.

    flat, straight, tail, wide : whether the simplification is taken
    filled : whether a cut-out in a wing's trailing edge is filled
    fin : how many times as tall as drawn
    pusher : whether the motor stands at the tail
    rods, sheet : keys of the stock
    size : which of the sizes of equipment
    """

    flat: bool
    straight: bool
    tail: bool
    wide: bool
    rods: tuple[str, ...]
    sheet: str
    size: int
    filled: bool = True
    fin: float = 1.0
    pusher: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """A design evaluated, without the stages that take long.

    off_balance_mm : how far the battery stands from where it balances the model with the margin wanted
    """

    evaluation: Evaluation

    @property
    def yaw(self) -> float:
        """Yawing moment from sideslip. [1/rad]."""
        return float(self.evaluation.flight.derivatives.Cn_beta)

    @property
    def mass_g(self) -> float:
        return 1e3 * float(self.evaluation.weights.all_up_kg)

    @property
    def strong(self) -> bool:
        """Whether every wing bears the hardest pull and keeps its shape in it."""
        from sheetlark.evaluation import SOFT

        s = self.evaluation.strength
        return float(s.weakest.margin) >= 1.0 and float(s.softest.soft) <= SOFT

    @property
    def skids(self) -> bool:
        """Whether it slips more than it should rolling into a turn, with all the controls it has."""
        from sheetlark.flight import SIDESLIP_LIMIT_RAD

        slip = self.evaluation.controls.peak_sideslip_rad
        return slip is not None and slip > SIDESLIP_LIMIT_RAD

    @property
    def twists(self) -> bool:
        """Whether a wing is soft in twist at top speed."""
        from sheetlark.strength.flutter import RESERVE

        return float(self.evaluation.strength.most_twisted.twist.reserve) < RESERVE

    @property
    def throwable(self) -> bool:
        """Whether it flies at the speed of a throw; common practice, no source."""
        return float(self.evaluation.flight.stall_ms) <= THROWN_MS

    @property
    def weakest(self) -> str:
        """Name of the wing that gives way first, or of the softest where all bear their load."""
        s = self.evaluation.strength
        return s.weakest.name if float(s.weakest.margin) < 1.0 else s.softest.name

    @property
    def off_balance_mm(self) -> float:
        return off_balance_mm(self.evaluation)


class Draft:
    """Everything that a starting design is written from; what was once looked at is kept."""

    def __init__(self, *, tracing: Tracing, name: str, target_g: float | None) -> None:
        self.tracing, self.name, self.target_g = tracing, name, target_g
        self.cut = {o.name: o for o in tracing.wings if o.filled_path}
        self.wings = [replace(o, half_path=o.filled_path or o.half_path) for o in tracing.wings]
        self.halves: dict[str, Floats] = {w.name: half_of(w) for w in self.wings}
        self.wing_area_mm2 = sum(2.0 * area_of(h) for h in self.halves.values())
        tail = tracing.outline("tail", "top")
        self.tail: Outline | None = tail if tail is not None and tail.half_path else None
        self.length_mm = tracing.proportions.length_mm or tracing.span_mm
        body = tracing.outline("body", "side")
        self.ring = points_of(body.path) if body is not None else plain_body(tracing.span_mm, self.length_mm)
        self._bodies: dict[tuple[bool, bool], list[str]] = {}
        self._texts: dict[Choice, str] = {}
        self._layouts: dict[tuple[Choice, int], Layout] = {}
        self._seated: dict[Choice, Layout] = {}

    @cached_property
    def parts(self) -> bytes:
        """What makes the same draft in another process."""
        return pickle.dumps((self.tracing, self.name, self.target_g))

    @classmethod
    def of(cls, parts: bytes) -> Draft:
        tracing, name, target_g = pickle.loads(parts)  # noqa: S301 - of our own parent process
        return cls(tracing=tracing, name=name, target_g=target_g)

    @property
    def tailless(self) -> bool:
        return self.tail is None

    @cached_property
    def tail_volume(self) -> float:
        """Of the tailplane as drawn; 0 without one."""
        return 0.0 if self.tail is None else tail_volume(self.tail, self.wings, self.halves)

    @property
    def tail_stretch(self) -> float:
        """How much larger each way the tailplane is drawn where its volume is low and that is taken."""
        return tail_stretch(self.tail_volume)

    def text(self, choice: Choice) -> str:
        """The design file's text, its equipment not yet in place."""
        if choice not in self._texts:
            text = "\n".join(self._lines(choice)) + "\n"
            self._texts[choice] = as_drawn(text, self.tracing, self.ring)
        return self._texts[choice]

    def start(self, choice: Choice) -> Layout:
        """The design as it is written, its equipment not yet in place."""
        from sheetlark.stock import load_stock

        return Layout(text=self.text(choice), stock=load_stock(), changes={})

    def seated(self, choice: Choice) -> Layout:
        """The design as it is written, the servos of its body where their tray has room."""
        if choice not in self._seated:
            self._seated[choice] = seated(self.start(choice))
        return self._seated[choice]

    def layout(self, choice: Choice, rounds: int = 1) -> Layout:
        """With its equipment in place; what moves away moves the balance, so a second round may be worth it.

        Where another version with the same equipment has it in place already, the first round is to put it there too.
        """
        if (choice, rounds) not in self._layouts:
            if rounds == 1:
                made = self._as_another(choice) or laid_out(self.seated(choice))
            else:
                last = self.layout(choice, rounds - 1)
                made = laid_out(last, self.layout(choice, rounds - 2) if rounds > 2 else None)
            self._layouts[choice, rounds] = made
        return self._layouts[choice, rounds]

    def _as_another(self, choice: Choice) -> Layout | None:
        """Its equipment where the version laid out last has it; None where there is none that can be evaluated so."""
        for other, rounds in reversed(self._layouts):
            if (other.size, other.pusher) == (choice.size, choice.pusher):
                layout = self.start(choice).changed(self._layouts[other, rounds].changes)
                return layout if _evaluated(layout) is not None else None
        return None

    def look(self, choice: Choice, rounds: int = 1) -> Look | None:
        """Evaluated with its equipment in place; None where it cannot be."""
        try:
            return _evaluated(self.layout(choice, rounds))
        except SheetlarkError:
            return None

    def with_changes(self, choice: Choice, changes: Changes) -> Look | None:
        """A version with some values changed, evaluated; None where it cannot be."""
        return _evaluated(self.start(choice).changed(changes))

    def mass_g(self, choice: Choice) -> float | None:
        """What it weighs before its equipment is in place; None where it cannot be made."""
        from sheetlark.weights import weigh

        try:
            at = self.seated(choice)
            return 1e3 * float(weigh(at.design, at.airframe, at.kit, at.stock).all_up_kg)
        except SheetlarkError:
            return None

    def too_small(self, choice: Choice) -> bool:
        """Whether a part does not fit on its sheet inside the margins of the plans."""
        try:
            start = self.seated(choice)
            parts = start.kit.parts
        except SheetlarkError as error:
            return "larger sheet" in str(error)
        for part in parts:
            sheet = start.stock.sheet(part.sheet)
            room = sorted(1e3 * side - 2.0 * MARGIN_MM for side in (sheet.width_m, sheet.height_m))
            if any(size > free for size, free in zip(sorted(part.size_mm), room, strict=True)):
                return True
        return False

    def _lines(self, choice: Choice) -> list[str]:
        tracing, wings, halves, ring = self.tracing, self.wings, self.halves, self.ring
        heights = wing_heights(tracing, wings, ring)
        lines = self._head(choice)
        for w in wings:
            lines += wing_lines(
                w if choice.filled else self.cut.get(w.name, w),
                halves[w.name],
                heights[w.name],
                tracing,
                elevon=self.tailless,
                rods=choice.rods,
                wide=choice.wide,
                straight=choice.straight,
            )
        if self.tail is not None:
            lines += tail_lines(
                self.tail,
                ring,
                stretch=self.tail_stretch if choice.tail else 1.0,
                wide=choice.wide,
                straight=choice.straight,
            )
        fins = fin_lines(tracing, ring, self.length_mm, wide=choice.wide, stretch=choice.fin)
        lines += fins
        lines += strut_lines(wings, halves, tracing, ring, heights)
        lines += self._body(choice.flat, choice.pusher)
        moves = (
            *(["rudder"] if fins else []),
            *(["elevon"] if self.tailless else ["elevator", "aileron"]),
        )
        return lines + equipment_lines(choice.size, ring, self.length_mm, moves, pusher=choice.pusher)

    def _body(self, flat: bool, pusher: bool) -> list[str]:
        """The body's lines: few choices change them, and they take a while to fit."""
        if (flat, pusher) not in self._bodies:
            self._bodies[flat, pusher] = body_lines(self.tracing, self.ring, flat=flat, pusher=pusher)
        return self._bodies[flat, pusher]

    def _head(self, choice: Choice) -> list[str]:
        clean = re.sub(r"[^\w \-]", "", self.name).strip()[:60] or "Traced"
        return [
            (
                f"# Traced from {re.sub(r'[^ -~]', '?', self.tracing.picture)}: span {self.tracing.span_mm:.0f} mm, "
                f"confidence {100 * self.tracing.confidence:.0f} %."
            ),
            "# Outlines come from the picture; equipment and control chords are a beginning to be reviewed.",
            "",
            "[model]",
            f'name = "{clean}"',
            'units = "metric"',
            *([] if self.target_g is None else [f'target_mass = "{self.target_g:.0f} g"']),
            "",
            "[sheet]",
            f'stock = "{choice.sheet}"',
            'paper = "both"',
        ]


def _evaluated(layout: Layout) -> Look | None:
    try:
        _ = layout.evaluation.flight.battery  # which every next layout asks for; a wing without lift has none
        return Look(layout.evaluation)
    except SheetlarkError:
        return None
