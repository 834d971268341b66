"""Dimension lines, told from edges by what ends them: a short tick beyond each end, or an arrow head at it.

An extension line goes on a little beyond its dimension line (ISO 129-1 has it so; the length, about eight line
widths, is from memory), and comes from the figure on the other side. No edge of a part has that at both its ends.
Where it is worn away, or the tick is, the arrow head tells: the line grows wider on both sides and is itself again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.paper.ink import Floats, Mask, at_points
from sheetlark.trace.paper.straight import Stroke

_LONGEST_TICK = 0.03  # of the picture's longer side
_GO_ON = 0.8  # share of the way just behind an arrow head along which a nose's edges are drawn
_ARROW = np.tan(np.radians(24.0))  # half as wide again as an arrow head; it ends inside the wedge


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A dimension line and the side its ticks are on: 1 along the stroke's normal (-dy, dx), -1 against it."""

    stroke: Stroke
    side: int

    @property
    def lies(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Both ends, the way from the first to the second, and the way its ticks point."""
        a, b = np.array(self.stroke.a), np.array(self.stroke.b)
        v = (b - a) / max(self.stroke.length_px, 1e-9)
        return a, b, v, self.side * np.array([-v[1], v[0]])


def dimension_lines(ink: Mask, strokes: tuple[Stroke, ...], *, pen_px: float) -> tuple[Dimension, ...]:
    """Those of the strokes that are dimension lines, two halves with the figure written between them made one.

    ink : ndarray, shape (rows, columns).
    """
    found: list[Dimension] = []
    arrowed: list[Stroke] = []
    halves: list[tuple[Floats, Floats, Floats, float]] = []  # ticked end, other end, tick's direction, width
    for k in strokes:
        a, b = np.array(k.a), np.array(k.b)
        v = (b - a) / max(k.length_px, 1e-9)
        ends = ((a, v), (b, -v))
        heads = [_head(ink, e, inward, k.width_px, k.length_px, pen_px) for e, inward in ends]
        ticks = {}
        for side in (1, -1):
            m = side * np.array([-v[1], v[0]])
            ticks[side] = [
                _ticked(ink, e, inward, m, k.width_px, pen_px, head)
                for (e, inward), head in zip(ends, heads, strict=True)
            ]
        side = max(ticks, key=lambda s: sum(ticks[s]))
        ended = [tick or head > 0.0 for tick, head in zip(ticks[side], heads, strict=True)]
        if all(ended):
            if not any(ticks[side]):
                side = _away(ink, ends, pen_px)
            found.append(Dimension(stroke=k, side=side))
            arrowed += [k] if min(heads) > 0.0 else []
        elif any(ticks[side]):
            m = side * np.array([-v[1], v[0]])
            halves.append((a, b, m, k.width_px) if ticks[side][0] else (b, a, m, k.width_px))
    # what is left of an arrowed line's extension lines, worn away between, looks like ticks at the edge they start from
    found = [d for d in found if not any(_across(d.stroke, k) for k in arrowed)]
    framed = [any(_one_frame(ink, d, e, pen_px) for e in found if e is not d) for d in found]
    found = [d for d, f in zip(found, framed, strict=True) if not f and not _between_tips(ink, d, pen_px)]
    for i, (a, inner, m, width) in enumerate(halves):
        for b, other, n, _ in halves[i + 1 :]:
            v = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
            apart = float((other - inner) @ v)
            level = max(abs(float((p - a) @ m)) for p in (inner, other, b)) < 2.0 + 0.01 * float((b - a) @ v)
            if m @ n > 0.99 and level and 0.0 < apart < 0.4 * float((b - a) @ v):
                whole = Stroke(
                    a=(float(a[0]), float(a[1])), b=(float(b[0]), float(b[1])), width_px=width, free_a=False, free_b=False
                )  # fmt: skip
                found.append(Dimension(stroke=whole, side=1 if m @ np.array([-v[1], v[0]]) > 0 else -1))
    return tuple(found)


def _across(k: Stroke, other: Stroke) -> bool:
    """Whether a stroke lies level with another, end across from end."""
    a, b = np.array(k.a), np.array(k.b)
    v = (b - a) / max(k.length_px, 1e-9)
    along = sorted(float((np.array(p) - a) @ v) for p in (other.a, other.b))
    apart = float((np.array(other.a) - a) @ np.array([-v[1], v[0]]))
    slack = 2.0 + 0.006 * k.length_px
    return abs(apart) > 2.0 * slack and abs(along[0]) < slack and abs(along[1] - k.length_px) < slack


def _one_frame(ink: Mask, d: Dimension, e: Dimension, pen: float) -> bool:
    """Whether two lines are the sides of one frame: their ends joined by lines, the ticks pointing away from the other.

    So look two struts between wings; between two dimension lines there is the figure.
    """
    if not _across(d.stroke, e.stroke):
        return False
    ends = [np.array([k.a, k.b]) for k in (d.stroke, e.stroke)]
    v = (ends[0][1] - ends[0][0]) / max(d.stroke.length_px, 1e-9)
    if (ends[1][1] - ends[1][0]) @ v < 0.0:
        ends[1] = ends[1][::-1]
    for k, (mine, other) in zip((d, e), (ends, ends[::-1]), strict=True):
        along = np.array(k.stroke.b) - np.array(k.stroke.a)
        if k.side * np.array([-along[1], along[0]]) @ (other.mean(0) - mine.mean(0)) > 0.0:
            return False
    off = np.arange(-pen - 2.0, pen + 2.1, 0.5)
    share = np.linspace(0.0, 1.0, 60)
    for a, b in zip(*ends, strict=True):
        line = a + share[None, :, None] * (b - a) + off[:, None, None] * v
        if at_points(ink, line).any(0).mean() < 0.85:
            return False
    return True


def _away(ink: Mask, ends: tuple[tuple[Floats, Floats], ...], pen: float) -> int:
    """The side of a stroke that has less ink across its ends: extension lines come from the other."""
    u = _across_end(pen)
    h = np.arange(pen + 1.0, 8.0 * pen)
    drawn = []
    for side in (1, -1):
        of_a, of_b = (
            at_points(
                ink,
                end + u[:, None, None] * inward + sign * h[None, :, None] * np.array([-inward[1], inward[0]]),
            )
            for (end, inward), sign in zip(ends, (side, -side), strict=True)
        )
        drawn.append(of_a.mean(1).max() + of_b.mean(1).max())
    return 1 if drawn[0] <= drawn[1] else -1


def _head(ink: Mask, end: Floats, inward: Floats, width: float, length: float, pen: float) -> float:
    """Length of the arrow head at a stroke's end: wider on both sides, then the line alone again; 0 without one. [px]

    A pointed nose on its centre line looks so too, but its edges go on apart on both sides.
    """
    m = np.array([-inward[1], inward[0]])
    s = np.arange(0.0, max(0.05 * length, 5.0 * pen), 0.5)
    h = np.arange(0.0, 6.0 * pen + width, 0.5)
    half, beside = [], []
    for sign in (1.0, -1.0):
        on = at_points(ink, end + s[:, None, None] * inward + sign * h[None, :, None] * m)
        beside.append(on)
        half.append(0.5 * np.where(on.all(1), h.size, np.argmin(on, axis=1)))
    both = np.minimum(*half)
    plain = 0.5 * width + 0.8
    past = s > 0.5 * (pen + width) + 1.0  # clear of the extension line
    wide = np.nonzero(past & (both > plain + 0.25 * pen))[0]
    if not wide.size or wide.size < max(2.0 * width + 1.0, 0.8 * (wide[-1] - wide[0] + 1.0)):
        return 0.0
    foot, third = float(s[wide[-1]]), max(1, wide.size // 3)
    if s[wide[0]] > 0.8 * foot or both[wide[:third]].mean() > both[wide[-third:]].mean() + 0.5:
        return 0.0  # it grows wider from the tip on
    behind = (s > foot + 1.0) & (s < foot + 1.0 + 3.0 * pen)
    if not behind.any():
        return 0.0
    slim = float(np.median(np.maximum(*half)[behind])) < plain + 0.25 * pen
    widest = float(both[wide].max())
    near = (h > plain + 0.5) & (h < widest + 2.0 * pen)
    apart = all((on & near)[behind].any(1).mean() > _GO_ON for on in beside)
    return foot if slim and not apart and widest < 0.7 * foot + pen else 0.0


def _ticked(
    ink: Mask, end: Floats, inward: Floats, m: Floats, width: float, pen: float, head: float = 0.0
) -> bool:
    """Whether a line crosses a stroke's end, short and free on the side of `m`, longer on the other.

    head : length of the arrow head at that end, which may lie beside the tick. [px]
    """
    found = _tick(ink, end, inward, m, width, pen)
    if found is None or found[2] < max(1.5, 0.4 * pen):
        return False
    at, first, tick = found
    top = first + tick
    h = np.arange(first, top, 0.5)
    ahead = at_points(
        ink,
        end
        + (at + np.arange(-pen - 3.0, pen + 3.1, 0.5))[:, None, None] * inward
        + (top + np.arange(1.5, 5.0 + pen))[None, :, None] * m,
    )
    clear = at - (pen + 2.5) - np.arange(0.0, 4.0)
    if head > 0.0:
        clear = at + head + 2.0 + np.arange(0.0, 4.0)
    beside = at_points(ink, end + clear[:, None, None] * inward + h[None, :, None] * m)
    goes_on = ahead.mean() > 0.15 or ahead.any(0).mean() > 0.5  # a thin slanted line, a pixel to one side
    if goes_on or beside.any() or _curves_on(ink, end, inward, m, pen):
        return False
    if _cornered(ink, end + at * inward + (top - 0.5 - 0.5 * pen) * m, inward, m, pen):
        return False
    back, u = np.arange(first, first + max(2.0 * tick, 6.0), 0.5), _across_end(pen)
    other = at_points(ink, end + u[:, None, None] * inward - back[None, :, None] * m)
    return bool(_over_gap(other, 8.0 * pen + 4.0).mean(1).max() > (0.6 if head > 0.0 else 0.9))


def _tick(
    ink: Mask, end: Floats, inward: Floats, m: Floats, width: float, pen: float
) -> tuple[float, float, float] | None:
    """Where along a stroke the tick at its end stands, from where beside the stroke on, and how long; None where none ends
    within reach. [px]
    """
    first, u = 0.5 * width + 1.2, _across_end(pen)
    h = np.arange(first, _LONGEST_TICK * max(ink.shape), 0.5)
    if not h.size:
        return None  # a picture too small for any
    on = at_points(ink, end + u[:, None, None] * inward + h[None, :, None] * m)
    length = np.where(on.all(1), h.size, np.argmin(on, axis=1))
    k = int(length.argmax())
    return None if length[k] == h.size else (float(u[k]), first, 0.5 * float(length[k]))


def _across_end(pen: float) -> Floats:
    """Places along a stroke, from its end inward, that an extension line there may run through. [px]"""
    return np.arange(-pen - 1.5, pen + 2.6, 0.5)


def _cornered(ink: Mask, corner: Floats, inward: Floats, m: Floats, pen: float) -> bool:
    """Whether a corner, sharp or round, is there, from which an edge goes off inward: two wings one above the other, tip
    over tip, look so.
    """
    angle, r = np.radians(np.arange(-4.0, 81.0, 3.0)), np.arange(pen + 2.0, pen + 14.0)
    fan = np.cos(angle)[:, None, None] * inward + np.sin(angle)[:, None, None] * m
    return bool(at_points(ink, corner + r[None, :, None] * fan).any(0).mean() > 0.85)


def _between_tips(ink: Mask, d: Dimension, pen: float) -> bool:
    """Whether both ticks are ends of tips' lines, which stand out a pixel beyond the edge that joins them there."""
    a, b, v, m = d.lies
    for end, inward in ((a, v), (b, -v)):
        found = _tick(ink, end, inward, m, d.stroke.width_px, pen)
        if found is None or found[2] < 2.0 + 0.5 * pen:
            return False
        at, first, tick = found
        corner = end + at * inward + (first + tick - 1.5 - 0.5 * pen) * m
        if not _cornered(ink, corner, inward, m, pen):
            return False
    return True


def _over_gap(on: Mask, longest: float) -> Mask:
    """Ink along rows of half pixels, with the one gap an extension line leaves before the figure taken for ink."""
    out = on.copy()
    for row in out:
        bare = np.nonzero(~row)[0]
        if bare.size and bare[0] > 2 and np.ptp(bare) + 1 == bare.size <= longest and bare[-1] < row.size - 2:
            row[bare] = True
    return out


def _curves_on(ink: Mask, end: Floats, inward: Floats, m: Floats, pen: float) -> bool:
    """Whether a stroke bends away to the side of `m` at its end, as a round edge does, and does not cross a slanted tick."""
    angle, r = np.radians(np.arange(10.0, 66.0, 5.0)), np.arange(pen + 2.0, pen + 14.0)
    way = np.sin(angle)[:, None, None] * m - np.cos(angle)[:, None, None] * inward
    across = np.sin(angle)[:, None, None] * inward + np.cos(angle)[:, None, None] * m
    wide = np.array([-1.5, 0.0, 1.5])[:, None, None, None] * across
    on, back = (
        np.asarray(at_points(ink, end + sign * r[None, :, None] * way + wide)).any(axis=0)
        for sign in (1.0, -1.0)
    )
    crosses = np.asarray(back)[:, : r.size // 4].all(1)
    return bool(((np.asarray(on).mean(1) > 0.9) & ~crosses).any())


def without_dimensions(ink: Mask, found: tuple[Dimension, ...], *, pen_px: float) -> Mask:
    """The ink without those dimension lines, their arrow heads, and their extension lines up to the figure."""
    out = ink.copy()
    for d in found:
        k = d.stroke
        a, b, v, m = d.lies
        half = 0.5 * k.width_px + 1.2
        s = np.arange(-pen_px, k.length_px + pen_px, 0.5)
        arrow = 0.08 * k.length_px
        near = np.clip(np.minimum(s, k.length_px - s), 0.0, None)
        wide = half + np.where(near < arrow, near * _ARROW, 0.0)
        for j in np.arange(-wide.max(), wide.max() + 0.5, 0.5):
            _erase(out, (a + s[:, None] * v + j * m)[np.abs(j) <= wide])
        ends = [_extension(out, ink, end, inward, m, half, pen_px) for end, inward in ((a, v), (b, -v))]
        for mine, other in (ends, ends[::-1]):
            # one a little longer than the other may have run on along the figure, past a break in what should join it
            far = other.far if other.touched and other.far < mine.far < 1.2 * other.far else mine.far
            wide = np.arange(-half, half + 0.5, 0.5)[:, None] * mine.across
            for h in np.arange(-mine.tick, far, 0.5):
                _erase(out, mine.middle - h * m + wide)
    return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Extension:
    """An extension line: its middle at the dimension line, the way across it, how far its tick and it itself go. [px]

    touched : whether it ends where other ink joins it.
    """

    middle: Floats
    across: Floats
    tick: float
    far: float
    touched: bool


def _extension(
    out: Mask, ink: Mask, end: Floats, inward: Floats, m: Floats, half: float, pen: float
) -> _Extension:
    """The extension line at a dimension line's end, up to where anything joins it."""
    u = _across_end(pen)
    probe = np.r_[np.arange(half, half + 4.0, 0.5), -np.arange(half, half + 6.0, 0.5)]
    on = at_points(ink, end + u[:, None, None] * inward + probe[None, :, None] * m).mean(1)
    if not on.any():  # an arrow head alone is left
        return _Extension(middle=end, across=inward, tick=0.0, far=0.0, touched=False)
    near = u[on > 0.7 * on.max()]
    middle = end + float(near.mean()) * inward
    wide = np.arange(-half, half + 0.5, 0.5)[:, None] * inward
    tick = 0.0
    for tick in np.arange(0.0, _LONGEST_TICK * max(ink.shape), 0.5):
        if tick > half + 2.0 and not at_points(ink, middle + tick * m + wide).any():
            break
    far, touched = 0.0, False
    for far in np.arange(0.0, 0.5 * max(ink.shape), 0.5):
        row = middle - far * m
        if far > 2.0 * half + 2.0:
            beside = (half + 1.0 + np.arange(0.0, 2.0))[:, None] * inward
            touched = bool(at_points(out, row - beside).all() or at_points(out, row + beside).all())
            if touched or not at_points(ink, row + wide).any():
                break
    return _Extension(middle=middle, across=inward, tick=float(tick), far=float(far), touched=touched)


def _erase(out: Mask, p: Floats) -> None:
    c = np.clip(np.rint(p[..., 0]).astype(int), 0, out.shape[1] - 1)
    r = np.clip(np.rint(p[..., 1]).astype(int), 0, out.shape[0] - 1)
    out[r, c] = False
