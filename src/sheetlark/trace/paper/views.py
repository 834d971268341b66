"""Which silhouette is which: top, side and front told apart by symmetry, extent and shared dimensions."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from sheetlark.trace.paper.ink import Floats, Mask
from sheetlark.trace.paper.regions import Solid

_TORN = 1.5  # what it costs a reading to call two pieces of one figure two views
_LOPSIDED = 0.4  # how much less likely a front view of which one wing alone shows paper is


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidate:
    """A silhouette that may be a view. `upright` and `level`: mirror agreement (0..1) about those axes."""

    solid: Solid
    upright: float
    level: float
    _mirror_lines: dict[str, tuple[float, Floats]] = field(init=False, default_factory=dict)

    def mirror_line(self, axis: str) -> tuple[float, Floats]:
        """:func:`symmetry_axis` of the silhouette, found once: the sheet is set upright by it and the view read about it."""
        if axis not in self._mirror_lines:
            self._mirror_lines[axis] = symmetry_axis(self.solid.mask, axis)
        return self._mirror_lines[axis]

    @property
    def width(self) -> int:
        return self.solid.box[2] - self.solid.box[0]

    @property
    def height(self) -> int:
        return self.solid.box[3] - self.solid.box[1]

    @property
    def reach_width(self) -> int:
        return self.solid.reach[2] - self.solid.reach[0]

    @property
    def reach_height(self) -> int:
        return self.solid.reach[3] - self.solid.reach[1]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """The best assignment found. `nose` is the way the nose points in the picture, per view."""

    top: Candidate | None
    side: Candidate | None
    front: Candidate | None
    top_axis: str  # "upright": nose up or down; "level": nose left or right
    side_axis: str
    score: float
    confidence: float

    @property
    def complete(self) -> bool:
        """Whether all three views were found."""
        return self.top is not None and self.side is not None and self.front is not None

    @property
    def mirrored(self) -> float:
        """How well the top view is mirrored about its middle line; 0 without one."""
        return 0.0 if self.top is None else self.top.upright if self.top_axis == "upright" else self.top.level

    @property
    def top_length(self) -> int:
        """Of the top view, nose to tail; 0 without one. [coarse px]"""
        return 0 if self.top is None else self.top.height if self.top_axis == "upright" else self.top.width

    @property
    def side_length(self) -> int:
        """Of the side view, nose to tail; 0 without one. [coarse px]"""
        return 0 if self.side is None else self.side.width if self.side_axis == "level" else self.side.height

    @property
    def side_height(self) -> int:
        """Of the side view; 0 without one. [coarse px]"""
        return 0 if self.side is None else self.side.height if self.side_axis == "level" else self.side.width

    @property
    def side_reach(self) -> int:
        """How high all ink joined to the side view is; 0 without one. [coarse px]"""
        if self.side is None:
            return 0
        return self.side.reach_height if self.side_axis == "level" else self.side.reach_width


_MIDDLE = 0.05  # of the span to both sides of the middle line: what the side view shows as it is


def length_amid(top: Candidate, axis: str) -> int:
    """How long a top view is beside its middle line: a tailless wing's tips lie behind that. [coarse px]"""
    mask = top.solid.mask if axis == "upright" else top.solid.mask.T
    across = np.flatnonzero(mask.any(0))
    middle, half = (across[0] + across[-1]) / 2.0, _MIDDLE * (across[-1] - across[0] + 1)
    along = np.flatnonzero(mask[:, int(max(middle - half, 0)) : int(middle + half) + 1].any(1))
    return int(along[-1] - along[0] + 1) if along.size else 0


