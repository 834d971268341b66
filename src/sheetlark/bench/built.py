"""Building it, for the page: the steps with their pictures, what to buy, what to set on the field."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sheetlark.evaluation import Evaluation

Plain = dict[str, Any]


def built(e: Evaluation, tell: Callable[[float, str], None]) -> Plain:
    """The handbook's steps, lists and cards.

    Raises
    ------
    SheetlarkError
        If the parts do not go together.
    """
    from sheetlark.handbook import handbook, svg_picture

    tell(0.3, "finding the order of building")
    book = handbook(e)
    tell(0.8, "drawing the steps")
    return {
        "whole": svg_picture(book.build.whole, wide_mm=150, tall_mm=100, title=book.name),
        "steps": [
            {
                "number": step.number,
                "chapter": step.chapter,
                "title": step.title,
                "parts": [f"{name}{f' × {count}' if count > 1 else ''}" for _, name, count in step.parts],
                "does": list(step.does),
                "glue": step.glue,
                "checks": list(step.checks),
                "cautions": list(step.cautions),
                "picture": svg_picture(step.picture, title=f"Step {step.number}: {step.title}"),
            }
            for step in book.build.steps
        ],
        "shopping": [
            {"group": b.group, "name": b.name, "amount": b.amount, "use": b.use} for b in book.shopping.lines
        ],
        "notes": list(e.kit.notes),
        "tools": list(book.tools),
        "cards": [
            {
                "title": card.title,
                "lines": [[line.what, line.value] for line in card.lines],
                "words": list(card.words),
            }
            for card in book.cards
        ],
    }
