"""A wing's section as what it is made of: sheet core, papers, tape and rods that bend and twist as one.

Bending by the transformed section: plane sections stay plane, so a piece's stress is its own modulus times the
common strain. Axes in the section: y along the chord, z up; bending by lift is about the y axis. Torsion: open
pieces each for themselves (Saint-Venant), closed cells by Bredt and Batho.

References
----------
.. [1] S. Timoshenko, "Strength of Materials", part 1, 3rd ed., 1955: beams of two materials (from memory).
.. [2] W. C. Young, R. G. Budynas, "Roark's Formulas for Stress and Strain", 7th ed., 2002, table 10.1: torsion of a
   rectangle, a b³ (16/3 - 3.36 b/a (1 - b⁴/(12 a⁴))) with half sides (from memory); thin tube 4 A²t/U.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from sheetlark.errors import GeometryError, SolveError

Floats: TypeAlias = npt.NDArray[np.float64]
Point: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """What a piece is made of: moduli and allowable stresses. [Pa], [kg/m³]."""

    name: str
    modulus_pa: float
    shear_modulus_pa: float
    tension_pa: float
    compression_pa: float
    density_kg_m3: float

    def __post_init__(self) -> None:
        for name in ("modulus_pa", "shear_modulus_pa", "tension_pa", "compression_pa", "density_kg_m3"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise SolveError(f"{name} of {self.name!r} must be positive and finite, got {value:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece of a section.

    area_m2, y_m, z_m : area and centroid. iyy_m4, izz_m4, iyz_m4 : second moments about its own centroid (iyy is of z²).
    torsion_m4 : its own torsion constant. outline : points that may be stressed most. [m]
    """

    name: str
    material: Material
    area_m2: float
    y_m: float
    z_m: float
    iyy_m4: float
    izz_m4: float
    iyz_m4: float
    torsion_m4: float
    outline: tuple[Point, ...]


def rectangle(
    name: str,
    material: Material,
    width_m: float,
    height_m: float,
    at: Point = (0.0, 0.0),
    *,
    tilt_rad: float = 0.0,
) -> Piece:
    """A rectangle centred at a point, its width tilted up by an angle.

    Raises
    ------
    GeometryError
        If a side is not positive.
    """
    if not (width_m > 0.0 and height_m > 0.0):
        raise GeometryError(
            f"{name}: a rectangle needs positive sides, got {width_m * 1e3:g} x {height_m * 1e3:g} mm"
        )
    long_way, short_way = width_m * height_m**3 / 12.0, height_m * width_m**3 / 12.0
    cosine, sine = math.cos(tilt_rad), math.sin(tilt_rad)
    corners = tuple(
        (
            at[0] + cosine * sy * width_m / 2.0 - sine * sz * height_m / 2.0,
            at[1] + sine * sy * width_m / 2.0 + cosine * sz * height_m / 2.0,
        )
        for sy, sz in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    )
    a, b = max(width_m, height_m) / 2.0, min(width_m, height_m) / 2.0
    return Piece(
        name=name,
        material=material,
        area_m2=width_m * height_m,
        y_m=at[0],
        z_m=at[1],
        iyy_m4=long_way * cosine**2 + short_way * sine**2,
        izz_m4=long_way * sine**2 + short_way * cosine**2,
        iyz_m4=(short_way - long_way) * sine * cosine,
        torsion_m4=a * b**3 * (16.0 / 3.0 - 3.36 * b / a * (1.0 - b**4 / (12.0 * a**4))),
        outline=corners,
    )


def rod(
    name: str, material: Material, outer_m: float, at: Point = (0.0, 0.0), *, inner_m: float = 0.0
) -> Piece:
    """A round rod, or a tube with an inner diameter.

    Raises
    ------
    GeometryError
        If the diameters do not leave a wall.
    """
    if not 0.0 <= inner_m < outer_m:
        raise GeometryError(
            f"{name}: a tube of {outer_m * 1e3:g} mm cannot have a hole of {inner_m * 1e3:g} mm"
        )
    second = math.pi * (outer_m**4 - inner_m**4) / 64.0
    r = outer_m / 2.0
    return Piece(
        name=name,
        material=material,
        area_m2=math.pi * (outer_m**2 - inner_m**2) / 4.0,
        y_m=at[0],
        z_m=at[1],
        iyy_m4=second,
        izz_m4=second,
        iyz_m4=0.0,
        torsion_m4=2.0 * second,
        outline=tuple(
            (at[0] + r * math.cos(k * math.pi / 24.0), at[1] + r * math.sin(k * math.pi / 24.0))
            for k in range(48)
        ),
    )


