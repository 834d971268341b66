"""The lightest rod that serves: strong enough at the root, stiff enough at the tip."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sheetlark.errors import SolveError
from sheetlark.strength.section import Material, Piece, rod


@dataclass(frozen=True, slots=True, kw_only=True)
class RodSize:
    """A rod or tube that can be bought."""

    name: str
    outer_m: float
    inner_m: float
    material: Material

    @property
    def piece(self) -> Piece:
        """It as a piece of a section."""
        return rod(self.name, self.material, self.outer_m, inner_m=self.inner_m)

    @property
    def mass_kg_m(self) -> float:
        return self.material.density_kg_m3 * self.piece.area_m2

    @property
    def bending_nm2(self) -> float:
        return self.material.modulus_pa * self.piece.iyy_m4

    @property
    def moment_nm(self) -> float:
        """Bending moment at which its outer fibre reaches the weaker of its allowable stresses."""
        allowable = min(self.material.tension_pa, self.material.compression_pa)
        return allowable * self.piece.iyy_m4 / (self.outer_m / 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RodChoice:
    """A rod for a need: what it bears over what is asked.

    strength_margin, stiffness_margin : 1 is just enough.
    """

    size: RodSize
    strength_margin: float
    stiffness_margin: float
    stress_pa: float


def rod_share(rod_bending_nm2: float, board_bending_nm2: float) -> float:
    """Part of a bending moment that a rod on the board's neutral axis takes: as its part of the stiffness."""
    return rod_bending_nm2 / (rod_bending_nm2 + board_bending_nm2)


def lightest_rod(
    sizes: tuple[RodSize, ...],
    *,
    moment_nm: float,
    stiffness_nm2: float,
    board_bending_nm2: float = 0.0,
    room_m: float = math.inf,
    safety: float = 1.5,
) -> RodChoice:
    """Lightest size that bears a moment and, with the board, reaches a bending stiffness.

    Parameters
    ----------
    moment_nm : float
        Limit moment at the root. [N m]
    stiffness_nm2 : float
        EI that keeps the tip deflection allowed (board and rod together). [N m²]
    board_bending_nm2 : float
        EI of the board without the rod; the rod takes its share of the moment. [N m²]
    room_m : float
        Largest diameter there is room for. [m]

    Raises
    ------
    SolveError
        If none serves; the message names the nearest and what it lacks.
    """
    choices = []
    for size in sizes:
        if size.outer_m > room_m + 1e-9:
            continue
        taken = safety * abs(moment_nm) * rod_share(size.bending_nm2, board_bending_nm2)
        choices.append(
            RodChoice(
                size=size,
                strength_margin=size.moment_nm / taken if taken > 0.0 else math.inf,
                stiffness_margin=(size.bending_nm2 + board_bending_nm2) / stiffness_nm2
                if stiffness_nm2 > 0.0
                else math.inf,
                stress_pa=abs(moment_nm)
                * rod_share(size.bending_nm2, board_bending_nm2)
                * (size.outer_m / 2.0)
                / size.piece.iyy_m4,
            )
        )
    serving = [c for c in choices if c.strength_margin >= 1.0 and c.stiffness_margin >= 1.0]
    if serving:
        return min(serving, key=lambda c: (c.size.mass_kg_m, c.size.outer_m))
    if not choices:
        raise SolveError(
            f"no rod of the stock fits into {room_m * 1e3:.1f} mm; use a thicker wing or a strip spar"
        )
    nearest = max(choices, key=lambda c: min(c.strength_margin, c.stiffness_margin))
    lacks = "strength" if nearest.strength_margin < nearest.stiffness_margin else "stiffness"
    part = min(nearest.strength_margin, nearest.stiffness_margin)
    raise SolveError(
        f"no rod of the stock bears {moment_nm:.2f} N m with {stiffness_nm2:.2f} N m²; the nearest, {nearest.size.name}, has "
        f"{100 * part:.0f} % of the {lacks} needed. Use two rods, struts, or a shorter span."
    )


def buckling_load(bending_nm2: float, length_m: float) -> float:
    """Push at which a strut pinned at both ends buckles, π² EI/L² (Euler). [N]."""
    return math.pi**2 * bending_nm2 / length_m**2
