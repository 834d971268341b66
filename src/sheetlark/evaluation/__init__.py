"""Design -> everything computed from it."""

from sheetlark.evaluation.air_stage import AirFigures, layout_of
from sheetlark.evaluation.drive_stage import DriveFigures, drive_line
from sheetlark.evaluation.whole import Evaluation, evaluate

__all__ = ["AirFigures", "DriveFigures", "Evaluation", "drive_line", "evaluate", "layout_of"]
