"""Wing sections drawn in the side view: lens-shaped lines fitted to the ink, also where they lie across the body.

A side view shows a wing as its section at the root, or the whole half of it: then a tip that stands higher, or further
aft, makes the figure the least one without hollows that holds both sections.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.front import FrontWing
from sheetlark.trace.shapes.inkgrid import Ink, InkGrid
from sheetlark.trace.shapes.section_figures import Shape, Tip, lines_of, tip_of
from sheetlark.trace.shapes.surface import Surface

_APART = 1.5  # of the pen, how far a section's lines are from each other: nearer they would be one stroke
_UNLIKE = 0.1  # what it costs of its strength that a section is quite unlike the other wing's
_LIKE = (0.06, 0.5, 0.06)  # by how much thickness, depth below and tilt are then other
_TAIL = 0.12  # of the chord ahead of its end, from where a trailing edge's ink is followed
_FURTHER = 0.25  # of it, how far beyond at the most
_LEVELS = 6.0  # steps of the search: sections further above one another are not of one wing
_BARE = 0.35  # strength below which there is no ink
_INCIDENCE = 0.01  # tilt that is tried coarsely
_COARSE = tuple(Shape(t, u, tilt=_INCIDENCE) for t in (0.06, 0.1, 0.15) for u in (0.2, 0.6))
_FINE = tuple(
    Shape(t, u, tilt=a)
    for t in (0.05, 0.06, 0.075, 0.09, 0.105, 0.12, 0.14, 0.16, 0.18, 0.2)
    for u in (-0.1, 0.1, 0.35, 0.5, 0.65, 1.0)
    for a in (-0.02, 0.0, 0.02, 0.04, 0.06)
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A root section in the side view: x of its leading and trailing edge, height of its chord line. [mm]

    strength : how much of its line is inked, 0..1; with a tip, of the half wing's.
    """

    lead: float
    trail: float
    z: float
    shape: Shape
    strength: float

    @property
    def chord(self) -> float:
        return self.trail - self.lead


def _inked(
    grid: InkGrid,
    values: Floats,
    lead: Floats,
    chord: Floats,
    z: Floats,
    shapes: tuple[Shape, ...],
    *,
    pen: float,
    points: int,
) -> Floats:
    """Share of the section's two lines that is inked, less what lies beside and between them, of every shape at every place.

    Shape (shapes, places).
    """
    on, upper, lower, t = _on_lines(grid, values, lead, chord, z, shapes, points=points)
    mid = np.nonzero((t > 0.06) & (t < 0.75))[0][:: 2 if points > 20 else 1]
    halo = 1.3 * pen + 1.5 * grid.step
    u, d = upper.some(mid), lower.some(mid)
    between = u.row if lower.row is upper.row else grid.row(0.5 * (u.x + d.x))
    beside = (
        grid.at_places(grid.fine, u.row, grid.column(u.z + halo)).mean(-1)
        + grid.at_places(grid.fine, d.row, grid.column(d.z - halo)).mean(-1)
        + grid.at_places(grid.fine, between, grid.column(0.5 * (u.z + d.z))).mean(-1)
    )
    return np.asarray(on - 0.15 * beside)


class _Run(NamedTuple):
    """Where a figure's line runs: its places, and the grid's rows they lie in. [mm]"""

    x: Floats
    z: Floats
    row: Floats

    def some(self, which: npt.NDArray[np.int64]) -> _Run:
        return _Run(*(v[..., which] for v in self))


def _on_lines(
    grid: InkGrid,
    values: Floats,
    lead: Floats,
    chord: Floats,
    z: Floats,
    shapes: tuple[Shape, ...],
    *,
    points: int,
) -> tuple[Floats, _Run, _Run, Floats]:
    """Share of the worse inked of a figure's two lines that is inked; upper, lower line; how far along their places lie.

    shapes : all with the same tip.
    """
    tip = shapes[0].tip
    above, below, t = lines_of(shapes, 0.0 if tip is None else round(float(np.median(chord)), 1), points)
    x = above.x(lead, chord)
    upper = lower = _Run(x, above.height(z, chord), grid.row(x))
    if tip is not None:  # of root sections all lines have the same x
        x = below.x(lead, chord)
        lower = lower._replace(x=x, row=grid.row(x))
    lower = lower._replace(z=below.height(z, chord))
    inked = (grid.at_places(values, run.row, grid.column(run.z)).mean(-1) for run in (upper, lower))
    return np.asarray(np.minimum(*inked)), upper, lower, t


