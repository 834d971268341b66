"""Propeller, motor and battery: what they give, draw and last together.

Words: a *drive line* is battery, controller, motor and propeller; its *equilibrium* is the speed at which the
motor's torque equals the propeller's; the *advance ratio* is airspeed over speed times diameter, V/(nD).
"""

from sheetlark.drive.aims import AIMS, Aim, Requirements
from sheetlark.drive.battery import CUT_OFF_V, RESERVE, REST_CUT_OFF_V, open_circuit_v
from sheetlark.drive.bench_fit import GOOD_FIT, BenchFit, BenchReading, Residual, fit_bench
from sheetlark.drive.bench_sheet import TEMPLATE as BENCH_TEMPLATE
from sheetlark.drive.bench_sheet import bench_table, read_bench
from sheetlark.drive.endurance import Duration, Phase, duration
from sheetlark.drive.family import measured_family
from sheetlark.drive.matching import Combination, Ranking, RefusalCount, assess, rank
from sheetlark.drive.motor import MAGNET_LIMIT_K, winding_temperature_k
from sheetlark.drive.nose import (
    FLAT_NOSE,
    ROUNDED_NOSE,
    STREAMLINED_NOSE,
    LargerPropeller,
    NetThrust,
    Nose,
    net_thrust,
    propeller_sizes,
    slipstream_loss_n,
)
from sheetlark.drive.operating import OperatingPoint, equilibrium
from sheetlark.drive.propeller import MeasuredPoint, Propeller, ideal_power_coefficient
from sheetlark.drive.ranking_view import ranking_chart, ranking_table
from sheetlark.drive.settling import Circuits, DriveLine, States, propeller_of, settle, throttled
from sheetlark.drive.static_figures import StaticFigures, static_figures
from sheetlark.drive.thrust_line import (
    PowerLayout,
    PowerMoments,
    ThrustAngles,
    best_thrust_angles,
    full_throttle,
    power_moments,
)

__all__ = [
    "AIMS",
    "BENCH_TEMPLATE",
    "CUT_OFF_V",
    "FLAT_NOSE",
    "GOOD_FIT",
    "MAGNET_LIMIT_K",
    "RESERVE",
    "REST_CUT_OFF_V",
    "ROUNDED_NOSE",
    "STREAMLINED_NOSE",
    "Aim",
    "BenchFit",
    "BenchReading",
    "Circuits",
    "Combination",
    "DriveLine",
    "Duration",
    "LargerPropeller",
    "MeasuredPoint",
    "NetThrust",
    "Nose",
    "OperatingPoint",
    "Phase",
    "PowerLayout",
    "PowerMoments",
    "Propeller",
    "Ranking",
    "RefusalCount",
    "Requirements",
    "Residual",
    "States",
    "StaticFigures",
    "ThrustAngles",
    "assess",
    "bench_table",
    "best_thrust_angles",
    "duration",
    "equilibrium",
    "fit_bench",
    "full_throttle",
    "ideal_power_coefficient",
    "measured_family",
    "net_thrust",
    "open_circuit_v",
    "power_moments",
    "propeller_of",
    "propeller_sizes",
    "rank",
    "ranking_chart",
    "ranking_table",
    "read_bench",
    "settle",
    "slipstream_loss_n",
    "static_figures",
    "throttled",
    "winding_temperature_k",
]
