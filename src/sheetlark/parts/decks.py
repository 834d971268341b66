"""Decks: curved over the body's top, bent from one sheet, or laid in planks where one sheet cannot follow.

A deck bent from one sheet is part of a cone: straight from its first station to its last, both ends similar arcs.
The *stated shape* follows the body instead, its width and its top edge station by station, its crown in between
from `height` to `end_height`. How far the two stand apart decides whether one sheet will do.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from sheetlark.airframe import BodyShape
from sheetlark.design import Deck
from sheetlark.errors import GeometryError
from sheetlark.outline import Floats
from sheetlark.parts.bending import arc_points, ruled, score_note
from sheetlark.parts.blank import Blank, drawn
from sheetlark.parts.body import Shell, former_shape, shell_of
from sheetlark.parts.facets import MITRE
from sheetlark.parts.fits import BEND_MM, EDGE_FIT_MM, PLANK_OFF_MM
from sheetlark.parts.kept import Kept, keep
from sheetlark.parts.part import Bevel, Joint, point3, to_port
from sheetlark.parts.planking import Plank, Planking, fewest_planks, planked
from sheetlark.parts.shadows import shadow_of_all
from sheetlark.parts.solids import Solid, bounds, polygons, solid_stamp

_FACETS = 12  # a bent deck's arc; its developed width is exact whatever their number
_CREASE_RAD = math.radians(2.0)  # a plank that bends less is pressed to its place without a score
_SEAM_MARK_MM = 1.5  # from the edge to the line that says what is glued to it
_STATION_MM = 50.0  # between stations of a crown that changes its shape
_ACROSS = 120  # points of a stated section; planks find their edges among them


def key_of(shell: Shell, deck: Deck) -> str:
    """The deck's key in the design."""
    return "fore_deck" if deck is shell.body.stated.fore_deck else "aft_deck"


def _crown(shell: Shell, deck: Deck, x: Floats) -> tuple[Floats, Floats]:
    """Width over the sides' middles and stated height of the crown at stations. [mm]."""
    width = 2 * np.interp(x, shell.middle[:, 0], shell.middle[:, 1])
    x0, x1 = 1e3 * deck.start, 1e3 * deck.end
    if deck.end_height is not None:
        return width, np.interp(x, [x0, x1], [1e3 * deck.height, 1e3 * deck.end_height])
    wide = max(float(np.interp(s, shell.middle[:, 0], 2 * shell.middle[:, 1])) for s in (x0, x1))
    foot = _foot(shell.t, wide, 1e3 * deck.height)
    return width, foot + (1e3 * deck.height - foot) * width / wide  # all arcs alike


def _foot(t: float, width: float, height: float, planks: int = 0) -> float:
    """How far a deck's middle surface starts above the side's edge, so that its inner corner just meets it."""
    half = 2.0 * math.atan2(2.0 * height, width)
    return 0.5 * t * math.cos(half * (1.0 - 1.0 / planks) if planks else half)


def deck_sections(shell: Shell, deck: Deck, count: int = _FACETS) -> tuple[Floats, Floats]:
    """Facet corners of a bent deck's middle surface at its two ends, each shape (count + 1, 3). [mm].

    Both sections are similar arcs, height in proportion to width, so that the deck is part of a cone (or a
    cylinder) and lies flat exactly. The taller end is as stated.
    """
    x = 1e3 * np.array([deck.start, deck.end])
    widths, heights = _crown(shell, deck, x)
    tall = int(np.argmax(heights))
    wide, height = float(widths[tall]), float(heights[tall])
    foot = _foot(shell.t, wide, height)
    where = ("body", key_of(shell, deck))
    if height - foot < 1.0:
        raise GeometryError(
            f"a deck {height:.1f} mm high of {shell.t:.1f} mm sheet is flat; give it more height, or cover the top",
            where,
        )
    ends = []
    for station, w in zip(x, widths, strict=True):
        try:
            arc = arc_points(float(w), (height - foot) * float(w) / wide, count)
        except GeometryError as error:
            raise GeometryError(str(error), where) from None
        z = shell.heights(float(station))[1] + foot
        ends.append(np.column_stack([np.full(len(arc), station), arc[:, 0], z + arc[:, 1]]))
    return ends[0], ends[1]


