"""What a tracing says of itself, and of what a starting design cannot take from it: before anybody builds it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from sheetlark.trace.model import Note, Tracing
from sheetlark.units import show_length

_HERE = "in the Picture room"


def _bodies(tracing: Tracing) -> set[str]:
    """The views in which the body was found."""
    return {view for view in ("top", "side") if tracing.outline("body", view) is not None}


# What is missing, and what a starting design has instead.
_LACKS: dict[str, tuple[Callable[[Tracing], bool], str]] = {
    "no-body": (
        lambda t: _bodies(t) == set(),
        (
            "No body was found, neither from the side nor from above: a starting design has a plain one, a tenth of the "
            f"span deep, which holds motor, battery and radio. Draw it {_HERE}, or shape it in the Shape room."
        ),
    ),
    "no-body-side": (
        lambda t: _bodies(t) == {"top"},
        (
            "The body's side was not found: a starting design has a plain body, a tenth of the span deep. "
            f"Draw it {_HERE}, or give the body its profile in the Shape room."
        ),
    ),
    "no-body-top": (
        lambda t: _bodies(t) == {"side"},
        (
            "The body's width was not found: a starting design has one of common proportions. "
            f"Draw it {_HERE}, or set its width in the Shape room."
        ),
    ),
    "no-fin": (
        lambda t: t.outline("fin", "side") is None,
        f"No fin was found, and a starting design has none: draw it {_HERE}, or add one in the Shape room.",
    ),
    "no-front": (
        lambda t: t.view("front") is None and t.outline("wing", "front") is None,
        (
            "No front view was found: a starting design has its wing on top of the body, without dihedral. "
            "Set both in the Shape room."
        ),
    ),
    "wing-struts": (
        lambda t: any(o.part == "strut" and o.name.startswith("wing strut") for o in t.outlines),
        (
            "Slanted struts hold the wing. A starting design leaves them out: a strut of a design stands upright, "
            "and the spar alone bears the load. If you want their looks, glue strips of board on at the end, and "
            "weigh them in as ballast."
        ),
    ),
}


def noted(tracing: Tracing) -> Tracing:
    """The same tracing with a note on everything that a starting design puts in the place of what was not found."""
    if tracing.outline("wing", "top") is None:
        return tracing
    fresh = (Note(id=id_, says=says) for id_, (lacks, says) in _LACKS.items() if lacks(tracing))
    return replace(tracing, notes=(*(n for n in tracing.notes if n.id not in _LACKS), *fresh))


def high_tail_note(above_mm: float) -> Note:
    """That a tailplane stands on the fin, so far above the body. [mm]"""
    return Note(
        id="high-tail",
        says=f"The front view shows the tailplane on the fin, {show_length(1e-3 * above_mm)} above the body. A design holds "
        "its tailplane at the body, and that is where a starting design has it: what it says of balance and trim is for "
        "that place.",
    )


def with_length_note(tracing: Tracing, stated_m: float | None) -> Tracing:
    """The same tracing with a note on how the length found compares with the one that was stated, if one was."""
    found_mm = tracing.proportions.length_mm
    if stated_m is None or found_mm is None:
        return tracing
    off = found_mm / (1000.0 * stated_m) - 1.0
    note = Note(
        id="length-check",
        says=f"At this span the drawing is {show_length(1e-3 * found_mm)} long; {show_length(stated_m)} was stated, "
        f"{100 * off:+.1f} %."
        + (" One of the two is wrong, or the picture is stretched." if abs(off) > 0.015 else ""),
    )
    return replace(tracing, notes=(*tracing.notes, note))
