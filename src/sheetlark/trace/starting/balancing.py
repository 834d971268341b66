"""The battery where it balances the model: what gives way to it moves the balance too, so it is laid out again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sheetlark.errors import SheetlarkError
from sheetlark.trace.starting.fitting_out import OFF_WANTED_MM, laid_out, stands_and_is_wanted
from sheetlark.trace.starting.layout import Layout

if TYPE_CHECKING:
    from sheetlark.evaluation import Evaluation

MOST_ROUNDS = 3


def balanced(layout: Layout, before: Layout | None = None, *, again: bool = False) -> Layout:
    """Laid out until its battery stands where it balances the model, or as near as a few rounds bring it.

    before, again : as of `laid_out`

    Raises
    ------
    SheetlarkError
        If the design cannot be evaluated as it is.
    """
    best, off = layout, off_balance_mm(layout.evaluation)
    for _ in range(MOST_ROUNDS):
        if off <= OFF_WANTED_MM:
            break
        after = laid_out(layout, before, again=again)
        if after is layout:
            break
        before, layout = layout, after
        try:
            now = off_balance_mm(after.evaluation)
        except SheetlarkError:
            break
        best, off = (after, now) if now < off else (best, off)
    return best


def off_balance_mm(evaluation: Evaluation) -> float:
    """How far the battery stands from where it balances the model with the margin wanted."""
    battery = stands_and_is_wanted(evaluation)
    return 0.0 if battery is None else abs(battery[2] - battery[1])
