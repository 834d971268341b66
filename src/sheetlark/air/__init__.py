"""Air: lift, drag, moments and derivatives of any layout of flat-sheet surfaces.

`solve` is the lattice alone; `analyse` is everything at one condition; `AirModel` is the quick function a simulation
calls.
"""

from __future__ import annotations

from sheetlark.air.body import DragLine, apparent_mass_factor, front_coefficient
from sheetlark.air.curves import FirstStall, LiftCurve, Polar, lift_curve, polar
from sheetlark.air.derivatives import (
    Coefficients,
    ControlDerivatives,
    Derivatives,
    Downwash,
    coefficients_at,
    derivatives_at,
)
from sheetlark.air.hinges import HingeMoment
from sheetlark.air.layout import Bit, Body, Condition, Disc, Layout
from sheetlark.air.model import AirModel
from sheetlark.air.potential import Loads, control_drives, solve
from sheetlark.air.results import (
    AirResults,
    SpanLoading,
    SurfaceShare,
    analyse,
    derivatives,
    downwash,
    hinge_moments,
    neutral_point,
)
from sheetlark.air.sections import Section, SectionBehaviour, behaviour
from sheetlark.air.strips import StripState
from sheetlark.air.surface import Control, Reference, Surface, reference_of

__all__ = [
    "AirModel",
    "AirResults",
    "Bit",
    "Body",
    "Coefficients",
    "Condition",
    "Control",
    "ControlDerivatives",
    "Derivatives",
    "Disc",
    "Downwash",
    "DragLine",
    "FirstStall",
    "HingeMoment",
    "Layout",
    "LiftCurve",
    "Loads",
    "Polar",
    "Reference",
    "Section",
    "SectionBehaviour",
    "SpanLoading",
    "StripState",
    "Surface",
    "SurfaceShare",
    "analyse",
    "apparent_mass_factor",
    "behaviour",
    "coefficients_at",
    "control_drives",
    "derivatives",
    "derivatives_at",
    "downwash",
    "front_coefficient",
    "hinge_moments",
    "lift_curve",
    "neutral_point",
    "polar",
    "reference_of",
    "solve",
]
