"""Straight strokes in the ink: found, the sheet straightened by them, and those that only cross rubbed out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from sheetlark.trace.paper.ink import Floats, Mask, at_points, spread


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A straight stroke from a to b (column, row), with its mean width, and which ends run free."""

    a: tuple[float, float]
    b: tuple[float, float]
    width_px: float
    free_a: bool
    free_b: bool

    @property
    def length_px(self) -> float:
        return float(np.hypot(self.b[0] - self.a[0], self.b[1] - self.a[1]))

    @property
    def angle_rad(self) -> float:
        return float(np.arctan2(self.b[1] - self.a[1], self.b[0] - self.a[0]))

    @property
    def askew_rad(self) -> float:
        """How far it is turned from level or upright, whichever is nearer."""
        return (self.angle_rad + np.pi / 4) % (np.pi / 2) - np.pi / 4


_STEP = np.radians(0.5)


def _votes(points: Floats, reach: int) -> npt.NDArray[np.int64]:
    """Count points on every line (angle of the normal, distance / 2 px).

    reach : by more than half of it no point lies from the origin. [2 px]
    """
    angles = np.arange(0.0, np.pi, _STEP)
    rows = np.empty((angles.size, reach), dtype=np.int64)
    column, row = np.ascontiguousarray(points.T)
    for k, t in enumerate(angles):
        rho = (column * np.cos(t) + row * np.sin(t)) / 2.0 + reach / 2.0
        rows[k] = np.bincount(rho.astype(np.int64), minlength=reach)
    return rows


def straight_strokes(ink: Mask, *, pen_px: float, shortest_px: float) -> tuple[Stroke, ...]:
    """Straight strokes longer than `shortest_px`, found by voting and a local fit, longest votes first.

    An end runs free when the last few pixels of the stroke have no other ink beside or before them: a
    dimension's extension line, a centre line or a scratch ends so; the edge of a part never does.
    """
    from scipy import ndimage

    side = int(2.2 * pen_px) + 3
    less, more = side // 2, side - 1 - side // 2
    bare = ~ink
    for axis in (0, 1):  # no square of that side fits in
        bare = spread(bare, (more, less), axis, beyond=True)
    thick = ~bare
    for axis in (0, 1):
        thick = spread(thick, (less + 2, more + 2), axis)
    thin = ink & ~thick
    rr, cc = np.nonzero(thin)
    if rr.size < 50:
        return ()
    rng = np.random.default_rng(0)
    pts = np.c_[cc, rr].astype(np.float64)
    origin = np.array([ink.shape[1], ink.shape[0]]) / 2.0
    found: list[Stroke] = []
    alive = np.ones(len(pts), dtype=bool)
    reach = int(np.hypot(*ink.shape)) // 2 + 8
    near = max(1.6, 0.5 * pen_px + 1.2)
    for _ in range(4):
        left = np.nonzero(alive)[0]
        live = pts[left]
        if len(live) < shortest_px * 0.7:
            break
        column, row = live[:, 0].astype(np.float32), live[:, 1].astype(np.float32)
        pick = live if len(live) <= 30_000 else live[rng.permutation(len(live))[:30_000]]
        share = len(live) / len(pick)
        votes = _votes(pick - origin, reach) * share
        peak = (votes == ndimage.maximum_filter(votes, (7, 5))) & (
            votes > 0.6 * shortest_px * min(pen_px, 2.0)
        )
        where = np.argwhere(peak)
        where = where[np.argsort(-votes[peak])][:60]
        before = int(alive.sum())
        for k, r in where:
            t = k * _STEP
            n = np.array([np.cos(t), np.sin(t)])
            base = origin + n * ((r + 0.5 - reach / 2.0) * 2.0)
            off = column * np.float32(n[0]) + row * np.float32(n[1]) - np.float32(base @ n)
            idx = left[np.abs(off) < near + 2.0]
            idx = idx[alive[idx]]
            _take_runs(ink, pts, alive, idx, base, n, near, pen_px, shortest_px, found)
        if int(alive.sum()) == before:
            break
    return tuple(found)


