"""What a sheet wing is like, cut along the stream."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sheetlark.errors import GeometryError

EdgeShape = Literal["square", "rounded", "bevelled"]
SectionKind = Literal["flat", "arc", "folded", "hollow", "stepped"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A section made of sheet.

    kind : str
        "flat" plate; "arc": circular-arc camber; "folded": flat with the rear folded down at one line;
        "hollow": two layers folded over a spar; "stepped": plate with a second layer in front (a step).
    thickness_ratio : float
        Greatest thickness over chord. [-]
    edge : str
        Leading edge: "square", "rounded" or "bevelled".
    camber_ratio : float
        Greatest height of the mean line over chord. [-]
    camber_at : float
        Where that height lies along the chord (arcs: 0.5). [-]
    """

    kind: SectionKind = "flat"
    thickness_ratio: float = 0.02
    edge: EdgeShape = "rounded"
    camber_ratio: float = 0.0
    camber_at: float = 0.5

    def __post_init__(self) -> None:
        if not 0.0 < self.thickness_ratio <= 0.2:
            raise GeometryError(
                f"section thickness must be above 0 and at most 0.2 of the chord, got {self.thickness_ratio:g}"
            )
        if not abs(self.camber_ratio) <= 0.15:
            raise GeometryError(
                f"section camber must stay within 0.15 of the chord, got {self.camber_ratio:g}"
            )
        if not 0.05 <= self.camber_at <= 0.95:
            raise GeometryError(
                f"the top of the camber must lie within 0.05 to 0.95 chord, got {self.camber_at:g}"
            )
