"""The short parametric form of a planform, turned into an outline."""

from __future__ import annotations

import math

from sheetlark.errors import GeometryError
from sheetlark.outline.path import Cubic, Line, Path, Segment

# A quarter ellipse as one cubic: handles at 4/3 (sqrt 2 - 1) of the half axes.
_QUARTER = 4.0 / 3.0 * (math.sqrt(2.0) - 1.0)


def half_planform(
    *,
    half_span_mm: float,
    root_chord_mm: float,
    tip_chord_mm: float,
    sweep_rad: float = 0.0,
    tip_roundness: float = 0.0,
    forward_corner: float = 0.5,
) -> Path:
    """A tapered half planform from centre line to centre line, its tip squared or rounded.

    Starts at the leading edge on the centre line (0, 0), runs out to the tip and back to the trailing edge.

    Parameters
    ----------
    half_span_mm, root_chord_mm, tip_chord_mm : float
        Tip chord is that of the straight-edged planform, before rounding. [mm]
    sweep_rad : float
        Sweep of the leading edge. [rad]
    tip_roundness : float
        0 leaves square corners; 1 makes each tip corner a quarter ellipse as deep as its share of the tip
        chord. [-]
    forward_corner : float
        Share of the tip chord that the front corner takes. [-]

    Raises
    ------
    GeometryError
        If a length is not positive, or the roundness lies outside 0 to 1.
    """
    if not (half_span_mm > 0 and root_chord_mm > 0 and tip_chord_mm >= 0):
        raise GeometryError(
            f"span and chords must be positive, got half span {half_span_mm:g} mm, "
            f"root chord {root_chord_mm:g} mm, tip chord {tip_chord_mm:g} mm"
        )
    if not 0.0 <= tip_roundness <= 1.0:
        raise GeometryError(f"tip roundness must be between 0 and 1, got {tip_roundness:g}")
    slope_front = math.tan(sweep_rad)
    slope_back = slope_front + (tip_chord_mm - root_chord_mm) / half_span_mm

    def front(y: float) -> float:
        return slope_front * y

    def back(y: float) -> float:
        return root_chord_mm + slope_back * y

    deep_front = min(tip_roundness * forward_corner * tip_chord_mm, 0.95 * half_span_mm)
    deep_back = min(tip_roundness * (1.0 - forward_corner) * tip_chord_mm, 0.95 * half_span_mm)
    tip_front, tip_back = front(half_span_mm), back(half_span_mm)
    segments: list[Segment] = []
    at = (0.0, 0.0)

    def line_to(point: tuple[float, float]) -> None:
        nonlocal at
        if math.dist(at, point) > 1e-9:
            segments.append(Line(at, point))
        at = point

    def curve_to(corner: tuple[float, float], end: tuple[float, float]) -> None:
        nonlocal at
        a = (at[0] + _QUARTER * (corner[0] - at[0]), at[1] + _QUARTER * (corner[1] - at[1]))
        b = (end[0] + _QUARTER * (corner[0] - end[0]), end[1] + _QUARTER * (corner[1] - end[1]))
        segments.append(Cubic(at, a, b, end))
        at = end

    y_front, y_back = half_span_mm - deep_front, half_span_mm - deep_back
    line_to((front(y_front), y_front))
    if deep_front > 0:
        curve_to(
            (tip_front, half_span_mm),
            (tip_front + tip_roundness * forward_corner * tip_chord_mm, half_span_mm),
        )
    else:
        line_to((tip_front, half_span_mm))
    line_to((tip_back - tip_roundness * (1.0 - forward_corner) * tip_chord_mm, half_span_mm))
    if deep_back > 0:
        curve_to((tip_back, half_span_mm), (back(y_back), y_back))
    line_to((root_chord_mm, 0.0))
    return Path(tuple(segments), closed=False)
