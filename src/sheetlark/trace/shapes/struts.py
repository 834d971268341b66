"""Struts and legs: straight strokes and bars drawn from one member of the aeroplane to another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sheetlark.trace.model import Outline, exact_outline
from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.shapes.inkgrid import InkGrid

INKED = 0.86  # least share of a strut's length that is drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A straight bar from foot to head: its middle line, its width (of the pen's, where it is one stroke). [mm]

    strength : share of its edges that is inked, 0..1.
    """

    foot: tuple[float, float]
    head: tuple[float, float]
    width: float
    strength: float

    def corners(self) -> Floats:
        """Its four corners, shape (4, 2); the ends are cut along the members it joins."""
        half = np.array([0.5 * self.width, 0.0])
        foot, head = np.array(self.foot), np.array(self.head)
        v = head - foot
        if abs(v[1]) < abs(v[0]):
            half = half[::-1]
        return np.array([foot - half, head - half, head + half, foot + half])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    foot: Floats
    head: Floats
    strength: float


def bars_between(
    grid: InkGrid,
    foot: Floats,
    head: Floats,
    *,
    pen: float,
    lean: float,
    thickest: float,
    within: tuple[float, float] = (0.1, 0.9),
    mirrored: bool = False,
    most: int = 6,
) -> list[Bar]:
    """Bars drawn from one curve to another, strongest first.

    Parameters
    ----------
    foot, head : ndarray, shape (n, 2), (m, 2)
        Points of the two curves. [mm]
    lean : the most a bar moves along the first axis over its length along the second.
    thickest : two strokes side by side within this are the edges of one bar. [mm]
    within : shares of the way between which it is looked at; at the ends other lines lie.
    mirrored : the same stroke must be drawn at the first coordinate reversed.
    most : how many at most.
    """
    if len(foot) < 2 or len(head) < 2:
        return []
    d = head[None, :, :] - foot[:, None, :]
    long_ = np.abs(d[..., 1])
    i, j = np.nonzero((np.abs(d[..., 0]) <= lean * long_) & (long_ > 4.0 * pen))
    if not i.size:
        return []
    share = np.linspace(*within, 26)
    a = foot[i, 0][:, None] + share[None, :] * d[i, j, 0][:, None]
    b = foot[i, 1][:, None] + share[None, :] * d[i, j, 1][:, None]
    values = grid.wide(0.25 * pen)
    drawn = grid.at(values, a, b)
    if mirrored:
        drawn = np.minimum(drawn, grid.at(grid.wide(0.6 * pen), -a, b))
    covered = (drawn > 0.4).mean(1)
    strong = np.flatnonzero(covered >= INKED)
    if not strong.size:
        return []
    off = max(2.2 * pen, 0.7 * thickest) + grid.step
    v = d[i[strong], j[strong]]
    normal = np.c_[v[:, 1], -v[:, 0]] / np.maximum(np.hypot(v[:, 0], v[:, 1]), 1e-9)[:, None] * off
    a, b = a[strong], b[strong]
    sides = [
        (grid.at(grid.fine, a + s * normal[:, :1], b + s * normal[:, 1:]) > 0.4).mean(1) for s in (1, -1)
    ]
    alone = np.minimum(*sides) < 0.3  # hatching and solid figures have ink on both sides
    alone &= np.maximum(*sides) < 0.75
    score = np.where(alone, covered[strong] + 0.5 * drawn[strong].mean(1), 0.0)
    lines: list[_Line] = []
    for k in np.argsort(-score):
        if score[k] <= 0.0 or len(lines) >= 4 * most:
            break
        one = _Line(foot=foot[i[strong[k]]], head=head[j[strong[k]]], strength=float(covered[strong[k]]))
        if not any(_same(one, o, near=1.3 * pen + grid.step, thickest=thickest) for o in lines):
            lines.append(one)
    return _paired(lines, pen=pen, thickest=thickest)[:most]


