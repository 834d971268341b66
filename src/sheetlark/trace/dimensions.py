"""Dimension lines, told from edges by what their extension lines leave: a short tick beyond each end.

An extension line goes on a little beyond its dimension line (ISO 129-1 has it so; the length, about eight line
widths, is from memory), and comes from the figure on the other side. No edge of a part has that at both its ends.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.ink import Floats, Mask, Stroke, at_points

_LONGEST_TICK = 0.03  # of the picture's longer side
_ARROW = np.tan(np.radians(24.0))  # half as wide again as an arrow head; it ends inside the wedge


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A dimension line and the side its ticks are on: 1 along the stroke's normal (-dy, dx), -1 against it."""

    stroke: Stroke
    side: int


def dimension_lines(ink: Mask, strokes: tuple[Stroke, ...], *, pen_px: float) -> tuple[Dimension, ...]:
    """Those of the strokes that are dimension lines, two halves with the figure written between them made one.

    ink : ndarray, shape (rows, columns).
    """
    found = []
    halves: list[tuple[Floats, Floats, Floats, float]] = []  # ticked end, other end, tick's direction, width
    for k in strokes:
        a, b = np.array(k.a), np.array(k.b)
        v = (b - a) / max(k.length_px, 1e-9)
        for side in (1, -1):
            m = side * np.array([-v[1], v[0]])
            at_a, at_b = (_ticked(ink, e, inward, m, k.width_px, pen_px) for e, inward in ((a, v), (b, -v)))
            if at_a and at_b:
                found.append(Dimension(stroke=k, side=side))
                break
            if at_a or at_b:
                halves.append((a, b, m, k.width_px) if at_a else (b, a, m, k.width_px))
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


def _ticked(ink: Mask, end: Floats, inward: Floats, m: Floats, width: float, pen: float) -> bool:
    """Whether a line crosses a stroke's end, short and free on the side of `m`, longer on the other."""
    longest = _LONGEST_TICK * max(ink.shape)
    first = 0.5 * width + 1.2
    u = np.arange(-pen - 1.5, pen + 2.6, 0.5)
    h = np.arange(first, longest, 0.5)
    on = at_points(ink, end + u[:, None, None] * inward + h[None, :, None] * m)
    length = np.where(on.all(1), h.size, np.argmin(on, axis=1))
    k = int(length.argmax())
    tick = 0.5 * float(length[k])
    if tick < max(1.5, 0.4 * pen) or length[k] == h.size:
        return False
    top = first + tick
    ahead = at_points(
        ink,
        end
        + (u[k] + np.linspace(-1.0, 1.0, 9) * (pen + 3.0))[:, None, None] * inward
        + (top + np.arange(1.5, 5.0 + pen))[None, :, None] * m,
    )
    clear = u[k] - (pen + 2.5) - np.arange(0.0, 4.0)
    beside = at_points(ink, end + clear[:, None, None] * inward + h[h < top][None, :, None] * m)
    if ahead.mean() > 0.15 or beside.any():
        return False
    # a corner, from which an edge goes off inward: two wings one above the other, tip over tip, look so
    angle, r = np.radians(np.arange(-4.0, 61.0, 4.0)), np.arange(pen + 2.0, pen + 14.0)
    fan = np.cos(angle)[:, None, None] * inward + np.sin(angle)[:, None, None] * m
    corner = end + u[k] * inward + (top - 0.5 - 0.5 * pen) * m
    if at_points(ink, corner + r[None, :, None] * fan).mean(1).max() > 0.85:
        return False
    back = np.arange(first, first + max(2.0 * tick, 6.0), 0.5)
    other = at_points(ink, end + u[:, None, None] * inward - back[None, :, None] * m)
    return bool(other.mean(1).max() > 0.9)


def without_dimensions(ink: Mask, found: tuple[Dimension, ...], *, pen_px: float) -> Mask:
    """The ink without those dimension lines, their arrow heads, and their extension lines up to the figure."""
    out = ink.copy()
    for d in found:
        k = d.stroke
        a, b = np.array(k.a), np.array(k.b)
        v = (b - a) / max(k.length_px, 1e-9)
        m = d.side * np.array([-v[1], v[0]])
        half = 0.5 * k.width_px + 1.2
        s = np.arange(-pen_px, k.length_px + pen_px, 0.5)
        arrow = 0.08 * k.length_px
        near = np.clip(np.minimum(s, k.length_px - s), 0.0, None)
        wide = half + np.where(near < arrow, near * _ARROW, 0.0)
        for j in np.arange(-wide.max(), wide.max() + 0.5, 0.5):
            _erase(out, (a + s[:, None] * v + j * m)[np.abs(j) <= wide])
        for end, inward in ((a, v), (b, -v)):
            _rub_extension(out, ink, end, inward, m, half, pen_px)
    return out


def _rub_extension(
    out: Mask, ink: Mask, end: Floats, inward: Floats, m: Floats, half: float, pen: float
) -> None:
    """Rub out an extension line from its tick toward the figure, up to where anything joins it."""
    u = np.arange(-pen - 1.5, pen + 2.6, 0.5)
    probe = np.r_[np.arange(half, half + 4.0, 0.5), -np.arange(half, half + 6.0, 0.5)]
    on = at_points(ink, end + u[:, None, None] * inward + probe[None, :, None] * m).mean(1)
    near = u[on > 0.7 * on.max()]
    middle = end + float(near.mean()) * inward
    wide = np.arange(-half, half + 0.5, 0.5)
    for h in np.arange(0.0, _LONGEST_TICK * max(ink.shape), 0.5):  # the tick
        _erase(out, middle + h * m + wide[:, None] * inward)
        if h > half + 2.0 and not at_points(ink, middle + h * m + wide[:, None] * inward).any():
            break
    for h in np.arange(0.0, 0.5 * max(ink.shape), 0.5):  # the line itself, back to the figure
        row = middle - h * m
        if h > 2.0 * half + 2.0:
            beside = (half + 1.0 + np.arange(0.0, 2.0))[:, None] * inward
            touched = at_points(out, row - beside).all() or at_points(out, row + beside).all()
            if touched or not at_points(ink, row + wide[:, None] * inward).any():
                return
        _erase(out, row + wide[:, None] * inward)


def _erase(out: Mask, p: Floats) -> None:
    c = np.clip(np.rint(p[..., 0]).astype(int), 0, out.shape[1] - 1)
    r = np.clip(np.rint(p[..., 1]).astype(int), 0, out.shape[0] - 1)
    out[r, c] = False