def _finer(grid: InkGrid, start: Section, *, reach: float, pen: float) -> Section:
    """The best-inked section near one, ends and height moved in ever smaller steps.

    A step is repeated while an end still moves by all of it: the search the start comes from knows the ends only
    to two of its own steps. Of two that fit alike the longer is right, for the thin rear end of a section is much like
    a line; but that must count for little, or the end goes off along a body's line.
    """
    best = start
    near = 0.03
    for k in range(3):
        step = reach * 0.45**k
        values = grid.wide(0.35 * step)
        for _ in range(4):
            now = _beside(grid, values, best, step, near, 0.2 / start.chord, pen)
            moved = max(abs(now.lead - best.lead), abs(now.trail - best.trail))
            best, near = now, 0.017
            if moved < 0.9 * step:
                break
    return best


def _beside(
    grid: InkGrid, values: Floats, best: Section, step: float, near: float, length: float, pen: float
) -> Section:
    """The best of those whose ends and height lie within a step of the given one's, by ink and `length` a millimetre."""
    move = step * np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
    a, b, z = (
        m.ravel() for m in np.meshgrid(best.lead + move, best.trail + move, best.z + move, indexing="ij")
    )
    shapes = tuple(
        s._replace(tip=best.shape.tip)
        for s in _FINE
        if abs(s.thick - best.shape.thick) <= near
        and abs(s.under - best.shape.under) <= 12 * near
        and abs(s.tilt - best.shape.tilt) <= near
        and s.depth * best.chord >= _APART * pen
    )
    if not shapes:
        return best
    strength = _inked(grid, values, a, b - a, z, shapes, pen=pen, points=26)
    score = strength + length * (b - a)
    k, i = np.unravel_index(int(score.argmax()), score.shape)
    if score[k, i] <= -1.0:
        return best
    return Section(
        lead=float(a[i]),
        trail=float(b[i]),
        z=float(z[i]),
        shape=shapes[k],
        strength=float(strength[k, i]),
    )


def _to_end(grid: InkGrid, s: Section, *, pen: float) -> Section:
    """The section drawn out to where its ink stops: toward the trailing edge both lines are one, in which no end shows.

    As it is where the ink goes on, as along a body's edge, or where a tip's section ends behind the root's.
    """
    if s.shape.tip is not None:
        return s
    step = grid.step
    at, height, slope = _tail(s)
    reach = 0.6 * pen + 1.5 * step
    across = np.arange(-reach, reach + 0.5 * step, step)
    while at < s.trail + _FURTHER * s.chord:
        e = grid.at(grid.fine, np.full(across.size, at), height + across)
        if e.max() < _BARE:
            beyond = at + np.arange(0.0, 1.5 * pen + 3.0 * step, step)
            ends = grid.at(grid.fine, beyond[:, None], height + 1.6 * across).max() < _BARE
            return replace(s, trail=max(s.trail, at - 0.5 * (step + pen))) if ends else s
        weight = np.clip(e - 0.2, 0.0, 1.0)
        off = float((weight * across).sum() / weight.sum())
        slope += 0.15 * float(np.clip(off / step, -0.5, 0.5))
        at, height = at + step, height + 0.6 * off + slope * step
    return s


def _tail(s: Section) -> tuple[float, float, float]:
    """A place just ahead of a section's trailing edge, half-way between its lines, and their slope there: x, z, dz/dx."""
    x = s.trail - _TAIL * s.chord * np.array([1.0, 0.3])
    lines = lines_of((s.shape,), 0.0, 40)[:2]
    lead, chord, z = (np.array(v) for v in (s.lead, s.chord, s.z))
    a, b = np.mean([np.interp(x, line.x(lead, chord), line.height(z, chord)[0, 0]) for line in lines], axis=0)
    return float(x[1]), float(b), float((b - a) / (x[1] - x[0]))


