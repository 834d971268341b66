"""A wing's section at a station as strength sees it: board, papers, covering and spars, in their real places.

Material figures the stock does not give, all from memory: paper bears half as much pushed as pulled, and less where
it wrinkles on a soft core; polystyrene and polypropylene foams give way at a strain of 1.5 % pushed and 2.5 %
pulled, woods at 0.35 and 0.6 %; shear modulus of isotropic stuff is E/2.6, of pultruded rods and wood about E/20.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np

from sheetlark.airframe import LiftingSurface
from sheetlark.design import Covering
from sheetlark.outline import Floats
from sheetlark.parts.rods import section as laid_in
from sheetlark.stock import Rod, Sheet, Stock
from sheetlark.strength import (
    Cell,
    Material,
    Piece,
    Section,
    paper_tube_efficiency,
    rectangle,
    rod,
    strip,
    wrinkling_stress,
)

Point = tuple[float, float]
_STATIONS = 13
_SOFT_PA = 1e9  # below this modulus a core is a foam, above it a wood or card

# Film that carries load in a covering: modulus, density, share of the covering's mass (the rest is glue and colour).
# Polypropylene tape 2 GPa, polyester film 4 GPa, from memory.
_FILMS = {
    "tape": (2.0e9, 910.0, 0.6),
    "film": (4.0e9, 1390.0, 0.4),
    "film-light": (4.0e9, 1390.0, 0.5),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stations:
    """A half wing cut across, root to tip: every array of shape (n,).

    y_m : along the half from the centre line. chord_m : whole chord.
    sections : n of them; aft of a hinge line nothing counts, as tape carries no bending.
    bending_nm2, sideways_nm2, torsion_nm2, stretch_n, mass_kg_m : of the sections.
    """

    y_m: Floats
    chord_m: Floats
    sections: tuple[Section, ...]
    bending_nm2: Floats
    sideways_nm2: Floats
    torsion_nm2: Floats
    stretch_n: Floats
    mass_kg_m: Floats


@lru_cache(maxsize=64)
def stations_of(surface: LiftingSurface, covering: Covering, stock: Stock) -> Stations:
    """Cut a half wing at stations crowded towards the tip."""
    y = surface.half_span_m * np.sin(np.linspace(0.0, 0.5 * math.pi, _STATIONS))
    y[-1] = surface.half_span_m
    root = surface.chord_at(0.0)[1]
    chord, sections = np.empty(y.size), []
    for k, station in enumerate(y.tolist()):
        share = station / surface.half_span_m
        # A rounded tip ends in a point; a sliver of chord keeps the stiffness above nothing.
        chord[k] = max(surface.chord_at(share)[1], 0.05 * root)
        sections.append(section_at(surface, share, float(chord[k]), covering, stock))
    stiff = [s.bending for s in sections]
    return Stations(
        y_m=y,
        chord_m=chord,
        sections=tuple(sections),
        bending_nm2=np.array([zz - yz * yz / yy for zz, yy, yz in stiff]),
        sideways_nm2=np.array([yy for _, yy, _ in stiff]),
        torsion_nm2=np.array([s.torsion_stiffness_nm2 for s in sections]),
        stretch_n=np.array([s.axial_stiffness_n for s in sections]),
        mass_kg_m=np.array([s.mass_kg_m for s in sections]),
    )


def section_at(
    surface: LiftingSurface, share: float, chord_m: float, covering: Covering, stock: Stock
) -> Section:
    """What a wing is made of at a share of its half span."""
    sheet = stock.sheet(surface.sheet)
    kept = chord_m
    control = surface.control
    if control is not None and control.start <= share <= control.end:
        kept = (1.0 - control.chord_share) * chord_m
    board = _Board(sheet, surface.paper, covering, stock)
    pieces: list[Piece] = []
    cells: list[Cell] = []
    lines = _lines(surface, chord_m, kept, sheet.thickness_m)
    for i, line in enumerate(lines):
        names = "" if len(lines) == 1 else (" of the lower layer", " of the upper layer")[i]
        more, cell = board.pieces(
            line, names, films=(i == len(lines) - 1, i == 0) if surface.role == "wing" else (False, False)
        )
        pieces += more
        cells += [cell] if cell is not None else []
    if surface.section == "hollow" and kept == chord_m:
        cells.append(board.tube(lines[0], lines[1]))
    for i, spar in enumerate(surface.spars):
        if 0.5 * spar.span < share * surface.half_span_m or spar.at * chord_m >= kept:
            continue
        pieces.append(_spar(f"spar {i + 1}", stock.rod(spar.rod), spar.at * chord_m, lines[0], sheet))
    return Section(pieces=tuple(pieces), cells=tuple(cells))


def _lines(surface: LiftingSurface, chord: float, kept: float, thickness: float) -> tuple[list[Point], ...]:
    """Mid-lines of the layers, (along the chord, up), lowest layer first."""
    h, crest = surface.camber * chord, surface.crest * chord
    if surface.section == "arc":
        whole = [(s * chord, 4.0 * h * s * (1.0 - s)) for s in np.linspace(0.0, 1.0, 7).tolist()]
    elif surface.section == "folded":
        whole = [(0.0, 0.0), (crest, h), (chord, 0.0)]
    else:
        whole = [(0.0, 0.0), (chord, 0.0)]
    lower = _cut(whole, kept)
    if surface.section == "hollow":
        return lower, _cut([(0.0, thickness), (crest, h + thickness), (chord, thickness)], kept)
    if surface.section == "stepped":
        return lower, _cut([(0.0, thickness), (crest, thickness)], kept)
    return (lower,)


def _cut(points: list[Point], at: float) -> list[Point]:
    """The part of a line ahead of a place along the chord."""
    if points[-1][0] <= at + 1e-9:
        return points
    x, z = zip(*points, strict=True)
    return [*(p for p in points if p[0] < at - 1e-6), (at, float(np.interp(at, x, z)))]


def _height(line: list[Point], x: float) -> float:
    return float(np.interp(x, [p[0] for p in line], [p[1] for p in line]))


def _off(line: list[Point], distance: float) -> tuple[Point, ...]:
    return tuple((x, z + distance) for x, z in line)


class _Board:
    """One sheet with its papers and covering, ready to be laid along a line."""

    def __init__(self, sheet: Sheet, paper: str, covering: Covering, stock: Stock) -> None:
        self.papers = {"both": 2, "one": 1, "none": 0}[paper] if sheet.paper_modulus_pa > 0 else 0
        self.paper_thickness = sheet.paper_thickness_m
        self.core_thickness = sheet.thickness_m - self.papers * self.paper_thickness
        pushed, pulled = (0.015, 0.025) if sheet.core_modulus_pa < _SOFT_PA else (0.0035, 0.006)
        self.core = Material(
            name=sheet.name,
            modulus_pa=sheet.core_modulus_pa,
            shear_modulus_pa=sheet.core_shear_pa,
            tension_pa=pulled * sheet.core_modulus_pa,
            compression_pa=pushed * sheet.core_modulus_pa,
            density_kg_m3=sheet.no_paper_kg_m2 / sheet.thickness_m,
        )
        self.paper: Material | None = None
        if self.papers:
            bears = wrinkling_stress(sheet.paper_modulus_pa, sheet.core_modulus_pa, sheet.core_shear_pa)
            self.paper = Material(
                name="paper",
                modulus_pa=sheet.paper_modulus_pa,
                shear_modulus_pa=sheet.paper_modulus_pa / 2.6,
                tension_pa=sheet.paper_strength_pa,
                compression_pa=min(0.5 * sheet.paper_strength_pa, bears),
                density_kg_m3=0.5
                * (sheet.areal_density_kg_m2 - sheet.no_paper_kg_m2)
                / max(self.paper_thickness, 1e-6),
            )
        self.film: Material | None = None
        self.film_thickness = 0.0
        if covering.wings != "none" and covering.stock in _FILMS:
            modulus, density, share = _FILMS[covering.stock]
            self.film_thickness = share * stock.covering(covering.stock).areal_density_kg_m2 / density
            wrinkles = wrinkling_stress(modulus, sheet.core_modulus_pa, sheet.core_shear_pa)
            self.film = Material(
                name="covering",
                modulus_pa=modulus,
                shear_modulus_pa=modulus / 2.6,
                tension_pa=0.03 * modulus,
                # On bare foam the film is the skin; over paper its wrinkling breaks nothing.
                compression_pa=wrinkles if not self.papers else 1e9,
                density_kg_m3=density / share,
            )
        self.film_faces = {"none": (0, 0), "top": (1, 0), "bottom": (0, 1), "both": (1, 1)}[covering.wings]

    def pieces(
        self, line: list[Point], names: str, *, films: tuple[bool, bool]
    ) -> tuple[list[Piece], Cell | None]:
        """Core, papers and films along a line; and the flat tube that two papers make."""
        made = [strip(f"core{names}", self.core, tuple(line), self.core_thickness)]
        half = 0.5 * (self.core_thickness + self.paper_thickness)
        cell = None
        if self.paper is not None:
            made.append(strip(f"upper paper{names}", self.paper, _off(line, half), self.paper_thickness))
            if self.papers == 2:
                made.append(strip(f"lower paper{names}", self.paper, _off(line, -half), self.paper_thickness))
                cell = self._papers_as_tube(sum(math.dist(a, b) for a, b in pairwise(line)))
        if self.film is not None:
            out = half + 0.5 * self.film_thickness
            if films[0] and self.film_faces[0]:
                made.append(strip("upper covering", self.film, _off(line, out), self.film_thickness))
            if films[1] and self.film_faces[1]:
                made.append(strip("lower covering", self.film, _off(line, -out), self.film_thickness))
        return made, cell

    def _papers_as_tube(self, width: float) -> Cell:
        """Two papers on one board, laid flat: a bend or an arc twists as its developed width does."""
        assert self.paper is not None
        half, z = 0.5 * width, 0.5 * (self.core_thickness + self.paper_thickness)
        wall, edge = (self.paper_thickness, self.paper.shear_modulus_pa), (1.0, math.inf)
        return Cell(
            points_m=((-half, -z), (half, -z), (half, z), (-half, z)),
            walls=(wall, edge, wall, edge),
            efficiency=paper_tube_efficiency(
                chord_m=width,
                core_thickness_m=self.core_thickness,
                core_shear_pa=self.core.shear_modulus_pa,
                paper_thickness_m=self.paper_thickness,
                paper_shear_pa=self.paper.shear_modulus_pa,
            ),
        )

    def tube(self, lower: list[Point], upper: list[Point]) -> Cell:
        """Two skins joined at both edges: a closed tube whose walls are whole boards."""
        per_length = self.core.shear_modulus_pa * self.core_thickness
        if self.paper is not None:
            per_length += self.papers * self.paper.shear_modulus_pa * self.paper_thickness
        corners = (*lower, *reversed(upper))
        return Cell(points_m=corners, walls=tuple((1.0, per_length) for _ in corners))


def rod_material(item: Rod) -> Material:
    """A rod's material from the stock's figures; a metal is known by its density."""
    if item.outer_diameter_m > 0:
        area = 0.25 * math.pi * (item.outer_diameter_m**2 - item.inner_diameter_m**2)
    else:
        area = item.width_m * item.thickness_m
    density = item.linear_density_kg_m / area
    shear = item.modulus_pa / (2.6 if density > 2500.0 else 20.0)
    return Material(
        name=item.name,
        modulus_pa=item.modulus_pa,
        shear_modulus_pa=shear,
        tension_pa=item.strength_pa,
        compression_pa=item.strength_pa,
        density_kg_m3=density,
    )


def _spar(name: str, item: Rod, x: float, line: list[Point], sheet: Sheet) -> Piece:
    """A rod in its groove, flush with the lower face."""
    width, depth = (1e-3 * v for v in laid_in(item, 1e3 * sheet.thickness_m))
    z = _height(line, x) - 0.5 * sheet.thickness_m + 0.5 * depth
    if item.outer_diameter_m > 0:
        return rod(name, rod_material(item), item.outer_diameter_m, (x, z), inner_m=item.inner_diameter_m)
    return rectangle(name, rod_material(item), width, depth, (x, z))
