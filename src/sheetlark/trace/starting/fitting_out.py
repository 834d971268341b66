"""Fitting out: where battery, boxes, servos and formers of a starting design stand, so that they go together.

No box is placed by a rule alone: each is tried against the solids of the parts it will lie among.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from sheetlark.errors import GeometryError
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.starting.layout import Changes, Layout, Where
from sheetlark.trace.starting.wing_servos import wing_servo

if TYPE_CHECKING:
    from sheetlark.evaluation import Evaluation
    from sheetlark.parts import Room

Box = tuple[Floats, Floats]  # its low and its high corner [mm]

# All of common practice, no source.
TRAVELS_MM = (12.0, 6.0, 0.0)  # of the battery either way, the most that fits
OFF_WANTED_MM = 6.0  # of the battery from where it balances the model best, that its travel makes good
FORMER_MM = 8.0  # left free between two boxes, so that a former may stand there
SERVO_HEIGHTS = (0.25, 0.9, 0.1, 0.5)  # shares of the body's height, tried where the first guess fails
TRAY_MM = 10.5  # left free ahead of the servos, for their tray reaches 10 mm beyond them
OFF_FORMER_MM = 60.0  # the furthest a former gives way to a box; further, the box goes through it
LOWER_SERVOS = ("servo-3.7g", "servo-2g")  # where the body is too low for the usual ones
SERVOS, SERVOS_AFT = 0.42, 0.7  # of the body's length; the latter where everything has to come aft
ABOVE_SERVO_MM = 5.0  # for its arm and the rod
STEP_MM = 2.0
# batteries of as many cells by mass: a lighter one where there is no room, a heavier one instead of lead
PACKS = (
    ("2s-300", "2s-450", "2s-610", "2s-850", "2s-1000", "2s-1300", "2s-1500"),
    ("3s-1000", "3s-1300", "3s-1500"),
)


def seated(layout: Layout) -> Layout:
    """The body's servos at a height where what passes through the body leaves their tray room.

    A wing through the middle of a low body takes the tray's whole place, and no kit can be made to try others by.
    """
    radio, body = layout.design.radio, layout.airframe.body
    try:
        _ = layout.kit
    except GeometryError as error:
        if error.where[:2] != ("radio", "servo") or radio is None or body is None:
            raise
    else:
        return layout
    inside = [(k, s.at) for k, s in enumerate(radio.servo) if not s.pair]
    for share in SERVO_HEIGHTS:
        changes: Changes = {}
        for k, (x, y, _) in inside:
            bottom, top = (float(v[0]) for v in body.heights_along(np.array([x])))
            z = bottom + share * (top - bottom)
            changes["radio", "servo", k, "at"] = [round(1e3 * v, 1) for v in (x, y, z)]
        other = layout.changed(changes)
        try:
            _ = other.kit
        except GeometryError:
            continue
        return other
    return layout


def laid_out(layout: Layout, before: Layout | None = None, *, again: bool = False) -> Layout:
    """Everything bought put in its place, the formers between; the same layout where all of it stands there already.

    before : the layout that this one was laid out from, which tells how the balance follows the battery
    again : whether all of it stood in its place before something else was changed; without `before`, what stands behind
        the battery then tells how the balance follows

    Raises
    ------
    SheetlarkError
        If the design cannot be evaluated as it is.
    """
    if layout.design.drive is None or layout.design.body is None:
        return layout
    filled = _Hold(layout, before, again=again).filled()
    return layout if filled.changes == layout.changes else filled


def with_rods(layout: Layout) -> Layout:
    """The push-rods' lengths as they came out."""
    radio = layout.design.radio
    if radio is None:
        return layout
    more: Changes = {}
    for k, servo in enumerate(radio.servo):
        rod = next((r for r in layout.kit.push_rods if r.servo.startswith(f"{servo.moves} servo")), None)
        if rod is not None:
            more["radio", "servo", k, "push_rod_length"] = round(rod.length_mm)
    return layout.changed(more)


def _packs_like(key: str) -> list[str]:
    """A battery, then lighter and heavier ones of as many cells, the nearest in mass first."""
    row = next((r for r in PACKS if key in r), (key,))
    here = row.index(key)
    return sorted(row, key=lambda k: (abs(row.index(k) - here), row.index(k) > here))


