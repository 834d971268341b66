"""Curves: SVG path data, sampling, planforms and their measures."""

from sheetlark.outline.measure import MeanChord, chord_stations, mean_chord, polygon, signed_area
from sheetlark.outline.path import (
    CHORD_ERROR_MM,
    Cubic,
    Floats,
    Line,
    Path,
    Point,
    Segment,
    polyline,
    read_path,
    read_paths,
)
from sheetlark.outline.planform import half_planform

__all__ = [
    "CHORD_ERROR_MM",
    "Cubic",
    "Floats",
    "Line",
    "MeanChord",
    "Path",
    "Point",
    "Segment",
    "chord_stations",
    "half_planform",
    "mean_chord",
    "polygon",
    "polyline",
    "read_path",
    "read_paths",
    "signed_area",
]