def _by_likeness(s: Section, to: Shape) -> Section:
    """The section, the less likely the less it is like the other wing's: as a rule both wings have the same."""
    off = [
        abs(a - b) / most
        for a, b, most in zip(
            (s.shape.thick, s.shape.under, s.shape.tilt), (to.thick, to.under, to.tilt), _LIKE, strict=True
        )
    ]
    return replace(s, strength=s.strength - _UNLIKE * min(float(np.mean(off)), 1.0))


def _ranked(found: list[Section], chord: float, step: float) -> list[Section]:
    """Best first, by ink and, as in the search, by length; of those that ended in the same place only one."""
    kept: list[Section] = []
    for s in sorted(found, key=lambda s: -s.strength - 0.2 * s.chord / chord):
        if all(max(abs(s.lead - k.lead), abs(s.trail - k.trail)) > 0.3 * step for k in kept):
            kept.append(s)
    return kept


def _searched(
    grid: InkGrid,
    lead: Floats,
    trail: Floats,
    z: Floats,
    shapes: tuple[Shape, ...],
    *,
    least: float,
    step: float,
    pen: float,
    most: int,
) -> list[Section]:
    """The best-inked sections among all leads, trails and heights given, no two much alike."""
    a, b, h = (m.ravel() for m in np.meshgrid(lead, trail, z, indexing="ij"))
    keep = b - a > least
    a, b, h = a[keep], b[keep], h[keep]
    if not a.size:
        return []
    values = grid.wide(0.6 * step)
    some = np.max([_on_lines(grid, values, a, b - a, h, (s,), points=7)[0][0] for s in shapes], axis=0)
    keep = some >= max(np.partition(some, -(-3 * some.size // 4))[-(-3 * some.size // 4)], 0.25)
    if not keep.any():  # what a few points miss, more would too
        return []
    a, b, h = a[keep], b[keep], h[keep]
    score: npt.NDArray[Any] = np.full(a.size, -1.0)
    kind = np.zeros(a.size, dtype=np.int64)
    for k, s in enumerate(shapes):
        if s.depth * float(np.median(b - a)) < _APART * pen:
            continue
        now = _inked(grid, values, a, b - a, h, (s,), pen=pen, points=16)[0]
        better = now > score
        score[better], kind[better] = now[better], k
    peaks: list[Section] = []
    for i in np.argsort(-score)[:3000]:
        p = Section(
            lead=float(a[i]),
            trail=float(b[i]),
            z=float(h[i]),
            shape=shapes[int(kind[i])],
            strength=float(score[i]),
        )
        if all(
            max(abs(p.lead - q.lead), abs(p.trail - q.trail)) > 2.2 * step or abs(p.z - q.z) > _LEVELS * step
            for q in peaks
        ):
            peaks.append(p)
        if len(peaks) >= most:
            break
    return [p for p in peaks if p.strength > -1.0]


def _shapes(tip: Tip, both: float) -> tuple[Shape, ...]:
    """What a wing may look like from the side: its root section alone, or the half wing where that is another figure."""
    chord = 0.8 * both
    if not tip.apart(chord) or chord + tip.trail - tip.lead < 0.2 * chord:
        return _COARSE
    return (*_COARSE, *(s._replace(tip=tip) for s in _COARSE))


def _sampled(
    ink: Ink, low: tuple[float, float], high: tuple[float, float], step: float, pen: float
) -> InkGrid:
    """The ink of a box in steps; a hairline that runs between two rows is in the nearer one, and as dark as any line."""
    from scipy import ndimage

    n = int(np.clip(np.ceil(1.2 * step / pen), 1, 4)) if pen > 0.0 else 1
    if n == 1:
        return InkGrid.of(ink, low, high, step)
    grid = InkGrid.of(ink, low, high, step / n)
    fine = ndimage.maximum_filter(grid.fine, n)[::n, ::n]
    return InkGrid(low=grid.low, step=step, fine=np.sqrt(fine))


def sections_beside(
    ink: Ink,
    rings: tuple[Floats, ...],
    wing: Surface,
    fronts: tuple[FrontWing, FrontWing],
    *,
    span: float,
    pen: float,
) -> tuple[tuple[Section, ...], tuple[Section, ...]]:
    """As `drawn_sections`, by what the other views have of the pair.

    Parameters
    ----------
    rings : outlines of the side view. [mm]
    wing : both wings followed as one in the top view.
    fronts : the lower and the upper wing seen from ahead.
    """
    lower, upper = fronts
    heights = np.concatenate([m[:, 1] for m in rings])
    return drawn_sections(
        ink,
        root=(float(wing.lead[0]), float(wing.trail[0])),
        heights=(float(heights.min()), float(heights.max())),
        gap=upper.z_mm - lower.z_mm,
        tips=(tip_of(wing, upper, lower.semi_mm), tip_of(wing, lower, upper.semi_mm)),
        span=span,
        pen=pen,
    )


def drawn_sections(
    ink: Ink,
    *,
    root: tuple[float, float],
    heights: tuple[float, float],
    gap: float,
    tips: tuple[Tip, Tip],
    span: float,
    pen: float,
) -> tuple[tuple[Section, ...], tuple[Section, ...]]:
    """Sections of a biplane's upper and lower wing, best drawn first.

    Parameters
    ----------
    ink : callable (x, z) -> ink strength of the side view, millimetres.
    root : x of the foremost and the aftmost edge of both wings at the centre line, from the top view. [mm]
    heights : lowest and highest z of the side view. [mm]
    gap : how far the front view has the upper wing above the lower. [mm]
    tips : where the upper and the lower wing's tip section lies against its root's.
    pen : width of a drawn line. [mm]

    Notes
    -----
    A level with a second section one gap below it is the upper wing's; where none has one (the body may hide it),
    the highest level is.
    """
    x0, x1 = root
    step = 0.005 * span
    slack = 0.02 * span
    both = x1 - x0
    if both < 0.04 * span:
        return (), ()
    further = [v for t in tips for v in (t.lead, t.trail)]
    fine = 0.001 * span  # whole steps: what is found hangs a little on where rows lie
    low = (
        x0 - 2.0 * slack - fine * np.ceil(max(0.0, *(-v for v in further)) / fine),
        heights[0] - 0.03 * span,
    )
    high = (x1 + 2.0 * slack + max(0.0, *further), heights[1] + 0.06 * span)
    grid = _sampled(ink, low, high, fine, pen)
    ends = np.arange(-slack, slack + step, step)
    inner = np.arange(0.0, 0.6 * both, step)
    z = np.arange(heights[0] + 0.4 * gap, heights[1] + 0.03 * span, step)
    how = {"least": 0.45 * both, "step": step, "pen": pen}
    of_upper, of_lower = (_shapes(t, both) for t in tips)

    def fine_fits(peaks: list[Section]) -> list[Section]:
        return [_to_end(grid, _finer(grid, p, reach=0.7 * step, pen=pen), pen=pen) for p in peaks]

    peaks = [
        *_searched(grid, x0 + ends, x1 + slack - inner, z, of_upper, **how, most=6),
        *_searched(grid, x0 - slack + inner, x1 + ends, z, of_upper, **how, most=6),
    ]
    found = _ranked(fine_fits(peaks), both, step)
    levels: list[list[Section]] = []
    for u in found:
        mine = next((m for m in levels if abs(m[0].z - u.z) < 0.012 * span), None)
        if mine is None:
            levels.append([u])
        else:
            mine.append(u)
    best: tuple[float, list[Section], list[Section]] | None = None
    for level in levels:
        if level[0].strength < 0.45:
            continue
        under = level[0].z - gap
        z = np.arange(under - 0.015 * span, under + 0.0151 * span, step)
        fore, aft, like = x0 - slack + inner, x1 + slack - inner, level[0].shape
        peaks = _searched(grid, fore, aft, z, of_lower, **how, most=8)
        peaks += _searched(grid, fore, aft, z, (like,), **how, most=6)
        lowers = _ranked([_by_likeness(q, like) for q in fine_fits(peaks)], both, step)
        second = lowers[0].strength if lowers else 0.0
        score = (
            level[0].strength
            + max(second - 0.4, 0.0)
            + 0.3 * (level[0].z - heights[0]) / max(heights[1] - heights[0], 1.0)
        )
        if best is None or score > best[0]:
            best = (score, level, lowers)
    return (tuple(best[1][:6]), tuple(best[2][:8])) if best is not None else ((), ())
