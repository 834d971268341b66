"""Loads of a layout in potential flow: the lattice alone, no section drag and no stall."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sheetlark.air.lattice import Integers, Lattice, build
from sheetlark.air.stated import angles, number, triple
from sheetlark.air.surface import Control, Floats, Reference, Surface, reference_of
from sheetlark.errors import GeometryError, SolveError

DRIVE_APART = ":roll"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loads:
    """Forces and moments of the lattice.

    Lift is across and drag along the stream in the plane of symmetry; side force is to starboard. Moments
    are about `about_m` in flight axes: rolling starboard wing down, pitching nose up, yawing nose to
    starboard. Induced drag is found far downstream, so it stays exact for any stagger.

    surface_lift_n : shape (surfaces,), lift of each surface, both halves, in the order the surfaces were given:
        `surface_lift_n[0]` is the first one's; `lift_of_n` finds it by name. They add up
        to `lift_n` in straight flight; in sideslip and yaw the air moving along the sheets adds a little to the
        total that is not shared out. [N]
    surface_names : tuple of str
        In the same order.
    strip_lift_n_m : shape (strips,), force along the strip's normal per unit width. [N/m]
    strip_lift_coefficient : shape (strips,), the same over dynamic pressure and local chord.
    strip_at_m : shape (strips, 3), mid-strip, quarter chord. [m]
    strip_surface : shape (strips,), index of the surface a strip belongs to.
    force_n, moment_nm : shape (3,), in geometry axes (x aft, y starboard, z up). [N], [N m]
    """

    reference: Reference
    about_m: tuple[float, float, float]
    dynamic_pressure_pa: float
    lift_coefficient: float
    induced_drag_coefficient: float
    side_force_coefficient: float
    rolling_moment_coefficient: float
    pitching_moment_coefficient: float
    yawing_moment_coefficient: float
    lift_n: float
    induced_drag_n: float
    surface_lift_n: Floats
    surface_names: tuple[str, ...]
    strip_lift_n_m: Floats
    strip_lift_coefficient: Floats
    strip_at_m: Floats
    strip_surface: Integers
    force_n: Floats
    moment_nm: Floats

    def lift_of_n(self, name: str) -> float:
        """Lift of one surface by name. [N].

        Raises
        ------
        GeometryError
            If no surface, or more than one, has that name.
        """
        if self.surface_names.count(name) != 1:
            raise GeometryError(
                f"{self.surface_names.count(name)} surfaces are named {name!r}; there is "
                f"{', '.join(self.surface_names)}. By position: surface_lift_n."
            )
        return float(self.surface_lift_n[self.surface_names.index(name)])

    @property
    def span_efficiency(self) -> float:
        """Lift squared over pi, aspect ratio (reference span and area) and induced drag; nan without drag."""
        ratio = self.reference.span_m**2 / self.reference.area_m2
        if self.induced_drag_coefficient == 0.0:
            return math.nan
        return self.lift_coefficient**2 / (math.pi * ratio * self.induced_drag_coefficient)


def stream(alpha_rad: float, beta_rad: float) -> Floats:
    """Direction of the oncoming air in geometry axes, shape (3,): aft and up at alpha, to port at beta."""
    ca, sa, cb, sb = math.cos(alpha_rad), math.sin(alpha_rad), math.cos(beta_rad), math.sin(beta_rad)
    return np.array([ca * cb, -sb, sa * cb])


def turning(rates_rad_s: tuple[float, float, float]) -> Floats:
    """Rates (roll, pitch, yaw) in flight axes as a vector in geometry axes, shape (3,)."""
    p, q, r = rates_rad_s
    return np.array([-p, q, -r])


def control_drives(surfaces: Sequence[Surface]) -> tuple[str, ...]:
    """Names of everything that can be deflected, in order of appearance.

    A name that stands on several surfaces is one drive. Ailerons drive apart; elevons and flaperons have
    two drives, `name` together and `name:roll` apart.
    """
    names: list[str] = []
    for surface in surfaces:
        for control in surface.controls:
            wanted = [control.name]
            if control.kind in {"elevon", "flaperon"}:
                wanted.append(control.name + DRIVE_APART)
            names += [n for n in wanted if n not in names]
    return tuple(names)


def senses(control: Control, *, apart: bool, mirrored: bool) -> tuple[float, float]:
    """Which way the starboard half (or the single surface) and the port half turn, 1 for trailing edge down.

    Apart means starboard trailing edge up and port down, so that a positive aileron rolls starboard wing down. A
    positive rudder has its trailing edge to starboard, on both of a pair of fins, and turns the nose to starboard:
    on a fin, "down" is to starboard for the single or starboard one, to port for the port one.
    """
    if control.kind == "aileron" or apart:
        return -1.0, 1.0
    if control.kind == "rudder" and mirrored:
        return 1.0, -1.0
    return 1.0, 1.0


def turned_by(lattice: Lattice, drive: str) -> Floats:
    """How far each panel turns per unit of a drive, shape (panels,); which way is positive, see `senses`."""
    name, apart = drive.removesuffix(DRIVE_APART), drive.endswith(DRIVE_APART)
    out = []
    for index, half in enumerate(lattice.halves):
        part = np.zeros(half.points_m.shape[:2])
        for control, share in zip(half.surface.controls, half.turned, strict=True):
            if control.name != name:
                continue
            sense = senses(control, apart=apart, mirrored=half.surface.mirrored)
            part += sense[index >= lattice.stated] * share
        out.append(part.ravel())
    return np.concatenate(out)


def panel_velocity(at_m: Floats, wind_ms: Floats, spin_rad_s: Floats, about_m: Floats) -> Floats:
    """Air velocity relative to the layout at points (k, 3) that turn with it about `about_m`. [m/s]."""
    return np.asarray(wind_ms - np.cross(spin_rad_s, at_m - about_m), dtype=np.float64)


def panel_incidence(lattice: Lattice, deflections_rad: Mapping[str, float]) -> Floats:
    """Incidence of each panel from twist, camber and controls, shape (panels,). [rad]."""
    slope = np.concatenate([h.slope_rad.ravel() for h in lattice.halves])
    for drive, angle in deflections_rad.items():
        slope = slope + angle * turned_by(lattice, drive)
    return slope


def normal_inflow(lattice: Lattice, velocity_ms: Floats, incidence_rad: Floats) -> Floats:
    """Velocity through each panel, shape (panels,): along the normal tilted back by its incidence. [m/s]."""
    across = np.einsum("ij,ij->i", velocity_ms, lattice.normals)
    return np.asarray(
        across * np.cos(incidence_rad) + velocity_ms[:, 0] * np.sin(incidence_rad), dtype=np.float64
    )


def panel_forces(lattice: Lattice, gamma: Floats, velocity_ms: Floats, density: float) -> Floats:
    """Force on the bound piece of every panel, shape (panels, 3): density Γ V × l. [N]."""
    return np.asarray(density * gamma[:, None] * np.cross(velocity_ms, lattice.bound_m), dtype=np.float64)


def side_forces(
    lattice: Lattice, gamma: Floats, *, spin: Floats, wind: Floats, about: Floats, density: float
) -> tuple[Floats, Floats]:
    """Force and moment, each (3,), on the pieces of the legs that lie on the sheet, from air moving across.

    They matter in sideslip and yaw only: the chordwise vorticity of a tip carries load when air crosses it.
    """
    total, moment = np.zeros(3), np.zeros(3)
    for ends, back, sign in (
        (lattice.vertex_a_m, lattice.back_a_m, -1.0),
        (lattice.vertex_b_m, lattice.back_b_m, 1.0),
    ):
        middle = ends.copy()
        middle[:, 0] += 0.5 * back
        v = panel_velocity(middle, wind, spin, about)
        along = np.zeros_like(middle)
        along[:, 0] = back
        # Air moving across the sheet in y only: what comes through it from below goes round the edge, and a sheet's
        # edge keeps no suction.
        v[:, 2] = 0.0
        v[:, 0] = 0.0
        f = sign * density * gamma[:, None] * np.cross(v, along)
        total += f.sum(axis=0)
        moment += np.cross(middle - about, f).sum(axis=0)
    return total, moment


def solve(
    surfaces: Sequence[Surface],
    alpha_rad: float,
    beta_rad: float = 0.0,
    speed_ms: float = 10.0,
    density_kg_m3: float = 1.225,
    rates_rad_s: tuple[float, float, float] = (0.0, 0.0, 0.0),
    about_m: tuple[float, float, float] = (0.0, 0.0, 0.0),
    reference: Reference | Sequence[float] | None = None,
    *,
    deflections_rad: Mapping[str, float] | None = None,
    ground_z_m: float | None = None,
) -> Loads:
    """Loads of any number of thin surfaces in potential flow.

    Parameters
    ----------
    surfaces : sequence of Surface
    alpha_rad, beta_rad : float
        Angle of attack and sideslip (wind from starboard positive). [rad]
    speed_ms, density_kg_m3 : float
        Airspeed and density.
    rates_rad_s : tuple of float
        Roll, pitch and yaw rate in flight axes. [rad/s]
    about_m : tuple of float
        Moment and turning point in geometry axes. [m]
    reference : Reference or (area_m2, chord_m[, span_m]), optional
        What coefficients are divided by. None: `reference_of(surfaces)`, all surfaces with role "wing"
        together (combined planform area, area-weighted mean aerodynamic chord, longest span).
    deflections_rad : mapping, optional
        Deflection by name of control (see `control_drives`), trailing edge down positive, a rudder's to starboard.
        [rad]
    ground_z_m : float, optional
        Height of flat ground in geometry axes; left out, free air. [m]

    Returns
    -------
    Loads

    Raises
    ------
    GeometryError
        If anything is not a finite number, speed or density is not positive, the air comes from behind (alpha or
        beta beyond 90 degrees), the ground touches a surface, or a deflection names no control or passes 90 degrees.
    SolveError
        If the lattice has no answer, or too many panels.

    Notes
    -----
    Thin-surface theory: attached flow, wakes straight aft along x. Good to about 1 % for the lattice's
    default density; it knows no stall and no friction. Surfaces may lie in each other's wakes or in the same
    place: sheets that coincide share the load of one.
    """
    known = {
        "alpha_rad": number("alpha", alpha_rad, at_most=0.5 * math.pi, unit="rad"),
        "beta_rad": number("beta", beta_rad, at_most=0.5 * math.pi, unit="rad"),
        "speed_ms": number("speed", speed_ms, positive=True, at_most=1e3, unit="m/s"),
        "density_kg_m3": number("density", density_kg_m3, positive=True, at_most=1e5, unit="kg/m3"),
    }
    rates, about = triple("rates", rates_rad_s), triple("about_m", about_m)
    turned = angles("deflection", deflections_rad or {}, 0.5 * math.pi)
    given = gathered(surfaces)
    own = as_reference(reference, given)
    with np.errstate(all="ignore"):
        loads = loads_on(
            build(given, ground_z_m),
            **known,
            rates_rad_s=rates,
            about_m=about,
            reference=own,
            deflections_rad=turned,
        )
        told = np.array(
            [*loads.force_n, *loads.moment_nm, *loads.surface_lift_n, loads.pitching_moment_coefficient]
        )
    if not np.isfinite(told).all():
        raise SolveError(
            "the lattice has no answer: sizes, speeds or rates are too far apart to reckon with. "
            "Look for a length in the wrong unit."
        )
    return loads


def gathered(surfaces: Sequence[Surface]) -> tuple[Surface, ...]:
    """The surfaces as a tuple.

    Raises
    ------
    GeometryError
        If they are not surfaces.
    """
    if isinstance(surfaces, Surface):
        raise GeometryError("give the surfaces as a sequence, [wing] for one alone")
    try:
        own = tuple(surfaces)
    except TypeError as trouble:
        raise GeometryError(f"surfaces must be a sequence of Surface, got {surfaces!r}") from trouble
    for item in own:
        if not isinstance(item, Surface):
            raise GeometryError(f"surfaces must be a sequence of Surface, got {item!r} among them")
    if not own:
        raise SolveError("the lattice needs at least one surface")
    return own


def as_reference(given: Reference | Sequence[float] | None, surfaces: Sequence[Surface]) -> Reference:
    """A reference from what a caller gave."""
    if isinstance(given, Reference):
        return given
    own = reference_of(surfaces)
    if given is None:
        return own
    if not hasattr(given, "__len__"):
        raise GeometryError(f"a reference is (area, chord) or (area, chord, span), got {given!r}")
    if len(given) not in {2, 3}:
        raise GeometryError(f"a reference is (area, chord) or (area, chord, span), got {len(given)} numbers")
    return Reference(
        area_m2=given[0],
        chord_m=given[1],
        span_m=given[2] if len(given) == 3 and given[2] is not None else own.span_m,
        leading_edge_m=own.leading_edge_m,
    )


def loads_on(
    lattice: Lattice,
    *,
    alpha_rad: float,
    beta_rad: float,
    speed_ms: float,
    density_kg_m3: float,
    rates_rad_s: tuple[float, float, float],
    about_m: tuple[float, float, float],
    reference: Reference,
    deflections_rad: Mapping[str, float],
) -> Loads:
    """Loads on a lattice already built; see `solve`."""
    known = control_drives(lattice.surfaces)
    for drive in deflections_rad:
        if drive not in known:
            raise GeometryError(f"no control named {drive!r}; there is {', '.join(known) or 'none'}")
    about, spin = np.asarray(about_m, dtype=np.float64), turning(rates_rad_s)
    wind = speed_ms * stream(alpha_rad, beta_rad)
    inflow = normal_inflow(
        lattice,
        panel_velocity(lattice.points_m, wind, spin, about),
        panel_incidence(lattice, deflections_rad),
    )
    gamma = lattice.circulation(inflow[:, None])[:, 0]
    force = panel_forces(lattice, gamma, panel_velocity(lattice.bound_at_m, wind, spin, about), density_kg_m3)
    total, moment = side_forces(lattice, gamma, spin=spin, wind=wind, about=about, density=density_kg_m3)
    total = total + force.sum(axis=0)
    moment = moment + np.cross(lattice.bound_at_m - about, force).sum(axis=0)

    strip = lattice.strip_circulation(gamma[:, None])[:, 0]
    wash = lattice.far @ strip
    drag = -0.5 * density_kg_m3 * strip * wash * lattice.strip_width_m
    quarter = np.concatenate([h.leading_edge_m for h in lattice.halves])
    quarter[:, 0] += 0.25 * lattice.strip_chord_m
    along = stream(alpha_rad, beta_rad)
    total = total + drag.sum() * along
    moment = moment + np.cross(quarter - about, drag[:, None] * along).sum(axis=0)

    lift_way = np.array([-math.sin(alpha_rad), 0.0, math.cos(alpha_rad)])
    q = 0.5 * density_kg_m3 * speed_ms**2
    area, chord, span = reference.area_m2, reference.chord_m, reference.span_m
    panel_lift = force @ lift_way
    surface_lift = np.zeros(len(lattice.surfaces))
    np.add.at(surface_lift, lattice.strip_surface[lattice.strip_of], panel_lift)
    along_normal = np.zeros(lattice.strips)
    np.add.at(along_normal, lattice.strip_of, np.einsum("ij,ij->i", force, lattice.normals))
    along_normal /= lattice.strip_width_m
    return Loads(
        reference=reference,
        about_m=about_m,
        dynamic_pressure_pa=q,
        lift_coefficient=float(total @ lift_way) / (q * area),
        induced_drag_coefficient=float(drag.sum()) / (q * area),
        side_force_coefficient=float(total[1]) / (q * area),
        rolling_moment_coefficient=-float(moment[0]) / (q * area * span),
        pitching_moment_coefficient=float(moment[1]) / (q * area * chord),
        yawing_moment_coefficient=-float(moment[2]) / (q * area * span),
        lift_n=float(total @ lift_way),
        induced_drag_n=float(drag.sum()),
        surface_lift_n=surface_lift,
        surface_names=tuple(s.name for s in lattice.surfaces),
        strip_lift_n_m=along_normal,
        strip_lift_coefficient=along_normal / (q * lattice.strip_chord_m),
        strip_at_m=quarter,
        strip_surface=lattice.strip_surface,
        force_n=total,
        moment_nm=moment,
    )
