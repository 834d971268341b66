"""Mass, balance point and inertia, each with its spread."""

from sheetlark.weights.balance import Line, Weights
from sheetlark.weights.lines import weigh
from sheetlark.weights.masses import Element, box, plate, rod, together

__all__ = ["Element", "Line", "Weights", "box", "plate", "rod", "together", "weigh"]
