"""What every page of the handbook is set with: wrapped words, tables, pictures, a foot. Millimetres, y upwards."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from sheetlark.handbook.gauges import Gauge
from sheetlark.handbook.scene import Picture, Weight
from sheetlark.sheets.drawing import ACCENT, INK, SOFT, Style
from sheetlark.sheets.lettering import printable, width_mm
from sheetlark.sheets.papers import PaperSize
from sheetlark.sheets.pdf_pen import Pen

Floats = npt.NDArray[np.float64]
Colour = tuple[float, float, float]

TAPE: Colour = (0.10, 0.30, 0.60)
TINT: Colour = (0.945, 0.94, 0.92)
WARN: Colour = (0.99, 0.93, 0.88)
PITCH = 1.32

STROKES: dict[Weight, Style] = {
    "there": Style(width_mm=0.16, colour=SOFT),
    "new": Style(width_mm=0.32, colour=INK),
    "glue": Style(width_mm=0.55, dashes=(0.9, 0.9), colour=ACCENT),
    "tape": Style(width_mm=0.65, dashes=(2.4, 0.9), colour=TAPE),
    "move": Style(width_mm=0.15, dashes=(1.2, 0.9), colour=SOFT),
    "leader": Style(width_mm=0.13, colour=INK),
}
_RING_MM = 2.25


def wrapped(text: str, size_mm: float, wide_mm: float, *, bold: bool = False) -> list[str]:
    """A paragraph as lines no longer than a width; a word longer than that is set alone."""
    lines: list[str] = []
    line = ""
    for word in printable(text).split():
        trial = f"{line} {word}" if line else word
        if line and width_mm(trial, size_mm, bold=bold) > wide_mm:
            lines.append(line)
            line = word
        else:
            line = trial
    return [*lines, line] if line else lines


class Leaf:
    """One document being set, page by page."""

    def __init__(self, title: str, paper: PaperSize, *, subject: str) -> None:
        self.pen = Pen(printable(title))
        self.pen.canvas.setSubject(subject)
        self.title = title
        self.paper = paper
        self.page = 0
        self.margin = 13.0
        self.y = 0.0

    @property
    def wide(self) -> float:
        """Width between the margins. [mm]."""
        return self.paper.width_mm - 2 * self.margin

    @property
    def top(self) -> float:
        return self.paper.height_mm - self.margin

    def begin(self, heading: str = "") -> None:
        """A new page, its heading and foot set."""
        if self.page:
            self.pen.end_page()
        self.page += 1
        self.pen.begin_page(self.paper.width_mm, self.paper.height_mm)
        foot = f"{printable(self.title)}, page {self.page}"
        self.pen.write(foot, self.margin, 6.5, 2.6, colour=SOFT)
        self.y = self.top
        if heading:
            self.y -= 6.0
            self.pen.write(heading, self.margin, self.y, 6.4, bold=True)
            self.y -= 2.4
            self.pen.stroke(
                [(self.margin, self.y), (self.margin + self.wide, self.y)],
                Style(width_mm=0.35, colour=ACCENT),
            )
            self.y -= 3.0

    def words(
        self,
        text: str,
        *,
        x: float | None = None,
        wide: float | None = None,
        size: float = 3.3,
        bold: bool = False,
        colour: Colour = INK,
        after: float = 1.2,
    ) -> float:
        """A paragraph at the cursor, which moves below it; returns its height."""
        left = self.margin if x is None else x
        across = self.wide if wide is None else wide
        start = self.y
        for line in wrapped(text, size, across, bold=bold):
            self.y -= size * PITCH
            self.pen.write(line, left, self.y + 0.32 * size, size, bold=bold, colour=colour)
        self.y -= after
        return start - self.y

    def height_of(self, text: str, *, wide: float, size: float = 3.3, after: float = 1.2) -> float:
        """How tall a paragraph would be. [mm]."""
        return len(wrapped(text, size, wide)) * size * PITCH + after

    def heading(self, text: str, *, x: float | None = None, size: float = 4.2) -> None:
        """A small heading at the cursor."""
        self.y -= 1.5
        self.words(text, x=x, size=size, bold=True, after=0.8)

    def table(
        self, rows: Sequence[Sequence[str]], widths: Sequence[float], *, head: bool = True, size: float = 3.0
    ) -> None:
        """A table at the cursor, cells wrapped; goes on over pages."""
        for number, row in enumerate(rows):
            bold = head and number == 0
            cells = [
                wrapped(cell, size, width - 2.0, bold=bold) or [""]
                for cell, width in zip(row, widths, strict=True)
            ]
            tall = max(len(cell) for cell in cells) * size * PITCH + 1.2
            if self.y - tall < self.margin + 3.0:
                self.begin()
            if number % 2 == 1 or bold:
                self.pen.fill_box(self.margin, self.y - tall, sum(widths), tall, TINT)
            x = self.margin
            for cell, width in zip(cells, widths, strict=True):
                y = self.y - 0.5
                for line in cell:
                    y -= size * PITCH
                    self.pen.write(line, x + 1.0, y + 0.32 * size, size, bold=bold)
                x += width
            self.y -= tall

    def picture(self, picture: Picture, box: tuple[float, float, float, float]) -> None:
        """A line picture fitted into a box (x, y, width, height), lower left corner first."""
        x, y, wide, tall = box
        x0, y0, x1, y1 = picture.box
        scale = min((wide - 8) / max(x1 - x0, 1.0), (tall - 8) / max(y1 - y0, 1.0), 1.0)
        left = x + (wide - scale * (x1 - x0)) / 2
        low = y + (tall - scale * (y1 - y0)) / 2

        def at(points: Floats) -> Floats:
            return np.asarray((points - [x0, y0]) * scale + [left, low])

        for stroke in picture.strokes:
            run = at(stroke.points)
            self.pen.stroke(run, STROKES[stroke.weight])
            if stroke.weight == "move":
                self._arrow(run[0], run[-1])
        spots = [at(np.array([label.points_to]))[0] for label in picture.labels]
        places = spread(beside(spots, [scale * label.room_mm for label in picture.labels]))
        for label, spot, place in zip(picture.labels, spots, places, strict=True):
            if math.dist(spot, place) > 0.6:
                self.pen.stroke([tuple(spot), tuple(place)], STROKES["leader"])
            self._ring(label.text, place)

    def _ring(self, text: str, at: Floats) -> None:
        c = self.pen.canvas
        c.setDash([])
        c.setLineWidth(0.18)
        c.setStrokeColorRGB(*INK)
        c.setFillColorRGB(1, 1, 1)
        c.circle(float(at[0]), float(at[1]), _RING_MM, stroke=1, fill=1)
        self.pen.write(text, float(at[0]), float(at[1]) - 0.95, 2.6, bold=True, middle=True, most_mm=3.6)

    def _arrow(self, start: Floats, end: Floats) -> None:
        along = end - start
        length = float(np.hypot(*along))
        if length < 2.0:
            return
        u = along / length
        n = np.array([-u[1], u[0]])
        tip = end
        self.pen.stroke(
            [tuple(tip - 1.8 * u + 0.8 * n), tuple(tip), tuple(tip - 1.8 * u - 0.8 * n)],
            Style(width_mm=0.2, colour=SOFT),
        )

    def gauge(self, gauge: Gauge, x: float, y: float) -> None:
        """A gauge at full size, its lower left corner at (x, y)."""
        x0, y0, _, _ = gauge.box_mm
        shift = np.array([x - x0, y - y0])
        for cut in gauge.cuts:
            self.pen.stroke(cut + shift, Style(width_mm=0.3, colour=INK), closed=True)
        for line in gauge.lines:
            self.pen.stroke(line + shift, Style(width_mm=0.18, dashes=(2.0, 1.0), colour=ACCENT))
        for text, at_x, at_y, angle in gauge.words:
            self.pen.write(
                printable(text),
                at_x + float(shift[0]),
                at_y + float(shift[1]),
                2.7,
                angle_deg=angle,
                middle=True,
            )

    def bar(self, x: float, y: float, length: float = 100.0) -> None:
        """A check bar of a known length."""
        self.pen.stroke([(x, y), (x + length, y)], Style(width_mm=0.3, colour=INK))
        for k in range(round(length / 10) + 1):
            tall = 3.0 if k % 5 == 0 else 1.6
            self.pen.stroke([(x + 10 * k, y), (x + 10 * k, y + tall)], Style(width_mm=0.2, colour=INK))
        self.pen.write(f"must measure {length:.0f} mm", x + length + 2.5, y, 2.8)

    def finish(self) -> bytes:
        """The document."""
        self.pen.end_page()
        return self.pen.finish(())


def beside(spots: list[Floats], rooms_mm: list[float]) -> list[Floats]:
    """Rings that would cover a small part stand beside it instead."""
    return [
        spot if room >= 1.1 * _RING_MM else spot + np.array([-0.7, 0.7]) * (2.2 * _RING_MM + room)
        for spot, room in zip(spots, rooms_mm, strict=True)
    ]


def spread(spots: list[Floats]) -> list[Floats]:
    """Places for rings so that none covers another: those that would are pushed apart."""
    places = [np.array(spot, dtype=np.float64) for spot in spots]
    least = 2 * _RING_MM + 0.5
    for _ in range(60):
        moved = False
        for i in range(len(places)):
            for j in range(i):
                gap = places[i] - places[j]
                far = float(np.hypot(*gap))
                if far < least:
                    way = gap / far if far > 1e-6 else np.array([math.cos(i), math.sin(i)])
                    push = 0.5 * (least - far) + 0.05
                    places[i] = places[i] + push * way
                    places[j] = places[j] - push * way
                    moved = True
        if not moved:
            break
    return places