def mirror_agreement(mask: Mask) -> tuple[float, float]:
    """Overlap over union of a mask with its mirror image, about the best upright and the best level axis."""
    step = max(1, max(mask.shape) // 220)
    m = mask[: mask.shape[0] // step * step, : mask.shape[1] // step * step]
    m = m.reshape(-1, step, m.shape[1]).sum(1).reshape(-1, m.shape[1] // step, step).sum(2) > 0.5 * step**2
    out = []
    for a in (m, m.T):
        n, area = a.shape[1], np.count_nonzero(a)
        if not area:
            out.append(0.0)
            continue
        centre = float((a.sum(0) * np.arange(n)).sum() / area)
        best = 0.0
        for c in np.arange(2 * centre - 0.06 * n - 1, 2 * centre + 0.06 * n + 1.5):
            k = round(c)  # column j goes to k - j
            lo, hi = max(0, k - n + 1), min(n - 1, k)
            if hi <= lo:
                continue
            b = a[:, lo : hi + 1]
            both = np.count_nonzero(b & b[:, ::-1])
            best = max(best, both / (2 * area - both))
        out.append(best)
    return out[0], out[1]


def candidates(solids: tuple[Solid, ...], known: dict[Solid, Candidate] | None = None) -> list[Candidate]:
    """The large silhouettes, near copies left out.

    known : those of earlier calls with some of the same silhouettes, which are not weighed again; it is added to.
    """
    known = {} if known is None else known
    if not solids:
        return []
    largest = max(max(s.mask.shape) for s in solids)
    kept: list[Candidate] = []
    for s in sorted(solids, key=lambda s: -s.area):
        if max(s.mask.shape) < 0.12 * largest:
            continue
        twin = any(
            np.abs(np.array(s.box) - k.solid.box).max() <= 2 and abs(s.area - k.solid.area) < 0.003 * s.area
            for k in kept
        )
        if twin:
            continue
        if s not in known:
            upright, level = mirror_agreement(s.mask)
            known[s] = Candidate(solid=s, upright=upright, level=level)
        kept.append(known[s])
        if len(kept) >= 34:
            break
    return kept


def _apart(a: Candidate, b: Candidate) -> bool:
    x0, y0, x1, y1 = a.solid.box
    u0, v0, u1, v1 = b.solid.box
    w, h = min(x1, u1) - max(x0, u0), min(y1, v1) - max(y0, v0)
    if w <= 0 or h <= 0:
        return True
    return w * h < 0.12 * min((x1 - x0) * (y1 - y0), (u1 - u0) * (v1 - v0))


def _one_figure(a: Candidate, b: Candidate) -> bool:
    """Whether two silhouettes are pieces of one figure: the ink joined to either is the same."""
    return _overlap(a.solid.reach, b.solid.reach) > 0.8


def _overlap(a: tuple[int, int, int, int], b: tuple[int, int, int, int]) -> float:
    """Overlap over union of two boxes."""
    w, h = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
    both = max(w, 0) * max(h, 0)
    return both / max(sum((q[2] - q[0]) * (q[3] - q[1]) for q in (a, b)) - both, 1)


def _like(a: float, b: float, spread: float) -> float:
    return float(np.exp(-0.5 * (np.log(max(a, 1.0) / max(b, 1.0)) / spread) ** 2))


def read_views(pool: list[Candidate]) -> Reading:
    """Try every reading of the pool and keep the best supported one.

    The top view is symmetric about one axis, shares its length with the side view and its span with the
    front view; side and front share the height. Not all views need be there.
    """
    nothing = Reading(
        top=None, side=None, front=None, top_axis="upright", side_axis="level", score=-1.0, confidence=0.0
    )
    if not pool:
        return nothing
    most = max(c.solid.area for c in pool)
    best = nothing
    for top in pool:
        for axis in ("upright", "level"):
            sym = top.upright if axis == "upright" else top.level
            span, length = (top.width, top.height) if axis == "upright" else (top.height, top.width)
            if sym < 0.7 or not 0.3 < length / span < 2.6:
                continue
            base = (
                6.0 * (sym - 0.7)
                + 1.4 * np.log(top.solid.area / most)
                - 1.5 * max(0.0, _fill(top) - 0.62) / 0.1
            )
            base -= 0.3 if length / span < 0.42 else 0.0
            amid = length_amid(top, axis)
            others = [c for c in pool if c is not top and _apart(top, c)]
            sides: list[tuple[float, str, Candidate | None]] = [(0.0, "level", None)]
            fronts: list[tuple[float, Candidate | None]] = [(0.0, None)]
            for c in others:
                torn = _TORN * _one_figure(top, c)
                for how, long_, short in (("level", c.width, c.height), ("upright", c.height, c.width)):
                    stands = how == "upright" and axis == "upright" and not _abreast(top, c)
                    if stands and _like(long_, length, 0.025) < 0.8:
                        continue
                    if short > 0.8 * long_ or long_ < 0.6 * length or _fill(c) > 0.9:
                        continue
                    as_long = max((length, amid), key=lambda n: _like(long_, n, 0.06))
                    v = 1.0 * _like(long_, as_long, 0.025) + 0.6 * _like(long_, as_long, 0.06)
                    v += 0.5 * _like(long_, as_long, 0.12)
                    v += 0.2 * np.log(c.solid.area / most) - 0.2 - (0.4 if how == "upright" else 0.0)
                    v -= 0.3 if stands else 0.0  # elsewhere on the sheet: only where it is just as long
                    v -= 0.9 * max(0.0, c.upright - 0.78) / 0.12 if how == "level" else 0.0
                    v -= 0.5 * max(0.0, _fill(c) - 0.70) / 0.1 + torn
                    sides.append((v, how, c))
                if c.height < c.width and c.upright > 0.6:
                    reach = c.width if torn else c.reach_width
                    wide = max((c.width, reach), key=lambda w: _like(w, span, 0.02))
                    v = 1.6 * _like(wide, span, 0.02) + 0.4 * _like(wide, span, 0.10)
                    v += 1.5 * (c.upright - 0.8) + 0.12 * np.log(c.solid.area / most) - 0.2 - torn
                    fronts.append((v, c))
                elif not torn and _like(c.reach_width, span, 0.02) > 0.5 and _level(c):
                    # wings too thin for paper inside, both of them or one, which leaves nothing to mirror
                    lopsided = 0.0 if c.upright > 0.7 else _LOPSIDED
                    fronts.append((1.2 * _like(c.reach_width, span, 0.02) - 0.2 - lopsided, c))
            fronts = _without_pieces(fronts, span)
            sides.sort(key=lambda t: -t[0])
            fronts.sort(key=lambda t: -t[0])
            for (vs, how, s), (vf, f) in itertools.product(sides[:7], fronts[:7]):
                if s is not None and f is not None and (s is f or not _apart(s, f)):
                    continue
                score = base + vs + vf - 0.012 * sum(c.solid.gap_px for c in (top, s, f) if c is not None)
                if s is not None and f is not None:
                    high = s.height if how == "level" else s.width
                    # a fin may be drawn as a line
                    tall = f.height if _one_figure(s, f) else max(f.height, f.reach_height)
                    score += 0.4 * _like(f.height, high, 0.1) - (1.0 if tall < 0.3 * high else 0.0)
                if score > best.score:
                    best = Reading(
                        top=top,
                        side=s,
                        front=f,
                        top_axis=axis,
                        side_axis=how,
                        score=float(score),
                        confidence=0.0,
                    )
    full = 6.0 * 0.27 + 1.9 + 1.9 + 0.3
    return Reading(
        top=best.top,
        side=best.side,
        front=best.front,
        top_axis=best.top_axis,
        side_axis=best.side_axis,
        score=best.score,
        confidence=float(np.clip(best.score / full, 0.05, 0.99)) if best.top else 0.0,
    )


def _without_pieces(
    fronts: list[tuple[float, Candidate | None]], span: int
) -> list[tuple[float, Candidate | None]]:
    """Front views less the pieces of those as wide as the span, such as a body within a propeller's circle."""
    whole = [c for _, c in fronts if c is not None and _like(c.width, span, 0.02) > 0.6]
    return [
        (v, c)
        for v, c in fronts
        if c is None or c in whole or not any(_one_figure(c, w) and c.height < w.height for w in whole)
    ]


def _abreast(top: Candidate, side: Candidate) -> bool:
    """Whether a side view could stand beside a top view with its nose the same way: both begin and end level."""
    slack = 0.06 * top.height
    return (
        abs(top.solid.box[1] - side.solid.box[1]) < slack
        and abs(top.solid.box[3] - side.solid.box[3]) < slack
    )


def _level(c: Candidate) -> bool:
    """Whether all ink joined to a silhouette lies lengthwise across the sheet, unless the silhouette itself is mirrored."""
    return c.upright > 0.7 or c.reach_height < 0.5 * c.reach_width


def _fill(c: Candidate) -> float:
    return c.solid.area / max(c.width * c.height, 1)


def mirror_turn(masks: tuple[Mask, ...]) -> tuple[float, float]:
    """The turn at which the silhouettes are mirrored best about upright or level lines, within 20 degrees.

    Returns
    -------
    angle_rad : float
        0 where no other angle is clearly better.
    agreement : float
        Share of the most telling silhouette that falls on itself when mirrored, 0..1.
    """
    grid = np.radians(np.arange(-20.0, 20.01, 0.25))
    total, telling = np.zeros(grid.size), np.zeros(grid.size)
    rng = np.random.default_rng(2)
    largest = max((int(m.sum()) for m in masks), default=0)
    for mask in masks:
        area = int(np.count_nonzero(mask))
        if area < 0.04 * largest or min(mask.shape) < 8:
            continue
        rr, cc = np.nonzero(mask)
        pick = rng.permutation(rr.size)[:1500]
        centre = np.array([cc.mean(), rr.mean()])
        p = np.c_[cc[pick], rr[pick]] - centre
        size = float(max(mask.shape))
        best = np.zeros(grid.size)
        mirrored = _Mirrored(mask, p, centre)
        for turn in (0.0, np.pi / 2):
            a = grid + turn
            n = np.c_[np.cos(a), np.sin(a)]
            d = np.ascontiguousarray((p @ n.T).T)  # (angles, points)
            for shift in np.array([-0.012, -0.006, 0.0, 0.006, 0.012]) * size:
                best = np.maximum(best, mirrored.hits(d - shift, n) / len(p))
        # thin tips weigh most: compare what is missed
        total += np.sqrt(area) * np.maximum(best - 0.7, 0.0)
        telling = np.maximum(telling, best)
    if not total.max() > 0.0:
        return 0.0, 0.0
    level = int(np.abs(grid).argmin())
    score = total * (1.0 - 0.1 * np.abs(grid) / grid[-1])
    k = int(score.argmax())
    if score[k] < 1.02 * score[level]:
        k = level
    near = np.nonzero(total >= 0.995 * total[k])[0]
    near = near[np.abs(near - k) <= 4]
    angle = float(np.average(grid[near], weights=total[near] - 0.99 * total[k])) if k != level else 0.0
    return angle, float(telling[k])


_AT_ONCE = 20_000  # mirrored points: so many lie near at hand for the processor


class _Mirrored:
    """A silhouette's points mirrored about lines, and how many of them fall on the silhouette again.

    mask : ndarray, shape (rows, columns)
    points : ndarray, shape (n, 2), columns and rows counted from `origin`.
    """

    def __init__(self, mask: Mask, points: Floats, origin: Floats) -> None:
        # a rim of nothing round it catches all that falls beside it
        self._on = np.pad(mask, 1)
        self._points, self._origin = np.ascontiguousarray(points.T), origin

    def hits(self, off: Floats, normals: Floats) -> npt.NDArray[np.int64]:
        """How many points fall on the silhouette, mirrored about lines; shape (m,).

        off : ndarray, shape (m, n), how far each point lies from each line, the way its normal points.
        normals : ndarray, shape (m, 2).
        """
        rows, columns = self._on.shape
        on, found = self._on.ravel(), []
        step = max(1, _AT_ONCE // off.shape[1])
        for some in range(0, len(off), step):
            twice, normal = 2.0 * off[some : some + step], normals[some : some + step]
            column, row = (self._points[k] - twice * normal[:, k, None] + self._origin[k] for k in (0, 1))
            for at, most in ((column, columns - 2.0), (row, rows - 2.0)):
                np.rint(at, out=at)
                np.clip(at, -1.0, most, out=at)
            place = ((row + 1.0) * columns + (column + 1.0)).astype(np.intp)
            found += [np.count_nonzero(line) for line in on[place]]
        return np.array(found)


def symmetry_axis(mask: Mask, axis: str) -> tuple[float, Floats]:
    """Fine angle (from the picture's own axis, within 4 degrees) and a point of the mirror line.

    Returns
    -------
    angle_rad : float
        Turn of the mirror line from upright (or level), counted from +column to +row.
    point : ndarray, shape (2,)
        A point (column, row) on it.
    """
    rr, cc = np.nonzero(mask)
    rng = np.random.default_rng(1)
    pick = rng.permutation(rr.size)[:6000]
    centre = np.array([cc.mean(), rr.mean()])
    p = np.c_[cc[pick], rr[pick]].astype(np.float64)
    mirrored = _Mirrored(mask, p, np.zeros(2))
    along = np.array([0.0, 1.0]) if axis == "upright" else np.array([1.0, 0.0])

    from_centre = p - centre

    def agreement(angle: float, shifts: list[float]) -> list[float]:
        c, s = np.cos(angle), np.sin(angle)
        v = np.array([along[0] * c - along[1] * s, along[0] * s + along[1] * c])
        n = np.array([-v[1], v[0]])
        off = from_centre @ n - np.array(shifts)[:, None]
        return [float(h) for h in mirrored.hits(off, np.tile(n, (len(shifts), 1)))]

    size = float(max(mask.shape))
    angle, shift = 0.0, 0.0
    for da, ds in (
        (np.radians(0.5), 0.006 * size),
        (np.radians(0.12), 0.0015 * size),
        (np.radians(0.03), 0.0005 * size),
    ):
        shifts = [shift + j * ds for j in range(-4, 5)]
        trials = [
            (held, -abs(i) - abs(j), angle + i * da, moved)
            for i in range(-6, 7)
            for j, moved, held in zip(range(-4, 5), shifts, agreement(angle + i * da, shifts), strict=True)
        ]
        # the top is flat: take the mean of the best few
        trials.sort(reverse=True)
        good = [t for t in trials if t[0] >= trials[0][0] * 0.999]
        angle = float(np.mean([t[2] for t in good]))
        shift = float(np.mean([t[3] for t in good]))
    c, s = np.cos(angle), np.sin(angle)
    v = np.array([along[0] * c - along[1] * s, along[0] * s + along[1] * c])
    return angle, centre + shift * np.array([-v[1], v[0]])
