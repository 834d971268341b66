"""The ink of a sheet as it may be meant: which of its lines are dimension lines, loose lines and lettering."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from sheetlark.trace.paper.dimensions import Dimension, dimension_lines, without_dimensions
from sheetlark.trace.paper.ink import Mask, pooled
from sheetlark.trace.paper.lettering import lettering
from sheetlark.trace.paper.straight import Stroke, freed, rub_out, straight_strokes
from sheetlark.trace.paper.strays import in_whole, joining, with_breaks

_SLANT = np.radians(
    2.5
)  # the most a dimension line slants on a sheet set upright; a strut between wings slants more
_ACROSS = 0.3  # of the sheet's longer side: no part has so long a line that ends free at both ends
_BREAK = 11  # coarse pixels: half the widest break that silhouettes are closed across
_TRIED = 4  # lines of either kind, the longest, that are tried otherwise


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inks:
    """The sheet's ink as it may be meant.

    coarse : with loose strokes rubbed out, with every free-ended stroke rubbed out, and without dimension lines and
        loose lines across the sheet alone.
    strays : dimension lines, and the free-ended strokes longer than anything an aeroplane has ending free, such as a
        strut; as coarse.
    besides : dimension lines and lettering, on the full picture.
    """

    coarse: tuple[Mask, Mask, Mask]
    strays: Mask
    besides: Mask
    _lines: _Lines
    _across: bool

    def otherwise(self) -> Iterator[Inks]:
        """The same ink meant otherwise: with lines across the sheet or a dimension line kept, or without one that joins figures."""
        lines = self._lines
        plain = lines.ink & ~self.besides
        strokes = freed(plain, lines.strokes, pen_px=lines.pen_px)
        apart = rub_out(plain, tuple(k for k in strokes if k.free_a and k.free_b), pen_px=lines.pen_px)
        if self._across:
            yield _meant(lines, kept=True)
        joins = joining(apart, strokes, pen_px=lines.pen_px, pool=lines.pool)
        for k in sorted(joins, key=lambda k: -k.length_px)[:_TRIED]:
            yield _meant(lines, (k,))
        for d in sorted(lines.dimensions, key=lambda d: -d.stroke.length_px)[:_TRIED]:
            yield _meant(replace(lines, dimensions=tuple(e for e in lines.dimensions if e is not d)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lines:
    """What was found on a sheet: its straight strokes, those of them that are dimension lines, and its lettering."""

    ink: Mask
    pen_px: float
    pool: int
    strokes: tuple[Stroke, ...]
    dimensions: tuple[Dimension, ...]
    written: Mask


def inks_meant(ink: Mask, *, pen_px: float, pool: int) -> Inks:
    """The ink of a sheet as it is meant most likely.

    Parameters
    ----------
    ink : ndarray, shape (rows, columns)
        Pen strokes of the full picture.
    pool : how much coarser the silhouettes are.
    """
    strokes = straight_strokes(ink, pen_px=pen_px, shortest_px=0.04 * max(ink.shape))
    strokes = in_whole(ink, strokes, pen_px=pen_px)
    return _meant(
        _Lines(
            ink=ink,
            pen_px=pen_px,
            pool=pool,
            strokes=strokes,
            dimensions=tuple(
                d for d in dimension_lines(ink, strokes, pen_px=pen_px) if abs(d.stroke.askew_rad) < _SLANT
            ),
            written=lettering(ink, pen_px=pen_px),
        )
    )


def _meant(lines: _Lines, joins: tuple[Stroke, ...] = (), *, kept: bool = False) -> Inks:
    """The ink without a sheet's dimension lines, and without strokes that join figures.

    kept : whether loose lines across the sheet are kept: breaks at both its ends make one of a wing's edge.
    """
    ink, pen = lines.ink, lines.pen_px
    plain = without_dimensions(ink, lines.dimensions, pen_px=pen) & ~lines.written
    besides = ink & ~plain
    plain = rub_out(plain, joins, pen_px=pen)
    strokes = freed(plain, lines.strokes, pen_px=pen)
    strokes = with_breaks(plain, strokes, pen_px=pen, reach_px=_BREAK * lines.pool)
    loose = tuple(k for k in strokes if k.free_a and k.free_b)
    across = tuple(k for k in loose if k.length_px > _ACROSS * max(ink.shape))
    if across and not kept:
        plain = rub_out(plain, across, pen_px=pen)
    rubbed = rub_out(plain, strokes, pen_px=pen)
    if (rubbed != ink).any():  # an extension line ends free once its dimension line has gone
        rubbed = rub_out(rubbed, freed(rubbed, strokes, pen_px=pen), pen_px=pen)
    long_ = tuple(k for k in strokes if k.length_px > 0.15 * max(ink.shape))
    strays = ink & ~lines.written & ~rub_out(plain, long_, pen_px=pen)
    return Inks(
        coarse=(
            pooled(rub_out(plain, loose, pen_px=pen), lines.pool),
            pooled(rubbed, lines.pool),
            pooled(plain, lines.pool),
        ),
        strays=pooled(strays, lines.pool),
        besides=besides,
        _lines=lines,
        _across=bool(across) and not kept,
    )
