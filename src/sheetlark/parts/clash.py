"""What a proof finds, and the solids it is found on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from sheetlark.outline import Floats
from sheetlark.parts.part import Point3
from sheetlark.parts.solids import Solid, apart

FLOOR_MM3 = 1.0  # faces that only touch leave nothing; less than this is rounding

Kind = Literal["overlap", "fit", "motion", "withdrawal", "equipment", "propeller", "push-rod"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """One thing that does not go together.

    kind : what was tried
    first, second : both parts, or a part and an item
    at_mm : where, on the geometry axes [mm]
    amount : how much; its unit is in `says`
    says : in words
    cure : what would clear it
    change : where one value of the design clears it, the place of that value and what to write there, in millimetres
        and degrees
    """

    kind: Kind
    first: str
    second: str
    at_mm: Point3
    amount: float
    says: str
    cure: str
    change: tuple[tuple[str | int, ...], float | str | tuple[float, ...]] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """One copy of a part as a solid in its place."""

    name: str
    copy: int
    solid: Solid

    @property
    def label(self) -> str:
        """Its name, and its side where there are two."""
        return self.name if self.copy == 0 else f"{self.name}, port"


def point3(p: Floats) -> Point3:
    """A point, to a hundredth. [mm]."""
    return (round(float(p[0]), 2), round(float(p[1]), 2), round(float(p[2]), 2))


def shared(a: Solid, b: Solid) -> Solid | None:
    """What two solids share; None where they are apart or only touch."""
    return None if apart(a, b) else overlap(a, b)


def overlap(a: Solid, b: Solid) -> Solid | None:
    """What two solids share the boxes round which meet; None where they only touch."""
    common = a ^ b
    return common if float(common.volume()) > FLOOR_MM3 else None


def meeting(common: Solid) -> tuple[Point3, float]:
    """Middle and least dimension of what two solids share."""
    b = np.asarray(common.bounding_box())
    return point3(0.5 * (b[:3] + b[3:])), float((b[3:] - b[:3]).min())


def place(at: Point3) -> str:
    """Where, in words."""
    return f"at x {at[0]:.0f}, y {at[1]:.0f}, z {at[2]:.0f} mm"
