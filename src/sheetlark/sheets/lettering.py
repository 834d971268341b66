"""Lettering and where it may stand: how wide words are, and the place a block of words fits.

The place is searched on a grid of cells that lie wholly inside the free shape: a block fits where all cells
under it are free, which a summed-area table tells for every place at once. Of all places the one nearest to
the wished point is taken. A block thus never touches the border of the shape it stands in.
"""

from __future__ import annotations

import functools
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sheetlark.sheets.drawing import Layer, Lettering

if TYPE_CHECKING:
    from shapely.geometry import Polygon
    from shapely.geometry.base import BaseGeometry

FONTS = Path(__file__).with_name("fonts")
REGULAR, BOLD = FONTS / "DejaVuSansCondensed.ttf", FONTS / "DejaVuSansCondensed-Bold.ttf"
CAPITAL = 0.729  # height of its capitals over the em: its H is 1493 of 2048 units tall
LINE_PITCH = 1.25
_ABOVE, _BELOW = 0.80, 0.25  # reach of accents and descenders over the em, beside the capitals


@functools.cache
def _face(bold: bool) -> Any:
    from reportlab.pdfbase.ttfonts import TTFontFace

    return TTFontFace(str(BOLD if bold else REGULAR))


def printable(text: str) -> str:
    """The text with what a pen cannot write left out: control signs go, unknown signs become "?"."""
    known = _face(False).charToGlyph
    plain = (" " if c in "\t\n\r" else c for c in unicodedata.normalize("NFC", text))
    kept = "".join(c if ord(c) in known else "?" for c in plain if unicodedata.category(c)[0] != "C")
    return " ".join(kept.split())


def width_mm(text: str, size_mm: float, *, bold: bool = False) -> float:
    """Length of a line of words. [mm]."""
    face = _face(bold)
    return float(sum(face.charWidths.get(ord(c), face.defaultWidth) for c in text)) * size_mm / 1000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Lines of words set together; the first is bold.

    words : each line's text, top to bottom
    size_mm : size of the type; the bold first line is a quarter larger
    """

    words: tuple[str, ...]
    size_mm: float

    def _size(self, row: int) -> float:
        return self.size_mm * (1.25 if row == 0 else 1.0)

    @property
    def box_mm(self) -> tuple[float, float]:
        """Width and height that hold every letter. [mm]."""
        wide = max(width_mm(w, self._size(i), bold=i == 0) for i, w in enumerate(self.words))
        tall = sum(self._size(i) * LINE_PITCH for i in range(len(self.words)))
        return (wide, tall)

    def set_at(self, at: tuple[float, float], angle_deg: float, layer: Layer = Layer.TEXT) -> list[Lettering]:
        """The block's lines, centred on a point."""
        c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
        top = self.box_mm[1] / 2
        made = []
        for row, text in enumerate(self.words):
            size = self._size(row)
            # The pitch leaves more room below the capitals, for descenders, than above them.
            y = top - size * (LINE_PITCH / 2 - 0.02)
            top -= size * LINE_PITCH
            place = (at[0] - s * y, at[1] + c * y)
            made.append(
                Lettering(
                    layer=layer,
                    text=text,
                    at=(float(place[0]), float(place[1])),
                    size_mm=size,
                    angle_deg=angle_deg,
                    bold=row == 0,
                )
            )
        return made


def letter_box(words: Lettering) -> Polygon:
    """The rectangle a line of words covers, accents and descenders too. [mm]."""
    from shapely.geometry import Polygon

    half = width_mm(words.text, words.size_mm, bold=words.bold) / 2
    up = (_ABOVE - CAPITAL / 2) * words.size_mm
    down = (_BELOW + CAPITAL / 2) * words.size_mm
    c, s = np.cos(np.radians(words.angle_deg)), np.sin(np.radians(words.angle_deg))
    corners = np.array([(-half, -down), (half, -down), (half, up), (-half, up)])
    return Polygon(corners @ np.array([[c, s], [-s, c]]) + words.at)


