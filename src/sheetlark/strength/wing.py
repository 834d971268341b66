"""A half wing at its limit load: bending, stress in every piece, the joint, and the caution about twist."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sheetlark.errors import SolveError
from sheetlark.strength.beam import Bending, Floats, HalfWing, bend
from sheetlark.strength.flutter import TwistCaution, twist_caution
from sheetlark.strength.loads import FACTOR_OF_SAFETY, GRAVITY_MS2, JointLoads, LimitLoad, joint_loads
from sheetlark.strength.section import Section, Stress


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HalfWingDesign:
    """A half wing as strength sees it, from root to tip.

    y_m : shape (n,), stations from the root. chord_m : shape (n,). lift_n_m : shape (n,), lift per span in level
    flight. moment_nm_m : shape (n,), air's nose-up moment per span about quarter chord in level flight.
    sections : n of them, one a station.
    elastic_axis, mass_axis : places along the chord, as parts of it.
    """

    y_m: Floats
    chord_m: Floats
    lift_n_m: Floats
    moment_nm_m: Floats
    sections: tuple[Section, ...]
    elastic_axis: float = 0.40
    mass_axis: float = 0.45

    def __post_init__(self) -> None:
        for name in ("y_m", "chord_m", "lift_n_m", "moment_nm_m"):
            own = np.array(getattr(self, name), dtype=np.float64)
            own.setflags(write=False)
            object.__setattr__(self, name, own)
            if own.shape != (len(self.sections),):
                raise SolveError(
                    f"a half wing needs {len(self.sections)} values of {name}, one a section; got {own.shape}"
                )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WingStrength:
    """How a half wing bears its limit load.

    stresses : of every piece at its most strained station. margin : least allowable over stress times the safety
    factor; below 1 it breaks. weakest : that piece. weakest_y_m : where.
    tip_deflection_m, tip_twist_rad : at the limit load.
    """

    limit: LimitLoad
    bending: Bending
    stresses: tuple[Stress, ...]
    margin: float
    weakest: str
    weakest_y_m: float
    joint: JointLoads
    twist: TwistCaution

    @property
    def tip_deflection_m(self) -> float:
        return self.bending.tip_deflection_m

    @property
    def tip_twist_rad(self) -> float:
        return self.bending.tip_twist_rad


def wing_strength(
    wing: HalfWingDesign,
    limit: LimitLoad,
    *,
    top_ms: float,
    cruise_ms: float,
    joiner_m: float = 0.2,
    density_kg_m3: float = 1.225,
) -> WingStrength:
    """Bend a half wing at its limit load factor.

    Lift grows with the load factor, the wing's own weight pulls the other way with it. The air's moment about quarter
    chord grows with the square of the top speed over the cruise, lift acts at quarter chord. Twist does not feed back into
    the load (see :func:`twist_caution` for when it would).

    Raises
    ------
    SolveError
        If the joiner has no length or a speed is not positive.
    """
    if not (top_ms > 0.0 and cruise_ms > 0.0):
        raise SolveError(f"speeds must be positive, got top {top_ms:g} and cruise {cruise_ms:g} m/s")
    n = limit.factor
    own = np.array([section.mass_kg_m for section in wing.sections])
    load = n * (wing.lift_n_m - own * GRAVITY_MS2)
    arm = wing.elastic_axis - 0.25
    twist = (
        n * wing.lift_n_m * arm * wing.chord_m
        + wing.moment_nm_m * (top_ms / cruise_ms) ** 2
        + n * own * GRAVITY_MS2 * (wing.mass_axis - wing.elastic_axis) * wing.chord_m
    )
    torsion = np.array([section.torsion_stiffness_nm2 for section in wing.sections])
    bent = bend(
        HalfWing(
            y_m=wing.y_m,
            load_n_m=load,
            bending_nm2=np.array([section.bending_stiffness_nm2 for section in wing.sections]),
            twist_nm_m=twist,
            torsion_nm2=torsion,
        )
    )
    worst: dict[str, tuple[Stress, float]] = {}
    for y, section in zip(wing.y_m.tolist(), wing.sections, strict=True):
        for stress in section.stresses(bent.moment_at(y)):
            if stress.name not in worst or stress.margin < worst[stress.name][0].margin:
                worst[stress.name] = (stress, y)
    weakest, place = min(worst.values(), key=lambda pair: pair[0].margin)
    mean_chord = float(np.trapezoid(wing.chord_m, wing.y_m) / wing.y_m[-1])
    mean_mass = float(np.trapezoid(own, wing.y_m) / wing.y_m[-1])
    # a flat board's mass is spread evenly over the chord: c²/12 about its middle, moved to the elastic axis
    gyration = mean_chord**2 * (1.0 / 12.0 + (wing.mass_axis - wing.elastic_axis) ** 2)
    return WingStrength(
        limit=limit,
        bending=bent,
        stresses=tuple(stress for stress, _ in worst.values()),
        margin=weakest.margin / FACTOR_OF_SAFETY if math.isfinite(weakest.margin) else math.inf,
        weakest=weakest.name,
        weakest_y_m=place,
        joint=joint_loads(
            root_moment_nm=bent.root_moment_nm, root_shear_n=bent.root_shear_n, joiner_m=joiner_m
        ),
        twist=twist_caution(
            # harmonic mean: a soft stretch twists for all of it
            torsion_nm2=float(wing.y_m[-1] / np.trapezoid(1.0 / torsion, wing.y_m)),
            semi_span_m=float(wing.y_m[-1]),
            chord_m=mean_chord,
            mass_kg_m=mean_mass,
            inertia_kg_m=mean_mass * gyration,
            elastic_axis=wing.elastic_axis,
            mass_axis=wing.mass_axis,
            top_ms=top_ms,
            density_kg_m3=density_kg_m3,
        ),
    )
