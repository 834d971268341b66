"""What the designer states: frozen models of every table in the design file.

Lengths are metres and angles radians once read; places are on the geometry axes, x aft from the nose datum,
y to starboard, z up. Outlines keep their SVG path data, in millimetres.
"""

from __future__ import annotations

import itertools
import math
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, PrivateAttr, field_validator, model_validator

from sheetlark.design.quantities import (
    Altitude,
    Angle,
    Arm,
    Extent,
    Fraction,
    HingeChord,
    Mass,
    Place,
    Size,
    Span,
    Speed,
    Temperature,
    Throw,
    Tilt,
    Travel,
    written,
)
from sheetlark.design.source import Source
from sheetlark.errors import DesignError, GeometryError
from sheetlark.outline import Path, half_planform, read_path

MOST_PLANKS = 16  # a deck in more strips is no longer sheet work
Paper = Literal["both", "one", "none"]
Key = Annotated[str, Field(min_length=1, max_length=60)]
Title = Annotated[str, Field(min_length=1, max_length=60)]
Point3 = tuple[Place, Place, Place]
Point2 = tuple[Place, Place]


class Table(BaseModel):
    """A table of the design file: unknown keys are refused, values do not change."""

    # Defaults are written as a user writes them and read the same way, so that the schema shows them so.
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, validate_default=True)


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


class Planform(Table):
    """A planform in its short form, or as half an outline in path data."""

    span: Span | None = None
    root_chord: Size | None = None
    tip_chord: Extent | None = None
    sweep: Angle = Field(0.0, description="sweep of the leading edge")
    tip_roundness: Fraction = 0.0
    outline: str | None = Field(
        None, description="half the planform as SVG path data in mm, from centre line to centre line"
    )
    sheet: Key | None = None
    paper: Paper | None = None

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        given = [n for n in ("span", "root_chord", "tip_chord") if getattr(self, n) is not None]
        if self.outline is not None and given:
            raise ValueError(
                f"give either an outline or a short form, not both ({', '.join(given)} is there)"
            )
        if self.outline is None and ("span" not in given or "root_chord" not in given):
            raise ValueError("needs span and root_chord (and tip_chord where it tapers), or an outline")
        if abs(self.sweep) > math.radians(75):
            raise ValueError(f"sweep must be between -75 and 75 deg, read {math.degrees(self.sweep):g} deg")
        return self

    @field_validator("outline")
    @classmethod
    def _readable(cls, data: str | None) -> str | None:
        if data is not None:
            read_path(data)
        return data

    def half(self) -> Path:
        """The half outline in mm, leading edge at the centre line first."""
        if self.outline is not None:
            return read_path(self.outline)
        if self.span is None or self.root_chord is None:
            raise GeometryError("a planform needs span and root_chord, or an outline")
        return half_planform(
            half_span_mm=0.5e3 * self.span,
            root_chord_mm=1e3 * self.root_chord,
            tip_chord_mm=1e3 * (self.root_chord if self.tip_chord is None else self.tip_chord),
            sweep_rad=self.sweep,
            tip_roundness=self.tip_roundness,
        )


class ControlSurface(Table):
    """A hinged surface: its share of the chord, where it begins and ends along the half span."""

    chord: HingeChord = 0.25
    start: Fraction = 0.0
    end: Fraction = 1.0
    up: Throw = written("20 deg")
    down: Throw = written("20 deg")

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.end - self.start < 0.05:
            raise ValueError(f"end must lie at least 0.05 beyond start, read {self.start:g} to {self.end:g}")
        return self


class Aileron(ControlSurface):
    """An aileron; with role elevon it works as elevator too, with role flaperon as flap too."""

    role: Literal["aileron", "elevon", "flaperon"] = "aileron"
    start: Fraction = 0.4
    end: Fraction = 0.95


class Rudder(ControlSurface):
    """A rudder; up and down stand for the throws to the left and to the right."""

    chord: HingeChord = 0.4
    up: Throw = written("25 deg")
    down: Throw = written("25 deg")


class Elevator(ControlSurface):
    """An elevator."""

    chord: HingeChord = 0.35


class Spar(Table):
    """A rod or strip let into a wing."""

    rod: Key
    at: Fraction = Field(0.3, description="share of the chord behind the leading edge")
    span: Span


