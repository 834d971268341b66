"""A cut-out in the middle of a wing's trailing edge, for the view up or for struts: the edge as it is drawn there.

The wing's own edge is not drawn across it. From where that stops on both sides a line runs forward and to the middle,
round or square; seen from the middle of the edge it is met once in every direction. Where the body lies over the wing it hides
both the wing's edges: a line met inside its sides is a canopy's, a cover's or a fin's.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.shapes.body import Body
from sheetlark.trace.shapes.inkgrid import Ink, stands_out
from sheetlark.trace.shapes.surface import Surface

_WIDEST = 0.16  # of the span, half the width of a cut-out at the most
_DEEPEST = 0.7  # of the chord at the middle
_LEAST = 0.012  # of the span, how deep it is and half as wide, at the least
_THIRD, _WALLED = 0.3, 0.8  # of its depth, and how wide it still is there, of its width
_BULGE = 0.15  # of its width, how much wider it is further in than nearer the edge
_INKED = 0.9  # share of its line that is drawn on both sides, and by quarters of it
_QUARTER = 0.7
_BARE = 3.5  # pens in a row: so far a line that crosses it keeps it from standing out, with what is looked at beside it
_BARE_ALL = 0.2  # share of its line that may be so
_OPEN = 0.25  # share of the wing's own edge across it that may be inked
_OFF_SIDE = 0.002  # of the span, and a pen, how far its wall stands off the body's side
_WALL = 0.7  # of its depth
_ON_BODY = 0.95  # share of a line
_ACROSS = 0.5  # share of the leading edge across it that is inked where the wing lies over the body
_BETWEEN = np.linspace(
    0.15, 0.85, 40
)  # of the way from the middle to its end, where a line across it is looked at
_DARK = 0.25  # how dark a drawn line is
_EDGE = (0.1, 0.22)  # of the span: there the edge shows which way it would go on to the middle
_FURTHER = 0.1  # what a line further out is worth, as much further as the cut-out is wide
_BESIDE = 0.6  # what one along the body's side is worth, next to any other
_PIECES, _FINE = 28, 5  # straight pieces its line is made of, and directions a piece is looked at in
_STEEPEST = 20  # cells of a piece's length it may lead inward or outward
_KINK = 2.0  # what a radian of turning costs, in pieces without ink
_GENTLE = 0.1  # radians from piece to piece that cost nothing: so much any round line turns

# ink on both sides of the middle by how far ahead of the edge, and how far out; arrays of one shape [mm]
Drawn = Callable[[Floats, Floats], Floats]


def with_cutout(wing: Surface, body: Body | None, ink: Ink, *, span: float, pen_mm: float) -> Surface:
    """The wing with its trailing edge along the cut-out, where one is drawn; else as it is.

    Parameters
    ----------
    body : the body's width; its sides are no cut-out's walls.
    ink : callable (x, y) -> ink strength of the top view.
    span, pen_mm : the wing's span, the stroke's width. [mm]
    """
    near = (wing.station > _EDGE[0] * span) & (wing.station < _EDGE[1] * span)
    if near.sum() < 8:
        return wing
    lean = np.polyfit(wing.station[near], wing.trail[near], 1)

    def trail(y: Floats) -> Floats:
        return np.asarray(np.polyval(lean, y))

    reach, half = 1.3 * pen_mm + 0.0005 * span, _WIDEST * span
    most = _DEEPEST * float(trail(np.zeros(1))[0] - wing.lead[0])

    def drawn(ahead: Floats, y: Floats) -> Floats:
        """Ink on both sides, by how far ahead of the edge as it goes on to the middle."""
        x = trail(y) - ahead
        sides = [
            np.maximum(stands_out(ink, x, s * y, 0.0, reach), stands_out(ink, x, s * y, reach, 0.0))
            for s in (-1, 1)
        ]
        return np.asarray(np.minimum(*sides))

    near_side = pen_mm + _OFF_SIDE * span

    def beside(ahead: Floats, y: Floats) -> Mask:
        """Whether that is along the body's side."""
        if body is None:
            return np.zeros(y.shape, dtype=bool)
        return np.asarray(np.abs(y - _side(body, trail(y) - ahead)) < near_side)

    for ends in _edge_ends(drawn, half, _LEAST * span, pen_mm):
        line = _line(drawn, beside, ends, deepest=most, widest=half, least=_LEAST * span, pen_mm=pen_mm)
        if line is None:
            continue
        if body is not None:
            across = _BETWEEN * ends
            lead = trail(across) - np.interp(across, wing.station, wing.lead)
            covered = _share(drawn, lead, across) < _ACROSS
            if _bodys(body, trail, line, ends, near_side, covered):
                continue
        return _cut(wing, trail, line, beside=_EDGE[0] * span, slack=0.25 * pen_mm)
    return wing


