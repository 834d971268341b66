"""Lifting surfaces as the air sees them: thin sheets with a leading edge, a chord, a twist and hinged parts.

Words used here: *starboard half* is the half a mirrored surface is stated by; *eta* runs 0 at its root to
1 at its tip; a *strip* is all panels behind one piece of the leading edge; *station* is a stated cut.
Axes are the geometry axes: x aft, y starboard, z up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sheetlark.air.sections import Section
from sheetlark.air.stated import count, number, one_of, triple
from sheetlark.errors import GeometryError

Floats = NDArray[np.float64]
Role = Literal["wing", "tail", "canard", "fin", "strut"]
Spacing = Literal["auto", "inset", "equal"]
RootEnd = Literal["auto", "free", "joined"]
ControlKind = Literal["aileron", "elevator", "rudder", "flap", "elevon", "flaperon"]

FLAT = Section()
# Lengths beyond these are slips of a unit, and too far apart to reckon with (own limits).
SMALLEST_M, LARGEST_M = 1e-6, 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """A hinged part along the trailing edge of a surface.

    name : str
        Its name; deflections are given by name.
    kind : str
        "aileron", "elevator", "rudder", "flap", "elevon" or "flaperon". Ailerons move in opposite sense
        on the two halves of a mirrored surface, everything else moves together; elevons and flaperons do
        both, through the two drives `name` (together) and `name:roll` (apart).
    hinge_fraction, hinge_fraction_tip : float
        Hinge line as a fraction of the local chord at the inner and at the outer end (the outer end takes
        the inner value when left out).
    from_eta, to_eta : float
        Ends of the control along the half span.
    gap_m : float
        Open gap at the hinge line; 0 for a taped or a scored hinge. [m]
    """

    name: str
    kind: ControlKind
    hinge_fraction: float
    from_eta: float = 0.0
    to_eta: float = 1.0
    hinge_fraction_tip: float | None = None
    gap_m: float = 0.0

    def __post_init__(self) -> None:
        one_of(f"kind of control {self.name!r}", self.kind, get_args(ControlKind))
        tip = self.hinge_fraction if self.hinge_fraction_tip is None else self.hinge_fraction_tip
        for value in (self.hinge_fraction, tip):
            if not 0.0 <= value <= 0.98:
                raise GeometryError(
                    f"control {self.name!r}: the hinge must lie between 0 and 0.98 of the chord, got {value:g}. "
                    "0 turns the whole surface."
                )
        if not 0.0 <= self.from_eta < self.to_eta <= 1.0:
            raise GeometryError(
                f"control {self.name!r}: it must run outwards inside the surface, 0 to 1, "
                f"got {self.from_eta:g} to {self.to_eta:g}"
            )

    def hinge_at(self, eta: Floats) -> Floats:
        """Hinge line as a fraction of the chord at eta, shape as eta."""
        tip = self.hinge_fraction if self.hinge_fraction_tip is None else self.hinge_fraction_tip
        share = np.clip((eta - self.from_eta) / (self.to_eta - self.from_eta), 0.0, 1.0)
        return np.asarray(self.hinge_fraction + (tip - self.hinge_fraction) * share, dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """What coefficients are divided by, and where the mean chord lies.

    area_m2, chord_m, span_m : float
        Planform area of all main wings, their combined mean aerodynamic chord, and the longest span.
    leading_edge_m : tuple of float
        Leading edge of that mean chord (x, y, z); y is 0.
    """

    area_m2: float
    chord_m: float
    span_m: float
    leading_edge_m: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def __post_init__(self) -> None:
        for name in ("area_m2", "chord_m", "span_m"):
            object.__setattr__(self, name, number(f"reference {name}", getattr(self, name), positive=True))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """One thin surface, or one mirrored pair of halves.

    leading_edge_m : shape (n, 3), leading edge from root to tip of the starboard half. [m]
    chord_m : shape (n,), streamwise chord. [m]
    twist_rad : shape (n,), incidence, nose up; on a fin, positive turns its nose to port. [rad]
    mirrored : bool
        True adds the port half.
    section : Section
        What the sheet is like cut along the stream: thickness, edge, camber.
    controls : tuple of Control
    spanwise, chordwise : int
        Panels along one half and along the chord.
    spacing : str
        "inset": equal panels ending a quarter panel inside free ends, which converges fastest [1]_;
        "equal": equal panels right to the ends, as textbook examples draw them; "auto": "equal" where
        there is a single panel along the chord (the textbooks' horseshoe lattice), else "inset".
    root : str
        "joined" when the root ends on the centre line or on another body, "free" when air passes round
        it; "auto": joined for a mirrored surface that meets its other half, else free.

    References
    ----------
    .. [1] G. J. Hough, "Remarks on vortex-lattice methods", J. Aircraft 10(5), 1973 (from memory).
    """

    name: str
    role: Role
    leading_edge_m: Floats
    chord_m: Floats
    twist_rad: Floats
    mirrored: bool = True
    section: Section = FLAT
    controls: tuple[Control, ...] = ()
    spanwise: int = 24
    chordwise: int = 6
    spacing: Spacing = "auto"
    root: RootEnd = "auto"

    def __post_init__(self) -> None:
        for name in ("leading_edge_m", "chord_m", "twist_rad"):
            try:
                own = np.array(getattr(self, name), dtype=np.float64)
            except (TypeError, ValueError) as trouble:
                raise GeometryError(
                    f"surface {self.name!r}: {name} must be rows of numbers, got {getattr(self, name)!r}"
                ) from trouble
            own.setflags(write=False)
            object.__setattr__(self, name, own)
        n = self.chord_m.size
        if (
            n < 2
            or self.leading_edge_m.shape != (n, 3)
            or self.twist_rad.shape != (n,)
            or self.chord_m.ndim != 1
        ):
            raise GeometryError(
                f"surface {self.name!r}: need at least two stations with leading edges (n, 3), chords (n,) and "
                f"twists (n,), got {self.leading_edge_m.shape}, {self.chord_m.shape}, {self.twist_rad.shape}"
            )
        values = (self.leading_edge_m, self.chord_m, self.twist_rad)
        if not all(np.isfinite(v).all() for v in values):
            raise GeometryError(f"surface {self.name!r}: every station must be a finite number")
        if (self.chord_m < 0.0).any() or not (self.chord_m > 0.0).any():
            raise GeometryError(
                f"surface {self.name!r}: chords must not be negative, and not all zero; "
                f"smallest is {self.chord_m.min():g} m"
            )
        if (self.steps_m <= 0.0).any():
            raise GeometryError(
                f"surface {self.name!r}: stations must step outwards from root to tip; two of them coincide"
            )
        sizes = (
            float(self.chord_m.max()),
            float(self.steps_m.sum()),
            float(np.abs(self.leading_edge_m).max()),
        )
        if min(sizes[:2]) < SMALLEST_M or max(sizes) > LARGEST_M:
            raise GeometryError(
                f"surface {self.name!r}: chord {sizes[0]:g} m, span {sizes[1]:g} m, {sizes[2]:g} m from the datum; "
                f"lengths must lie between {SMALLEST_M:g} and {LARGEST_M:g} m. Look for a wrong unit."
            )
        if self.mirrored and (self.leading_edge_m[:, 1] < -1e-9).any():
            raise GeometryError(
                f"surface {self.name!r}: a mirrored surface is stated by its starboard half (y >= 0), "
                f"got y = {self.leading_edge_m[:, 1].min():g} m"
            )
        if self.mirrored and self.leading_edge_m[:, 1].max() < 1e-6 * float(self.steps_m.sum()):
            raise GeometryError(
                f"surface {self.name!r} lies in the plane of symmetry, so its other half would lie on top of it; "
                "state it with mirrored=False"
            )
        if np.abs(self.twist_rad).max() > 0.5 * math.pi + 1e-12:
            raise GeometryError(
                f"surface {self.name!r}: incidence must stay within 90 deg either way, "
                f"got {math.degrees(float(np.abs(self.twist_rad).max())):g}"
            )
        one_of(f"role of surface {self.name!r}", self.role, get_args(Role))
        one_of(f"spacing of surface {self.name!r}", self.spacing, get_args(Spacing))
        one_of(f"root of surface {self.name!r}", self.root, get_args(RootEnd))
        for name in ("spanwise", "chordwise"):
            object.__setattr__(self, name, count(f"surface {self.name!r}: {name}", getattr(self, name)))
        if self.spanwise < 1 or self.chordwise < 1:
            raise GeometryError(
                f"surface {self.name!r}: needs at least 1 panel each way, got {self.spanwise} x {self.chordwise}"
            )

    @classmethod
    def from_stations(
        cls,
        name: str,
        role: Role,
        leading_edge_m: ArrayLike,
        chord_m: ArrayLike,
        twist_rad: ArrayLike | None = None,
        mirrored: bool = True,
        *,
        section: Section = FLAT,
        controls: Sequence[Control] = (),
        spanwise: int = 24,
        chordwise: int = 6,
        spacing: Spacing = "auto",
        root: RootEnd = "auto",
    ) -> Surface:
        """Make a surface from cuts along its span; between cuts edges are straight.

        Parameters
        ----------
        name, role : str
        leading_edge_m : array_like, shape (n, 3)
            Leading edge of the starboard half, root to tip. [m]
        chord_m : array_like, shape (n,)
            Chord. [m]
        twist_rad : array_like, shape (n,), optional
            Incidence, nose up. Left out: none. [rad]
        mirrored, section, controls, spanwise, chordwise, spacing, root
            See `Surface`.

        Raises
        ------
        GeometryError
            If shapes disagree, stations coincide, or a chord is negative.
        """
        return cls(
            name=name,
            role=role,
            leading_edge_m=leading_edge_m,  # type: ignore[arg-type]  # made an array on the way in
            chord_m=chord_m,  # type: ignore[arg-type]
            twist_rad=np.zeros(np.shape(chord_m)) if twist_rad is None else twist_rad,  # type: ignore[arg-type]
            mirrored=mirrored,
            section=section,
            controls=tuple(controls),
            spanwise=spanwise,
            chordwise=chordwise,
            spacing=spacing,
            root=root,
        )

    @classmethod
    def trapezoid(
        cls,
        span_m: float,
        root_chord_m: float,
        tip_chord_m: float,
        sweep_deg: float = 0.0,
        dihedral_deg: float = 0.0,
        incidence_deg: float = 0.0,
        at_m: tuple[float, float, float] = (0.0, 0.0, 0.0),
        mirrored: bool = True,
        spanwise: int = 24,
        chordwise: int = 6,
        *,
        name: str = "",
        role: Role | None = None,
        washout_deg: float = 0.0,
        section: Section = FLAT,
        controls: Sequence[Control] = (),
        spacing: Spacing = "auto",
        root: RootEnd = "auto",
    ) -> Surface:
        """Make a surface with straight edges.

        Parameters
        ----------
        span_m : float
            Tip to tip when mirrored; else root to tip along the surface. [m]
        root_chord_m, tip_chord_m : float
            Chords. [m]
        sweep_deg : float
            Sweep of the leading edge, measured along the surface's own span. [deg]
        dihedral_deg : float
            Tips up; 90 with mirrored=False is a fin. [deg]
        incidence_deg : float
            Nose up. [deg]
        at_m : tuple of float
            Leading edge at the root. [m]
        mirrored : bool
        spanwise, chordwise : int
            Panels along a half and along the chord.
        name, role : str
            Left out, an unmirrored surface steeper than 45 degrees is a fin, anything else a wing.
        washout_deg : float
            Incidence lost from root to tip. [deg]
        section, controls, spacing, root
            See `Surface`.

        Raises
        ------
        GeometryError
            If span or chords are not positive, or a mirrored surface stands at 85 degrees or more.
        """
        span_m = number("span", span_m, positive=True, unit="m")
        root_chord_m, tip_chord_m = (
            number(f"{end} chord", chord, unit="m")
            for end, chord in (("root", root_chord_m), ("tip", tip_chord_m))
        )
        sweep_deg, dihedral_deg = number("sweep", sweep_deg), number("dihedral", dihedral_deg, at_most=180.0)
        incidence_deg, washout_deg = number("incidence", incidence_deg), number("washout", washout_deg)
        at_m = triple("place of the root", at_m)
        if mirrored and abs(dihedral_deg) > 85.0:
            raise GeometryError(
                f"a mirrored surface cannot have {dihedral_deg:g} deg of dihedral (85 at most); "
                "state a fin with mirrored=False"
            )
        if not abs(sweep_deg) < 85.0:
            raise GeometryError(f"leading-edge sweep must stay below 85 deg, got {sweep_deg:g}")
        dihedral = math.radians(dihedral_deg)
        if mirrored:
            across, up = span_m / 2.0, span_m / 2.0 * math.tan(dihedral)
        else:
            across, up = span_m * math.cos(dihedral), span_m * math.sin(dihedral)
        length = span_m / 2.0 if mirrored else span_m
        root_edge = np.asarray(at_m, dtype=np.float64)
        tip = root_edge + np.array([length * math.tan(math.radians(sweep_deg)), across, up])
        steep = not mirrored and abs(dihedral_deg) > 45.0
        own_role: Role = role if role is not None else ("fin" if steep else "wing")
        return cls.from_stations(
            name or own_role,
            own_role,
            np.vstack([root_edge, tip]),
            np.array([root_chord_m, tip_chord_m]),
            np.radians([incidence_deg, incidence_deg - washout_deg]),
            mirrored,
            section=section,
            controls=controls,
            spanwise=spanwise,
            chordwise=chordwise,
            spacing=spacing,
            root=root,
        )

    @property
    def steps_m(self) -> Floats:
        """Lengths between stations in the front view, shape (n - 1,). [m]."""
        step = np.diff(self.leading_edge_m, axis=0)
        return np.asarray(np.hypot(step[:, 1], step[:, 2]), dtype=np.float64)

    @property
    def eta(self) -> Floats:
        """Stations as fractions of the developed half span, shape (n,)."""
        s = np.concatenate([[0.0], np.cumsum(self.steps_m)])
        return np.asarray(s / s[-1], dtype=np.float64)

    @property
    def upright(self) -> bool:
        """Whether the surface stands up rather than lies flat."""
        step = self.leading_edge_m[-1] - self.leading_edge_m[0]
        return bool(abs(step[2]) > abs(step[1]))

    @property
    def span_m(self) -> float:
        """Tip to tip in plan for a mirrored surface, root to tip along it for a single one. [m]."""
        if self.mirrored:
            return 2.0 * float(self.leading_edge_m[:, 1].max())
        return float(self.steps_m.sum())

    @property
    def area_m2(self) -> float:
        """Planform area: seen from above when mirrored and lying, else along the surface. [m²]."""
        lying = self.mirrored and not self.upright
        step = np.abs(np.diff(self.leading_edge_m[:, 1])) if lying else self.steps_m
        half = float((step * 0.5 * (self.chord_m[1:] + self.chord_m[:-1])).sum())
        return 2.0 * half if self.mirrored else half

    @property
    def aspect_ratio(self) -> float:
        """Span squared over area; of one half where the halves stand up apart, as a pair of fins does."""
        if self.mirrored and self.upright:
            return 2.0 * float(self.steps_m.sum()) ** 2 / self.area_m2
        return self.span_m**2 / self.area_m2

    def mean_chord(self) -> tuple[float, Floats]:
        """Mean aerodynamic chord, and its leading edge (3,): integrals of chord over the span. [m]."""
        step = self.steps_m
        a, b = self.chord_m[:-1], self.chord_m[1:]
        area = (step * (a + b) / 2.0).sum()
        chord = float((step * (a * a + a * b + b * b) / 3.0).sum() / area)
        p, q = self.leading_edge_m[:-1], self.leading_edge_m[1:]
        weighted = step[:, None] * (p * (2.0 * a + b)[:, None] + q * (a + 2.0 * b)[:, None]) / 6.0
        return chord, np.asarray(weighted.sum(axis=0) / area, dtype=np.float64)


def reference_of(surfaces: Sequence[Surface]) -> Reference:
    """Reference of a layout: all surfaces with role "wing" together.

    Area is the sum of their planforms, the chord their area-weighted mean aerodynamic chord, its leading
    edge the area-weighted mean of theirs, the span the longest. If no surface is a wing, the flat-lying
    surfaces stand in, and if there are none either, all of them.
    """
    chosen = [s for s in surfaces if s.role == "wing"]
    chosen = chosen or [s for s in surfaces if not s.upright] or list(surfaces)
    if not chosen:
        raise GeometryError("a layout needs at least one surface")
    areas = np.array([s.area_m2 for s in chosen])
    chords = [s.mean_chord() for s in chosen]
    edge = sum(a * e for a, (_, e) in zip(areas, chords, strict=True)) / areas.sum()
    return Reference(
        area_m2=float(areas.sum()),
        chord_m=float(sum(a * c for a, (c, _) in zip(areas, chords, strict=True)) / areas.sum()),
        span_m=max(s.span_m for s in chosen),
        leading_edge_m=(float(edge[0]), 0.0, float(edge[2])),
    )