def stated_shape(shell: Shell, deck: Deck, planks: int) -> Floats:
    """Sections of a deck's stated middle surface, shape (n, m, 3), from its start to its end. [mm].

    planks : how many will stand there, which says where their inner corners meet the sides
    """
    from shapely.geometry import LineString

    where = ("body", key_of(shell, deck))
    x0, x1 = 1e3 * deck.start, 1e3 * deck.end
    profile = np.asarray(shell.body.profile_mm)[:, 0]
    # An arc that grows rounder or flatter on its way is not ruled straight between its ends.
    even = np.linspace(x0, x1, 1 + (math.ceil((x1 - x0) / _STATION_MM) if deck.end_height is not None else 1))
    kinks = [v for v in (*profile, *shell.middle[:, 0]) if x0 < v < x1 and np.abs(even - v).min() > 1.0]
    at = np.unique([*even, *kinks])
    width, height = _crown(shell, deck, at)
    top = np.array([shell.heights(float(v))[1] for v in at])
    # Stations between which width, edge and crown run straight; what the others bend is under a builder's hand.
    keep = {int(np.argmin(np.abs(at - v))) for v in even}
    for run in (width / 2, top, top + height):
        line = LineString(np.column_stack([at, run])).simplify(BEND_MM)
        keep |= {int(np.argmin(np.abs(at - v))) for v, _ in line.coords}
    found = []
    for i in sorted(keep):
        foot = _foot(shell.t, float(width[i]), float(height[i]), planks)
        rise = float(height[i]) - foot
        across = np.linspace(-0.5 * width[i], 0.5 * width[i], _ACROSS + 1)
        arc = np.column_stack([across, np.zeros_like(across)])
        if rise > 0.05:  # lower is flat, as where a deck runs out into the top
            try:
                arc = arc_points(float(width[i]), rise, _ACROSS)
            except GeometryError as error:
                raise GeometryError(str(error), where) from None
        found.append(np.column_stack([np.full(len(arc), at[i]), arc[:, 0], top[i] + foot + arc[:, 1]]))
    return np.array(found)


@lru_cache(maxsize=32)
def plank_plan(shell: Shell, deck: Deck) -> Planking | None:
    """A deck's planks; None where it is bent from one sheet.

    Raises
    ------
    GeometryError
        If no number of planks follows its shape.
    """
    if deck.planks == 1:
        return None
    try:
        if deck.planks == "auto":
            return fewest_planks(stated_shape(shell, deck, 5), PLANK_OFF_MM, least=2)
        return planked(stated_shape(shell, deck, deck.planks), deck.planks)
    except GeometryError as error:
        raise GeometryError(str(error), error.where or ("body", key_of(shell, deck), "planks")) from None


@dataclass(frozen=True, slots=True, kw_only=True)
class DeckFit:
    """How near a deck bent from one sheet comes to its stated shape.

    key : of the deck in the design
    off_mm : furthest that the two stand apart [mm]
    at_mm : the station where they do [mm]
    planks : how many planks would keep within `PLANK_OFF_MM`; None where no number does
    """

    key: str
    off_mm: float
    at_mm: float
    planks: int | None


def deck_fits(body: BodyShape) -> tuple[DeckFit, ...]:
    """Each deck that is bent from one sheet, against its stated shape."""
    shell = shell_of(body)
    return tuple(_deck_fit(shell, deck) for deck in body.decks if deck.planks == 1)


def _deck_fit(shell: Shell, deck: Deck) -> DeckFit:
    import shapely

    grid = stated_shape(shell, deck, 0)
    first, second = deck_sections(shell, deck, _ACROSS)
    worst = (0.0, float(grid[0, 0, 0]))
    for section in grid:
        x = float(section[0, 0])
        share = (x - first[0, 0]) / (second[0, 0] - first[0, 0])
        bent = shapely.LineString((first + share * (second - first))[:, 1:])
        off = float(shapely.distance(shapely.points(section[:, 1:]), bent).max())
        worst = max(worst, (off, x))
    try:
        planks = len(fewest_planks(stated_shape(shell, deck, 5), PLANK_OFF_MM, least=2).planks)
    except GeometryError:
        planks = None
    return DeckFit(key=key_of(shell, deck), off_mm=worst[0], at_mm=worst[1], planks=planks)