def _cut(
    wing: Surface,
    trail: Callable[[Floats], Floats],
    line: tuple[Floats, Floats],
    *,
    beside: float,
    slack: float,
) -> Surface:
    """The wing with a cut-out's line for its edge; nearer than `beside` the edge may have swerved into it. [mm]"""
    ahead, y = line
    at = np.minimum.accumulate(y)[::-1]
    keep = wing.station > float(y.max()) + slack
    edge = wing.trail[keep].copy()
    swerved = wing.station[keep] < beside
    edge[swerved] = trail(wing.station[keep][swerved])
    station = np.r_[0.0, at, wing.station[keep]]
    return replace(
        wing,
        station=station,
        lead=np.asarray(np.interp(station, wing.station, wing.lead)),
        trail=np.r_[float(trail(at[:1])[0] - ahead[-1]), trail(at) - ahead[::-1], edge],
    )


def _line(
    drawn: Drawn,
    beside: Callable[[Floats, Floats], Mask],
    ends: float,
    *,
    deepest: float,
    widest: float,
    least: float,
    pen_mm: float,
) -> tuple[Floats, Floats] | None:
    """A cut-out's line from the edge to the middle: how far ahead of the edge, and how far out; None where none is. [mm]

    beside : callable (ahead, y) -> whether that is along the body's side, which may come by where the line begins.
    ends : how far out the wing's own edge stops being drawn. [mm]
    """
    turn = np.radians(np.linspace(88.0, 0.0, _PIECES * _FINE))[:, None]
    out = np.arange(least, max(widest, deepest), 0.4 * pen_mm)[None, :]
    ahead, y = out * np.cos(turn), out * np.sin(turn)
    # beyond, the wing's own edge is drawn: what is met there is a rib's or a spar's
    within = (ahead < deepest) & (y < ends + 3.0 * pen_mm + least)
    found = np.where(within, np.clip(drawn(ahead, y) / 0.5, 0.0, 1.0), 0.0)
    # of a wall and the body's side within, the wall
    found += np.where(found > 0.5, _FURTHER * y / ends, 0.0)
    found[0, np.abs(out[0] - ends) > 1.5 * pen_mm] = -turn.size  # it begins nowhere else
    worth = np.where(beside(ahead, y), _BESIDE * found, found)
    path = _straightest(worth, out[0], float(turn[0, 0] - turn[_FINE, 0]))
    step = float(np.median(out[0, path])) * float(turn[0, 0] - turn[1, 0])
    on = _closed(found[np.arange(turn.size), path] > 0.5, round(_BARE * pen_mm / step))
    if on.mean() < _INKED or min(q.mean() for q in np.array_split(on, 4)) < _QUARTER:
        return None
    # the middle of the stroke
    near = np.abs(out - out[0, path][:, None]) < 1.2 * pen_mm
    weight = np.where(near, np.maximum(found, 1e-6), 0.0)
    radius = (weight * out).sum(1) / weight.sum(1)
    ahead, y = radius * np.cos(turn[:, 0]), radius * np.sin(turn[:, 0])
    deep, wide = float(ahead[-1]), float(y.max())
    if min(deep, wide) < least or float(y[ahead > _THIRD * deep].max()) < _WALLED * wide:
        return None  # a curved edge leaves its direction gently
    if float((y - np.minimum.accumulate(y)).max()) > _BULGE * wide + pen_mm:
        return None  # it goes inward and out again: two lines of which neither is a cut-out's
    across = _BETWEEN * float(y[0])
    return None if _share(drawn, np.zeros(across.size), across) > _OPEN else (ahead, y)


def _closed(on: Mask, most: int) -> Mask:
    """A line's inked directions, with the bare stretches between them, `most` long, if it is drawn nearly all along."""
    ends = np.flatnonzero(np.diff(np.r_[True, on, True].astype(int)))
    short = [(a, b) for a, b in ends.reshape(-1, 2) if b - a <= most and a > 0 and b < on.size]
    if float(on.mean()) < 1.0 - _BARE_ALL:
        return on
    whole = on.copy()
    for a, b in short:
        whole[a:b] = True
    return whole


