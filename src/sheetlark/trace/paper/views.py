"""Which silhouette is which: top, side and front told apart by symmetry, extent and shared dimensions."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np

from sheetlark.trace.paper.ink import Floats
from sheetlark.trace.paper.mirror import mirror_agreement, symmetry_axis
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