def _same(one: _Line, other: _Line, *, near: float, thickest: float) -> bool:
    """Whether a stroke is another one met again: within a pen of it, or running across its bar from edge to edge."""
    foot, head = float(one.foot[0] - other.foot[0]), float(one.head[0] - other.head[0])
    if (
        abs(float(one.foot[1] - other.foot[1])) > 2.0 * thickest
        or max(abs(foot), abs(head)) >= 2.0 * thickest
    ):
        return False
    return min(abs(foot), abs(head)) < near or foot * head < 0.0


def _paired(lines: list[_Line], *, pen: float, thickest: float) -> list[Bar]:
    """Two strokes side by side made one bar; a stroke alone is a bar of the pen's width."""
    left = list(lines)
    out: list[Bar] = []
    while left:
        one = left.pop(0)
        gap = [_gap(one, o) for o in left]
        k = int(np.argmin(gap)) if gap else -1
        if gap and gap[k] <= thickest:
            other = left.pop(k)
            width = 0.5 * float(abs(one.foot[0] - other.foot[0]) + abs(one.head[0] - other.head[0]))
            foot, head = 0.5 * (one.foot + other.foot), 0.5 * (one.head + other.head)
            strength = 0.5 * (one.strength + other.strength)
        else:
            width, foot, head, strength = pen, one.foot, one.head, one.strength
        out.append(
            Bar(
                foot=(float(foot[0]), float(foot[1])),
                head=(float(head[0]), float(head[1])),
                width=max(width, pen),
                strength=strength,
            )
        )
    return out


def _gap(one: _Line, other: _Line) -> float:
    """How far apart two strokes are, infinite where they are not side by side."""
    foot, head = one.foot[0] - other.foot[0], one.head[0] - other.head[0]
    both = abs(foot), abs(head)
    if foot * head < 0.0 or max(both) > 2.5 * min(both) + 1e-9:
        return np.inf
    return float(max(both))


def closed_path(points: Floats) -> str:
    """SVG path data of a polygon."""
    return "M " + " L ".join(f"{a:.2f},{b:.2f}" for a, b in points) + " Z"


def straight_outline(part: str, name: str, view: str, corners: Floats, confidence: float) -> Outline:
    """A closed outline of straight edges; of two alike on both sides, the starboard one."""
    return exact_outline(part, name, view, closed_path(corners), nodes=len(corners), confidence=confidence)


@dataclass(frozen=True, slots=True, kw_only=True)
class Members:
    """Where a biplane's members lie. All millimetres.

    low, high : z of the lower and the upper wing at the centre line, and their dihedral as a slope.
    semi : half span of the shorter wing.
    lower, upper : x of each wing's leading and trailing edge at the centre line.
    body : half width under the wing, and z of its top.
    """

    low: float
    high: float
    slope: float
    semi: float
    lower: tuple[float, float]
    upper: tuple[float, float]
    body: tuple[float, float]


