"""Wing and tail sections drawn across or beside the body in the side view.

Their ends are known from the top view; height, tilt and shape are fitted to the ink, so that a section that pokes out
of the body is not taken for the body's own edge. A section is a wing's, round ahead and sharp behind, below the chord line
a share of what it is above it, or both about a mean line; an ellipse, as a quick hand draws it; or a plank: two level lines
closed at both ends.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, fields, replace
from typing import Literal

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.inkgrid import Ink, InkGrid
from sheetlark.trace.shapes.section_figures import thickness

_Form = Literal["section", "ellipse", "plank"]
_THICKNESS = 0.04, 0.12  # of its chord
_PLANK = 0.18  # of its chord, the thickest plank
_UNDER = 0.0, 0.9
_CAMBER = 0.01, 0.04  # of its chord, a mean line's height
_DROP = -0.02, 0.06  # of its chord, by how much the trailing edge is lower
_SOLID = 0.8  # how dark it is on both sides of what is no line
_SHARES: Floats = 0.5 - 0.5 * np.cos(
    np.linspace(0.05, np.pi - 0.05, 20)
)  # of the chord, where its lines are looked at
_LEVEL_LINES = 16  # looked at in pairs
_LEAST = 0.4  # of its lines inked, to be looked at more closely
_EITHER = np.array([-1.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A section's lines about its chord line, relative to the chord.

    thick, under : height of the upper line over the mean line (doubled), and the depth of the lower one as a share of it.
    camber : how high the mean line rises half-way.
    """

    thick: float
    under: float = 1.0
    camber: float = 0.0
    form: _Form = "section"

    @property
    def thickness(self) -> float:
        return 0.5 * self.thick * (1.0 + self.under)

    def lines(self, t: Floats) -> tuple[Floats, Floats]:
        """Upper and lower line over the share of the chord."""
        if self.form == "plank":
            y = np.full_like(t, 0.5)
        else:
            y = thickness(t) if self.form == "section" else np.sqrt(np.maximum(t * (1.0 - t), 0.0))
        mean = 4.0 * self.camber * t * (1.0 - t)
        return mean + self.thick * y, mean - self.thick * self.under * y

    def near(self, k: int, apart: float) -> tuple[Shape, ...]:
        """Shapes a little thicker, thinner, fuller below or more cambered than this, less so with every step.

        apart : how far the lines of those it was chosen from are from each other, relative to the chord.
        """
        bends = min(0.004, 0.35 * apart) / k * _EITHER if self.camber else np.zeros(1)
        unders = np.zeros(1)
        if self.form == "section" and not self.camber:
            unders = min(0.15, 0.7 * apart / self.thick) / k * _EITHER
        thicker = min(0.12 * self.thick, 0.7 * apart / k) * _EITHER
        return tuple(
            replace(
                self,
                thick=self.thick + t,
                under=min(max(self.under + u, 0.0), 1.2),
                camber=self.camber + c,
            )
            for t in thicker.tolist()
            for u in unders.tolist()
            for c in bends.tolist()
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """A drawn section: x of its ends, height of its leading edge, how much lower its trailing edge is. [mm]

    shape : its lines about the chord line.
    strength : how much of its line is inked, 0..1.
    """

    lead: float
    trail: float
    z: float
    drop: float
    shape: Shape
    strength: float

    def lines(self, x: Floats, *, beyond: float = 0.0) -> tuple[Floats, Floats]:
        """Upper and lower line at x; nan further than `beyond` outside its ends."""
        chord = self.trail - self.lead
        t = (x - self.lead) / chord
        inside = (t >= -beyond / chord) & (t <= 1.0 + beyond / chord)
        t = np.clip(t, 0.0, 1.0)
        above, below = self.shape.lines(t)
        mid = self.z - self.drop * t
        return np.where(inside, mid + above * chord, np.nan), np.where(inside, mid + below * chord, np.nan)


def _spread(ends: tuple[float, float], apart: float, least: int) -> list[float]:
    """Evenly spaced numbers from one to the other, no further apart than that, and at the least so many."""
    low, high = ends
    return [float(v) for v in np.linspace(low, high, max(least, 1 + math.ceil((high - low) / apart)))]


@dataclass(frozen=True, slots=True)
class _Places:
    """Places of a section, all of shape (n,): x of its ends, height of its leading edge, by how much the other is lower.

    row : ndarray, shape (n, len(_SHARES)), in the grid, of the chord line's points there; those of all shapes lie on it.
    middle : their heights. [mm]
    """

    lead: Floats
    trail: Floats
    z: Floats
    drop: Floats
    row: Floats
    middle: Floats

    @classmethod
    def every(cls, grid: InkGrid, lead: Floats, trail: Floats, z: Floats, drop: Floats) -> _Places:
        """All places with such ends, heights and drops, the first's varying least."""
        row = grid.row(lead[:, None, None] + (trail - lead[:, None])[..., None] * _SHARES)
        middle = z[:, None, None] - drop[:, None] * _SHARES
        a, b, high, lower = (m.ravel() for m in np.meshgrid(lead, trail, z, drop, indexing="ij"))
        return cls(
            a,
            b,
            high,
            lower,
            np.repeat(row.reshape(-1, _SHARES.size), z.size * drop.size, 0),
            np.tile(middle.reshape(-1, _SHARES.size), (lead.size * trail.size, 1)),
        )

    def some(self, which: Mask) -> _Places:
        return _Places(*(getattr(self, f.name)[which] for f in fields(self)))

    def line(self, off: Floats) -> Floats:
        """Heights of a line that lies `off` above the chord line, relative to the chord; shape (n, len(_SHARES))."""
        return np.asarray(self.middle + (self.trail - self.lead)[:, None] * off)


def _strength(
    grid: InkGrid, values: Floats, places: _Places, above: Floats, shape: Shape, pen: float
) -> Floats:
    """Share of both lines, and of a plank's two ends, that is inked, the least of them, less what is inked just outside.

    above : the share of the upper line. Shape (n,), of both.
    """
    up, down = (places.line(off) for off in shape.lines(_SHARES))
    on = np.minimum(above, grid.at_places(values, places.row, grid.column(down)).mean(1))
    if shape.form == "plank":
        share = np.linspace(0.0, 1.0, 7)
        ends = []
        for end, k in ((places.lead, 0), (places.trail, -1)):
            high = down[:, k, None] + share * (up - down)[:, k, None]
            ends.append(grid.at(values, end[:, None] + 0.0 * share, high).mean(1))
        on = np.minimum(on, 0.5 * (ends[0] + ends[1]))  # a break may lie across one of them
    some = np.nonzero((_SHARES > 0.06) & (_SHARES < 0.8))[0][::2]
    halo = 1.4 * pen + 2.0 * grid.step
    row = places.row[:, some]
    beside = grid.at_places(grid.fine, row, grid.column(up[:, some] + halo)).mean(1)
    beside = beside + grid.at_places(grid.fine, row, grid.column(down[:, some] - halo)).mean(1)
    return np.asarray(on - 0.15 * beside)


def find_cover(
    ink: Ink,
    *,
    lead: tuple[float, float],
    trail: tuple[float, float],
    heights: tuple[float, float],
    span: float,
    pen: float,
) -> Cover | None:
    """The best-inked section whose ends lie within the given reaches; None where none is drawn.

    Parameters
    ----------
    lead, trail : lowest and highest x of its leading and of its trailing edge. [mm]
    heights : lowest and highest z of its leading edge. [mm]
    pen : width of a drawn line. [mm]
    """
    chord = 0.5 * (trail[0] + trail[1]) - 0.5 * (lead[0] + lead[1])
    step = 0.005 * max(span, chord)
    if chord < 0.05 * span or heights[1] - heights[0] < step:
        return None
    low = (lead[0] - step, heights[0] - 0.12 * chord - step)
    high = (trail[1] + step, heights[1] + 0.12 * chord + step)
    grid = InkGrid.of(ink, low, high, max(0.001 * span, 0.4 * pen))
    a = np.arange(lead[0], lead[1] + 0.5 * step, step)
    b = np.arange(trail[0], trail[1] + 0.5 * step, step)
    z = np.arange(heights[0], heights[1] + step, step)
    apart = 1.2 * step / chord  # a delta's root is so long that coarser steps would miss its section
    drop = np.array(_spread(_DROP, apart, 5)) * chord
    starts = [_best(grid, a, b, z, drop, _sections(apart), reach=0.6 * step, pen=pen)]
    for thick in _spread(_THICKNESS, 2.0 * apart, 4):  # thin ones fit any line, seen coarsely
        ellipse = (Shape(thick=thick, form="ellipse"),)
        starts.append(_best(grid, a, b, z, np.zeros(1), ellipse, reach=0.6 * step, pen=pen))
    for middle, thick in _level_pairs(grid, lead[1], trail[0], _PLANK * chord, reach=0.6 * step, pen=pen):
        plank = (Shape(thick=thick / chord, form="plank"),)
        starts.append(_best(grid, a, b, np.array([middle]), np.zeros(1), plank, reach=0.6 * step, pen=pen))
    found = [_finer(grid, c, step, chord, pen=pen) for c in starts if c is not None]
    found = [c for c in found if _shows(grid, c, pen=pen)]
    best = max(found, key=lambda c: c.strength, default=None)
    return best if best is not None and best.strength > 0.6 else None


def _shows(grid: InkGrid, cover: Cover, *, pen: float) -> bool:
    """Whether both lines of a section stand out on one side at the least, a plank's on the inner one.

    Inside a filled figure any line is inked, and a filled body's own edges lie as level as a plank's.
    """
    x = cover.lead + (cover.trail - cover.lead) * _SHARES
    up, down = cover.lines(x)
    inside, halo = grid.at(grid.fine, x, 0.5 * (up + down)), 1.4 * pen + 2.0 * grid.step
    outside = (grid.at(grid.fine, x, v) for v in (up + halo, down - halo))
    if cover.shape.form == "plank" and float(inside.mean()) > _SOLID:
        return False
    return all(float(np.minimum(inside, beside).mean()) < _SOLID for beside in outside)


def _sections(apart: float) -> tuple[Shape, ...]:
    """Sections whose lines are about that far from each other, relative to the chord."""
    thicks = _spread(_THICKNESS, 2.0 * apart, 4)
    unders = _spread(_UNDER, 2.0 * apart / _THICKNESS[1], 3)
    return tuple(Shape(thick=t, under=u) for t in thicks for u in unders) + tuple(
        Shape(thick=t, camber=c) for t in thicks for c in _spread(_CAMBER, apart, 3)
    )


def _level_pairs(
    grid: InkGrid, lead: float, trail: float, most: float, *, reach: float, pen: float
) -> list[tuple[float, float]]:
    """Middle and distance of each two level lines drawn between two places, at the `most` as far apart as that. [mm]

    Of too many, as in a hatching, the most inked lines' alone.
    """
    from scipy import ndimage

    columns = slice(*(int((x - grid.low[0]) / grid.step) for x in (lead, trail)))
    drawn = grid.wide(grid.step)[columns].mean(0)
    peak = drawn == ndimage.maximum_filter1d(drawn, 2 * max(1, round(reach / grid.step)) + 1)
    rows = np.nonzero(peak & (drawn > 0.5))[0]
    rows = np.sort(rows[np.argsort(-drawn[rows], kind="stable")][:_LEVEL_LINES])
    z = grid.low[1] + grid.step * rows
    least = pen + 2.0 * grid.step
    return [
        (0.5 * (low + high), high - low)
        for low, high in itertools.combinations(z.tolist(), 2)
        if least < high - low < most
    ]


def _finer(grid: InkGrid, cover: Cover, step: float, chord: float, *, pen: float) -> Cover:
    """The best-inked section near one, moved in ever smaller steps; with strength 0 where it was one by its reach alone."""
    best = cover
    for k in (1, 2):
        fine = step * 0.45**k
        move = fine * _EITHER
        apart = 1.2 * step / chord
        drops = best.drop + min(0.01, 0.35 * apart) / k * chord * _EITHER
        ends = best.lead + move, best.trail + move
        finer = _best(grid, *ends, best.z + move, drops, best.shape.near(k, apart), reach=0.5 * fine, pen=pen)
        if finer is None:
            return replace(best, strength=0.0)
        best = finer
    return best


def _best(
    grid: InkGrid,
    lead: Floats,
    trail: Floats,
    z: Floats,
    drop: Floats,
    shapes: tuple[Shape, ...],
    *,
    reach: float,
    pen: float,
) -> Cover | None:
    """The best-inked section of all places and shapes; None where none is inked by `_LEAST`."""
    everywhere = _Places.every(grid, lead, trail, z, drop)
    values = grid.wide(reach)
    best: Cover | None = None
    chord = float(trail.mean() - lead.mean())
    # of sections with the same upper line only the lower one need be tried, and where the upper one is inked enough
    uppers: dict[Shape, tuple[_Places, Floats]] = {}
    for s in shapes:
        if s.thickness * chord < 2.5 * pen:
            continue  # both lines would lie on one stroke
        upper = replace(s, under=1.0)
        if upper not in uppers:
            up = everywhere.line(s.lines(_SHARES)[0])
            above = grid.at_places(values, everywhere.row, grid.column(up)).mean(1)
            inked = above >= _LEAST
            uppers[upper] = everywhere.some(inked), above[inked]
        places, above = uppers[upper]
        if not above.size:
            continue
        strength = _strength(grid, values, places, above, s, pen)
        i = int(strength.argmax())
        if strength[i] >= _LEAST and (best is None or strength[i] > best.strength):
            best = Cover(
                lead=float(places.lead[i]),
                trail=float(places.trail[i]),
                z=float(places.z[i]),
                drop=float(places.drop[i]),
                shape=s,
                strength=float(strength[i]),
            )
    return best
