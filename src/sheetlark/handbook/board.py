"""A drawing board: what is drawn on it, and where there is still room for words and balloons.

Ink is kept a second time as a grid of cells, so that a free place for a box of words is found at once: a
summed-area table tells for every place whether all cells under the box are free, and the nearest one is taken.
Millimetres, y upwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from sheetlark.handbook.pieces import Floats
from sheetlark.sheets import Drawing, Layer, Lettering, Line, printable, width_mm

CELL_MM = 0.4
TALL = 1.06  # room for a line of words, accents and descenders too, over its size
XY = tuple[float, float]
Box = tuple[float, float, float, float]


class Board:
    """Lines and words as they are set, and the room between them."""

    def __init__(self, name: str, width_mm: float, height_mm: float) -> None:
        self.name = name
        self.width, self.height = width_mm, height_mm
        self.lines: list[Line] = []
        self.words: list[Lettering] = []
        self.taken = np.zeros((round(height_mm / CELL_MM), round(width_mm / CELL_MM)), dtype=bool)

    def line(
        self,
        layer: Layer,
        points: Sequence[XY] | Floats,
        *,
        closed: bool = False,
        owner: str = "",
        clear_mm: float = 0.5,
    ) -> None:
        """Draw a run of lines; what is set later keeps clear of it."""
        run = np.asarray(points, dtype=np.float64)
        self.lines.append(Line(layer=layer, points=run, closed=closed, owner=owner))
        self._ink(np.vstack([run, run[:1]]) if closed else run, clear_mm)

    def block(self, ring: Floats) -> None:
        """Keep a whole area clear of words."""
        from PIL import Image, ImageDraw

        at = ring / CELL_MM - 0.5
        x0, y0 = np.floor(at.min(axis=0)).astype(int)
        x1, y1 = np.ceil(at.max(axis=0)).astype(int) + 1
        image = Image.new("1", (int(x1 - x0), int(y1 - y0)), 0)
        ImageDraw.Draw(image).polygon([(float(x - x0), float(y - y0)) for x, y in at], fill=1, outline=1)
        self._add(np.asarray(image, dtype=bool), x0, y0)

    def write(
        self,
        text: str,
        at: XY,
        size_mm: float,
        *,
        layer: Layer = Layer.TEXT,
        angle_deg: float = 0.0,
        bold: bool = False,
        start: bool = False,
    ) -> float:
        """Write a line of words about a point, or from it on where `start`; returns its length. [mm]."""
        said = printable(text)
        long = width_mm(said, size_mm, bold=bold)
        if start:
            at = (at[0] + 0.5 * long, at[1])
        self.words.append(
            Lettering(
                layer=layer,
                text=said,
                at=(round(at[0], 3), round(at[1], 3)),
                size_mm=size_mm,
                angle_deg=angle_deg,
                bold=bold,
            )
        )
        wide, tall = (long, TALL * size_mm) if angle_deg == 0.0 else (TALL * size_mm, long)
        x0, y0 = at[0] - wide / 2, at[1] - tall / 2
        self.block(np.array([(x0, y0), (x0 + wide, y0), (x0 + wide, y0 + tall), (x0, y0 + tall)]))
        return long

    def free(self, at: XY, box: XY) -> bool:
        """Whether a box about a point covers nothing."""
        x0, y0 = (int(np.floor((at[k] - box[k] / 2) / CELL_MM)) for k in (0, 1))
        x1, y1 = (int(np.ceil((at[k] + box[k] / 2) / CELL_MM)) for k in (0, 1))
        inside = x0 >= 0 and y0 >= 0 and x1 <= self.taken.shape[1] and y1 <= self.taken.shape[0]
        return bool(inside and not self.taken[y0:y1, x0:x1].any())

    def places(self, box: XY, about: Box, step: int = 1) -> Floats:
        """Middles of all free places for a box within an area, shape (n, 2), row by row. [mm].

        step : of how many cells in a row one is tried
        """
        rows, columns = self.taken.shape
        x0, y0 = max(0, int(about[0] / CELL_MM)), max(0, int(about[1] / CELL_MM))
        x1, y1 = min(columns, int(about[2] / CELL_MM)), min(rows, int(about[3] / CELL_MM))
        w, h = (int(np.ceil(side / CELL_MM)) for side in box)
        if x1 - x0 < w or y1 - y0 < h:
            return np.empty((0, 2))
        s = np.zeros((y1 - y0 + 1, x1 - x0 + 1), dtype=np.int32)
        s[1:, 1:] = self.taken[y0:y1, x0:x1].cumsum(axis=0).cumsum(axis=1)
        empty = s[h:, w:] - s[:-h, w:] - s[h:, :-w] + s[:-h, :-w] == 0
        r, c = np.nonzero(empty[::step, ::step])
        r, c = r * step, c * step
        return np.column_stack([x0 + c + 0.5 * w, y0 + r + 0.5 * h]) * CELL_MM

    def label(
        self,
        text: str,
        wish: XY,
        size_mm: float,
        about: Box,
        *,
        layer: Layer = Layer.TEXT,
        points_to: XY | None = None,
    ) -> XY:
        """Write words at the free place nearest to a wish; a leader where they end up away from what they name."""
        said = printable(text)
        long = width_mm(said, size_mm)
        found = self.places((long + 1.2, TALL * size_mm + 0.6), about)
        if len(found):
            # Near the wish, and near with its own edge to what it points to.
            off = 0.25 * np.hypot(*(found - wish).T)
            to = wish if points_to is None else points_to
            beside = np.maximum(np.abs(found[:, 0] - to[0]) - 0.5 * long, 0.0)
            off += np.hypot(beside, np.abs(found[:, 1] - to[1]) - 0.5 * size_mm)
            wish = (float(found[int(np.argmin(off))][0]), float(found[int(np.argmin(off))][1]))
        self.write(said, wish, size_mm, layer=layer)
        if points_to is not None:
            x = min(max(points_to[0], wish[0] - 0.5 * long), wish[0] + 0.5 * long)
            above = points_to[1] > wish[1]
            start = (x, wish[1] + (0.6 if above else -0.6) * size_mm)
            if abs(points_to[1] - start[1]) > 1.0 or abs(points_to[0] - x) > 1.0:
                self.line(layer, [start, points_to])
        return wish

    def drawing(self) -> Drawing:
        """All of it, in the order of the layers."""
        rank = {layer: i for i, layer in enumerate(Layer)}
        return Drawing(
            name=printable(self.name),
            width_mm=self.width,
            height_mm=self.height,
            lines=tuple(sorted(self.lines, key=lambda line: rank[line.layer])),
            lettering=tuple(self.words),
        )

    def _ink(self, run: Floats, clear: float) -> None:
        from PIL import Image, ImageDraw

        reach = int(np.ceil(clear / CELL_MM))
        at = run / CELL_MM - 0.5
        x0, y0 = np.floor(at.min(axis=0)).astype(int) - reach - 1
        x1, y1 = np.ceil(at.max(axis=0)).astype(int) + reach + 2
        image = Image.new("1", (int(x1 - x0), int(y1 - y0)), 0)
        ImageDraw.Draw(image).line(
            [(float(x - x0), float(y - y0)) for x, y in at], fill=1, width=2 * reach + 1
        )
        self._add(np.asarray(image, dtype=bool), x0, y0)

    def _add(self, mask: npt.NDArray[np.bool_], x0: Any, y0: Any) -> None:
        rows, columns = self.taken.shape
        top, left = max(0, -int(y0)), max(0, -int(x0))
        bottom, right = min(mask.shape[0], rows - int(y0)), min(mask.shape[1], columns - int(x0))
        if bottom > top and right > left:
            self.taken[int(y0) + top : int(y0) + bottom, int(x0) + left : int(x0) + right] |= mask[
                top:bottom, left:right
            ]