class FreeSpace:
    """A shape in which blocks may stand, looked at along one direction.

    shape : polygon or polygons [mm]
    angle_deg : the direction in which words will run
    """

    def __init__(self, shape: BaseGeometry, angle_deg: float, cells: int = 90) -> None:
        import shapely
        from shapely.affinity import rotate

        self._angle = angle_deg
        level = rotate(shape, -angle_deg, origin=(0, 0))
        self.empty = level.is_empty
        if self.empty:
            return
        x0, y0, x1, y1 = level.bounds
        self._cell = max(0.5, min(x1 - x0, y1 - y0) / cells, max(x1 - x0, y1 - y0) / (4 * cells))
        nx, ny = int((x1 - x0) / self._cell) + 1, int((y1 - y0) / self._cell) + 1
        self._x = x0 + self._cell * (np.arange(nx) + 0.5)
        self._y = y0 + self._cell * (np.arange(ny) + 0.5)
        # A cell whose middle lies deeper than half its diagonal lies inside with all of itself.
        inner = level.buffer(-0.5 * np.sqrt(2) * self._cell)
        shapely.prepare(inner)
        gx, gy = np.meshgrid(self._x, self._y)
        free = shapely.contains_xy(inner, gx.ravel(), gy.ravel()).reshape(ny, nx)
        self._sum = np.zeros((ny + 1, nx + 1), dtype=np.int64)
        self._sum[1:, 1:] = free.cumsum(axis=0).cumsum(axis=1)

    def place(
        self, box_mm: tuple[float, float], wish: tuple[float, float]
    ) -> tuple[tuple[float, float], float] | None:
        """The middle of the free place nearest to the wish, and how far off it is; None where none fits."""
        if self.empty:
            return None
        w, h = (int(np.ceil(side / self._cell - 1e-9)) for side in box_mm)
        s = self._sum
        if w < 1 or h < 1 or w >= s.shape[1] or h >= s.shape[0]:
            return None
        full = s[h:, w:] - s[:-h, w:] - s[h:, :-w] + s[:-h, :-w] == w * h
        rows, columns = np.nonzero(full)
        if not len(rows):
            return None
        c, sn = np.cos(np.radians(self._angle)), np.sin(np.radians(self._angle))
        want = (c * wish[0] + sn * wish[1], -sn * wish[0] + c * wish[1])
        x = self._x[columns] + (w - 1) / 2 * self._cell
        y = self._y[rows] + (h - 1) / 2 * self._cell
        off = np.hypot(x - want[0], y - want[1])
        best = int(np.argmin(off))
        px, py = float(x[best]), float(y[best])
        return (c * px - sn * py, sn * px + c * py), float(off[best])


def upright(angle_deg: float) -> float:
    """The same direction, read from below or from the right: from -60 (not included) to 120. [deg].

    Words that run steeply are read from the right, as on any drawing; those that fall gently keep their fall.
    """
    turned = (angle_deg + 60.0) % 180.0 - 60.0
    return 120.0 if turned <= -60.0 + 1e-9 else turned


def stand(
    space: BaseGeometry,
    blocks: Sequence[Block],
    angles_deg: Sequence[float],
    wish: tuple[float, float],
) -> tuple[Block, tuple[float, float], float] | None:
    """The first block, in the order given, that fits anywhere; of its directions the one nearest the wish."""
    views = {angle: FreeSpace(space, angle) for angle in dict.fromkeys(upright(a) for a in angles_deg)}
    for block in blocks:
        found = []
        for rank, (angle, view) in enumerate(views.items()):
            place = view.place(block.box_mm, wish)
            if place is not None:
                found.append((place[1] + 30.0 * rank, rank, place[0], angle))
        if found:
            _, _, at, angle = min(found)
            return block, at, angle
    return None