def _take_runs(
    ink: Mask,
    pts: Floats,
    alive: npt.NDArray[Any],
    idx: npt.NDArray[Any],
    base: Floats,
    n: Floats,
    near: float,
    pen_px: float,
    shortest_px: float,
    found: list[Stroke],
) -> None:
    """Split the points near a line into runs without long breaks, refit each, keep the long dense ones."""
    if idx.size < 0.6 * shortest_px:
        return
    u = np.array([-n[1], n[0]])
    s = (pts[idx] - base) @ u
    order = np.argsort(s)
    s, ids = s[order], idx[order]
    breaks = np.nonzero(np.diff(s) > 9.0 + pen_px)[0] + 1
    first, end = np.r_[0, breaks], np.r_[breaks, s.size]
    long_ = (end - first >= 0.6 * shortest_px) & (s[end - 1] - s[first] >= shortest_px)
    for part in (slice(i, j) for i, j in zip(first[long_], end[long_], strict=True)):
        q = pts[ids[part]]
        mid, v, m = q.mean(0), u, n
        for _fit in range(3):
            d = (q - mid) @ m
            close = np.abs(d) < near
            if close.sum() < 0.5 * shortest_px:
                break
            mid = q[close].mean(0)
            w = q[close] - mid
            _, _, vt = np.linalg.svd(w.T @ w)
            v = vt[0] if vt[0] @ u > 0 else -vt[0]
            m = np.array([-v[1], v[0]])
        near_ids = ids[part][np.abs((q - mid) @ m) < near]
        if near_ids.size < 0.5 * shortest_px:
            continue
        along = np.sort((pts[near_ids] - mid) @ v)
        lo, hi = float(along[0]), float(along[-1])
        cover = np.unique(np.round(along)).size / max(hi - lo + 1, 1.0)
        if hi - lo < shortest_px or cover < 0.45:
            continue
        alive[near_ids] = False
        lo, hi = _walk(ink, mid, v, lo, -1.0), _walk(ink, mid, v, hi, 1.0)
        a, b = mid + v * lo, mid + v * hi
        found.append(
            Stroke(
                a=(float(a[0]), float(a[1])),
                b=(float(b[0]), float(b[1])),
                width_px=float(_width(ink, mid, v, lo, hi)),
                free_a=_free(ink, a, v, pen_px),
                free_b=_free(ink, b, -v, pen_px),
            )
        )


def _walk(ink: Mask, mid: Floats, v: Floats, s: float, sign: float) -> float:
    """Move an end outward while there is ink on the line itself."""
    for _ in range(60):
        if not at_points(ink, mid + v * (s + sign)):
            return s
        s += sign
    return s


def _width(ink: Mask, mid: Floats, v: Floats, lo: float, hi: float) -> float:
    """Median width across the stroke, at most 24. [px]"""
    s = np.linspace(lo, hi, 60)[5:-5]
    m = np.array([-v[1], v[0]])
    k = np.arange(-12, 12.5, 0.5)
    grid = at_points(ink, mid + s[:, None, None] * v + k[None, :, None] * m)
    centre = 24
    up, down = (
        np.where(half.all(1), half.shape[1], np.argmin(half, axis=1))
        for half in (grid[:, centre:], grid[:, centre::-1])
    )
    on = grid[:, centre]
    return float(np.median((up + down - 1)[on]) * 0.5) if on.sum() > 3 else 1.0


def _free(ink: Mask, end: Floats, inward: Floats, pen_px: float) -> bool:
    """No other ink beside the last few pixels of a stroke nor before its end; beyond the sheet's rim there is none."""
    m = np.array([-inward[1], inward[0]])
    deep = np.arange(0.0, 0.5 * pen_px + 1.5, 1.0)
    side = pen_px / 2.0 + 1.7 + np.arange(0.0, 4.0)
    for sign in (1.0, -1.0):
        if _on_sheet(ink, end + deep[:, None, None] * inward + sign * side[None, :, None] * m).any():
            return False
    ahead = np.arange(2.0, 9.0 + pen_px)
    fan = np.linspace(-1.4, 1.4, 11)
    beyond = end - ahead[:, None, None] * (inward * np.cos(fan)[:, None] + m * np.sin(fan)[:, None])[None]
    return not bool(_on_sheet(ink, beyond).any())


def _on_sheet(ink: Mask, p: Floats) -> npt.NDArray[np.bool_]:
    """Ink at points (column, row), shape (..., 2); none beyond the sheet."""
    rows, columns = ink.shape
    within = (p[..., 0] > -0.5) & (p[..., 0] < columns - 0.5) & (p[..., 1] > -0.5) & (p[..., 1] < rows - 0.5)
    return np.asarray(within & at_points(ink, p))


