"""A design evaluated after others gives what it gives in a fresh process: nothing kept ever goes stale."""

from __future__ import annotations

import functools
import gc
import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetlark.airframe import airframe
from sheetlark.design import edited, loads, starter
from sheetlark.errors import SheetlarkError
from sheetlark.evaluation import Evaluation, evaluate
from sheetlark.parts import Kit, kept, make_kit
from sheetlark.review import document
from sheetlark.stock import load_stock

STOCK = load_stock()


def forget_everything() -> None:
    """Empty every memory of the package but the stock's, as a fresh process would have them."""
    kept.forget()
    for each in gc.get_objects():
        if isinstance(each, functools._lru_cache_wrapper):
            room = each.__module__ or ""
            if room.startswith("sheetlark") and "stock" not in room:
                each.cache_clear()


def content(kit: Kit) -> list[Any]:
    """All of a kit as plain values, to the last bit."""
    return [
        *(
            (
                p.number,
                p.name,
                p.outline.tobytes(),
                tuple(h.tobytes() for h in p.holes),
                p.marks,
                p.bevels,
                p.mirrored,
                tuple(
                    (q.outline.tobytes(), tuple(h.tobytes() for h in q.holes), q.matrix.tobytes())
                    for copy in p.copies
                    for q in copy
                ),
            )
            for p in kit.parts
        ),
        kit.joints,
        kit.rods,
        kit.swings,
        kit.removals,
        kit.notes,
    ]


def told(e: Evaluation) -> tuple[list[Any], str]:
    """Everything an evaluation says."""
    return content(e.kit), json.dumps(document(e, remedies=False, proof=False), sort_keys=True)


# Values a hand drags, each with the share it may grow or shrink by.
SCALES = (
    ("wing", 0, "span"),
    ("wing", 0, "root_chord"),
    ("wing", 0, "tip_chord"),
    ("wing", 0, "spar", 0, "span"),
    ("tailplane", "span"),
    ("tailplane", "tip_chord"),
    ("fin", 0, "height"),
    ("fin", 0, "tip_chord"),
    ("drive", "pack_at"),
    ("tailplane", "at"),
    ("fin", 0, "at"),
    ("body", "width"),
    ("body", "former", 1, "at"),
    ("gear", "at"),
    ("radio", "servo", 0, "at"),
)


def changed(text: str, where: tuple[str | int, ...], share: float) -> str:
    """The text with a value scaled; unchanged where the design has none there."""
    here: Any = loads(text)
    for part in where:
        here = getattr(here, part) if isinstance(part, str) else here[part]
        if here is None:
            return text
    factor = 1.0 + share
    if isinstance(here, float):
        value: Any = round(1e3 * here * factor, 2)
    elif isinstance(here[0], tuple):
        value = [[round(1e3 * x, 2), round(1e3 * w * factor, 2)] for x, w in here]
    else:
        value = [round(1e3 * v * (factor if i == 0 else 1.0), 2) for i, v in enumerate(here)]
    return edited(text, {where: value})


@pytest.mark.parametrize("name", ["dunnock", "brambling", "turnstone"])
def test_a_kit_cut_after_a_dozen_others_is_the_kit_cut_first(name):
    text = starter(name)
    texts = [text]
    for where in SCALES:
        for share in (0.013, -0.017):
            try:
                texts.append(changed(text, where, share))
                make_kit(airframe(loads(texts[-1]), STOCK), STOCK)
            except SheetlarkError:
                texts.pop()
    assert len(texts) > 15
    warm = [content(make_kit(airframe(loads(each), STOCK), STOCK)) for each in texts]
    for each, parts in list(zip(texts, warm, strict=True))[::5]:
        forget_everything()
        assert content(make_kit(airframe(loads(each), STOCK), STOCK)) == parts


@settings(max_examples=3, deadline=None)
@given(
    name=st.sampled_from(["dunnock", "brambling", "turnstone"]),
    edits=st.lists(
        st.tuples(st.sampled_from(SCALES), st.floats(-0.04, 0.04), st.booleans()), min_size=2, max_size=4
    ),
)
def test_random_edits_give_what_a_fresh_process_gives(name, edits):
    base = text = starter(name)
    texts = []
    for where, share, back in edits:
        try:
            text = changed(base if back else text, where, share)
            evaluate(loads(text), STOCK)
        except SheetlarkError:
            text = base
            continue
        texts.append(text)
    warm = [told(evaluate(loads(each), STOCK)) for each in texts]
    for each, (kit, doc) in zip(texts, warm, strict=True):
        forget_everything()
        cold_kit, cold_doc = told(evaluate(loads(each), STOCK))
        assert kit == cold_kit
        assert doc == cold_doc
