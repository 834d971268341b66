"""What a starting design cannot take from a tracing, and what it has instead: said before anybody builds it."""

from __future__ import annotations

from dataclasses import replace

from sheetlark.trace.model import Note, Tracing
from sheetlark.units import show_length

_HERE = "in the Picture room"


def noted(tracing: Tracing) -> Tracing:
    """The same tracing with a note on everything that a starting design puts in the place of what was not found."""
    if tracing.outline("wing", "top") is None:
        return tracing
    fresh = _missing(tracing)
    ids = {n.id for n in fresh} | _IDS
    return replace(tracing, notes=(*(n for n in tracing.notes if n.id not in ids), *fresh))


def high_tail_note(above_mm: float) -> Note:
    """That a tailplane stands on the fin, so far above the body. [mm]"""
    return Note(
        id="high-tail",
        says=f"The front view shows the tailplane on the fin, {show_length(1e-3 * above_mm)} above the body. A design holds "
        "its tailplane at the body, and that is where a starting design has it: what it says of balance and trim is for "
        "that place.",
    )


_IDS = {"no-body-side", "no-body-top", "no-fin", "no-front", "wing-struts"}


def _missing(tracing: Tracing) -> tuple[Note, ...]:
    found = []
    if tracing.outline("body", "side") is None:
        found.append(
            Note(
                id="no-body-side",
                says="The body's side was not found: a starting design has a plain body, a tenth of the span deep. "
                f"Draw it {_HERE}, or give the body its profile in the Shape room.",
            )
        )
    if tracing.outline("body", "top") is None:
        found.append(
            Note(
                id="no-body-top",
                says="The body's width was not found: a starting design has one of common proportions. "
                f"Draw it {_HERE}, or set its width in the Shape room.",
            )
        )
    if tracing.outline("fin", "side") is None:
        found.append(
            Note(
                id="no-fin",
                says=f"No fin was found, and a starting design has none: draw it {_HERE}, or add one in the Shape room.",
            )
        )
    if tracing.view("front") is None and tracing.outline("wing", "front") is None:
        found.append(
            Note(
                id="no-front",
                says="No front view was found: a starting design has its wing on top of the body, without dihedral. "
                "Set both in the Shape room.",
            )
        )
    if any(o.part == "strut" and o.name.startswith("wing strut") for o in tracing.outlines):
        found.append(
            Note(
                id="wing-struts",
                says="Slanted struts hold the wing. A starting design leaves them out: a strut of a design stands upright, "
                "and the spar alone bears the load. If you want their looks, glue strips of board on at the end, and "
                "weigh them in as ballast.",
            )
        )
    return tuple(found)
