"""What the designer states: the design file, its models, and the starters."""

from sheetlark.design.equipment import Ballast, Drive, Radio, Servo
from sheetlark.design.files import (
    STARTERS,
    edited,
    load,
    loads,
    schema,
    starter,
    varied,
    write_text,
)
from sheetlark.design.models import Decal, Design, Flying, Model, SheetChoice
from sheetlark.design.source import Source, Where, say
from sheetlark.design.structure import MOST_PLANKS, Body, Covering, Deck, Former, Gear, Strut
from sheetlark.design.surfaces import (
    Aileron,
    ControlSurface,
    Elevator,
    Fin,
    Planform,
    Rudder,
    Spar,
    Tailplane,
    Wing,
)
from sheetlark.design.table import Paper

__all__ = [
    "MOST_PLANKS",
    "STARTERS",
    "Aileron",
    "Ballast",
    "Body",
    "ControlSurface",
    "Covering",
    "Decal",
    "Deck",
    "Design",
    "Drive",
    "Elevator",
    "Fin",
    "Flying",
    "Former",
    "Gear",
    "Model",
    "Paper",
    "Planform",
    "Radio",
    "Rudder",
    "Servo",
    "SheetChoice",
    "Source",
    "Spar",
    "Strut",
    "Tailplane",
    "Where",
    "Wing",
    "edited",
    "load",
    "loads",
    "say",
    "schema",
    "starter",
    "varied",
    "write_text",
]
