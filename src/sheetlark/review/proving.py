"""Whether the parts go together: the proof in space, as a builder reads it."""

from __future__ import annotations

from collections.abc import Iterator

from sheetlark.evaluation import Evaluation
from sheetlark.parts import Proof, prove
from sheetlark.units import in_inches, show_length


def proved(evaluation: Evaluation) -> Proof:
    """Try every part, slot, moving surface, removable part and item of a model in space.

    Apart from the findings, because it takes longer than they do: it tries thousands of pairs of solids.
    """
    return prove(evaluation.kit, evaluation.airframe, evaluation.stock)


def proof_lines(proof: Proof, imperial: bool = False) -> Iterator[str]:
    """The proof in plain lines: what was tried, and each thing that does not go together, with its cure."""
    shown = in_inches if imperial else str
    tried = (
        f"{proof.pairs} pairs of parts, {proof.slots} slots, {proof.positions} positions of moving surfaces, "
        f"{proof.items} items, {proof.rod_positions} positions of push-rods"
    )
    if proof.clean:
        yield f"The parts go together: {tried} tried."
        if proof.least_gap_mm:
            name, gap = min(proof.least_gap_mm, key=lambda pair: pair[1])
            yield f"The closest moving surface is the {name}, which keeps {show_length(1e-3 * gap, imperial)}."
        return
    yield f"The parts do not go together ({tried} tried):"
    for clash in proof.findings:
        yield shown(f"✗ {clash.says[:1].upper()}{clash.says[1:]}: {clash.cure}.")
