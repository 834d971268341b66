"""A view's ink by place: asked of the picture, sampled once over a box, weighed against what lies beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from sheetlark.trace.paper.ink import Floats

Ink = Callable[[Floats, Floats], Floats]  # (first, second) of a view [mm] -> strength, 0 on paper


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class InkGrid:
    """Ink sampled once over a box, then looked up at many places.

    low : where its first row and column lie, shape (2,). [mm]
    step : between rows and between columns. [mm]
    fine : strength at each, 0 to 1; rows go along the view's first axis.
    """

    low: Floats
    step: float
    fine: Floats
    _wide: dict[int, Floats] = field(default_factory=dict)

    @classmethod
    def of(cls, ink: Ink, low: tuple[float, float], high: tuple[float, float], step: float) -> InkGrid:
        """The ink of the box between two corners."""
        a = np.arange(low[0], high[0] + step, step)
        b = np.arange(low[1], high[1] + step, step)
        found = ink(*np.broadcast_arrays(a[:, None], b[None, :]))
        return cls(low=np.array(low), step=step, fine=np.clip(found, 0.0, 1.0))

    def turned(self) -> InkGrid:
        """The same ink with its axes in each other's place."""
        return InkGrid(low=self.low[::-1], step=self.step, fine=np.ascontiguousarray(self.fine.T))

    def wide(self, reach: float) -> Floats:
        """Ink spread by `reach` to every side, for a coarse search."""
        from scipy import ndimage

        k = 2 * max(0, round(reach / self.step)) + 1
        if k not in self._wide:
            self._wide[k] = np.asarray(ndimage.maximum_filter(self.fine, size=k, mode="constant"))
        return self._wide[k]

    def at(self, values: Floats, a: Floats, b: Floats) -> Floats:
        """Of values at the grid's places, shape as `fine`, those nearest to (a, b); beyond the box those at its rim."""
        return self.at_places(values, self.row(a), self.column(b))

    def row(self, a: Floats) -> Floats:
        """The row nearest to each first coordinate, as a whole number: for those that are asked for more than once."""
        return self._nearest(a, 0)

    def column(self, b: Floats) -> Floats:
        return self._nearest(b, 1)

    def _nearest(self, v: Floats, axis: int) -> Floats:
        place = np.asarray(v - self.low[axis])
        place /= self.step
        np.rint(place, out=place)
        np.fmax(place, 0.0, out=place)
        return np.asarray(np.fmin(place, self.fine.shape[axis] - 1.0, out=place))

    @staticmethod
    def at_places(values: Floats, row: Floats, column: Floats) -> Floats:
        """Values by the rows and columns that :meth:`row` and :meth:`column` give."""
        place = row * values.shape[1] + column
        return np.asarray(values.ravel()[place.astype(np.intp)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """How dark a figure is between its lines, and how dark the lines are: by what is left of that they stand out."""

    dark: float
    lines: float

    @property
    def there(self) -> bool:
        """Whether the figure is filled at all."""
        return self.dark >= 0.25

    @property
    def hides(self) -> bool:
        """Whether lines are hardly darker than the filling."""
        return self.lines < 1.2 * self.dark

    @property
    def shows_lines(self) -> bool:
        """Whether lines stand out from a filling."""
        return self.there and not self.hides

    def taken_off(self, ink: Floats) -> Floats:
        """The strength of lines alone."""
        return np.asarray((ink - self.dark) / (self.lines - self.dark))

    def lines_alone(self, ink: Ink) -> Ink:
        """The ink less the filling, on which a line stands out by what is left of its darkness; as it is where none does."""
        if not self.shows_lines:
            return ink

        def relieved(a: Floats, b: Floats) -> Floats:
            return self.taken_off(ink(a, b))

        return relieved


def stands_out(ink: Ink, a: Floats, b: Floats, da: Floats | float, db: Floats | float) -> Floats:
    """By how much the ink at (a, b) is stronger than on both sides of it, (da, db) away."""
    here = np.clip(ink(a, b), 0.0, 1.0)
    beside = np.maximum(np.clip(ink(a + da, b + db), 0.0, 1.0), np.clip(ink(a - da, b - db), 0.0, 1.0))
    return np.asarray(here - beside)
