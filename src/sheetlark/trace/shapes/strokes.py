"""Drawn lines of a top view's wings, followed from the body outward and back to it.

A pen goes straight on where another line crosses its own. So a line is followed straight on through crossings, round
bends and corners, across short gaps, until it is back at the body or ends against another line: a wing drawn whole is
a line that comes back. Both halves of the view are laid on each other first, so that what is drawn on one side only
counts half.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.inkgrid import Ink

_DEG = np.pi / 180.0
_INK = 0.72  # mean strength along a ray that a line is followed on
_FORK = 0.78  # and along one that a second line may leave it on
_FAINT = 0.6  # and along a short ray, in a bend
_FORKS = 3  # how often one line may be left for another
_BAR = 24 * _DEG  # a turn by more, where the line goes the other way too, may be the end against that line


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A line followed outward from the body.

    points : shape (n, 2), (x, y). [mm]
    closed : whether it came back to the body; else it ends against another line.
    bent : by how much it was left for others that go off to a side. [rad]
    """

    points: Floats
    closed: bool
    bent: float

    @property
    def box(self) -> Floats:
        """Least and greatest x and y, shape (2, 2). [mm]"""
        return np.array([self.points.min(0), self.points.max(0)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Halves:
    """Ink of both halves of a top view laid on each other.

    low : x of the first row; y begins at 0. [mm]
    thin : strength as drawn, mean of both halves; wide : the same, lines a little widened before, so that halves that
        lie a hair's breadth apart agree. Rows along x, columns along y.
    root : where lines are followed from: beside the body. [mm]
    pen : stroke width. [mm]
    """

    low: float
    step: float
    thin: Floats
    wide: Floats
    root: float
    pen: float
    span: float

    @classmethod
    def of(
        cls, ink: Ink, x: tuple[float, float], semi: float, *, root: float, pen: float, span: float
    ) -> Halves:
        """The ink between two x, out to the tip."""
        from scipy import ndimage

        step = float(np.clip(0.5 * pen, 0.0006 * span, 0.0012 * span))
        a, b = np.arange(x[0], x[1], step), np.arange(0.0, semi + 0.02 * span, step)
        xx, yy = np.broadcast_arrays(a[:, None], b[None, :])
        both = [np.clip(ink(xx, side * yy), 0.0, 1.0) for side in (1.0, -1.0)]
        k = 2 * max(1, round(0.0012 * span / step)) + 1
        broad = [ndimage.maximum_filter(half, k) for half in both]
        if pen < 0.002 * span:  # a hairline's pixels are dark or pale by how it lies across them
            broad = [np.sqrt(half) for half in broad]
        dark = float(np.clip(np.median([np.median(half.max(0)) for half in broad]), 0.4, 1.0))
        thin, wide = (np.clip(0.5 * (a + b) / dark, 0.0, 1.0) for a, b in (both, broad))
        return cls(low=x[0], step=step, thin=thin, wide=wide, root=root, pen=pen, span=span)

    def at(self, values: Floats, x: Floats, y: Floats) -> Floats:
        """Values at places; nothing outside."""
        rows, columns = values.shape
        i = np.rint((x - self.low) / self.step).astype(np.intp)
        j = np.rint(y / self.step).astype(np.intp)
        inside = (i >= 0) & (i < rows) & (j >= 0) & (j < columns)
        at = i * columns + j
        if inside.all():
            return np.asarray(values.take(at))
        return np.where(inside, values.take(np.where(inside, at, 0)), 0.0)

    def rays(self, p: Floats, headings: Floats, length: float, *, first: float = 0.0) -> Floats:
        """Strength along rays from a place; shape (headings, samples)."""
        n = max(8, int((length - first) / (1.5 * self.step)))
        d = first + (length - first) * (np.arange(n) + 1.0) / n
        x = p[0] + np.sin(headings)[:, None] * d
        y = p[1] + np.cos(headings)[:, None] * d
        return self.at(self.wide, x, y)

    def centred(self, p: Floats, heading: float) -> Floats:
        """A place moved sideways to the middle of the stroke it lies on; left where it is where strokes run together."""
        reach = 0.7 * self.pen + 1.5 * self.step
        t = np.linspace(-2.0 * reach, 2.0 * reach, 41)
        across = np.array([np.cos(heading), -np.sin(heading)])
        e = self.at(self.thin, p[0] + across[0] * t, p[1] + across[1] * t)
        if (e > 0.4).sum() * (t[1] - t[0]) > 1.7 * self.pen + 2.5 * self.step:
            return p
        e = np.where(np.abs(t) <= reach, np.maximum(e - 0.25, 0.0), 0.0)
        if e.sum() < 1e-6:
            return p
        off = float((e * t).sum() / e.sum())
        return np.asarray(p + across * min(max(off, -0.5 * reach), 0.5 * reach))


def _fan(first: int, end: int, step: int) -> Floats:
    """Angles from degrees to degrees, `end` left out. [rad]"""
    return np.asarray(np.arange(first, end, step) * _DEG, dtype=np.float64)


def _way(heading: float) -> Floats:
    """Unit vector (x, y) of a heading, which counts from outward toward aft. [rad]"""
    return np.array([np.sin(heading), np.cos(heading)])


def _peaks(values: Floats, reach: int, least: float) -> list[int]:
    """Places of local maxima, the highest first."""
    v = values.tolist()  # of some thirty numbers plain ones are the quicker
    found = [
        k for k, top in enumerate(v) if top >= least and top == max(v[max(0, k - reach) : k + reach + 1])
    ]
    return sorted(found, key=lambda k: -v[k])


def _beginnings(halves: Halves) -> list[tuple[Floats, float]]:
    """Places and headings of lines that leave the body, the best first."""
    from scipy import ndimage

    span, pen = halves.span, halves.pen
    xs = halves.low + halves.step * np.arange(halves.wide.shape[0])
    headings = _fan(-44, 45, 2)
    d = max(0.06 * span, 6.0 * pen) * (np.arange(24) + 0.5) / 24
    x = xs[:, None, None] + np.sin(headings)[None, :, None] * d
    y = halves.root + np.cos(headings)[None, :, None] * d + 0.0 * x
    e = halves.at(halves.wide, x, y).mean(-1) - 0.03 * np.abs(headings)
    r = round((0.5 * pen + 0.004 * span) / halves.step)
    tops = np.argwhere((e == ndimage.maximum_filter(e, size=(2 * r + 1, 5))) & (e > 0.75))
    out: list[tuple[Floats, float]] = []
    for i, j in sorted(tops.tolist(), key=lambda q: -e[q[0], q[1]]):
        p, heading = np.array([xs[i], halves.root]), float(headings[j])
        if all(abs(p[0] - q[0]) > r * halves.step or abs(heading - h) > 7 * _DEG for q, h in out):
            out.append((p, heading))
    return out[:14]


@dataclass(slots=True)
class _Pen:
    """A line on the way."""

    points: list[Floats]
    heading: float
    forks: int = 0
    bent: float = 0.0
    # the points as one array, as far as asked for
    laid: Floats = field(default_factory=lambda: np.empty((0, 2)))

    def nearest(self, q: Floats, *, but: int) -> float:
        """How near a place lies to the points but the last few. [mm]"""
        n = len(self.points) - but
        self.laid = np.vstack([self.laid, *self.points[len(self.laid) : n]])
        return float(np.hypot(*(self.laid - q).T).min())


class _Follower:
    """All lines that leave the body at one place."""

    def __init__(self, halves: Halves, most: int) -> None:
        self.halves, self.most = halves, most
        self.far = max(0.03 * halves.span, 5.0 * halves.pen)
        self.near = max(0.008 * halves.span, 1.5 * halves.pen)
        self.pace = 0.4 * self.near
        self.left: set[tuple[int, int, int]] = set()  # where lines were left for others
        self.open: list[_Pen] = []
        self.done: list[Line] = []

    def lines(self, p: Floats, heading: float) -> list[Line]:
        self.open.append(_Pen([p], heading))
        while self.open and len(self.done) < self.most:
            self._follow(self.open.pop())
        return self.done

    def _follow(self, pen: _Pen) -> None:
        h = self.halves
        for _ in range(900):
            p = pen.points[-1]
            if len(pen.points) > 8 and p[1] < h.root:
                self._finish(pen, closed=True)
                return
            turn = self._ahead(pen)
            if turn is None:
                turn = self._near(pen)
            if turn is None:
                if not self._at_end(pen):
                    return
                continue
            was = pen.heading + turn
            q = h.centred(p + self.pace * _way(was), was)
            if len(pen.points) > 30 and pen.nearest(q, but=20) < 0.4 * h.pen + h.step:
                return  # round in a circle
            gone = np.arctan2(*(q - p))
            off = (gone - was + np.pi) % (2.0 * np.pi) - np.pi
            pen.points.append(q)
            pen.heading = float(was + 0.5 * np.clip(off, -0.1, 0.1))

    def _finish(self, pen: _Pen, *, closed: bool) -> None:
        if len(pen.points) > 9:
            self.done.append(Line(points=np.array(pen.points), closed=closed, bent=pen.bent))

    def _ahead(self, pen: _Pen) -> float | None:
        """The turn along which a line goes on far; others that go on far are remembered."""
        turns = _fan(-60, 61, 4)
        p = pen.points[-1]
        e = self.halves.rays(p, pen.heading + turns, self.far).mean(1) - 0.15 * np.abs(turns) / (60 * _DEG)
        tops = _peaks(e, 2, _INK)
        if not tops:
            return None
        best = tops[0]
        for k in tops[1:]:
            if abs(turns[k] - turns[best]) > 14 * _DEG and e[k] > _FORK:
                self._fork(pen, pen.heading + turns[k], abs(turns[k]) - abs(turns[best]))
        if abs(np.sin(pen.heading)) > 0.87:  # along the tip: a wing's edge may leave it inward
            self._inward(pen)
        if abs(turns[best]) > _BAR:
            back = self.halves.rays(p, np.array([pen.heading + turns[best] + np.pi]), self.near)
            if back.mean() > _INK:
                self._finish(pen, closed=False)
        return float(turns[best])

    def _inward(self, pen: _Pen) -> None:
        """Remember lines that leave for the body."""
        p = pen.points[-1]
        if p[1] < 0.3 * self.halves.span:
            return
        headings = np.pi + _fan(-30, 31, 4)
        away = 0.6 * self.halves.pen + 2.0 * self.halves.step
        e = self.halves.rays(p, headings, away + 2.0 * self.far, first=away).mean(1)
        for k in _peaks(e, 2, _FORK)[:1]:
            self._fork(pen, float(headings[k]), 0.0)

    def _near(self, pen: _Pen) -> float | None:
        """The turn along which a line goes on for a little, in a bend or just before a corner."""
        turns = _fan(-24, 25, 3)
        e = self.halves.rays(pen.points[-1], pen.heading + turns, self.near).mean(1)
        e = e - 0.1 * np.abs(turns) / (24 * _DEG)
        k = int(e.argmax())
        return float(turns[k]) if e[k] >= _FAINT else None

    def _at_end(self, pen: _Pen) -> bool:
        """Go on where a line ends, round its corner or across a gap; false where it ends against another."""
        h, p = self.halves, pen.points[-1]
        away = 0.6 * h.pen + 2.0 * h.step
        headings = pen.heading + _fan(-150, 151, 5)
        fan = h.rays(p, headings, away + max(0.014 * h.span, 2.5 * h.pen), first=away).mean(1)
        ways: list[float] = []
        for k in _peaks(fan, 3, _INK):
            if all(abs(headings[k] - w) > 30 * _DEG for w in ways):
                ways.append(float(headings[k]))
        if not ways:
            return self._over_gap(pen)
        if len(ways) > 1:
            self._finish(pen, closed=False)
            for w in ways:
                self._fork(pen, w, 0.0)
            return False
        pen.heading = ways[0]
        pen.points += [p, p + self.pace * _way(ways[0])]
        return True

    def _over_gap(self, pen: _Pen) -> bool:
        h, p = self.halves, pen.points[-1]
        long = 0.045 * h.span
        headings = pen.heading + _fan(-10, 11, 2)
        e = h.rays(p, headings, long)
        each = long / e.shape[1]
        run = max(4, round(0.02 * h.span / each))
        total = np.cumsum(np.c_[np.zeros(len(e)), e], axis=1)
        on = (total[:, run:] - total[:, :-run]) / run > 0.85
        if not on.any():
            return False
        first = np.where(on.any(1), on.argmax(1), e.shape[1])
        k = int(first.argmin())
        pen.heading = float(headings[k])
        pen.points.append(p + (first[k] + 2) * each * _way(pen.heading))
        return True

    def _fork(self, pen: _Pen, heading: float, bent: float) -> None:
        """Remember another line that leaves from here, once."""
        p = pen.points[-1]
        cell = 0.012 * self.halves.span
        at = (int(p[0] / cell), int(p[1] / cell), round(heading / (20 * _DEG)))
        around = {
            (at[0] + a, at[1] + b, at[2] + c) for a in (-1, 0, 1) for b in (-1, 0, 1) for c in (-1, 0, 1)
        }
        if pen.forks >= _FORKS or around & self.left or len(self.open) + len(self.done) >= self.most:
            return
        self.left.add(at)
        q = self.halves.centred(p + self.pace * _way(heading), heading)
        self.open.append(_Pen([*pen.points, q], heading, pen.forks + 1, pen.bent + max(bent, 0.0)))


def drawn_lines(halves: Halves, *, most: int = 16) -> list[Line]:
    """The lines that leave the body, each way they may be followed once.

    Parameters
    ----------
    most : ways followed from one beginning.
    """
    found = [line for p, heading in _beginnings(halves) for line in _Follower(halves, most).lines(p, heading)]
    out: list[Line] = []
    for line in sorted(found, key=lambda line: line.bent):
        if not any(_same(line, o, 0.005 * halves.span) for o in out):
            out.append(line)
    return out


def _same(a: Line, b: Line, within: float) -> bool:
    """Whether two lines run along each other all their way, in either direction."""
    import shapely

    # they are no nearer than their boxes, which is quickly seen
    if a.closed != b.closed or np.abs(a.box - b.box).max() >= within:
        return False
    apart = shapely.hausdorff_distance(shapely.LineString(a.points), shapely.LineString(b.points))
    return bool(apart < within)
