"""What the designer states: a whole design file, and the tables that are about the model as a whole.

Every table is a frozen model. Lengths are metres and angles radians once read; places are on the geometry axes,
x aft from the nose datum, y to starboard, z up. Outlines keep their SVG path data, in millimetres.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, PrivateAttr, model_validator

from sheetlark.design.equipment import Ballast, Drive, Radio
from sheetlark.design.quantities import Altitude, Mass, Size, Speed, Temperature, written
from sheetlark.design.source import Source
from sheetlark.design.structure import Body, Covering, Gear, Strut
from sheetlark.design.surfaces import Fin, Tailplane, Wing
from sheetlark.design.table import Key, Paper, Point2, Table, Title
from sheetlark.errors import DesignError


class Model(Table):
    """[model]: what it is called and how its figures are shown."""

    name: Title
    units: Literal["metric", "imperial"] = "metric"
    target_mass: Mass | None = Field(None, description="what it should weigh, ready to fly")
    designer: Annotated[str, Field(max_length=120)] = ""
    licence: Annotated[str, Field(max_length=120)] = ""
    notes: Annotated[str, Field(max_length=4000)] = ""

    @property
    def imperial(self) -> bool:
        """Whether its builder measures in inches and ounces."""
        return self.units == "imperial"


class SheetChoice(Table):
    """[sheet]: what the parts are cut from, unless a part says otherwise."""

    stock: Key = "foam-board-5"
    paper: Paper = "both"
    firewall: Key = "ply-2"
    glue: Key = "hot-melt"
    tape: Key = "packing"
    most: Annotated[int, Field(ge=1, le=50)] | None = Field(
        None, description="how many sheets you have; the review says when more are needed"
    )


class Decal(Table):
    """[[decal]]: where a name, a number or a badge goes on the outside of the model."""

    name: Title = "decal"
    on: Title = Field(
        description="what it goes on: a wing or a fin by its name, tailplane, or body for its sides"
    )
    at: Point2 = Field(description="its middle: x and y on wings and tailplane, x and z on fins and body")
    size: tuple[Size, Size] = Field(description="its length along x, and across that")
    face: Literal["top", "bottom"] = Field("top", description="of a wing or a tailplane")
    sides: Literal["both", "starboard", "port"] = Field(
        "both", description="of the model: both halves of a wing, both sides of body or fin, or one of them"
    )


class Flying(Table):
    """[flying]: who flies it where."""

    altitude: Altitude = 0.0
    temperature: Temperature = written("15 C")
    wind: Speed = written("2 m/s")
    style: Literal["floating", "sport", "vertical", "long"] = "sport"


class Design(Table):
    """A whole design file."""

    model: Model
    sheet: SheetChoice = Field(default_factory=SheetChoice)
    wing: Annotated[tuple[Wing, ...], Field(min_length=1, max_length=8)]
    tailplane: Tailplane | None = None
    fin: Annotated[tuple[Fin, ...], Field(max_length=8)] = ()
    body: Body | None = None
    strut: Annotated[tuple[Strut, ...], Field(max_length=24)] = ()
    gear: Gear | None = None
    covering: Covering = Field(default_factory=Covering)
    drive: Drive | None = None
    radio: Radio | None = None
    ballast: Annotated[tuple[Ballast, ...], Field(max_length=24)] = ()
    decal: Annotated[tuple[Decal, ...], Field(max_length=40)] = ()
    flying: Flying = Field(default_factory=Flying)

    _source: Source = PrivateAttr(default_factory=Source)

    @model_validator(mode="after")
    def _names_differ(self) -> Self:
        for kind, items in (("wing", self.wing), ("fin", self.fin)):
            names = [item.name for item in items]
            twice = {n for n in names if names.count(n) > 1}
            if twice:
                raise ValueError(f"two of the {kind}s are named {min(twice)!r}; give each its own name")
        return self

    @property
    def source(self) -> Source:
        """Where the design was read from, for messages."""
        return self._source

    def refusal(self, where: tuple[str | int, ...], message: str) -> DesignError:
        """An error to raise about one place in the file: names the file and the line, where known."""
        return DesignError(self._source.at(where) + message)
