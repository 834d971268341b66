"""The proof that a kit goes together: every part as a solid in its place, moved as it will be moved.

Nothing here knows how the parts were made. What a finding says is measured on the solids: both parts, where,
how much, and what would cure it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sheetlark.airframe import Airframe
from sheetlark.parts.clash import Body, Clash
from sheetlark.parts.part import Kit
from sheetlark.parts.proof_fits import overlaps, rods, slots
from sheetlark.parts.proof_items import equipment
from sheetlark.parts.proof_motion import motion, withdrawals
from sheetlark.parts.proof_rods import push_rods
from sheetlark.parts.solids import part_solids
from sheetlark.stock import Stock

Progress = Callable[[float, str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """What was tried, and what was found.

    findings : empty where everything goes together
    pairs, slots, positions, items, rod_positions : how many pairs of solids, slots, positions of moving surfaces,
        items, and positions of push-rods were tried
    least_gap_mm : for each moving part, the nearest it came to anything but its own hinge [mm]
    """

    findings: tuple[Clash, ...]
    pairs: int
    slots: int
    positions: int
    items: int
    rod_positions: int
    least_gap_mm: tuple[tuple[str, float], ...]

    @property
    def clean(self) -> bool:
        return not self.findings


def prove(kit: Kit, airframe: Airframe, stock: Stock, *, progress: Progress | None = None) -> Proof:
    """Put every part in its place and try it: overlaps, slots, motion, withdrawal, equipment, propeller, push-rods.

    Parameters
    ----------
    kit : Kit
    airframe : Airframe
        For what is put in and what turns.
    stock : Stock
        For its sizes.
    progress : callable, optional
        Called with a share from 0 to 1 and a few words.
    """
    tell = progress or (lambda _share, _words: None)
    tell(0.0, "parts as solids")
    solids = [Body(p.name, i, s) for p in kit.parts for i, s in enumerate(part_solids(p))]
    findings: list[Clash] = []
    tell(0.1, "overlaps")
    pairs = overlaps(solids, findings)
    rods(kit, solids, findings)
    tell(0.3, "slots")
    tried = slots(kit, findings)
    tell(0.4, "moving surfaces")
    positions, least = motion(kit, airframe, solids, findings)
    tell(0.8, "what comes off")
    withdrawals(kit, airframe, solids, findings)
    tell(0.9, "what goes in")
    items = equipment(kit, airframe, stock, solids, findings)
    rod_positions = push_rods(kit, airframe, stock, solids, findings)
    tell(1.0, "done")
    return Proof(
        findings=tuple(findings),
        pairs=pairs,
        slots=tried,
        positions=positions,
        items=items,
        rod_positions=rod_positions,
        least_gap_mm=tuple(least),
    )
