"""The search for the smallest change of one lever, by solving the model again.

A lever is first tried at the far end of its reach. If that clears the finding, `fewest_clear` closes in on the
least value that does, in steps that a builder can hold. Every remedy returned was evaluated with its values as they
are written into the design file, cleared its finding, and brought no fault that was not there before.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress

from sheetlark.design import Where, varied
from sheetlark.errors import SheetlarkError, SolveError
from sheetlark.evaluation import Evaluation, evaluate_first
from sheetlark.review.check import Check, imperial
from sheetlark.review.checks import AT_ONCE, CHECKS, ON_THE_GROUND
from sheetlark.review.finding import Change, Remedy
from sheetlark.review.handling_checks import SIDESLIP
from sheetlark.review.levers import Changes, Lever, Option
from sheetlark.review.stepping import fewest_clear
from sheetlark.units import show_length, show_mass

_KEPT = 24  # versions evaluated for one finding that another may ask for again; each holds a kit
_FOLLOWED = 4  # choices tried of a row in which each follows from the last; mostly the second clears


class Versions:
    """A design with some values changed, evaluated; the last few are kept, for findings share levers."""

    def __init__(self, of: Evaluation) -> None:
        self.of = of
        self._kept: OrderedDict[str, Evaluation | None] = OrderedDict()

    def keeps(self, changes: Changes) -> bool:
        """Whether the version with some changes is an aeroplane that need not be evaluated again."""
        return self._kept.get(_key(changes)) is not None

    def with_changes(self, changes: Changes) -> Evaluation | None:
        """None where they make no aeroplane."""
        key = _key(changes)
        if key in self._kept:
            self._kept.move_to_end(key)
        else:
            self._kept[key] = self._evaluated(changes)
            if len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        return self._kept[key]

    def _evaluated(self, changes: Changes) -> Evaluation | None:
        source = self.of.design.source
        try:
            return evaluate_first(varied(source.text, changes, source.name), self.of.stock)
        except SheetlarkError:
            return None


def _key(changes: Changes) -> str:
    return repr(dict(changes))


class Search:
    """Looks for the smallest change of one lever that clears one check."""

    def __init__(
        self, versions: Versions, check: Check, within: Callable[[Where], bool] | None = None
    ) -> None:
        self.versions = versions
        self.before = versions.of
        self.check = check
        self.within = within
        self.raised = {c.id: severity for c in CHECKS if (severity := c.raised(self.before)) is not None}

    def tried(self, changes: Changes) -> tuple[float, Evaluation] | None:
        """(shortfall, evaluation) with some changes; None where they make no aeroplane."""
        after = self.versions.with_changes(changes)
        if after is None:
            return None
        try:
            short = self.check.followed(after)
        except SheetlarkError:
            return None
        return (-math.inf if short is None else short, after)

    def may(self, changes: Changes) -> bool:
        """Whether everything that would be changed may be."""
        return self.within is None or all(self.within(_where(where)) for where in changes)

    def pulled(self, pull: Lever | Option) -> Remedy | None:
        """What comes of a lever, or of a list to choose from."""
        if isinstance(pull, Lever):
            return self.along(pull)
        return self.after(pull) if pull.follows else self.among(pull)

    def along(self, lever: Lever) -> Remedy | None:
        """The least movement of a lever that clears the check."""
        start = lever.start(self.before)
        short = self.check.shortfall(self.before)
        if start is None or short is None or not self.may(lever.changes(self.before.design, start)):
            return None
        for end in self._ends(lever, start):
            found = self._closed_in(lever, start, short, end)
            if found is not None:
                return found
        return None

    def _ends(self, lever: Lever, start: float) -> list[float]:
        low, high = lever.reach(self.before)
        return [end for end in (low, high) if abs(end - start) >= lever.step]

    def _closed_in(self, lever: Lever, start: float, short: float, end: float) -> Remedy | None:
        far = self.tried(lever.changes(self.before.design, end))
        # A reach that ends in nonsense is halved a few times before the lever is given up.
        for _ in range(3):
            if far is not None:
                break
            end = start + 0.5 * (end - start)
            far = self.tried(lever.changes(self.before.design, end))
        if far is None or far[0] > 0.0:
            return None
        value, after = self._least(lever, start, short, end, far)
        return self._made(
            lever.says(self.before, start, value), lever.changes(self.before.design, value), after
        )

    def _least(
        self, lever: Lever, start: float, short: float, end: float, far: tuple[float, Evaluation]
    ) -> tuple[float, Evaluation]:
        """The value nearest to the start, in whole steps, that clears the check, and the evaluation there."""
        step = math.copysign(lever.step, end - start)
        last = math.ceil((end - start) / step - 1e-9)
        best = (end, far[1])

        def shortfall(k: int) -> float:
            nonlocal best
            if k in {0, last}:
                at = short if k == 0 else far[0]
            else:
                value = start + k * step
                found = self.tried(lever.changes(self.before.design, value))
                if found is None:
                    raise SolveError("no aeroplane comes of a value within the lever's reach")
                at = found[0]
                if at <= 0.0 and abs(value - start) < abs(best[0] - start):
                    best = (value, found[1])
            # a version that does not raise the check at all does not say how far it is from raising it
            return at if math.isfinite(at) else -short

        design = self.before.design
        known = [k for k in range(1, last) if self.versions.keeps(lever.changes(design, start + k * step))]
        with suppress(SolveError):
            fewest_clear(shortfall, last, known)
        return best

    def among(self, option: Option) -> Remedy | None:
        """The first choice of a list that clears the check."""
        slow = self.check.id not in AT_ONCE
        for changes, says in option.choices(self.before):
            if not self.may(changes) or (slow and self._in_vain(changes)):
                continue
            found = self.tried(changes)
            if found is not None and found[0] <= 0.0:
                made = self._made(says, changes, found[1])
                if made is not None:
                    return made
        return None

    def after(self, option: Option) -> Remedy | None:
        """The first choice of a row, each made by what came of the one before it, that clears the check."""
        at = self.before
        for _ in range(_FOLLOWED):
            choices = option.choices(at)
            if not choices:
                return None
            changes, says = choices[0]
            found = self.tried(changes) if self.may(changes) else None
            if found is None:
                return None
            short, at = found
            if short <= 0.0:
                return self._made(says, changes, at)
        return None

    def _in_vain(self, changes: Changes) -> bool:
        """Whether a fault shows already on the ground, so that nobody need ask how it flies."""
        after = self.versions.with_changes(changes)
        try:
            return after is None or any(
                check.raised(after) == "fault" != self.raised.get(check.id) for check in ON_THE_GROUND
            )
        except SheetlarkError:
            return True

    def _made(self, says: str, changes: Changes, after: Evaluation) -> Remedy | None:
        """A remedy of changes that clear the check; None where they raise a fault, or make no aeroplane after all."""
        brought = []
        try:
            for check in CHECKS:
                severity = check.raised(after)
                if severity is None or self.raised.get(check.id) in (severity, "fault"):
                    continue
                if severity == "fault":
                    return None
                if severity == "caution":
                    brought.append(check.id)
            after.worked_out()
        except SheetlarkError:
            return None
        other = moved(self.before, after, apart_from=self.check.id)
        warned = f"It brings another caution: {', '.join(brought)}." if brought else ""
        return Remedy(
            says=says,
            changes=tuple(Change(where=_where(where), value=value) for where, value in changes.items()),
            moves=f"{other} {warned}".strip(),
            brings=tuple(brought),
        )


def _where(where: Where) -> Where:
    return tuple(where)


def moved(before: Evaluation, after: Evaluation, *, apart_from: str = "") -> str:
    """What else a change moves, in words: the figures that changed by more than a builder would shrug at."""
    metric = not imperial(before)
    said: list[str] = []
    mass = after.weights.all_up_kg - before.weights.all_up_kg
    if abs(mass) > 0.0005:
        said.append(f"mass {'+' if mass > 0 else '-'}{show_mass(abs(mass), not metric)}")
    balance = float(after.weights.balance_m[0] - before.weights.balance_m[0])
    if abs(balance) > 0.0005:
        said.append(f"balance {show_length(abs(balance), not metric)} {'aft' if balance > 0 else 'forward'}")
    margin = 100 * (after.air.static_margin - before.air.static_margin)
    if abs(margin) > 0.3 or apart_from == "margin":
        said.append(f"margin {100 * after.air.static_margin:.0f} %")
    stall = after.flight.stall_ms - before.flight.stall_ms
    if abs(stall) > 0.1:
        said.append(f"stall {after.flight.stall_ms:.1f} m/s")
    if before.drive is not None and after.drive is not None:
        thrust = after.drive.thrust_to_weight - before.drive.thrust_to_weight
        if abs(thrust) > 0.02:
            said.append(f"thrust {after.drive.thrust_to_weight:.2f} of weight")
        amps = after.drive.static.point.current_a - before.drive.static.point.current_a
        if abs(amps) > 0.2:
            said.append(f"current {after.drive.static.point.current_a:.1f} A")
    one, two = SIDESLIP.measure(before), SIDESLIP.measure(after)
    if two is not None and (one is None or abs(two - one) > 0.4):
        said.append(f"peak sideslip in the turn {two:.1f}°")
    return f"Then: {', '.join(said)}." if said else ""
