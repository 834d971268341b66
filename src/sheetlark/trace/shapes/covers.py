"""Wing and tail sections drawn across or beside the body in the side view.

Their ends are known from the top view; height, tilt and shape are fitted to the ink, so that a section that pokes out
of the body is not taken for the body's own edge. A section is a lens, or a plank: two level lines closed at both ends.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.inkgrid import Ink, InkGrid
from sheetlark.trace.shapes.sections import thickness

_Shape = tuple[float, float, bool]  # a cover's `thick`, `under` and `plank`
_LENSES: tuple[_Shape, ...] = tuple((t, u, False) for t in (0.04, 0.065, 0.09, 0.12) for u in (0.0, 0.4, 0.9))
_THICKEST = 0.12  # of its chord, a plank
_POINTS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """A drawn section: x of its ends, height of its leading edge, how much lower its trailing edge is. [mm]

    thick, under : height of the upper line over the chord line, relative to the chord (doubled), and the depth of
    the lower line as a share of it.
    plank : whether its lines are level, as thick everywhere.
    strength : how much of its line is inked, 0..1.
    """

    lead: float
    trail: float
    z: float
    drop: float
    thick: float
    under: float
    plank: bool
    strength: float

    def lines(self, x: Floats, *, beyond: float = 0.0) -> tuple[Floats, Floats]:
        """Upper and lower line at x; nan further than `beyond` outside its ends."""
        chord = self.trail - self.lead
        t = (x - self.lead) / chord
        inside = (t >= -beyond / chord) & (t <= 1.0 + beyond / chord)
        t = np.clip(t, 0.0, 1.0)
        y = _profile(t, self.plank) * self.thick * chord
        mid = self.z - self.drop * t
        return np.where(inside, mid + y, np.nan), np.where(inside, mid - self.under * y, np.nan)


def _profile(t: Floats, plank: bool) -> Floats:
    return np.full_like(t, 0.5) if plank else thickness(t)


def _strength(
    grid: InkGrid,
    values: Floats,
    a: Floats,
    b: Floats,
    z: Floats,
    drop: Floats,
    shape: _Shape,
    pen: float,
) -> Floats:
    """Share of both lines, and of a plank's two ends, that is inked, the least of them, less what is inked just outside."""
    t = 0.5 - 0.5 * np.cos(np.linspace(0.05, np.pi - 0.05, _POINTS))
    chord = (b - a)[:, None]
    x = a[:, None] + chord * t
    thick, under, plank = shape
    y = chord * _profile(t, plank) * thick
    mid = z[:, None] - drop[:, None] * t
    up, down = mid + y, mid - under * y
    on = np.minimum(grid.at(values, x, up).mean(1), grid.at(values, x, down).mean(1))
    if plank:
        share = np.linspace(0.0, 1.0, 7)
        for end, k in ((a, 0), (b, -1)):
            high = down[:, k, None] + share * (up - down)[:, k, None]
            on = np.minimum(on, grid.at(values, end[:, None] + 0.0 * share, high).mean(1))
    some = np.nonzero((t > 0.06) & (t < 0.8))[0][::2]
    halo = 1.4 * pen + 2.0 * grid.step
    beside = grid.at(grid.fine, x[:, some], up[:, some] + halo).mean(1)
    beside = beside + grid.at(grid.fine, x[:, some], down[:, some] - halo).mean(1)
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
    step = 0.005 * span
    chord = 0.5 * (trail[0] + trail[1]) - 0.5 * (lead[0] + lead[1])
    if chord < 0.05 * span or heights[1] - heights[0] < step:
        return None
    low = (lead[0] - step, heights[0] - 0.12 * chord - step)
    high = (trail[1] + step, heights[1] + 0.12 * chord + step)
    grid = InkGrid.of(ink, low, high, max(0.001 * span, 0.4 * pen))
    a = np.arange(lead[0], lead[1] + 0.5 * step, step)
    b = np.arange(trail[0], trail[1] + 0.5 * step, step)
    z = np.arange(heights[0], heights[1] + step, step)
    drop = np.arange(-0.02, 0.061, 0.02) * chord
    starts = [_best(grid, a, b, z, drop, _LENSES, reach=0.6 * step, pen=pen)]
    for middle, thick in _level_pairs(grid, lead[1], trail[0], _THICKEST * chord, reach=0.6 * step, pen=pen):
        plank = ((thick / chord, 1.0, True),)
        starts.append(_best(grid, a, b, np.array([middle]), np.zeros(1), plank, reach=0.6 * step, pen=pen))
    found = [_finer(grid, c, step, chord, pen=pen) for c in starts if c is not None and c.strength >= 0.4]
    best = max(found, key=lambda c: c.strength, default=None)
    return best if best is not None and best.strength > 0.6 else None


def _level_pairs(
    grid: InkGrid, lead: float, trail: float, most: float, *, reach: float, pen: float
) -> list[tuple[float, float]]:
    """Middle and distance of each two level lines drawn between two places, at the `most` as far apart as that. [mm]"""
    from scipy import ndimage

    columns = slice(*(int((x - grid.low[0]) / grid.step) for x in (lead, trail)))
    drawn = grid.wide(grid.step)[columns].mean(0)
    peak = drawn == ndimage.maximum_filter1d(drawn, 2 * max(1, round(reach / grid.step)) + 1)
    z = grid.low[1] + grid.step * np.nonzero(peak & (drawn > 0.5))[0]
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
        if best.strength < 0.4:
            return replace(best, strength=0.0)
        fine = step * 0.45**k
        move = fine * np.array([-1.0, 0.0, 1.0])
        unders = (0.0,) if best.plank else (-0.15 / k, 0.0, 0.15 / k)
        shapes = tuple(
            (best.thick * f, min(max(best.under + u, -0.2), 1.2), best.plank)
            for f in (0.88, 1.0, 1.13)
            for u in unders
        )
        drops = best.drop + 0.01 / k * chord * np.array([-1.0, 0.0, 1.0])
        ends = best.lead + move, best.trail + move
        finer = _best(grid, *ends, best.z + move, drops, shapes, reach=0.5 * fine, pen=pen)
        best = replace(best, strength=0.0) if finer is None else finer
    return best


def _best(
    grid: InkGrid,
    lead: Floats,
    trail: Floats,
    z: Floats,
    drop: Floats,
    shapes: tuple[_Shape, ...],
    *,
    reach: float,
    pen: float,
) -> Cover | None:
    a, b, h, d = (m.ravel() for m in np.meshgrid(lead, trail, z, drop, indexing="ij"))
    values = grid.wide(reach)
    best: Cover | None = None
    chord = float(trail.mean() - lead.mean())
    for s in shapes:
        if 0.5 * s[0] * (1.0 + s[1]) * chord < 2.5 * pen:
            continue  # both lines would lie on one stroke
        strength = _strength(grid, values, a, b, h, d, s, pen)
        i = int(strength.argmax())
        if best is None or strength[i] > best.strength:
            best = Cover(
                lead=float(a[i]),
                trail=float(b[i]),
                z=float(h[i]),
                drop=float(d[i]),
                thick=s[0],
                under=s[1],
                plank=s[2],
                strength=float(strength[i]),
            )
    return best
