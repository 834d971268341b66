"""Tables of the body and what stands on it: decks, formers, struts, undercarriage, covering."""

from __future__ import annotations

import itertools
from typing import Annotated, Literal

from pydantic import Field, field_validator

from sheetlark.design.quantities import Extent, Fraction, Place, Size, written
from sheetlark.design.table import Key, Paper, Point2, Table, Title
from sheetlark.outline import read_path

MOST_PLANKS = 16  # a deck in more strips is no longer sheet work


class Deck(Table):
    """A curved deck over the body between two stations."""

    start: Place
    end: Place
    height: Size = Field(
        description="how far its crown stands above the body's top edge: at its start where end_height is given, "
        "else at its wider end"
    )
    end_height: Extent | None = Field(
        None, description="height of its crown at its end; without, it falls with the body's width"
    )
    planks: Literal["auto"] | Annotated[int, Field(ge=1, le=MOST_PLANKS)] = Field(
        1,
        description="1: bent from one sheet; more: so many planks side by side, which follow the body's width and "
        "top edge; auto: as many as follow it within 1 mm",
    )

    @property
    def tallest(self) -> float:
        """The crown's greatest height. [m]."""
        return max(self.height, self.end_height or 0.0)


class Former(Table):
    """A former across the body."""

    at: Place
    opening: Fraction = Field(0.5, description="width of its opening as a share of the former's; 0 for none")
    sheet: Key | None = None


class Body(Table):
    """[body]: a box of flat sides, formers, and the faces that are covered."""

    profile: str = Field(description="side view as closed SVG path data in mm: x aft, z up")
    width: Annotated[tuple[tuple[Place, Extent], ...], Field(min_length=1, max_length=60)] = Field(
        description="pairs of x and full outside width"
    )
    former: Annotated[tuple[Former, ...], Field(max_length=60)] = ()
    covered: tuple[Literal["top", "bottom"], ...] = ("top", "bottom")
    nose: Literal["flat", "round"] = Field("flat", description="round: a blunt round-engined front")
    nose_length: Extent = written(
        "16 mm", description="how far a round nose stands ahead of the profile: base, ring and front piece"
    )
    fore_deck: Deck | None = None
    aft_deck: Deck | None = None
    sheet: Key | None = None
    paper: Paper | None = None

    @field_validator("profile")
    @classmethod
    def _readable(cls, data: str) -> str:
        if not read_path(data).closed:
            raise ValueError("the side profile must be a closed outline: end the path data with Z")
        return data

    @field_validator("width")
    @classmethod
    def _in_order(cls, value: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        x = [station for station, _ in value]
        if any(b <= a for a, b in itertools.pairwise(x)):
            raise ValueError("the width's stations must run from nose to tail, each x larger than the last")
        return value


class Strut(Table):
    """[[strut]]: a pair of flat struts between two wings, or between the body and a wing."""

    joins: tuple[Title, Title] = Field(description="the lower and the upper end: names of wings, or body")
    y: Extent = Field(description="distance from the centre line")
    place: Fraction = Field(0.4, description="middle of the strut as a share of the chord")
    chord: Size
    crossed: Extent = Field(
        0.0,
        description="two braces in an X between two wings, half-lapped where they cross: how far apart their feet stand; "
        "0 for one upright strut",
    )
    sheet: Key | None = None
    paper: Paper | None = None


class Gear(Table):
    """[gear]: two main wheels on wire legs."""

    wheel: Key = "wheel-40"
    wire: Key = "wire-2"
    at: Point2 = Field(description="x and z of the axle")
    track: Size
    mount_z: Place = Field(description="height at which the legs leave the body")
    skid: bool = Field(False, description="a skid under the tail")


class Covering(Table):
    """[covering]: tape or film on the outside, face by face."""

    stock: Key = "none"
    wings: Literal["none", "top", "bottom", "both"] = "none"
    tail: Literal["none", "top", "bottom", "both"] = "none"
    body: Literal["none", "outside"] = "none"