def biplane_struts(
    m: Members, front: InkGrid | None, side: InkGrid | None, *, pen: float, span: float, trust: float
) -> list[Outline]:
    """Interplane and cabane struts of a biplane, in the front and the side view."""
    gap = m.high - m.low
    top = m.body[1]
    thickest = 0.016 * span + pen
    out: list[Outline] = []
    if front is not None:
        y = np.arange(2.0 * m.body[0], 0.99 * m.semi, max(0.7 * pen, 0.0016 * span))
        foot, head = np.c_[y, m.low + m.slope * y], np.c_[y, m.high + m.slope * y]
        found = bars_between(
            front, foot, head, pen=pen, lean=0.35, thickest=thickest, within=(0.14, 0.86), mirrored=True
        )
        out += _named("interplane strut", "front", found, trust)
        if m.high - top > 5.0 * pen + 0.08 * gap:
            # the fin seen from ahead stands on the centre line
            y = np.arange(max(0.22 * m.body[0], 2.0 * pen), 2.4 * m.body[0], max(0.7 * pen, 0.0012 * span))
            foot = np.c_[y, np.full(y.size, top)]
            head = np.c_[y, m.high + m.slope * y - 0.04 * gap]
            found = bars_between(
                front, foot, head, pen=pen, lean=0.9, thickest=thickest, within=(0.12, 0.84), mirrored=True
            )
            out += _named("cabane strut", "front", found[:2], trust)
    if side is not None:
        chord = 0.5 * (m.lower[1] - m.lower[0] + m.upper[1] - m.upper[0])
        step = max(0.7 * pen, 0.006 * chord)
        xl = np.arange(m.lower[0] + 0.03 * chord, m.lower[1] - 0.08 * chord, step)
        xu = np.arange(m.upper[0] + 0.03 * chord, m.upper[1] - 0.08 * chord, step)
        foot, head = np.c_[xl, np.full(xl.size, m.low)], np.c_[xu, np.full(xu.size, m.high)]
        found = bars_between(side, foot, head, pen=pen, lean=1.2, thickest=thickest, within=(0.16, 0.86))
        out += _named("interplane strut", "side", found, trust)
        if m.high - top > 5.0 * pen + 0.08 * gap:
            foot = np.c_[xu, np.full(xu.size, top)]
            cabane = bars_between(side, foot, head, pen=pen, lean=0.6, thickest=thickest, within=(0.14, 0.8))
            fresh = [b for b in cabane if not any(_along(b, o) < thickest for o in found)]
            out += _named("cabane strut", "side", fresh[:4], trust)
    return out


def _along(short: Bar, long_: Bar) -> float:
    """How far a bar's ends lie from another bar's middle line, along the first axis."""
    z = np.array([long_.foot[1], long_.head[1]])
    x = np.array([long_.foot[0], long_.head[0]])
    return max(abs(float(np.interp(p[1], z, x)) - p[0]) for p in (short.foot, short.head))


def _named(name: str, view: str, bars: list[Bar], trust: float) -> list[Outline]:
    """Outlines of bars in order of their first coordinate, numbered from the second on."""
    ordered = sorted(bars, key=lambda b: b.foot[0] + b.head[0])
    return [
        straight_outline(
            "strut",
            name if k == 0 else f"{name} {k + 1}",
            view,
            b.corners(),
            trust * (0.3 + 0.6 * b.strength),
        )
        for k, b in enumerate(ordered)
    ]


def wing_struts(
    front: InkGrid,
    *,
    body: tuple[float, float, float],
    wing: tuple[float, float],
    semi: float,
    pen: float,
    span: float,
    trust: float,
) -> list[Outline]:
    """A monoplane's struts in the front view, from the body's side out to the wing.

    Parameters
    ----------
    body : half width, z of its lower and of its upper edge at the wing. [mm]
    wing : z at the centre line, and dihedral as a slope.
    semi : half span. [mm]
    """
    half, low, high = body
    above = wing[0] > 0.5 * (low + high)
    z = np.linspace(low, 0.5 * (low + high), 24) if above else np.linspace(0.5 * (low + high), high, 24)
    y = np.arange(max(2.5 * half, 0.25 * semi), 0.8 * semi, max(0.8 * pen, 0.0025 * span))
    foot, head = np.c_[z, np.full(z.size, 0.95 * half)], np.c_[wing[0] + wing[1] * y, y]
    across = front.turned()  # counted with z first, for such a strut runs out along y
    found = bars_between(
        across, foot, head, pen=pen, lean=1.2, thickest=0.012 * span + pen, within=(0.12, 0.9), most=2
    )
    out = []
    for b in found:
        rise = abs(b.head[0] - b.foot[0])
        if rise < 0.1 * (b.head[1] - b.foot[1]) + 3.0 * pen:
            continue  # the wing's own face
        corners = b.corners()[:, ::-1]
        out.append(
            straight_outline("strut", "wing strut", "front", corners, trust * (0.2 + 0.6 * b.strength))
        )
    return out[:1]