def strip(name: str, material: Material, points_m: tuple[Point, ...], thickness_m: float) -> Piece:
    """A thin strip along a line of points: a paper over an aerofoil, a tape round an edge.

    Raises
    ------
    GeometryError
        If there are fewer than two points, two of them coincide, or the thickness is not positive.
    """
    if len(points_m) < 2 or not thickness_m > 0.0:
        raise GeometryError(
            f"{name}: a strip needs two points and a thickness, got {len(points_m)} and {thickness_m * 1e3:g} mm"
        )
    pieces = []
    for (y1, z1), (y2, z2) in itertools.pairwise(points_m):
        length = math.hypot(y2 - y1, z2 - z1)
        middle = (0.5 * (y1 + y2), 0.5 * (z1 + z2))
        pieces.append(
            rectangle(name, material, length, thickness_m, middle, tilt_rad=math.atan2(z2 - z1, y2 - y1))
        )
    area = sum(p.area_m2 for p in pieces)
    y = sum(p.area_m2 * p.y_m for p in pieces) / area
    z = sum(p.area_m2 * p.z_m for p in pieces) / area
    return Piece(
        name=name,
        material=material,
        area_m2=area,
        y_m=y,
        z_m=z,
        iyy_m4=sum(p.iyy_m4 + p.area_m2 * (p.z_m - z) ** 2 for p in pieces),
        izz_m4=sum(p.izz_m4 + p.area_m2 * (p.y_m - y) ** 2 for p in pieces),
        iyz_m4=sum(p.iyz_m4 + p.area_m2 * (p.y_m - y) * (p.z_m - z) for p in pieces),
        torsion_m4=sum(p.area_m2 * thickness_m**2 for p in pieces) / 3.0,
        outline=tuple(corner for p in pieces for corner in p.outline),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A closed cell: papers and tape that go all the way round.

    points_m : corners in order, first not repeated. walls : for each side to the next corner, thickness [m] and shear
    modulus [Pa].
    efficiency : part of the closed tube's stiffness that is left when the shear must cross a soft core at the edges.
    """

    points_m: tuple[Point, ...]
    walls: tuple[tuple[float, float], ...]
    efficiency: float = 1.0

    def torsion_stiffness(self) -> float:
        """4 A²/∮ ds/(G t) of Bredt and Batho, [2]_ of the module. [N m²]."""
        count = len(self.points_m)
        if count < 3 or len(self.walls) != count:
            raise GeometryError(
                f"a cell needs three corners or more and a wall for each, got {count} and {len(self.walls)}"
            )
        area = yielding = 0.0
        for k, (thickness, shear) in enumerate(self.walls):
            (y1, z1), (y2, z2) = self.points_m[k], self.points_m[(k + 1) % count]
            area += 0.5 * (y1 * z2 - y2 * z1)
            yielding += math.hypot(y2 - y1, z2 - z1) / (shear * thickness)
        return self.efficiency * 4.0 * area * area / yielding


@dataclass(frozen=True, slots=True, kw_only=True)
class Stress:
    """Stress in one piece.

    most_pa, least_pa : largest tension and largest compression (negative). margin : allowable over stress, the worse of both.
    stress_pa, allowed_pa : of the worse side, negative where it is squeezed; both 0 where there is no stress.
    """

    name: str
    most_pa: float
    least_pa: float
    margin: float
    stress_pa: float = 0.0
    allowed_pa: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Pieces that bend and twist together.

    pieces : at least one. cells : closed cells, whose own papers' open torsion is negligible beside them.
    """

    pieces: tuple[Piece, ...]
    cells: tuple[Cell, ...] = ()

    def __post_init__(self) -> None:
        if not self.pieces:
            raise GeometryError("a section needs one piece at least")

    @property
    def axial_stiffness_n(self) -> float:
        """EA. [N]."""
        return sum(p.material.modulus_pa * p.area_m2 for p in self.pieces)

    @property
    def neutral_axis_m(self) -> Point:
        """Where bending leaves no stress: centroid weighted by modulus (y, z)."""
        ea = self.axial_stiffness_n
        return (
            sum(p.material.modulus_pa * p.area_m2 * p.y_m for p in self.pieces) / ea,
            sum(p.material.modulus_pa * p.area_m2 * p.z_m for p in self.pieces) / ea,
        )

    @property
    def bending(self) -> tuple[float, float, float]:
        """EI of z², of y² and of y z about the neutral axis. [N m²]."""
        y0, z0 = self.neutral_axis_m
        zz = sum(p.material.modulus_pa * (p.iyy_m4 + p.area_m2 * (p.z_m - z0) ** 2) for p in self.pieces)
        yy = sum(p.material.modulus_pa * (p.izz_m4 + p.area_m2 * (p.y_m - y0) ** 2) for p in self.pieces)
        yz = sum(
            p.material.modulus_pa * (p.iyz_m4 + p.area_m2 * (p.y_m - y0) * (p.z_m - z0)) for p in self.pieces
        )
        return zz, yy, yz

    @property
    def bending_stiffness_nm2(self) -> float:
        """EI against lift: bending about the y axis with the chord free to lean. [N m²].

        With a product of inertia the wing also bends in its own plane, which gives it EI_zz - EI_yz²/EI_yy.
        """
        zz, yy, yz = self.bending
        return zz - yz * yz / yy

    @property
    def torsion_stiffness_nm2(self) -> float:
        """GJ: closed cells, and every piece for itself. [N m²]."""
        return sum(p.material.shear_modulus_pa * p.torsion_m4 for p in self.pieces) + sum(
            cell.torsion_stiffness() for cell in self.cells
        )

    @property
    def mass_kg_m(self) -> float:
        """Mass of a metre of it."""
        return sum(p.material.density_kg_m3 * p.area_m2 for p in self.pieces)

    def stresses(self, moment_nm: float) -> tuple[Stress, ...]:
        """Stress in each piece under a bending moment about y; positive lifts the tip and squeezes the top."""
        zz, yy, yz = self.bending
        y0, z0 = self.neutral_axis_m
        determinant = zz * yy - yz * yz
        bend_z, bend_y = -moment_nm * yy / determinant, moment_nm * yz / determinant
        found = []
        for p in self.pieces:
            values = [p.material.modulus_pa * (bend_z * (z - z0) + bend_y * (y - y0)) for y, z in p.outline]
            most, least = max(values), min(values)
            sides = [(p.material.tension_pa / most, most, p.material.tension_pa)] if most > 0.0 else []
            if least < 0.0:
                sides.append((p.material.compression_pa / -least, least, -p.material.compression_pa))
            margin, stress, allowed = min(sides, default=(math.inf, 0.0, 0.0))
            found.append(
                Stress(
                    name=p.name,
                    most_pa=most,
                    least_pa=least,
                    margin=margin,
                    stress_pa=stress,
                    allowed_pa=allowed,
                )
            )
        return tuple(found)


def sheet_core_section(
    *,
    chord_m: float,
    core: Material,
    core_thickness_m: float,
    paper: Material | None,
    paper_thickness_m: float = 0.0,
    papers: int = 2,
) -> Section:
    """A flat board of one chord: core and its papers (2, 1 on top, or 0).

    Two papers twist as a flat tube whose open edges yield (:func:`paper_tube_efficiency`).
    """
    pieces = [rectangle("core", core, chord_m, core_thickness_m)]
    cells: tuple[Cell, ...] = ()
    if paper is not None and papers > 0:
        z = 0.5 * (core_thickness_m + paper_thickness_m)
        pieces.append(rectangle("upper paper", paper, chord_m, paper_thickness_m, (0.0, z)))
        if papers > 1:
            pieces.append(rectangle("lower paper", paper, chord_m, paper_thickness_m, (0.0, -z)))
            half = chord_m / 2.0
            wall = (paper_thickness_m, paper.shear_modulus_pa)
            edge = (1.0, math.inf)  # what the open edge gives is in the efficiency
            cells = (
                Cell(
                    points_m=((-half, -z), (half, -z), (half, z), (-half, z)),
                    walls=(wall, edge, wall, edge),
                    efficiency=paper_tube_efficiency(
                        chord_m=chord_m,
                        core_thickness_m=core_thickness_m,
                        core_shear_pa=core.shear_modulus_pa,
                        paper_thickness_m=paper_thickness_m,
                        paper_shear_pa=paper.shear_modulus_pa,
                    ),
                ),
            )
    return Section(pieces=tuple(pieces), cells=cells)


def paper_tube_efficiency(
    *,
    chord_m: float,
    core_thickness_m: float,
    core_shear_pa: float,
    paper_thickness_m: float,
    paper_shear_pa: float,
) -> float:
    """Part of the closed tube's torsion stiffness that two papers on a core with open edges reach. [-].

    1 - tanh(k)/k, k = (chord/2) √(2 G_c/(G_p t_p t_c)): the papers' shear flow must cross the core near the edges. From
    equilibrium of one paper, G_p t_p u'' = G_c (θ' y + 2 u/t_c) with no shear at the edges; u is its warping.
    """
    k = (
        0.5
        * chord_m
        * math.sqrt(2.0 * core_shear_pa / (paper_shear_pa * paper_thickness_m * core_thickness_m))
    )
    return 1.0 - math.tanh(k) / k


def wrinkling_stress(face_modulus_pa: float, core_modulus_pa: float, core_shear_pa: float) -> float:
    """Compression at which a thin face wrinkles on its core, 0.5 (E_f E_c G_c)^(1/3). [Pa].

    Zenkert, "The Handbook of Sandwich Construction", 1997 (from memory).
    """
    return 0.5 * math.cbrt(face_modulus_pa * core_modulus_pa * core_shear_pa)
