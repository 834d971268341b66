"""From a three-view picture to outlines at model size, and on to a starting design."""

from sheetlark.trace.model import (
    Axes,
    Corrections,
    DrawnOutline,
    Note,
    Outline,
    Proportions,
    Proposal,
    Tracing,
    View,
    ViewBox,
)
from sheetlark.trace.notes import noted
from sheetlark.trace.starting.design_from import StartingDesign, design_from
from sheetlark.trace.starting.simplifying import SIMPLIFICATIONS
from sheetlark.trace.starting.sizing import FIRST_SPAN_M, SizedDesign, design_of_mass, scaled
from sheetlark.trace.tracing import OpenPicture, open_picture, trace_picture, trace_with

__all__ = [
    "FIRST_SPAN_M",
    "SIMPLIFICATIONS",
    "Axes",
    "Corrections",
    "DrawnOutline",
    "Note",
    "OpenPicture",
    "Outline",
    "Proportions",
    "Proposal",
    "SizedDesign",
    "StartingDesign",
    "Tracing",
    "View",
    "ViewBox",
    "design_from",
    "design_of_mass",
    "noted",
    "open_picture",
    "scaled",
    "trace_picture",
    "trace_with",
]