def freed(ink: Mask, strokes: tuple[Stroke, ...], *, pen_px: float) -> tuple[Stroke, ...]:
    """The strokes still in the ink, with their ends as they are now that other strokes have been rubbed out."""
    out = []
    for k in strokes:
        a, b = np.array(k.a), np.array(k.b)
        v = (b - a) / max(k.length_px, 1e-9)
        s = np.linspace(0.05, 0.95, 40)[:, None]
        if at_points(ink, a * (1.0 - s) + b * s).mean() > 0.5:
            out.append(replace(k, free_a=_free(ink, a, v, pen_px), free_b=_free(ink, b, -v, pen_px)))
    return tuple(out)


def rub_out(ink: Mask, strokes: tuple[Stroke, ...], *, pen_px: float) -> Mask:
    """Take away strokes with a free end, keeping the ink of whatever they cross."""
    out = ink.copy()
    for k in strokes:
        if not (k.free_a or k.free_b):
            continue
        a, b = np.array(k.a), np.array(k.b)
        v = (b - a) / max(k.length_px, 1e-9)
        m = np.array([-v[1], v[0]])
        s = np.arange(-1.0, k.length_px + 1.5, 0.5)
        half = min(k.width_px, 1.6 * pen_px) / 2.0 + 0.8
        across = np.arange(-half, half + 0.25, 0.5)
        line = a + s[:, None] * v
        left, right = at_points(ink, line + (half + 1.2) * m), at_points(ink, line - (half + 1.2) * m)
        p = (
            line[~(left | right | _grazed(left, right, pen=round(2 * pen_px)))][:, None, :]
            + across[None, :, None] * m
        )
        c = np.clip(np.round(p[..., 0]).astype(int), 0, ink.shape[1] - 1)
        r = np.clip(np.round(p[..., 1]).astype(int), 0, ink.shape[0] - 1)
        out[r, c] = False
    return out


def _grazed(left: Mask, right: Mask, *, pen: int) -> Mask:
    """Where another line runs together with a stroke: it came from one side and leaves on the other.

    At a small angle both strokes are one for a long stretch with no ink beside it, which would be rubbed out. Such a line
    lies on one side alone for longer than it is wide; one that crosses shows on both at nearly the same place.

    left, right : whether there is ink beside the stroke, every half pixel along it; pen : pen's width in half pixels.
    """
    alone_on = [_lasting(a & ~b, pen) for a, b in ((left, right), (right, left))]
    together = np.zeros(left.size, dtype=bool)
    alone = np.nonzero(~(left | right))[0]
    if not alone.size:
        return together
    for run in np.split(alone, np.nonzero(np.diff(alone) > 1)[0] + 1):
        i, j = int(run[0]) - 1, int(run[-1]) + 1
        if i < 0 or j >= left.size or run.size > 40 * pen + 40:
            continue
        together[run] = any(a[i] and b[j] for a, b in (alone_on, alone_on[::-1]))
    return together


def _lasting(on: Mask, length: int) -> Mask:
    """Where a stretch is that is on for at least so many samples."""
    from scipy import ndimage

    return np.asarray(ndimage.binary_opening(on, np.ones(max(1, length), dtype=bool)))


def skew_rad(strokes: tuple[Stroke, ...]) -> float:
    """How far the sheet is turned, from strokes that pair up at right angles, within 20 degrees. [rad]

    Edges of tapered wings come in mirrored pairs without a partner at right angles, so they lose against
    frames, dimension and centre lines, which have one.
    """
    if not strokes:
        return 0.0
    grid = np.radians(np.arange(-20.0, 20.01, 0.05))
    ang = np.array([k.angle_rad for k in strokes])
    weight = np.array([k.length_px * (1.5 if k.free_a or k.free_b else 1.0) for k in strokes])

    def mass(offset: float) -> Floats:
        d = (ang[None, :] - grid[:, None] - offset + np.pi / 2) % np.pi - np.pi / 2
        return np.asarray((weight * np.exp(-0.5 * (d / np.radians(0.12)) ** 2)).sum(1))

    flat, upright = mass(0.0), mass(np.pi / 2)
    score = np.sqrt(flat * upright) + 0.15 * (flat + upright)
    score = score * (1.0 - 0.2 * np.abs(grid) / grid[-1])
    return float(grid[int(score.argmax())]) if score.max() > 0 else 0.0
