"""Dimension lines on a board: stacked so that none crosses another's figure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sheetlark.handbook.board import TALL, XY, Board
from sheetlark.sheets import Layer, width_mm

SIZE_MM = 2.9
PITCH_MM = 6.0
_TICK_MM = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A length to state: its two ends on the sheet, and the words with its figure. [mm]."""

    start: XY
    end: XY
    text: str


def level_dimensions(board: Board, spans: Sequence[Span], y: float, *, up: bool) -> float:
    """Level dimensions stacked from a height on, shorter ones nearer; returns where the last one lies. [mm]."""
    rows: list[list[tuple[float, float]]] = []
    places: list[tuple[Span, float]] = []
    for span in sorted(spans, key=lambda s: (abs(s.end[0] - s.start[0]), s.start[0], s.text)):
        x0, x1 = sorted((span.start[0], span.end[0]))
        spare = max(0.0, width_mm(span.text, SIZE_MM) + 2.0 - (x1 - x0))
        reach = (x0 - 1.0, x1 + 1.0 + spare)
        row = next(
            (n for n, taken in enumerate(rows) if all(reach[1] < a or reach[0] > b for a, b in taken)),
            len(rows),
        )
        # What lies across a shorter one's feet has to lie farther out.
        if row == len(rows):
            rows.append([])
        rows[row].append(reach)
        places.append((span, y + (row if up else -row) * PITCH_MM))
    for span, at in places:
        for x, foot in (span.start, span.end):
            gap, over = (0.8, 1.2) if up else (-0.8, -1.2)
            if abs(at - foot) > 1.0:
                board.line(Layer.DIMENSION, [(x, foot + gap), (x, at + over)], clear_mm=0.1)
            board.line(
                Layer.DIMENSION, [(x - _TICK_MM, at - _TICK_MM), (x + _TICK_MM, at + _TICK_MM)], clear_mm=0.1
            )
        board.line(Layer.DIMENSION, [(span.start[0], at), (span.end[0], at)], clear_mm=0.1)
    for span, at in places:
        _figure(board, span, at)
    return y + (len(rows) - 1 if up else 1 - len(rows)) * PITCH_MM


def _figure(board: Board, span: Span, at: float) -> None:
    x0, x1 = sorted((span.start[0], span.end[0]))
    long = width_mm(span.text, SIZE_MM)
    middle = 0.5 * (x0 + x1)
    y = at + 0.68 * SIZE_MM
    spare = x1 - x0 - long - 1.0
    tries: list[float] = []
    if spare >= 0.0:
        tries = sorted(
            (middle + d for d in np.linspace(-spare / 2, spare / 2, 41)), key=lambda x: abs(x - middle)
        )
    beside = [
        x for d in np.arange(0.0, 24.0, 0.8) for x in (x1 + 1.4 + long / 2 + d, x0 - 1.4 - long / 2 - d)
    ]
    tries += beside
    place = next((x for x in tries if board.free((x, y), (long + 0.6, TALL * SIZE_MM - 0.4))), None)
    if place is None:  # crowded: wherever there is room, with a leader
        about = (middle - 80.0, at - 60.0, middle + 80.0, at + 60.0)
        board.label(span.text, (middle, y), SIZE_MM, about, layer=Layer.DIMENSION, points_to=(middle, at))
        return
    board.write(span.text, (float(place), y), SIZE_MM, layer=Layer.DIMENSION)
    if place > x1:
        board.line(Layer.DIMENSION, [(x1, at), (place + long / 2, at)], clear_mm=0.1)
    elif place < x0:
        board.line(Layer.DIMENSION, [(place - long / 2, at), (x0, at)], clear_mm=0.1)


def upright_dimension(board: Board, span: Span, x: float) -> None:
    """An upright dimension at a place across the sheet, read from the right."""
    toward = 1.0 if x > max(span.start[0], span.end[0]) else -1.0
    low, high = sorted((span.start[1], span.end[1]))
    for foot, y in (span.start, span.end):
        if abs(x - foot) > 1.0:
            board.line(Layer.DIMENSION, [(foot + 0.8 * toward, y), (x + 1.2 * toward, y)], clear_mm=0.1)
        board.line(
            Layer.DIMENSION, [(x - _TICK_MM, y - _TICK_MM), (x + _TICK_MM, y + _TICK_MM)], clear_mm=0.1
        )
    board.line(Layer.DIMENSION, [(x, low), (x, high)], clear_mm=0.1)
    long = width_mm(span.text, SIZE_MM)
    middle, spare = 0.5 * (low + high), high - low - long - 1.0
    beside = x - 0.68 * SIZE_MM
    # Where it does not fit between, above.
    tries = [high + 1.6 + long / 2 + d for d in np.arange(0.0, 10.0, 1.0)]
    if spare > 0.0:
        tries = sorted(
            (middle + d for d in np.linspace(-spare / 2, spare / 2, 41)), key=lambda v: abs(v - middle)
        )
    place = next((v for v in tries if board.free((beside, v), (TALL * SIZE_MM - 0.4, long + 0.6))), tries[0])
    board.write(span.text, (beside, float(place)), SIZE_MM, layer=Layer.DIMENSION, angle_deg=90.0)