def _straightest(found: Floats, out: Floats, turn: float) -> npt.NDArray[np.int64]:
    """The way through `found` (directions, cells) with the most ink and the fewest kinks: where lines cross it goes on.

    out : how far out the cells lie; turn : the angle of a piece. [mm, rad]
    """
    steps = range(-_STEEPEST, _STEEPEST + 1)
    cells, cell = out.size, float(out[1] - out[0])
    # the angle of a piece to the circle round the middle; a straight line turns against that circle by `turn` a piece
    angle = np.arctan2(np.array(steps)[:, None] * cell, out * turn)
    kink = np.abs(angle[:, None] - angle[None, :])
    price = _KINK * np.maximum(kink - _GENTLE, 0.0)
    along = np.zeros((_PIECES, len(steps), cells))
    wide = np.pad(found, ((0, 0), (_STEEPEST, _STEEPEST))).reshape(_PIECES, _FINE, -1)
    for f in range(_FINE):
        for j, s in enumerate(steps):
            shift = _STEEPEST + round(s * f / _FINE)
            along[:, j] += wide[:, f, shift : shift + cells] / _FINE
    best = np.zeros((len(steps), cells))  # by the piece that leads to a cell
    came = np.zeros((_PIECES, len(steps), cells), dtype=np.int64)
    for i in range(_PIECES):
        there = np.full_like(best, -1e9)
        for j, s in enumerate(steps):
            ways = best - price[:, j]
            came[i, j] = ways.argmax(0)
            total = ways.max(0) + along[i, j]
            lo, hi = max(0, -s), min(cells, cells - s)
            there[j, lo + s : hi + s] = total[lo:hi]
        best = there
    j, at = divmod(int(best.argmax()), cells)
    path = np.zeros(len(found), dtype=np.int64)
    for i in range(_PIECES - 1, -1, -1):
        at -= steps[j]
        path[i * _FINE : (i + 1) * _FINE] = at + np.round(steps[j] * np.arange(_FINE) / _FINE).astype(int)
        j = int(came[i, j, at])
    return path


def _share(drawn: Drawn, ahead: Floats, y: Floats) -> float:
    """Share of a line that is drawn on both sides."""
    return float((drawn(ahead, y) > _DARK).mean())


def _edge_ends(drawn: Drawn, half: float, least: float, pen_mm: float) -> list[float]:
    """How far from the middle the wing's own edge may stop being drawn, coming from outside. [mm]

    Where it is bare for a little the body's side may cross it next; or it is a break, and it stops further in.
    """
    y = np.arange(half, 0.0, -0.3 * pen_mm)
    on = np.max([drawn(np.full(y.size, k * pen_mm), y) for k in (-0.6, -0.3, 0.0, 0.3, 0.6)], axis=0) > _DARK
    out: list[float] = []
    for length in (0.5 * least, least):
        run = max(round(length / (0.3 * pen_mm)), 6)
        bare = np.flatnonzero(np.convolve(~on, np.ones(run), mode="valid") > 0.8 * run)
        if bare.size and float(y[bare[0]]) not in out:
            out.append(float(y[bare[0]]))
    return out


def _bodys(
    body: Body,
    trail: Callable[[Floats], Floats],
    line: tuple[Floats, Floats],
    ends: float,
    near: float,
    covered: bool,
) -> bool:
    """Whether a line is the body's: along its side, or drawn on it where it covers the wing, whose edge stops at its side."""
    ahead, y = line
    x = trail(y) - ahead
    at_side = abs(ends - _side(body, trail(np.array([ends])))[0]) < near
    return _along_side(body, x, ahead, y, near) or bool(at_side and covered and _inside(body, x, y, near))


def _along_side(body: Body, x: Floats, ahead: Floats, y: Floats, near: float) -> bool:
    """Whether what runs forward of a line from the edge to the middle runs along the body's side."""
    wall = ahead < _WALL * ahead[-1]
    return bool((np.abs(y - _side(body, x))[wall] < near).mean() > _ON_BODY)


def _inside(body: Body, x: Floats, y: Floats, near: float) -> bool:
    """Whether a line is drawn on the body, or along its side."""
    return bool((y < _side(body, x) + near).mean() > _ON_BODY)


def _side(body: Body, x: Floats) -> Floats:
    """How far out the body's side is. [mm]"""
    return np.asarray(np.interp(x, body.x, body.high))
