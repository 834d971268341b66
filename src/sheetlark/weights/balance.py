"""The weight table: lines, all-up mass, balance point, inertia, and how sure they are."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from sheetlark.outline import Floats
from sheetlark.weights.masses import Element, together

Source = Literal["computed", "measured", "stated", "typical"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Line:
    """One line of the weight table.

    group : what it belongs to: wing, tail, fin, body, strut, gear, glue and tape, covering, drive, radio, ballast
    element : its mass, centre and second moment
    spread : relative standard deviation of its mass
    batch : lines of one batch (one sheet stock, one glue) err together; different batches do not
    source, note : where the mass comes from
    """

    name: str
    group: str
    element: Element
    spread: float
    batch: str
    source: Source
    note: str = ""

    @property
    def mass_kg(self) -> float:
        return self.element.mass_kg


@dataclass(frozen=True, kw_only=True, eq=False)
class Weights:
    """The weight table and everything that follows from it.

    lines : in the order they are shown
    """

    lines: tuple[Line, ...]

    @cached_property
    def whole(self) -> Element:
        """Everything together."""
        return together([line.element for line in self.lines])

    @property
    def all_up_kg(self) -> float:
        return self.whole.mass_kg

    @property
    def balance_m(self) -> Floats:
        """Balance point on the geometry axes, shape (3,). [m]."""
        return self.whole.at_m

    @cached_property
    def inertia_kg_m2(self) -> Floats:
        """Inertia tensor about the balance point, shape (3, 3), on the geometry axes. [kg m²].

        Its off-diagonal elements are minus the products of inertia.
        """
        s = self.whole.second_moment
        tensor: Floats = np.trace(s) * np.eye(3) - s
        return tensor

    @cached_property
    def _deviations(self) -> Floats:
        """Each batch's deviation of (mass, x, y, z, xx, yy, zz), one row a batch, one sigma."""
        rows: dict[str, Floats] = {}
        total, centre = self.all_up_kg, self.balance_m
        for line in self.lines:
            e = line.element
            dm = e.mass_kg * line.spread
            off = e.at_m - centre
            second = e.second_moment * line.spread + dm * np.outer(off, off)
            turning = np.trace(second) - np.diag(second)
            row = np.concatenate([[dm], dm * off / total if total > 0 else 0 * off, turning])
            rows[line.batch] = rows.get(line.batch, np.zeros(7)) + row
        return np.array(list(rows.values())) if rows else np.zeros((0, 7))

    @cached_property
    def spread(self) -> Floats:
        """One standard deviation of (mass kg, x m, y m, z m, xx, yy, zz kg m²), shape (7,).

        First-order propagation: masses of one batch err together, batches independently.
        """
        d = self._deviations
        spread: Floats = np.sqrt((d * d).sum(axis=0))
        return spread

    @cached_property
    def batches(self) -> Floats:
        """Deviations batch by batch, shape (n, 7), in the order (mass, x, y, z, xx, yy, zz); one sigma each."""
        return self._deviations