def _radius(section: Floats) -> float:
    """Of the arc through a section's ends and its middle. [mm]."""
    width = float(np.linalg.norm(section[-1] - section[0]))
    height = float(section[len(section) // 2, 2] - section[0, 2])
    return (0.25 * width**2 + height**2) / (2.0 * height)


def deck_blank(shell: Shell, deck: Deck, name: str) -> Blank:
    """A curved deck, unrolled."""
    first, second = deck_sections(shell, deck)
    body = shell.body
    key = (first.tobytes(), second.tobytes(), name, body.sheet, body.paper, shell.t)
    return drawn(key, lambda: _deck_blank(shell, first, second, name))


def _deck_blank(shell: Shell, first: Floats, second: Floats, name: str) -> Blank:
    from shapely.geometry import Polygon

    outline, facets, rulings = ruled(first, second)
    body = shell.body
    blank = Blank(
        name=name,
        group="body",
        sheet=body.sheet,
        paper=body.paper,
        thickness=shell.t,
        shape=Polygon(outline).buffer(0),
        facets=facets,
        face="outside",
        where=("body", name.replace(" ", "_")),
    )
    if blank.matrix[2, 2] < 0:
        blank.face = "inside"
    gaps = np.linalg.norm(np.diff(rulings, axis=0), axis=2)
    tight = min(_radius(first), _radius(second))
    how = score_note(tight, shell.t, paper=body.paper, marked=blank.face == "inside")
    for k, (a, b) in enumerate(rulings[1:-1]):
        note = "" if k else f"{len(rulings) - 2} scores, {gaps.max():.1f} mm apart: {how}"
        blank.mark("score", [(float(a[0]), float(a[1])), (float(b[0]), float(b[1]))], note)
    return blank


@dataclass(slots=True, eq=False)
class Seam:
    """The edge two planks share.

    first, second : names of both blanks, one name where a plank meets its own mirror image
    on_first, on_second : its run on either sheet, shape (n, 2) [mm]
    in_space : the same points in place, shape (n, 3) [mm]
    bevel_rad : how far each edge is slanted so that they meet, mean of the run [rad]
    """

    first: str
    second: str
    on_first: Floats
    on_second: Floats
    in_space: Floats
    bevel_rad: float


def plank_blanks(shell: Shell, deck: Deck, name: str, plan: Planking) -> tuple[list[Blank], list[Seam]]:
    """A deck in planks, each edge slanted so that it meets its neighbour's; and the seams between them.

    Planks that mirror each other are one pattern, numbered from the side up.
    """
    from shapely.geometry import Polygon

    body = shell.body
    starboard = list(reversed(plan.planks[len(plan.planks) // 2 :]))
    middle = len(plan.planks) % 2 == 1
    blanks = []
    for k, plank in enumerate(starboard):
        blank = Blank(
            name=f"{name} plank {k + 1}",
            group="body",
            sheet=body.sheet,
            paper=body.paper,
            thickness=shell.t,
            # A hair is left for the glue, so that edges that meet do not overlap by rounding.
            shape=Polygon(plank.outline).buffer(-EDGE_FIT_MM / 2, join_style=MITRE),
            facets=plank.facets,
            sides="one" if middle and plank is starboard[-1] else "pair",
            face="inside",
            where=("body", key_of(shell, deck), "planks"),
        )
        for (a, b), turn in zip(plank.creases, plank.turns_rad, strict=True):
            if turn > _CREASE_RAD:
                blank.mark("score", [_point(a), _point(b)])
        blanks.append(blank)
    seams = [
        _seam(blanks[k], starboard[k], blanks[k - 1], starboard[k - 1], shell.t)
        for k in range(1, len(starboard))
    ]
    port = plan.planks[(len(plan.planks) - 1) // 2 - middle]
    if middle:
        _slant(blanks[-1], None, port, starboard[-1], shell.t)  # its other edge; the seam mirrors the last
    else:
        seams.append(_seam(None, port, blanks[-1], starboard[-1], shell.t))
    return blanks, seams


def _seam(first: Blank | None, left: Plank, second: Blank, right: Plank, thickness: float) -> Seam:
    """The edge of two neighbours, the second to starboard; the first is None where it mirrors the second."""
    bevel = _slant(second, first, left, right, thickness)
    n = len(left.outline) // 2
    mine, yours = left.outline[:n], right.outline[n:][::-1]
    return Seam(
        first=second.name if first is None else first.name,
        second=second.name,
        on_first=yours if first is None else mine,
        on_second=yours,
        in_space=right.left,
        bevel_rad=bevel,
    )


def _slant(second: Blank, first: Blank | None, left: Plank, right: Plank, thickness: float) -> float:
    """Slant the edges that two neighbours share, on the blanks given; mean of the angle on each. [rad]."""
    n = len(left.outline) // 2
    mine, yours = left.outline[:n], right.outline[n:][::-1]
    angles = []
    for i in range(n - 1):
        run = np.linalg.norm(yours[i + 1] - yours[i])
        if run < 1.0:
            continue
        low, high = left.leans_to(right, i)
        angles.append(0.5 * (low + high))
        on = thickness / 2 / run
        # Planks meet on their middle surface; the side they lean to is slanted, the other left to gape. Each slant
        # runs on a little, for the crease between two cells does not stand square to the edge.
        for angle, side in ((high, thickness / 2), (-low, -thickness / 2)):
            if angle < 1e-4:
                continue
            setback = thickness / 2 * math.tan(angle / 2) + EDGE_FIT_MM
            for blank, a, b in ((first, mine[i], mine[i + 1]), (second, yours[i + 1], yours[i])):
                if blank is not None:
                    start, end = _point(a - on * (b - a)), _point(b + on * (b - a))
                    blank.bevels.append(
                        Bevel(start=start, end=end, from_w_mm=0.0, to_w_mm=side, setback_mm=setback)
                    )
    return 0.5 * abs(float(np.mean(angles))) if angles else 0.0


def _point(p: Floats) -> tuple[float, float]:
    return (float(p[0]), float(p[1]))


def _kept(line: Floats, blank: Blank) -> list[tuple[float, float]]:
    """The stretches of a seam, from its start, along which a plank still has its edge. [mm]."""
    from shapely.geometry import LineString, Point

    run = LineString(line)
    near = run.intersection(blank.shape.buffer(0.5))
    ends = [
        [run.project(Point(c)) for c in (g.coords[0], g.coords[-1])]
        for g in getattr(near, "geoms", [near])
        if g.geom_type == "LineString" and g.length > 1.0
    ]
    return [(min(e), max(e)) for e in ends]


def seam_joint(seam: Seam, first: Blank, second: Blank) -> Joint | None:
    """The glue along what is left of an edge two planks share; None where nothing is left of it.

    first, second : what the two planks were cut to
    """
    from shapely.geometry import LineString

    mine, yours = _kept(seam.on_first, first), _kept(seam.on_second, second)
    steps = np.linalg.norm(np.diff(seam.in_space, axis=0), axis=1)
    s = np.concatenate([[0.0], np.cumsum(steps)])
    runs = []
    both = ((first, second, seam.on_first, 1.0), (second, first, seam.on_second, -1.0))
    alone = first is second
    for a, b in itertools.product(mine, yours):
        low, high = max(a[0], b[0]), min(a[1], b[1])
        if high - low < 3.0:
            continue
        at = np.unique([low, *(v for v in s if low < v < high), high])
        run = tuple(point3(np.array([np.interp(v, s, seam.in_space[:, k]) for k in range(3)])) for v in at)
        runs.append(run)
        if not alone:
            runs.append(tuple(to_port(p) for p in run))
        for blank, other, line, sign in both[1:] if alone else both:
            points = np.array([LineString(line).interpolate(v).coords[0] for v in at])
            along = points[-1] - points[0]
            inwards = sign * np.array([-along[1], along[0]]) / np.linalg.norm(along)
            word = "its mirror image" if alone else other.name.split("deck ", 1)[1]
            blank.mark(
                "glue",
                [_point(p + _SEAM_MARK_MM * inwards) for p in points],
                f"to {word}, edge slanted {math.degrees(seam.bevel_rad):.0f}°",
            )
    if not runs:
        return None
    return Joint(kind="butt", first=first.name, second=second.name, held="glue", runs_mm=tuple(runs))


def under_deck(deck: list[Solid], shell: Shell, x: float, matrix: Floats, thickness: float) -> Any:
    """The room under a deck, flat by flat, at a station, as a polygon (y, z) joined to the box below; None if none."""
    reach = np.array([bounds(flat) for flat in deck])
    low, high = reach[:, 0].min(), reach[:, 3].max()
    if not low - thickness < x < high + thickness:
        return None  # it stands before or behind the deck
    key = (*(solid_stamp(flat) for flat in deck), shell, x, matrix.tobytes(), thickness)
    return _ROOMS.get(key, lambda: _under_deck(deck, shell, x, matrix, thickness))


_ROOMS: Kept[Any] = keep(60)


def _under_deck(deck: list[Solid], shell: Shell, x: float, matrix: Floats, thickness: float) -> Any:
    from shapely.geometry import box
    from shapely.ops import unary_union

    arch = shadow_of_all(deck, matrix, thickness)
    if arch is None:
        return None
    arches = polygons(arch)
    if not arches:
        return None
    arch = max(arches, key=lambda p: p.area)
    half, low, high = former_shape(shell, x, thickness)
    hull = unary_union([arch, box(-half, low, half, high)]).convex_hull
    room = hull.difference(arch).intersection(box(-half, 0.5 * (low + high), half, high + 200.0))
    return max(polygons(room), key=lambda p: p.area, default=None)
