"""A starting design in the making: its text, what is changed of it, and what is made of it."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sheetlark.airframe import Airframe
    from sheetlark.design import Design
    from sheetlark.evaluation import Evaluation
    from sheetlark.parts import Clash, Kit
    from sheetlark.stock import Stock

Where = tuple[str | int, ...]
Changes = dict[Where, object]

_MINUS_NOUGHT = re.compile(r"(?<![\w.])-(0(?:\.0*)?)(?![\w.])")


@dataclass(frozen=True, kw_only=True, eq=False)
class Layout:
    """A design's text with some of its values changed."""

    text: str
    stock: Stock
    changes: Changes

    def changed(self, more: Changes) -> Layout:
        return replace(self, changes={**self.changes, **more})

    def written(self) -> str:
        """The design file's text with the changes in it; what rounds to nought has no sign."""
        from sheetlark.design import edited

        text = edited(self.text, self.changes) if self.changes else self.text
        return _MINUS_NOUGHT.sub(r"\1", text)

    @cached_property
    def design(self) -> Design:
        from sheetlark.design import varied

        return varied(self.text, self.changes)

    @cached_property
    def airframe(self) -> Airframe:
        from sheetlark.airframe import airframe

        return airframe(self.design, self.stock)

    @cached_property
    def clashes(self) -> tuple[Clash, ...]:
        """What the proof finds in the kit."""
        from sheetlark.parts import prove

        return prove(self.kit, self.airframe, self.stock).findings

    @cached_property
    def kit(self) -> Kit:
        from sheetlark.parts import make_kit

        return make_kit(self.airframe, self.stock)

    @cached_property
    def evaluation(self) -> Evaluation:
        """Without the stages that take long."""
        from sheetlark.evaluation import evaluate_first

        return evaluate_first(self.design, self.stock)