class _Hold:
    """The inside of a body, filled box by box."""

    def __init__(self, layout: Layout, before: Layout | None, *, again: bool) -> None:
        from sheetlark.parts import Room, boxed

        self.layout, self.before, self.again = layout, before, again
        self.body = layout.airframe.body
        self.room: Room = Room.of(layout.kit, without=("former", "servo tray", "firewall doubler"))
        self.sizes = {item.name: size for item, size in boxed(layout.airframe, layout.stock)}
        self.taken: list[Box] = []
        self.changes: Changes = {}

    def filled(self) -> Layout:
        """Battery first, since the balance wants it where it is; then what lies round it; formers last."""
        short = self._battery()
        nose_heavy = short > OFF_WANTED_MM
        pack = self.taken[0]
        motor = self._ends()[1] if self._pusher else self._front()
        behind = float(pack[1][0]) + 30.0
        self._box(("drive", "controller_at"), "speed controller", behind if nose_heavy else motor)
        self._box(("radio", "receiver_at"), "receiver", behind)
        self._servos(SERVOS_AFT if nose_heavy else SERVOS)
        self._formers()
        return self.layout.changed(self.changes)

    @cached_property
    def _wall(self) -> tuple[float, float] | None:
        """The stretch of the motor's plate. [mm]."""
        return self.room.stretch("firewall")

    @property
    def _pusher(self) -> bool:
        drive = self.layout.design.drive
        return drive is not None and drive.pusher

    def _front(self) -> float:
        """Where the body's inside begins, behind the motor's plate. [mm]."""
        assert self.body is not None
        return 1.0 + (1e3 * self.body.nose_m if self._wall is None or self._pusher else self._wall[1])

    # -- boxes ---------------------------------------------------------------------------------------------

    def _between(self, low_x: Floats, high_x: Floats) -> tuple[Floats, Floats, Floats]:
        """Half the free width, and the lowest and highest free z over stretches, each of shape (n,). [mm]."""
        assert self.body is not None
        t = 1e3 * self.body.thickness_m
        xs = 1e-3 * np.linspace(low_x, high_x, 5, axis=1)
        bottom, top = (1e3 * z.reshape(xs.shape) for z in self.body.heights_along(xs.ravel()))
        width = self.body.width_m(xs)
        return 500.0 * width.min(axis=1) - t, bottom.max(axis=1) + t, top.min(axis=1) - t

    def _around(self, low_x: float, high_x: float) -> tuple[float, float, float]:
        """The greatest width, the lowest and the highest point of the body over a stretch. [mm]."""
        assert self.body is not None
        xs = np.linspace(low_x, high_x, 9)
        bottom, top = self.body.heights_along(1e-3 * xs)
        return (
            1e3 * float(self.body.width_m(1e-3 * xs).max()),
            1e3 * float(bottom.min()),
            1e3 * float(top.max()),
        )

    def _stations(self, length: float, wanted: float, first: float, last: float) -> Floats:
        """Middles for a box of a length, nearest to a wanted one first; shape (n,) [mm]."""
        low, high = first + length / 2, last - length / 2
        if high < low:
            return np.empty(0)
        start = float(np.clip(wanted, low, high))
        steps = STEP_MM * np.arange(1, int((high - low) / STEP_MM) + 2)
        x = np.concatenate([[start], np.column_stack([start - steps, start + steps]).ravel()])
        return x[(x >= low) & (x <= high)]

    def _found(
        self, size: Floats, wanted: float, *, first: float, last: float, within: float = np.inf
    ) -> Floats | None:
        """Middle of the free place for a box that is nearest along x to a wanted one; None where there is none.

        Places as far from the wanted one as `within`, or further, are left alone. [mm]
        """
        x = self._stations(float(size[0]), wanted, first, last)
        x = x[np.abs(x - wanted) < within]
        half, low, high = self._between(x - size[0] / 2, x + size[0] / 2)
        wide = (size[1] / 2 <= half) & (high - low >= size[2])
        for x_, low_, high_ in zip(x[wide], low[wide], high[wide], strict=True):
            for share in (0.5, 0.25, 0.75, 0.0, 1.0):
                z = low_ + 0.5 + size[2] / 2 + share * (high_ - low_ - size[2] - 1.0)
                at = np.array([x_, 0.0, z])
                if self._clear(at - size / 2, at + size / 2):
                    return at
        return None

    def _clear(self, low: Floats, high: Floats) -> bool:
        for other_low, other_high in self.taken:
            gap = np.maximum(low - other_high, other_low - high)
            if gap[0] < FORMER_MM and gap[1] < 1.0 and gap[2] < 1.0:
                return False
        return self.room.free(low, high)

    def _keep(self, at: Floats, size: Floats) -> list[float]:
        self.taken.append((at - size / 2, at + size / 2))
        return [round(float(v), 1) for v in at]

    def _ends(self) -> tuple[float, float]:
        """From where to where boxes may stand; further back the body is thin, or a motor's former stands. [mm]."""
        assert self.body is not None
        share = 0.92 if self._pusher else 0.8
        return self._front() + FORMER_MM, 1e3 * (self.body.nose_m + share * self.body.length_m)

    def _battery(self) -> float:
        """The battery nearest to where it balances the model, another one where that comes nearer; how far it is short.

        Short of a place further aft counts above 0. [mm]

        A battery of another mass has to stand elsewhere for the same moment about the balance point wanted.
        """
        drive = self.layout.design.drive
        assert drive is not None
        e = self.layout.evaluation
        now = self.layout.stock.pack(drive.pack).mass_kg
        place, about = e.flight.battery, 0.0
        moment = now * 1e3 * drive.pack_at[0]
        if place is not None:
            moved = now * (place.wanted_x_m - drive.pack_at[0]) / e.weights.all_up_kg
            about = 1e3 * (float(e.weights.balance_m[0]) + moved)
            moment = now * (self._aim(1e3 * place.wanted_x_m) - about)
        first, last = self._ends()
        best: tuple[float, str, float, Floats, Floats] | None = None
        short = 0.0
        for key in _packs_like(drive.pack):
            item = self.layout.stock.pack(key)
            size = 1e3 * np.array([item.length_m, item.width_m, item.height_m])
            wanted = about + moment / item.mass_kg
            for travel in TRAVELS_MM:
                reach = size + (2.0 * travel, 0.0, 0.0)
                # no place is worth a look that is hardly nearer than the best so far
                within = np.inf if best is None else (best[0] - OFF_WANTED_MM) * now / item.mass_kg
                at = self._found(reach, wanted, first=first, last=last, within=within)
                if at is not None:
                    off = abs(float(at[0]) - wanted) * item.mass_kg / now
                    best = (off, key, travel, at, reach)
                    short = wanted - float(at[0])
            if best is not None and best[0] <= OFF_WANTED_MM:
                break
        if best is None:
            at, size = 1e3 * np.asarray(drive.pack_at), self.sizes["battery"]
            best = (0.0, drive.pack, 0.0, at, size)
        self.changes |= {
            ("drive", "pack"): best[1],
            ("drive", "pack_travel"): best[2],
            ("drive", "pack_at"): self._keep(best[3], best[4]),
        }
        return short

    def _aim(self, wanted: float) -> float:
        """Where the battery stands once it is wanted where it stands: what gives way to it moves the balance too. [mm]

        By the secant through this layout and the one before it; else by what stands behind the battery, or not at all.
        """
        one, other = (
            None if at is None else stands_and_is_wanted(at.evaluation) for at in (self.before, self.layout)
        )
        if other is None:
            return wanted
        if one is None or one[0] != other[0] or abs(other[1] - one[1]) < STEP_MM:
            slope = self._trailing() if self.again else 0.0
        else:
            slope = (other[2] - one[2]) / (other[1] - one[1])
        return wanted + slope / (1.0 - slope) * (wanted - other[1]) if -2.0 < slope < 0.5 else wanted

    def _trailing(self) -> float:
        """How the battery's wanted place follows its own where receiver and servos behind it move along. [-]"""
        drive, radio = self.layout.design.drive, self.layout.design.radio
        if drive is None or radio is None:
            return 0.0
        trailing = {"receiver", *(f"{s.moves} servo" for s in radio.servo if not s.pair)}
        lines = self.layout.evaluation.weights.lines
        mass = sum(w.mass_kg for w in lines if w.name in trailing and w.element.at_m[0] > drive.pack_at[0])
        return -mass / self.layout.stock.pack(drive.pack).mass_kg

    def _box(self, where: Where, name: str, wanted: float) -> None:
        size = self.sizes.get(name)
        if size is None:
            return
        first, last = self._ends()
        at = self._found(size, wanted, first=first, last=last)
        if at is not None:
            self.changes[where] = self._keep(at, size)

    # -- servos --------------------------------------------------------------------------------------------

    def _servos(self, share: float) -> None:
        radio = self.layout.design.radio
        if radio is None:
            return
        inside = [k for k, s in enumerate(radio.servo) if not s.pair]
        for k, s in enumerate(radio.servo):
            if s.pair:
                self._in_wing(k, s.moves)
        if inside:
            self._in_body(inside, share)

    def _in_body(self, which: list[int], share: float) -> None:
        """Behind all else, since the rods run aft: side by side where the body is wide enough, else one by one."""
        radio = self.layout.design.radio
        assert radio is not None
        assert self.body is not None
        first, last = self._ends()
        wanted = 1e3 * (self.body.nose_m + share * self.body.length_m)
        behind = max(float(high[0]) for _, high in self.taken) + TRAY_MM
        stated = radio.servo[which[0]].stock
        for key in (stated, *(k for k in LOWER_SERVOS if k != stated)):
            item = self.layout.stock.servo(key)
            each = 1e3 * np.array([item.length_m, item.width_m, item.height_m])
            for start, abreast in ((behind, True), (behind, False), (first, True), (first, False)):
                if self._servos_at(which, each, wanted, start, last, abreast=abreast):
                    self.changes |= {("radio", "servo", k, "stock"): key for k in which}
                    return

    def _servos_at(
        self, which: list[int], each: Floats, wanted: float, first: float, last: float, *, abreast: bool
    ) -> bool:
        """Servos of the body put in place, side by side or one behind the other; False where they have no room."""
        both = abreast and len(which) > 1
        for above in (2.0 * ABOVE_SERVO_MM, 0.0):
            for apart in (8.0, 6.5, 5.0) if both else (0.0,):
                long = 1.0 if abreast else len(which) * (each[0] + 2.0) / each[0]
                size = each * (long, 1.0, 1.0) + (0.0, 2.0 * apart, above)
                at = self._found(size, wanted, first=first, last=last)
                if at is None:
                    continue
                x, _, z = self._keep(at, size)
                step = 0.0 if abreast else each[0] + 2.0
                for n, k in enumerate(which):
                    aft = round(x + (n - 0.5 * (len(which) - 1)) * step, 1)
                    self.changes["radio", "servo", k, "at"] = [aft, (1.0, -1.0)[n % 2] * apart, z]
                return True
        return False

    def _in_wing(self, k: int, moves: str) -> None:
        """A servo let into each wing half ahead of what it moves."""
        size = self.sizes.get(f"{moves} servo, starboard")
        at = None if size is None else wing_servo(self.layout, self.room, size, moves)
        if at is not None:
            place, off = at
            self.changes |= {
                ("radio", "servo", k, "at"): [round(float(v), 1) for v in place],
                ("radio", "servo", k, "push_rod_length"): round(off),
            }

    # -- formers -------------------------------------------------------------------------------------------

    def _formers(self) -> None:
        """One against the motor's plate, the others near where they are wanted, out of the boxes' way."""
        assert self.body is not None
        half = 500.0 * self.body.thickness_m
        # as they were written, not where a round before has put them: they give way once, not again and again
        stated = replace(self.layout, changes={}).design.body
        assert stated is not None
        wanted = [1e3 * former.at for former in stated.former]
        holds = None if self._wall is None else (len(wanted) - 1 if self._pusher else 0)
        before = 1e3 * self.body.nose_m
        for k, place in enumerate(wanted):
            if k == holds and self._wall is not None:
                x = self._wall[0] - half - 0.2 if self._pusher else self._wall[1] + half + 0.1
            else:
                x = self._gap(place, half + 1.0, before)
            before = x + 12.0
            self.changes["body", "former", k, "at"] = round(x + 0.04, 1)

    @cached_property
    def _across(self) -> list[tuple[float, float]]:
        """Stretches in which a spar or a strut runs through the body's inside. [mm]."""
        assert self.body is not None
        found = []
        for solid in self.room.solids:
            if "spar" not in solid.name and "strut" not in solid.name:
                continue
            b = np.asarray(solid.solid.bounding_box())
            wide, low, high = self._around(b[0], b[3])
            half = wide / 2
            part = solid.solid.trim_by_plane((0.0, 1.0, 0.0), -half).trim_by_plane((0.0, -1.0, 0.0), -half)
            if part.is_empty():
                continue
            p = np.asarray(part.bounding_box())
            if p[5] > low and p[2] < high:
                found.append((float(p[0]), float(p[3])))
        return found

    def _gap(self, wanted: float, half: float, before: float) -> float:
        filled = [*self._across, *((float(low[0]), float(high[0])) for low, high in self.taken)]
        for k in range(int(OFF_FORMER_MM)):
            for x in (wanted + k, wanted - k):
                if x > before and all(x + half < low or x - half > high for low, high in filled):
                    return x
        return max(wanted, before)


def stands_and_is_wanted(evaluation: Evaluation) -> tuple[str, float, float] | None:
    """Which battery a model has, where it stands and where it would balance the model best. [mm]"""
    drive, place = evaluation.design.drive, evaluation.flight.battery
    if drive is None or place is None:
        return None
    return drive.pack, 1e3 * drive.pack_at[0], 1e3 * place.wanted_x_m
