"""Weighings and flights as they happened, and what they teach.

Words: a *symptom* is what a flier sees; a *cause* is what is off on the model; a *signature* is how a cause shows in the
flight model's measures; a *belief* is what all weighings so far say of a material.
"""

from sheetlark.logbook.advice import correction, log_text, name_of, record_text, told, weight_story
from sheetlark.logbook.asbuilt import AsBuilt, Rebalance, as_built, rebalance
from sheetlark.logbook.diagnosis import CorrectionCheck, Ranked, check_corrections, diagnose
from sheetlark.logbook.entries import (
    EVERYTHING,
    CorrectionEntry,
    FlightEntry,
    Log,
    MotorReading,
    Sighting,
    Weighing,
)
from sheetlark.logbook.files import (
    add_correction,
    add_flight,
    add_motor_reading,
    add_weighing,
    load_log,
    log_path,
    read_log,
    read_sighting,
)
from sheetlark.logbook.learning import Belief, Datum, Learned, data_of, learned, normal_after
from sheetlark.logbook.memory import (
    Compared,
    RunningError,
    keep_record,
    learn,
    learn_motor,
    predicted_and_actual,
    read_record,
    running_errors,
    stock_for,
)
from sheetlark.logbook.report import diagnosis, expected_of, report
from sheetlark.logbook.signature import Launch, Signatures, signatures, signatures_of
from sheetlark.logbook.symptoms import CAUSE_UNITS, SYMPTOMS
from sheetlark.logbook.track_figures import Expected, Held, TrackFigures, against, figures
from sheetlark.logbook.tracks import Track, parse_track, read_track

__all__ = [
    "CAUSE_UNITS",
    "EVERYTHING",
    "SYMPTOMS",
    "AsBuilt",
    "Belief",
    "Compared",
    "CorrectionCheck",
    "CorrectionEntry",
    "Datum",
    "Expected",
    "FlightEntry",
    "Held",
    "Launch",
    "Learned",
    "Log",
    "MotorReading",
    "Ranked",
    "Rebalance",
    "RunningError",
    "Sighting",
    "Signatures",
    "Track",
    "TrackFigures",
    "Weighing",
    "add_correction",
    "add_flight",
    "add_motor_reading",
    "add_weighing",
    "against",
    "as_built",
    "check_corrections",
    "correction",
    "data_of",
    "diagnose",
    "diagnosis",
    "expected_of",
    "figures",
    "keep_record",
    "learn",
    "learn_motor",
    "learned",
    "load_log",
    "log_path",
    "log_text",
    "name_of",
    "normal_after",
    "parse_track",
    "predicted_and_actual",
    "read_log",
    "read_record",
    "read_sighting",
    "read_track",
    "rebalance",
    "record_text",
    "report",
    "running_errors",
    "signatures",
    "signatures_of",
    "stock_for",
    "told",
    "weight_story",
]
