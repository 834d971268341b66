"""Propeller, motor and battery: what they give, draw and last together."""

from sheetlark.drive.equilibrium import DriveLine, OperatingPoint, equilibrium, propeller_of
from sheetlark.drive.propeller import MeasuredPoint, Propeller

__all__ = ["DriveLine", "MeasuredPoint", "OperatingPoint", "Propeller", "equilibrium", "propeller_of"]
