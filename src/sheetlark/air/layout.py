"""Everything the air meets, gathered: surfaces, bodies, bits and propeller discs, and the state of flight."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from types import MappingProxyType
from typing import Literal, get_args

import numpy as np

from sheetlark.air.stated import number, one_of, triple
from sheetlark.air.surface import Floats, Reference, Surface, reference_of
from sheetlark.errors import GeometryError

Nose = Literal["flat", "blunt", "rounded", "pointed"]
BitKind = Literal["strut", "faired-strut", "wire", "wheel", "servo", "horn", "motor", "block"]
NOTHING: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """A body of sheet, by stations along x.

    x_m, width_m, height_m, middle_z_m : shape (n,), stations nose to tail: box width and height, and the
        height of the box's middle. [m]
    nose : str
        "flat", "blunt" (a round cowl), "rounded" or "pointed".
    open_underside : bool
        Three sheets only, the bottom open.
    square_corners : bool
        Long edges as cut; False when rounded.
    """

    name: str
    x_m: Floats
    width_m: Floats
    height_m: Floats
    middle_z_m: Floats
    nose: Nose = "rounded"
    open_underside: bool = False
    square_corners: bool = True

    def __post_init__(self) -> None:
        for name in ("x_m", "width_m", "height_m", "middle_z_m"):
            own = np.array(getattr(self, name), dtype=np.float64)
            own.setflags(write=False)
            object.__setattr__(self, name, own)
        n = self.x_m.size
        shapes = {getattr(self, k).shape for k in ("x_m", "width_m", "height_m", "middle_z_m")}
        if n < 2 or shapes != {(n,)}:
            raise GeometryError(
                f"body {self.name!r}: need at least two stations of equal count, got {shapes}"
            )
        for name in ("x_m", "width_m", "height_m", "middle_z_m"):
            if not np.isfinite(getattr(self, name)).all():
                raise GeometryError(
                    f"body {self.name!r}: every station must be a finite number, {name} is not"
                )
        one_of(f"nose of body {self.name!r}", self.nose, get_args(Nose))
        if (np.diff(self.x_m) <= 0.0).any():
            raise GeometryError(f"body {self.name!r}: stations must run from nose to tail without repeating")
        if (self.width_m < 0.0).any() or (self.height_m < 0.0).any():
            raise GeometryError(f"body {self.name!r}: widths and heights must not be negative")

    @property
    def length_m(self) -> float:
        return float(self.x_m[-1] - self.x_m[0])

    @property
    def frontal_area_m2(self) -> float:
        return float((self.width_m * self.height_m).max())

    @property
    def volume_m3(self) -> float:
        return float(np.trapezoid(self.width_m * self.height_m, self.x_m))

    @property
    def wetted_area_m2(self) -> float:
        around = self.width_m * (1.0 if self.open_underside else 2.0) + 2.0 * self.height_m
        return float(np.trapezoid(around, self.x_m))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bit:
    """Something small in the stream: a strut, a wire leg, a wheel, an exposed servo.

    kind : str
        A line of data/drag_areas.csv.
    at_m : tuple of float
        Where it sits (x, y, z). [m]
    area_m2 : float
        Area of one, seen from the front (length x width for struts, length x diameter for wires). [m²]
    side_area_m2 : float
        Area of one seen from the side. [m²]
    count : int
        How many; several sit symmetrically about at_m.
    """

    name: str
    kind: BitKind
    at_m: tuple[float, float, float]
    area_m2: float
    side_area_m2: float = 0.0
    count: int = 1

    def __post_init__(self) -> None:
        one_of(f"kind of bit {self.name!r}", self.kind, get_args(BitKind))
        triple(f"place of bit {self.name!r}", self.at_m)
        if not (0.0 <= self.area_m2 < math.inf and 0.0 <= self.side_area_m2 < math.inf):
            raise GeometryError(f"bit {self.name!r}: areas must not be negative, got {self.area_m2:g} m²")


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """A propeller as the air sees it.

    at_m : tuple of float
        Centre (x, y, z). [m]
    radius_m : float
    down_rad, right_rad : float
        Thrust line pointing down and to starboard. [rad]
    turns_right : bool
        Clockwise seen from behind.
    """

    at_m: tuple[float, float, float]
    radius_m: float
    down_rad: float = 0.0
    right_rad: float = 0.0
    turns_right: bool = True

    def __post_init__(self) -> None:
        number("a propeller's radius", self.radius_m, positive=True, unit="m")
        triple("place of a propeller", self.at_m)

    @property
    def area_m2(self) -> float:
        return math.pi * self.radius_m**2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """A whole aeroplane as the air meets it.

    about_m : tuple of float
        Balance point: moments are about it and the layout turns about it. [m]
    reference : Reference, optional
        Left out: all surfaces with role "wing" together.
    """

    surfaces: tuple[Surface, ...]
    bodies: tuple[Body, ...] = ()
    bits: tuple[Bit, ...] = ()
    discs: tuple[Disc, ...] = ()
    about_m: tuple[float, float, float] = (0.0, 0.0, 0.0)
    reference: Reference | None = None

    def __post_init__(self) -> None:
        if not self.surfaces:
            raise GeometryError("a layout needs at least one surface")
        triple("balance point", self.about_m)
        names = [s.name for s in self.surfaces]
        if len(set(names)) != len(names):
            raise GeometryError(f"surfaces need names of their own, got {', '.join(names)}")

    @property
    def own_reference(self) -> Reference:
        return self.reference if self.reference is not None else reference_of(self.surfaces)

    def balanced_at(self, about_m: tuple[float, float, float]) -> Layout:
        """The same layout balanced elsewhere."""
        return replace(self, about_m=about_m)

    def panelled(self, *, spanwise: int, chordwise: int) -> Layout:
        """The same layout with a coarser or finer lattice.

        The longest surface gets `spanwise` strips a half, the others as many as keep the strips' widths
        alike, eight at least: a fin on a tail needs them.
        """
        longest = max(float(s.steps_m.sum()) for s in self.surfaces)
        return replace(
            self,
            surfaces=tuple(
                _cut_into(
                    s,
                    max(min(8, spanwise), round(spanwise * float(s.steps_m.sum()) / longest)),
                    chordwise,
                )
                for s in self.surfaces
            ),
        )


@lru_cache(maxsize=64)
def _cut_into(surface: Surface, spanwise: int, chordwise: int) -> Surface:
    """The surface with so many panels; the same one for the same surface, so that its lattice still holds."""
    return replace(surface, spanwise=spanwise, chordwise=chordwise)


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """A state of flight.

    speed_ms, density_kg_m3, viscosity_m2_s : float
        Airspeed, density, kinematic viscosity.
    alpha_rad, beta_rad : float
        Angle of attack of the x axis, and sideslip (wind from starboard positive). [rad]
    rates_rad_s : tuple of float
        Roll, pitch, yaw in flight axes. [rad/s]
    thrust_n, torque_nm : float
        Of each propeller.
    deflections_rad : mapping
        By control. [rad]
    """

    speed_ms: float = 10.0
    density_kg_m3: float = 1.225
    viscosity_m2_s: float = 1.4607e-5
    alpha_rad: float = 0.0
    beta_rad: float = 0.0
    rates_rad_s: tuple[float, float, float] = (0.0, 0.0, 0.0)
    thrust_n: float = 0.0
    torque_nm: float = 0.0
    deflections_rad: Mapping[str, float] = field(default_factory=lambda: NOTHING)

    def __post_init__(self) -> None:
        for name in ("speed_ms", "density_kg_m3", "viscosity_m2_s"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise GeometryError(f"{name} must be positive and finite, got {value:g}")
        if not (math.isfinite(self.thrust_n) and self.thrust_n >= 0.0):
            raise GeometryError(f"thrust must not be negative, got {self.thrust_n:g} N")
        for name in ("alpha_rad", "beta_rad", "torque_nm"):
            if not math.isfinite(getattr(self, name)):
                raise GeometryError(f"{name} must be finite, got {getattr(self, name):g}")
