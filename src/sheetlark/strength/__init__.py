"""Loads, sections, spars, frames and hold-downs; and a caution about soft wings."""

from sheetlark.strength.beam import Bending, HalfWing, bend, bend_along, elliptic_load
from sheetlark.strength.flutter import TwistCaution, divergence_speed, flutter_speed, twist_caution
from sheetlark.strength.frame import ALL_FIXED, FrameResult, Joint, Member, solve_frame
from sheetlark.strength.loads import (
    JointLoads,
    LimitLoad,
    RubberBands,
    band_pull,
    bands_needed,
    gust_increment,
    joint_loads,
    limit_load,
)
from sheetlark.strength.section import (
    Cell,
    Material,
    Piece,
    Section,
    Stress,
    paper_tube_efficiency,
    rectangle,
    rod,
    sheet_core_section,
    strip,
    wrinkling_stress,
)
from sheetlark.strength.spars import RodChoice, RodSize, buckling_load, lightest_rod, rod_share
from sheetlark.strength.wing import HalfWingDesign, WingStrength, wing_strength

__all__ = [
    "ALL_FIXED",
    "Bending",
    "Cell",
    "FrameResult",
    "HalfWing",
    "HalfWingDesign",
    "Joint",
    "JointLoads",
    "LimitLoad",
    "Material",
    "Member",
    "Piece",
    "RodChoice",
    "RodSize",
    "RubberBands",
    "Section",
    "Stress",
    "TwistCaution",
    "WingStrength",
    "band_pull",
    "bands_needed",
    "bend",
    "bend_along",
    "buckling_load",
    "divergence_speed",
    "elliptic_load",
    "flutter_speed",
    "gust_increment",
    "joint_loads",
    "lightest_rod",
    "limit_load",
    "paper_tube_efficiency",
    "rectangle",
    "rod",
    "rod_share",
    "sheet_core_section",
    "solve_frame",
    "strip",
    "twist_caution",
    "wing_strength",
    "wrinkling_stress",
]
