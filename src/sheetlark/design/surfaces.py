"""Tables of what lifts and steers: wings, tailplane, fins, their control surfaces and spars."""

from __future__ import annotations

import math
from typing import Literal, Self

from pydantic import Field, field_validator, model_validator

from sheetlark.design.quantities import Angle, Extent, Fraction, HingeChord, Size, Span, Throw, Tilt, written
from sheetlark.design.table import Key, Paper, Point2, Table, Title
from sheetlark.errors import GeometryError
from sheetlark.outline import Path, half_planform, read_path


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