class Wing(Planform):
    """[[wing]]: one wing, both halves."""

    name: Title = "wing"
    at: Point2 = Field(description="x and z of the leading edge on the centre line")
    incidence: Tilt = 0.0
    dihedral: Angle = 0.0
    section: Literal["flat", "arc", "folded", "hollow", "stepped"] = Field(
        "flat",
        description="flat: one sheet; arc: bent over ribs; folded: creased once, the rear turned down; "
        "hollow: a second skin folded over a spar; stepped: a second layer in front",
    )
    camber: Fraction = written(
        "5 %", description="height of the section as a share of the chord: of arc, fold, or the hollow's spar"
    )
    crest: Fraction = written(
        "40 %",
        description="where along the chord the fold, the spar or the step lies; an arc's is its middle",
    )
    edge: Literal["square", "rounded", "bevelled"] = "rounded"
    held: Literal["glued", "bands", "bolts"] = "glued"
    spar: tuple[Spar, ...] = ()
    aileron: Aileron | None = None


class Tailplane(Planform):
    """[tailplane]: behind the wing, or ahead of it as a foreplane; with much dihedral, a V-tail."""

    at: Point2
    incidence: Tilt = 0.0
    dihedral: Angle = 0.0
    edge: Literal["square", "rounded", "bevelled"] = "rounded"
    elevator: Elevator | None = None
    spar: tuple[Spar, ...] = ()


class Fin(Table):
    """[[fin]]: an upright surface on the centre line, or a pair with `y`."""

    name: Title = "fin"
    at: Point2 = Field(description="x and z of the foot of the leading edge")
    y: Extent = Field(0.0, description="0 on the centre line; otherwise a pair at this distance")
    height: Size | None = None
    root_chord: Size | None = None
    tip_chord: Extent | None = None
    sweep: Angle = 0.0
    tip_roundness: Fraction = 0.0
    outline: str | None = Field(
        None,
        description="SVG path data in mm: x aft and z up from the foot of the leading edge, foot to foot",
    )
    edge: Literal["square", "rounded", "bevelled"] = "rounded"
    rudder: Rudder | None = None
    sheet: Key | None = None
    paper: Paper | None = None

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        if self.outline is None and (self.height is None or self.root_chord is None):
            raise ValueError("needs height and root_chord (and tip_chord where it tapers), or an outline")
        if self.outline is not None:
            if self.height is not None or self.root_chord is not None:
                raise ValueError("give either an outline or height and chords, not both")
            read_path(self.outline)
        if abs(self.sweep) > math.radians(75):
            raise ValueError(f"sweep must be between -75 and 75 deg, read {math.degrees(self.sweep):g} deg")
        return self

    def half(self) -> Path:
        """The outline in mm, (x, height above the foot), foot of the leading edge first."""
        if self.outline is not None:
            return read_path(self.outline)
        if self.height is None or self.root_chord is None:
            raise GeometryError("a fin needs height and root_chord, or an outline")
        return half_planform(
            half_span_mm=1e3 * self.height,
            root_chord_mm=1e3 * self.root_chord,
            tip_chord_mm=1e3 * (self.root_chord if self.tip_chord is None else self.tip_chord),
            sweep_rad=self.sweep,
            tip_roundness=self.tip_roundness,
        )


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


class Drive(Table):
    """[drive]: motor, propeller, battery and speed controller."""

    motor: Key
    propeller: Key
    pack: Key
    controller: Key
    motor_at: Point3 = Field(
        description="centre of the motor's mounting face; with twin, of the starboard one"
    )
    twin: bool = False
    pusher: bool = False
    down: Tilt = 0.0
    right: Tilt = 0.0
    pack_at: Point3 = Field(description="centre of the battery")
    pack_travel: Travel = Field(0.0, description="how far the battery can move forward and aft of its place")
    controller_at: Point3

    @model_validator(mode="after")
    def _apart(self) -> Self:
        if self.twin and self.motor_at[1] <= 0:
            raise ValueError(
                "with twin = true, motor_at is the starboard motor's place: its y must be above 0"
            )
        return self


class Servo(Table):
    """[[radio.servo]]: a servo and its linkage."""

    stock: Key
    moves: Literal["elevator", "rudder", "aileron", "elevon", "flaperon"]
    at: Point3
    pair: bool = Field(False, description="a second one mirrored to port")
    arm: Arm = written("10 mm", description="hole used on the servo arm, from its axis")
    horn: Arm = written("12 mm", description="hole used on the horn, from the hinge line")
    push_rod: Key = "push-rod-wire-1"
    push_rod_length: Extent = 0.0


class Radio(Table):
    """[radio]: receiver and servos."""

    receiver: Key = "receiver-6ch"
    receiver_at: Point3
    servo: tuple[Servo, ...] = ()


class Ballast(Table):
    """[[ballast]]: a weight put somewhere on purpose."""

    name: Title = "ballast"
    mass: Mass
    at: Point3


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
