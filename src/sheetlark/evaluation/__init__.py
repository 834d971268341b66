"""Design -> everything computed from it."""

from sheetlark.evaluation.air_stage import AirFigures, layout_of
from sheetlark.evaluation.drive_stage import DriveFigures, drive_line
from sheetlark.evaluation.flight_stage import FlightFigures
from sheetlark.evaluation.matching import AimName, Clearance, match_design, propeller_clearance, requirements
from sheetlark.evaluation.whole import Evaluation, evaluate

__all__ = [
    "AimName",
    "AirFigures",
    "Clearance",
    "DriveFigures",
    "Evaluation",
    "FlightFigures",
    "drive_line",
    "evaluate",
    "layout_of",
    "match_design",
    "propeller_clearance",
    "requirements",
]
