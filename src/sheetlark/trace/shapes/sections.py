"""Wing sections drawn in the side view: lens-shaped lines fitted to the ink, also where they lie across the body."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.inkgrid import Ink, InkGrid

Shape = tuple[float, float]
_COARSE: tuple[Shape, ...] = tuple((t, u) for t in (0.06, 0.1, 0.15) for u in (0.2, 0.6))
_FINE: tuple[Shape, ...] = tuple(
    (t, u) for t in (0.05, 0.06, 0.075, 0.09, 0.105, 0.12, 0.14, 0.16) for u in (0.1, 0.35, 0.5, 0.65, 1.0)
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A section in the side view: x of its leading and trailing edge, height of its chord line. [mm]

    shape : thickness above the chord line doubled over chord, and the depth below it as a share of that above.
    strength : how much of its line is inked, 0..1.
    """

    lead: float
    trail: float
    z: float
    shape: Shape
    strength: float

    @property
    def chord(self) -> float:
        return self.trail - self.lead


def thickness(t: Floats) -> Floats:
    """Half thickness of a 100 % thick symmetrical section over its chord; NACA Report 460 (1933), its formula 1."""
    return np.asarray(
        5.0 * (0.2969 * np.sqrt(t) - 0.1260 * t - 0.3516 * t**2 + 0.2843 * t**3 - 0.1015 * t**4)
    )


def _inked(
    grid: InkGrid,
    values: Floats,
    lead: Floats,
    chord: Floats,
    z: Floats,
    shape: Shape,
    *,
    pen: float,
    points: int,
) -> Floats:
    """Share of the section's two lines that is inked, less what lies beside and between them.

    Broadcasts over places.
    """
    on, x, up, down, t = _on_lines(grid, values, lead, chord, z, shape, points=points)
    mid = np.nonzero((t > 0.06) & (t < 0.75))[0][:: 2 if points > 20 else 1]
    halo = 1.3 * pen + 1.5 * grid.step
    beside = (
        grid.at(grid.fine, x[..., mid], up[..., mid] + halo).mean(-1)
        + grid.at(grid.fine, x[..., mid], down[..., mid] - halo).mean(-1)
        + grid.at(grid.fine, x[..., mid], 0.5 * (up + down)[..., mid]).mean(-1)
    )
    return np.asarray(on - 0.15 * beside)


def _on_lines(
    grid: InkGrid, values: Floats, lead: Floats, chord: Floats, z: Floats, shape: Shape, *, points: int
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Share of the worse inked of a section's two lines that is inked; x, upper, lower of its points; their t."""
    thick, under = shape
    t = 0.5 - 0.5 * np.cos(np.linspace(0.06, np.pi - 0.06, points))
    y = thickness(t) * thick
    x = lead[..., None] + chord[..., None] * t
    up, down = z[..., None] + chord[..., None] * y, z[..., None] - chord[..., None] * y * under
    on = np.minimum(grid.at(values, x, up).mean(-1), grid.at(values, x, down).mean(-1))
    return np.asarray(on), x, up, down, t


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
    top, most = best, -1.0
    for shape in _FINE:
        if abs(shape[0] - best.shape[0]) > near or abs(shape[1] - best.shape[1]) > 12 * near:
            continue
        strength = _inked(grid, values, a, b - a, z, shape, pen=pen, points=26)
        score = strength + length * (b - a)
        i = int(score.argmax())
        if score[i] > most:
            most = float(score[i])
            top = Section(
                lead=float(a[i]),
                trail=float(b[i]),
                z=float(z[i]),
                shape=shape,
                strength=float(strength[i]),
            )
    return top


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
    some = np.max([_on_lines(grid, values, a, b - a, h, s, points=7)[0] for s in shapes], axis=0)
    keep = some >= max(np.partition(some, -(-3 * some.size // 4))[-(-3 * some.size // 4)], 0.25)
    if not keep.any():  # what a few points miss, more would too
        return []
    a, b, h = a[keep], b[keep], h[keep]
    score: npt.NDArray[Any] = np.full(a.size, -1.0)
    kind = np.zeros(a.size, dtype=np.int64)
    for k, s in enumerate(shapes):
        now = _inked(grid, values, a, b - a, h, s, pen=pen, points=16)
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
        if all(max(abs(p.lead - q.lead), abs(p.trail - q.trail)) > 2.2 * step for q in peaks):
            peaks.append(p)
        if len(peaks) >= most:
            break
    return peaks


def drawn_sections(
    ink: Ink,
    *,
    root: tuple[float, float],
    heights: tuple[float, float],
    gap: float,
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
    low = (x0 - 2.0 * slack, heights[0] - 0.03 * span)
    high = (x1 + 2.0 * slack, heights[1] + 0.06 * span)
    grid = InkGrid.of(ink, low, high, 0.001 * span)
    ends = np.arange(-slack, slack + step, step)
    inner = np.arange(0.0, 0.5 * both, step)
    z = np.arange(heights[0] + 0.4 * gap, heights[1] + 0.03 * span, step)
    how = {"least": 0.5 * both, "step": step, "pen": pen}
    peaks = [
        *_searched(grid, x0 + ends, x1 + slack - inner, z, _COARSE, **how, most=6),
        *_searched(grid, x0 - slack + inner, x1 + ends, z, _COARSE, **how, most=6),
    ]
    found = _ranked([_finer(grid, p, reach=0.7 * step, pen=pen) for p in peaks], both, step)
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
        peaks = _searched(grid, x0 - slack + inner, x1 + slack - inner, z, _COARSE, **how, most=8)
        lowers = _ranked([_finer(grid, p, reach=0.7 * step, pen=pen) for p in peaks], both, step)
        second = lowers[0].strength if lowers else 0.0
        score = (
            level[0].strength
            + max(second - 0.4, 0.0)
            + 0.3 * (level[0].z - heights[0]) / max(heights[1] - heights[0], 1.0)
        )
        if best is None or score > best[0]:
            best = (score, level, lowers)
    return (tuple(best[1][:6]), tuple(best[2][:8])) if best is not None else ((), ())
