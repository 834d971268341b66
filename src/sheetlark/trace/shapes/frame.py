"""A view's own axes: millimetres on the picture."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.contour import Rings
from sheetlark.trace.shapes.inkgrid import Ink


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """Picture pixels (straightened) <-> model millimetres of one view: p = origin + (a * first + b * second) / scale."""

    origin: Floats
    first: Floats  # unit vector of the first model axis in the picture
    second: Floats
    mm_per_px: float

    def moved(self, a: float, b: float = 0.0) -> Frame:
        """The same axes counted from another place of the view. [mm]"""
        origin = self.origin + a / self.mm_per_px * self.first + b / self.mm_per_px * self.second
        return replace(self, origin=origin)

    def to_mm(self, p: Floats) -> Floats:
        d = p - self.origin
        return np.asarray(np.c_[d @ self.first, d @ self.second] * self.mm_per_px)

    def ink(self, dark: Floats, a: Floats, b: Floats) -> Floats:
        """Strength of the ink at places of the view, from the full picture's; outside it there is none."""
        from scipy import ndimage

        col, row = self.to_px(a, b)
        return np.asarray(ndimage.map_coordinates(dark, np.stack((row, col)), order=1, mode="constant"))

    def inked(self, dark: Floats) -> Ink:
        """The ink of a full picture by place of the view."""
        return partial(self.ink, dark)

    def to_px(self, a: Floats, b: Floats) -> tuple[Floats, Floats]:
        a, b = np.asarray(a) / self.mm_per_px, np.asarray(b) / self.mm_per_px
        return (
            np.asarray(self.origin[0] + a * self.first[0] + b * self.second[0]),
            np.asarray(self.origin[1] + a * self.first[1] + b * self.second[1]),
        )


def flipped(frame: Frame, rings: Rings) -> Frame:
    """The same top view with the nose at the other end."""
    a = (np.vstack(rings.rings) - frame.origin) @ frame.first
    return Frame(
        origin=frame.origin + a.max() * frame.first,
        first=-frame.first,
        second=-frame.second,
        mm_per_px=frame.mm_per_px,
    )
