"""Design -> everything computed from it."""

from sheetlark.evaluation.air_stage import AirFigures, layout_of
from sheetlark.evaluation.controls_stage import PUSH_ROD_M, ControlFigures, ControlsFigures
from sheetlark.evaluation.drive_stage import FULL_SHARE, DriveFigures
from sheetlark.evaluation.flight_stage import FlightFigures, MotionFigures
from sheetlark.evaluation.maiden import maiden
from sheetlark.evaluation.matching import (
    NOTHING_NEAR,
    AimName,
    Clearance,
    match_design,
    mixed_duration,
    propeller_clearance,
    requirements,
)
from sheetlark.evaluation.serving_spars import ServingRod
from sheetlark.evaluation.spread_stage import FIGURES, SpreadFigures, Spreading
from sheetlark.evaluation.strength_stage import (
    SOFT,
    StrengthFigures,
    StrutLoad,
    WingAlong,
    WingFigures,
)
from sheetlark.evaluation.thrust_stage import ThrustFigures
from sheetlark.evaluation.whole import Evaluation, evaluate, evaluate_first

__all__ = [
    "FIGURES",
    "FULL_SHARE",
    "NOTHING_NEAR",
    "PUSH_ROD_M",
    "SOFT",
    "AimName",
    "AirFigures",
    "Clearance",
    "ControlFigures",
    "ControlsFigures",
    "DriveFigures",
    "Evaluation",
    "FlightFigures",
    "MotionFigures",
    "ServingRod",
    "SpreadFigures",
    "Spreading",
    "StrengthFigures",
    "StrutLoad",
    "ThrustFigures",
    "WingAlong",
    "WingFigures",
    "evaluate",
    "evaluate_first",
    "layout_of",
    "maiden",
    "match_design",
    "mixed_duration",
    "propeller_clearance",
    "requirements",
]
